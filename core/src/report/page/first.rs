//! The first screen: what is worse, what is new, what nobody has looked at; then all that is open.

use maud::{Markup, html};

use super::photos;
use crate::report::content::{Content, Item};
use crate::report::pictures::Album;
use crate::report::words::{self, concern, count, day, sentence, short_day, tight};

/// Lines of an answer before it says "and more".
const MOST: usize = 4;

/// Questions at the left, answers at the right, the worst finding's last photo beside them.
pub(super) fn answers(content: &Content, album: &Album) -> Markup {
    let worse: Vec<&Item> = content.open().filter(|i| i.change == "worse").collect();
    let new: Vec<&Item> = content.open().filter(|i| i.new).collect();
    let back: Vec<&Item> = content.open().filter(|i| i.returned.is_some()).collect();
    let never = content.never();
    let unseen: Vec<String> = content
        .zones
        .iter()
        .filter_map(|zone| {
            let last = zone
                .looks
                .iter()
                .rev()
                .find(|look| look.result != "not_looked_at")?;
            (last.result == "not_seen").then(|| format!("{} {}", zone.code, zone.name))
        })
        .collect();
    let worst = content
        .open()
        .find(|item| !item.photos.is_empty() && item.change == "worse")
        .or_else(|| content.open().find(|item| !item.photos.is_empty()));
    html! {
        section.answers {
            div.asked {
                h2 { "What has changed" }
                table {
                    tbody {
                        tr { th scope="row" { "Worse" }
                            td { (items(&worse, "No growth is shown. What was not measured twice, or not looked at, can have grown.", true)) } }
                        tr { th scope="row" { "New" }
                            td { (items(&new, "Nothing new was recorded at the last walkaround.", false)) } }
                        @if !back.is_empty() {
                            tr { th scope="row" { "Came back" } td { (items(&back, "", false)) } }
                        }
                        tr { th scope="row" { "Nobody has looked at" }
                            td {
                                @if never.is_empty() { "Every zone has been looked at at least once." }
                                @else {
                                    a href="#coverage" { (never.len()) " of " (count(content.zones.len(), "zone")) } ": "
                                    (never.iter().take(5).map(|zone| zone.name.as_str()).collect::<Vec<_>>().join(", "))
                                    @if never.len() > 5 { " and " ((never.len() - 5)) " more" } "."
                                }
                            } }
                        @if !unseen.is_empty() {
                            tr { th scope="row" { "Could not be seen" } td { (unseen.join("; ")) "." } }
                        }
                        @if let Some(last) = content.walkarounds.last() {
                            tr { th scope="row" { "Last walkaround" }
                                td {
                                    (day(&last.date)) " by " (last.by)
                                    @if !last.role.is_empty() { " (" (last.role) ")" }
                                    @if let Some(hours) = &last.hours { ", at " (words::hours(hours, last.meter.as_deref())) }
                                    ", " (last.purpose) ": looked at " (last.looked) " of " (count(content.zones.len(), "zone"))
                                    @if last.code.is_none() { ", not finished" } "."
                                } }
                        }
                    }
                }
                (caution(content))
            }
            @if let Some(item) = worst {
                div.worst {
                    @if let Some(photo) = item.photos.last() {
                        (photos::figure(photo, album, &item.name(), Some(item)))
                    }
                    @if let Some(series) = item.series.first() { (super::chart::growth(series, true)) }
                }
            }
        }
    }
}

/// What the page is not: where the eye passes, before any list.
pub(super) fn caution(content: &Content) -> Markup {
    html! { p.caution { @for (at, notice) in content.notices.iter().take(2).enumerate() { @if at > 0 { " " } (notice) } } }
}

fn items(list: &[&Item], none: &str, with_change: bool) -> Markup {
    html! {
        @if list.is_empty() { (none) }
        @else {
            ul.plain {
                @for item in list.iter().take(MOST) {
                    li {
                        a href={ "#f" (item.id) } { (item.place) }
                        ": " (item.title)
                        @if with_change { ", " b { (tight(&shortly(&item.says))) } }
                        @else if let Some(returned) = &item.returned { ", " (tight(returned)) }
                        br; span.small { (since(item)) }
                    }
                }
                @if list.len() > MOST { li { a href="#open" { "and " ((list.len() - MOST)) " more" } } }
            }
        }
    }
}

/// The change without the word that its row already says: `by 26 mm ± 2 mm in 95 h`.
fn shortly(says: &str) -> String {
    let rest = says.strip_prefix("worse ").unwrap_or(says);
    rest.replace(" since first measured over ", " in ")
}

/// Since when, by whom, at what hours.
fn since(item: &Item) -> String {
    let first = &item.earliest;
    let hours = item
        .sightings
        .iter()
        .find(|sight| sight.date == first.date && sight.by == first.by)
        .and_then(|sight| Some((sight.hours.as_deref()?, sight.meter.as_deref())))
        .map(|(hours, meter)| format!(", at {}", words::hours(hours, meter)))
        .unwrap_or_default();
    tight(&format!(
        "since {}, {}{hours}",
        short_day(&first.date),
        first.by
    ))
}

/// A sign beside the words, never instead of them.
pub(super) fn sign(change: &str) -> &'static str {
    match change {
        "worse" => "▲",
        "same" => "=",
        "less" => "▽",
        "not_comparable" => "≠",
        _ => "·",
    }
}

/// Everything open, what deteriorated first.
pub(super) fn open_table(content: &Content) -> Markup {
    html! {
        section #open {
            h2 { "Open, what deteriorated first" }
            @if content.open().next().is_none() {
                p { "No open finding is recorded. That does not mean that nothing is wrong: see what nobody has looked at." }
            } @else {
                div.wide.stack tabindex="0" role="region" aria-label="Open findings" {
                    table {
                        thead { tr { th scope="col" { "No." } th scope="col" { "Place and condition" } th scope="col" { "Change" } th scope="col" { "Then and now" } th scope="col" { "Since" } th scope="col" { "Concern" } } }
                        tbody {
                            @for item in content.open() {
                                tr data-row=(item.short) data-zone=(item.zone) data-ata=(item.chapters.join(" ")) data-concern=(item.concern.as_deref().unwrap_or("")) data-seen=(item.last_seen.as_ref().map_or("", |seen| seen.date.as_str())) {
                                    td.num { @if let Some(number) = item.number { (number) } }
                                    td { a href={ "#f" (item.id) } { (item.place) } ": " b { (item.title) } br; span.code { (item.short) } }
                                    td { span.sign aria-hidden="true" { (sign(&item.change)) } " " (tight(&sentence(&item.says))) @if let Some(back) = &item.returned { br; (sentence(back)) } }
                                    td { (then_and_now(item)) }
                                    td { span.date { (short_day(&item.earliest.date)) } br; span.small { (item.earliest.by) } }
                                    td { (item.concern.as_deref().map_or("not said", concern)) }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// `29 mm ± 1 mm, then 54 mm ± 2 mm`.
pub(super) fn then_and_now(item: &Item) -> String {
    let said = match (&item.size_then, &item.size_now) {
        (Some(then), Some(now)) if then != now => format!("{then} then, {now} now"),
        (_, Some(now)) => format!("{now}, measured once"),
        _ => "not measured".to_owned(),
    };
    tight(&said)
}
