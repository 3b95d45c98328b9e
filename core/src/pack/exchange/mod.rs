//! Several people meet in one place, in one action: a shared folder, an object store.
//!
//! What lies there is named by what it holds ([`names`]): originals, slips, and *segments* of chains.
//! A meeting lists the place in full, reads the segments that are not here, judges them, reads the
//! originals and slips that they cite, takes in, and then leaves what others lack: originals and
//! slips first, then one segment of lines a chain, so that a meeting that is broken off leaves no line
//! that points at nothing. Nothing rests on the place refusing an overwriting, and nothing on a
//! listing being up to date: what is not there yet comes next time.
//!
//! [`meet`] drives any [`Place`]; a path is [`InFolder`]. What is wrong there becomes a row and is
//! left alone; it never keeps the rest out.

mod absent;
mod folder;
mod here;
pub mod names;
mod take;
#[cfg(test)]
mod tests;

pub use folder::InFolder;

use super::receive::Outcome;
use crate::error::{Error, ErrorKind, Result};
use crate::record::Digest;
use crate::world::World;
use here::{Files, Here, cited};
use names::{Held, Segment};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::io::Read;
use std::path::{Path, PathBuf};

/// A file of a place.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Listed {
    /// Full name, as in [`names`].
    pub name: String,
    /// Length in bytes.
    pub bytes: u64,
}

/// What is to be left in a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Offer {
    /// A file of the notebook.
    File(PathBuf),
    /// Bytes at hand.
    Bytes(Vec<u8>),
}

/// Takes one file that was read, with its name.
pub type Sink<'a> = dyn FnMut(&str, &mut dyn Read) -> Result<()> + 'a;

/// Somewhere that can be listed, read and written.
pub trait Place {
    /// Where it is, for messages.
    fn words(&self) -> String;

    /// Everything whose name begins with `prefix`, complete.
    ///
    /// # Errors
    /// `Refused` where the place holds what must not be followed, else those of the machine.
    fn list(&mut self, prefix: &str) -> Result<Vec<Listed>>;

    /// Reads files, in any order, and hands each to `sink`. One that is not there (yet) is passed over.
    ///
    /// # Errors
    /// Those of the machine and of `sink`.
    fn get(&mut self, wanted: &[Listed], sink: &mut Sink<'_>) -> Result<()>;

    /// Writes files, each whole before it has its name. All of them are durable on return.
    ///
    /// # Errors
    /// Those of the machine; some may be there then.
    fn put(&mut self, offers: &[(String, Offer)]) -> Result<()>;

    /// True where each author may write only under their own keys: others' chains are not carried
    /// there for them.
    fn own_only(&self) -> bool {
        false
    }

    /// True where every original of one's own is looked for, not only those of new lines: it costs
    /// a full listing, and leaves again what somebody deleted there.
    fn thorough(&self) -> bool {
        !self.own_only()
    }
}

/// What came of a meeting, or what it would do.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Met {
    /// What was taken in, as for a pack.
    #[serde(flatten)]
    pub outcome: Outcome,
    /// Files left for the others.
    pub put: u64,
    /// Their bytes.
    pub put_bytes: u64,
    /// Segments among them.
    pub segments: u64,
    /// Bytes of the originals that came.
    pub got_bytes: u64,
}

/// What a meeting is at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Doing {
    /// Reading entries that lie there.
    Reading,
    /// Fetching originals.
    Fetching,
    /// Leaving files for the others.
    Leaving,
}

/// How far a meeting has got with one of these.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Step {
    /// With which.
    pub doing: Doing,
    /// Files that are done.
    pub done: u64,
    /// Files in all.
    pub of: u64,
    /// Bytes of originals that have come.
    pub bytes: u64,
}

impl Step {
    fn new(doing: Doing, files: &[Listed]) -> Self {
        Self {
            doing,
            done: 0,
            of: files.len() as u64,
            bytes: 0,
        }
    }

    /// For a person.
    pub fn words(&self) -> String {
        let doing = match self.doing {
            Doing::Reading => "reading entries",
            Doing::Fetching => "fetching originals",
            Doing::Leaving => "leaving files for the others",
        };
        format!("{doing}: {} of {}", self.done, self.of)
    }
}

/// Is told how far a meeting has got.
pub type Watch<'a> = dyn FnMut(Step) + 'a;

/// Files that are left before it is said how many are.
const TOGETHER: usize = 32;

