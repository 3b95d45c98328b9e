//! Several people meet in any shared folder, in one action.
//!
//! Everything that lies there is named by what it holds, so nobody ever writes over anybody:
//! `record/<aircraft>/<author>/<sha256>.jsonl`, `evidence/<aa>/<sha256>.<ext>`,
//! `slips/<aa>/<sha256>.json`. [`plan`] compares two lists and says what to get and what to put; a path
//! is driven by [`in_folder`], other places (an object store, a phone's picked folder) by whoever can
//! list, get and put. What comes is judged like a pack before a line is taken in.

use super::members::{Folder, Limits, Member, Members, check_names};
use super::receive::{self, Outcome};
use super::verify;
use crate::error::{Error, ErrorKind, Result};
use crate::record::{Digest, chain};
use crate::world::{Access, World};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::io::Read;
use std::path::{Path, PathBuf};

/// One step of a meeting.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case", tag = "step", content = "name")]
pub enum Step {
    /// Read this file of the place.
    Get(String),
    /// Write this file to the place, whole, under its name last.
    Put(String),
}

/// What to do, given both lists: originals and slips before lines, in either direction, so that a
/// meeting which is broken off leaves no line that points at nothing.
pub fn plan(here: &BTreeSet<String>, there: &BTreeSet<String>) -> Vec<Step> {
    let rank = |name: &str| u8::from(name.starts_with("record/"));
    let mut gets: Vec<&String> = there
        .difference(here)
        .filter(|name| well_named(name))
        .collect();
    let mut puts: Vec<&String> = here.difference(there).collect();
    gets.sort_by_key(|name| (rank(name), (*name).clone()));
    puts.sort_by_key(|name| (rank(name), (*name).clone()));
    gets.into_iter()
        .map(|name| Step::Get(name.clone()))
        .chain(puts.into_iter().map(|name| Step::Put(name.clone())))
        .collect()
}

/// True for names that a meeting place may hold.
pub fn well_named(name: &str) -> bool {
    if super::names::unfit_for_pack(name).is_some() {
        return false;
    }
    if let Some(rest) = name
        .strip_prefix("evidence/")
        .or_else(|| name.strip_prefix("slips/"))
    {
        return verify::stated(rest).is_some();
    }
    record_name(name).is_some()
}

fn record_name(name: &str) -> Option<(Digest, Digest, Digest)> {
    let mut parts = name.strip_prefix("record/")?.split('/');
    let (aircraft, author, file) = (parts.next()?, parts.next()?, parts.next()?);
    let digest = file.strip_suffix(".jsonl")?;
    let all = (
        aircraft.parse().ok()?,
        author.parse().ok()?,
        digest.parse().ok()?,
    );
    (parts.next().is_none() && all.0 != Digest::ZERO).then_some(all)
}

/// What came of a meeting.
#[derive(Debug, Clone, Serialize)]
pub struct Met {
    /// What was taken in, as for a pack.
    #[serde(flatten)]
    pub outcome: Outcome,
    /// Files left for the others.
    pub put: u64,
}

