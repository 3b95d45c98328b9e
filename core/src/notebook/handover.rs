//! Handing over, from an open notebook: verify, pack, exchange, backup. The rules are in `pack`; here
//! they meet the notebook's key, lock and index.

use std::collections::BTreeSet;
use std::path::Path;

use super::{KeySource, Notebook, heads, key_path, keys, read_manifest};
use crate::error::{Error, ErrorKind, Result};
use crate::evidence::store;
use crate::pack::cut::Cut;
use crate::pack::members::{Folder, Limits, Members};
use crate::pack::packer::{self, Order, Packed};
use crate::pack::verify::{self, Report, Source};
use crate::pack::{exchange, receive};
use crate::record::Digest;
use crate::record::key::{SeedSigner, Signer};
use crate::world::{Access, World};

/// What to leave out of a pack.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Withhold {
    /// Names, roles, certificates.
    pub people: bool,
    /// Positions.
    pub location: bool,
}

/// Bounds for one's own notebook: its size is its owner's affair.
fn unbounded() -> Limits {
    Limits {
        members: u64::MAX,
        total: u64::MAX,
        file: u64::MAX,
        ..Limits::default()
    }
}

/// Verifies the notebook in `root` without opening it: nothing is written, no index is needed, and a
/// damaged notebook is a row and not an error.
///
/// # Errors
/// `NoNotebook`, `Newer`, and those of the machine.
pub fn verify_folder(world: &World, root: &Path) -> Result<Report> {
    let first = verify_once(world, root)?;
    if !first.failed() {
        return Ok(first);
    }
    // Somebody may have written between listing the files and reading the lines: what is not found a
    // second time, from the listing on, is no damage.
    let mut again = verify_once(world, root)?;
    again.keep_confirmed(&first);
    Ok(again)
}

fn verify_once(world: &World, root: &Path) -> Result<Report> {
    let manifest = match read_manifest(world, root) {
        Ok(manifest) => Some(manifest),
        Err(error) if matches!(error.kind, ErrorKind::NoNotebook | ErrorKind::Newer) => {
            return Err(error);
        }
        Err(_) => read_manifest(world, root).ok(),
    };
    let limits = unbounded();
    let members = Folder::open(world.files.clone(), root, &limits)?;
    let mut was_here = receive::came_in(world, root);
    for key in manifest.iter().flat_map(|manifest| &manifest.former) {
        was_here.extend(keys::cited_by(world, root, key)?);
    }
    let source = Source {
        members: &members,
        prefix: "",
        own: manifest.as_ref().map(|manifest| manifest.author),
        was_here,
        remembered: heads::remembered(world, root),
        withheld: receive::left_out(world, root).into_iter().collect(),
    };
    let mut report = verify::verify(&source, &limits)?;
    let path = key_path(root);
    match manifest {
        None => report.add(
            "altered",
            "notebook.toml",
            "the notebook's own file cannot be read; the record is not touched by this",
            "take notebook.toml back from a backup",
        ),
        Some(manifest) => {
            let slip = format!(
                "slips/{}/{}.json",
                manifest.who.hex().get(..2).unwrap_or_default(),
                manifest.who
            );
            if members.len_of(&slip).is_none() {
                report.add(
                    "missing",
                    "notebook.toml",
                    "it names a slip with the author's name that is not here",
                    "take notebook.toml or the slip back from a backup",
                );
            }
            // The slip with which a notebook begins is cited by its first line only; until then it
            // is no stray.
            report
                .rows
                .retain(|row| row.code != "stray" || row.file != slip);
            if world.files.has(&path)? {
                let right = SeedSigner::load(world.files.as_ref(), &path)
                    .map(|signer| signer.public() == manifest.author);
                match right {
                    Ok(true) => {}
                    Ok(false) => report.add(
                        "altered",
                        "notebook.toml",
                        "it names another author than the key in keys/author.pk8",
                        "take both back from a backup of the same day",
                    ),
                    Err(error) => report.add(
                        "altered",
                        "keys/author.pk8",
                        error.what.as_str(),
                        &error.remedy,
                    ),
                }
            }
        }
    }
    report.sort();
    Ok(report)
}

impl Notebook {
    /// Verifies this notebook.
    ///
    /// # Errors
    /// As [`verify_folder`].
    pub fn verify(&self) -> Result<Report> {
        verify_folder(&self.world, &self.root)
    }

