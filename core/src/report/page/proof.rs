//! Proof: codes as text and QR, what they show, how a stranger checks them.

use maud::{Markup, PreEscaped, html};
use qrcode::render::svg;
use qrcode::{EcLevel, QrCode};

use crate::report::content::{Code, Content};
use crate::report::words::{day, short_day};

/// Codes that are also drawn as QR, newest first; the others stand as text.
const DRAWN: usize = 6;

pub(super) fn proof(content: &Content) -> Markup {
    let proof = &content.proof;
    html! {
        section #proof .proof {
            h2 { "Proof" }
            @if proof.codes.is_empty() { p { "No walkaround in this cut is finished: there is no proof code yet." } }
            @else {
                ul.codes { @for (at, code) in proof.codes.iter().rev().enumerate() { li {
                    @if at < DRAWN { (qr(&code.code, &format!("proof code of {}", day(&code.date)))) }
                    p { b { (short_day(&code.date)) } ", " (code.by) br; span.code.break { (code.code) } }
                } } }
            }
            p { "A code shows that the record of a walkaround, and everything its author wrote before, is what it was when that walkaround was finished; and, by the digests in it, that each photo file is the one recorded. It does not show that a picture is true. The holder of a key could write a whole chain anew: a code, a vouching or a time stamp that was kept elsewhere is what exposes that." }
            @if let Some(code) = content.last_code() { (how(code)) }
            @if !proof.vouched.is_empty() {
                h3 { "Vouched" }
                p { "Who recorded the last line of whose chain, as it then was:" }
                ul { @for row in &proof.vouched { li { (day(&row.date)) ": " (row.by) " recorded line " (row.seq + 1) " of " (row.whose) ", " span.code.break { (row.line) } } } }
            }
            @if !proof.stamps.is_empty() {
                h3 { "Time stamps" }
                ul { @for stamp in &proof.stamps { li { (stamp.time) " over the finish " span.code.break { (stamp.finish) } } } }
            }
            @if proof.given_clock { p { "Some entries were made with a clock that was set by hand." } }
        }
    }
}

/// For somebody without this program.
fn how(code: &Code) -> Markup {
    html! {
        h3 { "How to check without this program" }
        ol {
            li { "In the pack that this page came in: " code.break { "sha256sum -c manifest-sha256.txt" } " says whether every file is as it was packed." }
            li { "The finish of " (day(&code.date)) " is line " (code.lines + 1) " of the file of " (code.by) "'s key: "
                code.break { "sed -n " (code.lines + 1) "p data/record/*/" (code.key) ".jsonl | tr -d '\\n' | sha256sum" }
                " must print " span.code.break { (code.finish) } "." }
            li { "The proof code is the first 40 hexadecimal digits of that, written in base32 (RFC 4648), with one check character (ISO/IEC 7064 MOD 37,36)." }
            li { "A photo's file has the name that " code { "sha256sum" } " prints for it." }
        }
    }
}

/// A QR code as SVG; empty where the text is too long for one. Level M: it survives a crease.
pub(super) fn qr(text: &str, what: &str) -> Markup {
    let Ok(code) = QrCode::with_error_correction_level(text.as_bytes(), EcLevel::M) else {
        return html! {};
    };
    let drawn = code
        .render::<svg::Color<'_>>()
        .min_dimensions(120, 120)
        .quiet_zone(true)
        .build();
    // The renderer's own XML head is not for an HTML page.
    let start = drawn.find("<svg").unwrap_or(0);
    let svg =
        drawn
            .get(start..)
            .unwrap_or("")
            .replacen("<svg", "<svg role=\"img\" aria-label=\"QR\"", 1);
    html! { figure.qr { (PreEscaped(svg)) figcaption.v { (what) } } }
}
