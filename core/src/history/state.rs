//! What the lines in force say of one aircraft: walkarounds, looks, captures, findings.
//!
//! A pure fold over [`Fact`]s: the same set of lines gives the same state, in whatever order and by
//! whichever notebook they were received.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use serde::Serialize;

use super::force::Fact;
use crate::record::kinds::{Measure, Placed, Sighted};
use crate::record::{Body, Digest, Seen};

/// Who wrote something, when it was observed, and how far its clock can be trusted.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told {
    /// The line.
    pub line: Digest,
    /// Author key.
    pub author: Digest,
    /// Place in the author's chain.
    pub seq: u64,
    /// When observed.
    pub seen: Seen,
    /// Order key, microseconds.
    pub order_us: i64,
    /// Day and time of writing.
    pub at: String,
    /// True if the clock was handed in by a person.
    pub given_clock: bool,
}

/// One pass round the aircraft.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Walkaround {
    /// Its opening line.
    pub id: Digest,
    /// Who and when.
    pub told: Told,
    /// Purpose, if said.
    pub purpose: Option<String>,
    /// Airframe total time in hours.
    pub hours: Option<String>,
    /// Landings.
    pub landings: Option<String>,
    /// The finish line.
    pub finished: Option<Digest>,
}

/// A statement that a zone showed nothing, or could not be seen.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Look {
    /// Who and when.
    pub told: Told,
    /// Walkaround.
    pub walkaround: Option<Digest>,
    /// Zone.
    pub zone: String,
    /// nothing_found or not_seen.
    pub result: String,
    /// Why not seen.
    pub why: Option<String>,
    /// How.
    pub how: Option<String>,
    /// Access.
    pub access: Option<String>,
    /// Condition looked for.
    pub condition: Option<String>,
    /// Zones said together with this one.
    pub together: usize,
}

/// Evidence: a file or words.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Capture {
    /// Who and when.
    pub told: Told,
    /// photo, voice, paper or note.
    pub kind: String,
    /// SHA-256 of the file.
    pub file: Option<Digest>,
    /// Name as it came.
    pub name: Option<String>,
    /// Text of a note or transcript.
    pub text: Option<String>,
    /// EXIF orientation of a picture.
    pub orientation: u8,
    /// Does the file have its end?
    pub complete: Option<bool>,
    /// Oddities, stable codes.
    pub hints: Vec<String>,
    /// Walkaround.
    pub walkaround: Option<Digest>,
    /// Stop.
    pub stop: Option<String>,
    /// Zone, if placed.
    pub zone: Option<String>,
    /// Finding, if placed on one.
    pub finding: Option<Digest>,
    /// Overall view that it is.
    pub view: Option<String>,
    /// Who placed it, if not who captured it.
    pub placed_by: Option<Digest>,
    /// True if the file was removed on purpose.
    pub removed: bool,
}

/// A finding in one walkaround.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sighting {
    /// Who and when.
    pub told: Told,
    /// Walkaround.
    pub walkaround: Option<Digest>,
    /// present, not_found, could_not_check.
    pub result: String,
    /// Why it could not be checked.
    pub why: Option<String>,
    /// seen, felt, measured, told, read.
    pub basis: Option<String>,
    /// Step of the condition.
    pub step: Option<String>,
    /// Measures.
    pub measures: Vec<Measure>,
    /// Entries of evidence.
    pub evidence: Vec<Digest>,
    /// Words.
    pub text: Option<String>,
    /// Recognised later.
    pub late: bool,
    /// Hours of its walkaround, if any.
    pub hours: Option<String>,
    /// Landings of its walkaround, if any.
    pub landings: Option<String>,
    /// Number of treatments before it: measures are compared within one number.
    pub series: usize,
    /// True if a later sighting in the same walkaround counts instead.
    pub overtaken: bool,
}

/// Something done, said or decided about a finding.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Step {
    /// Who and when.
    pub told: Told,
    /// treated, closed, reopened, told, deferred, maintenance_entry, limit, look_again, disputed.
    pub what: String,
    /// In words: how, who, until.
    pub words: Vec<String>,
    /// Measures that belong to it.
    pub measures: Vec<Measure>,
}

