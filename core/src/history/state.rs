//! What the lines in force say of one aircraft: walkarounds, looks, captures, findings.
//!
//! A pure fold over [`Fact`]s: the same set of lines gives the same state, in whatever order and by
//! whichever notebook they were received.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use serde::Serialize;

use super::force::Fact;
use super::meters::{Meter, MeterReading, Meters};
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
    /// Total hours on `axis`.
    pub hours: Option<String>,
    /// The meter that the hours are of: the name of the first of those that replaced one another;
    /// `total time` where none was named.
    pub axis: String,
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
    /// Stop that was looked at as a whole.
    pub stop: Option<String>,
    /// Fresh eyes: `before` the earlier findings were opened, or `after`; none if not said.
    pub fresh: Option<String>,
    /// How many earlier findings were said to be there.
    pub earlier: Option<u64>,
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
    /// The meter that the hours are of.
    pub axis: String,
    /// Landings of its walkaround, if any.
    pub landings: Option<String>,
    /// Number of treatments before it: measures are compared within one number.
    pub series: usize,
    /// True if later sightings in the same walkaround count instead of all that it says.
    pub overtaken: bool,
    /// Quantities that a later sighting in the same walkaround measured anew.
    pub measured_anew: Vec<String>,
    /// True if a later sighting in the same walkaround named the step anew.
    pub step_anew: bool,
}

impl Sighting {
    /// The measures that count: those that nobody took anew in the same walkaround.
    pub fn standing(&self) -> impl DoubleEndedIterator<Item = &Measure> {
        self.measures
            .iter()
            .filter(|measure| !self.measured_anew.contains(&measure.quantity))
    }

    /// The measure of one quantity that counts: the first, where there are several.
    pub fn standing_of(&self, quantity: &str) -> Option<&Measure> {
        self.standing().find(|measure| measure.quantity == quantity)
    }
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
    /// System, for "did not work".
    pub system: Option<String>,
    /// Under new paint since then: covered, not gone.
    pub covered: Option<Told>,
    /// Every concern in order, who set it and when.
    pub concern_log: Vec<(Told, String)>,
    /// Sightings in order.
    pub sightings: Vec<Sighting>,
    /// Steps in order.
    pub steps: Vec<Step>,
    /// Joinings in force that hold it together.
    pub joins: Vec<Digest>,
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
    /// Events with what they concern, in order.
    pub happened: Vec<Happened>,
    /// Meters in order of fitting.
    pub meters: Vec<Meter>,
    /// Meter readings in order, those of walkarounds included.
    pub meter_readings: Vec<MeterReading>,
    /// Zones to look at again: zone, as said.
    pub again: BTreeMap<String, String>,
    /// Components: id, kind, serial, zone, fitted hours, removed hours.
    pub components: Vec<Component>,
    /// Papers' comparison: about, result, what it says.
    pub papers: Vec<(String, String, Option<String>, Told)>,
    /// Something was written by a newer version.
    pub newer: bool,
}

/// Something that happened to the whole aircraft or some zones.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Happened {
    /// Who and when.
    pub told: Told,
    /// Key of the event file.
    pub event: String,
    /// In the author's words.
    pub text: Option<String>,
    /// Zones concerned; none for all.
    pub zones: Vec<String>,
    /// True if evidence must not be removed until the hold is lifted.
    pub hold: bool,
    /// Who lifted the hold, and why.
    pub lifted: Option<(Told, String)>,
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
    /// Which of several in that zone.
    pub position: Option<String>,
    /// How the position is counted where no stamp tells.
    pub convention: Option<String>,
    /// Hours it had run before.
    pub run_before: Option<String>,
    /// The component whose place it took.
    pub replaces: Option<Digest>,
    /// Who fitted it and when.
    pub told: Told,
    /// Fitted at hours.
    pub fitted: Option<String>,
    /// Removed: when, and at what hours.
    pub removed: Option<(Told, Option<String>)>,
}

impl State {
    /// Axis and total of a reading: of a meter, or of total time or landings without one.
    pub fn axis_of(
        &self,
        meter: Option<Digest>,
        quantity: &str,
        reading: &str,
    ) -> (String, String) {
        let known = Meters {
            fitted: self.meters.clone(),
            read: Vec::new(),
        };
        known.of(meter, quantity, reading)
    }

