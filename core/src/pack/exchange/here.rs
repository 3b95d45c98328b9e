//! What a notebook holds, as far as a meeting needs to know, and what of it others lack.

use super::names::Segment;
use crate::error::{Error, Result};
use crate::evidence::store;
use crate::pack::verify::Proofs;
use crate::record::{Digest, Line, chain, kinds};
use crate::world::{World, below};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// A segment is cut before it grows past this, so that a reader may read it whole.
const SEGMENT_BYTES: usize = 8 << 20;

/// Author and aircraft.
pub type ChainId = (Digest, Digest);

/// Lines of one chain, both versions where there are two.
#[derive(Debug, Default)]
pub struct Lines {
    by_number: BTreeMap<(u64, Digest), Line>,
}

impl Lines {
    /// Takes in one more.
    pub fn add(&mut self, line: Line) {
        self.by_number.insert((line.entry.seq, line.digest), line);
    }

    /// All, in order of number, then digest.
    pub fn iter(&self) -> impl Iterator<Item = &Line> {
        self.by_number.values()
    }

    /// As the chain's file has them.
    pub fn bytes(&self) -> Vec<u8> {
        joined(self.iter())
    }

    /// The lines of a segment, if exactly they are here.
    fn held(&self, segment: &Segment) -> Option<Vec<Digest>> {
        let ends = self
            .by_number
            .range((segment.to, Digest::ZERO)..=(segment.to, Digest([0xff; 32])));
        for (_, end) in ends {
            let mut back = vec![end];
            let mut first = end;
            while first.entry.seq > segment.from {
                match self.by_number.get(&(first.entry.seq - 1, first.entry.prev)) {
                    Some(line) => {
                        back.push(line);
                        first = line;
                    }
                    None => break,
                }
            }
            if first.entry.seq == segment.from
                && Digest::of(&joined(back.iter().rev().copied())) == segment.digest
            {
                return Some(back.iter().map(|line| line.digest).collect());
            }
        }
        None
    }

    /// Runs of lines that follow one another, of those that no segment covers.
    fn runs(&self, covered: &BTreeSet<Digest>) -> Vec<Vec<&Line>> {
        let mut open: BTreeMap<(u64, Digest), &Line> = self
            .by_number
            .iter()
            .filter(|(_, line)| !covered.contains(&line.digest))
            .map(|(key, line)| (*key, line))
            .collect();
        let mut out = Vec::new();
        while let Some((_, first)) = open.pop_first() {
            let mut bytes = first.bytes.len() + 1;
            let mut run = vec![first];
            let mut last = first;
            loop {
                let seq = last.entry.seq + 1;
                let next = open
                    .range((seq, Digest::ZERO)..=(seq, Digest([0xff; 32])))
                    .find(|(_, line)| line.entry.prev == last.digest)
                    .map(|(key, line)| (*key, *line));
                let Some((key, line)) = next else { break };
                bytes += line.bytes.len() + 1;
                if bytes > SEGMENT_BYTES {
                    break;
                }
                open.remove(&key);
                run.push(line);
                last = line;
            }
            out.push(run);
        }
        out
    }
}

fn joined<'a>(lines: impl Iterator<Item = &'a Line>) -> Vec<u8> {
    let mut bytes = Vec::new();
    for line in lines {
        bytes.extend_from_slice(&line.bytes);
        bytes.push(b'\n');
    }
    bytes
}

/// Every digest that lines cite.
pub fn cited<'a>(lines: impl Iterator<Item = &'a Line>) -> Result<BTreeSet<Digest>> {
    let mut out = BTreeSet::new();
    for line in lines {
        let body = line.entry.body.to_value()?;
        out.extend(kinds::cites(&body).into_iter().map(|(_, digest)| digest));
    }
    Ok(out)
}

/// Originals and slips.
#[derive(Debug, Default)]
pub struct Files {
    /// Digests of originals.
    pub originals: BTreeSet<Digest>,
    /// Digests of slips.
    pub slips: BTreeSet<Digest>,
    /// Slips that many leave out on purpose, so that nobody waits for them.
    pub positions: BTreeSet<Digest>,
}

impl Files {
    /// Adds what lines cite.
    pub fn cite<'a>(&mut self, lines: impl Iterator<Item = &'a Line>) -> Result<()> {
        for line in lines {
            let body = line.entry.body.to_value()?;
            for (role, digest) in kinds::cites(&body) {
                match role.as_str() {
                    "file" => self.originals.insert(digest),
                    "who" => self.slips.insert(digest),
                    "position" => self.positions.insert(digest),
                    _ => continue,
                };
            }
        }
        Ok(())
    }

    /// Those that are not here.
    pub fn not_in(mut self, here: &Here) -> Self {
        self.originals.retain(|d| !here.originals.contains_key(d));
        self.slips.retain(|d| !here.slips.contains_key(d));
        self.positions.retain(|d| !here.slips.contains_key(d));
        self
    }

    /// Adds those of another.
    pub fn add(&mut self, other: Self) {
        self.originals.extend(other.originals);
        self.slips.extend(other.slips);
        self.positions.extend(other.positions);
    }

    /// Of any kind.
    pub fn all(self) -> BTreeSet<Digest> {
        let mut all = self.originals;
        all.extend(self.slips);
        all.extend(self.positions);
        all
    }
}

