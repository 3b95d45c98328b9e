//! The page: one HTML file without network or script, drawn like the trade's own paper.

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::chart;
use crate::error::Result;
use crate::history::state::State;
use crate::history::view::{FindingView, HistoryView, change_words};
use crate::layout::{Callout, DiagramOptions, Hatch, Layout, diagram};
use crate::notebook::Notebook;
use crate::photo::{Limits, Progress, intake};
use crate::record::Digest;
use crate::record::proof::code::ProofCode;

const STYLE: &str = include_str!("page.css");

/// Builds the page of an aircraft.
pub fn build(notebook: &Notebook, aircraft: &Digest) -> Result<String> {
    let state = notebook.state(aircraft)?;
    let layout = notebook.layout_of(&state)?;
    let view = notebook.history(aircraft)?;
    let last = view.walkarounds.last();
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta http-equiv="Content-Security-Policy" content="default-src 'none'; img-src data:; style-src 'unsafe-inline'";
                title { (view.registration) " condition history" }
                style { (PreEscaped(STYLE)) }
            }
            body {
                header {
                    h1 { (view.registration) " " span.type { (view.kind) } }
                    p.facts {
                        "Serial " (view.serial.as_deref().unwrap_or("not given"))
                        @if let Some(last) = last {
                            " · last walkaround " (last.date) " by " (last.by)
                            @if let Some(hours) = &last.hours { " at " (hours) " h total time" }
                        }
                    }
                    p.caution { "This is a condition history. It is not a maintenance record, a release or an approval, and it does not say that the aircraft is airworthy. Show what is open to a licensed mechanic or inspector; the aircraft's own manual comes first." }
                    @if view.newer { p.caution { "Written by a newer version; this view may be incomplete." } }
                }
                main {
                    (first_table(&view))
                    section.drawing {
                        h2 { "Where" }
                        (PreEscaped(where_it_is(&layout, &view)))
                        p.small { "Left and right as the pilot sits. " (crate::layout::CODES_NOTE) }
                    }
                    section { h2 { "Each finding" } @for finding in &view.findings { (finding_story(notebook, &state, finding)) } }
                    (not_looked(&view))
                    (matrix(&view))
                    (cautions(&layout, &view))
                    (proof(&state, &view))
                }
            }
        }
    };
    Ok(page.into_string())
}

/// The station and zone diagram: worse crossed, other open findings slanted, place words on leaders.
fn where_it_is(layout: &Layout, view: &HistoryView) -> String {
    let open = || view.findings.iter().filter(|finding| finding.open);
    let hatched = open()
        .map(|finding| {
            let worse = open().any(|other| other.zone == finding.zone && other.change == "worse");
            (
                finding.zone.clone(),
                if worse {
                    Hatch::Crossed
                } else {
                    Hatch::Slanted
                },
            )
        })
        .collect();
    let callouts = open()
        .map(|finding| Callout {
            zone: finding.zone.clone(),
            text: format!("{}: {}", place(finding), finding.title.to_lowercase()),
        })
        .collect();
    let legend = vec![
        (Hatch::Crossed, "worse since first measured".to_owned()),
        (Hatch::Slanted, "another open finding".to_owned()),
    ];
    let drawings = layout
        .outlines
        .iter()
        .map(|outline| outline.view.clone())
        .filter(|drawing| {
            drawing != "cabin"
                || open().any(|finding| {
                    layout
                        .zone(&finding.zone)
                        .is_some_and(|zone| zone.shapes.iter().all(|shape| shape.view == "cabin"))
                })
        })
        .collect();
    diagram(
        layout,
        &DiagramOptions {
            hatched,
            legend,
            callouts,
            drawings,
            only_named: true,
        },
    )
    .svg
}

