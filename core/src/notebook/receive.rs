//! Taking in what others recorded: a pack, or another person's notebook. One path for both: judged
//! whole before a byte is written, then a union of lines, idempotent, in any order.

use std::path::Path;

use serde::Serialize;

use super::Notebook;
use crate::error::{Error, ErrorKind, Result};
use crate::index::Oddity;
use crate::pack::receive::{self, Outcome};
use crate::pack::verify::Status;

/// What came in, in numbers.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Received {
    /// Lines that were new.
    pub lines: usize,
    /// Lines that were here already.
    pub known: usize,
    /// Originals that were new.
    pub files: usize,
    /// Slips that were new.
    pub slips: usize,
    /// Chains with two different lines under one number, kept side by side.
    pub two_versions: Vec<String>,
    /// Unfinished last lines that were left out.
    pub torn: Vec<String>,
}

impl Notebook {
    /// Receives the notebook in `from`.
    ///
    /// # Errors
    /// `Damaged` where it does not verify: nothing was taken in. Else as [`Notebook::receive`].
    pub fn receive_folder(&mut self, from: &Path) -> Result<Received> {
        super::read_manifest(&self.world, from)?;
        let outcome = self.receive(from, false)?;
        if outcome.refused {
            let row = outcome
                .report
                .rows
                .into_iter()
                .find(|row| row.status == Status::Failure);
            let (what, file) = row.map(|row| (row.what, row.file)).unwrap_or_default();
            return Err(Error::new(ErrorKind::Damaged, what)
                .at(from.join(file.trim_start_matches("data/")).display())
                .hint("ask for it again; nothing was taken in"));
        }
        let files_with = |code: &str| {
            outcome
                .report
                .rows
                .iter()
                .filter(|row| row.code == code)
                .map(|row| row.file.trim_start_matches("data/").to_owned())
                .collect()
        };
        let count = |n: u64| usize::try_from(n).unwrap_or(usize::MAX);
        Ok(Received {
            lines: count(outcome.lines),
            known: count(outcome.known),
            files: count(outcome.new_files),
            slips: count(outcome.slips),
            two_versions: files_with("two_lines_one_number"),
            torn: files_with("torn_line"),
        })
    }

    /// Receives a pack, folder or zip, or another notebook's folder. With `dry_run` says what would
    /// be taken in, and takes in nothing.
    ///
    /// # Errors
    /// As [`receive::receive`]; what fails to verify is a refused outcome, not an error.
    pub fn receive(&mut self, from: &Path, dry_run: bool) -> Result<Outcome> {
        self.the_signer()?;
        let mut outcome = if self.world.files.has(&from.join("notebook.toml"))? {
            super::read_manifest(&self.world, from)?;
            receive::receive_notebook(&self.world, &self.root, self.author, from, dry_run)?
        } else {
            receive::receive(&self.world, &self.root, self.author, from, dry_run)?
        };
        if !outcome.refused && !dry_run {
            self.refresh()?;
            outcome.new_key = self.new_key_if_shared()?;
            self.note_heads();
        }
        Ok(outcome)
    }

    /// Receives a pack, folder or zip: the same as [`Notebook::receive`].
    ///
    /// # Errors
    /// As there.
    pub fn receive_pack(&mut self, path: &Path, dry_run: bool) -> Result<Outcome> {
        self.receive(path, dry_run)
    }

    /// After lines came back under this key that this notebook never wrote, a new key begins where
    /// the key is a file; where a shell holds it, writing stops until it hands in another.
    pub(super) fn new_key_if_shared(&mut self) -> Result<Option<crate::record::Digest>> {
        let other = format!("{}.other.jsonl", self.author);
        self.shared_key = crate::index::chain_files(self.world.files.as_ref(), &self.root)?
            .iter()
            .any(|(_, file, _)| file.ends_with(&other));
        if self.shared_key && self.has_key_file()? {
            return self.begin_new_key().map(Some);
        }
        Ok(None)
    }

    /// What is odd about the chains met at opening, in words.
    pub fn oddity_words(&self) -> Vec<String> {
        self.oddities()
            .iter()
            .map(|oddity| match oddity {
                Oddity::Torn { file, bytes } => {
                    format!("{file}: {bytes} bytes of an unfinished last line; it was never acknowledged and is left out")
                }
                Oddity::Damaged { file, offset, why } => format!("{file}: the line at byte {offset} cannot be read ({why}); it is left out"),
            })
            .collect()
    }
}
