//! Handing over: the overall views before and after, what a person marked between, two people's word.

use maud::{Markup, html};

use super::photos;
use crate::report::content::Content;
use crate::report::pictures::Album;
use crate::report::words::{day, listed, sentence};

/// The two walkarounds that are compared: the last two.
pub(super) fn between(content: &Content) -> Markup {
    let walks: Vec<_> = content.walkarounds.iter().rev().take(2).rev().collect();
    let new: Vec<_> = content.open().filter(|item| item.new).collect();
    html! {
        section {
            h2 { "Before and after" }
            table { tbody {
                @for (at, walk) in walks.iter().enumerate() {
                    tr { th scope="row" { @if walks.len() == 2 && at == 0 { "Before" } @else { "After" } }
                        td { (day(&walk.date)) " by " (walk.by) @if let Some(hours) = &walk.hours { ", at " (crate::report::words::hours(hours, walk.meter.as_deref())) } ", " (walk.purpose) ": looked at " (walk.looked) " of " (content.zones.len()) " zones" @if walk.code.is_none() { ", not finished" } "." } }
                }
                tr { th scope="row" { "Marked by a person between them" }
                    td { @if new.is_empty() { "Nothing new was recorded. A difference that nobody marked is not told here." }
                        @else { ul.plain { @for item in &new { li { (item.name()) ", " (sentence(&item.says)) " " span.code { (item.short) } } } } } } }
            } }
            (super::first::caution(content))
        }
    }
}

pub(super) fn views(content: &Content, album: &Album) -> Markup {
    html! {
        section #views {
            h2 { "Overall views" }
            @if content.views.is_empty() { p { "No overall view was photographed." } }
            @for view in &content.views {
                article {
                    h3 { (sentence(&view.name)) }
                    @match album.pair(&view.key) {
                        Some(pair) => { (photos::pair(pair, &view.photos, album, &view.name)) }
                        None => { div.photos { @for photo in &view.photos { (photos::figure(photo, album, &view.name, None)) } } }
                    }
                    p { @if view.photos.len() < 2 { "Photographed once: nothing to lay it on." }
                        @else if view.marked.is_empty() { "Nobody marked a difference in what this view shows. That does not say that there is none." }
                        @else { "Marked by a person since: " (listed(&view.marked)) "." } }
                }
            }
        }
    }
}

/// Who vouched for whom.
pub(super) fn vouching(content: &Content) -> Markup {
    html! {
        section {
            h2 { "Two people's word" }
            @if content.proof.vouched.is_empty() { p { "Nobody has vouched for another's record yet. Each of the two should record the last line of the other's: it is what shows later that neither was written anew." } }
            @else { ul { @for row in &content.proof.vouched { li { (day(&row.date)) ": " (row.by) " vouches that the record of " (row.whose) " ended then with line " (row.seq + 1) "." } } } }
            table.work { tbody {
                tr { th scope="row" { "Handed over by" } td.blank {} th scope="row" { "Date, time" } td.blank {} }
                tr { th scope="row" { "Taken over by" } td.blank {} th scope="row" { "Date, time" } td.blank {} }
            } }
        }
    }
}
