//! Words for places, to zones of the layout in use.

use std::collections::{BTreeSet, HashMap};

use super::lexicon::Lexicon;
use super::words::{Cue, Words};

/// Which side a zone or a word is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Hand {
    /// Left.
    Left,
    /// Right.
    Right,
    /// Neither.
    None,
}

impl Hand {
    /// `left`, `right`, `none`.
    pub fn word(self) -> &'static str {
        match self {
            Self::Left => "left",
            Self::Right => "right",
            Self::None => "none",
        }
    }
}

/// A zone as the words see it.
#[derive(Debug, Clone)]
pub struct Place {
    /// Code in the layout.
    pub code: String,
    /// Name in the layout.
    pub name: String,
    /// Side it is on.
    pub side: Hand,
    /// Index of the zone on the other side.
    pub pair: Option<usize>,
    /// Spoken names, the zone's own name included.
    pub spoken: Vec<String>,
    /// Names of its parts.
    pub parts: Vec<String>,
    /// Stops that cover it.
    pub stops: Vec<String>,
}

/// A way of saying a zone, its side left away.
#[derive(Debug, Clone)]
struct Phrase {
    words: Vec<u32>,
    zone: usize,
    /// The side that was in the phrase.
    side: Hand,
}

/// All zones of a layout, by their words.
#[derive(Debug, Clone, Default)]
pub(crate) struct Places {
    pub zones: Vec<Place>,
    phrases: Vec<Phrase>,
    /// Ways of saying a part of a zone, the longest first.
    parts: Vec<(Vec<u32>, usize)>,
    /// Word → phrases that have it.
    by_word: HashMap<u32, Vec<usize>>,
    /// Words that name something large with finer zones in it.
    broad: BTreeSet<u32>,
}

/// What a set of place words means.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Meaning {
    /// One zone; 0 to 1.
    One(usize, f64),
    /// Left or right of a pair.
    Sides(Vec<usize>),
    /// Several.
    Several(Vec<usize>),
    /// None.
    Unknown,
}

/// More candidates than this are no answer to show.
const MANY: usize = 24;

impl Places {
    /// Takes the zones' phrases into the look-up.
    pub fn new(zones: Vec<Place>, words: &Words, lexicon: &mut Lexicon) -> Self {
        let mut places = Self {
            zones,
            ..Self::default()
        };
        let sides: Vec<(Vec<u32>, Hand)> = {
            let mut out = Vec::new();
            for (cue, hand) in [(Cue::Left, Hand::Left), (Cue::Right, Hand::Right)] {
                for phrase in words.cues.get(&cue).into_iter().flatten() {
                    out.push((lexicon.intern(words, phrase), hand));
                }
            }
            out.sort_by_key(|(ids, _)| std::cmp::Reverse(ids.len()));
            out
        };
        let same: Vec<Vec<Vec<u32>>> = words
            .same_place
            .iter()
            .map(|group| group.iter().map(|p| lexicon.intern(words, p)).collect())
            .collect();
        let side_word = lexicon.id("side");
        let mut seen: BTreeSet<(usize, Vec<u32>, u8)> = BTreeSet::new();
        for index in 0..places.zones.len() {
            let Some(zone) = places.zones.get(index).cloned() else {
                continue;
            };
            for spoken in zone.spoken.iter().chain([&zone.name]) {
                let ids: Vec<u32> = lexicon.intern(words, spoken);
                let (base, side) = without_side(&ids, &sides);
                let mut forms = vec![base.clone()];
                // "the right aft fuselage" says the side already
                if zone.side != Hand::None
                    && base.len() > 2
                    && base.last() == Some(&side_word)
                    && let Some((_, rest)) = base.split_last()
                {
                    forms.push(rest.to_vec());
                }
                for group in &same {
                    for one in group {
                        if let Some(at) = find(&base, one) {
                            for other in group {
                                let mut form = base.clone();
                                form.splice(at..at + one.len(), other.iter().copied());
                                forms.push(form);
                            }
                        }
                    }
                }
                for form in forms {
                    if form.is_empty() || !seen.insert((index, form.clone(), side as u8)) {
                        continue;
                    }
                    places.phrases.push(Phrase {
                        words: form,
                        zone: index,
                        side,
                    });
                }
            }
        }
        for index in 0..places.zones.len() {
            let said = places.zones.get(index).map(|z| z.parts.clone());
            for part in said.into_iter().flatten() {
                let (base, _) = without_side(&lexicon.intern(words, &part), &sides);
                let mut forms = vec![base.clone()];
                for group in &same {
                    for one in group.iter().filter(|one| **one == base) {
                        forms.extend(group.iter().filter(|other| *other != one).cloned());
                    }
                }
                // "plug lead" is the "spark plug lead"
                for start in 1..base.len().saturating_sub(1) {
                    forms.extend(base.get(start..).map(<[u32]>::to_vec));
                }
                forms.retain(|f| !f.is_empty());
                places.parts.extend(forms.into_iter().map(|f| (f, index)));
            }
        }
        places
            .parts
            .sort_by_key(|(words, _)| std::cmp::Reverse(words.len()));
        let the: Vec<u32> = [Cue::Determiner, Cue::Preposition, Cue::And]
            .iter()
            .filter_map(|cue| words.cues.get(cue))
            .flatten()
            .map(|w| lexicon.id(w))
            .collect();
        for (index, phrase) in places.phrases.iter().enumerate() {
            for word in &phrase.words {
                if !the.contains(word) {
                    places.by_word.entry(*word).or_default().push(index);
                }
            }
            if let Some(entry) = lexicon.tree.entry(&phrase.words)
                && !entry.places.contains(&index)
            {
                entry.places.push(index);
            }
            for start in 1..phrase.words.len() {
                let tail = phrase.words.get(start..).unwrap_or(&[]);
                if let Some(entry) = lexicon.tree.entry(tail) {
                    // "down" is no place, though "tie down" is one
                    let particle = [Cue::Shrunk, Cue::Direction, Cue::Preposition]
                        .into_iter()
                        .any(|cue| entry.cues.has(cue));
                    entry.place_word |= !particle;
                }
            }
        }
        for word in &words.wholes {
            let ids = lexicon.intern(words, word);
            if let Some(entry) = lexicon.tree.entry(&ids) {
                entry.place_word = true;
            }
            places.broad.extend(ids);
        }
        places
    }

