//! The words of one language, as data: what `words/<language>.toml` may hold.
//!
//! A language is a file. The code knows cues ("a word that denies", "a word for left"), never words.

use std::collections::{BTreeMap, HashMap};

use serde::Deserialize;

use crate::error::{Error, ErrorKind, Result};

/// English, built in.
const ENGLISH: &str = include_str!("../../words/en.toml");
/// Sound-alikes and words missing from the common pronouncing dictionary.
const ENGLISH_SOUNDS: &str = include_str!("../../words/en_sounds.toml");
/// Patterns of everyday ways of saying.
const ENGLISH_SAYINGS: &str = include_str!("../../words/en_sayings.toml");
/// English words one slip away from a trade word: never taken for a typing error.
const ENGLISH_NOT_SLIPS: &str = include_str!("../../words/en_not_slips.toml");

/// What a word or phrase does in a sentence. One list of phrases each in the words file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Cue {
    /// Denies what follows: `no`, `isn't`, `free of`.
    Negation,
    /// Denies what stands before it: `crack free`.
    NegationAfter,
    /// Looks like a denial and is none: `no doubt`, `not sure`.
    NotNegation,
    /// `no longer`, `any more`: it was there and is not.
    NoLonger,
    /// What was said last is replaced: `sorry`, `I mean`, `make that`.
    Correction,
    /// `no` between two things of one kind.
    CorrectionNo,
    /// `just`, `only`: what follows a denied condition instead of it.
    Instead,
    /// `but`, `except`: a denial ends here.
    But,
    /// `and`, `plus`.
    And,
    /// `or`.
    Or,
    /// `about`, `just over`, `less than`.
    HedgeBefore,
    /// `or so`, `give or take`.
    HedgeAfter,
    /// `between`.
    Between,
    /// `to`, `through`: joins two ends of a range.
    To,
    /// `from`.
    From,
    /// `by` between two sizes.
    By,
    /// `runs`, `extends`: the number that follows is a size, whatever direction stands behind it.
    Extends,
    /// Sounds like a number: `to`, `too`, `for`.
    SoundsTwo,
    /// `for`, `fore`.
    SoundsFour,
    /// It is worse than before.
    Worse,
    /// It is as before.
    Same,
    /// It is less than before.
    Less,
    /// It is not there any more.
    Gone,
    /// It was not there before.
    New,
    /// A verb of growth that takes an amount or two sizes: `grown`, `went`.
    Grown,
    /// A verb of shrinking that takes an amount.
    Shrunk,
    /// Introduces an earlier size: `was`, `used to be`, `up from`.
    Earlier,
    /// Introduces the present size: `now`.
    Now,
    /// Basis: by touch.
    Felt,
    /// Basis: measured.
    Measured,
    /// Basis: somebody said so.
    Told,
    /// Basis: written somewhere.
    Read,
    /// Basis: seen.
    Seen,
    /// A look that found nothing.
    NothingFound,
    /// Nothing found, only with a place named in the same breath: `fine`, `OK`.
    FineHere,
    /// A look that could not be made.
    NotSeen,
    /// Somebody teaches or speaks of what may be in general.
    Teaching,
    /// Somebody states a limit or a rule.
    Limit,
    /// Radio talk.
    Radio,
    /// Another aircraft.
    OtherAircraft,
    /// Things that are not this aircraft.
    OtherThings,
    /// Talk, plans, requests.
    Talk,
    /// A question put to somebody.
    Asking,
    /// Something that was put right or is over.
    Past,
    /// Phrases with a trade word that mean something else: `crack on`.
    Idiom,
    /// Left.
    Left,
    /// Right.
    Right,
    /// Both sides.
    Both,
    /// Length: `long`.
    Length,
    /// Width.
    Width,
    /// Depth.
    Depth,
    /// Diameter: `across`.
    Diameter,
    /// Height.
    Height,
    /// Thickness.
    Thickness,
    /// Area.
    Area,
    /// Gap, play.
    Gap,
    /// `is`, `measures`: a number that follows is a size.
    Measures,
    /// A direction that makes a position of a size: `aft of`, `from`.
    Direction,
    /// `under`, `underneath`: of a wing it means the lower side.
    Under,
    /// Adjectives that are said for a whole leg: `main`, `nose`.
    Lone,
    /// `has`, `is`: the thing before it is what a sentence is about.
    Verb,
    /// `longer than last time`, behind a size: it is an amount of growth.
    GrownAfter,
    /// `shorter than last time`, behind a size.
    ShrunkAfter,
    /// Parts finer than any zone.
    Part,
    /// Words that go before a part: `lower`, `aft`.
    PartModifier,
    /// Parts that carry a number: `blade`, `rib`.
    Designator,
    /// `number`.
    NumberWord,
    /// `o'clock`.
    OClock,
    /// `station`.
    Station,
    /// `the`, `a`.
    Determiner,
    /// `in`, `on`, `at`, `near`.
    Preposition,
    /// `it`, `this`.
    Pronoun,
    /// `per`, `a` between a count and a time.
    Per,
    /// Units of time.
    TimeUnit,
    /// `ago`, `since`, months: a date of before.
    Date,
    /// `another`, `the other`.
    Another,
    /// Not certain: `maybe`, `looks like`.
    Unsure,
    /// Said without meaning: `um`, `okay`.
    Filler,
    /// Goes with a command: `please`, `can you`.
    Polite,
    /// Reading: oil found.
    OilFound,
    /// Reading: oil added.
    OilAdded,
    /// Reading: pressure.
    Pressure,
    /// Reading: fuel.
    Fuel,
    /// Reading: hours on a meter.
    Hours,
    /// Reading: landings.
    Landings,
    /// Reading: strut extension.
    Extension,
    /// Reading: fuel sample.
    Sample,
    /// Command.
    Photo,
    /// Command.
    Next,
    /// Command.
    Back,
    /// Command.
    Repeat,
    /// Command.
    Keep,
    /// Command.
    Discard,
    /// Command.
    Undo,
    /// Command.
    Stop,
    /// Command.
    Measure,
    /// Command.
    Show,
    /// Command.
    Concern,
    /// Command.
    Finish,
}

