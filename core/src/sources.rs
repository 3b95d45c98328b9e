//! Documents that the data files cite, and cautions that many of them share.
//!
//! A layout or condition cites a key; the document's name and how well it was read stand once, in
//! `core/words/en/sources.toml`. A user's own file may bring its own under `[own_sources]` and `[own_cautions]`.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::OnceLock;

use serde::Serialize;

use crate::datafile::{self, Fields, Marked, Notes};

/// How well a fact is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// Read in a copy of the document.
    Read,
    /// Read in a secondary text: for wording, not for limits.
    Weak,
    /// From memory of the document.
    Memory,
    /// What the trade does; no document.
    Practice,
}

impl Standing {
    /// Words as they stand in the data files.
    pub(crate) const WORDS: [&'static str; 4] = ["read", "weak", "memory", "practice"];

    pub(crate) fn from_word(word: &str) -> Self {
        match word {
            "read" => Self::Read,
            "weak" => Self::Weak,
            "practice" => Self::Practice,
            _ => Self::Memory,
        }
    }
}

/// A document with the paragraph, and how well it was read.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize)]
pub struct Source {
    /// Document, edition, paragraph: `AC 43.13-1B (1998, Change 1) 9-14`.
    pub document: String,
    /// How well it is known.
    pub standing: Standing,
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.document)?;
        match self.standing {
            Standing::Memory => f.write_str(" [from memory]"),
            Standing::Weak => f.write_str(" [secondary text]"),
            Standing::Read | Standing::Practice => Ok(()),
        }
    }
}

/// A caution: what can hurt, and where that is written.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Caution {
    /// Key that data files cite.
    pub key: String,
    /// What to mind, one or two sentences.
    pub text: String,
    /// Where that comes from.
    pub source: Source,
}

/// The shared documents by key.
pub fn sources() -> &'static BTreeMap<String, Source> {
    static LIST: OnceLock<BTreeMap<String, Source>> = OnceLock::new();
    LIST.get_or_init(|| {
        let text = include_str!("../words/en/sources.toml");
        datafile::read(text, |_, fields| {
            fields
                .tables("source", "a source")
                .into_iter()
                .map(|entry| {
                    let key = entry.need_text("key").value;
                    let document = entry.need_text("document").value;
                    let word = entry.one_of("standing", &Standing::WORDS);
                    let standing = word.map_or(Standing::Memory, Standing::from_word);
                    entry.done();
                    (key, Source { document, standing })
                })
                .collect()
        })
        .0
        .unwrap_or_default()
    })
}

/// The shared cautions by key.
pub fn cautions() -> &'static BTreeMap<String, Caution> {
    static LIST: OnceLock<BTreeMap<String, Caution>> = OnceLock::new();
    LIST.get_or_init(|| {
        let text = include_str!("../words/en/cautions.toml");
        datafile::read(text, |notes, fields| {
            let cited = Cited::shared();
            fields
                .tables("caution", "a caution")
                .into_iter()
                .map(|entry| {
                    let key = entry.need_text("key").value;
                    let text = entry.need_text("text").value;
                    let source = cited.source(notes, &entry.need_text("source"));
                    entry.done();
                    (key.clone(), Caution { key, text, source })
                })
                .collect()
        })
        .0
        .unwrap_or_default()
    })
}

/// What one file may cite: the shared lists and its own.
pub(crate) struct Cited {
    own_sources: BTreeMap<String, Source>,
    own_cautions: BTreeMap<String, String>,
}

impl Cited {
    fn shared() -> Self {
        Self {
            own_sources: BTreeMap::new(),
            own_cautions: BTreeMap::new(),
        }
    }

    /// Reads `[own_sources]` (key = document) and `[own_cautions]` (key = text) of a file.
    pub(crate) fn of(fields: &Fields<'_, '_>) -> Self {
        let mut cited = Self::shared();
        for (key, document) in fields.free_words("own_sources") {
            let source = Source {
                document: document.value,
                standing: Standing::Read,
            };
            cited.own_sources.insert(key, source);
        }
        for (key, text) in fields.free_words("own_cautions") {
            cited.own_cautions.insert(key, text.value);
        }
        cited
    }

    /// The source of a key; an unknown key is a mistake.
    pub(crate) fn source(&self, notes: &Notes, key: &Marked<String>) -> Source {
        if let Some(found) = self
            .own_sources
            .get(&key.value)
            .or_else(|| sources().get(&key.value))
        {
            return found.clone();
        }
        if !key.value.is_empty() {
            let known = self.own_sources.keys().chain(sources().keys());
            notes.wrong(
                key.line,
                format!("there is no source \"{}\"", datafile::short(&key.value)),
                datafile::did_you_mean(
                    &key.value,
                    known.map(String::as_str),
                    "name it under [own_sources], or write \"practice\" if there is none",
                ),
            );
        }
        Source {
            document: key.value.clone(),
            standing: Standing::Practice,
        }
    }

    /// The text of a caution; an unknown key is a mistake.
    pub(crate) fn caution(&self, notes: &Notes, key: &Marked<String>) -> String {
        if let Some(text) = self.own_cautions.get(&key.value) {
            return text.clone();
        }
        if let Some(caution) = cautions().get(&key.value) {
            return caution.text.clone();
        }
        let known = self.own_cautions.keys().chain(cautions().keys());
        notes.wrong(
            key.line,
            format!("there is no caution \"{}\"", datafile::short(&key.value)),
            datafile::did_you_mean(
                &key.value,
                known.map(String::as_str),
                "write its text under [own_cautions]",
            ),
        );
        key.value.clone()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_shared_lists_are_whole() {
        for (text, minimum) in [
            (include_str!("../words/en/sources.toml"), 30),
            (include_str!("../words/en/cautions.toml"), 10),
        ] {
            assert!(text.matches("key = ").count() >= minimum);
        }
        let count = |text: &str| text.matches("\nkey = ").count();
        assert_eq!(
            sources().len(),
            count(include_str!("../words/en/sources.toml"))
        );
        assert_eq!(
            cautions().len(),
            count(include_str!("../words/en/cautions.toml"))
        );
        for caution in cautions().values() {
            assert!(caution.text.ends_with('.'), "{}", caution.key);
        }
        assert_eq!(
            sources()["memory"].to_string(),
            "trade knowledge [from memory]"
        );
    }
}
