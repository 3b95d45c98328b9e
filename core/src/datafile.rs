//! Reads the TOML files that people may also write themselves (layouts, conditions, scales, events)
//! and tells every mistake at once, each with its line and what to write instead.
//!
//! Walks the parsed table by hand rather than through `serde`: a derived reader stops at the first
//! mistake, and somebody who writes a layout of forty zones wants all of them.

use std::cell::RefCell;
use std::str::FromStr;

use serde::Serialize;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::error::{Error, ErrorKind, Result};
use crate::quantity::Rational;

/// The embedded files of `core/layouts`, `core/conditions`, `core/conditions/scales`, `core/events`.
pub(crate) mod embedded {
    include!(concat!(env!("OUT_DIR"), "/data_files.rs"));
}

/// Largest data file that is read, in bytes: a parsed table takes up to seventy times its text. The
/// built-in ones stay under a fifth of it.
pub const LARGEST_FILE: usize = 512 * 1024;

/// After so many mistakes the rest is not listed: a file of another kind would fill the screen.
pub const MOST_MISTAKES: usize = 200;

/// One thing wrong in a data file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Mistake {
    /// Line in the file, from 1.
    pub line: usize,
    /// True where the file can be used all the same.
    pub hint: bool,
    /// What is wrong, one sentence without a final stop.
    pub what: String,
    /// What to write instead; may be empty.
    #[serde(rename = "do")]
    pub remedy: String,
}

/// A value and the line it stands on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Marked<T> {
    pub value: T,
    pub line: usize,
}

/// The text of a file and the mistakes found in it so far.
pub(crate) struct Notes {
    /// Where each line begins; `u32`, since a file of nothing but lines makes this the largest part.
    starts: Vec<u32>,
    list: RefCell<Vec<Mistake>>,
}

impl Notes {
    fn new(text: &str) -> Self {
        let mut starts = vec![0u32];
        starts.extend(
            text.bytes()
                .enumerate()
                .filter(|(_, b)| *b == b'\n')
                .filter_map(|(i, _)| u32::try_from(i + 1).ok()),
        );
        Self {
            starts,
            list: RefCell::new(Vec::new()),
        }
    }

    fn line(&self, offset: usize) -> usize {
        self.starts
            .partition_point(|start| *start as usize <= offset)
            .max(1)
    }

    /// Adds a mistake that makes the file unusable.
    pub(crate) fn wrong(&self, line: usize, what: impl Into<String>, remedy: impl Into<String>) {
        self.add(line, false, what.into(), remedy.into());
    }

    /// Adds something doubtful.
    pub(crate) fn doubt(&self, line: usize, what: impl Into<String>, remedy: impl Into<String>) {
        self.add(line, true, what.into(), remedy.into());
    }

    fn add(&self, line: usize, hint: bool, what: String, remedy: String) {
        let mut list = self.list.borrow_mut();
        if list.len() < MOST_MISTAKES {
            list.push(Mistake {
                line,
                hint,
                what,
                remedy,
            });
        }
    }
}

/// Reads `text` with `read`. Gives what `read` made of it and every mistake, in order of lines; where
/// there is a mistake that is not a hint the value must not be used.
pub(crate) fn read<T>(
    text: &str,
    read: impl FnOnce(&Notes, &Fields<'_, '_>) -> T,
) -> (Option<T>, Vec<Mistake>) {
    if text.len() > LARGEST_FILE {
        let mistake = Mistake {
            line: 1,
            hint: false,
            what: format!(
                "the file has {} bytes; at most {LARGEST_FILE} are read",
                text.len()
            ),
            remedy: "check that this is the right file, or split it".to_owned(),
        };
        return (None, vec![mistake]);
    }
    let notes = Notes::new(text);
    let (table, errors) = DeTable::parse_recoverable(text);
    for error in &errors {
        let line = error.span().map_or(1, |span| notes.line(span.start));
        notes.wrong(
            line,
            format!("this is not TOML here: {}", error.message()),
            "compare with a built-in file; strings stand in double quotes, lists in brackets",
        );
    }
    let value = {
        let fields = Fields::new(&notes, table.get_ref(), 1, "the file".to_owned());
        let value = read(&notes, &fields);
        fields.done();
        value
    };
    let mut list = notes.list.into_inner();
    list.sort_by_key(|mistake| (mistake.line, mistake.hint));
    (Some(value), list)
}

/// The value if no mistake forbids it, else an error that names the first and counts the rest.
pub(crate) fn settle<T>(outcome: (Option<T>, Vec<Mistake>), kind_of_file: &str) -> Result<T> {
    let (value, mistakes) = outcome;
    let mut grave = mistakes.iter().filter(|mistake| !mistake.hint);
    match (value, grave.next()) {
        (Some(value), None) => Ok(value),
        (_, first) => {
            let more = grave.count();
            let (line, what, remedy) =
                first.map_or((1, "", ""), |m| (m.line, &*m.what, &*m.remedy));
            let tail = match more {
                0 => String::new(),
                1 => " (and 1 more mistake)".to_owned(),
                n => format!(" (and {n} more mistakes)"),
            };
            let kind = if what.contains("at most") && what.contains("bytes") {
                ErrorKind::TooLarge
            } else {
                ErrorKind::BadFormat
            };
            Err(Error::new(kind, format!("{what}{tail}"))
                .at(format!("{kind_of_file}, line {line}"))
                .hint(remedy))
        }
    }
}

