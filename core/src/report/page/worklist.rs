//! The review's work list: by zone or by ATA chapter, with room to write.

use std::collections::BTreeMap;

use maud::{Markup, html};

use super::first::then_and_now;
use crate::layout::Layout;
use crate::report::content::{Content, Item};
use crate::report::words::{concern, sentence, short_day};

pub(super) fn worklist(content: &Content, layout: &Layout, by_chapter: bool) -> Markup {
    let mut groups: BTreeMap<String, Vec<&Item>> = BTreeMap::new();
    for item in content.open() {
        let group = if by_chapter {
            item.chapters.first().map_or_else(
                || "no ATA chapter".to_owned(),
                |chapter| format!("ATA chapter {chapter}"),
            )
        } else {
            let name = layout
                .zone(&item.zone)
                .map_or("zone not in this layout", |zone| zone.name.as_str());
            format!("{} {name}", item.zone)
        };
        groups.entry(group).or_default().push(item);
    }
    html! {
        section #worklist {
            h2 { "Work list by " @if by_chapter { "ATA chapter" } @else { "zone" } }
            p.small { "The numbers are those of the list of what deteriorated first. What is written here is no approval for return to service." }
            @if groups.is_empty() { p { "No open finding is recorded. That does not mean that nothing is wrong: see what nobody has looked at." } }
            @else {
                div.wide tabindex="0" role="region" aria-label="Work list" {
                    table.work {
                        thead { (heads()) }
                        @for (group, items) in &groups {
                            tbody {
                                tr.group { th colspan="8" scope="rowgroup" { (sentence(group)) } }
                                @for item in items { (line(item)) }
                            }
                        }
                    }
                }
            }
        }
    }
}

pub(super) fn heads() -> Markup {
    html! { tr {
        th scope="col" { "No." } th scope="col" { "Place and condition" } th scope="col" { "Since" } th scope="col" { "Then and now" }
        th.blank scope="col" { "Found" } th.blank scope="col" { "Done" } th.blank scope="col" { "Reference" } th.blank scope="col" { "Initials" }
    } }
}

pub(super) fn line(item: &Item) -> Markup {
    html! {
        tr data-zone=(item.zone) data-ata=(item.chapters.join(" ")) data-concern=(item.concern.as_deref().unwrap_or("")) data-seen=(item.last_seen.as_ref().map_or("", |seen| seen.date.as_str())) {
            td.num { @if let Some(number) = item.number { (number) } }
            td { (item.place) ": " b { (item.title) } @if let Some(word) = &item.concern { "; " (concern(word)) }
                @for step in item.of_kind("told") { "; " (step.says) ", " (short_day(&step.date)) }
                @for step in item.of_kind("deferred") { "; " (step.says) }
                " " span.code { (item.short) } }
            td.date { (short_day(&item.earliest.date)) }
            td { (then_and_now(item)) @if item.change == "worse" && item.size_now.is_none() { "; " (item.says) } }
            td.blank {} td.blank {} td.blank {} td.blank {}
        }
    }
}
