//! Events to findings and looks: which place, condition and size belong together.

use super::event::{Denied, Event, Mention};
use super::making::{Making, Size, Where};
use super::place::Hand;
use super::vocabulary::Vocabulary;

/// Puts events together.
pub(crate) struct Maker<'a> {
    pub(super) v: &'a Vocabulary,
    pub(super) stop: Option<&'a str>,
    pub(super) chars: &'a [char],
    pub(super) made: Vec<Making>,
    pub(super) now: Making,
    pub(super) carried: Option<Where>,
    pub(super) sentence: usize,
    /// The last thing that was joined by "and" or a comma.
    pub(super) and: bool,
    pub(super) or: bool,
    pub(super) correcting: bool,
    pub(super) instead: bool,
    pub(super) another: bool,
    /// Places waiting in a list: "tail, rudder and elevator all fine".
    pub(super) waiting: Vec<Where>,
    pub(super) pause: bool,
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

    pub(super) fn slice(&self, mention: &Mention) -> String {
        let [from, to] = mention.span;
        let text: String = self.chars.get(from..to).unwrap_or(&[]).iter().collect();
        text.to_lowercase()
    }

    pub(super) fn close(&mut self) {
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
        let mut events = events.into_iter();
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
                    if matches!(
                        events.as_slice().first(),
                        Some(Event::Place(_) | Event::Side(..))
                    ) && self.now.sizes.is_empty()
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
                Event::Place(mention) => self.place(mention),
                Event::Side(hand, span) => {
                    let rest = events.as_slice();
                    let opens = match rest.first() {
                        Some(Event::Place(mention)) => !self.goes_on(mention, rest),
                        Some(Event::Condition { .. } | Event::Correction) => true,
                        _ => false,
                    };
                    self.side(hand, span, opens);
                }
                Event::Both(_) => {
                    if self.now.settled() && !self.now.place.mentions.is_empty() && self.pause {
                        self.close();
                    }
                    self.now.place.both = true;
                }
                Event::Part(part) => {
                    let longer = self
                        .now
                        .place
                        .part
                        .as_ref()
                        .is_some_and(|p| p.from[0] == part.from[0]);
                    if self.now.place.part.is_none() || longer || self.correcting {
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

    /// "dent on the leading edge, left wing, half an inch deep": the whole that the place is on, no new item.
    fn goes_on(&self, mention: &Mention, rest: &[Event]) -> bool {
        let place = &self.now.place;
        self.now.condition.is_some()
            && place.sides.is_empty()
            && self.v.places.is_broad(&mention.words)
            && place
                .mentions
                .iter()
                .any(|m| !self.v.places.is_broad(&m.words))
            && !rest
                .iter()
                .take_while(|e| !matches!(e, Event::Sentence | Event::But | Event::And))
                .any(|e| matches!(e, Event::Condition { .. } | Event::Look(..)))
    }

    pub(super) fn side(&mut self, hand: Hand, span: [usize; 2], opens: bool) {
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

    pub(super) fn place(&mut self, mention: Mention) {
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

    pub(super) fn condition(&mut self, index: usize, span: [usize; 2], denied: Denied) {
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

    pub(super) fn look(&mut self, what: &'static str) {
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
}