/// Meets in `place`. The caller holds the writer's lock and lets the index follow afterwards.
/// With `dry_run` lines are read and judged, nothing is written anywhere, and the figures say what
/// would move.
///
/// # Errors
/// Those of the place and of the machine: what was done by then is whole, and meeting once more
/// completes it.
pub fn meet(
    world: &World,
    root: &Path,
    own: Digest,
    place: &mut dyn Place,
    dry_run: bool,
    watch: &mut Watch<'_>,
) -> Result<Met> {
    let mut met = Met::default();
    met.outcome.dry_run = dry_run;
    let mut there = There::of(place.list(names::LINES)?, &mut met);
    let here = Here::load(world, root)?;
    let unknown: Vec<Listed> = there
        .segments
        .iter()
        .filter(|(segment, _)| !here.holds(segment))
        .map(|(_, listed)| listed.clone())
        .chain(there.strange_proofs(&here))
        .collect();
    let mut batch = take::Batch::default();
    if !unknown.is_empty() {
        let mut step = Step::new(Doing::Reading, &unknown);
        place.get(&unknown, &mut |name, source| {
            batch.read(name, source)?;
            step.done += 1;
            watch(step);
            Ok(())
        })?;
    }
    let odd: BTreeSet<String> = batch.odd.iter().map(|(name, _)| name.clone()).collect();
    for (name, why) in std::mem::take(&mut batch.odd) {
        met.outcome.report.add(
            "altered",
            &name,
            why,
            "it was left alone; whoever has the right one will leave it again once it is deleted there",
        );
    }
    batch.complete(&here);

    // Where a listing costs requests, originals and slips are looked for only if one may move.
    let mut lacking = here.lacking(&there.covered(&odd), place.own_only().then_some(own));
    if place.thorough() {
        there.files(place.list(names::ORIGINALS)?, &mut met);
        there.files(place.list(names::SLIPS)?, &mut met);
    } else {
        let mut wanted = here.missing()?;
        let mut cited = Files::default();
        cited.cite(batch.lines())?;
        wanted.add(cited.not_in(&here));
        wanted.cite(here.of_segments(&lacking))?;
        there.look_for(place, &wanted, &mut met)?;
    }
    take::originals_and_lines(
        world, root, own, place, &here, &there, batch, &mut met, watch,
    )?;
    if met.outcome.refused {
        return Ok(met);
    }

    // What came may be carried on at once, and what it covers need not be left again.
    let here = if dry_run || met.outcome.lines + met.outcome.new_files + met.outcome.slips == 0 {
        here
    } else {
        let fresh = Here::load(world, root)?;
        lacking = fresh.lacking(&there.covered(&odd), place.own_only().then_some(own));
        fresh
    };
    if !dry_run {
        absent::rows(world, root, &own, &here, &mut met)?;
    }
    let offers = offers(
        world,
        &here,
        &there,
        lacking,
        place.own_only().then_some(own),
        place.thorough(),
        &mut met,
    )?;
    if !dry_run && !offers.is_empty() {
        let (lines, files): (Vec<_>, Vec<_>) = offers
            .into_iter()
            .partition(|(name, _)| name.starts_with(names::LINES));
        let mut step = Step {
            of: met.put,
            ..Step::new(Doing::Leaving, &[])
        };
        for some in files.chunks(TOGETHER).chain(lines.chunks(TOGETHER)) {
            place.put(some)?;
            step.done += some.len() as u64;
            watch(step);
        }
    }
    met.outcome.report.sort();
    Ok(met)
}

/// A walkaround has some thirty photos; beyond that many folders one full listing is cheaper while a
/// place is young, and no dearer than the photos themselves later.
const FOLDERS: usize = 40;

/// What a place holds.
#[derive(Debug, Default)]
struct There {
    segments: BTreeMap<Segment, Listed>,
    proofs: BTreeMap<(Digest, Digest, Digest), Listed>,
    originals: BTreeMap<Digest, Listed>,
    slips: BTreeMap<Digest, Listed>,
}

impl There {
    fn of(list: Vec<Listed>, met: &mut Met) -> Self {
        let mut there = Self::default();
        there.files(list, met);
        there
    }

    fn files(&mut self, list: Vec<Listed>, met: &mut Met) {
        let mut strangers = Vec::new();
        for listed in list {
            match names::read(&listed.name) {
                Some(Held::Segment(segment)) => {
                    self.segments.insert(segment, listed);
                }
                Some(Held::Proofs(author, aircraft, digest)) => {
                    self.proofs.insert((author, aircraft, digest), listed);
                }
                Some(Held::Original(digest)) => {
                    self.originals.insert(digest, listed);
                }
                Some(Held::Slip(digest)) => {
                    self.slips.insert(digest, listed);
                }
                None => strangers.push(listed.name),
            }
        }
        if let Some(first) = strangers.first() {
            met.outcome.report.add(
                "stray",
                first,
                format!(
                    "{} there that belong to no meeting; they were left alone",
                    if strangers.len() == 1 {
                        "one file lies".to_owned()
                    } else {
                        format!("{} files lie", strangers.len())
                    }
                ),
                "nothing, unless you wonder who put them there",
            );
        }
    }