/// One defect at one place.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// Its id: the earliest opening line of those joined.
    pub id: Digest,
    /// Every id that resolves to it.
    pub ids: Vec<Digest>,
    /// Who opened it and when.
    pub opened: Told,
    /// Zone.
    pub zone: String,
    /// Condition key.
    pub condition: String,
    /// The person's words for the place.
    pub part: Option<String>,
    /// What is honest not to know.
    pub unsure: Vec<String>,
    /// Words.
    pub text: Option<String>,
    /// Component that it is on.
    pub component: Option<Digest>,
    /// Sightings in order.
    pub sightings: Vec<Sighting>,
    /// Steps in order.
    pub steps: Vec<Step>,
    /// Latest concern of each author.
    pub concerns: BTreeMap<String, String>,
    /// Limit set by a person: quantity, value, unit, source.
    pub limit: Option<(String, String, String, String)>,
    /// Look again: as said.
    pub again: Option<String>,
    /// True if open.
    pub open: bool,
    /// Why it is not open: how it was closed, or that its component left.
    pub closed_how: Option<String>,
}

/// A value that is no defect, or something put in.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Value {
    /// Who and when.
    pub told: Told,
    /// oil_found, pressure … or `serviced`.
    pub reading: String,
    /// Value.
    pub value: Option<String>,
    /// Unit.
    pub unit: Option<String>,
    /// Standard uncertainty.
    pub u: Option<String>,
    /// Zone.
    pub zone: Option<String>,
    /// Context.
    pub context: BTreeMap<String, String>,
    /// Walkaround.
    pub walkaround: Option<Digest>,
}

/// Everything that is known of one aircraft.
#[derive(Debug, Clone, Default, PartialEq, Serialize)]
pub struct State {
    /// Registration as last described.
    pub registration: String,
    /// Type.
    #[serde(rename = "type")]
    pub kind: String,
    /// Serial.
    pub serial: Option<String>,
    /// Layout in use.
    pub layout: Option<String>,
    /// Layout file, kept as evidence.
    pub layout_file: Option<Digest>,
    /// Ids of aircraft joined with this one.
    pub joined: Vec<Digest>,
    /// Slips of the authors.
    pub authors: BTreeMap<Digest, Option<Digest>>,
    /// Walkarounds by start.
    pub walkarounds: Vec<Walkaround>,
    /// Looks in order.
    pub looks: Vec<Look>,
    /// Captures in order.
    pub captures: Vec<Capture>,
    /// Findings by first sighting.
    pub findings: Vec<Finding>,
    /// Readings and servicing in order.
    pub values: Vec<Value>,
    /// Events: key, words, who and when.
    pub events: Vec<(String, Option<String>, Told)>,
    /// Zones to look at again: zone, as said.
    pub again: BTreeMap<String, String>,
    /// Components: id, kind, serial, zone, fitted hours, removed hours.
    pub components: Vec<Component>,
    /// Papers' comparison: about, result, what it says.
    pub papers: Vec<(String, String, Option<String>, Told)>,
    /// Something was written by a newer version.
    pub newer: bool,
}

/// A part with a life of its own.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Component {
    /// The line that fitted it.
    pub id: Digest,
    /// engine, propeller …
    pub component: String,
    /// Serial.
    pub serial: Option<String>,
    /// Zone.
    pub zone: String,
    /// Fitted at hours.
    pub fitted: Option<String>,
    /// Removed: when, and at what hours.
    pub removed: Option<(Told, Option<String>)>,
}

impl State {
    /// Captures that wait for a place: neither on a zone or finding nor an overall view, papers and
    /// removed ones apart.
    pub fn unplaced(&self) -> impl Iterator<Item = &Capture> {
        self.captures.iter().filter(|capture| {
            capture.zone.is_none()
                && capture.view.is_none()
                && capture.kind != "paper"
                && !capture.removed
        })
    }
}

impl Told {
    /// The order of everything: instant of `seen`, author, number in the chain, digest.
    pub fn order(&self) -> (i64, Digest, u64, Digest) {
        (self.order_us, self.author, self.seq, self.line)
    }
}

fn told(fact: &Fact) -> Told {
    Told {
        line: fact.row.digest,
        author: fact.row.author,
        seq: fact.row.seq,
        seen: fact.row.seen.clone(),
        order_us: fact.row.order_us,
        at: fact.row.at.to_string(),
        given_clock: !fact.row.system_clock,
    }
}

