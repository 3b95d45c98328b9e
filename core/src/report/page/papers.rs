//! Papers and what they agree on, statements of others, readings, components, events.

use maud::{Markup, html};

use crate::report::content::Content;
use crate::report::pictures::Album;
use crate::report::words::{day, listed, sentence, short_day, tight};

/// Agreement of papers with the aircraft, compared by a person.
pub(super) fn agreement(content: &Content) -> Markup {
    html! {
        section #papers {
            h2 { "Papers, and whether they agree" }
            @if content.agreement.is_empty() { p { "Nobody has compared papers in this record. That is not the same as papers that agree." } }
            @else {
                div.wide tabindex="0" role="region" aria-label="Agreement of papers" { table {
                    thead { tr { th scope="col" { "About" } th scope="col" { "Result" } th scope="col" { "What the paper says" } th scope="col" { "Compared by" } } }
                    tbody { @for row in &content.agreement { tr {
                        th scope="row" { (sentence(&row.about)) }
                        td { b { (match row.result.as_str() { "agrees" => "Agrees", "differs" => "Differs", _ => "Not seen" }) } }
                        td { (row.says.as_deref().unwrap_or("")) }
                        td { (row.by.by) ", " (short_day(&row.by.date)) }
                    } } }
                } }
            }
        }
    }
}

pub(super) fn papers(content: &Content, album: &Album) -> Markup {
    html! {
        @if !content.papers.is_empty() {
            section {
                h2 { "Papers in this record" }
                div.photos { @for paper in &content.papers {
                    figure.photo {
                        @match album.get(&paper.entry).and_then(|shown| shown.picture.as_ref()) {
                            Some(jpeg) => { div.frame { img src=(jpeg.address) width=(jpeg.width) height=(jpeg.height) alt={ (paper.paper) ", " (day(&paper.date)) } decoding="async"; } }
                            None => { p.missing { (album.get(&paper.entry).and_then(|shown| shown.missing).unwrap_or("Not shown in this cut.")) } }
                        }
                        figcaption {
                            b { (sentence(&paper.paper)) } ", " (day(&paper.date)) ", " (paper.by)
                            @if !paper.settles.is_empty() { ". Settles " (listed(&paper.settles)) ", on the word of who filled it in; it is no maintenance entry" } "."
                        }
                    }
                } }
            }
        }
        @if !content.components.is_empty() {
            section {
                h2 { "Components" }
                div.wide tabindex="0" role="region" aria-label="Components" { table {
                    thead { tr { th scope="col" { "Component" } th scope="col" { "Serial" } th scope="col" { "Zone" } th scope="col" { "Fitted at" } th scope="col" { "Removed" } } }
                    tbody { @for part in &content.components { tr {
                        th scope="row" { (sentence(&part.component)) }
                        td { (part.serial.as_deref().unwrap_or("not given")) } td.code { (part.zone) }
                        td { @if let Some(hours) = &part.fitted { (hours) " h" } } td { (part.removed.as_deref().unwrap_or("")) }
                    } } }
                } }
            }
        }
        @if !content.events.is_empty() {
            section {
                h2 { "Events" }
                ul { @for event in &content.events { li { (day(&event.date)) ", " (event.by) ": " b { (event.event) } @if let Some(text) = &event.text { ". “" (text) "”" } } } }
            }
        }
    }
}

/// What was said by others: never shown as seen.
pub(super) fn statements(content: &Content) -> Markup {
    html! {
        @if !content.statements.is_empty() {
            section {
                h2 { "Told by others" }
                p { "Somebody said this; the one who wrote it down did not see it." }
                ul { @for said in &content.statements { li { (day(&said.date)) ", told to " (said.by) ", about " span.code { (said.about) } ": " (said.says) } } }
            }
        }
    }
}

pub(super) fn readings(content: &Content) -> Markup {
    html! {
        @if !content.readings.is_empty() {
            section {
                h2 { "Readings" }
                div.wide tabindex="0" role="region" aria-label="Readings" { table {
                    thead { tr { th scope="col" { "Date" } th scope="col" { "By" } th scope="col" { "Reading" } th scope="col" { "Value" } } }
                    tbody { @for row in &content.readings { tr { td.date { (short_day(&row.date)) } td { (row.by) } td { (sentence(&row.reading)) } td { (tight(&row.says)) } } } }
                } }
            }
        }
    }
}
