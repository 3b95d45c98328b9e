//! Coverage: what nobody has looked at, what could not be seen, what is due, cautions.

use maud::{Markup, html};

use crate::report::content::{Content, Zone};
use crate::report::words::{self, count, day, look, sentence, short_day};

pub(super) fn not_looked(content: &Content) -> Markup {
    let never = content.never();
    let newest = content.walkarounds.last().map(|walk| walk.date.as_str());
    let mut old: Vec<(&str, &Zone)> = content
        .zones
        .iter()
        .filter_map(|zone| Some((zone.last.as_deref()?, zone)))
        .filter(|(last, _)| newest.is_none_or(|newest| *last < newest))
        .collect();
    old.sort_by(|a, b| a.0.cmp(b.0).then(a.1.code.cmp(&b.1.code)));
    html! {
        section #coverage {
            h2 { "What nobody has looked at" }
            p { "Not looked at is not the same as nothing found." }
            @if never.is_empty() { p { "Every zone has been looked at at least once." } }
            @else {
                p { (never.len()) " of " (count(content.zones.len(), "zone")) " never:" }
                ul.columns { @for zone in &never { li { span.code { (zone.code) } " " (zone.name) } } }
            }
            (unseen(content))
            @if !old.is_empty() {
                h3 { "Not looked at in the last walkaround, but before" }
                ul.columns { @for (last, zone) in &old { li { span.code { (zone.code) } " " (zone.name) ", last " (day(last)) } } }
            }
            (outside(content))
            @if content.unplaced > 0 { p { (sentence(&count(content.unplaced, "capture"))) " not yet placed on a zone: not told in this page." } }
        }
    }
}

/// Looks that belong to no walkaround: they count, and stand in no column of the grid.
fn outside(content: &Content) -> Markup {
    let looks: Vec<_> = content
        .zones
        .iter()
        .flat_map(|zone| zone.outside.iter().map(move |look| (zone, look)))
        .collect();
    html! {
        @if !looks.is_empty() {
            h3 { "Looked at outside any walkaround" }
            ul.columns { @for (zone, said) in &looks {
                li { span.code { (zone.code) } " " (zone.name) ", " (short_day(&said.by.date)) ", " (said.by.by) ": " (look(&said.result)) @if !said.says.is_empty() { " (" (said.says) ")" } }
            } }
        }
    }
}

/// What could not be seen, and why.
fn unseen(content: &Content) -> Markup {
    let rows: Vec<_> = content
        .zones
        .iter()
        .flat_map(|zone| {
            zone.looks
                .iter()
                .zip(&content.walkarounds)
                .filter(|(look, _)| look.result == "not_seen")
                .map(move |(look, walk)| (zone, look, walk))
        })
        .collect();
    html! {
        @if !rows.is_empty() {
            h3 { "Could not be seen" }
            ul.columns { @for (zone, look, walk) in &rows {
                li { span.code { (zone.code) } " " (zone.name) ", " (short_day(&walk.date)) ", " (walk.by) ": " (if look.says.is_empty() { "not said why" } else { look.says.as_str() }) }
            } }
        }
    }
}

/// How much each walkaround looked at.
pub(super) fn of_walkarounds(content: &Content) -> Markup {
    html! {
        section #walkarounds {
            h2 { "Who looked, when, at how much" }
            @for line in &content.backwards { p.caution { (sentence(line)) "." } }
            div.wide tabindex="0" role="region" aria-label="Walkarounds" { table {
                thead { tr { th scope="col" { "Date" } th scope="col" { "By" } th scope="col" { "Purpose" } th scope="col" { "Hours" } th scope="col" { "Zones looked at" } } }
                tbody { @for walk in &content.walkarounds { tr {
                    td.date { (short_day(&walk.date)) }
                    td { (walk.by) @if !walk.role.is_empty() { ", " (walk.role) } }
                    td { (sentence(&walk.purpose)) @if walk.code.is_none() { ", not finished" } }
                    td { @match &walk.hours { Some(hours) => { (words::hours(hours, walk.meter.as_deref())) } None => { "not recorded" } } }
                    td { (walk.looked) " of " (content.zones.len()) }
                } } }
            } }
        }
    }
}

/// Every zone with its last look in a sentence.
pub(super) fn every_zone(content: &Content) -> Markup {
    html! {
        section #zones {
            h2 { "Every zone" }
            div.wide tabindex="0" role="region" aria-label="Every zone" { table {
                thead { tr { th scope="col" { "Zone" } th scope="col" { "Last look" } th scope="col" { "By" } th scope="col" { "What it says" } th scope="col" { "Open" } } }
                tbody { @for zone in &content.zones {
                    @let last = zone.last_look(&content.walkarounds);
                    tr data-zone=(zone.code) data-ata=(zone.chapters.join(" ")) {
                        th scope="row" { span.code { (zone.code) } " " (zone.name) }
                        @match last {
                            Some((result, says, date, by)) => {
                                td.date { (short_day(date)) } td.date { (by) }
                                td { (sentence(look(result))) @if !says.is_empty() { ": " (says) } }
                            }
                            None => { td {} td {} td { b { "Not looked at" } } }
                        }
                        td { @if zone.open > 0 { (zone.open) } }
                    }
                } }
            } }
        }
    }
}

/// What was set to be looked at again.
pub(super) fn due(content: &Content) -> Markup {
    html! {
        @if !content.due.is_empty() {
            section {
                h2 { "To be looked at again" }
                ul.columns { @for due in &content.due { li { span.code { (due.of) } " " (due.place) ": " (due.at) } } }
            }
        }
    }
}

pub(super) fn cautions(content: &Content) -> Markup {
    html! {
        section {
            h2 { "Before anybody looks again" }
            ul { @for line in &content.cautions { li { (line) } } }
            @for notice in &content.notices { p.notice { (notice) } }
        }
    }
}
