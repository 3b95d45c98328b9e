//! Findings and their life.

use serde::{Deserialize, Serialize};

use super::Measure;
use crate::record::Digest;

/// A defect recognised at one place.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FindingOpened {
    /// Zone code; none for a system that did not work.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub zone: String,
    /// Condition key: crack, leak …
    pub condition: String,
    /// The person's own words for the place.
    pub part: Option<String>,
    /// Component that it is on: the line that fitted it.
    pub component: Option<Digest>,
    /// What is honest not to know: "crack or scratch, unsure", "in paint", …
    #[serde(default)]
    pub unsure: Vec<String>,
    /// System, for "did not work".
    pub system: Option<String>,
    /// In the author's words.
    pub text: Option<String>,
}

/// A finding in one walkaround.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sighted {
    /// Which.
    pub finding: Digest,
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
    /// present, not_found or could_not_check.
    pub result: String,
    /// Why it could not be checked.
    pub why: Option<String>,
    /// seen, felt, measured, told, read.
    pub basis: Option<String>,
    /// Step of a condition that has steps: dry, seep, drip …
    pub step: Option<String>,
    /// Measures.
    #[serde(default)]
    pub measures: Vec<Measure>,
    /// Entries of photos and words.
    #[serde(default)]
    pub evidence: Vec<Digest>,
    /// In the author's words.
    pub text: Option<String>,
    /// Fresh eyes: `before` the earlier findings were opened, or `after`.
    pub fresh: Option<String>,
    /// True if recognised later on evidence from before.
    #[serde(default)]
    pub late: bool,
}

/// Something was done about it; starts a new series.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Treated {
    /// Which.
    pub finding: Digest,
    /// stop_drilled, dressed, tightened, cleaned, adjusted, replaced, painted …
    pub how: String,
    /// Claimed by whom.
    pub by: Option<String>,
    /// How much was taken off, where that counts.
    #[serde(default)]
    pub measures: Vec<Measure>,
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
}

/// Closed, by whom and with what reference.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FindingClosed {
    /// Which.
    pub finding: Digest,
    /// How.
    pub how: String,
    /// By whom.
    pub by: Option<String>,
    /// Maintenance entry or paper that says so.
    pub reference: Option<String>,
    /// Photo or paper that shows it (one picture may settle several).
    pub evidence: Option<Digest>,
}

/// Opened again without a sighting.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FindingReopened {
    /// Which.
    pub finding: Digest,
    /// Why.
    pub why: Option<String>,
}

/// Named sightings belong to another finding, or a joining is disputed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FindingSplit {
    /// The finding they are taken from.
    pub finding: Digest,
    /// The sightings.
    #[serde(default)]
    pub sightings: Vec<Digest>,
    /// The joining that is disputed.
    pub disputes: Option<Digest>,
    /// Words for the place of the new finding, which this line names.
    pub part: Option<String>,
}

/// Two findings are one.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct FindingJoined {
    /// One.
    pub finding: Digest,
    /// The other.
    pub other: Digest,
}

/// Somebody was told.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Told {
    /// Which.
    pub finding: Digest,
    /// Who.
    pub who: String,
}

/// Deferred, on whose word and until when.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Deferred {
    /// Which.
    pub finding: Digest,
    /// By whom.
    pub by: String,
    /// On what basis.
    pub on: String,
    /// Until when.
    pub until: String,
}

/// A signed maintenance entry about it was seen.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MaintenanceEntrySeen {
    /// Which.
    pub finding: Digest,
    /// Where it stands.
    pub reference: String,
    /// Paper that shows it.
    pub evidence: Option<Digest>,
}

/// The author's own call.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ConcernSet {
    /// Which.
    pub finding: Digest,
    /// aware, watch, ask or before_flight.
    pub concern: String,
}

/// A limit of the user's, with where it comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LimitSet {
    /// Which.
    pub finding: Digest,
    /// Quantity.
    pub quantity: String,
    /// Value, exact text.
    pub value: String,
    /// Unit.
    pub unit: String,
    /// Manual and paragraph.
    pub source: String,
    /// The document's own words, where they are more than a number.
    pub words: Option<String>,
}

/// When to look again.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LookAgainSet {
    /// Finding.
    pub finding: Option<Digest>,
    /// Zone.
    pub zone: Option<String>,
    /// Hours (decimal text with h), a date, or next_flight.
    pub at: String,
}
