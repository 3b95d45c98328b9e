//! Handing over and proving, from an open notebook: verify, pack, receive, exchange, backup, proof
//! codes, vouching, time stamps. The rules are in `pack` and `record::proof`; here they meet the
//! notebook's key, lock and index.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use serde::Serialize;

use super::{KeySource, Notebook, key_path, read_manifest};
use crate::error::{Error, ErrorKind, Result};
use crate::evidence::store;
use crate::pack::cut::Cut;
use crate::pack::members::{Folder, Limits, Members};
use crate::pack::packer::{self, Order, Packed};
use crate::pack::verify::{self, Report, Source};
use crate::pack::{exchange, receive};
use crate::record::key::{SeedSigner, Signer};
use crate::record::kinds::{TimestampReceived, Vouched};
use crate::record::proof::code::ProofCode;
use crate::record::proof::merkle::Tree;
use crate::record::proof::timestamp::{self, Reply};
use crate::record::{Body, Digest, Line, chain};
use crate::world::{Access, World, below};

/// A finish and its printed form.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FinishRow {
    /// The finish line.
    pub finish: Digest,
    /// Its author.
    pub author: Digest,
    /// The walkaround that it closes.
    pub walkaround: Digest,
    /// Lines under it.
    pub size: u64,
    /// Root of their tree.
    pub root: Digest,
    /// When it was written.
    pub at: String,
    /// The proof code.
    pub code: ProofCode,
}

