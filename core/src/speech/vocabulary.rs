//! One vocabulary: the words of a language, the places of a layout, the conditions.

use std::collections::BTreeMap;

use super::lexicon::{Flat, Lexicon};
use super::place::{Hand, Place, Places};
use super::words::{Cue, Words};
use crate::condition::Conditions;
use crate::layout::{Layout, Side};

/// A condition as the words see it.
#[derive(Debug, Clone)]
pub struct KindOfDefect {
    /// Name in the condition files.
    pub name: String,
    /// Title for people.
    pub title: String,
    /// Ways of saying it.
    pub spoken: Vec<String>,
    /// Quantities with the units they are given in, in the order of the data file.
    pub quantities: Vec<(String, Vec<String>)>,
}

/// A stop as the words see it.
#[derive(Debug, Clone)]
pub struct StopWords {
    /// Key in the layout.
    pub key: String,
    /// Indexes of the zones that it covers.
    pub zones: Vec<usize>,
}

/// Everything that can be understood: made once for a layout, used for every saying.
#[derive(Debug, Clone)]
pub struct Vocabulary {
    pub(crate) words: Words,
    pub(crate) lexicon: Lexicon,
    pub(crate) places: Places,
    pub(crate) kinds: Vec<KindOfDefect>,
    pub(crate) stops: Vec<StopWords>,
    refine: Vec<Finer>,
}

/// A row of the list that makes a general word a finer condition.
#[derive(Debug, Clone)]
struct Finer {
    from: usize,
    near: Vec<u32>,
    to: usize,
    said: Option<Vec<Vec<u32>>>,
}

impl Vocabulary {
    /// The vocabulary of a layout, the conditions and a language.
    pub fn new(layout: &Layout, conditions: &Conditions, words: Words) -> Self {
        let index = |code: &str| layout.zones.iter().position(|z| z.code == code);
        let zones = layout
            .zones
            .iter()
            .map(|zone| Place {
                code: zone.code.clone(),
                name: zone.name.clone(),
                side: match zone.side {
                    Side::Left => Hand::Left,
                    Side::Right => Hand::Right,
                    Side::None => Hand::None,
                },
                pair: zone.pair.as_deref().and_then(index),
                spoken: zone.spoken.clone(),
                parts: zone
                    .parts
                    .iter()
                    .flat_map(|p| p.spoken.iter().chain([&p.name]).cloned())
                    .collect(),
                stops: layout
                    .stops
                    .iter()
                    .filter(|s| s.zones.contains(&zone.code))
                    .map(|s| s.key.clone())
                    .collect(),
            })
            .collect();
        let parts = layout
            .zones
            .iter()
            .flat_map(|z| z.parts.iter())
            .flat_map(|p| p.spoken.iter().chain([&p.name]).cloned())
            .collect();
        let stops = layout
            .stops
            .iter()
            .map(|s| StopWords {
                key: s.key.clone(),
                zones: s.zones.iter().filter_map(|c| index(c)).collect(),
            })
            .collect();
        let kinds = conditions
            .list
            .iter()
            .map(|c| KindOfDefect {
                name: c.name.clone(),
                title: c.title.clone(),
                spoken: c.spoken.clone(),
                quantities: c
                    .quantities
                    .iter()
                    .map(|q| {
                        let units = q.units.iter().map(ToString::to_string).collect();
                        (q.name.clone(), units)
                    })
                    .collect(),
            })
            .collect();
        Self::from_parts(zones, parts, stops, kinds, words)
    }

