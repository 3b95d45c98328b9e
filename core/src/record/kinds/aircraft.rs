//! The aircraft itself: its chain, description, layout, events.

use serde::{Deserialize, Serialize};

use crate::record::Digest;

/// First line of every chain.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChainOpened {
    /// 32 hexadecimal digits of randomness, so that no two chains open alike.
    pub nonce: String,
    /// Slip with the author's claimed name and role.
    pub who: Option<Digest>,
    /// Format of the lines.
    pub format: u32,
}

/// Registration, type, serial: facts that may change.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AircraftDescribed {
    /// Registration as painted.
    pub registration: String,
    /// Type in plain words.
    #[serde(rename = "type")]
    pub kind: String,
    /// Maker's serial.
    pub serial: Option<String>,
}

/// Two descriptions of one aircraft.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AircraftJoined {
    /// The other aircraft's id.
    pub other: Digest,
}

/// The layout in use from now on, and the way round it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct LayoutChosen {
    /// Name of the layout.
    pub name: String,
    /// The layout file, kept as evidence.
    pub file: Digest,
    /// The condition files in use, kept as evidence.
    pub conditions: Option<Digest>,
    /// Old zone code to new one, where a layout was changed.
    #[serde(default)]
    pub map: std::collections::BTreeMap<String, String>,
    /// How this person walks round, where it is not the published way: the type's own manual comes first.
    pub route: Option<crate::layout::Route>,
}

/// Something that happened to the whole aircraft.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Event {
    /// Key of the event file: hard_landing, propeller_strike …
    pub event: String,
    /// The event file, kept as evidence.
    pub file: Option<Digest>,
    /// In the author's words.
    pub text: Option<String>,
    /// True if the event's file forbids removal of evidence until the hold is lifted.
    #[serde(default)]
    pub hold: bool,
    /// Zones concerned, where only some are: those that were painted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub zones: Vec<String>,
}

/// The hold of an event has ended.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct HoldLifted {
    /// The event.
    pub event: Digest,
    /// Why, by whom.
    pub why: String,
}