    /// Lists what lies there of these digests: folder by folder while those are few, else in full.
    fn look_for(&mut self, place: &mut dyn Place, wanted: &Files, met: &mut Met) -> Result<()> {
        let originals: Vec<&Digest> = wanted.originals.iter().collect();
        let slips: Vec<&Digest> = wanted.slips.iter().chain(&wanted.positions).collect();
        for (prefix, digests) in [(names::ORIGINALS, originals), (names::SLIPS, slips)] {
            let folders: BTreeSet<String> = digests
                .into_iter()
                .map(|digest| names::folder(prefix, digest))
                .collect();
            if folders.len() > FOLDERS {
                self.files(place.list(prefix)?, met);
                continue;
            }
            for folder in folders {
                self.files(place.list(&folder)?, met);
            }
        }
        Ok(())
    }

    fn strange_proofs(&self, here: &Here) -> Vec<Listed> {
        self.proofs
            .iter()
            .filter(|((author, aircraft, digest), _)| {
                here.proofs
                    .get(&(*author, *aircraft))
                    .is_none_or(|(_, held, _)| held != digest)
            })
            .map(|(_, listed)| listed.clone())
            .collect()
    }

    /// Segments that others can rely on.
    fn covered(&self, odd: &BTreeSet<String>) -> BTreeSet<Segment> {
        self.segments
            .iter()
            .filter(|(_, listed)| !odd.contains(&listed.name))
            .map(|(segment, _)| segment.clone())
            .collect()
    }
}

/// What to leave: originals and slips that the carried chains cite, then proofs, then segments.
fn offers(
    world: &World,
    here: &Here,
    there: &There,
    lacking: Vec<(Segment, Vec<u8>)>,
    only: Option<Digest>,
    thorough: bool,
    met: &mut Met,
) -> Result<Vec<(String, Offer)>> {
    if lacking.is_empty() && !thorough {
        return Ok(Vec::new());
    }
    let files = world.files.as_ref();
    let carried = here
        .chains
        .iter()
        .filter(|((author, _), _)| only.is_none_or(|only| only == *author));
    // What lines that lie there already cite was left before they were.
    let cited = if thorough {
        cited(carried.clone().flat_map(|(_, lines)| lines.iter()))?
    } else {
        cited(here.of_segments(&lacking))?
    };
    let mut out = Vec::new();
    let mut size = |path: &Path| -> Result<()> {
        met.put_bytes += files.len(path).map_err(|e| Error::io(&e, path.display()))?;
        Ok(())
    };
    let removed = here.removed();
    for digest in cited.iter().filter(|digest| !removed.contains_key(digest)) {
        if let Some(path) = here.originals.get(digest)
            && !there.originals.contains_key(digest)
        {
            let file = path.file_name().map(|n| n.to_string_lossy().into_owned());
            let extension = file
                .as_deref()
                .and_then(|file| file.split_once('.'))
                .map_or("", |(_, extension)| extension);
            size(path)?;
            out.push((
                names::original(digest, extension),
                Offer::File(path.clone()),
            ));
        }
        if let Some(path) = here.slips.get(digest)
            && !there.slips.contains_key(digest)
        {
            size(path)?;
            out.push((names::slip(digest), Offer::File(path.clone())));
        }
    }
    for ((author, aircraft), _) in carried {
        if let Some((path, digest, _)) = here.proofs.get(&(*author, *aircraft))
            && !there.proofs.contains_key(&(*author, *aircraft, *digest))
        {
            size(path)?;
            out.push((
                names::proofs(author, aircraft, digest),
                Offer::File(path.clone()),
            ));
        }
    }
    for (segment, bytes) in lacking {
        met.put_bytes += bytes.len() as u64;
        met.segments += 1;
        out.push((segment.name(), Offer::Bytes(bytes)));
    }
    met.put = out.len() as u64;
    Ok(out)
}

/// Reads at most `limit` bytes.
fn bounded(name: &str, source: &mut dyn Read, limit: u64) -> Result<Vec<u8>> {
    let mut bytes = Vec::new();
    source
        .take(limit.saturating_add(1))
        .read_to_end(&mut bytes)
        .map_err(|error| Error::io(&error, name))?;
    if bytes.len() as u64 > limit {
        return Err(Error::new(
            ErrorKind::TooLarge,
            format!("larger than the {limit} bytes allowed for it"),
        )
        .at(name));
    }
    Ok(bytes)
}

/// Limit for a file of lines or proofs: segments are cut long before.
const TEXT_LIMIT: u64 = 64 << 20;