/// The photo's large preview as a data address; `None` where the file is not here or cannot be shown.
fn preview(notebook: &Notebook, file: &Digest) -> Option<String> {
    let path = notebook.original(file)?;
    let files = notebook.world().files.as_ref();
    let length = files.len(&path).ok()?;
    let mut source = files.open(&path).ok()?;
    let examined = crate::evidence::examine(source.as_mut(), length, "").ok()?;
    let shown = intake(
        source.as_mut(),
        &examined,
        &Limits::default(),
        &Progress::default(),
    )
    .ok()?;
    let jpeg = shown.view?.large.jpeg;
    Some(format!(
        "data:image/jpeg;base64,{}",
        data_encoding::BASE64.encode(&jpeg)
    ))
}

fn place(finding: &FindingView) -> String {
    match &finding.part {
        Some(part) => format!("{}, {part}", finding.zone_name),
        None => finding.zone_name.clone(),
    }
}

/// A sign beside the words, never instead of them.
fn sign(change: &str) -> &'static str {
    match change {
        "worse" => "▲",
        "same" => "=",
        "less" => "▽",
        "not_comparable" => "≠",
        _ => "·",
    }
}

fn first_table(view: &HistoryView) -> Markup {
    let open: Vec<&FindingView> = view
        .findings
        .iter()
        .filter(|finding| finding.open)
        .collect();
    html! {
        section {
            h2 { "Open, deteriorated first" }
            @if open.is_empty() { p { "No open finding is recorded. That does not mean that nothing is wrong: see what nobody has looked at." } }
            @else {
                div.wide.first { table {
                    thead { tr { th { "Zone" } th { "Place and condition" } th { "Change" } th { "Since" } th { "Concern" } } }
                    tbody { @for finding in open { tr {
                        td.code { a href={ "#f" (finding.id) } { (finding.short) } }
                        td { (place(finding)) ": " b { (finding.title.to_lowercase()) } }
                        td { span.sign { (sign(&finding.change)) } " " (finding.says) }
                        td { span.date { (finding.first.0) } br; span.small { (finding.first.1) } }
                        td { (finding.concern.as_deref().unwrap_or("none set").replace('_', " ")) }
                    } } }
                } }
            }
        }
    }
}

fn finding_story(notebook: &Notebook, state: &State, finding: &FindingView) -> Markup {
    let photos: Vec<_> = state
        .captures
        .iter()
        .filter(|capture| capture.kind == "photo" && !capture.removed)
        .filter(|capture| {
            capture.finding == Some(finding.id)
                || finding
                    .sightings
                    .iter()
                    .any(|sighting| sighting.evidence.contains(&capture.told.line))
        })
        .collect();
    html! {
        article id={ "f" (finding.id) } {
            h3 { span.code { (finding.short) } " " (place(finding)) ": " (finding.title.to_lowercase()) }
            p {
                (finding.says) ". First recorded " (finding.first.0) " by " (finding.first.1) "."
                @if !finding.open { " Closed: " (finding.closed_how.as_deref().unwrap_or("not said how")) "." }
                @for unsure in &finding.unsure { " Not known: " (unsure) "." }
            }
            div.photos {
                @for capture in &photos {
                    figure {
                        @match capture.file.and_then(|file| preview(notebook, &file)) {
                            Some(address) => { img src=(address) alt={ (finding.title) " at " (finding.zone_name) ", " (capture.told.seen.date()) } loading="lazy"; }
                            None => { p.missing { "The photo is not here or cannot be shown; its digest is in the record." } }
                        }
                        figcaption { (capture.told.seen.date()) " · " (notebook.shown_author(state, &capture.told.author))
                            @if capture.complete == Some(false) { " · the file is cut short" } }
                    }
                }
            }
            @if let Some(svg) = chart::growth(&finding.sightings) { (PreEscaped(svg)) }
            div.wide { table {
                thead { tr { th { "Date" } th { "Hours" } th { "By" } th { "Seen" } th { "Against the one before" } } }
                tbody { @for sighting in &finding.sightings { tr {
                    td.date { (sighting.date) }
                    td { (sighting.hours.as_deref().unwrap_or("")) }
                    td { (sighting.by) }
                    td { @if sighting.result != "present" { b { (sighting.result.replace('_', " ")) } " " } (sighting.says) @if sighting.late { " (recognised later)" } }
                    td { @if let Some(change) = &sighting.before { (change_words(change, sighting.unit.as_deref().unwrap_or(""))) } }
                } } }
            } }
            @for (date, by, words) in &finding.steps { p.step { (date) ", " (by) ": " (words) } }
        }
    }
}

