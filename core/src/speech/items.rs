//! Events to findings and looks: which place, condition and size belong together.

use super::draft::{
    At, ConditionFound, Count, Item, Kind, MeasureFound, PartFound, Question, ZoneFound,
};
use super::measure::Doubt;
use super::place::{Hand, Meaning};
use super::sentence::{Denied, Event, Mention};
use super::vocabulary::Vocabulary;

/// A size with what has to be asked about it.
#[derive(Debug, Clone)]
struct Size {
    found: MeasureFound,
    family: String,
    named: bool,
    across: Option<String>,
    doubts: Vec<Doubt>,
}

/// Place words on their way to a zone.
#[derive(Debug, Clone, Default)]
struct Where {
    mentions: Vec<Mention>,
    sides: Vec<(Hand, [usize; 2])>,
    both: bool,
    part: Option<PartFound>,
    at: Option<At>,
    lone: Option<Mention>,
}

impl Where {
    fn is_empty(&self) -> bool {
        self.mentions.is_empty() && self.sides.is_empty() && !self.both
    }
}

/// An item being put together.
#[derive(Debug, Clone, Default)]
struct Making {
    place: Where,
    /// The place was said for this item, not carried over.
    own_place: bool,
    condition: Option<(usize, [usize; 2])>,
    denied: Option<Denied>,
    look: Option<&'static str>,
    basis: Option<&'static str>,
    compare: Option<&'static str>,
    gone: bool,
    sizes: Vec<Size>,
    count: Option<Count>,
    reading: Option<&'static str>,
    meter: Vec<MeasureFound>,
    why: Option<String>,
    since: Option<String>,
    unsure: bool,
    or_else: Option<usize>,
    sentence: usize,
}

impl Making {
    fn settled(&self) -> bool {
        self.condition.is_some() || self.look.is_some()
    }

    fn says_something(&self) -> bool {
        self.settled() || !self.sizes.is_empty() || !self.meter.is_empty() || self.compare.is_some()
    }
}

/// Puts events together.
pub(crate) struct Maker<'a> {
    v: &'a Vocabulary,
    stop: Option<&'a str>,
    chars: &'a [char],
    made: Vec<Making>,
    now: Making,
    carried: Option<Where>,
    sentence: usize,
    /// The last thing that was joined by "and" or a comma.
    and: bool,
    or: bool,
    correcting: bool,
    instead: bool,
    another: bool,
    /// Places waiting in a list: "tail, rudder and elevator all fine".
    waiting: Vec<Where>,
    pause: bool,
}

impl<'a> Maker<'a> {
    pub fn new(v: &'a Vocabulary, stop: Option<&'a str>, chars: &'a [char]) -> Self {
        Self {
            v,
            stop,
            chars,
            made: Vec::new(),
            now: Making::default(),
            carried: None,
            sentence: 0,
            and: false,
            or: false,
            correcting: false,
            instead: false,
            another: false,
            waiting: Vec::new(),
            pause: true,
        }
    }

    fn slice(&self, mention: &Mention) -> String {
        let [from, to] = mention.span;
        let text: String = self.chars.get(from..to).unwrap_or(&[]).iter().collect();
        text.to_lowercase()
    }

    fn close(&mut self) {
        let mut done = std::mem::take(&mut self.now);
        self.now.sentence = self.sentence;
        if !done.says_something() {
            // only a place: it waits for what is said next
            self.now.place = done.place;
            self.now.own_place = done.own_place;
            self.now.basis = done.basis;
            self.now.unsure = done.unsure;
            self.now.since = done.since;
            self.now.count = done.count;
            self.now.reading = done.reading;
            self.now.compare = done.compare;
            return;
        }
        if done.place.mentions.is_empty()
            && let Some(carried) = &self.carried
        {
            let part = done.place.part.take();
            let at = done.place.at.take();
            let sides = std::mem::take(&mut done.place.sides);
            let both = done.place.both;
            done.place = carried.clone();
            // another side of the same place: "and the right one"
            if !sides.is_empty() {
                done.place.sides = sides;
                done.place.both = false;
            }
            done.place.both |= both;
            done.place.part = part;
            done.place.at = at;
        } else if !done.place.is_empty() {
            // an earlier item of this sentence without a place has this one: "a crack and a dent in the left flap"
            for earlier in self.made.iter_mut().rev() {
                if earlier.sentence != done.sentence
                    || !earlier.place.mentions.is_empty()
                    || done.sentence != self.sentence
                {
                    break;
                }
                if earlier.settled() {
                    let mut place = done.place.clone();
                    place.part = earlier.place.part.take().or(place.part);
                    place.at = earlier.place.at.take();
                    if !earlier.place.sides.is_empty() {
                        place.sides = std::mem::take(&mut earlier.place.sides);
                    }
                    earlier.place = place;
                }
            }
        }
        if !done.place.mentions.is_empty() {
            let mut carried = done.place.clone();
            carried.part = None;
            carried.at = None;
            self.carried = Some(carried);
        }
        self.made.push(done);
    }

