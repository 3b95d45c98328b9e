//! Numbers with what stands round them, to sizes, positions, counts and designators.

use super::draft::{At, Count, MeasureFound};
use super::lexicon::{Chunk, Lexicon};
use super::number::{Form, Number, Said};
use super::token::{Shape, Token};
use super::words::{Cue, UnitWords, Words};
use crate::quantity::Rational;

/// What a listener would ask about a number.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Doubt {
    /// No unit, or one that means two things; the units it may be.
    Unit(Vec<String>),
    /// It may be another number; the readings it may be.
    Number(Vec<String>),
}

/// What a run of chunks turned out to be.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Fact {
    Measure {
        found: MeasureFound,
        /// What the unit measures: `length`, `pressure`, `pound` …
        family: String,
        /// The dimension was said.
        named: bool,
        /// The second size of "two by three inches".
        across: Option<String>,
        doubts: Vec<Doubt>,
    },
    At(At),
    Count(Count),
    /// A number that belongs to the part before it (`rib 2`).
    Designator,
    /// A time or a date.
    Time,
    /// Hours or landings of a meter.
    Meter(MeasureFound),
}

/// A fact and the chunks it covers.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Placed {
    pub first: usize,
    pub end: usize,
    pub fact: Fact,
}

/// What the search for sizes needs to see.
pub(crate) struct Reader<'a> {
    pub words: &'a Words,
    pub lexicon: &'a Lexicon,
    pub tokens: &'a [Token],
    pub chunks: &'a [Chunk],
    pub chars: &'a [char],
}

/// A value with its unit and where it ends.
pub(super) struct Value {
    pub(super) said: Said,
    pub(super) unit: Option<usize>,
    /// One past the last token.
    pub(super) end: usize,
    pub(super) form: Form,
    pub(super) vague: bool,
}

