//! The kinds of entry. A kind is a struct in one of these files and a row in the table below;
//! digests inside a body are 64-digit texts, found by walking the JSON, so that a kind which this
//! program does not know is still followed by the index.
//!
//! What has no value is left out of a body; lists and yes-or-no members are always written.
//!
#![doc = include_str!("table.md")]
//!
//! Came later, and may always be absent: `aircraft` in `vouched`.

mod aircraft;
mod correction;
mod evidence;
mod finding;
mod measure;
mod meters;
mod reading;
mod trust;
mod walkaround;

pub use aircraft::{
    AircraftDescribed, AircraftJoined, ChainOpened, Event, HoldLifted, LayoutChosen,
};
pub use correction::{Amended, Retracted};
pub use evidence::{
    Meant, PaperChecked, PaperTaken, PhotoTaken, Placed, Removed, Restated, SoundKept,
    TranscriptAdded, VoiceTaken, Written,
};
pub use finding::{
    ConcernSet, Deferred, FindingClosed, FindingJoined, FindingOpened, FindingReopened,
    FindingSplit, LimitSet, LookAgainSet, MaintenanceEntrySeen, Sighted, Told, Treated,
};
pub use measure::Measure;
pub use meters::{ComponentFitted, ComponentRemoved, MeterFitted, MeterRead};
pub use reading::{Reading, Serviced};
pub use trust::{AuthorLinked, TimestampReceived, Vouched};
pub use walkaround::{Answer, Looked, ReadBeforeFlight, WalkaroundFinished, WalkaroundStarted};

use serde_json::Value;

use super::Digest;
use crate::error::{Error, ErrorKind, Result};

macro_rules! kinds {
    ($($variant:ident = $word:literal),* $(,)?) => {
        /// What an entry says, by kind.
        #[derive(Debug, Clone, PartialEq)]
        #[allow(missing_docs)]
        pub enum Body {
            $($variant(Box<$variant>),)*
            /// A kind that this program does not know: kept as it is.
            Unknown { kind: String, body: Value },
        }

        impl Body {
            /// The word of every kind that this program knows.
            pub const KINDS: &[&str] = &[$($word),*];

            /// The word in the record.
            pub fn kind(&self) -> &str {
                match self {
                    $(Self::$variant(_) => $word,)*
                    Self::Unknown { kind, .. } => kind,
                }
            }

            /// The body as JSON; members without a value are left out.
            pub fn to_value(&self) -> Result<Value> {
                let value = match self {
                    $(Self::$variant(body) => serde_json::to_value(body),)*
                    Self::Unknown { body, .. } => return Ok(body.clone()),
                };
                let mut value = value.map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))?;
                strip(&mut value);
                Ok(value)
            }

            /// Reads a body from its JSON text, without asking whether all of it is known.
            pub fn from_text(kind: &str, text: &str) -> Result<Self> {
                let bad = |error: serde_json::Error| {
                    Error::new(ErrorKind::BadFormat, format!("the body of \"{kind}\" cannot be read: {error}"))
                };
                Ok(match kind {
                    $($word => Self::$variant(Box::new(serde_json::from_str(text).map_err(bad)?)),)*
                    _ => Self::Unknown { kind: kind.to_owned(), body: serde_json::from_str(text).map_err(bad)? },
                })
            }

            /// Reads a body; the flag is true if it has something this program does not know.
            pub fn from_value(kind: &str, value: Value) -> Result<(Self, bool)> {
                let bad = |error: serde_json::Error| {
                    Error::new(ErrorKind::BadFormat, format!("the body of \"{kind}\" cannot be read: {error}"))
                };
                let body = match kind {
                    $($word => Self::$variant(Box::new(serde_json::from_value(value.clone()).map_err(bad)?)),)*
                    _ => return Ok((Self::Unknown { kind: kind.to_owned(), body: value }, true)),
                };
                let newer = body.to_value()? != value;
                Ok((body, newer))
            }
        }

        $(impl From<$variant> for Body {
            fn from(body: $variant) -> Self {
                Self::$variant(Box::new(body))
            }
        })*
    };
}

kinds! {
    ChainOpened = "chain opened",
    AircraftDescribed = "aircraft described",
    AircraftJoined = "aircraft joined",
    LayoutChosen = "layout chosen",
    MeterFitted = "meter fitted",
    MeterRead = "meter read",
    ComponentFitted = "component fitted",
    ComponentRemoved = "component removed",
    Event = "event",
    HoldLifted = "hold lifted",
    WalkaroundStarted = "walkaround started",
    WalkaroundFinished = "walkaround finished",
    Looked = "looked",
    PhotoTaken = "photo taken",
    VoiceTaken = "voice taken",
    PaperTaken = "paper taken",
    PaperChecked = "paper checked",
    Written = "written",
    TranscriptAdded = "transcript added",
    Restated = "restated",
    Placed = "placed",
    Reading = "reading",
    Serviced = "serviced",
    FindingOpened = "finding opened",
    Sighted = "finding sighted",
    Treated = "finding treated",
    FindingClosed = "finding closed",
    FindingReopened = "finding reopened",
    FindingSplit = "finding split",
    FindingJoined = "finding joined",
    Told = "told",
    Deferred = "deferred",
    MaintenanceEntrySeen = "maintenance entry seen",
    ConcernSet = "concern set",
    LimitSet = "limit set",
    LookAgainSet = "look again set",
    ReadBeforeFlight = "read before flight",
    Amended = "amended",
    Retracted = "retracted",
    AuthorLinked = "author linked",
    Vouched = "vouched",
    TimestampReceived = "timestamp received",
    Removed = "removed",
}

/// Takes out members that are null, at every depth: what has no value is left out of a body. Only
/// an `offset` of time stays, as null: a clock that did not say its offset is a fact.
fn strip(value: &mut Value) {
    match value {
        Value::Object(members) => {
            members.retain(|key, member| !member.is_null() || key == "offset");
            members.values_mut().for_each(strip);
        }
        Value::Array(items) => items.iter_mut().for_each(strip),
        _ => {}
    }
}

/// Every digest in a body with the member it stands under, in document order.
pub fn cites(body: &Value) -> Vec<(String, Digest)> {
    fn walk(role: &str, value: &Value, out: &mut Vec<(String, Digest)>) {
        match value {
            Value::String(text) if text.len() == 64 => {
                if let Ok(digest) = text.parse::<Digest>()
                    && digest != Digest::ZERO
                {
                    out.push((role.to_owned(), digest));
                }
            }
            Value::Array(items) => items.iter().for_each(|item| walk(role, item, out)),
            Value::Object(members) => members
                .iter()
                .for_each(|(key, member)| walk(key, member, out)),
            _ => {}
        }
    }
    let mut out = Vec::new();
    walk("", body, &mut out);
    out
}

/// Every zone code that a body names, under `zone` or `zones`.
pub fn zones(body: &Value) -> Vec<String> {
    fn walk(role: &str, value: &Value, out: &mut Vec<String>) {
        match value {
            Value::String(text) if role == "zone" || role == "zones" => out.push(text.clone()),
            Value::Array(items) => items.iter().for_each(|item| walk(role, item, out)),
            Value::Object(members) => members
                .iter()
                .for_each(|(key, member)| walk(key, member, out)),
            _ => {}
        }
    }
    let mut out = Vec::new();
    walk("", body, &mut out);
    out.sort();
    out.dedup();
    out
}