/// What a notebook would lay in a meeting place: name there to where it is here.
fn offers(world: &World, root: &Path) -> Result<BTreeMap<String, Offer>> {
    let limits = Limits {
        members: u64::MAX,
        total: u64::MAX,
        file: u64::MAX,
        ..Limits::default()
    };
    let notebook = Folder::open(world.files.clone(), root, &limits)?;
    let mut out = BTreeMap::new();
    for member in notebook.list() {
        let name = &member.name;
        let stated = name
            .strip_prefix("evidence/")
            .or_else(|| name.strip_prefix("slips/"))
            .and_then(verify::stated);
        if stated.is_some() {
            out.insert(name.clone(), Offer::File(root.join(name)));
            continue;
        }
        let Some((aircraft, file)) = name
            .strip_prefix("record/")
            .and_then(|rest| rest.split_once('/'))
        else {
            continue;
        };
        let Some(author) = file.strip_suffix(".jsonl") else {
            continue;
        };
        if aircraft.parse::<Digest>().is_err() || author.parse::<Digest>().is_err() {
            continue;
        }
        // Whole lines only, sorted as received chains are, so that equal sets have equal names.
        let stretch = chain::split(&notebook.read(name, verify::RECORD_LIMIT)?, 0);
        let mut lines: Vec<_> = stretch.lines.into_iter().map(|(_, line)| line).collect();
        lines.sort_by(|a, b| a.entry.seq.cmp(&b.entry.seq).then(a.digest.cmp(&b.digest)));
        let mut bytes = Vec::new();
        for line in lines {
            bytes.extend_from_slice(&line.bytes);
            bytes.push(b'\n');
        }
        let digest = Digest::of(&bytes);
        out.insert(
            format!("record/{aircraft}/{author}/{digest}.jsonl"),
            Offer::Bytes(bytes),
        );
    }
    Ok(out)
}

enum Offer {
    File(PathBuf),
    Bytes(Vec<u8>),
}

/// Meets in a folder.
///
/// # Errors
/// `Refused` where the place holds links or devices, `TooLarge` past a limit, and those of the
/// machine. Files there that are not what their names say are rows, and are left alone.
pub fn in_folder(world: &World, root: &Path, own: Digest, folder: &Path) -> Result<Met> {
    let files = world.files.as_ref();
    files
        .create_dirs(folder)
        .map_err(|e| Error::io(&e, folder.display()))?;
    let place = Folder::open(world.files.clone(), folder, &Limits::default())?;
    let there: BTreeSet<String> = place.list().iter().map(|m| m.name.clone()).collect();
    let offers = offers(world, root)?;
    let here: BTreeSet<String> = offers.keys().cloned().collect();
    let steps = plan(&here, &there);
    let gets: Vec<String> = steps
        .iter()
        .filter_map(|step| match step {
            Step::Get(name) => Some(name.clone()),
            Step::Put(_) => None,
        })
        .collect();
    let outcome = if gets.is_empty() {
        Outcome::default()
    } else {
        let (gathered, odd) = Gathered::of(&place, &gets)?;
        check_names(&gathered)?;
        let mut outcome = receive::take_members(
            world,
            root,
            own,
            Box::new(gathered),
            &folder.display().to_string(),
        )?;
        for name in odd {
            outcome.report.add(
                "altered",
                &name,
                "what lies in the shared folder is not what its name says; it was left alone",
                "delete it there; whoever has it will leave it again",
            );
        }
        outcome
    };
    let mut put = 0;
    if !outcome.refused {
        for step in &steps {
            if let Step::Put(name) = step
                && let Some(offer) = offers.get(name)
            {
                lay(world, folder, name, offer)?;
                put += 1;
            }
        }
    }
    Ok(Met { outcome, put })
}

fn lay(world: &World, folder: &Path, name: &str, offer: &Offer) -> Result<()> {
    let files = world.files.as_ref();
    let path = name
        .split('/')
        .fold(folder.to_path_buf(), |path, part| path.join(part));
    let io = |error: std::io::Error| Error::io(&error, path.display());
    let Some(parent) = path.parent() else {
        return Ok(());
    };
    files.create_dirs(parent).map_err(io)?;
    let mut tag = [0u8; 6];
    world
        .entropy
        .fill(&mut tag)
        .map_err(|e| Error::io(&e, "random numbers"))?;
    // Half-written files carry a name that no reader takes for a file of the meeting.
    let partial = parent.join(format!("{}.partial", data_encoding::HEXLOWER.encode(&tag)));
    let mut out = files.create_new(&partial, Access::Usual).map_err(io)?;
    let wrote = match offer {
        Offer::Bytes(bytes) => out.write_all(bytes),
        Offer::File(from) => files
            .open(from)
            .and_then(|mut source| std::io::copy(&mut source, &mut out).map(|_| ())),
    };
    if let Err(error) = wrote
        .and_then(|()| out.sync())
        .and_then(|()| files.rename(&partial, &path))
    {
        let _ = files.remove(&partial);
        return Err(io(error));
    }
    files.sync_dir(parent).map_err(io)
}

