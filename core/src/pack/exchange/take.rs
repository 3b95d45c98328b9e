//! What comes from a meeting place: read, judged, taken in.

use super::here::{ChainId, Here, Lines, cited};
use super::names::{self, Held, Segment};
use super::{Doing, Listed, Met, Place, Step, TEXT_LIMIT, There, Watch, bounded};
use crate::error::{Error, Result};
use crate::evidence::store;
use crate::pack::members::{Limits, Member, Members};
use crate::pack::receive;
use crate::pack::verify::Proofs;
use crate::record::{Digest, LINE_LIMIT, Line, chain};
use crate::world::World;
use std::collections::{BTreeMap, BTreeSet};
use std::io::Read;
use std::path::Path;

/// Lines and proofs that are new here.
#[derive(Debug, Default)]
pub struct Batch {
    chains: BTreeMap<ChainId, Lines>,
    proofs: BTreeMap<ChainId, Proofs>,
    /// Names whose content is something else, and why.
    pub odd: Vec<(String, String)>,
}

impl Batch {
    /// Lines that came.
    pub fn lines(&self) -> impl Iterator<Item = &Line> {
        self.chains.values().flat_map(Lines::iter)
    }

    /// Reads one file; what is not what its name says is set apart.
    pub fn read(&mut self, name: &str, source: &mut dyn Read) -> Result<()> {
        let bytes = match bounded(name, source, TEXT_LIMIT) {
            Ok(bytes) => bytes,
            Err(error) if error.kind == crate::error::ErrorKind::TooLarge => {
                self.odd.push((name.to_owned(), error.what));
                return Ok(());
            }
            Err(error) => return Err(error),
        };
        let outcome = match names::read(name) {
            Some(Held::Segment(segment)) => segment_lines(&segment, &bytes).map(|lines| {
                let chain = self
                    .chains
                    .entry((segment.author, segment.aircraft))
                    .or_default();
                lines.into_iter().for_each(|line| chain.add(line));
            }),
            Some(Held::Proofs(author, aircraft, digest)) => {
                proofs_in(&bytes, author, aircraft, digest).map(|proofs| {
                    match self.proofs.get_mut(&(author, aircraft)) {
                        Some(known) => known.proofs.extend(proofs.proofs),
                        None => {
                            self.proofs.insert((author, aircraft), proofs);
                        }
                    }
                })
            }
            _ => Ok(()),
        };
        if let Err(why) = outcome {
            self.odd.push((name.to_owned(), why));
        }
        Ok(())
    }

    /// Chains are judged whole: what is here already is put beside what came.
    pub fn complete(&mut self, here: &Here) {
        for (id, chain) in &mut self.chains {
            if let Some(known) = here.chains.get(id) {
                known.iter().for_each(|line| chain.add(line.clone()));
            }
        }
        // Proofs without lines prove nothing.
        let with_lines: BTreeSet<ChainId> = self
            .chains
            .keys()
            .chain(here.chains.keys())
            .copied()
            .collect();
        self.proofs.retain(|id, _| with_lines.contains(id));
        for (id, proofs) in &mut self.proofs {
            if let Some((_, _, known)) = here.proofs.get(id) {
                proofs.proofs.extend(known.proofs.iter().cloned());
            }
            proofs.proofs.sort();
            proofs.proofs.dedup();
            if !self.chains.contains_key(id)
                && let Some(known) = here.chains.get(id)
            {
                let mut lines = Lines::default();
                known.iter().for_each(|line| lines.add(line.clone()));
                self.chains.insert(*id, lines);
            }
        }
        for id in self.chains.keys() {
            if !self.proofs.contains_key(id)
                && let Some((_, _, known)) = here.proofs.get(id)
            {
                self.proofs.insert(*id, known.clone());
            }
        }
    }
}

