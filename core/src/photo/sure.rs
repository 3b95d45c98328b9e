//! How sure a followed crack or a filled stain is, in three words that a person can act on.

use serde::{Deserialize, Serialize};

/// What a person should do with a line or an outline that the program found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Sure {
    /// Look closely and correct: it may well be wrong.
    Poor,
    /// Look at it before keeping it.
    Fair,
    /// It stands out clearly and nothing else near by competes with it.
    Good,
}

impl Sure {
    /// The word in JSON and on paper.
    pub fn word(self) -> &'static str {
        match self {
            Self::Poor => "poor",
            Self::Fair => "fair",
            Self::Good => "good",
        }
    }
}
