//! The words of one language, as data: what `words/<language>.toml` may hold.
//!
//! A language is a file. The code knows cues ("a word that denies", "a word for left"), never words.

use std::collections::{BTreeMap, HashMap};

use serde::Deserialize;

pub(crate) use super::cue::Cue;
use super::pattern::written_out;
use crate::error::{Error, ErrorKind, Result};

/// English, built in.
const ENGLISH: &str = include_str!("../../words/en.toml");
/// Sound-alikes and words missing from the common pronouncing dictionary.
const ENGLISH_SOUNDS: &str = include_str!("../../words/en_sounds.toml");
/// Patterns of everyday ways of saying.
const ENGLISH_SAYINGS: &str = include_str!("../../words/en_sayings.toml");
/// English words one slip away from a trade word: never taken for a typing error.
const ENGLISH_NOT_SLIPS: &str = include_str!("../../words/en_not_slips.toml");

/// Number words.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct NumberWords {
    /// 0 to 19 and the tens.
    pub cardinals: BTreeMap<String, i64>,
    /// `hundred`, `thousand`.
    pub scales: BTreeMap<String, i64>,
    /// Denominators and ordinals: `half`, `thirds`, `sixteenth`.
    pub ordinals: BTreeMap<String, i64>,
    /// Ordinals that are no denominators alone (`first`, `second`), but end one (`thirty-second`).
    pub ordinal_ends: BTreeMap<String, i64>,
    /// `point`.
    pub point: Vec<String>,
    /// `and` inside numbers.
    pub and: Vec<String>,
    /// `a`, `an`.
    pub article: Vec<String>,
    /// Vague counts: `couple` = 2.
    pub vague: BTreeMap<String, i64>,
    /// `of` between a fraction and its unit.
    pub of: Vec<String>,
    /// Whole denominators that a rule or a drill has; others are spoken rarely and read as said.
    pub shop_denominators: Vec<i64>,
}

/// A unit: its symbol and how it is said and typed.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct UnitWords {
    /// Symbol in drafts: `in`, `psi`.
    pub symbol: String,
    /// What it measures: `length`, `pressure`, `volume`, `count`, `time`, `unsure`.
    pub of: String,
    /// Spoken and typed forms.
    pub said: Vec<String>,
    /// Largest value that an aeroplane can have without being asked.
    pub most: i64,
    /// How many of the symbol one of this is: `a drop a second` is 60 drips/min.
    #[serde(default)]
    pub times: Option<i64>,
    /// For `unsure`: what it may be.
    #[serde(default)]
    pub may_be: Vec<String>,
    /// Read-back, singular and plural.
    #[serde(default)]
    pub read: Vec<String>,
}

/// Sound-alikes: what a recogniser writes for a trade word, and why.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct SoundAlike {
    /// What is written.
    pub heard: String,
    /// What was said.
    pub meant: String,
    /// Why it happens.
    #[allow(
        dead_code,
        reason = "kept with the data so that a reader can judge each row"
    )]
    pub why: String,
}

/// A general word that means a finer condition beside another word.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Refine {
    /// Condition of the general word.
    pub from: String,
    /// Words that decide.
    pub near: Vec<String>,
    /// The finer condition.
    pub to: String,
    /// Only for these general words; absent: for all; empty: never (kept to say that it was thought of).
    #[serde(default)]
    pub said: Option<Vec<String>>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Sounds {
    alike: Vec<SoundAlike>,
    pronunciations: BTreeMap<String, Vec<String>>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Sayings {
    cues: BTreeMap<Cue, Vec<String>>,
    conditions: BTreeMap<String, Vec<String>>,
    command_keys: BTreeMap<Cue, Vec<String>>,
    neutral: Neutral,
    rewrite: BTreeMap<String, String>,
    feature_implies: BTreeMap<String, String>,
}

/// Words that add nothing to a command.
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct Neutral {
    words: Vec<String>,
    things: Vec<String>,
}

/// Adverbs that change nothing behind some words: `quite` in "can't quite see".
#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Skip {
    /// The words before them.
    pub behind: Vec<String>,
    /// The adverbs.
    pub words: Vec<String>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct NotSlips {
    words: Vec<String>,
}

#[derive(Debug, Clone, Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    language: String,
    spelling: HashMap<String, String>,
    apart: HashMap<String, String>,
    numbers: NumberWords,
    units: Vec<UnitWords>,
    cues: BTreeMap<Cue, Vec<String>>,
    conditions: BTreeMap<String, Vec<String>>,
    same_place: Vec<Vec<String>>,
    wholes: Vec<String>,
    stuff: Vec<String>,
    skip: Skip,
    refine: Vec<Refine>,
    condition_implies: BTreeMap<String, Vec<String>>,
    read: BTreeMap<String, String>,
}

