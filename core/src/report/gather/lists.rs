//! Lists of a report: what is due, readings, papers, statements, overall views, cautions, proof.

use super::{Source, finding};
use crate::error::Result;
use crate::history::again;
use crate::history::state::{Capture, Finding};
use crate::history::view::HistoryView;
use crate::layout::Layout;
use crate::notebook::short_name;
use crate::record::{Body, Digest};
use crate::report::content::{Code, Due, Overall, Paper, Proof, Reading, Stamp, Statement, Vouch};
use crate::report::words::{self, plain};

pub(super) fn due(source: &Source<'_>) -> Vec<Due> {
    let mut due = Vec::new();
    for found in source.state.findings.iter().filter(|found| found.open) {
        if let Some(at) = &found.again {
            let name = source
                .layout
                .zone(&found.zone)
                .map_or(found.zone.as_str(), |zone| zone.name.as_str());
            due.push(Due {
                of: short_name(&found.zone, &found.id),
                place: name.to_owned(),
                at: again::words(at),
            });
        }
    }
    for (code, at) in &source.state.again {
        let name = source
            .layout
            .zone(code)
            .map_or(code.as_str(), |zone| zone.name.as_str());
        due.push(Due {
            of: code.clone(),
            place: name.to_owned(),
            at: again::words(at),
        });
    }
    due
}

pub(super) fn readings(source: &Source<'_>) -> Vec<Reading> {
    source
        .state
        .values
        .iter()
        .map(|value| {
            let mut says: Vec<String> = Vec::new();
            if let Some(number) = &value.value {
                says.push(words::figure(number, value.unit.as_deref().unwrap_or("")));
            }
            if let Some(zone) = &value.zone {
                says.push(format!("zone {zone}"));
            }
            for (key, said) in &value.context {
                says.push(format!("{}: {}", plain(key), plain(said)));
            }
            Reading {
                date: value.told.seen.date().to_owned(),
                by: source.who(&value.told.author),
                reading: plain(&value.reading),
                says: says.join("; "),
            }
        })
        .collect()
}

pub(super) fn papers(source: &Source<'_>) -> Vec<Paper> {
    let of_kind =
        |kind: &'static str| move |capture: &&Capture| capture.kind == kind && !capture.removed;
    source
        .state
        .captures
        .iter()
        .filter(of_kind("paper"))
        .map(|capture| {
            let settles = source
                .state
                .findings
                .iter()
                .filter(|found| {
                    found
                        .steps
                        .iter()
                        .any(|step| source.cited.get(&step.told.line) == Some(&capture.told.line))
                })
                .map(|found| short_name(&found.zone, &found.id))
                .collect();
            Paper {
                entry: capture.told.line,
                file: capture.file,
                date: capture.told.seen.date().to_owned(),
                by: source.who(&capture.told.author),
                paper: capture
                    .text
                    .as_deref()
                    .map_or_else(|| "paper".to_owned(), plain),
                name: capture.name.clone(),
                settles,
            }
        })
        .collect()
}

/// What was said by somebody and not seen by the author.
pub(super) fn statements(source: &Source<'_>) -> Vec<Statement> {
    let mut list = Vec::new();
    for found in &source.state.findings {
        for sighting in &found.sightings {
            let told = sighting.basis.as_deref() == Some("told")
                || sighting.measures.iter().any(|m| m.method == "told");
            if told {
                let words: Vec<&str> = [sighting.text.as_deref(), sighting.why.as_deref()]
                    .into_iter()
                    .flatten()
                    .collect();
                list.push(Statement {
                    date: sighting.told.seen.date().to_owned(),
                    by: source.who(&sighting.told.author),
                    about: short_name(&found.zone, &found.id),
                    says: if words.is_empty() {
                        plain(&found.condition)
                    } else {
                        words.join("; ")
                    },
                });
            }
        }
        for step in found.steps.iter().filter(|step| step.what == "treated") {
            if let Some(by) = step.words.get(1) {
                list.push(Statement {
                    date: step.told.seen.date().to_owned(),
                    by: source.who(&step.told.author),
                    about: short_name(&found.zone, &found.id),
                    says: format!(
                        "{} by {by}, as claimed",
                        step.words
                            .first()
                            .map_or_else(String::new, |how| plain(how))
                    ),
                });
            }
        }
    }
    list
}