    /// True if all these words are names of wholes ("left wing").
    pub fn is_broad(&self, words: &[u32]) -> bool {
        words.iter().all(|w| self.broad.contains(w))
    }

    /// Does some way of saying this zone use one of these words?
    pub fn names(&self, zone: usize, words: &[u32]) -> bool {
        self.phrases
            .iter()
            .filter(|p| p.zone == zone)
            .any(|p| words.iter().all(|w| p.words.contains(w)))
    }

    /// Which zone a set of words means. `first` are the words said first, `rest` those said after.
    pub fn meaning(&self, first: &[u32], rest: &[u32], side: Hand, stop: Option<&str>) -> Meaning {
        self.headed(None, first, rest, side, stop)
    }

    /// As [`Self::meaning`], of the phrases that end with `head` only.
    pub fn headed(
        &self,
        head: Option<u32>,
        first: &[u32],
        rest: &[u32],
        side: Hand,
        stop: Option<&str>,
    ) -> Meaning {
        let mut candidates: BTreeSet<usize> = BTreeSet::new();
        for word in first.iter().chain(rest) {
            for phrase in self.by_word.get(word).into_iter().flatten() {
                candidates.insert(*phrase);
            }
        }
        let mut best: Vec<(usize, f64)> = Vec::new();
        let mut top = 0.0f64;
        for index in candidates {
            let Some(phrase) = self.phrases.get(index) else {
                continue;
            };
            let Some(zone) = self.zones.get(phrase.zone) else {
                continue;
            };
            if head.is_some() && phrase.words.last().copied() != head {
                continue;
            }
            if side != Hand::None && zone.side != Hand::None && zone.side != side {
                continue;
            }
            if side != Hand::None && phrase.side != Hand::None && phrase.side != side {
                continue;
            }
            let mut score = self.score(phrase, first, rest);
            if score <= 0.0 {
                continue;
            }
            // "right aft fuselage": of names said in part, one with that side is meant
            if side != Hand::None && zone.side == side && score < 1.0 {
                score = (score + 0.15).min(0.99);
            }
            let bonus = if stop.is_some_and(|s| zone.stops.iter().any(|x| x == s)) {
                0.3
            } else {
                0.0
            };
            let score = score + bonus;
            top = top.max(score);
            match best.iter_mut().find(|(z, _)| *z == phrase.zone) {
                Some((_, old)) => *old = old.max(score),
                None => best.push((phrase.zone, score)),
            }
        }
        best.retain(|(_, score)| *score >= top - 1e-9);
        let on_side = |z: &usize| self.zones.get(*z).is_some_and(|z| z.side == side);
        if side != Hand::None && best.iter().any(|(z, _)| on_side(z)) {
            best.retain(|(z, _)| on_side(z));
        }
        let zones: Vec<usize> = best.iter().map(|(z, _)| *z).collect();
        let full = top >= 1.0;
        match zones.as_slice() {
            [] => Meaning::Unknown,
            [one] => Meaning::One(*one, if full { 0.98 } else { 0.8 }),
            [a, b] if self.zones.get(*a).and_then(|z| z.pair) == Some(*b) => {
                Meaning::Sides(zones.clone())
            }
            many if many.len() > MANY => Meaning::Unknown,
            _ => Meaning::Several(zones),
        }
    }