fn not_looked(view: &HistoryView) -> Markup {
    let never: Vec<_> = view
        .zones
        .iter()
        .filter(|zone| zone.last.is_none())
        .collect();
    let mut old: Vec<_> = view
        .zones
        .iter()
        .filter_map(|zone| zone.last.as_ref().map(|last| (last, zone)))
        .collect();
    old.sort_by(|a, b| a.0.cmp(b.0).then(a.1.code.cmp(&b.1.code)));
    html! {
        section {
            h2 { "What nobody has looked at" }
            p { "Not looked at is not the same as nothing found." }
            @if never.is_empty() { p { "Every zone has been looked at at least once." } }
            @else { ul.columns { @for zone in &never { li { span.code { (zone.code) } " " (zone.name) } } } }
            @if !old.is_empty() {
                h3 { "Longest ago" }
                ul.columns { @for (last, zone) in old.iter().take(12) { li { span.code { (zone.code) } " " (zone.name) ": " (last) } } }
            }
            @if view.unplaced > 0 { p { (view.unplaced) " captures have no place yet." } }
        }
    }
}

fn matrix(view: &HistoryView) -> Markup {
    let mark = |result: &str| match result {
        "findings" => "✚",
        "nothing_found" => "–",
        "not_seen" => "╳",
        _ => "",
    };
    html! {
        section.matrix {
            h2 { "Zones by walkarounds" }
            p.small { "✚ findings   – looked, nothing found   ╳ could not be seen   empty: not looked at" }
            div.wide { table {
                thead { tr { th { "Zone" } @for walkaround in &view.walkarounds { th { (walkaround.date) br; (walkaround.by) @if let Some(hours) = &walkaround.hours { br; (hours) " h" } } } } }
                tbody { @for zone in &view.zones { tr {
                    th scope="row" { span.code { (zone.code) } " " (zone.name) }
                    @for (_, result, words) in &zone.looks { td.sign title=(words) { (mark(result)) @if result == "not_seen" { br; span.small { (words) } } } }
                } } }
            } }
        }
    }
}

fn cautions(layout: &Layout, view: &HistoryView) -> Markup {
    let mut lines: Vec<&str> = layout
        .stops
        .iter()
        .filter(|stop| {
            view.findings
                .iter()
                .any(|finding| finding.open && stop.zones.contains(&finding.zone))
        })
        .flat_map(|stop| stop.cautions.iter().map(String::as_str))
        .collect();
    lines.sort_unstable();
    lines.dedup();
    html! {
        section {
            h2 { "Before anybody looks again" }
            ul { @for line in lines { li { (line) } } }
            p { "A hard landing, a propeller strike or a lightning strike is settled by the maker's conditional inspection, not by looking. After an accident or incident that must be notified, leave wreckage and records as they are (in the US 49 CFR 830.10)." }
        }
    }
}

fn proof(state: &State, view: &HistoryView) -> Markup {
    let finishes: Vec<(&str, &str, String)> = state
        .walkarounds
        .iter()
        .zip(&view.walkarounds)
        .filter_map(|(walkaround, shown)| {
            Some((
                shown.date.as_str(),
                shown.by.as_str(),
                ProofCode::of(&walkaround.finished?.0).to_string(),
            ))
        })
        .collect();
    html! {
        section.proof {
            h2 { "Proof codes" }
            p.small { "A code shows that a walkaround's record is the one that was finished then. It does not show that a picture is true; the holder of a key could rewrite a whole chain, unless the code, or somebody else's vouching, was kept elsewhere." }
            table { tbody { @for (date, by, code) in &finishes { tr { td { (date) } td { (by) } td.code { (code) } } } } }
            @if view.walkarounds.iter().any(|walkaround| walkaround.given_clock) { p.small { "Some entries were made with a clock that was set by hand." } }
        }
    }
}