    /// Takes the events in order.
    pub fn take(&mut self, events: Vec<Event>) {
        let mut events = events.into_iter().peekable();
        while let Some(event) = events.next() {
            match event {
                Event::Sentence => {
                    if self.now.says_something() {
                        self.close();
                    }
                    self.sentence += 1;
                    self.now.sentence = self.sentence;
                    self.and = false;
                    self.or = false;
                    self.pause = true;
                }
                Event::Comma => {
                    self.and = false;
                    self.pause = true;
                }
                Event::But => {
                    self.and = true;
                    self.pause = true;
                }
                Event::And => {
                    self.and = true;
                    self.pause = true;
                    if self.now.settled() || self.now.place.mentions.is_empty() {
                        continue;
                    }
                    // a list of places that wait: "tail and rudder look good"
                    if matches!(events.peek(), Some(Event::Place(_) | Event::Side(..)))
                        && self.now.sizes.is_empty()
                    {
                        self.waiting.push(self.now.place.clone());
                        self.now.place = Where::default();
                    }
                }
                Event::Or => self.or = true,
                Event::Correction => self.correcting = true,
                Event::Instead => self.instead = true,
                Event::Another => {
                    self.another = true;
                    if self.now.settled() && !self.now.sizes.is_empty() {
                        let condition = self.now.condition;
                        self.close();
                        self.now.condition = condition;
                        self.another = false;
                    }
                }
                Event::Lone(mention) => {
                    self.now.place.lone.get_or_insert(mention);
                }
                Event::Place(mention) => self.place(mention, events.peek()),
                Event::Side(hand, span) => {
                    let opens = matches!(
                        events.peek(),
                        Some(Event::Place(_) | Event::Condition { .. } | Event::Correction)
                    );
                    self.side(hand, span, opens);
                }
                Event::Both(_) => {
                    if self.now.settled() && !self.now.place.mentions.is_empty() && self.pause {
                        self.close();
                    }
                    self.now.place.both = true;
                }
                Event::Part(part) => {
                    if self.now.place.part.is_none() || self.correcting {
                        self.now.place.part = Some(part);
                        self.correcting = false;
                    }
                }
                Event::At(at) => {
                    if self.now.place.at.is_none() {
                        self.now.place.at = Some(at);
                    }
                }
                Event::Condition {
                    index,
                    span,
                    denied,
                } => self.condition(index, span, denied),
                Event::Look(what, _) => self.look(what),
                Event::Compare(word, _) => {
                    if self.now.settled()
                        || self.made.is_empty()
                        || !self.now.place.mentions.is_empty()
                    {
                        if self.now.compare.is_none()
                            || matches!(self.now.compare, Some("new")) && word != "new"
                        {
                            self.now.compare = Some(word);
                        }
                    } else if let Some(last) = self.made.last_mut() {
                        last.compare.get_or_insert(word);
                    } else {
                        self.now.compare = Some(word);
                    }
                }
                Event::Gone(_) => {
                    self.now.compare = Some("gone");
                    self.now.gone = true;
                }
                Event::Basis(word) => {
                    self.now.basis.get_or_insert(word);
                }
                Event::Measure {
                    found,
                    family,
                    named,
                    across,
                    doubts,
                } => {
                    let size = Size {
                        found,
                        family,
                        named,
                        across,
                        doubts,
                    };
                    if self.correcting {
                        self.correcting = false;
                        if self.now.sizes.pop().is_none()
                            && let Some(last) = self.made.last_mut()
                        {
                            last.sizes.pop();
                            last.sizes.push(size);
                            continue;
                        }
                    }
                    self.now.sizes.push(size);
                }
                Event::Count(count) => {
                    if self.now.settled() && self.pause {
                        self.close();
                    }
                    self.now.count = Some(count);
                }
                Event::Meter(found) => self.now.meter.push(found),
                Event::Reading(word) => {
                    self.now.reading.get_or_insert(word);
                }
                Event::Unsure => self.now.unsure = true,
                Event::Since(text) => {
                    self.now.since.get_or_insert(text);
                }
                Event::Why(text) => {
                    self.now.why.get_or_insert(text);
                }
                Event::Therefore(text) => {
                    if !self.now.settled() && !self.now.place.is_empty() {
                        self.now.place = Where::default();
                        self.now.why = Some(text);
                    }
                }
                Event::Other(_) => {}
            }
        }
        self.close();
        // places left over after the last item: "crack in the left flap and aileron"
        if !self.now.says_something()
            && !self.now.place.mentions.is_empty()
            && let Some(last) = self.made.last().cloned()
        {
            if last.place.mentions.is_empty() {
                if let Some(last) = self.made.last_mut() {
                    let part = last.place.part.take();
                    last.place = self.now.place.clone();
                    last.place.part = part.or(last.place.part.take());
                }
            } else if !self.and && last.place.sides.is_empty() && last.sentence == self.now.sentence
            {
                // "door hinge loose, left cabin door": said again, more exactly
                if let Some(last) = self.made.last_mut() {
                    last.place.sides = self.now.place.sides.clone();
                    last.place.mentions.extend(self.now.place.mentions.clone());
                    self.now.place = Where::default();
                }
            } else if self.and && last.own_place {
                let mut twin = last;
                twin.place = self.now.place.clone();
                self.made.push(twin);
            }
        }
    }

