//! What is asked of a report: which cut, in which form, in whose units, of which part.

use std::path::Path;

use serde::Serialize;

use crate::error::{Error, ErrorKind, Result};
use crate::record::Digest;

/// How much, for whom.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Cut {
    /// Everything, what deteriorated first.
    #[default]
    Whole,
    /// One finding.
    Finding(Digest),
    /// Before an annual: a work list with room to write.
    Review,
    /// For a buyer: papers first, then every zone.
    Baseline,
    /// One sheet of paper, with the texts for a logbook on its back.
    Sheet,
    /// The overall views before and after.
    HandingOver,
}

impl Cut {
    /// Its name in a command and in a file.
    pub fn name(self) -> &'static str {
        match self {
            Cut::Whole => "whole",
            Cut::Finding(_) => "finding",
            Cut::Review => "review",
            Cut::Baseline => "baseline",
            Cut::Sheet => "sheet",
            Cut::HandingOver => "handing-over",
        }
    }
}

/// In which form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Form {
    /// One HTML file.
    #[default]
    Page,
    /// CommonMark with tables.
    Markdown,
    /// One table: a row per sighting, look and step.
    Csv,
    /// One JSON object; its schema is in tests/schemas/report.json.
    Json,
    /// A text short enough for a message.
    Text,
}

impl Form {
    /// From `html`, `md`, `csv`, `json` or `text`.
    ///
    /// # Errors
    /// `BadValue` for any other word.
    pub fn named(word: &str) -> Result<Self> {
        Ok(match word {
            "html" => Form::Page,
            "md" => Form::Markdown,
            "csv" => Form::Csv,
            "json" => Form::Json,
            "text" | "txt" => Form::Text,
            other => {
                return Err(
                    Error::new(ErrorKind::BadValue, format!("\"{other}\" is no form"))
                        .at("--form")
                        .hint("html, md, csv, json or text"),
                );
            }
        })
    }

    /// By the ending of a file's name; a page where it says nothing.
    pub fn of_file(path: &Path) -> Self {
        path.extension()
            .and_then(|ending| Self::named(&ending.to_string_lossy().to_ascii_lowercase()).ok())
            .unwrap_or_default()
    }
}

/// What growth is drawn against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Against {
    /// Airframe total time.
    Hours,
    /// Landings.
    Landings,
    /// Days.
    Days,
}

/// In whose units sizes are shown; the one that was measured stays beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Units {
    /// As they were measured.
    #[default]
    AsMeasured,
    /// Millimetres and what goes with them.
    Metric,
    /// Inches and what goes with them.
    Inch,
}

impl Units {
    /// From `measured`, `mm` or `in`.
    ///
    /// # Errors
    /// `BadValue` for any other word.
    pub fn named(word: &str) -> Result<Self> {
        Ok(match word {
            "measured" => Units::AsMeasured,
            "mm" => Units::Metric,
            "in" => Units::Inch,
            other => {
                return Err(Error::new(
                    ErrorKind::BadValue,
                    format!("\"{other}\" is no choice of units"),
                )
                .at("--units")
                .hint("measured, mm or in"));
            }
        })
    }
}

/// What is asked.
#[derive(Debug, Clone, Default)]
pub struct Ask {
    /// Which cut.
    pub cut: Cut,
    /// In which form.
    pub form: Form,
    /// What growth is drawn against; the first of hours, landings and days that all points have, if
    /// not said.
    pub against: Option<Against>,
    /// In whose units.
    pub units: Units,
    /// The review by ATA chapter instead of by zone.
    pub by_chapter: bool,
    /// Only this zone.
    pub zone: Option<String>,
    /// Only this ATA chapter.
    pub chapter: Option<String>,
    /// Only findings seen since this date.
    pub since: Option<String>,
    /// Growth windows until the user's own limits. Never on the sheet.
    pub windows: bool,
    /// Where originals lie beside the page, as in a pack: `../evidence`.
    pub originals: Option<String>,
}
