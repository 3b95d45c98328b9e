//! The one object that a shell holds: a folder with one author's own chains, what was received
//! from others, the evidence and the index.
//!
//! One writer at a time, held by a lock file; any number of readers beside it. A notebook of a newer
//! format is refused untouched.
//!
#![doc = include_str!("new_phone.md")]

mod aircraft;
mod alike;
mod capture;
mod correct;
mod findings;
#[cfg(test)]
mod golden;
mod handover;
mod heads;
mod keep;
mod keys;
mod limits;
mod manifest;
mod measure;
mod meters;
mod names;
mod previews;
mod proving;
mod receive;
pub mod screens;
mod settle;
mod sizes;
mod walk;

use std::path::{Path, PathBuf};

use zeroize::Zeroize;

pub use aircraft::AircraftRow;
pub use alike::Joinable;
pub use capture::{Captured, Place};
pub use correct::{Moved, Taken};
pub use findings::{CONCERNS, NewFinding, NewSighting};
pub use handover::{Withhold, verify_folder};
pub use keep::Kept;
pub use keys::{LinkOffer, LinkSignature};
pub use manifest::check_manifest;
pub use measure::{Compared, MarkedPhoto, OpenedPhoto, RepeatedMeasure, compared, marks_of};
pub use meters::{METERS, NewComponent, NewMeter};
pub use names::folded;
pub use previews::{Advice, Looks, PreviewSize};
pub use proving::{Consistency, FinishRow, HandedProof, LineProof};
pub use receive::Received;
pub use settle::Settled;
pub use walk::{LeftZone, NewLook, NewWalkaround, Unplaced, WalkaroundStatus};

use crate::error::{Error, ErrorKind, Result};
use crate::history::{force, state};
use crate::index::{ChainTail, Followed, Index, Oddity};
use crate::record::key::{SeedSigner, Signer};
use crate::record::kinds::ChainOpened;
use crate::record::slip::Slip;
use crate::record::{At, Body, Digest, Entry, FORMAT, Line, Seen, chain};
use crate::world::{Access, World, below};
use manifest::{Manifest, read_manifest};

/// Where the author's key comes from.
pub enum KeySource {
    /// `keys/author.pk8` in the notebook, made where it is missing.
    File,
    /// A 32-byte seed that the shell unwrapped; never written.
    Seed([u8; 32]),
}

impl KeySource {
    fn wipe(&mut self) {
        if let Self::Seed(seed) = self {
            seed.zeroize();
        }
    }
}

/// No copy of a seed is left behind in memory that somebody else is given next.
impl Drop for KeySource {
    fn drop(&mut self) {
        self.wipe();
    }
}

/// A notebook that is open.
pub struct Notebook {
    root: PathBuf,
    world: World,
    signer: Option<Box<dyn Signer>>,
    _lock: Option<Box<dyn std::any::Any + Send>>,
    index: Index,
    opened: Followed,
    author: Digest,
    /// Another device wrote with this key: nothing more may be written with it.
    shared_key: bool,
}

impl Notebook {
    /// Makes a notebook in `root`, which must not hold one.
    pub fn init(root: &Path, world: World, name: &str, role: &str, key: KeySource) -> Result<Self> {
        let path = root.join("notebook.toml");
        if world.files.has(&path)? {
            return Err(
                Error::new(ErrorKind::AlreadyThere, "there is a notebook here already")
                    .at(root.display())
                    .hint("use it, or name another folder"),
            );
        }
        if name.trim().is_empty() {
            return Err(Error::new(ErrorKind::BadValue, "an author needs a name")
                .at("--author")
                .hint("give the name that others know you by"));
        }
        let io = |error: std::io::Error| Error::io(&error, root.display());
        for folder in ["", "record", "evidence", "slips", "incoming"] {
            world.files.create_dirs(&root.join(folder)).map_err(io)?;
        }
        let signer = match &key {
            KeySource::Seed(seed) => SeedSigner::from_seed(seed),
            KeySource::File => {
                world.files.create_dirs(&root.join("keys")).map_err(io)?;
                let path = key_path(root);
                if world.files.has(&path)? {
                    SeedSigner::load(world.files.as_ref(), &path)?
                } else {
                    let signer = SeedSigner::generate(world.entropy.as_ref())?;
                    signer.save(world.files.as_ref(), &path)?;
                    signer
                }
            }
        };
        let slip = Slip::person(world.entropy.as_ref(), name, role, None)?;
        let who = keep_slip(&world, root, &slip)?;
        let manifest = Manifest {
            format: FORMAT,
            author: signer.public(),
            who,
            former: Vec::new(),
        };
        manifest.save(&world, root)?;
        Self::open_with(root, world, Some(Box::new(signer)))
    }

