//! Walkarounds and looks.

use serde::{Deserialize, Serialize};

use crate::record::Digest;

/// A pass round the aircraft begins.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WalkaroundStarted {
    /// preflight, postflight, routine, before_maintenance, prepurchase, handing_over, after_event.
    pub purpose: Option<String>,
    /// Airframe total time in hours, decimal text.
    pub hours: Option<String>,
    /// Meter that the hours were read from, if not total time.
    pub meter: Option<Digest>,
    /// Landings, whole number as text.
    pub landings: Option<String>,
    /// Counter that the landings were read from, if they are not the total.
    pub landings_meter: Option<Digest>,
    /// The event that it follows.
    pub event: Option<Digest>,
}

/// A walkaround is finished: the tree over the chain so far.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct WalkaroundFinished {
    /// Which.
    pub walkaround: Digest,
    /// Lines covered: 0 … size-1; equals this line's own seq.
    pub size: u64,
    /// RFC 6962 tree hash over them.
    pub root: Digest,
}

/// What was answered of an open finding when "nothing found" was said over it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Answer {
    /// The finding.
    pub finding: Digest,
    /// present, not_found or could_not_check.
    pub answer: String,
}

/// A look at zones.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Looked {
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
    /// Zones said together in one statement.
    pub zones: Vec<String>,
    /// nothing_found or not_seen.
    pub result: String,
    /// Why it could not be seen.
    pub why: Option<String>,
    /// glance, close, touched, mirror, light.
    pub how: Option<String>,
    /// panel, cowl, spat, cover, dirty, wet, dark.
    pub access: Option<String>,
    /// Condition that was looked for and not found, where it was named ("no cracks").
    pub condition: Option<String>,
    /// Stop that was looked at as a whole.
    pub stop: Option<String>,
    /// Fresh eyes: `before` the earlier findings were opened, or `after`.
    pub fresh: Option<String>,
    /// How many earlier findings were said to be there.
    pub earlier: Option<u64>,
    /// What was answered of open findings.
    #[serde(default)]
    pub answers: Vec<Answer>,
}

/// A person has read the open findings before a flight.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ReadBeforeFlight {
    /// The findings that were shown.
    pub findings: Vec<Digest>,
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
}