/// Works out the state.
pub fn fold(facts: &[Fact]) -> State {
    let mut state = State::default();
    let mut placings: HashMap<Digest, Vec<(Told, Placed)>> = HashMap::new();
    let mut removed: BTreeSet<Digest> = BTreeSet::new();
    let mut transcripts: Vec<(Digest, String)> = Vec::new();
    let mut renamed: HashMap<Digest, Digest> = HashMap::new();
    let mut life = super::life::Life::default();
    for fact in facts {
        let told = told(fact);
        state.newer |= fact.row.newer;
        state.authors.entry(fact.row.author).or_insert(None);
        if let Some(source) = fact.restates {
            renamed.insert(source, fact.row.digest);
        }
        match &fact.row.body {
            Body::ChainOpened(body) => {
                if body.who.is_some() {
                    state.authors.insert(fact.row.author, body.who);
                }
            }
            Body::AircraftDescribed(body) => {
                state.registration.clone_from(&body.registration);
                state.kind.clone_from(&body.kind);
                state.serial.clone_from(&body.serial);
            }
            Body::AircraftJoined(body) => state.joined.push(body.other),
            Body::LayoutChosen(body) => {
                state.layout = Some(body.name.clone());
                state.layout_file = Some(body.file);
            }
            Body::WalkaroundStarted(body) => state.walkarounds.push(Walkaround {
                id: fact.row.digest,
                told,
                purpose: body.purpose.clone(),
                hours: body.hours.clone(),
                landings: body.landings.clone(),
                finished: None,
            }),
            Body::WalkaroundFinished(body) => {
                if let Some(walkaround) = state
                    .walkarounds
                    .iter_mut()
                    .find(|w| w.id == body.walkaround)
                {
                    walkaround.finished = Some(fact.row.digest);
                }
            }
            Body::MeterRead(body) => {
                if let Some(walkaround) = body
                    .walkaround
                    .and_then(|id| state.walkarounds.iter_mut().find(|w| w.id == id))
                {
                    if body.quantity.as_deref() == Some("landings") {
                        walkaround.landings = Some(body.reading.clone());
                    } else {
                        walkaround.hours = Some(body.reading.clone());
                    }
                }
            }
            Body::Looked(body) => {
                for zone in &body.zones {
                    state.looks.push(Look {
                        told: told.clone(),
                        walkaround: body.walkaround,
                        zone: zone.clone(),
                        result: body.result.clone(),
                        why: body.why.clone(),
                        how: body.how.clone(),
                        access: body.access.clone(),
                        condition: body.condition.clone(),
                        together: body.zones.len(),
                    });
                }
                for answer in &body.answers {
                    let sighted = Sighted {
                        finding: answer.finding,
                        walkaround: body.walkaround,
                        result: answer.answer.clone(),
                        why: None,
                        basis: None,
                        step: None,
                        measures: Vec::new(),
                        evidence: Vec::new(),
                        text: None,
                        fresh: None,
                        late: false,
                    };
                    life.sighted(&told, &sighted);
                }
            }
            Body::PhotoTaken(body) => state.captures.push(Capture {
                kind: "photo".into(),
                file: Some(body.file),
                name: body.name.clone(),
                orientation: body.orientation,
                complete: body.complete,
                hints: body.hints.clone(),
                walkaround: body.walkaround,
                stop: body.stop.clone(),
                ..blank(told)
            }),
            Body::VoiceTaken(body) => state.captures.push(Capture {
                kind: "voice".into(),
                file: Some(body.file),
                name: body.name.clone(),
                walkaround: body.walkaround,
                stop: body.stop.clone(),
                ..blank(told)
            }),
            Body::PaperTaken(body) => state.captures.push(Capture {
                kind: "paper".into(),
                file: Some(body.file),
                name: body.name.clone(),
                text: body.paper.clone(),
                orientation: body.orientation,
                complete: body.complete,
                walkaround: body.walkaround,
                ..blank(told)
            }),
            Body::Written(body) => state.captures.push(Capture {
                kind: "note".into(),
                text: Some(body.text.clone()),
                walkaround: body.walkaround,
                stop: body.stop.clone(),
                ..blank(told)
            }),
            Body::TranscriptAdded(body) => transcripts.push((body.voice, body.text.clone())),
            Body::Placed(body) => placings
                .entry(body.what)
                .or_default()
                .push((told, (**body).clone())),
            Body::Removed(body) => {
                removed.insert(body.file);
            }
            Body::Reading(body) => state.values.push(Value {
                told,
                reading: body.reading.clone(),
                value: Some(body.value.clone()),
                unit: body.unit.clone(),
                u: body.u.clone(),
                zone: body.zone.clone(),
                context: body.context.clone(),
                walkaround: body.walkaround,
            }),
            Body::Serviced(body) => state.values.push(Value {
                told,
                reading: format!("{} added", body.what.replace('_', " ")),
                value: body.value.clone(),
                unit: body.unit.clone(),
                u: None,
                zone: body.zone.clone(),
                context: BTreeMap::new(),
                walkaround: body.walkaround,
            }),
            Body::Event(body) => state
                .events
                .push((body.event.clone(), body.text.clone(), told)),
            Body::ComponentFitted(body) => state.components.push(Component {
                id: fact.row.digest,
                component: body.component.clone(),
                serial: body.serial.clone(),
                zone: body.zone.clone(),
                fitted: body.hours.clone(),
                removed: None,
            }),
            Body::ComponentRemoved(body) => {
                life.component_removed(&told, &body.component);
                if let Some(part) = state
                    .components
                    .iter_mut()
                    .find(|part| part.id == body.component)
                {
                    part.removed = Some((told, body.hours.clone()));
                }
            }
            Body::LookAgainSet(body) if body.finding.is_none() => {
                if let Some(zone) = &body.zone {
                    state.again.insert(zone.clone(), body.at.clone());
                }
            }
            Body::PaperChecked(body) => state.papers.push((
                body.about.clone(),
                body.result.clone(),
                body.says.clone(),
                told,
            )),
            other => life.take(&told, other),
        }
    }
    place(&mut state, &placings, &removed, &transcripts, &renamed);
    state.findings = life.finish(&state.walkarounds);
    for capture in &mut state.captures {
        if let Some(id) = capture.finding
            && let Some(finding) = state
                .findings
                .iter()
                .find(|finding| finding.ids.contains(&id))
        {
            capture.finding = Some(finding.id);
            capture.zone.get_or_insert_with(|| finding.zone.clone());
        }
    }
    // Evidence named by a sighting is on its finding without a placing of its own.
    for finding in &state.findings {
        for sighting in &finding.sightings {
            for capture in state
                .captures
                .iter_mut()
                .filter(|capture| sighting.evidence.contains(&capture.told.line))
            {
                capture.finding.get_or_insert(finding.id);
                capture.zone.get_or_insert_with(|| finding.zone.clone());
            }
        }
    }
    state
}