/// Files of a place in the shape of a pack's payload: versions of one chain become one chain.
struct Gathered<'a> {
    place: &'a Folder,
    list: Vec<Member>,
    /// Name to where it is in the place.
    files: BTreeMap<String, String>,
    chains: BTreeMap<String, Vec<u8>>,
}

impl<'a> Gathered<'a> {
    /// Reads the chains; names whose content is something else are returned apart.
    fn of(place: &'a Folder, gets: &[String]) -> Result<(Self, Vec<String>)> {
        let mut odd = Vec::new();
        let mut chains: BTreeMap<String, BTreeMap<(u64, Digest), Vec<u8>>> = BTreeMap::new();
        let mut files = BTreeMap::new();
        let mut list = Vec::new();
        for name in gets {
            let Some((aircraft, author, digest)) = record_name(name) else {
                let inner = format!("data/{name}");
                list.push(Member {
                    name: inner.clone(),
                    len: place.len_of(name).unwrap_or(0),
                });
                files.insert(inner, name.clone());
                continue;
            };
            let bytes = place.read(name, verify::RECORD_LIMIT)?;
            let stretch = chain::split(&bytes, 0);
            if Digest::of(&bytes) != digest || !stretch.damaged.is_empty() || stretch.torn > 0 {
                odd.push(name.clone());
                continue;
            }
            let lines = chains
                .entry(format!("data/record/{aircraft}/{author}.jsonl"))
                .or_default();
            for (_, line) in stretch.lines {
                lines.insert((line.entry.seq, line.digest), line.bytes);
            }
        }
        // An original that is not what its name says (half copied by a slow cloud, say) is left for
        // next time; its lines come in, and it counts as not handed over.
        let mut good = Vec::new();
        for member in list {
            let from = files.get(&member.name).cloned().unwrap_or_default();
            let stated = member
                .name
                .rsplit('/')
                .next()
                .and_then(|file| file.split('.').next()?.parse::<Digest>().ok());
            if stated.is_some() && digest_of(place, &from)? == stated {
                good.push(member);
            } else {
                files.remove(&member.name);
                odd.push(from);
            }
        }
        let chains: BTreeMap<String, Vec<u8>> = chains
            .into_iter()
            .map(|(name, lines)| {
                let mut bytes = Vec::new();
                for line in lines.into_values() {
                    bytes.extend(line);
                    bytes.push(b'\n');
                }
                (name, bytes)
            })
            .collect();
        good.extend(chains.iter().map(|(name, bytes)| Member {
            name: name.clone(),
            len: bytes.len() as u64,
        }));
        good.sort_by(|a, b| a.name.cmp(&b.name));
        Ok((
            Self {
                place,
                list: good,
                files,
                chains,
            },
            odd,
        ))
    }
}

fn digest_of(place: &Folder, name: &str) -> Result<Option<Digest>> {
    let mut source = super::packer::Watched::new(place.open(name)?);
    let mut buffer = vec![0u8; 128 * 1024];
    loop {
        match source.read(&mut buffer) {
            Ok(0) => return Ok(Some(source.digest())),
            Ok(_) => {}
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(error) => return Err(Error::io(&error, name)),
        }
    }
}

impl Members for Gathered<'_> {
    fn list(&self) -> &[Member] {
        &self.list
    }

    fn open(&self, name: &str) -> Result<Box<dyn Read + '_>> {
        if let Some(bytes) = self.chains.get(name) {
            return Ok(Box::new(bytes.as_slice()));
        }
        match self.files.get(name) {
            Some(from) => self.place.open(from),
            None => Err(Error::new(ErrorKind::Unknown, "there is no such file in it").at(name)),
        }
    }

    fn place(&self) -> String {
        self.place.place()
    }
}

