//! The forms of a history: what JSON carries, what the other files fill in.

use serde::Serialize;

use super::super::finding_growth::NamedTrend;
use super::super::significance::Change;
use super::super::story::Started;
use crate::record::Digest;

/// The history of one aircraft.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HistoryView {
    /// Registration.
    pub registration: String,
    /// Type.
    #[serde(rename = "type")]
    pub kind: String,
    /// Serial.
    pub serial: Option<String>,
    /// Walkarounds by start.
    pub walkarounds: Vec<WalkaroundView>,
    /// Findings, deteriorated first.
    pub findings: Vec<FindingView>,
    /// Zones of the layout with every look.
    pub zones: Vec<ZoneView>,
    /// Readings of a meter that stand below an earlier one, in words.
    pub backwards: Vec<String>,
    /// Evidence without a place.
    pub unplaced: usize,
    /// True if something was written by a newer version: this view may be incomplete.
    pub newer: bool,
}

/// One walkaround in a list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WalkaroundView {
    /// Id.
    pub id: Digest,
    /// Date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// Purpose in words.
    pub purpose: String,
    /// Hours.
    pub hours: Option<String>,
    /// The meter that the hours are of; `airframe total time` where that was read. None without hours.
    pub meter: Option<String>,
    /// Finished.
    pub finished: bool,
    /// The clock was handed in by a person.
    pub given_clock: bool,
}

/// One finding's story.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FindingView {
    /// Whole id.
    pub id: Digest,
    /// Short form: zone code and five digits.
    pub short: String,
    /// Zone code.
    pub zone: String,
    /// Zone name.
    pub zone_name: String,
    /// Condition key.
    pub condition: String,
    /// Condition in words.
    pub title: String,
    /// Words for the place.
    pub part: Option<String>,
    /// What is honest not to know.
    pub unsure: Vec<String>,
    /// Open.
    pub open: bool,
    /// How it was closed.
    pub closed_how: Option<String>,
    /// Gravest concern of any author.
    pub concern: Option<String>,
    /// First recorded: date and by whom.
    pub first: (String, String),
    /// worse, same, less, not_comparable or first: the latest measure against the first of its series.
    pub change: String,
    /// The change in one sentence.
    pub says: String,
    /// Number of comparable measured sightings in the last series.
    pub measured: usize,
    /// Sightings in order.
    pub sightings: Vec<SightingView>,
    /// Steps: date, by whom, words.
    pub steps: Vec<(String, String, String)>,
    /// When it began: an interval between looks.
    pub started: Option<Started>,
    /// How often it came back after treatment, and how long that lasted.
    pub returned: Option<String>,
    /// Everything dressed off so far, where that adds up.
    pub dressed: Option<String>,
    /// Looks that said "nothing found" over it and were not asked about it: date, by whom.
    pub not_asked: Vec<(String, String)>,
    /// Under new paint since: date and by whom. Covered, not gone.
    pub covered: Option<(String, String)>,
    /// Each quantity of the running series by itself, what deteriorated most first.
    pub series: Vec<SeriesView>,
    /// Trend of the quantity that deteriorated most, from three comparable readings on.
    pub trend: Option<NamedTrend>,
    /// The user's limit: quantity, value, unit, source.
    pub limit: Option<(String, String, String, String)>,
    /// The last size seen has reached that limit already.
    pub limit_reached: bool,
    /// When to look again, until a look has answered it.
    pub again: Option<String>,
    /// What `says` is made of.
    #[serde(skip)]
    pub words: Vec<Said>,
    #[serde(skip)]
    pub(super) rank: (u8, f64, f64),
}

/// One quantity of a finding's running series.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SeriesView {
    /// length, depth, width …
    pub quantity: String,
    /// worse, same, less, not_comparable or first: the latest against the first of this series.
    pub change: String,
    /// In one sentence.
    pub says: String,
    /// How often it was measured in this series.
    pub measured: usize,
    /// Unit of the latest.
    pub unit: String,
    /// Trend, from three comparable readings on.
    pub trend: Option<NamedTrend>,
}

/// A part of a sentence about a finding: words, or a change that a reader may want in other units.
#[derive(Debug, Clone, PartialEq)]
pub enum Said {
    /// Words.
    Text(String),
    /// A change of one quantity.
    Change {
        /// The quantity, named where a finding has several.
        quantity: Option<String>,
        /// The change.
        change: Change,
        /// Its unit.
        unit: String,
        /// ` since first measured over 12.0 h`.
        over: String,
    },
}

/// One measure of a sighting, compared within its own quantity.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeasureView {
    /// length, depth, width …
    pub quantity: String,
    /// In words.
    pub says: String,
    /// Value, for drawing.
    pub value: Option<f64>,
    /// Its standard uncertainty.
    pub u: Option<f64>,
    /// Its unit.
    pub unit: String,
    /// Against the one before.
    pub before: Option<Change>,
    /// Against the first since it was last treated.
    pub first: Option<Change>,
}

/// A step of a condition against another sighting's.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct StepChange {
    /// The earlier step.
    pub from: String,
    /// The later step.
    pub to: String,
    /// worse, same or less.
    pub change: String,
}

/// A look that was made outside any walkaround.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct OutsideLook {
    /// Date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// findings, nothing_found or not_seen.
    pub result: String,
    /// Why, how, access.
    pub says: String,
    #[serde(skip)]
    pub(super) order: i64,
}

/// One sighting.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SightingView {
    /// The line.
    pub line: Digest,
    /// Date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// Hours then.
    pub hours: Option<String>,
    /// The meter that the hours are of; `airframe total time` where that was read. None without hours.
    pub meter: Option<String>,
    /// present, not_found, could_not_check.
    pub result: String,
    /// Step, measures and words as one short text.
    pub says: String,
    /// The quantity that says most: the one that got worse most, else the first.
    pub quantity: Option<String>,
    /// Its value, for drawing.
    pub value: Option<f64>,
    /// Its standard uncertainty.
    pub u: Option<f64>,
    /// Its unit.
    pub unit: Option<String>,
    /// Against the one before.
    pub before: Option<Change>,
    /// Against the first since it was last treated.
    pub first: Option<Change>,
    /// Every measure by itself.
    pub measures: Vec<MeasureView>,
    /// The condition's step against that of the sighting before.
    pub step_before: Option<StepChange>,
    /// The condition's step against the first since it was last treated.
    pub step_first: Option<StepChange>,
    /// Number of treatments before it.
    pub series: usize,
    /// Evidence entries.
    pub evidence: Vec<Digest>,
    /// Recognised later, on evidence from before.
    pub late: bool,
    /// When and by whom it was recognised, where that was later.
    pub recognised: Option<(String, String)>,
}

/// One zone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneView {
    /// Code.
    pub code: String,
    /// Name.
    pub name: String,
    /// By walkaround id: findings, nothing_found, not_seen or not_looked_at, with words.
    pub looks: Vec<(Digest, String, String)>,
    /// Looks and sightings outside any walkaround, in order.
    pub outside: Vec<OutsideLook>,
    /// Date of the last look of any kind, in a walkaround or outside; none if nobody ever looked.
    pub last: Option<String>,
    /// Open findings.
    pub open: usize,
}
