//! A measured or estimated size.

use serde::{Deserialize, Serialize};

use crate::record::Digest;

/// Quantity, value, unit, standard uncertainty, method.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Measure {
    /// length, depth, width, area, play, drips …
    pub quantity: String,
    /// Exact rational or decimal text.
    pub value: String,
    /// Upper end of a range.
    pub to: Option<String>,
    /// Unit symbol.
    pub unit: String,
    /// Standard uncertainty in the same unit, decimal text; absent where nothing can be said.
    pub u: Option<String>,
    /// ruler, card, trace, calliper, gauge, eye, told …
    pub method: String,
    /// The words it came from.
    pub as_said: Option<String>,
    /// Marks on a photograph, so that the measure can be repeated.
    pub marks: Option<serde_json::Value>,
    /// Published scale and class, where its terms were met.
    pub scale: Option<String>,
    /// Context asked for by the condition: minutes since wiped, engine running since cleaned …
    #[serde(default)]
    pub context: std::collections::BTreeMap<String, String>,
    /// Photo that it was measured on.
    pub photo: Option<Digest>,
}