    fn side(&mut self, hand: Hand, span: [usize; 2], opens: bool) {
        if self.correcting {
            self.correcting = false;
            if self.now.place.sides.is_empty()
                && !self.now.says_something()
                && let Some(last) = self.made.last_mut()
                && !last.place.sides.is_empty()
            {
                last.place.sides = vec![(hand, span)];
                return;
            }
            self.now.place.sides = vec![(hand, span)];
            return;
        }
        if self.now.settled()
            && self.pause
            && !self.now.place.is_empty()
            && (opens || !self.now.place.sides.is_empty())
        {
            self.close();
        }
        self.pause = false;
        self.now.place.sides.push((hand, span));
    }

    fn place(&mut self, mention: Mention, _next: Option<&Event>) {
        if self.correcting {
            self.correcting = false;
            if self.now.place.mentions.is_empty()
                && !self.now.says_something()
                && let Some(last) = self.made.last_mut()
            {
                last.place.mentions = vec![mention];
                return;
            }
            // "left main, no, right main": the same words again change nothing
            let side_only = self
                .now
                .place
                .mentions
                .iter()
                .any(|m| m.words.iter().all(|w| mention.words.contains(w)));
            if !side_only {
                self.now.place.mentions.pop();
            }
            self.now.place.mentions.push(mention);
            return;
        }
        if self.pause
            && self.now.settled()
            && !mention.partish
            && !self.now.place.mentions.is_empty()
        {
            // a new place begins after a pause: a new item, if this one had its place
            let sides = if self.now.place.sides.len() > 1 {
                self.now.place.sides.pop()
            } else {
                None
            };
            self.close();
            if let Some(side) = sides {
                self.now.place.sides.push(side);
            }
        }
        self.pause = false;
        self.now.own_place = true;
        self.now.place.mentions.push(mention);
    }

    fn condition(&mut self, index: usize, span: [usize; 2], denied: Denied) {
        self.pause = false;
        let or = std::mem::take(&mut self.or);
        let instead = std::mem::take(&mut self.instead);
        if self.correcting {
            self.correcting = false;
            self.now.condition = Some((index, span));
            return;
        }
        if let Some((old, _)) = self.now.condition {
            let was_denied = self.now.denied;
            if was_denied == Some(Denied::NotThis) && denied == Denied::No && old != index {
                // "not a crack, just a scratch"
                self.now.condition = Some((index, span));
                self.now.denied = None;
                return;
            }
            if denied == Denied::NotThis && was_denied.is_none() && old != index {
                // "a scratch, not a crack"
                return;
            }
            if instead && denied == Denied::No {
                self.now.condition = Some((index, span));
                self.now.denied = None;
                return;
            }
            if old == index && !self.another && (denied == Denied::No || was_denied.is_some()) {
                return;
            }
            if or && denied == Denied::No && was_denied.is_none() {
                self.now.or_else = Some(index);
                self.now.unsure = true;
                return;
            }
            let place = self.now.place.clone();
            let (basis, since) = (self.now.basis, self.now.since.clone());
            let had_place = !place.mentions.is_empty();
            self.close();
            if had_place {
                self.now.basis = basis;
                self.now.since = since;
            }
        } else if self.now.look == Some("nothing_found") && denied == Denied::Absent {
            // "checked, no cracks": the general look gives way to the one that names what was looked for
            self.now.look = None;
        } else if self.now.look.is_some() {
            self.close();
        }
        self.another = false;
        self.now.condition = Some((index, span));
        self.now.denied = (denied != Denied::No).then_some(denied);
    }

