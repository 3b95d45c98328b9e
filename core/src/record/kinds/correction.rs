//! Corrections: new entries by the same author that point at the old one.

use serde::{Deserialize, Serialize};

use crate::record::Digest;

/// A whole new body for an entry; never another kind, never other digests.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Amended {
    /// The original entry, never another amendment.
    pub entry: Digest,
    /// The new body.
    pub body: serde_json::Value,
}

/// An entry no longer holds; of a retraction: undo it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Retracted {
    /// The entry.
    pub entry: Digest,
    /// Why.
    pub why: Option<String>,
}