    /// Opens for writing.
    pub fn open(root: &Path, world: World, key: KeySource) -> Result<Self> {
        read_manifest(&world, root)?;
        let signer = match &key {
            KeySource::Seed(seed) => SeedSigner::from_seed(seed),
            KeySource::File => {
                let path = key_path(root);
                if !world.files.has(&path)? {
                    return Err(Error::new(
                        ErrorKind::Unknown,
                        "this notebook has no key: it can be read, not written",
                    )
                    .at(path.display())
                    .hint(
                        "go on under a new author, with the record as it is: witnessmark init --author NAME --role ROLE in this folder",
                    ));
                }
                SeedSigner::load(world.files.as_ref(), &path)?
            }
        };
        let mut notebook = Self::open_with(root, world, Some(Box::new(signer)))?;
        notebook.new_key_if_shared()?;
        Ok(notebook)
    }

    /// Opens for reading, beside a writer if there is one.
    pub fn read(root: &Path, world: World) -> Result<Self> {
        Self::open_with(root, world, None)
    }

    fn open_with(root: &Path, world: World, signer: Option<Box<dyn Signer>>) -> Result<Self> {
        let manifest = read_manifest(&world, root)?;
        let files = world.files.as_ref();
        let (lock, (index, opened)) = if signer.is_some() {
            let path = root.join("notebook.lock");
            let lock = files.lock(&path).map_err(|error| {
                if error.kind() == std::io::ErrorKind::WouldBlock {
                    Error::new(
                        ErrorKind::Busy,
                        "another program is writing to this notebook",
                    )
                    .at(root.display())
                    .hint("wait until it is done, or close it; reading works meanwhile")
                } else {
                    Error::io(&error, path.display())
                }
            })?;
            crate::evidence::store::sweep(files, root)?;
            let heads = heads::noticed(&world, root)?;
            let opened = Index::open_writer(files, root)?;
            heads.save(&world, root, &opened.0);
            (Some(lock), opened)
        } else {
            (None, Index::open_reader(files, root)?)
        };
        let author = signer
            .as_ref()
            .map_or(manifest.author, |signer| signer.public());
        let other = format!("{author}.other.jsonl");
        let shared_key = crate::index::chain_files(world.files.as_ref(), root)?
            .iter()
            .any(|(_, file, _)| file.ends_with(&other));
        Ok(Self {
            shared_key,
            root: root.to_path_buf(),
            world,
            signer,
            _lock: lock,
            index,
            opened,
            author,
        })
    }

    /// The folder.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// Clock, randomness, files.
    pub fn world(&self) -> &World {
        &self.world
    }

    /// This author's key.
    pub fn author(&self) -> Digest {
        self.author
    }

    /// The index, for questions.
    pub fn index(&self) -> &Index {
        &self.index
    }

    /// Torn and damaged lines met at opening.
    pub fn oddities(&self) -> &[Oddity] {
        &self.opened.odd
    }

    /// Takes in what another process appended since.
    pub fn refresh(&mut self) -> Result<()> {
        self.index
            .follow(self.world.files.as_ref(), &self.root)
            .map(|_| ())
    }