pub(super) fn overall(source: &Source<'_>) -> Vec<Overall> {
    source
        .layout
        .views
        .iter()
        .filter_map(|view| {
            let captures: Vec<&Capture> = source
                .state
                .captures
                .iter()
                .filter(|capture| {
                    capture.kind == "photo"
                        && !capture.removed
                        && capture.view.as_deref() == Some(view.key.as_str())
                })
                .collect();
            if captures.is_empty() {
                return None;
            }
            let photos = captures
                .iter()
                .map(|capture| finding::photo(source, capture, None))
                .collect();
            let older = captures
                .len()
                .checked_sub(2)
                .and_then(|at| captures.get(at));
            let marked = source
                .view
                .findings
                .iter()
                .filter(|shown| view.zones.contains(&shown.zone))
                .filter(|shown| {
                    let found = source.state.findings.iter().find(|f| f.id == shown.id);
                    older
                        .zip(found)
                        .is_some_and(|(older, found)| after_photo(found, older))
                })
                .map(|found| {
                    format!(
                        "{} {}: {}, first recorded {} by {}",
                        found.short,
                        found.zone_name,
                        found.title.to_lowercase(),
                        words::day(&found.first.0),
                        found.first.1
                    )
                })
                .collect();
            Some(Overall {
                key: view.key.clone(),
                name: view.name.clone(),
                photos,
                marked,
            })
        })
        .collect()
}

/// Was a finding first recorded after an overall photo was taken? One that was opened in the photo's
/// own walkaround belongs to that handing over, in whatever order the two were written down; where
/// either has no walkaround the instants decide. Days alone do not: an aeroplane is handed over in the
/// morning and given back in the evening.
fn after_photo(found: &Finding, photo: &Capture) -> bool {
    let opened_in = found
        .sightings
        .iter()
        .find(|sighting| sighting.told.author == found.opened.author && !sighting.late)
        .and_then(|sighting| sighting.walkaround);
    if opened_in.is_some() && opened_in == photo.walkaround {
        return false;
    }
    found.opened.order() > photo.told.order()
}

pub(super) fn cautions(layout: &Layout, view: &HistoryView) -> Vec<String> {
    let open = |zone: &String| view.findings.iter().any(|f| f.open && f.zone == *zone);
    let mut lines: Vec<String> = layout
        .stops
        .iter()
        .filter(|stop| stop.zones.iter().any(open))
        .flat_map(|stop| stop.cautions.iter().cloned())
        .collect();
    lines.sort_unstable();
    lines.dedup();
    lines
}

pub(super) fn proof(
    source: &Source<'_>,
    finishes: Vec<crate::notebook::FinishRow>,
    aircraft: &Digest,
) -> Result<Proof> {
    let state = source.state;
    let codes = finishes
        .into_iter()
        .map(|row| {
            let date = state
                .walkarounds
                .iter()
                .find(|walk| walk.id == row.walkaround)
                .map_or_else(
                    || row.at.get(..10).unwrap_or(&row.at).to_owned(),
                    |walk| walk.told.seen.date().to_owned(),
                );
            Code {
                date,
                by: source.who(&row.author),
                key: row.author,
                finish: row.finish,
                lines: row.size,
                root: row.root,
                code: row.code.to_string(),
            }
        })
        .collect();
    let (mut vouched, mut stamps) = (Vec::new(), Vec::new());
    for id in state.joined.iter().chain([aircraft]) {
        for row in source.notebook.index().kind_lines(id, "vouched")? {
            if let Body::Vouched(body) = &row.body
                // Nobody stands behind himself.
                && body.author != row.author
            {
                vouched.push(Vouch {
                    date: row.seen.date().to_owned(),
                    by: source.who(&row.author),
                    whose: source.who(&body.author),
                    seq: body.seq,
                    line: body.line,
                });
            }
        }
        for row in source
            .notebook
            .index()
            .kind_lines(id, "timestamp received")?
        {
            if let Body::TimestampReceived(body) = &row.body {
                stamps.push(Stamp {
                    time: body.time.clone(),
                    finish: body.finish,
                });
            }
        }
    }
    Ok(Proof {
        codes,
        vouched,
        stamps,
        given_clock: source.view.walkarounds.iter().any(|walk| walk.given_clock),
    })
}
