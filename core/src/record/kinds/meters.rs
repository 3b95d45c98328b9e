//! Clocks, counters and parts with a life of their own.

use serde::{Deserialize, Serialize};

use crate::record::Digest;

/// A meter fitted, or taken over as it is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MeterFitted {
    /// Name people use: "tach", "hobbs", "total time".
    pub name: String,
    /// tachometer, hour_meter, total_time or landings.
    pub meter: String,
    /// What it reads when fitted, decimal text.
    pub reading: String,
    /// What to add to its readings to continue the total, decimal text.
    pub offset: String,
    /// The meter it replaces.
    pub replaces: Option<Digest>,
}

/// A meter read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MeterRead {
    /// The meter; none for the airframe's total time or landings without a fitted meter.
    pub meter: Option<Digest>,
    /// total_time or landings where no meter is named.
    pub quantity: Option<String>,
    /// Reading, decimal text.
    pub reading: String,
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
}

/// A component fitted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ComponentFitted {
    /// engine, propeller, blade, wheel, tyre …
    pub component: String,
    /// Maker's serial or stamp.
    pub serial: Option<String>,
    /// Where it sits.
    pub zone: String,
    /// Which of several in that zone: `blade 1`, `left main`.
    pub position: Option<String>,
    /// How the position is counted where no stamp tells: `blade 1 is the one beside the spinner's mark`.
    pub convention: Option<String>,
    /// The component it replaces, which leaves.
    pub replaces: Option<Digest>,
    /// Hours it had run before, decimal text.
    pub run_before: Option<String>,
    /// Airframe total time when fitted, hours, decimal text.
    pub hours: Option<String>,
}

/// A component removed; open findings on it leave with it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ComponentRemoved {
    /// The line that fitted it.
    pub component: Digest,
    /// Airframe total time when removed, hours, decimal text.
    pub hours: Option<String>,
    /// Why.
    pub why: Option<String>,
}