    /// "the mixture", "a plug lead": the zones that have such a part, of the longest name that was said whole.
    pub fn of_part(&self, said: &[u32], side: Hand, stop: Option<&str>) -> Meaning {
        let mut zones: Vec<usize> = Vec::new();
        let mut length = 0;
        for (words, index) in &self.parts {
            if words.len() < length {
                break;
            }
            let Some(zone) = self.zones.get(*index) else {
                continue;
            };
            let other_side = side != Hand::None && zone.side != Hand::None && zone.side != side;
            if !other_side && find(said, words).is_some() && !zones.contains(index) {
                length = words.len();
                zones.push(*index);
            }
        }
        let here = |z: &usize| {
            let zone = self.zones.get(*z);
            zone.is_some_and(|z| stop.is_some_and(|s| z.stops.iter().any(|x| x == s)))
        };
        if zones.iter().any(here) {
            zones.retain(here);
        }
        let on_side = |z: &usize| self.zones.get(*z).is_some_and(|z| z.side == side);
        if side != Hand::None && zones.iter().any(on_side) {
            zones.retain(on_side);
        }
        // "strut fairing" is of the strut sooner than of the strut's foot
        let named = |z: &usize| {
            self.phrases
                .iter()
                .any(|p| p.zone == *z && p.words.iter().all(|w| said.contains(w)))
        };
        if zones.len() > 1 && zones.iter().any(named) {
            zones.retain(named);
        }
        match zones.as_slice() {
            [] => Meaning::Unknown,
            [one] => Meaning::One(*one, 0.75),
            [a, b] if self.zones.get(*a).and_then(|z| z.pair) == Some(*b) => Meaning::Sides(zones),
            many if many.len() > 6 => Meaning::Unknown,
            _ => Meaning::Several(zones),
        }
    }

    /// Does this zone have a part that is said so, or one of whose words is this?
    pub fn has_part(&self, zone: usize, said: &[u32]) -> bool {
        self.parts
            .iter()
            .any(|(words, z)| *z == zone && said.iter().all(|w| words.contains(w)))
    }

    /// Are these two zones looked at from one place?
    pub fn together(&self, a: usize, b: usize) -> bool {
        match (self.zones.get(a), self.zones.get(b)) {
            (Some(a), Some(b)) => a.stops.iter().any(|s| b.stops.contains(s)),
            _ => false,
        }
    }

    /// The words of a phrase that name some zone, whole.
    pub fn place_words(&self, words: &[u32]) -> Vec<u32> {
        let known = |w: &&u32| self.by_word.contains_key(w);
        words.iter().filter(known).copied().collect()
    }

    /// Full coverage counts 1 and more with more words; a matching head counts below 1.
    fn score(&self, phrase: &Phrase, first: &[u32], rest: &[u32]) -> f64 {
        let in_first = phrase.words.iter().filter(|w| first.contains(w)).count();
        let in_rest = phrase
            .words
            .iter()
            .filter(|w| !first.contains(w) && rest.contains(w))
            .count();
        let matched = in_first + in_rest;
        let total = phrase.words.len();
        let Some(head) = phrase.words.last() else {
            return 0.0;
        };
        let head_said = first.contains(head) || rest.contains(head);
        if !head_said {
            return 0.0;
        }
        let head_first = if first.contains(head) { 0.4 } else { 0.0 };
        if matched == total && in_first == 0 {
            return 0.5;
        }
        if matched == total {
            // said words that the phrase does not use count against it a little
            let unused = first.iter().filter(|w| !phrase.words.contains(w)).count();
            return 1.0 + in_first as f64 * 0.5 + in_rest as f64 * 0.45 + head_first
                - unused as f64 * 0.05;
        }
        // only part of the name: the share of it that was said
        let own = phrase
            .words
            .iter()
            .filter(|w| !self.broad.contains(w))
            .count();
        let own_said = phrase
            .words
            .iter()
            .filter(|w| !self.broad.contains(w) && (first.contains(w) || rest.contains(w)))
            .count();
        if own == 0 || own_said == 0 {
            return 0.0;
        }
        0.3 + 0.5 * matched as f64 / total as f64 + head_first / 4.0
    }
}

fn find(words: &[u32], part: &[u32]) -> Option<usize> {
    if part.is_empty() || part.len() > words.len() {
        return None;
    }
    words.windows(part.len()).position(|w| w == part)
}

fn without_side(ids: &[u32], sides: &[(Vec<u32>, Hand)]) -> (Vec<u32>, Hand) {
    for (side, hand) in sides {
        if let Some(at) = find(ids, side) {
            let mut base = ids.to_vec();
            base.drain(at..at + side.len());
            return (base, *hand);
        }
    }
    (ids.to_vec(), Hand::None)
}
