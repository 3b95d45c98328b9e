//! What a report says, before it takes any form. Every form says the same; JSON is this, serialised.

use serde::Serialize;

use crate::record::Digest;

mod proof;

pub use proof::{Code, Proof, Stamp, Vouch};

/// Everything in a report.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Content {
    /// Always `witnessmark report`.
    pub what: &'static str,
    /// Version of this form.
    pub version: u32,
    /// Which cut.
    pub cut: &'static str,
    /// What was left out by the one who asked, in words; empty where nothing was.
    pub only: Vec<String>,
    /// Registration as painted.
    pub registration: String,
    /// Type.
    #[serde(rename = "type")]
    pub kind: String,
    /// Maker's serial.
    pub serial: Option<String>,
    /// Airframe total time at the last walkaround or reading that carries it, hours: as read, or by the
    /// offset of a meter of total time. Hours of another meter are never it.
    pub total_time: Option<String>,
    /// What each other meter of hours last stood at.
    pub meters: Vec<Metered>,
    /// Readings of a meter that stand below an earlier one, in words.
    pub backwards: Vec<String>,
    /// Landings at the last walkaround that carries them.
    pub landings: Option<String>,
    /// When the last entry was written: RFC 3339 with offset.
    pub recorded_up_to: Option<String>,
    /// Walkarounds by start.
    pub walkarounds: Vec<Walk>,
    /// Findings: open ones first, what deteriorated first among them.
    pub findings: Vec<Item>,
    /// Zones of the layout with every look.
    pub zones: Vec<Zone>,
    /// What is to be looked at again.
    pub due: Vec<Due>,
    /// Evidence that hangs on no place.
    pub unplaced: usize,
    /// Values that are no defects.
    pub readings: Vec<Reading>,
    /// What happened to the whole aircraft.
    pub events: Vec<Event>,
    /// Parts with a life of their own.
    pub components: Vec<Part>,
    /// Papers.
    pub papers: Vec<Paper>,
    /// What papers say of a fact, compared by a person.
    pub agreement: Vec<Agreement>,
    /// What somebody said and the author did not see.
    pub statements: Vec<Statement>,
    /// Overall views.
    pub views: Vec<Overall>,
    /// Cautions of the stops where something is open.
    pub cautions: Vec<String>,
    /// Codes, vouching, time stamps.
    pub proof: Proof,
    /// Something was written by a newer version.
    pub newer: bool,
    /// What this is not, and who decides.
    pub notices: Vec<&'static str>,
}

/// A date and a person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Said {
    /// ISO date.
    pub date: String,
    /// By whom.
    pub by: String,
}

/// A meter and its last total.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Metered {
    /// Its name.
    pub meter: String,
    /// Reading and offset together, hours.
    pub total: String,
    /// ISO date.
    pub date: String,
}

/// A walkaround.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Walk {
    /// Its id.
    pub id: Digest,
    /// ISO date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// What that person is, as claimed.
    pub role: String,
    /// Purpose in words.
    pub purpose: String,
    /// Hours.
    pub hours: Option<String>,
    /// The meter that they are of: airframe total time, or the name of another.
    pub meter: Option<String>,
    /// Landings.
    pub landings: Option<String>,
    /// Zones of the layout that were looked at.
    pub looked: usize,
    /// Proof code of its finish; none while it is unfinished.
    pub code: Option<String>,
    /// Its clock was handed in by a person.
    pub given_clock: bool,
}