/// The words of one language.
#[derive(Debug, Clone)]
pub struct Words {
    pub(crate) language: String,
    /// Other spelling → the spelling used in the lists.
    pub(crate) spelling: HashMap<String, String>,
    /// One written word → the words it is made of.
    pub(crate) apart: HashMap<String, String>,
    pub(crate) numbers: NumberWords,
    pub(crate) units: Vec<UnitWords>,
    pub(crate) cues: BTreeMap<Cue, Vec<String>>,
    /// Patterns written out: further phrases of cues, not told to recognisers.
    pub(crate) sayings: BTreeMap<Cue, Vec<String>>,
    /// Patterns written out: further phrases of conditions.
    pub(crate) condition_sayings: BTreeMap<String, Vec<String>>,
    /// Further ways of saying a condition, added to those of its data file.
    pub(crate) conditions: BTreeMap<String, Vec<String>>,
    /// Groups of words that name one kind of place.
    pub(crate) same_place: Vec<Vec<String>>,
    /// Words for something large that has finer zones in it: `wing`.
    pub(crate) wholes: Vec<String>,
    /// What leaks: no places, though zones are named after it.
    pub(crate) stuff: Vec<String>,
    pub(crate) skip: Skip,
    pub(crate) refine: Vec<Refine>,
    /// Condition → words that show which part of the aircraft it is on.
    pub(crate) condition_implies: BTreeMap<String, Vec<String>>,
    /// Sentences of the read-back.
    pub(crate) read: BTreeMap<String, String>,
    /// Key phrases of commands, for a saying that no list has: one key and words that add nothing.
    pub(crate) command_keys: BTreeMap<Cue, Vec<String>>,
    /// Words that add nothing to a command.
    pub(crate) neutral: Vec<String>,
    /// Things that some commands are about: `crack`, `one`.
    pub(crate) neutral_things: Vec<String>,
    /// A phrase → the phrase that says the same and is in the lists.
    pub(crate) rewrite: BTreeMap<String, String>,
    /// What a position is counted on → the place that has such positions: `radius` → `propeller`.
    pub(crate) feature_implies: BTreeMap<String, String>,
    pub(crate) alike: Vec<SoundAlike>,
    pub(crate) pronunciations: BTreeMap<String, Vec<String>>,
    pub(crate) not_slips: Vec<String>,
}

impl Words {
    /// The built-in words of a language, by its two-letter code.
    ///
    /// # Errors
    /// `Unknown` for a language that has no file.
    pub fn built_in(language: &str) -> Result<Self> {
        match language.split('-').next().unwrap_or_default() {
            "en" => Self::parse(ENGLISH, ENGLISH_SAYINGS, ENGLISH_SOUNDS, ENGLISH_NOT_SLIPS),
            other => Err(Error::new(
                ErrorKind::Unknown,
                format!("there are no words for the language \"{other}\""),
            )
            .hint("use en, or add a words file")),
        }
    }

    /// Reads a language from its four files: words, patterns of sayings, sounds, and words that are no slips.
    ///
    /// # Errors
    /// `BadFormat` with the parser's line for a file that is not what it should be.
    pub fn parse(words: &str, sayings: &str, sounds: &str, not_slips: &str) -> Result<Self> {
        let bad = |e: toml::de::Error, which: &str| {
            Error::new(ErrorKind::BadFormat, format!("{e}"))
                .at(which)
                .hint("compare with core/words/en.toml")
        };
        let file: File = toml::from_str(words).map_err(|e| bad(e, "words"))?;
        let sayings: Sayings = toml::from_str(sayings).map_err(|e| bad(e, "sayings"))?;
        let all = |patterns: &Vec<String>| -> Result<Vec<String>> {
            let mut out = Vec::new();
            for pattern in patterns {
                out.extend(written_out(pattern)?);
            }
            Ok(out)
        };
        let mut cue_sayings = BTreeMap::new();
        for (cue, patterns) in &sayings.cues {
            cue_sayings.insert(*cue, all(patterns)?);
        }
        let mut condition_sayings = BTreeMap::new();
        for (name, patterns) in &sayings.conditions {
            condition_sayings.insert(name.clone(), all(patterns)?);
        }
        let mut command_keys = BTreeMap::new();
        for (cue, patterns) in &sayings.command_keys {
            command_keys.insert(*cue, all(patterns)?);
        }
        let mut rewrite = BTreeMap::new();
        for (patterns, to) in &sayings.rewrite {
            for from in written_out(patterns)? {
                rewrite.insert(from, to.clone());
            }
        }
        let sounds: Sounds = toml::from_str(sounds).map_err(|e| bad(e, "sounds"))?;
        let not_slips: NotSlips = toml::from_str(not_slips).map_err(|e| bad(e, "not slips"))?;
        Ok(Self {
            language: file.language,
            spelling: file.spelling,
            apart: file.apart,
            numbers: file.numbers,
            units: file.units,
            cues: file.cues,
            sayings: cue_sayings,
            condition_sayings,
            command_keys,
            neutral: sayings.neutral.words,
            neutral_things: sayings.neutral.things,
            rewrite,
            feature_implies: sayings.feature_implies,
            conditions: file.conditions,
            same_place: file.same_place,
            wholes: file.wholes,
            stuff: file.stuff,
            skip: file.skip,
            refine: file.refine,
            condition_implies: file.condition_implies,
            read: file.read,
            alike: sounds.alike,
            pronunciations: sounds.pronunciations,
            not_slips: not_slips.words,
        })
    }

    /// The language's code.
    pub fn language(&self) -> &str {
        &self.language
    }

    /// The spelling that the lists use, without the plural's ending.
    ///
    /// The ending is cut on both sides of every comparison, so it need not be good grammar, only
    /// the same each time.
    pub(crate) fn fold(&self, word: &str) -> String {
        let word = self.spelling.get(word).map_or(word, String::as_str);
        let bytes = word.len();
        if bytes > 4 && word.ends_with("ies") {
            return format!("{}y", &word[..bytes - 3]);
        }
        if bytes > 4
            && (word.ends_with("xes")
                || word.ends_with("ches")
                || word.ends_with("shes")
                || word.ends_with("sses"))
        {
            return word[..bytes - 2].to_owned();
        }
        if bytes > 3
            && word.ends_with('s')
            && !word.ends_with("ss")
            && !word.ends_with("us")
            && !word.ends_with("is")
        {
            return word[..bytes - 1].to_owned();
        }
        word.to_owned()
    }
}
