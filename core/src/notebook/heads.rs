//! `heads.json`: the last line of each chain, kept beside the record.
//!
//! A chain whose tail was cut off is still a chain, and an index that follows it forgets what was
//! there. So the last lines are remembered here as well, and a line that was found missing stays
//! remembered until it is back. The file is written when a walkaround is finished, on closing and
//! on opening, whole and synced, always after the lines that it names: a crash leaves an older one,
//! which names lines that are there, and is no alarm. Between two writings the index remembers;
//! rival: writing it with every line, refused since it doubles the waiting for the medium.
//!
//! Local: neither packed nor backed up.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::Notebook;
use crate::error::Result;
use crate::index::{Index, chain_files};
use crate::record::{Digest, canonical, chain};
use crate::world::{Access, Files, World};

/// What is remembered of all chains, by file below `record/`.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Heads {
    chains: BTreeMap<String, Head>,
}

#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
struct Head {
    /// Digest of the last line.
    last: Digest,
    /// Where it begins and where it ends, in bytes: the quick way to find it again.
    from: u64,
    to: u64,
    /// Lines that once stood last and were found missing.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    lost: BTreeSet<Digest>,
}

fn read(world: &World, root: &Path) -> Heads {
    world
        .files
        .read(&root.join("heads.json"), 64 << 20)
        .ok()
        .and_then(|bytes| serde_json::from_slice(&bytes).ok())
        .unwrap_or_default()
}

/// The last line of each chain that the index file has followed; empty where it cannot be asked.
fn of_index(root: &Path) -> Vec<(String, u64, u64, Digest)> {
    use rusqlite::{Connection, OpenFlags};
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let ask = || -> rusqlite::Result<Vec<(String, u64, u64, Digest)>> {
        let conn = Connection::open_with_flags(root.join("index.sqlite"), flags)?;
        let mut statement = conn.prepare(
            "SELECT file, last_offset, length, last_digest FROM chain WHERE last_digest IS NOT NULL",
        )?;
        let rows = statement.query_map([], |row| {
            Ok((
                row.get::<_, String>(0)?,
                row.get::<_, i64>(1)?.unsigned_abs(),
                row.get::<_, i64>(2)?.unsigned_abs(),
                row.get::<_, Vec<u8>>(3)?,
            ))
        })?;
        Ok(rows
            .filter_map(std::result::Result::ok)
            .filter_map(|(file, from, to, digest)| {
                Some((file, from, to, Digest::from_slice(&digest)?))
            })
            .collect())
    };
    ask().unwrap_or_default()
}

/// Lines that are known to have stood last, by file with `record/` before it: from the index, from
/// `heads.json`, and those found missing before.
pub(crate) fn remembered(world: &World, root: &Path) -> BTreeMap<String, BTreeSet<Digest>> {
    let mut out: BTreeMap<String, BTreeSet<Digest>> = BTreeMap::new();
    for (file, _, _, digest) in of_index(root) {
        out.entry(format!("record/{file}"))
            .or_default()
            .insert(digest);
    }
    for (file, head) in read(world, root).chains {
        let lines = out.entry(format!("record/{file}")).or_default();
        lines.insert(head.last);
        lines.extend(head.lost);
    }
    out
}

/// Before the index follows: what is remembered and no longer stands in its chain is written among
/// the lost, so that the index may forget it.
pub(crate) fn noticed(world: &World, root: &Path) -> Result<Heads> {
    let files = world.files.as_ref();
    let mut heads = read(world, root);
    let mut known: BTreeMap<String, Vec<(u64, u64, Digest)>> = BTreeMap::new();
    for (file, from, to, digest) in of_index(root) {
        known.entry(file).or_default().push((from, to, digest));
    }
    for (file, head) in &heads.chains {
        let lines = known.entry(file.clone()).or_default();
        lines.push((head.from, head.to, head.last));
        lines.extend(head.lost.iter().map(|digest| (0, 0, *digest)));
    }
    let present: BTreeSet<String> = chain_files(files, root)?
        .into_iter()
        .map(|(_, file, _)| file)
        .collect();
    for (file, lines) in known {
        let path = root.join("record").join(&file);
        let quick = present.contains(&file)
            && lines
                .iter()
                .all(|(from, to, digest)| stands(files, &path, *from, *to, digest));
        let lost: BTreeSet<Digest> = if quick {
            BTreeSet::new()
        } else {
            let here: BTreeSet<Digest> = if present.contains(&file) {
                let stretch = chain::read(files, &path, 0)?;
                stretch.lines.iter().map(|(_, line)| line.digest).collect()
            } else {
                BTreeSet::new()
            };
            lines
                .iter()
                .map(|(_, _, digest)| *digest)
                .filter(|digest| !here.contains(digest))
                .collect()
        };
        match heads.chains.get_mut(&file) {
            Some(head) => head.lost = lost,
            None => {
                if let Some(last) = lost.first().copied() {
                    let head = Head {
                        last,
                        from: 0,
                        to: 0,
                        lost,
                    };
                    heads.chains.insert(file, head);
                }
            }
        }
    }
    Ok(heads)
}