    /// Makes the index anew from the record.
    pub fn rebuild_index(&mut self) -> Result<usize> {
        Ok(self
            .index
            .rebuild(self.world.files.as_ref(), &self.root)?
            .new_lines)
    }

    /// Closes the index and gives up the writer's lock.
    pub fn close(self) -> Result<()> {
        self.note_heads();
        self.index.close()
    }

    /// What is known of an aircraft and of those joined with it.
    pub fn state(&self, aircraft: &Digest) -> Result<state::State> {
        let mut rows = self.index.aircraft_lines(aircraft)?;
        for other in self.joined(aircraft)? {
            rows.extend(self.index.aircraft_lines(&other)?);
        }
        Ok(state::fold(&force::in_force(rows)))
    }

    /// The state that bears on one zone, from the lines that bear on it alone.
    pub fn zone_state(&self, aircraft: &Digest, zone: &str) -> Result<state::State> {
        let mut rows = self.index.zone_lines(aircraft, zone)?;
        for other in self.joined(aircraft)? {
            rows.extend(self.index.zone_lines(&other, zone)?);
        }
        Ok(state::fold(&force::in_force(rows)))
    }

    /// A person's claimed name and role, where the slip is here.
    pub fn person(&self, slip: Option<&Digest>) -> Option<(String, String)> {
        let digest = slip?;
        let path = slip_path(&self.root, digest);
        let bytes = self.world.files.read(&path, 64 * 1024).ok()?;
        if Digest::of(&bytes) != *digest {
            return None;
        }
        let slip = Slip::parse(&bytes).ok()?;
        Some((slip.name?, slip.role.unwrap_or_default()))
    }

    /// Now, as an observation.
    pub fn now_seen(&self) -> Seen {
        Seen::clock(self.world.clock.now())
    }

    /// Appends an entry to this author's chain of an aircraft and makes it durable.
    pub(crate) fn append(&mut self, aircraft: &Digest, seen: Seen, body: Body) -> Result<Digest> {
        if self.shared_key {
            return Err(Error::new(
                ErrorKind::WrongState,
                "another device writes with this notebook's key: nothing more is written with it",
            )
            .at(self.author.short())
            .hint("open the notebook again with a new key of its own"));
        }
        let file = self.chain_file(aircraft);
        let mut tail = self.index.tail(&file)?;
        if tail.is_none() && *aircraft != Digest::ZERO {
            let opening = self.opening()?;
            let digest = self.write(aircraft, &file, None, self.now_seen(), opening)?;
            tail = Some(ChainTail { seq: 0, digest });
        }
        self.write(aircraft, &file, tail, seen, body)
    }

    fn opening(&self) -> Result<Body> {
        let mut nonce = [0u8; 16];
        self.world
            .entropy
            .fill(&mut nonce)
            .map_err(|error| Error::io(&error, "random numbers"))?;
        let who = read_manifest(&self.world, &self.root)?.who;
        Ok(ChainOpened {
            nonce: data_encoding::HEXLOWER.encode(&nonce),
            who: Some(who),
            format: FORMAT,
        }
        .into())
    }

    fn chain_file(&self, aircraft: &Digest) -> String {
        let folder = if *aircraft == Digest::ZERO {
            "loose".to_owned()
        } else {
            aircraft.hex()
        };
        format!("{folder}/{}.jsonl", self.author.hex())
    }

    /// The commit point: one line appended and synced, then the index follows.
    fn write(
        &mut self,
        aircraft: &Digest,
        file: &str,
        tail: Option<ChainTail>,
        seen: Seen,
        body: Body,
    ) -> Result<Digest> {
        let line = self.make_line(aircraft, tail, seen, body)?;
        self.append_line(file, &line)?;
        Ok(line.digest)
    }