/// The nearest of `known` to `word`, if any is near enough to be meant.
pub(crate) fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let word = word.to_lowercase();
    known
        .into_iter()
        .map(|candidate| {
            let distance = strsim::damerau_levenshtein(&word, &candidate.to_lowercase());
            (distance, candidate)
        })
        .filter(|(distance, candidate)| *distance * 3 <= candidate.chars().count().max(3) + 1)
        .min()
        .map(|(_, candidate)| candidate)
}

/// "did you mean …" or the fallback.
pub(crate) fn did_you_mean<'a>(
    word: &str,
    known: impl IntoIterator<Item = &'a str>,
    otherwise: &str,
) -> String {
    nearest(word, known).map_or_else(
        || otherwise.to_owned(),
        |found| format!("did you mean \"{found}\"?"),
    )
}

/// One table of the file. Remembers which keys were asked for, so that [`Fields::done`] can name
/// those that nobody reads.
pub(crate) struct Fields<'n, 'd> {
    notes: &'n Notes,
    table: &'d DeTable<'d>,
    /// Line the table starts on.
    pub line: usize,
    /// What the table is, for messages: `zone 721`.
    pub what: RefCell<String>,
    asked: RefCell<Vec<&'static str>>,
}

impl<'n, 'd> Fields<'n, 'd> {
    fn new(notes: &'n Notes, table: &'d DeTable<'d>, line: usize, what: String) -> Self {
        Self {
            notes,
            table,
            line,
            what: RefCell::new(what),
            asked: RefCell::new(Vec::new()),
        }
    }

    /// Says what this table is, once its name is known.
    pub(crate) fn call(&self, what: String) {
        *self.what.borrow_mut() = what;
    }

    fn get(&self, key: &'static str) -> Option<&'d Spanned<DeValue<'d>>> {
        self.asked.borrow_mut().push(key);
        self.table
            .iter()
            .find(|(name, _)| name.get_ref().as_ref() == key)
            .map(|(_, value)| value)
    }

    fn at(&self, value: &Spanned<DeValue<'d>>) -> usize {
        self.notes.line(value.span().start)
    }

    fn wrong_type(&self, key: &str, value: &Spanned<DeValue<'d>>, wanted: &str) {
        self.notes.wrong(
            self.at(value),
            format!(
                "{key} of {} is a {}, not {wanted}",
                self.what.borrow(),
                value.get_ref().type_str()
            ),
            format!("write {key} as {wanted}"),
        );
    }

    /// A text that may be missing.
    pub(crate) fn text(&self, key: &'static str) -> Option<Marked<String>> {
        let value = self.get(key)?;
        match value.get_ref().as_str() {
            Some(text) if !text.trim().is_empty() => Some(Marked {
                value: text.to_owned(),
                line: self.at(value),
            }),
            Some(_) => {
                self.notes.wrong(
                    self.at(value),
                    format!("{key} of {} is empty", self.what.borrow()),
                    "write something or leave the line out",
                );
                None
            }
            None => {
                self.wrong_type(key, value, "a text in double quotes");
                None
            }
        }
    }

    /// A text that must be there; an empty one stands in for it after the mistake is noted.
    pub(crate) fn need_text(&self, key: &'static str) -> Marked<String> {
        let there = self
            .table
            .iter()
            .any(|(name, _)| name.get_ref().as_ref() == key);
        if !there {
            self.asked.borrow_mut().push(key);
            self.notes.wrong(
                self.line,
                format!("{} has no {key}", self.what.borrow()),
                format!("add {key} = \"…\""),
            );
        }
        self.text(key).unwrap_or(Marked {
            value: String::new(),
            line: self.line,
        })
    }

