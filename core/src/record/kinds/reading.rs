//! Values that are no defect.

use serde::{Deserialize, Serialize};

use crate::record::Digest;

/// Oil found, tyre pressure, strut extension, fuel sample …
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reading {
    /// oil_found, pressure, extension, sample, level …
    pub reading: String,
    /// Exact rational or decimal text, or a word for samples.
    pub value: String,
    /// Unit symbol; none for words.
    pub unit: Option<String>,
    /// Standard uncertainty, decimal text.
    pub u: Option<String>,
    /// Where.
    pub zone: Option<String>,
    /// Temperature, load, waiting time …
    #[serde(default)]
    pub context: std::collections::BTreeMap<String, String>,
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
}

/// Something put in: oil, air, fluid, fuel.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Serviced {
    /// oil, air, nitrogen, hydraulic_fluid, brake_fluid, fuel …
    pub what: String,
    /// Amount, exact rational or decimal text.
    pub value: Option<String>,
    /// Unit symbol.
    pub unit: Option<String>,
    /// Where.
    pub zone: Option<String>,
    /// Grade, temperature …
    #[serde(default, skip_serializing_if = "std::collections::BTreeMap::is_empty")]
    pub context: std::collections::BTreeMap<String, String>,
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
}
