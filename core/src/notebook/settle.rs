//! The filled sheet comes back: one picture settles several findings, each citing it.

use std::path::Path;

use super::{Captured, Notebook, Place};
use crate::error::{Error, ErrorKind, Result};
use crate::record::Digest;

/// What a filled sheet says of one finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settled {
    /// Short form or id of the finding.
    pub finding: String,
    /// What was done, as written on the sheet.
    pub how: String,
    /// By whom, if the sheet says so.
    pub by: Option<String>,
    /// Reference written there: a work order, a log entry.
    pub reference: Option<String>,
}

impl Settled {
    /// Reads `733-27b4d=stop drilled; by J. Tide; reference WO 12`.
    ///
    /// # Errors
    /// `BadValue` without a finding or without words.
    pub fn parse(text: &str) -> Result<Self> {
        let bad = || {
            Error::new(ErrorKind::BadValue, "which finding, and what was done?")
                .at(text)
                .hint("write it as F=how, or F=how; by NAME; reference WHERE")
        };
        let (finding, words) = text.split_once('=').ok_or_else(bad)?;
        let mut settled = Self {
            finding: finding.trim().to_owned(),
            how: String::new(),
            by: None,
            reference: None,
        };
        let mut how: Vec<&str> = Vec::new();
        for part in words.split(';').map(str::trim) {
            if let Some(by) = part.strip_prefix("by ") {
                settled.by = Some(by.trim().to_owned());
            } else if let Some(at) = part.strip_prefix("reference ") {
                settled.reference = Some(at.trim().to_owned());
            } else if !part.is_empty() {
                how.push(part);
            }
        }
        settled.how = how.join("; ");
        if settled.finding.is_empty() || settled.how.is_empty() {
            return Err(bad());
        }
        Ok(settled)
    }
}

impl Notebook {
    /// Takes in the picture of a filled sheet and closes the findings that it settles; each closing
    /// cites the picture. Nothing is written before every finding is known, so that a slip of the
    /// pen leaves no half of it behind. It is what a person wrote, never a maintenance entry.
    ///
    /// # Errors
    /// Those of [`Notebook::finding`] and of taking in a paper; `BadValue` where one finding is named
    /// twice or nothing is settled.
    pub fn settle_by_sheet(
        &mut self,
        aircraft: &Digest,
        picture: &Path,
        settles: &[Settled],
    ) -> Result<(Captured, Vec<Digest>)> {
        let state = self.state(aircraft)?;
        let mut ids: Vec<Digest> = Vec::new();
        for settled in settles {
            let id = self.finding(&state, &settled.finding)?.id;
            if ids.contains(&id) {
                return Err(
                    Error::new(ErrorKind::BadValue, "this finding is named twice")
                        .at(&settled.finding)
                        .hint("say once what became of each finding: --settles F=how"),
                );
            }
            ids.push(id);
        }
        if ids.is_empty() {
            return Err(Error::new(ErrorKind::BadValue, "the sheet settles nothing")
                .hint("say what became of each finding on it: --settles F=how"));
        }
        let place = Place {
            aircraft: Some(*aircraft),
            ..Place::default()
        };
        let taken = self.take_paper(picture, Some("filled_sheet"), &place)?;
        let mut lines = Vec::new();
        for (id, settled) in ids.iter().zip(settles) {
            lines.push(self.close_finding(
                aircraft,
                id,
                &settled.how,
                settled.by.as_deref(),
                settled.reference.as_deref(),
                Some(taken.entry),
            )?);
        }
        Ok((taken, lines))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_sheet_says_is_read_in_any_order() {
        let read = Settled::parse("733-27b4d = stop drilled; by J. Tide; reference WO 12").unwrap();
        assert_eq!(read.finding, "733-27b4d");
        assert_eq!(read.how, "stop drilled");
        assert_eq!(read.by.as_deref(), Some("J. Tide"));
        assert_eq!(read.reference.as_deref(), Some("WO 12"));
        for bad in ["", "733", "=done", "733=", "733= ; by X"] {
            assert!(Settled::parse(bad).is_err(), "{bad}");
        }
    }
}