    pub(super) fn the_signer(&self) -> Result<&dyn Signer> {
        self.signer.as_deref().ok_or_else(|| {
            Error::new(
                ErrorKind::WrongState,
                "this notebook is open for reading only",
            )
            .at(self.root.display())
            .hint("open it for writing")
        })
    }

    /// The descriptions of an aircraft that are joined.
    pub(super) fn family(&self, aircraft: &Digest) -> Result<BTreeSet<Digest>> {
        let mut all: BTreeSet<Digest> = self.joined(aircraft)?.into_iter().collect();
        all.insert(*aircraft);
        Ok(all)
    }

    /// Makes a pack, with a page built from exactly what the pack holds: `page` is handed the notebook
    /// to build it from.
    ///
    /// # Errors
    /// As [`packer::pack`].
    pub fn pack(
        &self,
        aircraft: &Digest,
        cut: Cut,
        withhold: Withhold,
        out: &Path,
        page: &dyn Fn(&Notebook, &Digest) -> Result<String>,
    ) -> Result<Packed> {
        let signer = self.the_signer()?;
        let whole = withhold == Withhold::default() && matches!(cut, Cut::Whole(_));
        let mut order = Order {
            aircraft: self.family(aircraft)?,
            cut,
            withhold_people: withhold.people,
            withhold_location: withhold.location,
            report: None,
            out,
        };
        let text = if whole {
            page(self, aircraft)?
        } else {
            self.page_of_part(signer, &mut order, aircraft, page)?
        };
        order.report = Some(text.into_bytes());
        order.out = out;
        packer::pack(&self.world, &self.root, signer, &order)
    }

    /// The page of a part: the part is packed and received into a notebook of its own first, so that
    /// nothing which was left out can reach the page.
    fn page_of_part(
        &self,
        signer: &dyn Signer,
        order: &mut Order<'_>,
        aircraft: &Digest,
        page: &dyn Fn(&Notebook, &Digest) -> Result<String>,
    ) -> Result<String> {
        let files = self.world.files.clone();
        let scratch = self.root.join("incoming").join("page");
        store::clear(files.as_ref(), &scratch)?;
        let (pack, reader) = (scratch.join("pack"), scratch.join("notebook"));
        let outcome = (|| {
            let inner = Order {
                aircraft: order.aircraft.clone(),
                cut: order.cut.clone(),
                withhold_people: order.withhold_people,
                withhold_location: order.withhold_location,
                report: None,
                out: &pack,
            };
            self.world
                .files
                .create_dirs(&scratch)
                .map_err(|e| Error::io(&e, scratch.display()))?;
            packer::pack(&self.world, &self.root, signer, &inner)?;
            // A key of no meaning: this notebook only reads, and is gone in a moment.
            let seed = Digest::of(b"page of a part").0;
            let mut notebook = Notebook::init(
                &reader,
                self.world.clone(),
                "reader",
                "reader",
                KeySource::Seed(seed),
            )?;
            let received = notebook.receive_pack(&pack, false)?;
            if received.refused {
                return Err(Error::new(
                    ErrorKind::Damaged,
                    "this part of the record does not verify; nothing was packed",
                )
                .hint("a check says what is wrong: witnessmark verify"));
            }
            let text = page(&notebook, aircraft)?;
            notebook.close()?;
            Ok(text)
        })();
        let cleared = store::clear(files.as_ref(), &scratch).and_then(|_| {
            files
                .remove_dir(&scratch)
                .map_err(|e| Error::io(&e, scratch.display()))
        });
        let text = outcome?;
        cleared?;
        Ok(text)
    }

    /// Meets others in a place: takes what is new there, leaves what they do not have. With `dry_run`
    /// nothing moves, and the figures say what would.
    ///
    /// # Errors
    /// As [`exchange::meet`].
    pub fn exchange(
        &mut self,
        place: &mut dyn exchange::Place,
        dry_run: bool,
    ) -> Result<exchange::Met> {
        self.exchange_watched(place, dry_run, &mut |_| {})
    }

