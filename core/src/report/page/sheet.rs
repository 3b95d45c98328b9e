//! The sheet: one page of paper to work from, with texts for a logbook on its back.

use maud::{Markup, html};

use super::{frame, proof, worklist};
use crate::report::content::{Content, Item};
use crate::report::pictures::Album;
use crate::report::words::{day, short_day};

/// Items that fit the front together with photos.
const FRONT: usize = 12;
const PHOTOS: usize = 6;
/// Up to so many items leave room for wide rows and larger photos.
const ROOMY: usize = 6;

pub(super) fn sheet(content: &Content, album: &Album) -> Markup {
    let open: Vec<&Item> = content.open().collect();
    let never = content.never();
    html! {
        main.sheet {
            section.front.roomy[open.len() <= ROOMY] {
                header {
                    div {
                        h1 { (content.registration) " " span.type { (content.kind) } }
                        p.facts { (frame::facts(content)) }
                        p.small { "Work sheet. Written on, it is what a person found and did; it is no maintenance record and not an approval for return to service. The aircraft's own manual comes first." }
                    }
                    @if let Some(code) = content.last_code() { (proof::qr(&code.code, "proof code")) }
                }
                @if open.is_empty() { p { "No open finding is recorded. That does not mean that nothing is wrong." } }
                @else {
                    div.wide tabindex="0" role="region" aria-label="Open items" { table.work {
                        thead { (worklist::heads()) }
                        tbody { @for item in open.iter().take(FRONT) { (worklist::line(item)) } }
                    } }
                }
                @if open.len() > FRONT { p { b { ((open.len() - FRONT)) " more open items do not fit here: see the review." } } }
                div.six {
                    @for item in open.iter().filter(|item| !item.photos.is_empty()).take(PHOTOS) {
                        @if let Some(photo) = item.photos.last() {
                            figure {
                                @match album.get(&photo.entry).and_then(|shown| Some((shown, shown.picture.as_ref()?))) {
                                    Some((shown, jpeg)) => {
                                        div.frame {
                                            img src=(jpeg.address) width=(jpeg.width) height=(jpeg.height) alt=(item.name());
                                            @if !shown.drawn.is_empty() {
                                                svg.marks viewBox={ "0 0 " (shown.full.0) " " (shown.full.1) } aria-hidden="true" {
                                                    @for line in &shown.drawn { path.halo vector-effect="non-scaling-stroke" d=(line.path) {} path.now vector-effect="non-scaling-stroke" d=(line.path) {} }
                                                }
                                            }
                                        }
                                    }
                                    None => { p.missing { "Photo not here." } }
                                }
                                figcaption { @if let Some(number) = item.number { (number) ". " } (item.place) ", " (short_day(&photo.date)) }
                            }
                        }
                    }
                }
                @if !content.due.is_empty() {
                    p.line { b { "Look again: " } (content.due.iter().map(|due| format!("{} {} ({})", due.of, due.place, due.at)).collect::<Vec<_>>().join("; ")) "." }
                }
                p.line {
                    b { "Not looked at, ever: " }
                    @if never.is_empty() { "no zone." }
                    @else {
                        (never.len()) " of " (content.zones.len()) " zones: "
                        (never.iter().take(40).map(|zone| zone.code.as_str()).collect::<Vec<_>>().join(", "))
                        @if never.len() > 40 { " and more" } ". Nothing is said of them."
                    }
                }
                p.line { b { "What this sheet cannot do. " } @for notice in content.notices.iter().skip(2) { (notice) " " }
                    "Deferral goes by the rules of the place: in the US 14 CFR 91.213(d), for inoperative instruments and equipment only, never for structural damage." }
                p.line.proofline { @match content.last_code() {
                    Some(code) => { "Recorded up to the walkaround of " (day(&code.date)) " by " (code.by) ". Proof " span.code.break { (code.code) } }
                    None => { "No finished walkaround: no proof code." }
                } }
            }
            @if !open.is_empty() {
                section.back {
                    h2 { "Text for a logbook, to copy by hand. Not an entry" }
                    p.small { "Three lines for each item. An entry is made and signed by those allowed to make it, with the reference to the work and its data." }
                    @for item in open.iter().take(FRONT) { (three_lines(content, item)) }
                }
            }
        }
    }
}

/// Three lines: what and where; how it was seen; what is still to be filled in.
fn three_lines(content: &Content, item: &Item) -> Markup {
    let number = item.number.map(|n| n.to_string()).unwrap_or_default();
    // Total time only where that was read; hours of another meter by its name, with room for the total.
    let hours = match (&content.total_time, content.meters.last()) {
        (Some(hours), _) => format!("{hours} h total time"),
        (None, Some(meter)) => {
            format!("{} h on {}, total time ______ h", meter.total, meter.meter)
        }
        (None, None) => "______ h total time".to_owned(),
    };
    let size = item
        .size_now
        .as_ref()
        .map(|size| format!(", {size}"))
        .unwrap_or_default();
    html! {
        div.entry {
            span.num { (number) }
            p {
                "At " (hours) ": " (item.name()) (size) "." br;
                "First recorded " (short_day(&item.first_recorded.date)) " by " (item.first_recorded.by)
                @if let Some(seen) = &item.last_seen { ", last seen " (short_day(&seen.date)) " by " (seen.by) } " (" (item.short) ")." br;
                "Action: ______________________  reference: ______________  date: ________  signature and certificate: ______________"
            }
        }
    }
}
