//! Readings: what can be read on a walk, what has to be asked with it, and what was read.

use super::records::*;
use super::start::{choice, plain};
use crate::error::Result;
use crate::layout::Layout;
use crate::notebook::Notebook;
use crate::record::Digest;

/// Key, question, answers. Two values are compared only where the answers agree
/// (`history::readings`, `MOVED_BY`).
type Question = (&'static str, &'static str, &'static [&'static str]);

struct Kind {
    key: &'static str,
    title: &'static str,
    /// None: the value is a word.
    units: &'static [&'static str],
    choices: &'static [&'static str],
    asks: &'static [Question],
    /// Words in the names of the zones where it is read; none for the whole aircraft.
    at: &'static [&'static str],
}

const PLAIN: Kind = Kind {
    key: "",
    title: "",
    units: &[],
    choices: &[],
    asks: &[],
    at: &[],
};

/// Readings that a light aircraft's walk meets, their units and what makes them comparable (common
/// practice, no source).
const READINGS: [Kind; 10] = [
    Kind {
        key: "oil_found",
        title: "oil found",
        units: &["qt", "L"],
        asks: &[(
            "waited",
            "How long since it ran?",
            &[
                "just stopped",
                "some minutes",
                "an hour or more",
                "overnight",
            ],
        )],
        ..PLAIN
    },
    Kind {
        key: "oil_added",
        title: "oil added",
        units: &["qt", "L"],
        ..PLAIN
    },
    Kind {
        key: "fuel_found",
        title: "fuel found",
        units: &["US gal", "L"],
        ..PLAIN
    },
    Kind {
        key: "fuel_sample",
        title: "fuel sample",
        choices: &["clear", "water", "dirt", "wrong color"],
        ..PLAIN
    },
    Kind {
        key: "pressure",
        title: "tire pressure",
        units: &["psi", "bar"],
        asks: &[(
            "temperature",
            "Is the tire cold or warm?",
            &["cold", "warm"],
        )],
        at: &["tire"],
        ..PLAIN
    },
    Kind {
        key: "tread",
        title: "tire tread depth",
        units: &["mm", "in"],
        at: &["tire"],
        ..PLAIN
    },
    Kind {
        key: "extension",
        title: "strut extension",
        units: &["in", "mm"],
        asks: &[
            (
                "load",
                "What is aboard?",
                &["empty", "fuel only", "fuel and people"],
            ),
            (
                "temperature",
                "How warm is it?",
                &["freezing", "cool", "warm", "hot"],
            ),
        ],
        at: &["gear leg", "tail wheel leg", "shock strut"],
        ..PLAIN
    },
    Kind {
        key: "brake_lining",
        title: "brake lining",
        units: &["mm", "in"],
        at: &["brake"],
        ..PLAIN
    },
    Kind {
        key: "hours",
        title: "hour meter",
        units: &["h"],
        ..PLAIN
    },
    Kind {
        key: "battery",
        title: "battery voltage",
        units: &["V"],
        asks: &[("charging", "At rest or charging?", &["at rest", "charging"])],
        ..PLAIN
    },
];

impl Kind {
    fn zones(&self, layout: &Layout) -> Vec<Choice> {
        layout
            .zones
            .iter()
            .filter(|zone| self.at.iter().any(|words| zone.name.contains(words)))
            .map(|zone| choice(&zone.code, &zone.name))
            .collect()
    }

    fn asked(&self) -> Vec<AskLine> {
        self.asks
            .iter()
            .map(|(key, asked, choices)| AskLine {
                key: (*key).into(),
                asked: (*asked).into(),
                choices: choices.iter().map(|word| (*word).to_owned()).collect(),
                unit: None,
            })
            .collect()
    }
}

impl Notebook {
    /// Readings: what can be read, with the last value, and what was.
    ///
    /// # Errors
    /// Those of the index.
    pub fn readings_view(&self, aircraft: &Digest) -> Result<ReadingsView> {
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        let words = |value: &crate::history::state::Value| {
            format!(
                "{} {}",
                value.value.as_deref().unwrap_or("some"),
                value.unit.as_deref().unwrap_or_default()
            )
            .trim()
            .to_owned()
        };
        let kinds = READINGS
            .iter()
            .map(|kind| ReadingLine {
                key: kind.key.into(),
                title: kind.title.into(),
                units: kind.units.iter().map(|unit| (*unit).to_owned()).collect(),
                number: !kind.units.is_empty(),
                choices: kind.choices.iter().map(|word| (*word).to_owned()).collect(),
                asks: kind.asked(),
                zones: kind.zones(&layout),
                last: state
                    .values
                    .iter()
                    .rev()
                    .find(|value| value.reading == kind.key)
                    .map(|value| format!("{} on {}", words(value), value.told.seen.date()))
                    .unwrap_or_default(),
            })
            .collect();
        let values = state
            .values
            .iter()
            .rev()
            .map(|value| {
                format!(
                    "{}: {} {} ({})",
                    value.told.seen.date(),
                    plain(&value.reading),
                    words(value),
                    self.shown_author(&state, &value.told.author)
                )
            })
            .collect();
        Ok(ReadingsView { kinds, values })
    }
}
