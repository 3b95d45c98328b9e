//! Which zone an item is in: the finest of the places said, a part, what a position counts from.

use super::draft::{Item, PartFound, Question, ZoneFound};
use super::event::Mention;
use super::items::Maker;
use super::making::{Making, Where};
use super::place::{Hand, Meaning};

impl Maker<'_> {
    /// "number two exhaust" on a twin: engines are counted from the left.
    pub(super) fn numbered_engine(&self, words: &[u32]) -> Hand {
        let has = |word: &str| words.contains(&self.v.lexicon.id(word));
        let first = self.v.lexicon.id("number");
        if first == 0 || !words.contains(&first) {
            return Hand::None;
        }
        match (has("one"), has("two")) {
            (true, false) => Hand::Left,
            (false, true) => Hand::Right,
            _ => Hand::None,
        }
    }

    /// "four inches forward of the left static port": what a position counts from is the place.
    pub(super) fn zone_of_feature(&self, place: &Where, hand: Hand, item: &mut Item) {
        let Some(at) = &place.at else { return };
        let Some(feature) = &at.feature else { return };
        let tokens = super::token::tokens(feature);
        let words: Vec<u32> = self
            .v
            .lexicon
            .flat(&self.v.words, &tokens)
            .iter()
            .map(|f| f.word)
            .filter(|w| *w != 0)
            .collect();
        let side_of = |cue| {
            self.v
                .words
                .cues
                .get(&cue)
                .into_iter()
                .flatten()
                .any(|w| words.contains(&self.v.lexicon.id(w)))
        };
        let hand = if hand != Hand::None {
            hand
        } else if side_of(super::words::Cue::Left) {
            Hand::Left
        } else if side_of(super::words::Cue::Right) {
            Hand::Right
        } else {
            hand
        };
        let implied = self
            .v
            .words
            .feature_implies
            .iter()
            .find(|(said, _)| feature.contains(said.as_str()))
            .map(|(_, place)| {
                let tokens = super::token::tokens(place);
                let flat = self.v.lexicon.flat(&self.v.words, &tokens);
                flat.iter().map(|f| f.word).collect::<Vec<u32>>()
            });
        let words = implied.unwrap_or(words);
        if let Meaning::One(zone, sure) = self.v.places.meaning(&words, &[], hand, self.stop)
            && let Some(found) = self.v.places.zones.get(zone)
        {
            if found.side == Hand::None && !place.sides.is_empty() && !place.mentions.is_empty() {
                return;
            }
            item.side = found.side.word().into();
            item.zone = Some(ZoneFound {
                code: found.code.clone(),
                name: found.name.clone(),
                from: at.from,
                sure: sure.min(0.8),
            });
        }
    }

    /// Folded words of a text that some list has.
    pub(super) fn words_of(&self, text: &str) -> Vec<u32> {
        let tokens = super::token::tokens(text);
        let flat = self.v.lexicon.flat(&self.v.words, &tokens);
        flat.iter().map(|f| f.word).filter(|w| *w != 0).collect()
    }

    /// "brake line": the words of the part may name the zone as well.
    pub(super) fn zone_of_part(&self, hand: Hand, item: &mut Item) {
        let Some(part) = &item.part else { return };
        let words = self.words_of(&part.name);
        let named = self.v.places.meaning(&words, &[], hand, self.stop);
        let meaning = match named {
            Meaning::One(..) => named,
            _ => self.v.places.of_part(&words, hand, self.stop),
        };
        if let Meaning::One(zone, sure) = meaning
            && let Some(found) = self.v.places.zones.get(zone)
        {
            if found.side != Hand::None {
                item.side = found.side.word().into();
            }
            item.zone = Some(ZoneFound {
                code: found.code.clone(),
                name: found.name.clone(),
                from: part.from,
                sure: sure.min(0.8),
            });
        }
    }

    pub(super) fn zone(
        &self,
        making: &Making,
        hand: Hand,
        conflict: bool,
        item: &mut Item,
        questions: &mut Vec<Question>,
        number: usize,
    ) {
        let place = &making.place;
        item.part = place.part.clone();
        let mentions = &place.mentions;
        if conflict {
            questions.push(Question {
                about: "side".into(),
                asked: self.v.sentence("ask_side", &[("words", "it")]),
                choices: vec!["left".into(), "right".into()],
                item: number,
                measure: None,
                codes: Vec::new(),
            });
        }
        // "the brake hose rubs against the leg"
        if !mentions.is_empty() && mentions.iter().all(|m| m.landmark) {
            self.zone_of_part(hand, item);
            if item.zone.is_some() {
                return;
            }
        }
        if mentions.is_empty() {
            self.zone_of_part(hand, item);
            if item.zone.is_none() {
                self.zone_of_feature(place, hand, item);
            }
            return;
        }
        // the finest of what was said, the first of equals
        let own = |m: &&Mention| !m.landmark && m.full && !self.v.places.is_broad(&m.words);
        let mut solid: Vec<&Mention> = mentions.iter().filter(|m| !m.partish).collect();
        // "the leading edge near the strut": what stands near is the place only where nothing else is
        let weak = |m: &&Mention| m.landmark || self.v.places.is_broad(&m.words);
        if solid.iter().all(weak) && mentions.iter().any(|m| own(&m)) {
            solid = mentions.iter().filter(own).collect();
        }
        let pool: Vec<&Mention> = if solid.is_empty() {
            mentions.iter().collect()
        } else {
            solid
        };
        let main = pool
            .iter()
            .find(|m| own(m))
            .or_else(|| {
                pool.iter()
                    .find(|m| m.full && !self.v.places.is_broad(&m.words))
            })
            .or_else(|| pool.iter().find(|m| !self.v.places.is_broad(&m.words)))
            .or_else(|| pool.first())
            .copied();
        let Some(main) = main else { return };
        let mut rest: Vec<u32> = mentions
            .iter()
            .filter(|m| *m != main)
            .flat_map(|m| m.words.iter().copied())
            .collect();
        // "the outboard hinge of the aileron"
        let part_words = place.part.as_ref().map(|p| self.words_of(&p.name));
        rest.extend(part_words.iter().flatten());
        // "the tire on the nose"
        if let Some(lone) = &place.lone {
            rest.extend(&lone.words);
        }
        // "on the right side of the aft fuselage": the word for a side is part of the place's name
        let side_word = self.v.lexicon.id("side");
        let by_side = place.sides.iter().any(|(_, span)| {
            let text: String = self
                .chars
                .get(span[0]..span[1])
                .unwrap_or(&[])
                .iter()
                .collect();
            text.to_lowercase().contains("side")
        });
        if by_side && side_word != 0 {
            rest.push(side_word);
        }
        let hand = if hand == Hand::None && !conflict {
            self.numbered_engine(&main.words)
        } else {
            hand
        };
        let side = if conflict { Hand::None } else { hand };
        // "four inches below the fuel cap on the left wing": the cap is the finer place
        if self.v.places.is_broad(&main.words) && !conflict {
            self.zone_of_feature(place, hand, item);
            if item.zone.is_some() {
                return;
            }
        }
        let mut said = main.words.clone();
        if main.under && self.v.places.is_broad(&main.words) {
            said.push(self.v.lexicon.id("underside"));
        } else if main.under {
            // "under the cowl" is the lower one
            rest.push(self.v.lexicon.id("lower"));
        }
        let mut meaning = self.v.places.meaning(&said, &rest, side, self.stop);
        if meaning == Meaning::Unknown && side != Hand::None {
            meaning = self
                .v
                .places
                .meaning(&main.words, &rest, Hand::None, self.stop);
        }
        // "tank drain": the last word of a compound says what it is
        let next = mentions.iter().find(|m| {
            !m.noun && !m.full && m.span[0] > main.span[1] && m.span[0] - main.span[1] <= 1
        });
        if let Some(next) = next {
            let mut words = main.words.clone();
            words.extend(&next.words);
            let head = next.words.last().copied();
            let found = self.v.places.headed(head, &words, &[], side, self.stop);
            if matches!(found, Meaning::One(..) | Meaning::Sides(_)) {
                meaning = found;
            }
        }
        // "tank drain", where the tank has no such part
        let right_behind = |from: usize| from > main.span[1] && from - main.span[1] <= 1;
        let tail = mentions
            .iter()
            .find(|m| m.noun && !m.full && right_behind(m.span[0]))
            .map(|m| m.words.as_slice())
            .or_else(|| {
                let part = place.part.as_ref()?;
                part_words.as_deref().filter(|_| right_behind(part.from[0]))
            });
        if let (Some(words), Meaning::One(zone, _)) = (tail, &meaning)
            && !self.v.places.has_part(*zone, words)
        {
            let mut all = main.words.clone();
            all.extend(words);
            let head = words.last().copied();
            let found = self.v.places.headed(head, &all, &[], side, self.stop);
            if let Meaning::One(other, _) = found
                && self.v.places.together(*zone, other)
            {
                meaning = found;
            }
        }
        // words that fit many zones, beside words that fit one
        if matches!(meaning, Meaning::Several(_) | Meaning::Unknown) {
            let clear = mentions.iter().filter(|m| *m != main).find_map(|m| {
                let found = self
                    .v
                    .places
                    .meaning(&m.words, &main.words, side, self.stop);
                matches!(found, Meaning::One(..) | Meaning::Sides(_)).then_some(found)
            });
            meaning = clear.unwrap_or(meaning);
        }
        // "the mixture is stiff": a part that one zone has
        let vague = !main.full && matches!(meaning, Meaning::Sides(_));
        if vague || matches!(meaning, Meaning::Several(_) | Meaning::Unknown) {
            let found = mentions
                .iter()
                .filter(|m| !m.landmark)
                .map(|m| m.words.as_slice())
                .chain(part_words.as_deref())
                .map(|words| self.v.places.of_part(words, side, self.stop))
                .find(|found| *found != Meaning::Unknown);
            meaning = match (meaning, found) {
                (said @ Meaning::Sides(_), Some(Meaning::Sides(_) | Meaning::Several(_)))
                | (said @ Meaning::Several(_), Some(Meaning::Several(_)))
                | (said, None) => said,
                (_, Some(found)) => found,
            };
        }
        let near = place
            .sides
            .iter()
            .map(|s| s.1)
            .filter(|s| s[1] <= main.span[0] && main.span[0] - s[1] <= 1)
            .map(|s| s[0])
            .min();
        let from = [near.unwrap_or(main.span[0]).min(main.span[0]), main.span[1]];
        let mut choices = Vec::new();
        match meaning {
            Meaning::One(zone, sure) => {
                if let Some(found) = self.v.places.zones.get(zone) {
                    item.zone = Some(ZoneFound {
                        code: found.code.clone(),
                        name: found.name.clone(),
                        from,
                        sure,
                    });
                    if found.side != Hand::None && !conflict {
                        item.side = found.side.word().into();
                    }
                    // what the zone does not name is a part of it
                    if item.part.is_none() {
                        item.part = mentions
                            .iter()
                            .find(|m| {
                                *m != main
                                    && m.noun
                                    && !(m.full && self.v.places.names(zone, &m.words))
                            })
                            .map(|m| PartFound {
                                name: self.slice(m),
                                from: m.span,
                            });
                    } else if let Some(part) = &item.part
                        && mentions
                            .iter()
                            .any(|m| m.span == part.from && self.v.places.names(zone, &m.words))
                    {
                        item.part = None;
                    }
                }
            }
            Meaning::Sides(zones) => {
                // which of the two is the question: no zone is shown as if it were known
                let codes = zones
                    .iter()
                    .filter_map(|z| self.v.places.zones.get(*z))
                    .map(|z| z.code.clone())
                    .collect();
                let sides = zones
                    .iter()
                    .filter_map(|z| self.v.places.zones.get(*z))
                    .map(|z| z.side.word().to_owned())
                    .collect();
                if conflict && let Some(question) = questions.last_mut() {
                    question.codes = codes;
                    question.choices = sides;
                } else {
                    questions.push(Question {
                        about: "side".into(),
                        asked: self.v.sentence("ask_side", &[("words", &self.slice(main))]),
                        choices: sides,
                        item: number,
                        measure: None,
                        codes,
                    });
                }
                item.part = item.part.take().or_else(|| {
                    Some(PartFound {
                        name: self.slice(main),
                        from: main.span,
                    })
                });
            }
            Meaning::Several(zones) => {
                choices.extend(
                    zones
                        .iter()
                        .take(6)
                        .filter_map(|z| self.v.places.zones.get(*z))
                        .map(|z| z.name.clone()),
                );
                questions.push(Question {
                    about: "zone".into(),
                    asked: self.v.sentence("ask_zone", &[]),
                    choices,
                    item: number,
                    measure: None,
                    codes: zones
                        .iter()
                        .take(6)
                        .filter_map(|z| self.v.places.zones.get(*z))
                        .map(|z| z.code.clone())
                        .collect(),
                });
            }
            Meaning::Unknown => {
                if item.part.is_none() {
                    item.part = Some(PartFound {
                        name: self.slice(main),
                        from: main.span,
                    });
                }
            }
        }
    }
}
