//! What is known about a kind of defect.

use std::sync::OnceLock;

use serde::Serialize;

use super::load;
use crate::datafile::{embedded, short};
use crate::error::{Error, ErrorKind, Result};
use crate::quantity::{Amount, Rational, Unit};
use crate::sources::Source;

/// Which way of changing is deterioration.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum WorseWhen {
    /// A crack that reads longer.
    Larger,
    /// A groove or lining that reads thinner.
    Smaller,
    /// Neither: the figure describes, it does not judge.
    Neither,
}

/// What a finding of this condition hangs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Takes {
    /// A zone.
    Zone,
    /// A system (radio, light, flap drive): no zone is needed.
    System,
}

/// A kind of defect.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Condition {
    /// Word that entries store: `crack`.
    pub name: String,
    /// Words for people.
    pub title: String,
    /// Ways to say it, US and UK, lower case.
    pub spoken: Vec<String>,
    /// What the word means, with what it is easily mistaken for.
    pub meaning: String,
    /// Zone or system.
    pub takes: Takes,
    /// What can be measured of it, the usual first.
    pub quantities: Vec<QuantitySpec>,
    /// Ordered states, mildest first (dry stain, seep, drip); empty where there are none. Only the order
    /// counts, distances between steps mean nothing.
    pub steps: Vec<Step>,
    /// Which way of changing is deterioration, unless a quantity says otherwise.
    pub worse_when: WorseWhen,
    /// True where it lies on a surface, so that a repaint covers it.
    pub surface: bool,
    /// True where a smaller reading needs explaining: cracks do not shrink.
    pub never_shrinks: bool,
    /// True where dressing adds up over the years and every earlier one must stay in sight.
    pub adds_up: bool,
    /// What must be asked so that the number means something.
    pub asks: Vec<Ask>,
    /// What it is honest not to know, as answers a person may give.
    pub honest: Vec<String>,
    /// What makes two measures of it not comparable, whole sentences.
    pub not_comparable: Vec<String>,
    /// Names of the published scales that may classify it.
    pub scales: Vec<String>,
    /// How to look for it, with sources.
    pub how: Vec<crate::layout::LookFor>,
    /// What can hurt somebody, whole sentences.
    pub cautions: Vec<String>,
    /// Documents that the file cites.
    pub sources: Vec<Source>,
}

/// One thing that can be measured.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct QuantitySpec {
    /// Word that entries store: `length`, `depth`, `drip_rate`.
    pub name: String,
    /// Units to offer, the usual first.
    pub units: Vec<Unit>,
    /// Ways to measure it, the best known first.
    pub methods: Vec<Method>,
    /// Which way of changing is deterioration.
    pub worse_when: WorseWhen,
}

/// A way to measure, and how far off it may be when nobody says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Method {
    /// Word that entries store: `ruler`, `card`, `eye`.
    pub name: String,
    /// Words for people: `by ruler`.
    pub title: String,
    /// Ways to say it, lower case.
    pub spoken: Vec<String>,
    /// Default standard uncertainty that does not grow with the value.
    pub u: Option<Amount>,
    /// Default standard uncertainty as a share of the value (`1/4` = a quarter of it).
    pub u_share: Option<Rational>,
    /// How the default came about, and how well it is known.
    pub why: String,
}

impl Method {
    /// Default standard uncertainty for a value in `unit`: the fixed part or the share, whichever is
    /// larger. `None` where the method has none (a photograph brings its own, a paper record has none).
    ///
    /// Errors: `BadValue` where the fixed part cannot be expressed in `unit`.
    pub fn u_for(&self, value: &Rational, unit: Unit) -> Result<Option<Rational>> {
        let fixed = match &self.u {
            Some(amount) => Some(amount.unit.convert_difference(&amount.value, unit)?),
            None => None,
        };
        let size = if value.is_negative() {
            Rational::zero().sub(value)
        } else {
            Some(*value)
        };
        let share = self.u_share.as_ref().and_then(|share| size?.mul(share));
        Ok(fixed.max(share).filter(|u| !u.is_zero()))
    }
}