/// The lines of a segment: of that chain, each following the one before, each signed.
fn segment_lines(segment: &Segment, bytes: &[u8]) -> std::result::Result<Vec<Line>, String> {
    if Digest::of(bytes) != segment.digest {
        return Err("what lies there is not what its name says".to_owned());
    }
    let stretch = chain::split(bytes, 0);
    if let Some((_, number, error)) = stretch.damaged.first() {
        return Err(format!("its line {number} cannot be read: {}", error.what));
    }
    if stretch.torn > 0 {
        return Err("its last line is torn".to_owned());
    }
    let lines: Vec<Line> = stretch.lines.into_iter().map(|(_, line)| line).collect();
    let mut before: Option<&Line> = None;
    for line in &lines {
        if line.entry.author != segment.author || line.aircraft() != segment.aircraft {
            return Err("it holds a line of another chain".to_owned());
        }
        let follows = match before {
            None => line.entry.seq == segment.from,
            Some(before) => {
                line.entry.seq == before.entry.seq + 1 && line.entry.prev == before.digest
            }
        };
        if !follows {
            return Err("its lines do not follow one another as its name says".to_owned());
        }
        if !line.signature_holds() {
            return Err(format!(
                "its line with number {} is not signed by the author it names",
                line.entry.seq + 1
            ));
        }
        before = Some(line);
    }
    if before.map(|line| line.entry.seq) != Some(segment.to) {
        return Err("its lines do not reach as far as its name says".to_owned());
    }
    Ok(lines)
}

fn proofs_in(
    bytes: &[u8],
    author: Digest,
    aircraft: Digest,
    digest: Digest,
) -> std::result::Result<Proofs, String> {
    if Digest::of(bytes) != digest {
        return Err("what lies there is not what its name says".to_owned());
    }
    let proofs: Proofs =
        serde_json::from_slice(bytes).map_err(|e| format!("the proofs cannot be read: {e}"))?;
    if proofs.author != author || proofs.aircraft != aircraft {
        return Err("the proofs are of another chain".to_owned());
    }
    Ok(proofs)
}

/// Originals that are cited here or in what came, then slips, proofs and lines in one go.
#[allow(clippy::too_many_arguments)]
pub fn originals_and_lines(
    world: &World,
    root: &Path,
    own: Digest,
    place: &mut dyn Place,
    here: &Here,
    there: &There,
    batch: Batch,
    met: &mut Met,
    watch: &mut Watch<'_>,
) -> Result<()> {
    let cited = cited(
        here.chains
            .values()
            .chain(batch.chains.values())
            .flat_map(Lines::iter),
    )?;
    // What its author removed is not fetched, though it may still lie there.
    let known = here
        .chains
        .iter()
        .filter(|(id, _)| !batch.chains.contains_key(id));
    let removed = super::super::removed::removed(
        known
            .chain(&batch.chains)
            .flat_map(|(_, lines)| lines.iter()),
    );
    let wanted = |listed: &BTreeMap<Digest, Listed>, held: &dyn Fn(&Digest) -> bool| {
        listed
            .iter()
            .filter(|(digest, _)| {
                cited.contains(digest) && !held(digest) && !removed.contains_key(digest)
            })
            .map(|(_, listed)| listed.clone())
            .collect::<Vec<Listed>>()
    };
    let originals = wanted(&there.originals, &|d| here.originals.contains_key(d));
    let slips = wanted(&there.slips, &|d| here.slips.contains_key(d));
    if met.outcome.dry_run {
        met.outcome.new_files = originals.len() as u64;
        met.got_bytes = originals.iter().map(|listed| listed.bytes).sum();
        met.outcome.slips = slips.len() as u64;
        for (id, lines) in &batch.chains {
            let known: BTreeSet<Digest> = here
                .chains
                .get(id)
                .into_iter()
                .flat_map(Lines::iter)
                .map(|line| line.digest)
                .collect();
            met.outcome.lines += lines
                .iter()
                .filter(|line| !known.contains(&line.digest))
                .count() as u64;
        }
        return Ok(());
    }

    let mut remembered = Vec::new();
    let mut step = Step::new(Doing::Fetching, &originals);
    place.get(&originals, &mut |name, source| {
        step.done += 1;
        let incoming = store::receive(world, root, source, Limits::default().file, name)?;
        if names::read(name) != Some(Held::Original(incoming.digest)) {
            world
                .files
                .remove(&incoming.path)
                .map_err(|e| Error::io(&e, incoming.path.display()))?;
            // Half copied by a slow cloud, say: its lines come in, and it is not here yet.
            met.outcome.report.add(
                "altered",
                name,
                "what lies there is not what its name says; it was left alone",
                "delete it there; whoever has it will leave it again",
            );
            return Ok(());
        }
        let extension = name
            .rsplit('/')
            .next()
            .and_then(|file| file.split_once('.'))
            .map_or("", |(_, extension)| extension);
        store::settle(world.files.as_ref(), root, &incoming, extension)?;
        step.bytes += incoming.bytes;
        watch(step);
        met.got_bytes += incoming.bytes;
        met.outcome.new_files += 1;
        remembered.push(incoming.digest);
        Ok(())
    })?;
    let from = place.words();
    if !remembered.is_empty() {
        receive::remember(world, root, None, None, &from, &remembered, &[])?;
    }

    let mut members = Came::new(&batch, &from)?;
    place.get(&slips, &mut |name, source| {
        let bytes = bounded(name, source, LINE_LIMIT as u64)?;
        if names::read(name) == Some(Held::Slip(Digest::of(&bytes))) {
            let hex = Digest::of(&bytes).hex();
            members.add(format!("data/slips/{}/{hex}.json", &hex[..2]), bytes);
        } else {
            met.outcome.report.add(
                "altered",
                name,
                "what lies there is not what its name says; it was left alone",
                "delete it there; whoever has it will leave it again",
            );
        }
        Ok(())
    })?;
    // Slips are taken in only with lines that cite them; lines that are here already do for that.
    if members.has_slips() {
        for ((author, aircraft), lines) in &here.chains {
            members.add_if_absent(format!("data/record/{aircraft}/{author}.jsonl"), || {
                lines.bytes()
            });
        }
    }
    if members.is_empty() {
        return Ok(());
    }
    members.sort();
    let taken = receive::take_members(world, root, own, Box::new(members), &from)?;
    met.outcome.refused = taken.refused;
    met.outcome.lines = taken.lines;
    met.outcome.slips = taken.slips;
    met.outcome.report.chains = taken.report.chains;
    met.outcome.report.lines = taken.report.lines;
    met.outcome.report.finishes = taken.report.finishes;
    met.outcome.report.vouched = taken.report.vouched;
    met.outcome.report.worth = taken.report.worth;
    // Lines alone were judged: what is not here of their files is said below, once.
    met.outcome
        .report
        .rows
        .extend(taken.report.rows.into_iter().filter(|row| {
            !matches!(
                row.code,
                "not_handed_over" | "removed" | "withheld" | "unplaced" | "unfinished"
            )
        }));
    Ok(())
}

