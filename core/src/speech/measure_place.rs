//! Numbers that are no sizes: designators, stations, clock positions, distances, counts; and numbers by their sound.

use super::draft::{At, Count, MeasureFound};
use super::measure::{Doubt, Fact, Placed, Reader};
use super::number::{Form, Number, Said};
use super::words::Cue;
use crate::quantity::Rational;

impl Reader<'_> {
    /// "rib 2", "blade one", "station 85", "three o'clock".
    pub(super) fn designated(&self, i: usize, number: &Number) -> Option<Placed> {
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

    pub(super) fn position_without_unit(&self, at: usize) -> bool {
        self.has(at, Cue::Direction)
            && self.chunk(at).is_some_and(|c| c.tokens.1 > c.tokens.0 + 1)
            && !self.has(at, Cue::Preposition)
    }

    pub(super) fn position(
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
    pub(super) fn count(
        &self,
        i: usize,
        number: &Number,
        end: usize,
        has_condition: bool,
    ) -> Option<Placed> {
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

    /// "to inches long": a recogniser's spelling of a number.
    pub(super) fn homophone(&self, i: usize, has_condition: bool) -> Option<Placed> {
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

    pub(super) fn part_follows(&self, at: usize) -> bool {
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
}
