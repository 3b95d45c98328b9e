//! Taking in another person's notebook: a union of lines, idempotent, in any order.
//!
//! Everything is checked before anything is written; a notebook whose lines do not hold is refused
//! and this one stays as it was.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use serde::Serialize;

use super::{Notebook, slip_path};
use crate::error::{Error, ErrorKind, Result};
use crate::evidence::store;
use crate::index::Oddity;
use crate::record::{Digest, Line, chain};
use crate::world::{Access, below};

/// What came in.
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
    pub fn receive_folder(&mut self, from: &Path) -> Result<Received> {
        if self.signer.is_none() {
            return Err(Error::new(
                ErrorKind::WrongState,
                "this notebook is open for reading only",
            )
            .at(self.root.display()));
        }
        super::read_manifest(&self.world, from)?;
        let files = self.world.files.clone();
        let files = files.as_ref();
        let mut received = Received::default();
        // First pass: read and check everything.
        let mut unions: BTreeMap<String, (Vec<Line>, bool)> = BTreeMap::new();
        let own = format!("{}.jsonl", self.author.hex());
        for (path, file, _) in crate::index::chain_files(files, from)? {
            let Some((folder, name)) = file.split_once('/') else {
                continue;
            };
            if folder == "loose" {
                continue;
            }
            let stretch = chain::read(files, &path, 0)?;
            if let Some((_, number, error)) = stretch.damaged.first() {
                return Err(Error::new(
                    ErrorKind::Damaged,
                    format!("line {number} cannot be read: {}", error.what),
                )
                .at(path.display())
                .hint("ask for it again; nothing was taken in"));
            }
            if stretch.torn > 0 {
                received.torn.push(format!("record/{file}"));
            }
            for (_, line) in &stretch.lines {
                check(line, folder, name, &path)?;
            }
            let target = below(&self.root, &["record"]).join(&file);
            let here = if files.exists(&target) {
                chain::read(files, &target, 0)?
                    .lines
                    .into_iter()
                    .map(|(_, line)| line)
                    .collect()
            } else {
                Vec::new()
            };
            let before = here.len();
            let mut all: Vec<Line> = here;
            let mut fresh = 0;
            for (_, line) in stretch.lines {
                if all
                    .iter()
                    .take(before)
                    .any(|known| known.digest == line.digest)
                {
                    received.known += 1;
                } else {
                    all.push(line);
                    fresh += 1;
                }
            }
            if fresh == 0 {
                continue;
            }
            if name == own {
                return Err(Error::new(ErrorKind::Refused, "it holds lines under this notebook's own key that are not here")
                    .at(path.display())
                    .hint("two devices seem to share one key; open a new notebook with its own key and receive both"));
            }
            received.lines += fresh;
            all.sort_by(|a, b| a.entry.seq.cmp(&b.entry.seq).then(a.digest.cmp(&b.digest)));
            if all
                .windows(2)
                .any(|pair| matches!(pair, [a, b] if a.entry.seq == b.entry.seq))
            {
                received.two_versions.push(format!("record/{file}"));
            }
            unions.insert(file.clone(), (all, !files.exists(&target)));
        }
        let mut evidence: Vec<(Digest, PathBuf)> = Vec::new();
        for (digest, path, _) in store::all(files, from)? {
            let Some(digest) = digest else { continue };
            if store::find(files, &self.root, &digest).is_none() {
                evidence.push((digest, path));
            }
        }
        // Second pass: originals first, then slips, then lines, so that no line points at nothing.
        for (digest, path) in evidence {
            let mut source = files
                .open(&path)
                .map_err(|error| Error::io(&error, path.display()))?;
            let incoming = store::receive(
                &self.world,
                &self.root,
                &mut source,
                store::VOICE_LIMIT,
                &path.display().to_string(),
            )?;
            if incoming.digest != digest {
                files
                    .remove(&incoming.path)
                    .map_err(|error| Error::io(&error, incoming.path.display()))?;
                return Err(Error::new(
                    ErrorKind::Damaged,
                    "its content is not what its name says",
                )
                .at(path.display())
                .hint("ask for it again; no line was taken in"));
            }
            let extension = path
                .extension()
                .map(|extension| extension.to_string_lossy().into_owned())
                .unwrap_or_default();
            store::settle(files, &self.root, &incoming, &extension)?;
            received.files += 1;
        }
        received.slips = self.receive_slips(from)?;
        for (file, (lines, _)) in unions {
            self.write_received(&file, &lines)?;
        }
        self.refresh()?;
        Ok(received)
    }

    fn receive_slips(&self, from: &Path) -> Result<usize> {
        let files = self.world.files.as_ref();
        let base = from.join("slips");
        let mut count = 0;
        if !files.exists(&base) {
            return Ok(0);
        }
        let io = |path: &Path, error: &std::io::Error| Error::io(error, path.display());
        for folder in files
            .list(&base)
            .map_err(|error| io(&base, &error))?
            .into_iter()
            .filter(|entry| entry.is_dir)
        {
            let path = base.join(&folder.name);
            for entry in files.list(&path).map_err(|error| io(&path, &error))? {
                let file = path.join(&entry.name);
                let Some(digest) = entry
                    .name
                    .strip_suffix(".json")
                    .and_then(|stem| stem.parse::<Digest>().ok())
                else {
                    continue;
                };
                let target = slip_path(&self.root, &digest);
                if !entry.is_file || files.exists(&target) {
                    continue;
                }
                let bytes = files
                    .read(&file, 64 * 1024)
                    .map_err(|error| io(&file, &error))?;
                if Digest::of(&bytes) != digest {
                    return Err(Error::new(
                        ErrorKind::Damaged,
                        "its content is not what its name says",
                    )
                    .at(file.display())
                    .hint("ask for it again; no line was taken in"));
                }
                if let Some(parent) = target.parent() {
                    files
                        .create_dirs(parent)
                        .map_err(|error| io(parent, &error))?;
                }
                files
                    .replace(&target, &bytes, Access::Owner)
                    .map_err(|error| io(&target, &error))?;
                count += 1;
            }
        }
        Ok(count)
    }

    fn write_received(&self, file: &str, lines: &[Line]) -> Result<()> {
        let files = self.world.files.as_ref();
        let path = below(&self.root, &["record"]).join(file);
        let here = |error: std::io::Error| Error::io(&error, path.display());
        let mut bytes = Vec::new();
        for line in lines {
            bytes.extend_from_slice(&line.bytes);
            bytes.push(b'\n');
        }
        if let Some(folder) = path.parent() {
            files.create_dirs(folder).map_err(here)?;
        }
        files.replace(&path, &bytes, Access::Usual).map_err(here)?;
        files.sync_dir(&self.root.join("record")).map_err(here)
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

fn check(line: &Line, folder: &str, name: &str, path: &Path) -> Result<()> {
    let refuse = |what: &str| {
        Err(Error::new(
            ErrorKind::Damaged,
            format!("line {} {what}", line.entry.seq),
        )
        .at(path.display())
        .hint("ask for it again; nothing was taken in"))
    };
    if line.aircraft().hex() != folder {
        return refuse("belongs to another aircraft");
    }
    if !name.starts_with(&line.entry.author.hex()) {
        return refuse("belongs to another author");
    }
    if !line.signature_holds() {
        return refuse("has a signature that does not hold");
    }
    Ok(())
}
