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
struct Value {
    said: Said,
    unit: Option<usize>,
    /// One past the last token.
    end: usize,
    form: Form,
    vague: bool,
}

impl<'a> Reader<'a> {
    fn chunk(&self, at: usize) -> Option<&'a Chunk> {
        self.chunks.get(at)
    }

    fn has(&self, at: usize, cue: Cue) -> bool {
        self.chunk(at).is_some_and(|c| c.cues.has(cue))
    }

    fn before(&self, at: usize, cue: Cue) -> bool {
        at > 0 && self.has(at - 1, cue)
    }

    fn mark(&self, at: usize) -> Option<char> {
        self.chunk(at)?.mark
    }

    pub fn slice(&self, from: usize, to: usize) -> String {
        self.chars.get(from..to).unwrap_or(&[]).iter().collect()
    }

    /// The chunk that starts at token `at`.
    fn chunk_at(&self, at: usize) -> Option<usize> {
        let index = self.chunks.partition_point(|c| c.tokens.0 < at);
        (self.chunk(index)?.tokens.0 == at).then_some(index)
    }

    /// First chunk that starts at or after token `at`.
    fn chunk_from(&self, at: usize) -> usize {
        self.chunks.partition_point(|c| c.tokens.0 < at)
    }

    fn unit(&self, index: usize) -> Option<&'a UnitWords> {
        self.words.units.get(index)
    }

    pub fn family(&self, unit: Option<usize>) -> &'a str {
        unit.and_then(|u| self.unit(u))
            .map_or("", |u| u.of.as_str())
    }

    /// The unit at token `at`; `digits` says that the number was typed in digits.
    fn unit_at(&self, at: usize, digits: bool) -> Option<(usize, usize)> {
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

    fn skip_glue(&self, at: usize) -> usize {
        let hyphen = self
            .tokens
            .get(at)
            .is_some_and(|t| t.is_mark('-') && !t.spaced);
        if hyphen { at + 1 } else { at }
    }

    /// A number and its unit from a number chunk.
    fn value(&self, number: &Number, designated: bool) -> Value {
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
        if self.family(Some(unit)) == "length"
            && said.bottom.is_none()
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
    fn unit_after(&self, at: usize, digits: bool) -> Option<(usize, usize)> {
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

    fn dimension(&self, at: usize) -> Option<&'static str> {
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
    fn one_left_out(&self, i: usize, taken: usize) -> Option<Number> {
        let chunk = self.chunk(i)?;
        let first = chunk.tokens.0;
        let (unit, end) = self.unit_at(first, false)?;
        if !matches!(self.unit(unit)?.symbol.as_str(), "in" | "ft" | "mi")
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

    /// "was two inches, now three": one size with the one before it.
    fn earlier_sizes(&self, out: &mut Vec<Placed>) {
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

    /// "to inches long": a recogniser's spelling of a number.
    fn homophone(&self, i: usize, has_condition: bool) -> Option<Placed> {
        let value = if self.has(i, Cue::SoundsTwo) {
            2
        } else if self.has(i, Cue::SoundsFour) {
            4
        } else {
            return None;
        };
        if !has_condition || (i > 0 && self.chunk(i - 1).is_some_and(|c| c.number.is_some())) {
            return None;
        }
        let chunk = self.chunk(i)?;
        if chunk.tokens.1 != chunk.tokens.0 + 1 {
            return None;
        }
        let (said, unit, end) = if let Some((unit, end)) = self.unit_at(chunk.tokens.1, false) {
            if self.family(Some(unit)) != "length" {
                return None;
            }
            (Said::whole(value), unit, end)
        } else {
            // "to 30 seconds" may be two thirty-seconds
            let next = self.chunk(i + 1)?.number.as_ref()?;
            let (seconds, end) = self.unit_at(next.end, true)?;
            if self.family(Some(seconds)) != "seconds" {
                return None;
            }
            let bottom = match next.said.value.to_string().as_str() {
                "30" => 32,
                "60" => 64,
                _ => return None,
            };
            let inch = self.words.units.iter().position(|u| u.symbol == "in")?;
            let mut end = end;
            if let Some((_, after)) = self.unit_after(end, true) {
                end = after;
            }
            (Said::fraction(value.into(), bottom)?, inch, end)
        };
        let end_chunk = self.chunk_from(end);
        let span = [
            chunk.span[0],
            self.chunk(end_chunk.saturating_sub(1))?.span[1],
        ];
        let symbol = self.unit(unit)?.symbol.clone();
        let as_said = self.slice(span[0], span[1]);
        let reading = format!("{} {symbol}", said.show());
        let mut quantity = "length";
        let mut stop = end_chunk;
        let mut named = false;
        if let Some(name) = self.dimension(end_chunk) {
            quantity = name;
            stop += 1;
            named = true;
        }
        Some(Placed {
            first: i,
            end: stop,
            fact: Fact::Measure {
                found: MeasureFound {
                    quantity: quantity.into(),
                    value: said.show(),
                    to: None,
                    unit: Some(symbol),
                    as_said: as_said.clone(),
                    vague: false,
                    was: None,
                    change: false,
                    from: span,
                },
                family: "length".into(),
                named,
                across: None,
                doubts: vec![Doubt::Number(vec![reading, "no size".to_owned()])],
            },
        })
    }

    /// "rib 2", "blade one", "station 85", "three o'clock".
    fn designated(&self, i: usize, number: &Number) -> Option<Placed> {
        let plain = matches!(number.form, Form::Whole | Form::Decimal | Form::Ordinal);
        let next = self.chunk_from(number.end);
        let chunk = self.chunk(i)?;
        if plain && self.has(next, Cue::OClock) {
            let end = next + 1;
            return Some(Placed {
                first: i,
                end,
                fact: Fact::At(At {
                    value: number.said.show(),
                    unit: Some("o'clock".into()),
                    feature: None,
                    direction: None,
                    from: [chunk.span[0], self.chunk(next)?.span[1]],
                }),
            });
        }
        if !plain {
            return None;
        }
        // "24 inch station"
        if let Some((unit, end)) = self.unit_after(number.end, true)
            && let Some(after) = self.chunk_at(end)
            && self.has(after, Cue::Station)
        {
            let station = self.chunk(after)?;
            return Some(Placed {
                first: i,
                end: after + 1,
                fact: Fact::At(At {
                    value: number.said.show(),
                    unit: self.unit(unit).map(|u| u.symbol.clone()),
                    feature: Some(self.slice(station.span[0], station.span[1]).to_lowercase()),
                    direction: None,
                    from: [chunk.span[0], station.span[1]],
                }),
            });
        }
        let mut before = i.checked_sub(1)?;
        if self.has(before, Cue::NumberWord) && before > 0 {
            before -= 1;
        }
        let number_word = before + 1 < i || self.has(i - 1, Cue::NumberWord);
        if self.has(before, Cue::Station) {
            let station = self.chunk(before)?;
            let (value, end) = match number.joined {
                Some((end, joined)) => (joined.show(), self.chunk_from(end)),
                None => (number.said.show(), next),
            };
            return Some(Placed {
                first: before,
                end,
                fact: Fact::At(At {
                    value,
                    unit: Some("station".into()),
                    feature: Some(self.slice(station.span[0], station.span[1]).to_lowercase()),
                    direction: None,
                    from: [station.span[0], self.chunk(end.saturating_sub(1))?.span[1]],
                }),
            });
        }
        if (number_word
            || self.has(before, Cue::Designator) && self.unit_after(number.end, true).is_none())
            && !number.said.value.is_zero()
            && number.said.value.denominator() == 1
        {
            return Some(Placed {
                first: i,
                end: next.max(i + 1),
                fact: Fact::Designator,
            });
        }
        None
    }

    /// Where a hedge before chunk `i` starts, if there is one.
    fn hedged(&self, i: usize, floor: usize) -> Option<usize> {
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

    fn size(
        &self,
        i: usize,
        number: &Number,
        has_condition: bool,
        floor: usize,
        dimension_used: &mut usize,
        earlier: &[Placed],
    ) -> Option<Placed> {
        let chunk = self.chunk(i)?;
        let one = self.value(number, false);
        let mut end = self.chunk_from(one.end);
        let mut unit = one.unit;
        let mut first = one.said;
        let mut second: Option<Said> = None;
        let mut across: Option<Value> = None;
        let start = self.hedged(i, floor);
        let mut vague = one.vague || start.is_some();
        let mut first_chunk = start.unwrap_or(i);
        let mut form = one.form;
        let typed_range = self.tokens.get(one.end).is_some_and(|t| t.is_mark('-'));
        // ", no," between two numbers: the first one was not meant
        if unit.is_none() && self.corrected(end) {
            return Some(Placed {
                first: i,
                end,
                fact: Fact::Designator,
            });
        }
        // a second number: range or second dimension
        let mut join = end;
        let mut by = false;
        let mut ranged = false;
        if typed_range {
            ranged = true;
            if self.mark(join) == Some('-') {
                join += 1;
            }
        } else if self.has(join, Cue::By) {
            by = true;
            join += 1;
        } else if self.mark(join) == Some(',')
            && self.has(join + 1, Cue::HedgeBefore)
            && unit.is_none()
        {
            // "two, maybe three inches"
            ranged = true;
            vague = true;
            join += 1;
        } else if self.has(join, Cue::To)
            || self.has(join, Cue::Or)
            || (first_chunk > 0
                && (self.before(first_chunk, Cue::Between) || self.has(first_chunk, Cue::Between))
                && self.has(join, Cue::And))
        {
            ranged = true;
            join += 1;
        }
        if ranged || by {
            while self.has(join, Cue::HedgeBefore)
                || (self.has(join, Cue::Filler)
                    && self
                        .chunk(join)
                        .is_some_and(|c| c.number.is_none() && c.mark.is_none()))
            {
                if self.has(join, Cue::HedgeBefore) {
                    vague = true;
                }
                join += 1;
            }
            let two = self
                .chunk(join)
                .and_then(|c| c.number.as_ref())
                .map(|n| self.value(n, false));
            if let Some(two) = two
                && !(two.unit.is_none()
                    && unit.is_none()
                    && self
                        .designated(join, self.chunk(join)?.number.as_ref()?)
                        .is_some())
                && (unit.is_none()
                    || two.unit.is_none()
                    || self.family(unit) == self.family(two.unit))
                && !matches!(self.family(two.unit), "seconds" | "time" | "hours")
            {
                let after = self.chunk_from(two.end);
                if ranged {
                    vague |= two.vague;
                    second = Some(two.said);
                    if unit.is_none() {
                        unit = two.unit;
                    } else if two.unit.is_some() && two.unit != unit {
                        // "half an inch to 20 mm": kept as two sizes, not converted here
                        second = None;
                    }
                    if second.is_some() {
                        form = two.form;
                        end = after;
                    }
                } else {
                    if unit.is_none() {
                        unit = two.unit;
                    }
                    end = after;
                    across = Some(two);
                }
            }
        }
        let family = self.family(unit);
        match family {
            "seconds" if unit_is(self, unit, "s") => {
                return Some(Placed {
                    first: i,
                    end,
                    fact: Fact::Time,
                });
            }
            "time" => {
                return Some(Placed {
                    first: i,
                    end,
                    fact: Fact::Time,
                });
            }
            "hours" | "landings" => {
                let span = [chunk.span[0], self.chunk(end.checked_sub(1)?)?.span[1]];
                let metered = self.before(i, Cue::Measures)
                    || self.nearby(i, end, Cue::Hours)
                    || self.nearby(i, end, Cue::Landings);
                if !metered {
                    return Some(Placed {
                        first: i,
                        end,
                        fact: Fact::Time,
                    });
                }
                return Some(Placed {
                    first: i,
                    end,
                    fact: Fact::Meter(self.plain(family, &first, unit, span)),
                });
            }
            _ => {}
        }
        if unit.is_none()
            && self.nearby(i, end, Cue::Hours)
            && matches!(form, Form::Whole | Form::Decimal)
        {
            let (said, end) = match number.joined {
                Some((joined_end, joined)) => self.hours(joined, joined_end),
                None => (first, end),
            };
            let span = [chunk.span[0], self.chunk(end.checked_sub(1)?)?.span[1]];
            let hours = self.words.units.iter().position(|u| u.symbol == "h");
            return Some(Placed {
                first: i,
                end,
                fact: Fact::Meter(self.plain("hours", &said, hours, span)),
            });
        }
        let span_end = self.chunk(end.checked_sub(1)?)?.span[1];
        let span = [chunk.span[0], span_end];
        // a position, not a size
        let runs = (1..=2).any(|back| {
            first_chunk >= floor + back
                && self.has(first_chunk - back, Cue::Extends)
                && (first_chunk - back..first_chunk).all(|c| self.mark(c).is_none())
        });
        if (unit.is_none() || family == "length") && !runs {
            let mut at = end;
            if self.has(at, Cue::HedgeAfter) {
                at += 1;
            }
            // "up to two inches from one and a half": the earlier size, no position
            let earlier = self.has(at, Cue::From)
                && has_condition
                && self.chunk(at + 1).is_some_and(|c| c.number.is_some())
                && self.raised(first_chunk, i);
            if earlier && let Some(before) = self.chunk(at + 1).and_then(|c| c.number.as_ref()) {
                let was = self.value(before, false);
                if was.unit.is_none() || was.unit == unit || unit.is_none() {
                    let end = self.chunk_from(was.end);
                    let span = [span[0], self.chunk(end.checked_sub(1)?)?.span[1]];
                    let unit = unit.or(was.unit);
                    let mut found = self.plain("", &one.said, unit, span);
                    found.was = Some(was.said.show());
                    let doubts = if unit.is_none() {
                        vec![Doubt::Unit(length_units())]
                    } else {
                        Vec::new()
                    };
                    return Some(Placed {
                        first: first_chunk,
                        end,
                        fact: Fact::Measure {
                            found,
                            family: self.family(unit).to_owned(),
                            named: false,
                            across: None,
                            doubts,
                        },
                    });
                }
            }
            let position =
                self.has(at, Cue::Direction) && (unit.is_some() || self.position_without_unit(at));
            if position && second.is_none() && across.is_none() {
                return Some(self.position(first_chunk, at, &first, unit, span));
            }
        }
        // what it is a size of
        let mut quantity = None;
        let mut stop = end;
        let mut look = end;
        if self.has(look, Cue::HedgeAfter)
            && !(self.has(look, Cue::HedgeBefore)
                && self.chunk(look + 1).is_some_and(|c| c.number.is_some()))
        {
            vague = true;
            look += 1;
            stop = look;
        }
        if let Some(name) = self.dimension(look) {
            quantity = Some(name);
            stop = look + 1;
        } else if self.has(look, Cue::Preposition)
            && let Some(name) = self.dimension(look + 1)
        {
            quantity = Some(name);
            stop = look + 2;
        }
        if quantity.is_some() && self.has(stop, Cue::HedgeAfter) {
            vague = true;
            stop += 1;
        }
        if quantity.is_none() {
            let mut at = first_chunk;
            for _ in 0..3 {
                if at == floor || at == 0 {
                    break;
                }
                at -= 1;
                if let Some(name) = self.dimension(at) {
                    if at != *dimension_used && at >= floor {
                        quantity = Some(name);
                        first_chunk = at;
                    }
                    break;
                }
                let through = self.chunk(at).is_some_and(|c| {
                    c.number.is_none()
                        && c.mark.is_none_or(|m| m == ':' || m == '=')
                        && (c.cues.has(Cue::Measures)
                            || c.cues.has(Cue::Filler)
                            || c.cues.has(Cue::HedgeBefore)
                            || c.mark.is_some())
                });
                if !through {
                    break;
                }
            }
        }
        *dimension_used = stop.saturating_sub(1);
        // growth
        let mut was = None;
        let mut change = false;
        let grown = self.grown_before(first_chunk, floor);
        let up_from =
            self.before(first_chunk, Cue::Earlier) && self.before(first_chunk, Cue::Direction);
        if self.before(first_chunk, Cue::From) || self.has(first_chunk, Cue::From) || up_from {
            if let Some(upper) = second
                && (up_from || self.grown_before(first_chunk.saturating_sub(1), floor))
            {
                was = Some(first);
                first = upper;
                second = None;
            }
        } else if grown && second.is_none() {
            change = true;
        }
        let shrunk = self.before(first_chunk, Cue::Shrunk) || self.has(stop, Cue::ShrunkAfter);
        change |= shrunk && has_condition;
        change |= self.has(stop, Cue::GrownAfter) && has_condition && was.is_none();
        // no unit: a size only where one is expected
        let mut doubts = Vec::new();
        let reads = if unit.is_some()
            || has_condition
            || !matches!(
                form,
                Form::Whole | Form::Decimal | Form::Mixed | Form::Fraction
            )
            || self.part_follows(stop)
        {
            None
        } else if self.nearby(i, end, Cue::OilFound) || self.nearby(i, end, Cue::OilAdded) {
            Some(("volume", ["US qt", "L"]))
        } else if self.nearby(i, end, Cue::Pressure) {
            Some(("pressure", ["psi", "bar"]))
        } else {
            None
        };
        if let Some((_, may)) = reads {
            doubts.push(Doubt::Unit(may.map(str::to_owned).to_vec()));
        } else if unit.is_none() {
            let corrects = earlier
                .iter()
                .rev()
                .find(|p| matches!(p.fact, Fact::Measure { .. }))
                .filter(|p| p.end <= first_chunk && first_chunk - p.end <= 4)
                .filter(|p| {
                    self.has(end, Cue::Now)
                        || (p.end..first_chunk).any(|c| {
                            self.has(c, Cue::Correction)
                                || self.has(c, Cue::CorrectionNo)
                                || self.has(c, Cue::Now)
                                || self.has(c, Cue::Earlier)
                        })
                });
            let inherited = corrects.and_then(|p| match &p.fact {
                Fact::Measure { found, .. } => found.unit.clone(),
                _ => None,
            });
            if let Some(symbol) = inherited {
                unit = self.words.units.iter().position(|u| u.symbol == symbol);
            } else {
                let lone = matches!(form, Form::Fraction | Form::Mixed | Form::Decimal)
                    && !self.part_follows(stop);
                let expected = quantity.is_some()
                    || lone
                    || change
                    || was.is_some()
                    || (matches!(form, Form::Whole)
                        && (start.is_some() || self.says_size(first_chunk))
                        && !self.part_follows(stop));
                let plausible = expected && has_condition
                    || quantity.is_some()
                    || was.is_some()
                    || (change && lone);
                // "the third screw" counts off a part; it is no size and no number of things.
                if matches!(form, Form::Ordinal | Form::BareFraction) && self.part_follows(stop) {
                    return None;
                }
                if !plausible
                    || matches!(form, Form::Ordinal | Form::BareFraction) && quantity.is_none()
                {
                    return self.count(i, number, end, has_condition);
                }
                doubts.push(Doubt::Unit(length_units()));
            }
        }
        let words_unit = unit.and_then(|u| self.unit(u));
        if let Some(times) = words_unit.and_then(|u| u.times)
            && let Some(value) = first.value.mul(&Rational::whole(times))
        {
            first = Said {
                value,
                bottom: None,
            };
        }
        if let Some(u) = words_unit
            && u.of == "unsure"
        {
            doubts.push(Doubt::Unit(u.may_be.clone()));
        }
        if let Some(u) = words_unit
            && u.of != "unsure"
            && (first.value > Rational::whole(u.most)
                || second.is_some_and(|s| s.value > Rational::whole(u.most)))
        {
            doubts.push(Doubt::Number(vec![
                format!("{} {}", first.show(), u.symbol),
                "another number".into(),
            ]));
        }
        let symbol = words_unit
            .filter(|u| u.of != "unsure")
            .map(|u| u.symbol.clone());
        let family = words_unit.map_or_else(
            || reads.map_or(String::new(), |(family, _)| family.to_owned()),
            |u| u.of.clone(),
        );
        let family = if family == "unsure" {
            "length".to_owned()
        } else {
            family
        };
        let found = MeasureFound {
            quantity: quantity.unwrap_or("").into(),
            value: first.show(),
            to: second.map(|s| s.show()),
            unit: symbol,
            as_said: self.slice(span[0], span[1]),
            vague,
            was: was.map(|s| s.show()),
            change,
            from: span,
        };
        Some(Placed {
            first: first_chunk,
            end: stop,
            fact: Fact::Measure {
                found,
                family,
                named: quantity.is_some(),
                across: across.map(|two| two.said.show()),
                doubts,
            },
        })
    }

    fn plain(
        &self,
        quantity: &str,
        said: &Said,
        unit: Option<usize>,
        span: [usize; 2],
    ) -> MeasureFound {
        MeasureFound {
            quantity: quantity.into(),
            value: said.show(),
            to: None,
            unit: unit.and_then(|u| self.unit(u)).map(|u| u.symbol.clone()),
            as_said: self.slice(span[0], span[1]),
            vague: false,
            was: None,
            change: false,
            from: span,
        }
    }

    /// "twenty three forty five point six" on an hour meter.
    fn hours(&self, whole: Said, end: usize) -> (Said, usize) {
        let at = self.chunk_from(end);
        if let Some(number) = self.chunk(at).and_then(|c| c.number.as_ref())
            && number.form == Form::Decimal
            && number.said.value < Rational::whole(1)
            && let Some(sum) = whole.plus(&number.said)
        {
            return (sum, self.chunk_from(number.end));
        }
        (whole, at)
    }

    /// A cue within four chunks on either side.
    fn nearby(&self, i: usize, end: usize, cue: Cue) -> bool {
        (i.saturating_sub(4)..i).any(|c| self.has(c, cue))
            || (end..end + 3).any(|c| self.has(c, cue))
    }

    /// "up to", "now", "grown to" before a size: it had another one before.
    fn raised(&self, first: usize, i: usize) -> bool {
        (first.saturating_sub(2)..=i).any(|c| {
            self.has(c, Cue::Grown)
                || self.has(c, Cue::Now)
                || self.chunk(c).is_some_and(|k| {
                    let said = self.slice(k.span[0], k.span[1]).to_lowercase();
                    k.cues.has(Cue::HedgeBefore) && said.ends_with(" to")
                })
        })
    }

    fn corrected(&self, mut at: usize) -> bool {
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

    fn grown_before(&self, at: usize, floor: usize) -> bool {
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
    fn growth_to(&self, at: usize) -> bool {
        self.has(at, Cue::To) && !self.has(at, Cue::HedgeBefore) || self.has(at, Cue::SoundsTwo)
    }

    fn says_size(&self, at: usize) -> bool {
        at > 0
            && (self.has(at - 1, Cue::Measures) || self.mark(at - 1) == Some(','))
            && !self.has(at - 1, Cue::Designator)
    }

    fn part_follows(&self, at: usize) -> bool {
        let entry = |c: usize| {
            self.chunk(c)
                .and_then(|k| k.node)
                .and_then(|n| self.lexicon.tree.get(n))
        };
        (at..at + 3)
            .take_while(|c| {
                self.chunk(*c)
                    .is_some_and(|k| k.mark.is_none() && k.number.is_none())
            })
            .any(|c| {
                entry(c).is_some_and(|e| {
                    e.cues.has(Cue::Part)
                        || e.place_word
                        || !e.places.is_empty()
                        || !e.conditions.is_empty()
                })
            })
            && !self.has(at, Cue::Preposition)
    }

    fn position_without_unit(&self, at: usize) -> bool {
        self.has(at, Cue::Direction)
            && self.chunk(at).is_some_and(|c| c.tokens.1 > c.tokens.0 + 1)
            && !self.has(at, Cue::Preposition)
    }

    fn position(
        &self,
        first: usize,
        at: usize,
        said: &Said,
        unit: Option<usize>,
        span: [usize; 2],
    ) -> Placed {
        let mut end = at + 1;
        let direction = self
            .chunk(at)
            .map(|c| self.slice(c.span[0], c.span[1]).to_lowercase());
        while self.has(end, Cue::Direction)
            && self.chunk(end).is_some_and(|c| c.number.is_none())
            && !self.has(end, Cue::Part)
        {
            end += 1;
        }
        if self
            .chunk(end)
            .is_some_and(|c| self.slice(c.span[0], c.span[1]).eq_ignore_ascii_case("of"))
        {
            end += 1;
        }
        while self.has(end, Cue::Determiner) {
            end += 1;
        }
        let from = end;
        while let Some(c) = self.chunk(end) {
            let entry = c.node.and_then(|n| self.lexicon.tree.get(n));
            let condition = entry.is_some_and(|e| !e.conditions.is_empty());
            let place = entry.is_some_and(|e| e.place_word || !e.places.is_empty());
            let stops = c.mark.is_some()
                || c.number.as_ref().is_some_and(|n| {
                    n.form != Form::BareFraction && !self.before(end, Cue::Designator)
                })
                || condition && !place
                || !place
                    && !c.cues.has(Cue::Part)
                    && !c.cues.has(Cue::PartModifier)
                    && !c.cues.has(Cue::Left)
                    && !c.cues.has(Cue::Right)
                    && c.node.is_some();
            if stops || end - from >= 4 {
                break;
            }
            end += 1;
        }
        let feature = (end > from).then(|| {
            let a = self.chunk(from).map_or(0, |c| c.span[0]);
            let b = self.chunk(end - 1).map_or(0, |c| c.span[1]);
            self.slice(a, b).to_lowercase()
        });
        let last = self
            .chunk(end.saturating_sub(1))
            .map_or(span[1], |c| c.span[1]);
        Placed {
            first,
            end,
            fact: Fact::At(At {
                value: said.show(),
                unit: unit.and_then(|u| self.unit(u)).map(|u| u.symbol.clone()),
                feature,
                direction,
                from: [span[0], last],
            }),
        }
    }

    /// "three rivets missing", "two nicks".
    fn count(&self, i: usize, number: &Number, end: usize, has_condition: bool) -> Option<Placed> {
        if number.form != Form::Whole || number.said.value < Rational::whole(2) || !has_condition {
            return None;
        }
        if !self.part_follows(end) || self.has(end, Cue::Preposition) {
            return None;
        }
        let chunk = self.chunk(i)?;
        Some(Placed {
            first: i,
            end: i + 1,
            fact: Fact::Count(Count {
                value: number.said.show(),
                from: chunk.span,
            }),
        })
    }
}

/// What a length without a unit may be in.
fn length_units() -> Vec<String> {
    ["in", "mm", "thou", "cm"].map(str::to_owned).to_vec()
}

fn unit_is(reader: &Reader<'_>, unit: Option<usize>, symbol: &str) -> bool {
    unit.and_then(|u| reader.unit(u))
        .is_some_and(|u| u.symbol == symbol)
}
