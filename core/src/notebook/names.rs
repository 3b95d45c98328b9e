//! Short forms to things: registrations, zones, findings, captures.

use unicode_normalization::UnicodeNormalization;

use super::Notebook;
use crate::error::{Error, ErrorKind, Result};
use crate::history::state::{Finding, State, Walkaround};
use crate::layout::Layout;
use crate::record::Digest;

/// NFC, case-folded, spaces and hyphens apart: how look-ups compare.
pub fn folded(text: &str) -> String {
    text.nfc()
        .flat_map(char::to_lowercase)
        .filter(|c| !c.is_whitespace() && *c != '-')
        .collect()
}

impl Notebook {
    /// The layout in use, from the file that was stored when it was chosen.
    pub fn layout_of(&self, state: &State) -> Result<Layout> {
        // The stored file counts; where it is, byte for byte, the one built in, it is read already.
        if let Some(file) = &state.layout_file
            && let Some(name) = &state.layout
            && Layout::built_in_text(name).is_some_and(|text| Digest::of(text.as_bytes()) == *file)
            && let Some(layout) = Layout::built_in(name)
        {
            return Ok(layout.clone());
        }
        if let Some(file) = &state.layout_file
            && let Some(path) =
                crate::evidence::store::find(self.world.files.as_ref(), &self.root, file)?
        {
            let bytes = self
                .world
                .files
                .read(&path, 8 << 20)
                .map_err(|error| Error::io(&error, path.display()))?;
            if let Ok(text) = String::from_utf8(bytes) {
                return Layout::parse(&text);
            }
        }
        let name = state.layout.clone().unwrap_or_default();
        Layout::built_in(&name).cloned().ok_or_else(|| {
            Error::new(
                ErrorKind::Unknown,
                format!("the layout \"{name}\" is not here"),
            )
            .at(&state.registration)
            .hint("choose one: witnessmark layout list, then witnessmark layout choose NAME")
        })
    }

    /// A zone code from a code or a name.
    pub fn zone_code(&self, layout: &Layout, text: &str) -> Result<String> {
        layout.find_zone(text).map(|zone| zone.code.clone())
    }

    /// A finding from its short form: `721-3fa9c`, `3fa9c` or all 64 digits.
    pub fn finding<'a>(&self, state: &'a State, text: &str) -> Result<&'a Finding> {
        let digits = text.rsplit('-').next().unwrap_or(text).to_ascii_lowercase();
        let fits: Vec<&Finding> = if digits.is_empty() {
            Vec::new()
        } else {
            state
                .findings
                .iter()
                .filter(|finding| finding.ids.iter().any(|id| id.hex().starts_with(&digits)))
                .collect()
        };
        match fits.as_slice() {
            [finding] => Ok(finding),
            [] => Err(Error::new(
                ErrorKind::Unknown,
                format!("there is no finding \"{text}\""),
            )
            .at(&state.registration)
            .hint("choose one of the findings: witnessmark finding list")),
            several => {
                let names: Vec<String> = several
                    .iter()
                    .map(|finding| short(finding.zone.as_str(), &finding.id, 10))
                    .collect();
                Err(Error::new(
                    ErrorKind::Ambiguous,
                    format!("\"{text}\" fits several findings"),
                )
                .hint(format!("say which: {}", names.join(", "))))
            }
        }
    }

    /// An entry from the first digits of its digest, of given kinds.
    pub fn entry(&self, text: &str, kinds: &[&str]) -> Result<crate::index::Row> {
        let digits = text.rsplit('-').next().unwrap_or(text);
        let mut fits = self.index.by_prefix(digits, kinds)?;
        if fits.len() > 1 {
            return Err(Error::new(
                ErrorKind::Ambiguous,
                format!("\"{text}\" fits {} entries", fits.len()),
            )
            .hint("give more digits"));
        }
        fits.pop().ok_or_else(|| {
            Error::new(
                ErrorKind::Unknown,
                format!("there is no such entry: \"{text}\""),
            )
            .hint("give the first digits that were shown when it was made")
        })
    }

    /// This author's walkaround that is not finished, the latest of them.
    pub fn open_walkaround<'a>(&self, state: &'a State) -> Option<&'a Walkaround> {
        state.walkarounds.iter().rev().find(|walkaround| {
            walkaround.told.author == self.author && walkaround.finished.is_none()
        })
    }

    /// A person as shown: name, or the key's first digits where the slip is not here.
    pub fn shown_author(&self, state: &State, author: &Digest) -> String {
        let slip = state.authors.get(author).and_then(Option::as_ref);
        self.person(slip)
            .map_or_else(|| format!("author {}", author.short()), |(name, _)| name)
    }
}

/// Zone code and some digits of a digest.
pub fn short(zone: &str, digest: &Digest, digits: usize) -> String {
    let hex = digest.hex();
    let part = hex.get(..digits).unwrap_or(&hex);
    if zone.is_empty() {
        part.to_owned()
    } else {
        format!("{zone}-{part}")
    }
}
