//! Takes a report's content from a notebook.

use std::collections::BTreeMap;

use super::ask::{Against, Ask, Cut};
use super::content::{
    Agreement, Code, Content, Due, Event, Look, Overall, Paper, Part, Proof, Reading, Said, Stamp,
    Statement, Vouch, Walk, Zone,
};
use super::words::plain;
use crate::error::Result;
use crate::history::state::{Capture, State, Told};
use crate::history::view::HistoryView;
use crate::layout::Layout;
use crate::notebook::{Notebook, short_name};
use crate::record::{Body, Digest};

mod finding;

/// What every cut says of itself.
const NOTICES: [&str; 4] = [
    "This is a condition history. It is not a maintenance record, a release or an approval, and it does not say that the aircraft is airworthy.",
    "Show what is open to a licensed mechanic or inspector; the aircraft's own manual comes first.",
    "A hard landing, a propeller strike or a lightning strike is settled by the maker's conditional inspection, not by looking.",
    "After an accident or incident that must be notified, leave wreckage and records as they are (in the US 49 CFR 830.10).",
];

/// What the parts of a report are taken from.
pub(super) struct Source<'a> {
    pub notebook: &'a Notebook,
    pub state: &'a State,
    pub layout: &'a Layout,
    pub view: &'a HistoryView,
    pub ask: &'a Ask,
    /// Finish codes by walkaround.
    pub codes: BTreeMap<Digest, String>,
    /// Evidence cited by what closed a finding or recorded a maintenance entry: by that line.
    pub cited: BTreeMap<Digest, Digest>,
}

impl Source<'_> {
    /// Name of an author.
    pub fn who(&self, author: &Digest) -> String {
        self.notebook.shown_author(self.state, author)
    }

    fn said(&self, told: &Told) -> Said {
        Said {
            date: told.seen.date().to_owned(),
            by: self.who(&told.author),
        }
    }

    pub fn chapters(&self, zone: &str) -> Vec<String> {
        self.layout.zone(zone).map_or_else(Vec::new, |zone| {
            zone.ata.iter().map(|ata| ata.chapter.clone()).collect()
        })
    }

    /// Name a capture came with, or what it is.
    pub fn capture_name(&self, line: &Digest) -> Option<String> {
        let capture = self
            .state
            .captures
            .iter()
            .find(|capture| capture.told.line == *line)?;
        let what = capture.name.clone().unwrap_or_else(|| capture.kind.clone());
        Some(format!("{what}, {}", capture.told.seen.date()))
    }
}

