//! Things worth a second look that are nobody's fault and no failure.

use serde::{Deserialize, Serialize};

/// A hint about a file: a stable code and a sentence for a person.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hint {
    /// Stable code for programs.
    pub code: String,
    /// What was noticed, in plain words.
    pub says: String,
}

impl Hint {
    /// A hint.
    pub fn new(code: &str, says: impl Into<String>) -> Self {
        Self {
            code: code.to_owned(),
            says: says.into(),
        }
    }
}