    fn look(&mut self, what: &'static str) {
        self.pause = false;
        let what = if what == "fine" {
            if self.now.place.mentions.is_empty()
                && self.waiting.is_empty()
                && self.now.place.sides.is_empty()
                || self.now.condition.is_some()
            {
                return;
            }
            "nothing_found"
        } else {
            what
        };
        if self.now.condition.is_some() {
            if what == "nothing_found" && !self.and && self.now.denied.is_some() {
                return;
            }
            self.close();
        } else if self.now.look.is_some() {
            if self.now.look == Some(what) {
                return;
            }
            self.close();
        }
        self.now.look = Some(what);
        for place in std::mem::take(&mut self.waiting) {
            let mut twin = self.now.clone();
            let sides = if place.sides.is_empty() {
                Vec::new()
            } else {
                place.sides.clone()
            };
            twin.place = place;
            twin.place.sides = sides;
            self.made.push(twin);
        }
    }

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
    fn several_of_a_pair(&self, making: &Making) -> bool {
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
    fn filled_in(&self, making: &Making) -> Making {
        let mut making = making.clone();
        let id = |word: &str| self.v.lexicon.id(word);
        let pressure = making.reading == Some("pressure")
            || making
                .sizes
                .iter()
                .any(|s| matches!(s.family.as_str(), "pressure" | "pound"));
        let named = making.place.mentions.iter().any(|m| {
            ["tire", "strut", "oleo", "brake", "wheel"]
                .iter()
                .any(|w| m.words.contains(&id(w)))
        });
        if pressure
            && !named
            && making.condition.is_none()
            && let Some(mention) = making.place.mentions.first_mut()
        {
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

    fn item(
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

    fn size(
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

    /// "number two exhaust" on a twin: engines are counted from the left.
    fn numbered_engine(&self, words: &[u32]) -> Hand {
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

    fn default_quantity(&self, making: &Making) -> String {
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

    /// "four inches forward of the left static port": what a position counts from is the place.
    fn zone_of_feature(&self, place: &Where, hand: Hand, item: &mut Item) {
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

    /// "brake line": the words of the part may name the zone as well.
    fn zone_of_part(&self, hand: Hand, item: &mut Item) {
        let Some(part) = &item.part else { return };
        let tokens = super::token::tokens(&part.name);
        let words: Vec<u32> = self
            .v
            .lexicon
            .flat(&self.v.words, &tokens)
            .iter()
            .map(|f| f.word)
            .filter(|w| *w != 0)
            .collect();
        if let Meaning::One(zone, sure) = self.v.places.meaning(&words, &[], hand, self.stop)
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

    fn zone(
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
        if mentions.is_empty() {
            self.zone_of_part(hand, item);
            if item.zone.is_none() {
                self.zone_of_feature(place, hand, item);
            }
            return;
        }
        // the finest of what was said, the first of equals
        let solid: Vec<&Mention> = mentions.iter().filter(|m| !m.partish).collect();
        let pool: Vec<&Mention> = if solid.is_empty() {
            mentions.iter().collect()
        } else {
            solid
        };
        let main = pool
            .iter()
            .find(|m| m.full && !self.v.places.is_broad(&m.words))
            .or_else(|| pool.iter().find(|m| !self.v.places.is_broad(&m.words)))
            .or_else(|| pool.first())
            .copied();
        let Some(main) = main else { return };
        let mut rest: Vec<u32> = mentions
            .iter()
            .filter(|m| *m != main)
            .flat_map(|m| m.words.iter().copied())
            .collect();
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