/// A finding.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Item {
    /// Whole id.
    pub id: Digest,
    /// Short form.
    pub short: String,
    /// Number among the open ones, from 1.
    pub number: Option<usize>,
    /// Zone code.
    pub zone: String,
    /// Zone name and the words for the place.
    pub place: String,
    /// ATA chapters of its zone.
    pub chapters: Vec<String>,
    /// Condition key.
    pub condition: String,
    /// Condition in words.
    pub title: String,
    /// In the words of the one who opened it.
    pub text: Option<String>,
    /// What is honest not to know.
    pub unsure: Vec<String>,
    /// Is it open?
    pub open: bool,
    /// Was it opened in the last walkaround?
    pub new: bool,
    /// worse, same, less, not_comparable or first.
    pub change: String,
    /// The change in words.
    pub says: String,
    /// First recorded.
    pub first_recorded: Said,
    /// Earliest evidence: earlier where an older photo was recognised later.
    pub earliest: Said,
    /// Last seen present.
    pub last_seen: Option<Said>,
    /// First measure of the last series.
    pub size_then: Option<String>,
    /// Last measure.
    pub size_now: Option<String>,
    /// Gravest concern.
    pub concern: Option<String>,
    /// Latest concern of each author.
    pub concerns: Vec<Concern>,
    /// Everyone who saw it.
    pub seen_by: Vec<String>,
    /// How often it came back after it was treated, with how long that lasted.
    pub returned: Option<String>,
    /// Sightings in order.
    pub sightings: Vec<Sight>,
    /// What was done, said and decided, in order.
    pub steps: Vec<Step>,
    /// How it was closed.
    pub closed: Option<String>,
    /// The user's own limit with its source.
    pub limit: Option<String>,
    /// When to look again.
    pub again: Option<String>,
    /// Growth window in words, or why there is none; only where it was asked for.
    pub window: Option<String>,
    /// Under new paint since: covered, not gone.
    pub covered: Option<Said>,
    /// When it began: between which looks.
    pub began: Option<String>,
    /// Everything dressed off so far, where that adds up.
    pub dressed: Option<String>,
    /// Looks that said "nothing found" over it and were not asked about it.
    pub not_asked: Vec<Said>,
    /// Trend of each quantity of the running series, with its meter and what it leaves out.
    pub trends: Vec<String>,
    /// Measures by quantity.
    pub series: Vec<Series>,
    /// Photos in order.
    pub photos: Vec<Photo>,
    /// Proof code of the walkaround that last saw it.
    pub code: Option<String>,
}

/// One author's concern.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Concern {
    /// By whom.
    pub by: String,
    /// aware, watch, ask or before_flight.
    pub concern: String,
}

/// A sighting.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Sight {
    /// Its line.
    pub line: Digest,
    /// ISO date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// Hours.
    pub hours: Option<String>,
    /// The meter that they are of: airframe total time, or the name of another.
    pub meter: Option<String>,
    /// Landings.
    pub landings: Option<String>,
    /// present, not_found or could_not_check.
    pub result: String,
    /// seen, felt, measured, told, read.
    pub basis: Option<String>,
    /// Step, measures, why, words.
    pub says: String,
    /// Against the one before, in words.
    pub before: Option<String>,
    /// Against the first of its series, in words.
    pub first: Option<String>,
    /// Number of treatments before it.
    pub series: usize,
    /// Recognised later on older evidence.
    pub late: bool,
    /// When and by whom it was recognised, where that was later.
    pub recognised: Option<Said>,
    /// A later sighting in the same walkaround counts instead.
    pub overtaken: bool,
    #[serde(skip)]
    pub(super) order: i64,
}

/// Something done, said or decided.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Step {
    /// ISO date.
    pub date: String,
    /// By whom it was written down.
    pub by: String,
    /// treated, closed, reopened, told, deferred, maintenance_entry …
    pub kind: String,
    /// In words.
    pub says: String,
    /// The photo or paper that shows it, by the name it came with.
    pub shown_by: Option<String>,
    #[serde(skip)]
    pub(super) order: i64,
}

/// Measures of one quantity.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Series {
    /// Quantity.
    pub quantity: String,
    /// Unit as shown.
    pub unit: String,
    /// What it is drawn against: hours, landings or days.
    pub against: super::Against,
    /// The meter that hours are of; none for other axes.
    pub meter: Option<String>,
    /// Why it is not drawn against what was asked for; none where it is.
    pub note: Option<String>,
    /// Points in order.
    pub points: Vec<Point>,
    /// The user's limit in the same unit.
    pub limit: Option<f64>,
}

/// A measured point.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Point {
    /// Place on the axis: hours, landings, or days since the first point.
    pub x: f64,
    /// ISO date.
    pub date: String,
    /// Value.
    pub value: f64,
    /// Expanded uncertainty (k = 2).
    #[serde(rename = "U")]
    pub spread: Option<f64>,
    /// Number of treatments before it.
    pub series: usize,
    /// The size as people read it, in fractions where it was said so: for the chart's words.
    #[serde(skip)]
    pub says: String,
}

/// A photo of a finding.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Photo {
    /// The entry that took it.
    pub entry: Digest,
    /// SHA-256 of the file.
    pub file: Option<Digest>,
    /// File name as it came.
    pub name: Option<String>,
    /// ISO date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// Hours of its walkaround.
    pub hours: Option<String>,
    /// The meter that they are of: airframe total time, or the name of another.
    pub meter: Option<String>,
    /// The file has no end.
    pub cut_short: bool,
    /// Number of treatments before it.
    pub series: usize,
    /// What was measured on it, in words.
    pub measured: Vec<String>,
    #[serde(skip)]
    pub(super) marks: Vec<crate::photo::Marks>,
}

