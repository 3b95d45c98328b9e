//! The append-only record: canonical lines, signatures, chains, slips.
//!
//! # A line
//!
//! One line of a chain file is canonical JSON (RFC 8785) `{"entry":{…},"sig":"…"}` followed by one
//! newline. Its digest, and its only name, is the SHA-256 (FIPS 180-4) of the bytes of the line
//! without the newline, so that `sha256sum` can walk a chain. `sig` is Ed25519 (RFC 8032, strict
//! verification) over the canonical bytes of `entry`.
//!
//! # A chain
//!
//! `record/<aircraft>/<key>.jsonl` holds one author's lines about one aircraft: `seq` counts from 0
//! and `prev` is the digest of the line before (64 zeros at first). Lines are only ever appended.
//! The first describer's opening line has 64 zeros as `aircraft`; that line's digest is the
//! aircraft's id, used in every later line and as the folder's name.
//!
#![doc = include_str!("by_hand.md")]

pub mod canonical;
pub mod chain;
mod digest;
#[cfg(test)]
mod golden;
pub mod key;
pub mod kinds;
mod line;
pub mod proof;
pub mod slip;
mod time;

pub use digest::Digest;
pub use kinds::Body;
pub use line::{Entry, LINE_LIMIT, Line};
pub use time::{At, Seen, parse_when};

/// Format of the notebook and its lines that this program writes. Format 1 is frozen: a notebook
/// that was written in it opens for ever (golden lines and notebooks in `fixtures/record`).
pub const FORMAT: u32 = 1;
