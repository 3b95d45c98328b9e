//! What was put together, to the items and questions of a draft.

use super::draft::{ConditionFound, Item, Kind, MeasureFound, Question};
use super::event::Mention;
use super::items::Maker;
use super::making::{Making, Size};
use super::measure::Doubt;
use super::place::{Hand, Meaning};

impl Maker<'_> {
    /// Items and questions.
    pub fn finish(mut self) -> (Vec<Item>, Vec<Question>) {
        let waiting = std::mem::take(&mut self.waiting);
        if !waiting.is_empty()
            && let Some(last) = self.made.last().cloned()
            && last.settled()
        {
            for (place, _) in waiting.into_iter().zip(0..8) {
                let mut twin = last.clone();
                let sides = twin.place.sides.clone();
                twin.place = place;
                if twin.place.sides.is_empty() {
                    twin.place.sides = sides;
                }
                let at = self.made.len().saturating_sub(1);
                self.made.insert(at, twin);
            }
        }
        let mut items = Vec::new();
        let mut questions = Vec::new();
        let made = std::mem::take(&mut self.made);
        let mut said: Option<(usize, Hand)> = None;
        for making in made {
            let one_side = making.place.sides.first().map(|s| s.0);
            let before = said.filter(|(sentence, _)| *sentence == making.sentence);
            if let Some(hand) = one_side {
                said = Some((making.sentence, hand));
            }
            let twice = making.place.both || self.several_of_a_pair(&making);
            let hands: Vec<Option<Hand>> = if twice {
                vec![Some(Hand::Left), Some(Hand::Right)]
            } else {
                vec![None]
            };
            let (had_items, had_questions) = (items.len(), questions.len());
            for hand in &hands {
                self.item(&making, *hand, &mut items, &mut questions);
            }
            // "no leaks at the left brake but the tyre is worn": the side goes on in its sentence
            if let (Some((_, hand)), None, [None]) = (before, one_side, hands.as_slice())
                && questions
                    .iter()
                    .skip(had_questions)
                    .any(|q| q.about == "side")
            {
                items.truncate(had_items);
                questions.truncate(had_questions);
                self.item(&making, Some(hand), &mut items, &mut questions);
            }
        }
        (items, questions)
    }

    /// "tyres", without a side: both of a pair.
    pub(super) fn several_of_a_pair(&self, making: &Making) -> bool {
        let place = &making.place;
        if !place.sides.is_empty() {
            return false;
        }
        let [mention] = place.mentions.as_slice() else {
            return false;
        };
        let said = self.slice(mention);
        said.ends_with('s')
            && self
                .v
                .words
                .fold(said.split(' ').next_back().unwrap_or_default())
                != said.split(' ').next_back().unwrap_or_default()
            && matches!(
                self.v
                    .places
                    .meaning(&mention.words, &[], Hand::None, self.stop),
                Meaning::Sides(_)
            )
    }

    /// What goes without saying: pressure is of a tyre, a length "of free play" is play.
    pub(super) fn filled_in(&self, making: &Making) -> Making {
        let mut making = making.clone();
        let id = |word: &str| self.v.lexicon.id(word);
        let pressure = making.reading == Some("pressure")
            || making
                .sizes
                .iter()
                .any(|s| matches!(s.family.as_str(), "pressure" | "pound"));
        let named = making.place.mentions.iter().any(|m| {
            ["tire", "strut", "oleo", "brake"]
                .iter()
                .any(|w| m.words.contains(&id(w)))
        });
        if pressure
            && !named
            && making.condition.is_none()
            && let Some(mention) = making.place.mentions.first_mut()
        {
            // "nose wheel twenty eight psi" is of its tire
            mention.words.retain(|w| *w != id("wheel"));
            mention.words.push(id("tire"));
        }
        // "the right main is flat", "right main at twenty nine pounds"
        let implied = making
            .condition
            .and_then(|(index, _)| self.v.kinds.get(index))
            .and_then(|k| self.v.words.condition_implies.get(&k.name))
            .and_then(|words| words.first())
            .map(|word| id(word))
            .or_else(|| pressure.then(|| id("tire")));
        // "tyre cut", "brake leak": the words for the defect name the place as well
        if let Some((_, span)) = making.condition
            && making.place.mentions.is_empty()
            && making.place.lone.is_none()
            && making.place.at.is_none()
            && making.place.part.as_ref().is_none_or(|p| {
                let words = self.words_of(&p.name);
                let places = &self.v.places;
                places.meaning(&words, &[], Hand::None, self.stop) == Meaning::Unknown
                    && places.of_part(&words, Hand::None, self.stop) == Meaning::Unknown
            })
        {
            let text: String = self
                .chars
                .get(span[0]..span[1])
                .unwrap_or(&[])
                .iter()
                .collect();
            let mut words = self.v.places.place_words(&self.words_of(&text));
            words.retain(|w| !self.v.words.stuff.iter().any(|s| id(s) == *w));
            if self.v.places.meaning(&words, &[], Hand::None, self.stop) != Meaning::Unknown {
                making.place.mentions.push(Mention {
                    words,
                    span,
                    partish: true,
                    noun: false,
                    full: false,
                    under: false,
                    landmark: false,
                });
            }
        }
        if let Some(word) = implied
            && making.place.mentions.is_empty()
            && making.place.part.is_none()
        {
            let side = making.place.sides.first().map(|s| s.1);
            let mut mention = match (making.place.lone.take(), side) {
                (Some(mention), _) => mention,
                (None, Some(span)) => Mention {
                    words: vec![id("main")],
                    span,
                    partish: true,
                    noun: false,
                    full: false,
                    under: false,
                    landmark: false,
                },
                (None, None) => return making,
            };
            mention.words.push(word);
            making.place.mentions.push(mention);
        }
        if making.condition.is_none()
            && making.look.is_none()
            && let Some(size) = making.sizes.iter().find(|s| s.found.quantity == "play")
            && let Some(index) = self.v.kinds.iter().position(|k| k.name == "play")
        {
            making.condition = Some((index, size.found.from));
        }
        making
    }

    pub(super) fn item(
        &self,
        making: &Making,
        hand: Option<Hand>,
        items: &mut Vec<Item>,
        questions: &mut Vec<Question>,
    ) {
        let number = items.len();
        let making = &self.filled_in(making);
        let negated = making.denied.is_some();
        let gone = making.gone || making.compare == Some("gone");
        let reading_only = making.condition.is_none()
            && making.look.is_none()
            && making.compare.is_none()
            && (!making.meter.is_empty()
                || making.reading.is_some()
                || making
                    .sizes
                    .iter()
                    .any(|s| matches!(s.family.as_str(), "pressure" | "pound" | "volume")));
        let kind = if making.look.is_some() || negated && !gone || reading_only {
            Kind::Look
        } else {
            Kind::Finding
        };
        let mut item = Item::new(kind);
        let (hands, conflict) = match hand {
            Some(hand) => (hand, false),
            None => {
                let first = making.place.sides.first().map_or(Hand::None, |s| s.0);
                (first, making.place.sides.iter().any(|s| s.0 != first))
            }
        };
        item.side = hands.word().into();
        let implied = making
            .condition
            .and_then(|(index, _)| self.v.kinds.get(index))
            .and_then(|k| self.v.words.condition_implies.get(&k.name));
        self.zone(making, hands, conflict, &mut item, questions, number);
        let tire = item
            .zone
            .as_ref()
            .map(|z| z.name.to_lowercase())
            .is_some_and(|n| {
                let n = self.v.words.fold(&n);
                [
                    "tire", "tyre", "wheel", "strut", "oleo", "gear", "main", "spat", "fairing",
                ]
                .iter()
                .any(|w| n.contains(w))
            })
            || implied.is_some_and(|i| i.iter().any(|w| w == "tire"))
            || making.reading == Some("pressure")
            || making
                .place
                .mentions
                .iter()
                .any(|m| m.words.contains(&self.v.lexicon.id("tire")));
        if let Some((index, span)) = making.condition
            && let Some(kind) = self.v.kinds.get(index)
        {
            item.condition = Some(ConditionFound {
                name: kind.name.clone(),
                from: span,
                sure: if making.unsure { 0.6 } else { 0.98 },
            });
        }
        item.or_else = making
            .or_else
            .and_then(|i| self.v.kinds.get(i))
            .map(|k| k.name.clone());
        item.look = making
            .look
            .map(str::to_owned)
            .or_else(|| (negated && !gone).then(|| "nothing_found".to_owned()));
        item.basis = making.basis.map(str::to_owned);
        item.compare = if gone {
            Some("gone".into())
        } else {
            making.compare.map(str::to_owned)
        };
        item.negated = negated;
        item.count = making.count.clone();
        item.why = making.why.clone();
        item.since = making.since.clone();
        item.unsure = making.unsure;
        if item.at.is_none() {
            item.at = making.place.at.clone();
        }
        for size in &making.sizes {
            self.size(making, size, tire, &mut item, questions, number);
        }
        item.measures.extend(making.meter.iter().cloned());
        if item.compare.is_none() && item.measures.iter().any(|m| m.change || m.was.is_some()) {
            item.compare = Some("worse".into());
        }
        // "down from two inches to one"
        let exact = |text: &str| text.parse::<crate::quantity::Rational>().ok();
        let shrank = item.measures.iter().any(|m| {
            let was = m.was.as_deref().and_then(exact);
            matches!((was, exact(&m.value)), (Some(was), Some(now)) if was > now)
        });
        if shrank && item.compare.as_deref() == Some("worse") {
            item.compare = Some("less".into());
        }
        if reading_only {
            item.reading = Some(
                making
                    .reading
                    .unwrap_or(match item.measures.first().map(|m| m.quantity.as_str()) {
                        Some("pressure") => "pressure",
                        Some("hours") => "hours",
                        Some("landings") => "landings",
                        _ => "reading",
                    })
                    .to_owned(),
            );
        }
        items.push(item);
    }

    pub(super) fn size(
        &self,
        making: &Making,
        size: &Size,
        tire: bool,
        item: &mut Item,
        questions: &mut Vec<Question>,
        number: usize,
    ) {
        let mut found = size.found.clone();
        let mut family = size.family.as_str();
        let mut doubts = size.doubts.clone();
        if family == "pound" && tire {
            found.unit = Some("psi".into());
            family = "pressure";
        } else if family == "pound" && making.condition.is_none() {
            // pounds of what nobody said
            doubts.push(Doubt::Unit(vec!["psi".into(), "lb".into()]));
        }
        if found.quantity.is_empty() {
            found.quantity = match family {
                "pressure" | "volume" | "rate" | "angle" | "temperature" | "share" | "area" => {
                    match (family, making.reading) {
                        ("volume", Some(reading)) => reading.to_owned(),
                        _ => family.to_owned(),
                    }
                }
                "pound" => "force".into(),
                _ => self.default_quantity(making),
            };
        }
        let second = size.across.as_ref().map(|value| MeasureFound {
            quantity: "width".into(),
            value: value.clone(),
            ..found.clone()
        });
        let at = item.measures.len();
        item.measures.push(found.clone());
        if let Some(second) = second {
            if !size.named
                && let Some(first) = item.measures.get_mut(at)
            {
                first.quantity = "length".into();
            }
            item.measures.push(second);
        }
        for doubt in &doubts {
            let (about, asked, choices) = match doubt {
                Doubt::Unit(may) => (
                    "unit",
                    self.v.sentence("ask_unit", &[("words", &found.as_said)]),
                    may.clone(),
                ),
                Doubt::Number(may) => (
                    "number",
                    self.v.sentence("ask_number", &[("words", &found.as_said)]),
                    may.clone(),
                ),
            };
            questions.push(Question {
                about: about.into(),
                asked,
                choices,
                item: number,
                measure: Some(at),
                codes: Vec::new(),
            });
        }
    }

    pub(super) fn default_quantity(&self, making: &Making) -> String {
        let named = making
            .condition
            .and_then(|(i, _)| self.v.kinds.get(i))
            .and_then(|k| {
                k.quantities
                    .iter()
                    .find(|(_, units)| units.iter().any(|u| u == "mm" || u == "in"))
            })
            .map(|(name, _)| name.clone());
        named.unwrap_or_else(|| {
            if making.reading == Some("extension") {
                "extension".into()
            } else {
                "length".into()
            }
        })
    }
}
