//! What holds the parts: head, security policy, style, script, foot of every sheet.

use data_encoding::BASE64;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use sha2::{Digest as _, Sha256};

use crate::report::content::Content;
use crate::report::words::{count, day, listed, sentence};

pub(in crate::report) const STYLE: &str = include_str!("style.css");
const SCRIPT: &str = include_str!("script.js");

/// What each cut is called at its top.
fn title(cut: &str) -> &'static str {
    match cut {
        "finding" => "one finding",
        "review" => "review before maintenance",
        "baseline" => "baseline",
        "sheet" => "work sheet",
        "handing-over" => "handing over",
        _ => "condition history",
    }
}

pub(super) fn page(content: &Content, body: &Markup) -> Markup {
    let script = content.cut != "sheet";
    let style = format!("{STYLE}{}", foot(content));
    let hash = |text: &str| BASE64.encode(&Sha256::digest(text.as_bytes()));
    let body = body.clone().into_string();
    // The diagram brings a style of its own. Every style and script is allowed by its digest, nothing
    // else is: no attribute, no other element, nothing from elsewhere.
    let styles: Vec<String> = std::iter::once(style.as_str())
        .chain(styles_in(&body))
        .map(|text| format!("'sha256-{}'", hash(text)))
        .collect();
    let policy = format!(
        "default-src 'none'; img-src data:; style-src {}; script-src {}; base-uri 'none'; form-action 'none'",
        styles.join(" "),
        if script {
            format!("'sha256-{}'", hash(SCRIPT))
        } else {
            "'none'".to_owned()
        }
    );
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content=(policy);
                title { (content.registration) ", " (title(content.cut)) }
                style { (PreEscaped(style)) }
            }
            body.{ "cut-" (content.cut) } {
                (PreEscaped(&body))
                @if script { script { (PreEscaped(SCRIPT)) } }
            }
        }
    }
}

/// What stands in style elements of a body. Text of people is escaped there: it opens none.
fn styles_in(body: &str) -> impl Iterator<Item = &str> {
    body.split("<style>")
        .skip(1)
        .filter_map(|rest| rest.split_once("</style>"))
        .map(|(style, _)| style)
}

/// Registration and proof code at the foot of each sheet of paper, and which of how many it is.
fn foot(content: &Content) -> String {
    let code = content.last_code().map_or_else(
        || "no finished walkaround, no proof code".to_owned(),
        |code| format!("proof {}", code.code),
    );
    format!(
        "@page{{@bottom-left{{content:\"{} · {}\"}}@bottom-right{{content:\"page \" counter(page) \" of \" counter(pages)}}}}",
        css_text(&content.registration),
        css_text(&code)
    )
}

/// Text inside a CSS string, where nothing of it can end the string or the style element.
fn css_text(text: &str) -> String {
    text.chars()
        .map(|c| {
            if c.is_ascii_alphanumeric() || matches!(c, ' ' | '-' | '.' | ',') {
                c.to_string()
            } else {
                format!("\\{:06x} ", u32::from(c))
            }
        })
        .collect()
}

pub(super) fn head(content: &Content) -> Markup {
    let links: &[(&str, &str)] = match content.cut {
        "finding" => &[("where", "Where"), ("proof", "Proof")],
        "handing-over" => &[
            ("views", "Overall views"),
            ("open", "Open"),
            ("proof", "Proof"),
        ],
        "baseline" => &[
            ("papers", "Papers"),
            ("coverage", "Coverage"),
            ("zones", "Every zone"),
            ("open", "Open"),
            ("findings", "Each finding"),
            ("proof", "Proof"),
        ],
        "review" => &[
            ("worklist", "Work list"),
            ("coverage", "Not looked at"),
            ("where", "Where"),
            ("findings", "Each finding"),
            ("grid", "Zones by walkarounds"),
            ("proof", "Proof"),
        ],
        _ => &[
            ("open", "Open"),
            ("where", "Where"),
            ("findings", "Each finding"),
            ("coverage", "Not looked at"),
            ("grid", "Zones by walkarounds"),
            ("proof", "Proof"),
        ],
    };
    html! {
        header {
            p.kind { (sentence(title(content.cut))) }
            h1 { (content.registration) " " span.type { (content.kind) } }
            p.facts { (facts(content)) }
            @if content.newer { p.caution { "Written by a newer version; this view may be incomplete." } }
            @if !content.only.is_empty() { p.only { "Only " (listed(&content.only)) "." } }
            nav aria-label="Parts of this page" {
                @for (at, (id, name)) in links.iter().enumerate() {
                    @if at > 0 { " · " }
                    a href={ "#" (id) } { (name) }
                }
            }
        }
    }
}

/// Serial, total time, landings, up to when: one line.
pub(super) fn facts(content: &Content) -> String {
    let mut facts = vec![format!(
        "Serial {}",
        content.serial.as_deref().unwrap_or("not given")
    )];
    facts.push(content.total_time.as_ref().map_or_else(
        || "total time not recorded".to_owned(),
        |hours| format!("airframe total time {hours} h"),
    ));
    facts.extend(
        content
            .meters
            .iter()
            .map(|meter| format!("{} {} h", meter.meter, meter.total)),
    );
    facts.push(content.landings.as_ref().map_or_else(
        || "landings not recorded".to_owned(),
        |landings| format!("{landings} landings"),
    ));
    facts.push(count(content.walkarounds.len(), "walkaround"));
    facts.extend(
        content
            .recorded_up_to
            .as_ref()
            .map(|at| format!("recorded up to {}", day(at))),
    );
    facts.join(" · ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_ends_the_string_at_the_foot_of_a_sheet() {
        let text = css_text("N0\"}</style><script>\\ü");
        assert!(!text.contains(['"', '<', '>', '}', '/']), "{text}");
        assert!(text.starts_with("N0\\000022 "));
    }
}