    fn make_line(
        &self,
        aircraft: &Digest,
        tail: Option<ChainTail>,
        seen: Seen,
        body: Body,
    ) -> Result<Line> {
        let signer = self.signer.as_ref().ok_or_else(|| {
            Error::new(
                ErrorKind::WrongState,
                "this notebook is open for reading only",
            )
            .at(self.root.display())
            .hint("open it for writing")
        })?;
        let entry = Entry {
            author: self.author,
            aircraft: *aircraft,
            seq: tail.map_or(0, |tail| tail.seq + 1),
            prev: tail.map_or(Digest::ZERO, |tail| tail.digest),
            at: At::from_clock(self.world.clock.now()),
            seen,
            system_clock: self.world.clock.is_system(),
            body,
        };
        entry.sign(signer.as_ref())
    }

    fn append_line(&mut self, file: &str, line: &Line) -> Result<()> {
        let files = self.world.files.as_ref();
        let path = below(&self.root, &["record"]).join(file);
        let here = |error: std::io::Error| Error::io(&error, path.display());
        let folder = path.parent().unwrap_or(&self.root).to_path_buf();
        let fresh = !files.has(&path)?;
        if fresh {
            files.create_dirs(&folder).map_err(here)?;
        }
        let expected = self.index.chain_length(file)?;
        let length = if fresh {
            0
        } else {
            files.len(&path).map_err(here)?
        };
        if length > expected {
            let stretch = chain::read(files, &path, expected)?;
            if !stretch.lines.is_empty() || !stretch.damaged.is_empty() {
                return Err(Error::new(
                    ErrorKind::Damaged,
                    "the chain has lines that the index has not followed",
                )
                .at(path.display())
                .hint("open the notebook again"));
            }
            if stretch.altered_end {
                return Err(Error::new(
                    ErrorKind::Damaged,
                    "the last line of the chain was altered at its end; it is not cut off, since it was acknowledged",
                )
                .at(path.display())
                .hint("a check says what it touches: witnessmark verify; take the file back from a backup"));
            }
            // A write that a crash cut short: never acknowledged, cut here.
            files.truncate(&path, expected).map_err(here)?;
        }
        let mut bytes = line.bytes.clone();
        bytes.push(b'\n');
        let wrote = files.append(&path, Access::Usual).and_then(|mut out| {
            out.write_all(&bytes)?;
            out.sync()
        });
        if let Err(error) = wrote {
            // Nothing half-written stays if it can be helped; if not, the next writer cuts it.
            let _ = files.truncate(&path, expected);
            return Err(here(error));
        }
        if fresh {
            let named = files
                .sync_dir(&folder)
                .and_then(|()| files.sync_dir(&self.root.join("record")));
            if let Err(error) = named {
                let _ = files.truncate(&path, expected);
                return Err(here(error));
            }
        }
        if self.index.add(file, expected, line).is_err() {
            // The line is durable, whatever the index says; it is derived and follows in memory
            // until next time.
            let mut index = Index::memory()?;
            index.follow(self.world.files.as_ref(), &self.root)?;
            self.index = index;
        }
        Ok(())
    }

    pub(crate) fn joined(&self, aircraft: &Digest) -> Result<Vec<Digest>> {
        let mut known = vec![*aircraft];
        let mut at = 0;
        while let Some(id) = known.get(at).copied() {
            at += 1;
            for row in self.index.kind_lines(&id, "aircraft joined")? {
                if let Body::AircraftJoined(joined) = &row.body
                    && !known.contains(&joined.other)
                {
                    known.push(joined.other);
                }
            }
            for row in self.index.citing(&id, "other")? {
                if matches!(row.body, Body::AircraftJoined(_)) && !known.contains(&row.aircraft) {
                    known.push(row.aircraft);
                }
            }
        }
        Ok(known.split_off(1))
    }
}

fn key_path(root: &Path) -> PathBuf {
    below(root, &["keys", "author.pk8"])
}

fn slip_path(root: &Path, digest: &Digest) -> PathBuf {
    let hex = digest.hex();
    below(root, &["slips", hex.get(..2).unwrap_or("00")]).join(format!("{hex}.json"))
}

