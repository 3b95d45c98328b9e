//! What came before a size: hedges, corrections, growth and earlier sizes.

use super::measure::{Fact, Placed, Reader};
use super::words::Cue;

impl Reader<'_> {
    /// "was two inches, now three": one size with the one before it.
    pub(super) fn earlier_sizes(&self, out: &mut Vec<Placed>) {
        let mut k = 0;
        while k + 1 < out.len() {
            let (Some(a), Some(b)) = (out.get(k), out.get(k + 1)) else {
                break;
            };
            let (
                Fact::Measure {
                    found: first,
                    family: f1,
                    ..
                },
                Fact::Measure {
                    found: second,
                    family: f2,
                    ..
                },
            ) = (&a.fact, &b.fact)
            else {
                k += 1;
                continue;
            };
            let early = |at: usize| {
                (at.saturating_sub(2)..=at)
                    .any(|c| self.has(c, Cue::Earlier) && !self.has(c, Cue::From))
            };
            let now = (a.end..=b.first).any(|c| self.has(c, Cue::Now) || self.has(c, Cue::Grown))
                || self.has(b.end, Cue::Now);
            let near = b.first.saturating_sub(a.end) <= 5;
            let same = f1 == f2 || f1.is_empty() || f2.is_empty();
            if same
                && near
                && first.was.is_none()
                && second.was.is_none()
                && early(a.first)
                && (now || !early(b.first))
            {
                let value = first.value.clone();
                if let Some(Placed {
                    fact: Fact::Measure { found, .. },
                    ..
                }) = out.get_mut(k + 1)
                {
                    found.was = Some(value);
                    found.change = false;
                }
                out.remove(k);
                continue;
            }
            if same
                && near
                && second.was.is_none()
                && first.was.is_none()
                && early(b.first)
                && b.first > a.end
            {
                let value = second.value.clone();
                if let Some(Placed {
                    fact: Fact::Measure { found, .. },
                    ..
                }) = out.get_mut(k)
                {
                    found.was = Some(value);
                    found.change = false;
                }
                out.remove(k + 1);
                continue;
            }
            k += 1;
        }
    }

    /// "up to", "now", "grown to" before a size: it had another one before.
    pub(super) fn raised(&self, first: usize, i: usize) -> bool {
        (first.saturating_sub(2)..=i).any(|c| {
            self.has(c, Cue::Grown)
                || self.has(c, Cue::Now)
                || self.chunk(c).is_some_and(|k| {
                    let said = self.slice(k.span[0], k.span[1]).to_lowercase();
                    k.cues.has(Cue::HedgeBefore) && said.ends_with(" to")
                })
        })
    }

    pub(super) fn corrected(&self, mut at: usize) -> bool {
        if self.mark(at) == Some(',') {
            at += 1;
        }
        let is = self.has(at, Cue::Correction) || self.has(at, Cue::CorrectionNo);
        let mut next = at + 1;
        if self.mark(next) == Some(',') {
            next += 1;
        }
        is && (self.chunk(next).is_some_and(|c| c.number.is_some())
            || self.has(next, Cue::HedgeBefore)
                && self.chunk(next + 1).is_some_and(|c| c.number.is_some()))
    }

    pub(super) fn grown_before(&self, at: usize, floor: usize) -> bool {
        (1..=3).any(|back| {
            at >= floor + back && {
                let c = at - back;
                self.has(c, Cue::Grown)
                    && !self.has(c, Cue::Extends)
                    && (c + 1..at).all(|m| {
                        self.chunk(m).is_some_and(|k| {
                            k.number.is_none()
                                && k.mark.is_none()
                                && (k.cues.has(Cue::HedgeBefore)
                                    || k.cues.has(Cue::By)
                                    || k.cues.has(Cue::Another)
                                    || k.cues.has(Cue::Filler))
                                && !k.cues.has(Cue::Preposition)
                                || k.cues.has(Cue::By)
                        })
                    })
                    && !self.growth_to(c + 1)
            }
        })
    }

    /// "grown to two inches": the number is the present size, not the growth.
    pub(super) fn growth_to(&self, at: usize) -> bool {
        self.has(at, Cue::To) && !self.has(at, Cue::HedgeBefore) || self.has(at, Cue::SoundsTwo)
    }

    pub(super) fn says_size(&self, at: usize) -> bool {
        at > 0
            && (self.has(at - 1, Cue::Measures) || self.mark(at - 1) == Some(','))
            && !self.has(at - 1, Cue::Designator)
    }

    /// A cue within four chunks on either side.
    pub(super) fn nearby(&self, i: usize, end: usize, cue: Cue) -> bool {
        (i.saturating_sub(4)..i).any(|c| self.has(c, cue))
            || (end..end + 3).any(|c| self.has(c, cue))
    }

    /// Where a hedge before chunk `i` starts, if there is one.
    pub(super) fn hedged(&self, i: usize, floor: usize) -> Option<usize> {
        let mut at = i;
        for _ in 0..2 {
            if at > floor && self.before(at, Cue::HedgeBefore) {
                at -= 1;
            } else if at > floor + 1
                && self.has(at - 2, Cue::HedgeBefore)
                && self
                    .chunk(at - 1)
                    .is_some_and(|c| c.cues.has(Cue::Determiner))
            {
                at -= 2;
            }
        }
        (at < i).then_some(at)
    }
}
