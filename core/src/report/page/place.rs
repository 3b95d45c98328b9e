//! Where: the station and zone diagram with what is open on it.

use maud::{Markup, PreEscaped, html};

use crate::layout::{CODES_NOTE, Callout, DiagramOptions, Hatch, Layout, diagram};
use crate::report::content::Content;

/// Worse crossed, other open findings slanted, place words on leaders.
pub(super) fn diagram_of(content: &Content, layout: &Layout) -> Markup {
    let shown = || {
        content
            .findings
            .iter()
            .filter(|i| i.open || content.cut == "finding")
    };
    if shown().next().is_none() {
        return html! {};
    }
    let hatched = shown()
        .map(|item| {
            let worse = shown().any(|other| other.zone == item.zone && other.change == "worse");
            (
                item.zone.clone(),
                if worse {
                    Hatch::Crossed
                } else {
                    Hatch::Slanted
                },
            )
        })
        .collect();
    let callouts = shown()
        .map(|item| Callout {
            zone: item.zone.clone(),
            text: item.name(),
        })
        .collect();
    let on = |view: &str| {
        shown().any(|item| {
            layout
                .zone(&item.zone)
                .is_some_and(|zone| zone.best_view() == Some(view))
        })
    };
    // The plan always, for where one stands; another view only where it shows something best.
    let drawings = layout
        .outlines
        .iter()
        .map(|outline| outline.view.clone())
        .filter(|view| view == "plan" || on(view))
        .collect();
    let svg = diagram(
        layout,
        &DiagramOptions {
            hatched,
            legend: vec![
                (Hatch::Crossed, "worse since first measured".to_owned()),
                (Hatch::Slanted, "another open finding".to_owned()),
            ],
            callouts,
            drawings,
            only_named: true,
        },
    )
    .svg;
    html! {
        section #where {
            h2 { "Where" }
            div.drawing { (PreEscaped(svg)) }
            p.small { "Left and right as the pilot sits. " (CODES_NOTE) }
            p #zone-said .small aria-live="polite" {}
        }
    }
}