/// One of the ordered states of a condition.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Step {
    /// Word that entries store: `seep`.
    pub name: String,
    /// Words for people.
    pub title: String,
    /// Ways to say it, lower case.
    pub spoken: Vec<String>,
}

/// A question whose answer the measure needs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Ask {
    /// Word that entries store: `minutes_since_wiped`.
    pub key: String,
    /// The question, with its question mark.
    pub asked: String,
    /// Answers to choose from; empty for a free answer.
    pub choices: Vec<String>,
    /// Unit of a numeric answer.
    pub unit: Option<Unit>,
    /// True where two measures with different answers are not comparable.
    pub must_agree: bool,
    /// Quantities that say nothing without this answer: a size of them without it is kept, and compared
    /// with no other.
    pub needed_for: Vec<String>,
}

impl Condition {
    /// The quantity of a name.
    pub fn quantity(&self, name: &str) -> Option<&QuantitySpec> {
        self.quantities
            .iter()
            .find(|quantity| quantity.name == name)
    }

    /// The method of a name, from the first quantity that offers it.
    pub fn method(&self, name: &str) -> Option<&Method> {
        self.quantities
            .iter()
            .find_map(|quantity| quantity.method(name))
    }

    /// Place of a step in the order, from 0.
    pub fn step_rank(&self, name: &str) -> Option<usize> {
        self.steps.iter().position(|step| step.name == name)
    }
}

impl QuantitySpec {
    /// The method of a name.
    pub fn method(&self, name: &str) -> Option<&Method> {
        self.methods.iter().find(|method| method.name == name)
    }
}

/// All conditions.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Conditions {
    /// Sorted by name.
    pub list: Vec<Condition>,
}

impl Conditions {
    /// The built-in conditions. A test holds that every embedded file is one.
    pub fn built_in() -> &'static Conditions {
        static LIST: OnceLock<Conditions> = OnceLock::new();
        LIST.get_or_init(|| {
            let mut list: Vec<Condition> = embedded::CONDITIONS
                .iter()
                .filter_map(|(_, text)| Condition::parse(text).ok())
                .collect();
            list.sort_by(|a, b| a.name.cmp(&b.name));
            Conditions { list }
        })
    }

    /// The condition of a name.
    pub fn get(&self, name: &str) -> Option<&Condition> {
        self.list.iter().find(|condition| condition.name == name)
    }

    /// The condition that a person means by its name, title or spoken words.
    ///
    /// Errors: `Unknown` with the nearest words.
    pub fn find(&self, text: &str) -> Result<&Condition> {
        let wanted = text.trim().to_lowercase();
        let known = |condition: &&Condition| {
            condition.name == wanted
                || condition.title.to_lowercase() == wanted
                || condition.spoken.contains(&wanted)
        };
        self.list.iter().find(known).ok_or_else(|| {
            let words = self.list.iter().flat_map(|condition| {
                std::iter::once(condition.name.as_str())
                    .chain(condition.spoken.iter().map(String::as_str))
            });
            Error::new(
                ErrorKind::Unknown,
                format!("there is no condition \"{}\"", short(text)),
            )
            .hint(crate::datafile::did_you_mean(
                &wanted,
                words,
                "use \"odd\" for something that has no word yet",
            ))
        })
    }

    /// The text of a built-in condition's file: what an entry that relies on it stores as evidence.
    pub fn built_in_text(name: &str) -> Option<&'static str> {
        embedded::CONDITIONS
            .iter()
            .find(|(file, _)| file.strip_suffix(".toml") == Some(name))
            .map(|(_, text)| *text)
    }
}

impl Condition {
    /// Reads a condition file.
    ///
    /// Errors: `BadFormat` with the first mistake, its line and how many more there are; `TooLarge` for
    /// files past [`crate::datafile::LARGEST_FILE`].
    pub fn parse(text: &str) -> Result<Condition> {
        crate::datafile::settle(load::read(text), "the condition file")
    }
}
