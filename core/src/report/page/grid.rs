//! Zones by walkarounds.

use maud::{Markup, html};

use crate::report::content::{Content, Look};
use crate::report::words::{self, look, short_day};

/// Walkarounds side by side in one table: what fits a sheet of paper across. More of them make more
/// tables, the newest first.
const ACROSS: usize = 12;

pub(super) fn grid(content: &Content) -> Markup {
    let many = content.walkarounds.len();
    let mut blocks: Vec<(usize, usize)> = Vec::new();
    let mut end = many;
    while end > 0 {
        let start = end.saturating_sub(ACROSS);
        blocks.push((start, end));
        end = start;
    }
    html! {
        section #grid .grid {
            h2 { "Zones by walkarounds" }
            p.legend {
                span.key.l-findings { span.v { "sign: " } } " findings   "
                span.key.l-nothing_found { span.v { "sign: " } } " looked, nothing found   "
                span.key.l-not_seen { span.v { "sign: " } } " could not be seen   "
                span.key.l-not_looked_at { span.v { "empty cell: " } } " not looked at, which says nothing about the zone"
            }
            @for (start, end) in blocks {
                div.wide.tall tabindex="0" role="region" aria-label={ "Walkarounds " (start + 1) " to " (end) } {
                    table {
                        caption { "Walkarounds " (start + 1) " to " (end) " of " (many) }
                        thead { tr {
                            th scope="col" { "Zone" }
                            @for walk in content.walkarounds.iter().take(end).skip(start) {
                                th scope="col" { (short_day(&walk.date)) br; (walk.by) @if let Some(hours) = &walk.hours { br; (words::hours(hours, walk.meter.as_deref())) } }
                            }
                        } }
                        tbody { @for zone in &content.zones {
                            tr data-zone=(zone.code) data-ata=(zone.chapters.join(" ")) {
                                th scope="row" { span.code { (zone.code) } " " (zone.name) }
                                @for said in zone.looks.iter().take(end).skip(start) { (cell(said)) }
                            }
                        } }
                    }
                }
            }
        }
    }
}

fn cell(said: &Look) -> Markup {
    html! {
        td.{ "l-" (said.result) } {
            span.v { (look(&said.result)) }
            @if said.result == "not_seen" && !said.says.is_empty() { span.why { (said.says) } }
        }
    }
}
