//! An item while it is being put together.

use super::draft::{At, Count, MeasureFound, PartFound};
use super::event::{Denied, Mention};
use super::measure::Doubt;
use super::place::Hand;

/// A size with what has to be asked about it.
#[derive(Debug, Clone)]
pub(super) struct Size {
    pub(super) found: MeasureFound,
    pub(super) family: String,
    pub(super) named: bool,
    pub(super) across: Option<String>,
    pub(super) doubts: Vec<Doubt>,
}

/// Place words on their way to a zone.
#[derive(Debug, Clone, Default)]
pub(super) struct Where {
    pub(super) mentions: Vec<Mention>,
    pub(super) sides: Vec<(Hand, [usize; 2])>,
    pub(super) both: bool,
    pub(super) part: Option<PartFound>,
    pub(super) at: Option<At>,
    pub(super) lone: Option<Mention>,
}

impl Where {
    pub(super) fn is_empty(&self) -> bool {
        self.mentions.is_empty() && self.sides.is_empty() && !self.both
    }
}

/// An item being put together.
#[derive(Debug, Clone, Default)]
pub(super) struct Making {
    pub(super) place: Where,
    /// The place was said for this item, not carried over.
    pub(super) own_place: bool,
    pub(super) condition: Option<(usize, [usize; 2])>,
    pub(super) denied: Option<Denied>,
    pub(super) look: Option<&'static str>,
    pub(super) basis: Option<&'static str>,
    pub(super) compare: Option<&'static str>,
    pub(super) gone: bool,
    pub(super) sizes: Vec<Size>,
    pub(super) count: Option<Count>,
    pub(super) reading: Option<&'static str>,
    pub(super) meter: Vec<MeasureFound>,
    pub(super) why: Option<String>,
    pub(super) since: Option<String>,
    pub(super) unsure: bool,
    pub(super) or_else: Option<usize>,
    pub(super) sentence: usize,
}

impl Making {
    pub(super) fn settled(&self) -> bool {
        self.condition.is_some() || self.look.is_some()
    }

    pub(super) fn says_something(&self) -> bool {
        self.settled() || !self.sizes.is_empty() || !self.meter.is_empty() || self.compare.is_some()
    }
}