    /// The same, telling how far it has got.
    ///
    /// # Errors
    /// As [`exchange::meet`].
    pub fn exchange_watched(
        &mut self,
        place: &mut dyn exchange::Place,
        dry_run: bool,
        watch: &mut exchange::Watch<'_>,
    ) -> Result<exchange::Met> {
        self.the_signer()?;
        let met = exchange::meet(&self.world, &self.root, self.author, place, dry_run, watch);
        if dry_run {
            return met;
        }
        self.refresh()?;
        let mut met = met?;
        if !met.outcome.refused {
            // As after a pack: another device may have written under this notebook's key.
            met.outcome.new_key = self.new_key_if_shared()?;
            self.note_heads();
        }
        Ok(met)
    }

    /// Meets others in a shared folder.
    ///
    /// # Errors
    /// As [`exchange::meet`].
    pub fn exchange_folder(&mut self, folder: &Path, dry_run: bool) -> Result<exchange::Met> {
        let world = self.world.clone();
        let mut place = exchange::InFolder::new(&world, folder)?;
        self.exchange(&mut place, dry_run)
    }

    /// Copies the notebook without its key and without what can be made anew. Complete before it
    /// gets its name; originals are checked while they are copied.
    ///
    /// # Errors
    /// `AlreadyThere`, `Damaged`, and those of the machine.
    pub fn backup(&self, out: &Path) -> Result<u64> {
        let files = self.world.files.as_ref();
        if files.has(out)? {
            return Err(Error::new(
                ErrorKind::AlreadyThere,
                "something of this name is there already",
            )
            .at(out.display())
            .hint("choose another name; a backup is never written over"));
        }
        let mut name = out.file_name().unwrap_or_default().to_os_string();
        name.push(".partial");
        let partial = out.with_file_name(name);
        store::clear(files, &partial)?;
        let made = self.copy_into(&partial).and_then(|count| {
            files
                .rename(&partial, out)
                .map_err(|e| Error::io(&e, out.display()))?;
            Ok(count)
        });
        match made {
            Ok(count) => {
                packer::sync_parent(&self.world, out)?;
                Ok(count)
            }
            Err(error) => {
                // What went wrong is what is said; a rest that stays is swept by the next backup.
                let _ = store::clear(files, &partial).and_then(|_| {
                    files
                        .remove_dir(&partial)
                        .map_err(|e| Error::io(&e, partial.display()))
                });
                Err(error)
            }
        }
    }

    /// Copies what a backup holds into a folder that is empty or not there; gives how many files.
    fn copy_into(&self, partial: &Path) -> Result<u64> {
        let files = self.world.files.as_ref();
        let members = Folder::open(self.world.files.clone(), &self.root, &unbounded())?;
        const KEPT: [&str; 4] = ["record/", "evidence/", "slips/", "copies/"];
        let mut count = 0;
        let mut folders: BTreeSet<std::path::PathBuf> = BTreeSet::from([partial.to_path_buf()]);
        files
            .create_dirs(partial)
            .map_err(|e| Error::io(&e, partial.display()))?;
        for member in members.list() {
            let kept = KEPT.iter().any(|folder| member.name.starts_with(folder))
                || member.name == "notebook.toml"
                || member.name == "received.jsonl";
            if !kept {
                continue;
            }
            let path = member
                .name
                .split('/')
                .fold(partial.to_path_buf(), |path, part| path.join(part));
            let io = |error: std::io::Error| Error::io(&error, path.display());
            if let Some(parent) = path.parent() {
                files.create_dirs(parent).map_err(io)?;
                folders.extend(
                    parent
                        .ancestors()
                        .take_while(|a| a.starts_with(partial))
                        .map(Path::to_path_buf),
                );
            }
            let access = if member.name.starts_with("slips/") {
                Access::Owner
            } else {
                Access::Usual
            };
            let mut target = files.create_new(&path, access).map_err(io)?;
            let mut source = packer::Watched::new(members.open(&member.name)?);
            std::io::copy(&mut source, &mut target).map_err(io)?;
            target.sync().map_err(io)?;
            let stated = member
                .name
                .strip_prefix("evidence/")
                .and_then(verify::stated);
            if stated.is_some_and(|digest| digest != source.digest()) {
                return Err(Error::new(
                    ErrorKind::Damaged,
                    "this original is not as it was recorded; the backup was stopped",
                )
                .at(&member.name)
                .hint("a check says what it touches: witnessmark verify"));
            }
            count += 1;
        }
        for folder in folders.iter().rev() {
            files
                .sync_dir(folder)
                .map_err(|e| Error::io(&e, folder.display()))?;
        }
        Ok(count)
    }
}