#[cfg(test)]
mod tests {
    use super::super::testing::{Author, owner, world};
    use super::*;
    use crate::record::key::Signer;

    fn names(list: &[&str]) -> BTreeSet<String> {
        list.iter().map(|name| (*name).to_owned()).collect()
    }

    #[test]
    fn lines_come_last_in_both_directions_and_strange_names_never() {
        let digest = "ab".repeat(32);
        let (record, original) = (
            format!("record/{digest}/{digest}/{digest}.jsonl"),
            format!("evidence/ab/{digest}.jpg"),
        );
        let there = names(&[
            &record,
            &original,
            "../x",
            "evidence/ab/x.jpg",
            "notes.txt",
            "record/loose/a/b.jsonl",
        ]);
        let here = names(&[]);
        assert_eq!(
            plan(&here, &there),
            [Step::Get(original.clone()), Step::Get(record.clone())]
        );
        let mine: BTreeSet<String> = [record.clone(), original.clone()].into();
        assert_eq!(plan(&mine, &here), [Step::Put(original), Step::Put(record)]);
        assert_eq!(plan(&mine, &mine), []);
    }

    /// Three invented people meet in one folder in turn; after two rounds all hold the same lines.
    #[test]
    fn three_people_end_with_one_record() {
        let place = tempfile::tempdir().unwrap();
        let homes: Vec<tempfile::TempDir> = (0..3).map(|_| tempfile::tempdir().unwrap()).collect();
        let (first, _) = owner(homes[0].path());
        let mut keys = vec![first.signer.public()];
        for (n, home) in homes.iter().enumerate().skip(1) {
            let mut author = Author::open(n as u8 + 10, first.aircraft, home.path());
            let walkaround = author.start();
            author.photo(
                home.path(),
                &super::super::testing::jpeg(n as u8 + 20),
                walkaround,
            );
            author.finish(walkaround);
            author.save(home.path());
            keys.push(author.signer.public());
        }
        for _ in 0..2 {
            for (home, key) in homes.iter().zip(&keys) {
                let met = in_folder(&world(7), home.path(), *key, place.path()).unwrap();
                assert!(!met.outcome.refused, "{:?}", met.outcome.report.rows);
            }
        }
        let offers_of = |home: &tempfile::TempDir| {
            offers(&world(1), home.path())
                .unwrap()
                .into_keys()
                .collect::<Vec<_>>()
        };
        let one = offers_of(&homes[0]);
        assert!(one.len() > 8);
        assert_eq!(offers_of(&homes[1]), one);
        assert_eq!(offers_of(&homes[2]), one);
        let again = in_folder(&world(7), homes[0].path(), keys[0], place.path()).unwrap();
        assert_eq!((again.put, again.outcome.lines), (0, 0));
    }

    #[test]
    fn what_is_not_its_name_is_left_alone_and_said() {
        let place = tempfile::tempdir().unwrap();
        let (home, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
        let (author, _) = owner(home.path());
        in_folder(&world(1), home.path(), author.signer.public(), place.path()).unwrap();
        let folder = Folder::open(
            std::sync::Arc::new(crate::world::SystemFiles),
            place.path(),
            &Limits::default(),
        )
        .unwrap();
        let hurt = folder
            .list()
            .iter()
            .find(|m| m.name.starts_with("evidence/"))
            .unwrap()
            .name
            .clone();
        std::fs::remove_file(place.path().join(&hurt)).unwrap();
        std::fs::write(place.path().join(&hurt), b"half").unwrap();
        let met = in_folder(&world(2), other.path(), Digest([5; 32]), place.path()).unwrap();
        assert!(!met.outcome.refused);
        assert!(
            met.outcome
                .report
                .rows
                .iter()
                .any(|row| row.code == "altered" && row.file == hurt)
        );
        assert!(
            met.outcome
                .report
                .rows
                .iter()
                .any(|row| row.code == "not_handed_over")
        );
        assert_eq!(met.outcome.lines, author.lines.len() as u64);
    }
}