/// What came, in the shape of a pack's payload.
struct Came {
    from: String,
    list: Vec<Member>,
    bytes: BTreeMap<String, Vec<u8>>,
}

impl Came {
    fn new(batch: &Batch, from: &str) -> Result<Self> {
        let mut came = Self {
            from: from.to_owned(),
            list: Vec::new(),
            bytes: BTreeMap::new(),
        };
        for ((author, aircraft), lines) in &batch.chains {
            came.add(
                format!("data/record/{aircraft}/{author}.jsonl"),
                lines.bytes(),
            );
        }
        for ((author, aircraft), proofs) in &batch.proofs {
            came.add(
                format!("data/proofs/{aircraft}-{author}.json"),
                crate::record::canonical::to_bytes(proofs)?,
            );
        }
        Ok(came)
    }

    fn add(&mut self, name: String, bytes: Vec<u8>) {
        self.bytes.insert(name, bytes);
    }

    fn add_if_absent(&mut self, name: String, bytes: impl FnOnce() -> Vec<u8>) {
        self.bytes.entry(name).or_insert_with(bytes);
    }

    fn has_slips(&self) -> bool {
        self.bytes
            .keys()
            .any(|name| name.starts_with("data/slips/"))
    }

    fn is_empty(&self) -> bool {
        self.bytes.is_empty()
    }

    fn sort(&mut self) {
        self.list = self
            .bytes
            .iter()
            .map(|(name, bytes)| Member {
                name: name.clone(),
                len: bytes.len() as u64,
            })
            .collect();
    }
}

impl Members for Came {
    fn list(&self) -> &[Member] {
        &self.list
    }

    fn open(&self, name: &str) -> Result<Box<dyn Read + '_>> {
        match self.bytes.get(name) {
            Some(bytes) => Ok(Box::new(bytes.as_slice())),
            None => Err(Error::new(
                crate::error::ErrorKind::Unknown,
                "there is no such file in it",
            )
            .at(name)),
        }
    }

    fn place(&self) -> String {
        self.from.clone()
    }
}