/// A zone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Zone {
    /// Code.
    pub code: String,
    /// Name.
    pub name: String,
    /// ATA chapters.
    pub chapters: Vec<String>,
    /// A look for each walkaround, in their order.
    pub looks: Vec<Look>,
    /// Looks outside any walkaround, in order.
    pub outside: Vec<Outside>,
    /// ISO date of the last look, in a walkaround or outside.
    pub last: Option<String>,
    /// Number of open findings.
    pub open: usize,
}

/// What a walkaround says of a zone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Look {
    /// findings, nothing_found, not_seen or not_looked_at.
    pub result: String,
    /// Why, how, access.
    pub says: String,
}

/// A look outside any walkaround.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Outside {
    /// Who looked, when.
    pub by: Said,
    /// findings, nothing_found or not_seen.
    pub result: String,
    /// Why, how, access.
    pub says: String,
}

/// Something to look at again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Due {
    /// Zone code or short form of the finding.
    pub of: String,
    /// Place in words.
    pub place: String,
    /// As it was set: hours, a date, next flight.
    pub at: String,
}

/// A value that is no defect.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Reading {
    /// ISO date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// What.
    pub reading: String,
    /// Value with its unit, and what it was taken under.
    pub says: String,
}

/// An event.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Event {
    /// ISO date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// What.
    pub event: String,
    /// Words.
    pub text: Option<String>,
}

/// A component.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Part {
    /// engine, propeller …
    pub component: String,
    /// Serial.
    pub serial: Option<String>,
    /// Zone.
    pub zone: String,
    /// Fitted at hours.
    pub fitted: Option<String>,
    /// Removed: date and hours in words.
    pub removed: Option<String>,
}

/// A paper.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Paper {
    /// The entry.
    pub entry: Digest,
    /// SHA-256 of its file.
    pub file: Option<Digest>,
    /// ISO date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// log page, data plate, filled sheet …
    pub paper: String,
    /// Name as it came.
    pub name: Option<String>,
    /// Short forms of findings that it settles.
    pub settles: Vec<String>,
}

/// Papers compared.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Agreement {
    /// registration, serial, total time …
    pub about: String,
    /// agrees, differs or not_seen.
    pub result: String,
    /// What the paper says.
    pub says: Option<String>,
    /// Who compared, when.
    pub by: Said,
}

/// What somebody said.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Statement {
    /// ISO date.
    pub date: String,
    /// Who wrote it down.
    pub by: String,
    /// What it is about.
    pub about: String,
    /// The words.
    pub says: String,
}

/// An overall view in the walkarounds that have it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Overall {
    /// Key in the layout.
    pub key: String,
    /// Name.
    pub name: String,
    /// Photos in order.
    pub photos: Vec<Photo>,
    /// What a person marked since the photo before the last: findings in its zones.
    pub marked: Vec<String>,
}

impl Content {
    /// Open findings, in order.
    pub fn open(&self) -> impl Iterator<Item = &Item> {
        self.findings.iter().filter(|item| item.open)
    }

    /// Zones that nobody ever looked at.
    pub fn never(&self) -> Vec<&Zone> {
        self.zones
            .iter()
            .filter(|zone| zone.last.is_none())
            .collect()
    }

    /// The code of the last finish: what stands at the foot of every sheet.
    pub fn last_code(&self) -> Option<&Code> {
        self.proof.codes.last()
    }
}

impl Item {
    /// Steps of one kind.
    pub fn of_kind<'a>(&'a self, kind: &'a str) -> impl Iterator<Item = &'a Step> {
        self.steps.iter().filter(move |step| step.kind == kind)
    }

    /// Place and condition: `left brake, below the hose fitting: leak`.
    pub fn name(&self) -> String {
        format!("{}: {}", self.place, self.title)
    }
}

impl Zone {
    /// The last look of any kind, in a walkaround or outside: what it said, when, by whom.
    pub fn last_look<'a>(
        &'a self,
        walkarounds: &'a [Walk],
    ) -> Option<(&'a str, &'a str, &'a str, &'a str)> {
        let walked = self
            .looks
            .iter()
            .zip(walkarounds)
            .rev()
            .find(|(look, _)| look.result != "not_looked_at")
            .map(|(look, walk)| {
                (
                    look.result.as_str(),
                    look.says.as_str(),
                    walk.date.as_str(),
                    walk.by.as_str(),
                )
            });
        let outside = self.outside.last().map(|look| {
            (
                look.result.as_str(),
                look.says.as_str(),
                look.by.date.as_str(),
                look.by.by.as_str(),
            )
        });
        match (walked, outside) {
            (Some(walked), Some(outside)) if outside.2 > walked.2 => Some(outside),
            (walked, outside) => walked.or(outside),
        }
    }
}