impl Cue {
    /// The command of this cue, if it is one.
    pub fn command(self) -> Option<&'static str> {
        Some(match self {
            Self::Photo => "photo",
            Self::Next => "next",
            Self::Back => "back",
            Self::Repeat => "repeat",
            Self::Keep => "keep",
            Self::Discard => "discard",
            Self::Undo => "undo",
            Self::Stop => "stop",
            Self::Measure => "measure",
            Self::Show => "show",
            Self::Concern => "concern",
            Self::Finish => "finish",
            _ => return None,
        })
    }

    /// True for the cues that make a saying a remark.
    pub fn remark(self) -> bool {
        matches!(
            self,
            Self::Teaching
                | Self::Limit
                | Self::Radio
                | Self::OtherAircraft
                | Self::OtherThings
                | Self::Talk
                | Self::Asking
                | Self::Past
        )
    }
}

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

/// Most phrases that one pattern may stand for.
const MOST_OF_A_PATTERN: usize = 20_000;

/// Writes a pattern out: `(a|b c)` is one of these, with `?` behind it none of them too.
fn written_out(pattern: &str) -> Result<Vec<String>> {
    let bad = |why: &str| {
        Error::new(ErrorKind::BadFormat, why.to_owned())
            .at(pattern)
            .hint("compare with core/words/en_sayings.toml")
    };
    let (out, rest) = alternatives_of(pattern, 0).ok_or_else(|| bad("a bracket is not closed"))?;
    if !rest.is_empty() {
        return Err(bad("a bracket is closed that was not opened"));
    }
    if out.len() > MOST_OF_A_PATTERN {
        return Err(bad("the pattern stands for too many phrases"));
    }
    Ok(out
        .into_iter()
        .map(|p| p.split_whitespace().collect::<Vec<_>>().join(" "))
        .filter(|p| !p.is_empty())
        .collect())
}

/// Everything up to `)` or the end, written out, and what follows it.
fn alternatives_of(text: &str, depth: usize) -> Option<(Vec<String>, &str)> {
    let mut all = Vec::new();
    let mut now = vec![String::new()];
    let mut rest = text;
    loop {
        let Some(at) = rest.find(['(', ')', '|']) else {
            if depth > 0 {
                return None;
            }
            now.iter_mut().for_each(|p| p.push_str(rest));
            all.append(&mut now);
            return Some((all, ""));
        };
        let (plain, tail) = rest.split_at(at);
        now.iter_mut().for_each(|p| p.push_str(plain));
        let mut chars = tail.chars();
        match chars.next()? {
            '|' => {
                all.append(&mut now);
                now.push(String::new());
                rest = chars.as_str();
            }
            ')' => {
                all.append(&mut now);
                return Some((all, if depth > 0 { chars.as_str() } else { tail }));
            }
            _ => {
                if depth > 4 {
                    return None;
                }
                let (mut inner, after) = alternatives_of(chars.as_str(), depth + 1)?;
                rest = after;
                if let Some(optional) = after.strip_prefix('?') {
                    inner.push(String::new());
                    rest = optional;
                }
                if now.len().checked_mul(inner.len())? > 2 * MOST_OF_A_PATTERN {
                    return None;
                }
                now = now
                    .iter()
                    .flat_map(|p| inner.iter().map(move |i| format!("{p}{i}")))
                    .collect();
            }
        }
    }
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