impl<'a> Reader<'a> {
    pub(super) fn chunk(&self, at: usize) -> Option<&'a Chunk> {
        self.chunks.get(at)
    }

    pub(super) fn has(&self, at: usize, cue: Cue) -> bool {
        self.chunk(at).is_some_and(|c| c.cues.has(cue))
    }

    pub(super) fn before(&self, at: usize, cue: Cue) -> bool {
        at > 0 && self.has(at - 1, cue)
    }

    pub(super) fn mark(&self, at: usize) -> Option<char> {
        self.chunk(at)?.mark
    }

    pub fn slice(&self, from: usize, to: usize) -> String {
        self.chars.get(from..to).unwrap_or(&[]).iter().collect()
    }

    /// The chunk that starts at token `at`.
    pub(super) fn chunk_at(&self, at: usize) -> Option<usize> {
        let index = self.chunks.partition_point(|c| c.tokens.0 < at);
        (self.chunk(index)?.tokens.0 == at).then_some(index)
    }

    /// First chunk that starts at or after token `at`.
    pub(super) fn chunk_from(&self, at: usize) -> usize {
        self.chunks.partition_point(|c| c.tokens.0 < at)
    }

    pub(super) fn unit(&self, index: usize) -> Option<&'a UnitWords> {
        self.words.units.get(index)
    }

    pub fn family(&self, unit: Option<usize>) -> &'a str {
        unit.and_then(|u| self.unit(u))
            .map_or("", |u| u.of.as_str())
    }

    /// The unit at token `at`; `digits` says that the number was typed in digits.
    pub(super) fn unit_at(&self, at: usize, digits: bool) -> Option<(usize, usize)> {
        let index = self.chunk_at(at)?;
        let chunk = self.chunk(index)?;
        let unit = self.lexicon.tree.get(chunk.node?)?.unit?;
        let token = self.tokens.get(at)?;
        let short = token.text.chars().count() <= 2 && chunk.tokens.1 == chunk.tokens.0 + 1;
        // "2 in the flap", "2 m": single letters and "in" are units only after digits.
        if short && matches!(token.text.as_str(), "in" | "m" | "l" | "'") {
            if !digits {
                return None;
            }
            if token.text == "in"
                && self.chunk(index + 1).is_some_and(|next| {
                    next.cues.has(Cue::Determiner)
                        || next.cues.has(Cue::Left)
                        || next.cues.has(Cue::Right)
                        || next
                            .node
                            .and_then(|n| self.lexicon.tree.get(n))
                            .is_some_and(|e| e.place_word || !e.places.is_empty())
                })
                && token.spaced
            {
                return None;
            }
        }
        Some((unit, chunk.tokens.1))
    }

    pub(super) fn skip_glue(&self, at: usize) -> usize {
        let hyphen = self
            .tokens
            .get(at)
            .is_some_and(|t| t.is_mark('-') && !t.spaced);
        if hyphen { at + 1 } else { at }
    }

    /// A number and its unit from a number chunk.
    pub(super) fn value(&self, number: &Number, designated: bool) -> Value {
        let digits = self
            .tokens
            .get(number.first)
            .is_some_and(|t| matches!(t.shape, Shape::Digits | Shape::Fraction(..)));
        let mut said = number.said;
        let mut end = number.end;
        let mut form = number.form;
        if let Some((joined_end, joined)) = number.joined
            && !designated
            && joined_end > number.end
            && self.unit_after(joined_end, digits).is_some()
        {
            said = joined;
            end = joined_end;
            form = Form::Whole;
        }
        let mut vague = number.vague;
        // "2ish inches", "two-ish"
        let ish = self.skip_glue(end);
        if self
            .tokens
            .get(ish)
            .is_some_and(|t| t.text == "ish" && !t.spaced)
        {
            vague = true;
            end = ish + 1;
        }
        let Some((mut unit, mut unit_end)) = self.unit_after(end, digits) else {
            return Value {
                said,
                unit: None,
                end,
                form,
                vague,
            };
        };
        let symbol = |u: usize| self.unit(u).map_or("", |u| u.symbol.as_str());
        // "thirty thousandths of an inch" says the same as "thirty thou"; "of a millimetre" does not.
        if symbol(unit) == "thou" && self.lexicon.numbers.of(self.tokens, unit_end) {
            let mut at = unit_end + 1;
            if self.lexicon.numbers.article(self.tokens, at) {
                at += 1;
            }
            if let Some((of, after)) = self.unit_at(at, false)
                && self.family(Some(of)) == "length"
            {
                unit_end = after;
                if symbol(of) != "in"
                    && let Some(small) = said.value.div(&Rational::whole(1000))
                {
                    said = Said {
                        value: small,
                        bottom: None,
                    };
                    unit = of;
                }
            }
        }
        end = unit_end;
        // "two inches and a half", "an inch and three eighths"
        if matches!(
            self.family(Some(unit)),
            "length" | "volume" | "pound" | "pressure"
        ) && said.bottom.is_none()
            && self.lexicon.numbers.and(self.tokens, end)
            && let Some((more, after)) = self.lexicon.numbers.proper(self.tokens, end + 1)
        {
            let own = self.unit_after(after, false);
            let fits = own.is_none_or(|(u, _)| u == unit)
                && !self.chunk_at(after).is_some_and(|c| {
                    self.has(c, Cue::Width) || self.has(c, Cue::Depth) || self.has(c, Cue::Part)
                });
            if fits && let Some(sum) = said.plus(&more) {
                said = sum;
                form = Form::Mixed;
                end = own.map_or(after, |(_, e)| e);
            }
        }
        // "two feet three inches"
        if symbol(unit) == "ft"
            && let Some(next) = self.chunk_at(end)
            && let Some(more) = self.chunk(next).and_then(|c| c.number.as_ref())
            && let Some((inches, after)) = self.unit_after(more.end, true)
            && symbol(inches) == "in"
            && let Some(feet) = said.value.mul(&Rational::whole(12))
            && let Some(sum) = (Said {
                value: feet,
                bottom: None,
            })
            .plus(&more.said)
        {
            said = sum;
            unit = inches;
            end = after;
        }
        Value {
            said,
            unit: Some(unit),
            end,
            form,
            vague,
        }
    }

    /// A unit at `at`, `of an` before it allowed.
    pub(super) fn unit_after(&self, at: usize, digits: bool) -> Option<(usize, usize)> {
        let at = self.skip_glue(at);
        if let Some(found) = self.unit_at(at, digits) {
            return Some(found);
        }
        let mut next = at;
        if self.lexicon.numbers.of(self.tokens, next) {
            next += 1;
        }
        if self.lexicon.numbers.article(self.tokens, next) {
            next += 1;
        }
        (next > at)
            .then(|| self.unit_at(next, false))
            .flatten()
            .filter(|(unit, _)| !matches!(self.family(Some(*unit)), "seconds" | "landings"))
    }

    pub(super) fn dimension(&self, at: usize) -> Option<&'static str> {
        [
            (Cue::Length, "length"),
            (Cue::Width, "width"),
            (Cue::Depth, "depth"),
            (Cue::Diameter, "diameter"),
            (Cue::Height, "height"),
            (Cue::Thickness, "thickness"),
            (Cue::Gap, "play"),
            (Cue::Area, "area"),
        ]
        .into_iter()
        .find_map(|(cue, name)| self.has(at, cue).then_some(name))
    }

    /// Goes through all chunks once.
    pub fn facts(&self, has_condition: bool) -> Vec<Placed> {
        let mut out: Vec<Placed> = Vec::new();
        let mut i = 0;
        let mut dimension_used = usize::MAX;
        while i < self.chunks.len() {
            let Some(chunk) = self.chunk(i) else { break };
            let taken = out.last().map_or(0, |p| p.end);
            if i < taken {
                i += 1;
                continue;
            }
            let Some(number) = &chunk.number else {
                if let Some(number) = self.one_left_out(i, taken)
                    && let Some(placed) =
                        self.size(i, &number, has_condition, taken, &mut dimension_used, &out)
                {
                    i = placed.end.max(i + 1);
                    out.push(placed);
                    continue;
                }
                if let Some(placed) = self.homophone(i, has_condition) {
                    i = placed.end;
                    out.push(placed);
                    continue;
                }
                i += 1;
                continue;
            };
            if let Some(placed) = self.designated(i, number) {
                i = placed.end;
                out.push(placed);
                continue;
            }
            match self.size(i, number, has_condition, taken, &mut dimension_used, &out) {
                Some(placed) => {
                    i = placed.end.max(i + 1);
                    out.push(placed);
                }
                None => i += 1,
            }
        }
        self.earlier_sizes(&mut out);
        out
    }

    /// "inch and a half": the one before the unit is left out.
    pub(super) fn one_left_out(&self, i: usize, taken: usize) -> Option<Number> {
        let chunk = self.chunk(i)?;
        let first = chunk.tokens.0;
        let (unit, end) = self.unit_at(first, false)?;
        let whole = matches!(self.unit(unit)?.symbol.as_str(), "in" | "ft" | "mi");
        if !(whole || self.family(Some(unit)) == "volume")
            || i > taken && self.chunk(i - 1).is_some_and(|c| c.number.is_some())
            || !self.lexicon.numbers.and(self.tokens, end)
        {
            return None;
        }
        self.lexicon.numbers.proper(self.tokens, end + 1)?;
        Some(Number {
            first,
            end: first,
            said: Said::whole(1),
            form: Form::Whole,
            vague: false,
            joined: None,
        })
    }
}
