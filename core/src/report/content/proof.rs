//! The proof's part of a report.

use serde::Serialize;

use crate::record::Digest;

/// What can be checked.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Proof {
    /// Codes, oldest first.
    pub codes: Vec<Code>,
    /// Who recorded the last line of whose chain.
    pub vouched: Vec<Vouch>,
    /// Time stamps.
    pub stamps: Vec<Stamp>,
    /// Some clock was set by hand.
    pub given_clock: bool,
}

/// A proof code.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Code {
    /// ISO date of the walkaround.
    pub date: String,
    /// Its author.
    pub by: String,
    /// The author's key.
    pub key: Digest,
    /// The finish line.
    pub finish: Digest,
    /// Lines under it.
    pub lines: u64,
    /// Root of their tree.
    pub root: Digest,
    /// The code.
    pub code: String,
}

/// A vouching.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Vouch {
    /// ISO date.
    pub date: String,
    /// Who vouched.
    pub by: String,
    /// Whose chain.
    pub whose: String,
    /// Number of the line.
    pub seq: u64,
    /// The line.
    pub line: Digest,
}

/// A time stamp.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Stamp {
    /// Time that the authority states.
    pub time: String,
    /// Finish that it is about.
    pub finish: Digest,
}
