//! Less of a history: one chapter, one finding, what was seen since a day.

use super::shapes::HistoryView;
use crate::error::{Error, ErrorKind, Result};
use crate::layout::Layout;
use crate::record::{Digest, Seen};

impl HistoryView {
    /// Only zones and findings that are filed under an ATA chapter.
    ///
    /// # Errors
    /// `Unknown` for a chapter that no zone of the layout is filed under.
    pub fn keep_chapter(&mut self, layout: &Layout, chapter: &str) -> Result<()> {
        let codes: Vec<&str> = layout
            .zones_of_chapter(chapter)
            .map(|zone| zone.code.as_str())
            .collect();
        if codes.is_empty() {
            return Err(Error::new(
                ErrorKind::Unknown,
                format!("no zone of this layout is filed under ATA chapter \"{chapter}\""),
            )
            .at("--ata")
            .hint("two digits, as 32; they are listed: witnessmark history --coverage chapters"));
        }
        self.findings
            .retain(|finding| codes.contains(&finding.zone.as_str()));
        self.zones
            .retain(|zone| codes.contains(&zone.code.as_str()));
        Ok(())
    }

    /// Only one finding, without the zones.
    pub fn keep_finding(&mut self, id: &Digest) {
        self.findings.retain(|known| known.id == *id);
        self.zones.clear();
    }

    /// Only findings with a sighting or a step on or after a day, and walkarounds from then on.
    pub fn keep_since(&mut self, since: &Seen) {
        let date = since.date();
        self.findings.retain(|finding| {
            finding
                .sightings
                .iter()
                .any(|sighting| sighting.date.as_str() >= date)
                || finding
                    .steps
                    .iter()
                    .any(|(when, _, _)| when.as_str() >= date)
        });
        self.walkarounds
            .retain(|walkaround| walkaround.date.as_str() >= date);
    }
}
