//! Takes a report's content from a notebook.

use std::collections::BTreeMap;

use super::ask::{Ask, Cut};
use super::content::{Agreement, Content, Event, Look, Metered, Outside, Part, Said, Walk, Zone};
use super::words::plain;
use crate::error::Result;
use crate::history::meters;
use crate::history::state::{State, Told};
use crate::history::view::HistoryView;
use crate::layout::Layout;
use crate::notebook::Notebook;
use crate::record::{Body, Digest};

mod finding;
mod lists;
mod series;

use lists::{cautions, due, overall, papers, proof, readings, statements};

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
        Some(format!(
            "{what}, {}",
            super::words::day(capture.told.seen.date())
        ))
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
                meter: walk
                    .hours
                    .as_ref()
                    .map(|_| meters::shown(&walk.axis).to_owned()),
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
            outside: zone
                .outside
                .iter()
                .map(|look| Outside {
                    by: Said {
                        date: look.date.clone(),
                        by: look.by.clone(),
                    },
                    result: look.result.clone(),
                    says: plain(&look.says),
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
        total_time: meters::last(&state.meter_readings, meters::TOTAL_TIME)
            .map(|read| read.total.clone()),
        meters: meters::others(&state.meters, &state.meter_readings)
            .into_iter()
            .map(|read| Metered {
                meter: read.axis.clone(),
                total: read.total.clone(),
                date: read.told.seen.date().to_owned(),
            })
            .collect(),
        backwards: view.backwards.clone(),
        landings: meters::last(&state.meter_readings, meters::LANDINGS)
            .map(|read| read.total.clone()),
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
                    format!("{}{hours}", super::words::day(told.seen.date()))
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
        content
            .only
            .push(format!("findings seen since {}", super::words::day(since)));
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
