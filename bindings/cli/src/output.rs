//! Results to stdout, errors and progress to stderr.

use std::io::Write;

use serde::Serialize;
use witnessmark_core::report::listing::{Columns, Listing};
use witnessmark_core::{Error, ErrorClass, ErrorKind, Result};

/// The form of a result.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// Words for a person.
    Text,
    /// One JSON object.
    Json,
    /// A table as CSV.
    Csv,
    /// A table as Markdown.
    Markdown,
}

/// How to print.
pub struct Output {
    /// In which form.
    pub shape: Shape,
}

impl Output {
    /// Prints a record as JSON or as the text made from it.
    pub fn show<T: Serialize>(&self, record: &T, text: impl FnOnce() -> String) -> Result<u8> {
        let shown = match self.shape {
            Shape::Text => text(),
            Shape::Json => json(record)?,
            Shape::Csv | Shape::Markdown => return Err(no_table()),
        };
        print(shown)
    }

    /// Refuses `--csv` and `--md` before anything is done: for calls that give no list.
    pub fn no_list(&self) -> Result<()> {
        match self.shape {
            Shape::Text | Shape::Json => Ok(()),
            Shape::Csv | Shape::Markdown => Err(no_table()),
        }
    }

    /// Prints a record that holds a list: as JSON, as the text made from it, or as a table.
    pub fn list<T: Serialize>(
        &self,
        record: &T,
        columns: &Columns,
        text: impl FnOnce() -> String,
    ) -> Result<u8> {
        let shown = match self.shape {
            Shape::Text => text(),
            Shape::Json => json(record)?,
            Shape::Csv => Listing::of(record, columns)?.to_csv()?,
            Shape::Markdown => Listing::of(record, columns)?.to_markdown(),
        };
        print(shown)
    }

    /// Says something on the way.
    pub fn note(&self, text: &str) {
        let _ = writeln!(std::io::stderr(), "{text}");
    }

    /// Prints an error and gives the exit status: 1 a failure in the record, 2 the call or its
    /// input, 3 the machine.
    pub fn error(&self, error: &Error) -> u8 {
        let text = if self.shape == Shape::Json {
            serde_json::json!({"error": {"code": error.kind.code(), "what": error.what, "where": error.place, "do": error.remedy}}).to_string()
        } else {
            error.to_string()
        };
        let _ = writeln!(std::io::stderr(), "{text}");
        match error.kind.class() {
            ErrorClass::Record => 1,
            ErrorClass::Input => 2,
            ErrorClass::Machine => 3,
        }
    }
}

fn json<T: Serialize>(record: &T) -> Result<String> {
    serde_json::to_string(record)
        .map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))
}

fn no_table() -> Error {
    Error::new(ErrorKind::BadValue, "this call gives no table")
        .at("--csv, --md")
        .hint("leave it out, or use --json; tables come from what lists things, as finding list")
}

fn print(mut shown: String) -> Result<u8> {
    if !shown.ends_with('\n') {
        shown.push('\n');
    }
    // A closed pipe (head, less) is no failure of ours.
    match std::io::stdout().write_all(shown.as_bytes()) {
        Err(error) if error.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(Error::io(&error, "standard output"))
        }
        _ => Ok(0),
    }
}
