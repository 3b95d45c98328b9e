//! What each piece of a saying does.

use super::draft::{At, Count, MeasureFound, PartFound, Span};
use super::measure::Doubt;
use super::place::Hand;

/// A place as mentioned.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Mention {
    pub words: Vec<u32>,
    pub span: Span,
    /// It may as well be a part.
    pub partish: bool,
    /// It is a noun for parts.
    pub noun: bool,
    /// A whole phrase of some zone.
    pub full: bool,
    /// "under the" stands before it.
    pub under: bool,
    /// "near the", "against the" stands before it: it tells where, and is not the place itself.
    pub landmark: bool,
}

/// How a condition was denied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Denied {
    No,
    /// `no`, `without`: a look.
    Absent,
    /// `not a`, `isn't`: this is something else.
    NotThis,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Event {
    /// `.`, `;`, `?`.
    Sentence,
    Comma,
    And,
    Or,
    But,
    Place(Mention),
    /// "main", "nose" with no noun behind it.
    Lone(Mention),
    Side(Hand, Span),
    Both(Span),
    Part(PartFound),
    Condition {
        index: usize,
        span: Span,
        denied: Denied,
    },
    /// Verb or noun of a look.
    Look(&'static str, Span),
    Compare(&'static str, Span),
    Gone(Span),
    Basis(&'static str),
    Measure {
        found: MeasureFound,
        family: String,
        named: bool,
        across: Option<String>,
        doubts: Vec<Doubt>,
    },
    At(At),
    Count(Count),
    Meter(MeasureFound),
    Reading(&'static str),
    Correction,
    Another,
    Unsure,
    Since(String),
    Why(String),
    Instead,
    /// "so" before "I couldn't look at …": the place before it is why. The words of the reason.
    Therefore(String),
    /// A word that no list has.
    Other(Span),
}
