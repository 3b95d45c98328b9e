//! One finding: what is said of it, its photos, its growth, its story in time order.

use maud::{Markup, html};

use super::{chart, first, photos};
use crate::report::content::{Item, Sight, Step};
use crate::report::pictures::Album;
use crate::report::words::{self, concern, day, listed, plain, sentence, short_day, tight};

pub(super) fn story(item: &Item, album: &Album) -> Markup {
    let pair = album.pair(&item.id.hex());
    let in_pair = |entry| pair.is_some_and(|pair| pair.older == entry || pair.newer == entry);
    html! {
        article id={ "f" (item.id) } data-zone=(item.zone) data-ata=(item.chapters.join(" ")) data-concern=(item.concern.as_deref().unwrap_or("")) data-seen=(item.last_seen.as_ref().map_or("", |seen| seen.date.as_str())) {
            h3 {
                @match item.number { Some(number) => { (number) ". " } None => { "Closed. " } }
                (item.place) ": " (item.title) " " span.code { (item.short) }
            }
            p.lead { (tight(&sentence(&item.says))) "." @if let Some(back) = &item.returned { " " (sentence(back)) "." } }
            @if let Some(text) = &item.text { p { "“" (text) "”" } }
            div.beside {
                (facts(item))
                @let graphs = html! { @for series in &item.series { (chart::growth(series, false)) } };
                @if !graphs.0.is_empty() { div.graphs { (graphs) } }
            }
            @if let Some(pair) = pair { (photos::pair(pair, &item.photos, album, &item.name())) }
            @if let Some(window) = &item.window { p.caution { (window) } }
            (told(item))
            @let rest: Vec<_> = item.photos.iter().filter(|photo| !in_pair(photo.entry)).collect();
            @if !rest.is_empty() {
                h4 { @if pair.is_some() { "Other photos" } @else { "Photos" } }
                div.photos { @for photo in rest { (photos::figure(photo, album, &item.name(), None)) } }
            }
        }
    }
}

fn facts(item: &Item) -> Markup {
    let unsure = item
        .unsure
        .iter()
        .map(|word| plain(word))
        .collect::<Vec<_>>();
    let steps = |kind: &str| {
        item.of_kind(kind)
            .map(|step| format!("{}, {}", day(&step.date), step.says))
            .collect::<Vec<_>>()
            .join("; ")
    };
    let (told, deferred) = (steps("told"), steps("deferred"));
    html! {
        table.facts {
            tbody {
                (row("First recorded", &format!("{} by {}", day(&item.first_recorded.date), item.first_recorded.by)))
                @if item.earliest.date != item.first_recorded.date {
                    (row("Earliest evidence", &format!("{} by {}, recognised later", day(&item.earliest.date), item.earliest.by)))
                }
                @if let Some(began) = &item.began { (row("Began", &sentence(began))) }
                @if let Some(covered) = &item.covered { (row("Covered by paint", &format!("since {} ({}): under new paint it is covered, not gone", day(&covered.date), covered.by))) }
                @if !item.seen_by.is_empty() { (row("Seen by", &listed(&item.seen_by))) }
                (row("Then and now", &first::then_and_now(item)))
                @if let Some(dressed) = &item.dressed { (row("Dressed off", &sentence(dressed))) }
                @for trend in &item.trends { (row("Trend", &sentence(trend))) }
                @if !item.not_asked.is_empty() { (row("Not asked", &not_asked(item))) }
                @if !item.concerns.is_empty() {
                    (row("Concern", &item.concerns.iter().map(|c| format!("{} ({})", concern(&c.concern), c.by)).collect::<Vec<_>>().join("; ")))
                }
                (row("Told", if told.is_empty() { "nobody, as far as is recorded" } else { &told }))
                @if !deferred.is_empty() { (row("Deferred", &deferred)) }
                @if let Some(limit) = &item.limit { (row("Limit set by a person", limit)) }
                @if let Some(again) = &item.again { (row("Look again", again)) }
                @if !unsure.is_empty() { (row("Not known", &listed(&unsure))) }
                @if !item.chapters.is_empty() { (row("ATA chapter", &item.chapters.join(", "))) }
                @if let Some(closed) = &item.closed { (row("Closed", &format!("{closed}. This says what somebody recorded; it is no maintenance entry."))) }
                tr { th scope="row" { "Proof code" } td { @match &item.code { Some(code) => { span.code.break { (code) } } None => { "none yet: the walkaround that last saw it is not finished" } } } }
            }
        }
    }
}

/// A look that found nothing there and said nothing of this finding says nothing about it.
fn not_asked(item: &Item) -> String {
    let looks: Vec<String> = item
        .not_asked
        .iter()
        .map(|look| format!("{} by {}", day(&look.date), look.by))
        .collect();
    format!(
        "nothing was found in its zone on {}, and nobody was asked about this finding",
        listed(&looks)
    )
}

fn row(name: &str, says: &str) -> Markup {
    html! { tr { th scope="row" { (name) } td { (says) } } }
}

enum Told<'a> {
    Seen(&'a Sight),
    Done(&'a Step),
}

/// Sightings and steps, one after the other.
fn told(item: &Item) -> Markup {
    let mut all: Vec<(i64, &str, Told<'_>)> = item
        .sightings
        .iter()
        .map(|sight| (sight.order, sight.date.as_str(), Told::Seen(sight)))
        .chain(
            item.steps
                .iter()
                .map(|step| (step.order, step.date.as_str(), Told::Done(step))),
        )
        .collect();
    all.sort_by_key(|(order, _, _)| *order);
    html! {
        div.wide tabindex="0" role="region" aria-label={ "Story of " (item.short) } {
            table.story {
                thead { tr { th scope="col" { "Date" } th scope="col" { "Hours" } th scope="col" { "By" } th scope="col" { "Seen or done" } th scope="col" { "Against the one before" } th scope="col" { "Against the first" } } }
                tbody {
                    @for (_, date, told) in &all {
                        @match told {
                            Told::Seen(sight) => { (seen(date, sight)) }
                            Told::Done(step) => {
                                tr.done {
                                    td.date { (short_day(date)) } td {} td { (step.by) }
                                    td colspan="3" { b { (sentence(&step.says)) } @if let Some(shown) = &step.shown_by { " (shown by " (shown) ")" } }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

fn seen(date: &str, sight: &Sight) -> Markup {
    let basis = match sight.basis.as_deref() {
        Some("told") => "told by somebody",
        Some("read") => "read in a paper",
        Some("felt") => "felt",
        _ => "",
    };
    html! {
        tr {
            td.date { (short_day(date)) }
            td.num { @if let Some(hours) = &sight.hours { (words::hours(hours, sight.meter.as_deref())) } }
            td { (sight.by) }
            td {
                @if sight.result != "present" { b { (sentence(&plain(&sight.result))) } @if !sight.says.is_empty() { ": " } }
                (tight(&sight.says))
                @if !basis.is_empty() { " (" (basis) ")" }
                @if let Some(later) = &sight.recognised { " (recognised later, on " (short_day(&later.date)) " by " (later.by) ")" }
                @if sight.overtaken { " (a later look in this walkaround counts instead)" }
            }
            td { (tight(&sight.before.as_deref().map_or_else(String::new, sentence))) }
            td { @if sight.first != sight.before { (tight(&sight.first.as_deref().map_or_else(String::new, sentence))) } @else if sight.first.is_some() { "the same step" } }
        }
    }
}