    /// How many findings left with a component, when it was removed or another took its place.
    pub fn left_with(&self, component: &Digest) -> usize {
        self.findings
            .iter()
            .filter(|finding| {
                !finding.open
                    && finding.component == Some(*component)
                    && finding.closed_how.as_deref() == Some(super::life::LEFT)
            })
            .count()
    }

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
    let mut meters = Meters::default();
    let mut walk_at: HashMap<Digest, usize> = HashMap::new();
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
            Body::WalkaroundStarted(body) => {
                walk_at.insert(fact.row.digest, state.walkarounds.len());
                let (axis, hours) = meters.of(
                    body.meter,
                    "total_time",
                    body.hours.as_deref().unwrap_or(""),
                );
                let meter = body
                    .meter
                    .and_then(|id| meters.fitted.iter().find(|meter| meter.id == id))
                    .cloned();
                let id = Some(fact.row.digest);
                if let Some(reading) = &body.hours {
                    meters.note(&told, meter.as_ref(), axis.clone(), reading, id);
                }
                // A counter of landings carries an offset as a clock does.
                let counter = body
                    .landings_meter
                    .and_then(|id| meters.fitted.iter().find(|meter| meter.id == id))
                    .cloned();
                let (counted_on, landings) = meters.of(
                    body.landings_meter,
                    "landings",
                    body.landings.as_deref().unwrap_or(""),
                );
                if let Some(reading) = &body.landings {
                    meters.note(&told, counter.as_ref(), counted_on, reading, id);
                }
                state.walkarounds.push(Walkaround {
                    id: fact.row.digest,
                    told,
                    purpose: body.purpose.clone(),
                    hours: body.hours.is_some().then_some(hours),
                    axis,
                    landings: body.landings.is_some().then_some(landings),
                    finished: None,
                });
            }
            Body::WalkaroundFinished(body) => {
                if let Some(walkaround) = walk_at
                    .get(&body.walkaround)
                    .and_then(|at| state.walkarounds.get_mut(*at))
                {
                    walkaround.finished = Some(fact.row.digest);
                }
            }
            Body::MeterFitted(body) => meters.fit(&told, body),
            Body::MeterRead(body) => {
                meters.take(&told, body);
                let quantity = body.quantity.as_deref().unwrap_or("");
                let (axis, total) = meters.of(body.meter, quantity, &body.reading);
                if let Some(walkaround) = body
                    .walkaround
                    .and_then(|id| walk_at.get(&id))
                    .and_then(|at| state.walkarounds.get_mut(*at))
                {
                    let landings = body.meter.map_or(quantity == "landings", |id| {
                        meters
                            .fitted
                            .iter()
                            .any(|meter| meter.id == id && meter.meter == "landings")
                    });
                    if landings {
                        walkaround.landings = Some(total);
                    } else if walkaround.hours.is_none() || walkaround.axis == axis {
                        walkaround.hours = Some(total);
                        walkaround.axis = axis;
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
                        stop: body.stop.clone(),
                        fresh: body.fresh.clone(),
                        earlier: body.earlier,
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
                context: body.context.clone(),
                walkaround: body.walkaround,
            }),
            Body::Event(body) => {
                state
                    .events
                    .push((body.event.clone(), body.text.clone(), told.clone()));
                state.happened.push(Happened {
                    told,
                    event: body.event.clone(),
                    text: body.text.clone(),
                    zones: body.zones.clone(),
                    hold: body.hold,
                    lifted: None,
                });
            }
            Body::HoldLifted(body) => {
                if let Some(event) = state
                    .happened
                    .iter_mut()
                    .find(|event| event.told.line == body.event)
                {
                    event.lifted = Some((told, body.why.clone()));
                }
            }
            Body::ComponentFitted(body) => {
                // Taking another's place, it sends that one away.
                if let Some(old) = body.replaces {
                    life.component_removed(&told, &old);
                    if let Some(part) = state.components.iter_mut().find(|part| part.id == old)
                        && part.removed.is_none()
                    {
                        part.removed = Some((told.clone(), body.hours.clone()));
                    }
                }
                state.components.push(Component {
                    id: fact.row.digest,
                    component: body.component.clone(),
                    serial: body.serial.clone(),
                    zone: body.zone.clone(),
                    position: body.position.clone(),
                    convention: body.convention.clone(),
                    run_before: body.run_before.clone(),
                    replaces: body.replaces,
                    told,
                    fitted: body.hours.clone(),
                    removed: None,
                });
            }
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
    state.meters = meters.fitted;
    state.meter_readings = meters.read;
    let wishes = std::mem::take(&mut life.wishes);
    state.findings = life.finish(&state.walkarounds, &walk_at);
    super::again::settle(&mut state, &wishes);
    super::life::cover(&mut state.findings, &state.happened);
    hang(&mut state);
    state
}

/// Captures take the zone of the finding they are on; evidence named by a sighting is on its finding
/// without a placing of its own.
fn hang(state: &mut State) {
    let mut by_id: HashMap<Digest, usize> = HashMap::new();
    let mut by_line: HashMap<Digest, Vec<usize>> = HashMap::new();
    for (at, finding) in state.findings.iter().enumerate() {
        for id in &finding.ids {
            by_id.insert(*id, at);
        }
        for line in finding.sightings.iter().flat_map(|seen| &seen.evidence) {
            by_line.entry(*line).or_default().push(at);
        }
    }
    for capture in &mut state.captures {
        if let Some(finding) = capture
            .finding
            .and_then(|id| by_id.get(&id))
            .and_then(|at| state.findings.get(*at))
        {
            capture.finding = Some(finding.id);
            capture.zone.get_or_insert_with(|| finding.zone.clone());
        }
        if let Some(finding) = by_line
            .get(&capture.told.line)
            .and_then(|list| list.first())
            .and_then(|at| state.findings.get(*at))
        {
            capture.finding.get_or_insert(finding.id);
            capture.zone.get_or_insert_with(|| finding.zone.clone());
        }
    }
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
    let spoken: HashMap<Digest, &String> = transcripts
        .iter()
        .map(|(voice, text)| (*voice, text))
        .collect();
    let old_name: HashMap<Digest, Digest> = renamed.iter().map(|(from, to)| (*to, *from)).collect();
    for capture in &mut state.captures {
        capture.removed = capture.file.is_some_and(|file| removed.contains(&file));
        if let Some(text) = spoken.get(&capture.told.line) {
            capture.text = Some((*text).clone());
        }
        let direct = placings.get(&capture.told.line);
        let through = old_name
            .get(&capture.told.line)
            .and_then(|from| placings.get(from));
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