fn stands(files: &dyn Files, path: &Path, from: u64, to: u64, digest: &Digest) -> bool {
    use std::io::{Read, Seek, SeekFrom};
    let length = to.saturating_sub(from);
    if length == 0 || length > crate::record::LINE_LIMIT as u64 + 1 {
        return false;
    }
    let look = || -> std::io::Result<Vec<u8>> {
        let mut file = files.open(path)?;
        file.seek(SeekFrom::Start(from))?;
        let mut bytes = Vec::new();
        file.take(length).read_to_end(&mut bytes)?;
        Ok(bytes)
    };
    look().is_ok_and(|mut bytes| bytes.pop() == Some(b'\n') && Digest::of(&bytes) == *digest)
}

impl Heads {
    /// Writes what stands last now, if that is new. A failure costs a witness and nothing else.
    pub(crate) fn save(mut self, world: &World, root: &Path, index: &Index) {
        let before = read(world, root);
        for (file, from, to, last) in index.tails().unwrap_or_default() {
            let lost = self
                .chains
                .remove(&file)
                .map(|head| head.lost)
                .unwrap_or_default();
            self.chains.insert(
                file,
                Head {
                    last,
                    from,
                    to,
                    lost,
                },
            );
        }
        if self == before {
            return;
        }
        if let Ok(bytes) = canonical::to_bytes(&self) {
            let _ = world
                .files
                .replace(&root.join("heads.json"), &bytes, Access::Usual);
        }
    }
}

impl Notebook {
    /// Writes `heads.json` anew if a chain has grown; nothing where this notebook only reads.
    pub(crate) fn note_heads(&self) {
        if self.signer.is_some() {
            read(&self.world, &self.root).save(&self.world, &self.root, &self.index);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::{KeySource, verify_folder};
    use super::*;
    use crate::pack::testing::world;
    use crate::record::Body;
    use crate::record::kinds::Written;

    fn note(notebook: &mut Notebook, aircraft: &Digest, text: &str) {
        let seen = notebook.now_seen();
        let body: Body = Written {
            text: text.into(),
            walkaround: None,
            stop: None,
        }
        .into();
        notebook.append(aircraft, seen, body).unwrap();
    }

    fn codes(root: &Path) -> Vec<&'static str> {
        let report = verify_folder(&world(1), root).unwrap();
        report
            .rows
            .iter()
            .filter(|row| row.status == crate::pack::verify::Status::Failure)
            .map(|row| row.code)
            .collect()
    }

    /// A tail that was cut before anybody vouched, then written over, with and without the index.
    #[test]
    fn a_cut_tail_stays_known_after_writing_on() {
        for without_index in [false, true] {
            let folder = tempfile::tempdir().unwrap();
            let root = folder.path();
            let key = || KeySource::Seed([3; 32]);
            let mut notebook = Notebook::init(root, world(1), "Invented", "owner", key()).unwrap();
            let aircraft = notebook
                .add_aircraft("N0CUT", "invented", None, "high_wing_strutted_fixed", false)
                .unwrap();
            for text in ["one", "two", "three"] {
                note(&mut notebook, &aircraft, text);
            }
            notebook.close().unwrap();
            assert!(codes(root).is_empty());
            let (path, _, _) = chain_files(world(1).files.as_ref(), root)
                .unwrap()
                .remove(0);
            let good = std::fs::read(&path).unwrap();
            let short = good.split_inclusive(|b| *b == b'\n').collect::<Vec<_>>();
            std::fs::write(&path, short[..short.len() - 2].concat()).unwrap();
            if without_index {
                std::fs::remove_file(root.join("index.sqlite")).unwrap();
            }
            assert_eq!(codes(root), ["cut_tail"]);
            for text in ["four", "five"] {
                let mut notebook = Notebook::open(root, world(2), key()).unwrap();
                note(&mut notebook, &aircraft, text);
                notebook.close().unwrap();
                assert_eq!(
                    codes(root),
                    ["cut_tail"],
                    "{text}, without index: {without_index}"
                );
            }
            std::fs::write(&path, &good).unwrap();
            // The lines are back: those written meanwhile are the ones that are missed now.
            assert_eq!(codes(root), ["cut_tail"]);
        }
    }

    /// A process that ends without closing, at any line, is no alarm.
    #[test]
    fn no_alarm_after_a_crash() {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path();
        let mut notebook = Notebook::init(
            root,
            world(1),
            "Invented",
            "owner",
            KeySource::Seed([3; 32]),
        )
        .unwrap();
        let aircraft = notebook
            .add_aircraft("N0CUT", "invented", None, "high_wing_strutted_fixed", false)
            .unwrap();
        for round in 0..3 {
            note(&mut notebook, &aircraft, "more");
            drop(notebook);
            if round == 1 {
                std::fs::remove_file(root.join("index.sqlite")).unwrap();
            }
            assert!(codes(root).is_empty());
            notebook = Notebook::open(root, world(5 + round), KeySource::Seed([3; 32])).unwrap();
            assert!(codes(root).is_empty());
        }
    }
}
