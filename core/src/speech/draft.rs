//! What was understood, for a person to look at before anything is written down.

use serde::{Deserialize, Serialize};

/// A half-open range of character positions in the text that was given.
pub type Span = [usize; 2];

/// What a saying is, taken as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// At least one finding.
    Finding,
    /// Only looks: nothing found, could not be seen, a condition denied, a reading.
    Look,
    /// Only a command.
    Command,
    /// Words to keep on the stop, nothing more.
    Remark,
}

/// A zone of the layout, as understood.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ZoneFound {
    /// Code in the layout.
    pub code: String,
    /// Name in the layout.
    pub name: String,
    /// Words it came from.
    pub from: Span,
    /// 0 to 1.
    pub sure: f64,
}

/// The person's own words for a place finer than any zone.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PartFound {
    /// As said.
    pub name: String,
    /// Words it came from.
    pub from: Span,
}

/// A position: so far from a feature, a clock position, a station.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct At {
    /// Exact rational.
    pub value: String,
    /// `in`, `mm`, `o'clock`, `station`; none if none was said.
    pub unit: Option<String>,
    /// What it is measured from.
    pub feature: Option<String>,
    /// `aft of`, `above` …; none for clock positions and stations.
    pub direction: Option<String>,
    /// Words it came from.
    pub from: Span,
}

/// A condition, as understood.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ConditionFound {
    /// Name in the condition files.
    pub name: String,
    /// Words it came from.
    pub from: Span,
    /// 0 to 1.
    pub sure: f64,
}

/// A size or another value, exactly as said.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MeasureFound {
    /// `length`, `depth`, `pressure` …
    pub quantity: String,
    /// Exact rational, denominator as said.
    pub value: String,
    /// Upper end of a range.
    pub to: Option<String>,
    /// Symbol; none if none was said (then it is a question).
    pub unit: Option<String>,
    /// The words.
    pub as_said: String,
    /// "about", "just over", "less than" …
    pub vague: bool,
    /// The earlier size of "went from 2 to 3".
    pub was: Option<String>,
    /// An amount of growth, not a size.
    pub change: bool,
    /// Words it came from.
    pub from: Span,
}

/// A count of things: "three rivets".
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Count {
    /// How many.
    pub value: String,
    /// Words it came from.
    pub from: Span,
}

/// One finding or one look.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Item {
    /// `finding` or `look`.
    pub kind: Kind,
    /// Where, if understood.
    pub zone: Option<ZoneFound>,
    /// Finer place in the person's words.
    pub part: Option<PartFound>,
    /// Position.
    pub at: Option<At>,
    /// `left`, `right` or `none`.
    pub side: String,
    /// What, if understood.
    pub condition: Option<ConditionFound>,
    /// `nothing_found` or `not_seen`.
    pub look: Option<String>,
    /// `seen`, `felt`, `measured`, `told`, `read`.
    pub basis: Option<String>,
    /// `worse`, `same`, `less`, `gone`, `new`.
    pub compare: Option<String>,
    /// The condition is denied.
    pub negated: bool,
    /// Sizes and other values.
    pub measures: Vec<MeasureFound>,
    /// How many of them.
    pub count: Option<Count>,
    /// What kind of reading the measures are, for a value that is no defect.
    pub reading: Option<String>,
    /// Why it could not be seen.
    pub why: Option<String>,
    /// Date of before, in the person's words: "since March".
    pub since: Option<String>,
    /// Said as unsure: "could be", "not sure". The other condition it may be, if one was named.
    pub unsure: bool,
    /// "crack or scratch": the other one.
    pub or_else: Option<String>,
}

/// Something a careful listener would ask.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Question {
    /// `number`, `unit`, `side`, `zone`, `condition` or `negation`.
    pub about: String,
    /// The sentence to show or speak.
    pub asked: String,
    /// Answers that can be tapped.
    pub choices: Vec<String>,
    /// Which item it is about.
    pub item: usize,
    /// Which measure of that item.
    pub measure: Option<usize>,
    /// Zone codes behind the choices, for questions about a zone or a side.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub codes: Vec<String>,
}

/// What was understood.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Draft {
    /// Taken as a whole.
    pub kind: Kind,
    /// Findings and looks in the order said.
    pub items: Vec<Item>,
    /// One of the twelve commands.
    pub command: Option<String>,
    /// What has to be answered before it can be kept.
    pub questions: Vec<Question>,
    /// Words that no slot took.
    pub left_over: String,
    /// The text that the positions refer to.
    pub text: String,
}

impl Item {
    /// An empty item.
    pub(crate) fn new(kind: Kind) -> Self {
        Self {
            kind,
            zone: None,
            part: None,
            at: None,
            side: "none".into(),
            condition: None,
            look: None,
            basis: None,
            compare: None,
            negated: false,
            measures: Vec::new(),
            count: None,
            reading: None,
            why: None,
            since: None,
            unsure: false,
            or_else: None,
        }
    }
}