    /// A list of texts; empty if missing.
    pub(crate) fn texts(&self, key: &'static str) -> Vec<Marked<String>> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_type(key, value, "a list of texts in brackets");
            return Vec::new();
        };
        items
            .iter()
            .filter_map(|item| match item.get_ref().as_str() {
                Some(text) => Some(Marked {
                    value: text.to_owned(),
                    line: self.at(item),
                }),
                None => {
                    self.wrong_type(key, item, "a list of texts in brackets");
                    None
                }
            })
            .collect()
    }

    /// A list of texts without their lines.
    pub(crate) fn plain_texts(&self, key: &'static str) -> Vec<String> {
        self.texts(key).into_iter().map(|m| m.value).collect()
    }

    /// True, false, or `otherwise` if missing.
    pub(crate) fn flag(&self, key: &'static str, otherwise: bool) -> bool {
        let Some(value) = self.get(key) else {
            return otherwise;
        };
        value.get_ref().as_bool().unwrap_or_else(|| {
            self.wrong_type(key, value, "true or false");
            otherwise
        })
    }

    /// A text that is one of a closed list.
    pub(crate) fn one_of(&self, key: &'static str, known: &[&'static str]) -> Option<&'static str> {
        let text = self.text(key)?;
        let found = known.iter().find(|word| **word == text.value).copied();
        if found.is_none() {
            self.notes.wrong(
                text.line,
                format!(
                    "{key} of {} is \"{}\", which is not known",
                    self.what.borrow(),
                    short(&text.value)
                ),
                did_you_mean(
                    &text.value,
                    known.iter().copied(),
                    &format!("write one of {}", known.join(", ")),
                ),
            );
        }
        found
    }

    /// A number written as a text (`"9/4"`, `"0.5"`), exact.
    pub(crate) fn number(&self, key: &'static str) -> Option<Rational> {
        let text = self.text(key)?;
        match Rational::from_str(&text.value) {
            Ok(number) => Some(number),
            Err(error) => {
                self.notes.wrong(
                    text.line,
                    format!("{key} of {}: {}", self.what.borrow(), error.what),
                    error.remedy,
                );
                None
            }
        }
    }

    /// The tables of a list (`[[key]]` or inline); each is called `what` until it says its name.
    pub(crate) fn tables(&self, key: &'static str, what: &str) -> Vec<Fields<'n, 'd>> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        let Some(items) = value.get_ref().as_array() else {
            self.wrong_type(key, value, &format!("a list: start each with [[{key}]]"));
            return Vec::new();
        };
        items
            .iter()
            .filter_map(|item| match item.get_ref().as_table() {
                Some(table) => Some(Fields::new(
                    self.notes,
                    table,
                    self.at(item),
                    what.to_owned(),
                )),
                None => {
                    self.wrong_type(key, item, "a list of tables");
                    None
                }
            })
            .collect()
    }

    /// A table whose keys are free words (`[cautions]`): key, text and line of each.
    pub(crate) fn free_words(&self, key: &'static str) -> Vec<(String, Marked<String>)> {
        let Some(value) = self.get(key) else {
            return Vec::new();
        };
        let Some(table) = value.get_ref().as_table() else {
            self.wrong_type(key, value, "a table");
            return Vec::new();
        };
        table
            .iter()
            .filter_map(|(name, item)| match item.get_ref().as_str() {
                Some(text) => Some((
                    name.get_ref().to_string(),
                    Marked {
                        value: text.to_owned(),
                        line: self.at(item),
                    },
                )),
                None => {
                    self.wrong_type(name.get_ref(), item, "a text in double quotes");
                    None
                }
            })
            .collect()
    }

    /// Notes every key that was never asked for.
    pub(crate) fn done(&self) {
        let asked = self.asked.borrow();
        for (name, _) in self.table.iter() {
            let word = name.get_ref().as_ref();
            if !asked.contains(&word) {
                self.notes.wrong(
                    self.notes.line(name.span().start),
                    format!("{} has no use for \"{}\"", self.what.borrow(), short(word)),
                    did_you_mean(
                        word,
                        asked.iter().copied(),
                        &format!("known here: {}", asked.join(", ")),
                    ),
                );
            }
        }
    }
}

/// At most forty characters of somebody else's text, for a message.
pub(crate) fn short(text: &str) -> String {
    let mut kept: String = text.chars().filter(|c| !c.is_control()).take(40).collect();
    if kept.len() < text.len() {
        kept.push('…');
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tells_every_mistake_with_its_line() {
        let text = "name = 3\ncolour = \"red\"\n[[zone]]\ncode = \"721\"\nflog = true\n";
        let (_, mistakes) = read(text, |_, fields| {
            fields.need_text("name");
            fields.need_text("title");
            for zone in fields.tables("zone", "a zone") {
                let code = zone.need_text("code");
                zone.call(format!("zone {}", code.value));
                zone.flag("flag", false);
                zone.done();
            }
        });
        let lines: Vec<(usize, &str)> = mistakes.iter().map(|m| (m.line, &*m.what)).collect();
        assert_eq!(
            lines,
            [
                (
                    1,
                    "name of the file is a integer, not a text in double quotes"
                ),
                (1, "the file has no title"),
                (2, "the file has no use for \"colour\""),
                (5, "zone 721 has no use for \"flog\""),
            ]
        );
        assert_eq!(mistakes[3].remedy, "did you mean \"flag\"?");
    }

    #[test]
    fn broken_toml_is_told_and_huge_files_are_refused() {
        let (_, mistakes) = read("a = [1,\nb = \"x\n", |_, _| ());
        assert!(!mistakes.is_empty());
        let huge = "#".repeat(5 * 1024 * 1024);
        let error = settle(read(&huge, |_, _| ()), "layout").unwrap_err();
        assert_eq!(error.kind, ErrorKind::TooLarge);
    }

    proptest::proptest! {
        #[test]
        fn no_text_makes_it_panic(text in "\\PC{0,200}") {
            let _ = read(&text, |_, fields| {
                fields.texts("a");
                for t in fields.tables("b", "b") { t.text("c"); t.done(); }
                fields.free_words("d");
            });
        }
    }
}
