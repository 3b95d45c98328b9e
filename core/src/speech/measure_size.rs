//! One number with what stands round it, to a size.

use super::draft::MeasureFound;
use super::measure::{Doubt, Fact, Placed, Reader, Value};
use super::number::{Form, Number, Said};
use super::words::Cue;
use crate::quantity::Rational;

impl<'a> Reader<'a> {
    pub(super) fn size(
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
            // "third from the end" counts off
            if position && unit.is_none() && matches!(form, Form::Ordinal | Form::BareFraction) {
                return None;
            }
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
        } else if self.has(end, Cue::Preposition)
            && (end + 1..end + 4).any(|c| self.has(c, Cue::Lone))
            && (Rational::whole(10)..Rational::whole(150)).contains(&first.value)
        {
            // "thirty two in the left main"
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

    pub(super) fn plain(
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
    pub(super) fn hours(&self, whole: Said, end: usize) -> (Said, usize) {
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
}

/// What a length without a unit may be in.
pub(super) fn length_units() -> Vec<String> {
    ["in", "mm", "thou", "cm"].map(str::to_owned).to_vec()
}

pub(super) fn unit_is(reader: &Reader<'_>, unit: Option<usize>, symbol: &str) -> bool {
    unit.and_then(|u| reader.unit(u))
        .is_some_and(|u| u.symbol == symbol)
}