/// Stores a slip, readable by its owner alone, and gives its digest.
pub(crate) fn keep_slip(world: &World, root: &Path, slip: &Slip) -> Result<Digest> {
    let (bytes, digest) = slip.to_bytes()?;
    let path = slip_path(root, &digest);
    let here = |error: std::io::Error| Error::io(&error, path.display());
    if let Some(folder) = path.parent() {
        world.files.create_dirs(folder).map_err(here)?;
    }
    world
        .files
        .replace(&path, &bytes, Access::Owner)
        .map_err(here)?;
    Ok(digest)
}

/// The nearest notebook at or above a folder.
pub fn find_root(world: &World, start: &Path) -> Result<PathBuf> {
    let mut folder = Some(start);
    while let Some(here) = folder {
        if world.files.has(&here.join("notebook.toml"))? {
            return Ok(here.to_path_buf());
        }
        folder = here.parent();
    }
    Err(Error::new(ErrorKind::NoNotebook, "there is no notebook here or above")
        .at(start.display())
        .hint("make one, or name its folder: witnessmark init --author NAME --role ROLE, or -C DIR"))
}

/// Zone code and five digits: the short form of a finding.
pub fn short_name(zone: &str, digest: &Digest) -> String {
    names::short(zone, digest, 5)
}

impl Notebook {
    /// The history of an aircraft, as shown.
    pub fn history(&self, aircraft: &Digest) -> Result<crate::history::view::HistoryView> {
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        Ok(crate::history::view::build(&state, &layout, &|author| {
            self.shown_author(&state, author)
        }))
    }

    /// The history of one zone, from the lines that bear on it alone.
    ///
    /// # Errors
    /// `Unknown` for a zone that the layout does not have, and those of the index.
    pub fn zone_history(
        &self,
        aircraft: &Digest,
        zone: &str,
    ) -> Result<crate::history::view::HistoryView> {
        let layout = self.layout_in_use(aircraft)?;
        let code = self.zone_code(&layout, zone)?;
        let state = self.zone_state(aircraft, &code)?;
        let mut view = crate::history::view::of_zone(&state, &layout, &code, &|author| {
            self.shown_author(&state, author)
        });
        view.unplaced = 0;
        Ok(view)
    }

    /// The layout of an aircraft without the rest of its state.
    fn layout_in_use(&self, aircraft: &Digest) -> Result<crate::layout::Layout> {
        let mut rows = Vec::new();
        for id in std::iter::once(*aircraft).chain(self.joined(aircraft)?) {
            for kind in [
                "aircraft described",
                "layout chosen",
                "retracted",
                "amended",
            ] {
                rows.extend(self.index.kind_lines(&id, kind)?);
            }
        }
        self.layout_of(&state::fold(&force::in_force(rows)))
    }

    /// What was looked at when, by whom, oldest first.
    ///
    /// # Errors
    /// Those of the index.
    pub fn coverage(
        &self,
        aircraft: &Digest,
        by: crate::history::coverage::By,
    ) -> Result<crate::history::coverage::Coverage> {
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        Ok(crate::history::coverage::build(
            &state,
            &layout,
            by,
            &|author| self.shown_author(&state, author),
        ))
    }

    /// Readings that are no defect, as series of their own.
    ///
    /// # Errors
    /// Those of the index.
    pub fn readings(&self, aircraft: &Digest) -> Result<crate::history::readings::Readings> {
        let state = self.state(aircraft)?;
        Ok(crate::history::readings::build(&state, &|author| {
            self.shown_author(&state, author)
        }))
    }

    /// The path of an original, or of the copy without position that a packer gave for it.
    ///
    /// # Errors
    /// Those of the machine: "not here" is said only where the system said so.
    pub fn original(&self, file: &Digest) -> Result<Option<PathBuf>> {
        let files = self.world.files.as_ref();
        if let Some(path) = crate::evidence::store::find(files, &self.root, file)? {
            return Ok(Some(path));
        }
        crate::pack::receive::copy_of(&self.world, &self.root, file)
    }
}