/// Gathers the content of a report.
///
/// # Errors
/// Those of reading the notebook; `Unknown` for a zone that the layout does not have.
pub fn gather(notebook: &Notebook, aircraft: &Digest, ask: &Ask) -> Result<Content> {
    let state = notebook.state(aircraft)?;
    let layout = notebook.layout_of(&state)?;
    let view = notebook.history(aircraft)?;
    let finishes = notebook.finishes(aircraft)?;
    let source = Source {
        notebook,
        state: &state,
        layout: &layout,
        view: &view,
        ask,
        codes: finishes
            .iter()
            .map(|row| (row.walkaround, row.code.to_string()))
            .collect(),
        cited: cited(notebook, &state, aircraft)?,
    };
    let walkarounds: Vec<Walk> = state
        .walkarounds
        .iter()
        .map(|walk| {
            let slip = state.authors.get(&walk.told.author).copied().flatten();
            let role = notebook
                .person(slip.as_ref())
                .map(|(_, role)| plain(&role))
                .unwrap_or_default();
            Walk {
                id: walk.id,
                date: walk.told.seen.date().to_owned(),
                by: source.who(&walk.told.author),
                role,
                purpose: walk
                    .purpose
                    .as_deref()
                    .map_or_else(|| "purpose not said".to_owned(), plain),
                hours: walk.hours.clone(),
                landings: walk.landings.clone(),
                looked: view
                    .zones
                    .iter()
                    .filter(|zone| {
                        zone.looks
                            .iter()
                            .any(|(id, result, _)| *id == walk.id && result != "not_looked_at")
                    })
                    .count(),
                code: source.codes.get(&walk.id).cloned(),
                given_clock: walk.told.given_clock,
            }
        })
        .collect();
    let mut number = 0;
    let mut findings = Vec::new();
    for shown in &view.findings {
        let Some(found) = state.findings.iter().find(|found| found.id == shown.id) else {
            continue;
        };
        let mut item = finding::item(&source, found, shown);
        if item.open {
            number += 1;
            item.number = Some(number);
        }
        findings.push(item);
    }
    let zones = view
        .zones
        .iter()
        .map(|zone| Zone {
            code: zone.code.clone(),
            name: zone.name.clone(),
            chapters: source.chapters(&zone.code),
            looks: zone
                .looks
                .iter()
                .map(|(_, result, says)| Look {
                    result: result.clone(),
                    says: plain(says),
                })
                .collect(),
            last: zone.last.clone(),
            open: zone.open,
        })
        .collect();
    let mut content = Content {
        what: "witnessmark report",
        version: 1,
        cut: ask.cut.name(),
        only: Vec::new(),
        registration: state.registration.clone(),
        kind: state.kind.clone(),
        serial: state.serial.clone(),
        total_time: state
            .walkarounds
            .iter()
            .rev()
            .find_map(|walk| walk.hours.clone()),
        landings: state
            .walkarounds
            .iter()
            .rev()
            .find_map(|walk| walk.landings.clone()),
        recorded_up_to: recorded_up_to(notebook, aircraft)?,
        walkarounds,
        findings,
        zones,
        due: due(&source),
        unplaced: view.unplaced,
        readings: readings(&source),
        events: state
            .events
            .iter()
            .map(|(event, text, told)| Event {
                date: told.seen.date().to_owned(),
                by: source.who(&told.author),
                event: plain(event),
                text: text.clone(),
            })
            .collect(),
        components: state
            .components
            .iter()
            .map(|part| Part {
                component: plain(&part.component),
                serial: part.serial.clone(),
                zone: part.zone.clone(),
                fitted: part.fitted.clone(),
                removed: part.removed.as_ref().map(|(told, hours)| {
                    let hours = hours
                        .as_deref()
                        .map(|hours| format!(" at {hours} h"))
                        .unwrap_or_default();
                    format!("{}{hours}", told.seen.date())
                }),
            })
            .collect(),
        papers: papers(&source),
        agreement: state
            .papers
            .iter()
            .map(|(about, result, says, told)| Agreement {
                about: plain(about),
                result: result.clone(),
                says: says.clone(),
                by: source.said(told),
            })
            .collect(),
        statements: statements(&source),
        views: overall(&source),
        cautions: cautions(&layout, &view),
        proof: proof(&source, finishes, aircraft)?,
        newer: view.newer,
        notices: NOTICES.to_vec(),
    };
    narrow(&mut content, &source)?;
    Ok(content)
}

/// Leaves out what was not asked for, and says so.
fn narrow(content: &mut Content, source: &Source<'_>) -> Result<()> {
    let ask = source.ask;
    if let Some(zone) = &ask.zone {
        let code = source.notebook.zone_code(source.layout, zone)?;
        content.findings.retain(|item| item.zone == code);
        content.zones.retain(|zone| zone.code == code);
        content.only.push(format!("zone {code}"));
    }
    if let Some(chapter) = &ask.chapter {
        content
            .findings
            .retain(|item| item.chapters.contains(chapter));
        content.zones.retain(|zone| zone.chapters.contains(chapter));
        content.only.push(format!("ATA chapter {chapter}"));
    }
    if let Some(since) = &ask.since {
        crate::record::Seen::given(since)?;
        content.findings.retain(|item| {
            item.last_seen
                .as_ref()
                .is_some_and(|last| last.date.as_str() >= since.as_str())
        });
        content.only.push(format!("findings seen since {since}"));
    }
    if let Cut::Finding(id) = ask.cut {
        content.findings.retain(|item| item.id == id);
        let zone = content.findings.first().map(|item| item.zone.clone());
        content.zones.retain(|row| Some(&row.code) == zone.as_ref());
        let shorts: Vec<String> = content
            .findings
            .iter()
            .map(|item| item.short.clone())
            .collect();
        content.due.retain(|due| shorts.contains(&due.of));
        content
            .papers
            .retain(|paper| paper.settles.iter().any(|settled| shorts.contains(settled)));
        content.only.push("one finding".to_owned());
        content.unplaced = 0;
        content.readings.clear();
        content.events.clear();
        content.components.clear();
        content.agreement.clear();
        content.statements.clear();
        content.views.clear();
    }
    Ok(())
}

