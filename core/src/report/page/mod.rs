//! The page: one HTML file without network, drawn like the trade's own paper. The script is optional:
//! with it off everything can be read and printed.
//!
//! A part a file; this one puts them together by cut.

mod chart;
mod coverage;
mod finding;
mod first;
pub(in crate::report) mod frame;
mod grid;
mod handover;
mod papers;
mod photos;
mod place;
mod proof;
mod sheet;
mod worklist;

use maud::{Markup, html};

use super::ask::{Ask, Cut};
use super::content::Content;
use super::pictures::Album;
use crate::layout::Layout;

/// The whole page.
pub fn build(content: &Content, layout: &Layout, album: &Album, ask: &Ask) -> String {
    let body = match ask.cut {
        Cut::Whole => whole(content, layout, album),
        Cut::Finding(_) => one_finding(content, layout, album),
        Cut::Review => review(content, layout, album, ask),
        Cut::Baseline => baseline(content, layout, album),
        Cut::Sheet => sheet::sheet(content, album),
        Cut::HandingOver => handing_over(content, album),
    };
    frame::page(content, &body).into_string()
}

fn stories(content: &Content, album: &Album) -> Markup {
    html! {
        section #findings {
            h2 { "Each finding" }
            @if content.findings.is_empty() { p { "No finding is recorded. That does not mean that nothing is wrong: see what nobody has looked at." } }
            @for item in &content.findings { (finding::story(item, album)) }
        }
    }
}

fn whole(content: &Content, layout: &Layout, album: &Album) -> Markup {
    html! {
        (frame::head(content))
        main #main {
            (first::answers(content, album))
            (first::open_table(content))
            (place::diagram_of(content, layout))
            (stories(content, album))
            (coverage::not_looked(content))
            (grid::grid(content))
            (papers::readings(content))
            (papers::papers(content, album))
            (papers::statements(content))
            (coverage::cautions(content))
            (proof::proof(content))
        }
    }
}

fn one_finding(content: &Content, layout: &Layout, album: &Album) -> Markup {
    html! {
        (frame::head(content))
        main #main {
            (stories(content, album))
            (place::diagram_of(content, layout))
            (papers::papers(content, album))
            (coverage::cautions(content))
            (proof::proof(content))
        }
    }
}

fn review(content: &Content, layout: &Layout, album: &Album, ask: &Ask) -> Markup {
    html! {
        (frame::head(content))
        main #main {
            (first::answers(content, album))
            (worklist::worklist(content, layout, ask.by_chapter))
            (coverage::due(content))
            (coverage::not_looked(content))
            (place::diagram_of(content, layout))
            (stories(content, album))
            (grid::grid(content))
            (papers::readings(content))
            (papers::papers(content, album))
            (papers::statements(content))
            (coverage::cautions(content))
            (proof::proof(content))
        }
    }
}

fn baseline(content: &Content, layout: &Layout, album: &Album) -> Markup {
    html! {
        (frame::head(content))
        main #main {
            (papers::agreement(content))
            (papers::papers(content, album))
            (papers::statements(content))
            (coverage::of_walkarounds(content))
            (coverage::not_looked(content))
            (coverage::every_zone(content))
            (first::open_table(content))
            (place::diagram_of(content, layout))
            (stories(content, album))
            (handover::views(content, album))
            (grid::grid(content))
            (papers::readings(content))
            (coverage::cautions(content))
            (proof::proof(content))
        }
    }
}

fn handing_over(content: &Content, album: &Album) -> Markup {
    html! {
        (frame::head(content))
        main #main {
            (handover::between(content))
            (handover::views(content, album))
            (first::open_table(content))
            (coverage::not_looked(content))
            (handover::vouching(content))
            (coverage::cautions(content))
            (proof::proof(content))
        }
    }
}