/// A line's place under a finish (RFC 6962 section 2.1.1): enough, with the line, for a stranger.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LineProof {
    /// The line.
    pub line: Digest,
    /// SHA-256 of 0x00 and the line: the leaf.
    pub leaf: Digest,
    /// Its number.
    pub index: u64,
    /// The first finish over it.
    pub finish: Digest,
    /// Lines under that finish.
    pub size: u64,
    /// Their root.
    pub root: Digest,
    /// Sibling hashes from the leaf upwards.
    pub path: Vec<Digest>,
    /// Proof code of the finish.
    pub code: ProofCode,
}

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
    let manifest = match read_manifest(world, root) {
        Ok(manifest) => Some(manifest),
        Err(error) if matches!(error.kind, ErrorKind::NoNotebook | ErrorKind::Newer) => {
            return Err(error);
        }
        Err(_) => read_manifest(world, root).ok(),
    };
    let limits = unbounded();
    let members = Folder::open(world.files.clone(), root, &limits)?;
    let source = Source {
        members: &members,
        prefix: "",
        own: manifest.as_ref().map(|manifest| manifest.author),
        was_here: receive::came_in(world, root),
        remembered: remembered(root),
        withheld: Vec::new(),
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
            if world.files.exists(&path) {
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

/// The last line of each chain that the index file has followed; empty where it cannot be asked.
/// Only a hint's source: the index is derived, but it is the one witness of a tail that was cut
/// before anybody else saw it.
fn remembered(root: &Path) -> BTreeMap<String, Digest> {
    use rusqlite::{Connection, OpenFlags};
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let ask = || -> rusqlite::Result<BTreeMap<String, Digest>> {
        let conn = Connection::open_with_flags(root.join("index.sqlite"), flags)?;
        let mut statement =
            conn.prepare("SELECT file, last_digest FROM chain WHERE last_digest IS NOT NULL")?;
        let rows = statement.query_map([], |row| {
            Ok((row.get::<_, String>(0)?, row.get::<_, Vec<u8>>(1)?))
        })?;
        Ok(rows
            .filter_map(std::result::Result::ok)
            .filter_map(|(file, digest)| {
                Some((format!("record/{file}"), Digest::from_slice(&digest)?))
            })
            .collect())
    };
    ask().unwrap_or_default()
}

impl Notebook {
    /// Verifies this notebook.
    ///
    /// # Errors
    /// As [`verify_folder`].
    pub fn verify(&self) -> Result<Report> {
        verify_folder(&self.world, &self.root)
    }

    fn the_signer(&self) -> Result<&dyn Signer> {
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
    fn family(&self, aircraft: &Digest) -> Result<BTreeSet<Digest>> {
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
                .hint("witnessmark verify says what is wrong"));
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

    /// Receives a pack, folder or zip.
    ///
    /// # Errors
    /// As [`receive::receive`].
    pub fn receive_pack(&mut self, path: &Path, dry_run: bool) -> Result<receive::Outcome> {
        self.the_signer()?;
        let outcome = receive::receive(&self.world, &self.root, self.author, path, dry_run)?;
        if !outcome.refused && !dry_run {
            self.refresh()?;
        }
        Ok(outcome)
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
        self.the_signer()?;
        let met = exchange::meet(&self.world, &self.root, self.author, place, dry_run);
        if !dry_run {
            self.refresh()?;
        }
        met
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
        if files.exists(out) {
            return Err(Error::new(
                ErrorKind::AlreadyThere,
                "something of this name is there already",
            )
            .at(out.display())
            .hint("choose another name; a backup is never written over"));
        }
        let members = Folder::open(self.world.files.clone(), &self.root, &unbounded())?;
        let mut name = out.file_name().unwrap_or_default().to_os_string();
        name.push(".partial");
        let partial = out.with_file_name(name);
        store::clear(self.world.files.as_ref(), &partial)?;
        const KEPT: [&str; 4] = ["record/", "evidence/", "slips/", "copies/"];
        let mut count = 0;
        let mut folders: BTreeSet<std::path::PathBuf> = BTreeSet::from([partial.clone()]);
        files
            .create_dirs(&partial)
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
                .fold(partial.clone(), |path, part| path.join(part));
            let io = |error: std::io::Error| Error::io(&error, path.display());
            if let Some(parent) = path.parent() {
                files.create_dirs(parent).map_err(io)?;
                folders.extend(
                    parent
                        .ancestors()
                        .take_while(|a| a.starts_with(&partial))
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
                let error = Error::new(
                    ErrorKind::Damaged,
                    "this original is not as it was recorded; the backup was stopped",
                )
                .at(&member.name)
                .hint("witnessmark verify says what it touches");
                store::clear(self.world.files.as_ref(), &partial)?;
                return Err(error);
            }
            count += 1;
        }
        for folder in folders.iter().rev() {
            files
                .sync_dir(folder)
                .map_err(|e| Error::io(&e, folder.display()))?;
        }
        files
            .rename(&partial, out)
            .map_err(|e| Error::io(&e, out.display()))?;
        packer::sync_parent(&self.world, out)?;
        Ok(count)
    }

    /// Every finish about an aircraft, oldest first, with its proof code.
    ///
    /// # Errors
    /// Those of the index.
    pub fn finishes(&self, aircraft: &Digest) -> Result<Vec<FinishRow>> {
        let mut rows = Vec::new();
        for id in self.family(aircraft)? {
            for row in self.index.kind_lines(&id, "walkaround finished")? {
                if let Body::WalkaroundFinished(finish) = &row.body {
                    rows.push((
                        row.order_us,
                        FinishRow {
                            finish: row.digest,
                            author: row.author,
                            walkaround: finish.walkaround,
                            size: finish.size,
                            root: finish.root,
                            at: row.at.to_string(),
                            code: ProofCode::of(&row.digest.0),
                        },
                    ));
                }
            }
        }
        rows.sort_by_key(|(order, row)| (*order, row.finish));
        Ok(rows.into_iter().map(|(_, row)| row).collect())
    }

    /// The finish with a printed code, if it is here and its line is unaltered.
    ///
    /// # Errors
    /// `BadValue` for what is no code, `Unknown` where no finish here has it.
    pub fn finish_with_code(&self, aircraft: &Digest, text: &str) -> Result<FinishRow> {
        let code = ProofCode::parse(text)?;
        self.finishes(aircraft)?
            .into_iter()
            .find(|row| row.code == code)
            .ok_or_else(|| {
                Error::new(ErrorKind::Unknown, "no finish here has this proof code")
                    .at(code)
                    .hint("either it is of another aircraft or not received yet, or the chain was written anew after it was printed: ask for the pack of that day")
            })
    }

    /// Proof that one line stands under the first finish over it.
    ///
    /// # Errors
    /// `Unknown` for a line that is not here, `WrongState` where no finish covers it yet or its chain
    /// is not whole here.
    pub fn line_proof(&self, line: &Digest) -> Result<LineProof> {
        let row = self.index.line(line)?.ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "there is no such entry").at(line.short())
        })?;
        let file = below(&self.root, &["record", &row.aircraft.hex()])
            .join(format!("{}.jsonl", row.author.hex()));
        let stretch = chain::read(self.world.files.as_ref(), &file, 0)?;
        let lines: Vec<&Line> = stretch.lines.iter().map(|(_, line)| line).collect();
        let mut tree = Tree::new();
        for (line, n) in lines.iter().zip(0u64..) {
            if line.entry.seq != n {
                return Err(Error::new(
                    ErrorKind::WrongState,
                    "this chain is not whole here; its proofs came with the pack",
                )
                .at(file.display()));
            }
            tree.push(&line.bytes);
        }
        let found = lines.iter().find_map(|other| match &other.entry.body {
            Body::WalkaroundFinished(finish)
                if finish.size > row.seq && finish.size == other.entry.seq =>
            {
                Some((other.digest, finish))
            }
            _ => None,
        });
        let Some((digest, finish)) = found else {
            return Err(
                Error::new(ErrorKind::WrongState, "no finish covers this entry yet")
                    .at(line.short())
                    .hint("finish the walkaround: witnessmark walkaround finish"),
            );
        };
        let bytes = lines
            .iter()
            .find(|l| l.digest == *line)
            .map(|l| l.bytes.as_slice())
            .unwrap_or_default();
        let path = tree.inclusion(row.seq, finish.size).unwrap_or_default();
        Ok(LineProof {
            line: *line,
            leaf: Digest(crate::record::proof::merkle::leaf_hash(bytes)),
            index: row.seq,
            finish: digest,
            size: finish.size,
            root: finish.root,
            path: path.into_iter().map(Digest).collect(),
            code: ProofCode::of(&digest.0),
        })
    }

    /// Records the last line of every other author's chain about an aircraft, where that is not
    /// recorded yet: what exposes a chain that is written anew later. It says that these lines were
    /// here in this form now; not that they are true.
    ///
    /// # Errors
    /// `WrongState` for a notebook open for reading, `Damaged` where a chain to vouch for does not
    /// verify.
    pub fn vouch(&mut self, aircraft: &Digest) -> Result<Vec<Vouched>> {
        self.the_signer()?;
        let mut heads: BTreeMap<Digest, Vouched> = BTreeMap::new();
        for id in self.family(aircraft)? {
            for row in self.index.aircraft_lines(&id)? {
                if row.author == self.author {
                    continue;
                }
                let head = heads.entry(row.author).or_insert(Vouched {
                    author: row.author,
                    seq: 0,
                    line: row.digest,
                });
                if row.seq >= head.seq {
                    head.seq = row.seq;
                    head.line = row.digest;
                }
            }
        }
        let report = self.verify()?;
        let mut known: BTreeSet<Digest> = BTreeSet::new();
        for id in self.family(aircraft)? {
            for row in self.index.kind_lines(&id, "vouched")? {
                if let (true, Body::Vouched(vouched)) = (row.author == self.author, &row.body) {
                    known.insert(vouched.line);
                }
            }
        }
        let mut made = Vec::new();
        for (author, head) in heads {
            if known.contains(&head.line) {
                continue;
            }
            let bad = report.rows.iter().any(|row| {
                row.status == verify::Status::Failure && row.file.contains(&author.hex())
            });
            if bad {
                return Err(Error::new(
                    ErrorKind::Damaged,
                    "this chain does not verify; it was not vouched for",
                )
                .at(author.short())
                .hint("witnessmark verify says what is wrong with it"));
            }
            let seen = self.now_seen();
            self.append(aircraft, seen, head.clone().into())?;
            made.push(head);
        }
        Ok(made)
    }

    /// A query (RFC 3161) for a finish: DER bytes to send to an authority.
    ///
    /// # Errors
    /// A failure of the randomness.
    pub fn timestamp_request(&self, finish: &Digest) -> Result<Vec<u8>> {
        let mut nonce = [0u8; 8];
        self.world
            .entropy
            .fill(&mut nonce)
            .map_err(|e| Error::io(&e, "random numbers"))?;
        Ok(timestamp::request(finish, u64::from_be_bytes(nonce)))
    }

    /// Keeps an authority's reply to a query and writes it down. The authority's signature is not
    /// checked here.
    ///
    /// # Errors
    /// `Refused` where the reply is not for this query, `BadFormat` where it cannot be read.
    pub fn timestamp_accept(
        &mut self,
        aircraft: &Digest,
        query: &[u8],
        reply: &[u8],
    ) -> Result<TimestampReceived> {
        let (finish, nonce) = timestamp::nonce_of(query)?;
        if self.index.line(&finish)?.is_none() {
            return Err(Error::new(
                ErrorKind::Unknown,
                "the query is about no line of this notebook",
            )
            .at(finish.short()));
        }
        let read = Reply::parse(reply)?;
        read.answers(&finish, nonce)?;
        let file = self.keep_file(reply, "tsr")?;
        let body = TimestampReceived {
            finish,
            file,
            time: read.time,
            policy: Some(read.policy),
        };
        let seen = self.now_seen();
        self.append(aircraft, seen, body.clone().into())?;
        Ok(body)
    }

    fn keep_file(&self, bytes: &[u8], extension: &str) -> Result<Digest> {
        let mut source = bytes;
        let incoming = store::receive(
            &self.world,
            &self.root,
            &mut source,
            bytes.len() as u64,
            "reply",
        )?;
        store::settle(self.world.files.as_ref(), &self.root, &incoming, extension)?;
        Ok(incoming.digest)
    }
}