fn blank(told: Told) -> Capture {
    Capture {
        told,
        kind: String::new(),
        file: None,
        name: None,
        text: None,
        orientation: 1,
        complete: None,
        hints: Vec::new(),
        walkaround: None,
        stop: None,
        zone: None,
        finding: None,
        view: None,
        placed_by: None,
        removed: false,
    }
}

/// The capturer's last placing counts, else the last by anyone, named.
fn place(
    state: &mut State,
    placings: &HashMap<Digest, Vec<(Told, Placed)>>,
    removed: &BTreeSet<Digest>,
    transcripts: &[(Digest, String)],
    renamed: &HashMap<Digest, Digest>,
) {
    for capture in &mut state.captures {
        capture.removed = capture.file.is_some_and(|file| removed.contains(&file));
        if let Some((_, text)) = transcripts
            .iter()
            .rev()
            .find(|(voice, _)| *voice == capture.told.line)
        {
            capture.text = Some(text.clone());
        }
        let direct = placings.get(&capture.told.line);
        let through = renamed
            .iter()
            .find(|(_, to)| **to == capture.told.line)
            .and_then(|(from, _)| placings.get(from));
        let Some(list) = direct.or(through) else {
            continue;
        };
        let own = list
            .iter()
            .rev()
            .find(|(told, _)| told.author == capture.told.author);
        let Some((by, placed)) = own.or(list.last()) else {
            continue;
        };
        capture.zone.clone_from(&placed.zone);
        capture.finding = placed.finding;
        capture.view = placed.meant.as_ref().map(|meant| meant.view.clone());
        if by.author != capture.told.author {
            capture.placed_by = Some(by.author);
        }
    }
}
