//! What one author says of another's chain, and of time.

use serde::{Deserialize, Serialize};

use crate::record::Digest;

/// Two keys of one person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct AuthorLinked {
    /// The other key.
    pub linked: Digest,
    /// The other key's signature over canonical {aircraft, author, linked}, 128 hexadecimal digits.
    pub sig: String,
}

/// The last line of another's chain, as this author holds it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Vouched {
    /// The other author.
    pub author: Digest,
    /// Number of the line.
    pub seq: u64,
    /// Its digest.
    pub line: Digest,
    /// Where the other chain is under another description of the same aircraft (they are joined):
    /// that description.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub aircraft: Option<Digest>,
}

/// A timestamp (RFC 3161) over a finish.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct TimestampReceived {
    /// The finish line that it is about.
    pub finish: Digest,
    /// SHA-256 of the reply file, kept as evidence.
    pub file: Digest,
    /// Time that the authority states.
    pub time: String,
    /// Policy that it names.
    pub policy: Option<String>,
}