/// What a notebook holds.
#[derive(Debug, Default)]
pub struct Here {
    /// Chains, received ones too; never the loose one.
    pub chains: BTreeMap<ChainId, Lines>,
    /// Proofs of chains of which only a part is here: file and digest of its bytes.
    pub proofs: BTreeMap<ChainId, (PathBuf, Digest, Proofs)>,
    /// Originals and where they are.
    pub originals: BTreeMap<Digest, PathBuf>,
    /// Slips and where they are.
    pub slips: BTreeMap<Digest, PathBuf>,
}

impl Here {
    /// Reads a notebook. Damaged lines are left out: they are no-one's to hand on.
    ///
    /// # Errors
    /// Those of the machine.
    pub fn load(world: &World, root: &Path) -> Result<Self> {
        let files = world.files.as_ref();
        let mut here = Self::default();
        let record = root.join("record");
        let list = |path: &Path| {
            if files.has(path)? {
                files.list(path).map_err(|e| Error::io(&e, path.display()))
            } else {
                Ok(Vec::new())
            }
        };
        for folder in list(&record)? {
            let Ok(aircraft) = folder.name.parse::<Digest>() else {
                continue;
            };
            for file in list(&record.join(&folder.name))? {
                let path = record.join(&folder.name).join(&file.name);
                if let Some(Ok(author)) = file.name.strip_suffix(".proofs.json").map(str::parse) {
                    let bytes = files
                        .read(&path, crate::pack::members::Limits::default().manifest)
                        .map_err(|e| Error::io(&e, path.display()))?;
                    if let Ok(proofs) = serde_json::from_slice(&bytes) {
                        here.proofs
                            .insert((author, aircraft), (path, Digest::of(&bytes), proofs));
                    }
                    continue;
                }
                let stem = file.name.strip_suffix(".jsonl");
                let stem = stem.map(|stem| stem.strip_suffix(".other").unwrap_or(stem));
                let Some(Ok(author)) = stem.map(str::parse::<Digest>) else {
                    continue;
                };
                let lines = here.chains.entry((author, aircraft)).or_default();
                for (_, line) in chain::read(files, &path, 0)?.lines {
                    if line.entry.author == author && line.aircraft() == aircraft {
                        lines.add(line);
                    }
                }
            }
        }
        for (digest, path, _) in store::all(files, root)? {
            if let Some(digest) = digest {
                here.originals.insert(digest, path);
            }
        }
        let slips = below(root, &["slips"]);
        for folder in list(&slips)? {
            for file in list(&slips.join(&folder.name))? {
                if let Some(Ok(digest)) = file.name.strip_suffix(".json").map(str::parse) {
                    here.slips
                        .insert(digest, slips.join(&folder.name).join(&file.name));
                }
            }
        }
        Ok(here)
    }

    /// Originals and slips that lines cite and that have not come, nor were removed on purpose.
    pub fn missing(&self) -> Result<Files> {
        let mut cited = Files::default();
        cited.cite(self.chains.values().flat_map(Lines::iter))?;
        let removed = self.removed();
        cited
            .originals
            .retain(|digest| !removed.contains_key(digest));
        cited.positions.clear();
        Ok(cited.not_in(self))
    }

    /// Originals whose removal is written down, with why.
    pub fn removed(&self) -> BTreeMap<Digest, String> {
        super::super::removed::removed(self.chains.values().flat_map(Lines::iter))
    }

    /// What one author's own lines cite.
    pub fn cited_by(&self, author: &Digest) -> Result<BTreeSet<Digest>> {
        let own = self.chains.iter().filter(|((key, _), _)| key == author);
        cited(own.flat_map(|(_, lines)| lines.iter()))
    }

    /// The lines that segments stand for, with other versions of them.
    pub fn of_segments<'a>(
        &'a self,
        segments: &'a [(Segment, Vec<u8>)],
    ) -> impl Iterator<Item = &'a Line> {
        segments.iter().flat_map(move |(segment, _)| {
            self.chains
                .get(&(segment.author, segment.aircraft))
                .into_iter()
                .flat_map(move |lines| {
                    lines
                        .by_number
                        .range((segment.from, Digest::ZERO)..=(segment.to, Digest([0xff; 32])))
                })
                .map(|(_, line)| line)
        })
    }

    /// True if every line of this segment is here.
    pub fn holds(&self, segment: &Segment) -> bool {
        self.chains
            .get(&(segment.author, segment.aircraft))
            .is_some_and(|lines| lines.held(segment).is_some())
    }

    /// Segments that a place lacks, with their bytes; `only` keeps to one author's chains.
    pub fn lacking(
        &self,
        there: &BTreeSet<Segment>,
        only: Option<Digest>,
    ) -> Vec<(Segment, Vec<u8>)> {
        let mut out = Vec::new();
        for ((author, aircraft), lines) in &self.chains {
            if only.is_some_and(|only| only != *author) {
                continue;
            }
            let covered: BTreeSet<Digest> = there
                .iter()
                .filter(|s| s.author == *author && s.aircraft == *aircraft)
                .filter_map(|segment| lines.held(segment))
                .flatten()
                .collect();
            for run in lines.runs(&covered) {
                let (Some(first), Some(last)) = (run.first(), run.last()) else {
                    continue;
                };
                let (from, to) = (first.entry.seq, last.entry.seq);
                let bytes = joined(run.into_iter());
                let segment = Segment {
                    author: *author,
                    aircraft: *aircraft,
                    from,
                    to,
                    digest: Digest::of(&bytes),
                };
                out.push((segment, bytes));
            }
        }
        out
    }
}
