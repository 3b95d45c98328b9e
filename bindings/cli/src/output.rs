//! Results to stdout, errors and progress to stderr.

use std::io::Write;

use serde::Serialize;
use witnessmark_core::{Error, ErrorClass, ErrorKind, Result};

/// How to print.
pub struct Output {
    /// One JSON object instead of text.
    pub json: bool,
}

impl Output {
    /// Prints a record as JSON or as the text made from it.
    pub fn show<T: Serialize>(&self, record: &T, text: impl FnOnce() -> String) -> Result<u8> {
        let mut shown = if self.json {
            serde_json::to_string(record)
                .map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))?
        } else {
            text()
        };
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

    /// Says something on the way.
    pub fn note(&self, text: &str) {
        let _ = writeln!(std::io::stderr(), "{text}");
    }

    /// Prints an error and gives the exit status: 1 a failure in the record, 2 the call or its
    /// input, 3 the machine.
    pub fn error(&self, error: &Error) -> u8 {
        let text = if self.json {
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