    /// The vocabulary of zones, parts, stops and conditions given one by one.
    pub fn from_parts(
        zones: Vec<Place>,
        parts: Vec<String>,
        stops: Vec<StopWords>,
        kinds: Vec<KindOfDefect>,
        words: Words,
    ) -> Self {
        let mut lexicon = Lexicon::new(&words);
        for part in &parts {
            let ids = lexicon.intern(&words, part);
            if let Some(entry) = lexicon.tree.entry(&ids) {
                entry.cues.add(Cue::Part);
            }
        }
        let by_name: BTreeMap<&str, usize> = kinds
            .iter()
            .enumerate()
            .map(|(i, k)| (k.name.as_str(), i))
            .collect();
        let mut phrases: Vec<(String, usize)> = Vec::new();
        // The words file first: where it and a condition's own list disagree, it was put there to decide.
        for (name, said) in &words.conditions {
            if let Some(index) = by_name.get(name.as_str()) {
                phrases.extend(said.iter().map(|s| (s.clone(), *index)));
            }
        }
        for (name, said) in &words.condition_sayings {
            if let Some(index) = by_name.get(name.as_str()) {
                phrases.extend(said.iter().map(|s| (s.clone(), *index)));
            }
        }
        for (index, kind) in kinds.iter().enumerate() {
            // "brake disc" names a condition of the list, and is a part when somebody says it
            let part = |said: &str| {
                words
                    .cues
                    .get(&Cue::Part)
                    .is_some_and(|parts| parts.iter().any(|p| p.eq_ignore_ascii_case(said)))
            };
            let name = kind.name.replace(['_', '-'], " ");
            for said in kind
                .spoken
                .iter()
                .cloned()
                .chain([kind.title.clone(), name])
            {
                if !part(&said) {
                    phrases.push((said, index));
                }
            }
        }
        let short: Vec<(String, usize)> = phrases
            .iter()
            .filter_map(|(p, i)| super::lexicon::without_is(p).map(|p| (p, *i)))
            .collect();
        phrases.extend(short);
        for (phrase, _) in &phrases {
            lexicon.intern(&words, phrase);
            lexicon.forgive(&words, phrase, true);
        }
        for (phrase, index) in phrases {
            let ids = lexicon.intern(&words, &phrase);
            if let Some(entry) = lexicon.tree.entry(&ids)
                && entry.conditions.is_empty()
            {
                entry.conditions.push(index);
            }
        }
        for alike in &words.alike {
            let meant = lexicon.intern(&words, &alike.meant);
            let heard = lexicon.intern(&words, &alike.heard);
            lexicon.sounds_like(&heard, &meant);
        }
        for (from, to) in &words.rewrite {
            let meant = lexicon.intern(&words, to);
            let said = lexicon.intern(&words, from);
            lexicon.sounds_like(&said, &meant);
        }
        let refine = words
            .refine
            .iter()
            .filter_map(|row| {
                let from = kinds.iter().position(|k| k.name == row.from)?;
                let to = kinds.iter().position(|k| k.name == row.to)?;
                Some(Finer {
                    from,
                    to,
                    near: row
                        .near
                        .iter()
                        .flat_map(|w| lexicon.intern(&words, w))
                        .collect(),
                    said: row
                        .said
                        .as_ref()
                        .map(|said| said.iter().map(|w| lexicon.intern(&words, w)).collect()),
                })
            })
            .collect();
        let places = Places::new(zones, &words, &mut lexicon);
        for zone in &places.zones {
            for phrase in zone.spoken.iter().chain([&zone.name]) {
                lexicon.forgive(&words, phrase, false);
            }
        }
        let nouns = words.cues.get(&Cue::Part).into_iter().flatten();
        let sides = [Cue::Left, Cue::Right]
            .iter()
            .filter_map(|c| words.cues.get(c))
            .flatten();
        let units = words.units.iter().flat_map(|u| u.said.iter());
        for phrase in nouns.chain(sides).chain(units).chain(&parts) {
            lexicon.forgive(&words, phrase, false);
        }
        Self {
            words,
            lexicon,
            places,
            kinds,
            stops,
            refine,
        }
    }

    /// The finer condition for `condition` said in flat words `said`, by the nearest deciding word.
    pub(crate) fn finer(&self, condition: usize, flat: &[Flat], said: (usize, usize)) -> usize {
        let own: Vec<u32> = flat
            .get(said.0..said.1)
            .unwrap_or(&[])
            .iter()
            .map(|f| f.word)
            .collect();
        let mut best: Option<(usize, usize)> = None;
        for row in self.refine.iter().filter(|r| r.from == condition) {
            if row.said.as_ref().is_some_and(|list| !list.contains(&own)) {
                continue;
            }
            for (index, word) in flat
                .iter()
                .enumerate()
                .take(said.1 + 8)
                .skip(said.0.saturating_sub(8))
            {
                if !row.near.contains(&word.word) || (said.0..said.1).contains(&index) {
                    continue;
                }
                // what stands before a word describes it sooner than what stands after
                let distance = if index < said.0 {
                    said.0 - index
                } else {
                    (index - said.1 + 1) * 2
                };
                if best.is_none_or(|(d, _)| distance < d) {
                    best = Some((distance, row.to));
                }
            }
        }
        best.map_or(condition, |(_, to)| to)
    }

    /// A sentence of the language with `{name}` filled in.
    pub(crate) fn sentence(&self, key: &str, fill: &[(&str, &str)]) -> String {
        let mut text = self
            .words
            .read
            .get(key)
            .cloned()
            .unwrap_or_else(|| key.to_owned());
        for (name, value) in fill {
            text = text.replace(&format!("{{{name}}}"), value);
        }
        text
    }

    /// Code and name of a zone.
    pub(crate) fn zone(&self, code: &str) -> Option<(String, String)> {
        let zone = self.places.zones.iter().find(|z| z.code == code)?;
        Some((zone.code.clone(), zone.name.clone()))
    }

    /// `left`, `right` or `none`.
    pub(crate) fn side(&self, code: &str) -> &'static str {
        self.places
            .zones
            .iter()
            .find(|z| z.code == code)
            .map_or("none", |z| z.side.word())
    }

    /// Are these two the left and the right of one thing?
    pub(crate) fn pair(&self, a: &str, b: &str) -> bool {
        let at = |code: &str| self.places.zones.iter().position(|z| z.code == code);
        match (at(a), at(b)) {
            (Some(a), Some(b)) => self.places.zones.get(a).and_then(|z| z.pair) == Some(b),
            _ => false,
        }
    }

    /// Is `text` a way of saying this zone?
    pub(crate) fn names(&self, code: &str, text: &str) -> bool {
        let tokens = super::token::tokens(text);
        let words: Vec<u32> = self
            .lexicon
            .flat(&self.words, &tokens)
            .iter()
            .map(|f| f.word)
            .collect();
        self.places
            .zones
            .iter()
            .position(|z| z.code == code)
            .is_some_and(|zone| self.places.names(zone, &words))
    }

    /// The language of the words.
    pub fn language(&self) -> &str {
        self.words.language()
    }
}