fn recorded_up_to(notebook: &Notebook, aircraft: &Digest) -> Result<Option<String>> {
    let last = notebook
        .index()
        .aircraft_lines(aircraft)?
        .into_iter()
        .max_by_key(|row| (row.at.instant(), row.seq));
    Ok(last.map(|row| row.at.to_string()))
}

/// What closings and maintenance entries cite.
fn cited(
    notebook: &Notebook,
    state: &State,
    aircraft: &Digest,
) -> Result<BTreeMap<Digest, Digest>> {
    let mut cited = BTreeMap::new();
    for id in state.joined.iter().chain([aircraft]) {
        for kind in ["finding closed", "maintenance entry seen"] {
            for row in notebook.index().kind_lines(id, kind)? {
                let evidence = match &row.body {
                    Body::FindingClosed(body) => body.evidence,
                    Body::MaintenanceEntrySeen(body) => body.evidence,
                    _ => None,
                };
                if let Some(evidence) = evidence {
                    cited.insert(row.digest, evidence);
                }
            }
        }
    }
    Ok(cited)
}

fn due(source: &Source<'_>) -> Vec<Due> {
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
                at: plain(at),
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
            at: plain(at),
        });
    }
    due
}

fn readings(source: &Source<'_>) -> Vec<Reading> {
    source
        .state
        .values
        .iter()
        .map(|value| {
            let mut says: Vec<String> = Vec::new();
            if let Some(number) = &value.value {
                let unit = value.unit.as_deref().unwrap_or("");
                says.push(format!("{number} {unit}").trim_end().to_owned());
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

fn papers(source: &Source<'_>) -> Vec<Paper> {
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
fn statements(source: &Source<'_>) -> Vec<Statement> {
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

fn overall(source: &Source<'_>) -> Vec<Overall> {
    source
        .layout
        .views
        .iter()
        .filter_map(|view| {
            let photos: Vec<_> = source
                .state
                .captures
                .iter()
                .filter(|capture| {
                    capture.kind == "photo"
                        && !capture.removed
                        && capture.view.as_deref() == Some(view.key.as_str())
                })
                .map(|capture| finding::photo(source, capture, None))
                .collect();
            if photos.is_empty() {
                return None;
            }
            // From the photo before the last on: what people marked in the zones that it shows.
            let from = photos
                .len()
                .checked_sub(2)
                .and_then(|at| photos.get(at))
                .map(|photo| photo.date.clone());
            let marked = source
                .view
                .findings
                .iter()
                .filter(|found| view.zones.contains(&found.zone))
                .filter(|found| {
                    from.as_ref()
                        .is_some_and(|from| found.first.0.as_str() > from.as_str())
                })
                .map(|found| {
                    format!(
                        "{} {}: {}, first recorded {} by {}",
                        found.short,
                        found.zone_name,
                        found.title.to_lowercase(),
                        super::words::day(&found.first.0),
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

fn cautions(layout: &Layout, view: &HistoryView) -> Vec<String> {
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

fn proof(
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
            if let Body::Vouched(body) = &row.body {
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

/// The axis that all of some readings have.
pub(super) fn axis(asked: Option<Against>, hours: bool, landings: bool) -> Against {
    match asked {
        Some(Against::Hours) if hours => Against::Hours,
        Some(Against::Landings) if landings => Against::Landings,
        Some(_) => Against::Days,
        None if hours => Against::Hours,
        None if landings => Against::Landings,
        None => Against::Days,
    }
}
