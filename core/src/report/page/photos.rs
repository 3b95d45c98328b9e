//! Photos: one with what was measured on it; an older one and a newer one in one place.

use maud::{Markup, html};

use crate::report::content::{Item, Photo};
use crate::report::pictures::{Album, Drawn, Jpeg, Pair, Shown};
use crate::report::words::{day, tight};

/// A photo with its words.
pub(super) fn figure(photo: &Photo, album: &Album, what: &str, of: Option<&Item>) -> Markup {
    let shown = album.get(&photo.entry);
    html! {
        figure.photo {
            (picture(shown, None, &format!("{what}, {}", day(&photo.date))))
            figcaption {
                @if let Some(item) = of { b { (item.name()) } ". " }
                (caption(photo, shown))
            }
        }
    }
}

fn picture(shown: Option<&Shown>, carried: Option<&[Drawn]>, alt: &str) -> Markup {
    let Some(shown) = shown else {
        return html! { p.missing { "Not shown in this cut; its digest is in the record." } };
    };
    html! {
        @match &shown.picture {
            Some(jpeg) => { (framed(jpeg, shown.full, &shown.drawn, carried.unwrap_or_default(), alt)) }
            None => { p.missing { (shown.missing.unwrap_or("This photo cannot be shown here.")) } }
        }
    }
}

/// The picture with lines over it: drawn as vectors, so that they stay sharp on paper.
fn framed(jpeg: &Jpeg, full: (u32, u32), drawn: &[Drawn], older: &[Drawn], alt: &str) -> Markup {
    html! {
        div.frame {
            img src=(jpeg.address) width=(jpeg.width) height=(jpeg.height) alt=(alt) decoding="async";
            @if !drawn.is_empty() || !older.is_empty() {
                svg.marks viewBox={ "0 0 " (full.0) " " (full.1) } aria-hidden="true" {
                    @for line in drawn { path.halo vector-effect="non-scaling-stroke" d=(line.path) {} path.now vector-effect="non-scaling-stroke" d=(line.path) {} }
                    @for line in older { path.halo vector-effect="non-scaling-stroke" d=(line.path) {} path.then vector-effect="non-scaling-stroke" d=(line.path) {} }
                }
            }
        }
    }
}

fn caption(photo: &Photo, shown: Option<&Shown>) -> Markup {
    html! {
        (day(&photo.date)) ", " (photo.by)
        @if let Some(hours) = &photo.hours { ", " (crate::report::words::hours(hours, photo.meter.as_deref())) }
        @for measured in &photo.measured { "; " (tight(measured)) }
        @if photo.cut_short { "; the file is cut short" }
        @if let Some(shown) = shown {
            @if shown.masked { "; the card is masked" }
            @if let Some(copy) = shown.copy { "; " (copy) }
            @if let Some(original) = &shown.original { "; " a href=(original) { @if shown.copy.is_some() { "copy" } @else { "original" } } }
        }
        "."
    }
}

/// Older at the left, newer at the right; with the script the older one lies on the newer at a press.
pub(super) fn pair(pair: &Pair, photos: &[Photo], album: &Album, what: &str) -> Markup {
    let of = |entry| photos.iter().find(|photo| photo.entry == entry);
    let (Some(older), Some(newer)) = (of(pair.older), of(pair.newer)) else {
        return html! {};
    };
    let (a, b) = (album.get(&pair.older), album.get(&pair.newer));
    let carried: &[Drawn] = pair.laid.as_ref().map_or(&[], |(_, lines)| lines);
    html! {
        div.pair {
            figure.photo {
                (picture(a, None, &format!("older: {what}, {}", day(&older.date))))
                figcaption { b { "Older. " } (caption(older, a)) }
            }
            figure.photo.newer {
                @match b.and_then(|shown| Some((shown, shown.picture.as_ref()?))) {
                    Some((shown, jpeg)) => {
                        div.flick {
                            (framed(jpeg, shown.full, &shown.drawn, carried, &format!("newer: {what}, {}", day(&newer.date))))
                            @if let Some((over, lines)) = &pair.laid {
                                div.under hidden { (framed(over, shown.full, &[], lines, &format!("older, laid on the newer: {what}, {}", day(&older.date)))) }
                            }
                        }
                    }
                    None => { (picture(b, None, what)) }
                }
                figcaption { b { "Newer. " } (caption(newer, b)) }
            }
            p.small {
                @if !carried.is_empty() { "Full line: as measured then on its own photo. Broken line on the newer photo: the older measure, carried over by laying one photo on the other." }
                @else if pair.laid.is_some() { "The older photo could be laid on the newer one." }
                @else if let Some(why) = &pair.why { "Not laid on one another: " (why) "." }
                @else { "Not laid on one another here." }
            }
        }
    }
}
