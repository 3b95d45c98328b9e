//! A power cut after every single operation: what a notebook does to its files is recorded, then every
//! prefix is replayed as the disk may hold it afterwards. Bytes that were not synced are gone, or half
//! there; names that were not synced are all gone, all there, or any one of them there or gone without
//! the others (reordered). Each such state must open, verify without a failure, hold everything that was
//! acknowledged by then, and be written to again. POSIX promises no more: a file's sync is no promise
//! about its name (fsync(2), "Notes").
//!
//! The index is SQLite's own affair and left out: without it the record must say the same.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::any::Any;
use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};

use witnessmark_core::notebook::{
    KeySource, NewWalkaround, Notebook, Place, Withhold, verify_folder,
};
use witnessmark_core::pack::cut::Cut;
use witnessmark_core::pack::verify::Status;
use witnessmark_core::record::{Digest, parse_when};
use witnessmark_core::world::{
    Access, DirEntry, Files, GivenClock, ReadFile, SeededEntropy, SystemFiles, World, WriteFile,
};

#[derive(Debug, Clone)]
enum Step {
    Folder(PathBuf),
    /// A file that is new under this name.
    Create(PathBuf),
    Write(PathBuf, Vec<u8>),
    Sync(PathBuf),
    Cut(PathBuf, u64),
    Rename(PathBuf, PathBuf),
    SyncFolder(PathBuf),
    Remove(PathBuf),
    /// From here on these files and lines must survive.
    Acknowledged(Kept),
}

/// Digests of lines, and names of originals and slips.
#[derive(Debug, Clone, Default)]
struct Kept {
    lines: BTreeSet<Digest>,
    files: BTreeSet<String>,
}

type Log = Arc<Mutex<Vec<Step>>>;

/// The machine's files, written down. `lies`: syncs that do nothing, for the checker's own check.
struct Recorder {
    log: Log,
    lies: bool,
}

struct Written {
    file: Box<dyn WriteFile>,
    path: PathBuf,
    log: Log,
    lies: bool,
}

impl Write for Written {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let n = self.file.write(bytes)?;
        let step = Step::Write(self.path.clone(), bytes[..n].to_vec());
        self.log.lock().unwrap().push(step);
        Ok(n)
    }
    fn flush(&mut self) -> io::Result<()> {
        self.file.flush()
    }
}

impl WriteFile for Written {
    fn sync(&mut self) -> io::Result<()> {
        if !self.lies {
            self.log.lock().unwrap().push(Step::Sync(self.path.clone()));
        }
        Ok(())
    }
}

impl Recorder {
    fn say(&self, step: Step) {
        self.log.lock().unwrap().push(step);
    }
    fn written(&self, path: &Path, file: Box<dyn WriteFile>) -> Box<dyn WriteFile> {
        Box::new(Written {
            file,
            path: path.to_path_buf(),
            log: self.log.clone(),
            lies: self.lies,
        })
    }
}

impl Files for Recorder {
    fn open(&self, path: &Path) -> io::Result<Box<dyn ReadFile>> {
        SystemFiles.open(path)
    }
    fn create_new(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>> {
        let file = SystemFiles.create_new(path, access)?;
        self.say(Step::Create(path.to_path_buf()));
        Ok(self.written(path, file))
    }
    fn append(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>> {
        let fresh = !SystemFiles.exists(path)?;
        let file = SystemFiles.append(path, access)?;
        if fresh {
            self.say(Step::Create(path.to_path_buf()));
        }
        Ok(self.written(path, file))
    }
    fn truncate(&self, path: &Path, len: u64) -> io::Result<()> {
        SystemFiles.truncate(path, len)?;
        self.say(Step::Cut(path.to_path_buf(), len));
        Ok(())
    }
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        SystemFiles.rename(from, to)?;
        self.say(Step::Rename(from.to_path_buf(), to.to_path_buf()));
        Ok(())
    }
    fn sync_dir(&self, path: &Path) -> io::Result<()> {
        if !self.lies {
            self.say(Step::SyncFolder(path.to_path_buf()));
        }
        Ok(())
    }
    fn create_dir(&self, path: &Path) -> io::Result<()> {
        SystemFiles.create_dir(path)?;
        self.say(Step::Folder(path.to_path_buf()));
        Ok(())
    }
    fn set_read_only(&self, path: &Path) -> io::Result<()> {
        SystemFiles.set_read_only(path)
    }
    fn remove(&self, path: &Path) -> io::Result<()> {
        SystemFiles.remove(path)?;
        self.say(Step::Remove(path.to_path_buf()));
        Ok(())
    }
    fn remove_dir(&self, path: &Path) -> io::Result<()> {
        SystemFiles.remove_dir(path)?;
        self.say(Step::Remove(path.to_path_buf()));
        Ok(())
    }
    fn list(&self, path: &Path) -> io::Result<Vec<DirEntry>> {
        SystemFiles.list(path)
    }
    fn len(&self, path: &Path) -> io::Result<u64> {
        SystemFiles.len(path)
    }
    fn exists(&self, path: &Path) -> io::Result<bool> {
        SystemFiles.exists(path)
    }
    fn readable_by_others(&self, path: &Path) -> io::Result<bool> {
        SystemFiles.readable_by_others(path)
    }
    fn lock(&self, path: &Path) -> io::Result<Box<dyn Any + Send>> {
        let lock = SystemFiles.lock(path)?;
        Ok(lock)
    }
}

fn world(seed: u64, files: Arc<dyn Files>) -> World {
    World {
        clock: Arc::new(GivenClock::new(
            parse_when("2026-05-03T09:10:00+02:00").unwrap(),
        )),
        entropy: Arc::new(SeededEntropy::new(seed)),
        files,
    }
}

/// What stands under a name: a folder, or the number of a file's bytes.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Node {
    Folder,
    File(usize),
}

/// A change of names that no sync has covered yet.
#[derive(Debug, Clone)]
enum Change {
    Add(PathBuf, Node),
    Rename(PathBuf, PathBuf, Node),
    Remove(PathBuf),
}

impl Change {
    fn touches(&self, folder: &Path) -> bool {
        let below = |path: &PathBuf| path.parent() == Some(folder);
        match self {
            Self::Add(path, _) | Self::Remove(path) => below(path),
            Self::Rename(from, to, _) => below(from) || below(to),
        }
    }
    fn apply(&self, names: &mut BTreeMap<PathBuf, Node>) {
        match self {
            Self::Add(path, node) => {
                names.insert(path.clone(), node.clone());
            }
            Self::Rename(from, to, node) => {
                names.remove(from);
                names.insert(to.clone(), node.clone());
            }
            Self::Remove(path) => {
                names.remove(path);
            }
        }
    }
}

#[derive(Default)]
struct Disk {
    /// Bytes now, and bytes that are durable.
    bytes: Vec<(Vec<u8>, Vec<u8>)>,
    now: BTreeMap<PathBuf, Node>,
    durable: BTreeMap<PathBuf, Node>,
    waiting: Vec<Change>,
}

type State = BTreeMap<PathBuf, Option<Vec<u8>>>;

impl Disk {
    fn file(&self, path: &Path) -> usize {
        match self.now.get(path) {
            Some(Node::File(at)) => *at,
            other => panic!("{}: {other:?}", path.display()),
        }
    }
    fn change(&mut self, change: Change) {
        change.apply(&mut self.now);
        self.waiting.push(change);
    }
    fn step(&mut self, step: &Step) {
        match step {
            Step::Folder(path) => self.change(Change::Add(path.clone(), Node::Folder)),
            Step::Create(path) => {
                self.bytes.push(Default::default());
                self.change(Change::Add(path.clone(), Node::File(self.bytes.len() - 1)));
            }
            Step::Write(path, more) => {
                let at = self.file(path);
                self.bytes[at].0.extend(more);
            }
            Step::Sync(path) => {
                let at = self.file(path);
                self.bytes[at].1 = self.bytes[at].0.clone();
            }
            Step::Cut(path, len) => {
                let at = self.file(path);
                self.bytes[at].0.truncate(*len as usize);
                self.bytes[at].1 = self.bytes[at].0.clone();
            }
            Step::Rename(from, to) => {
                let node = self.now[from].clone();
                if node == Node::Folder {
                    // What is in it goes along; none of it waits on its own any more.
                    let inside: Vec<(PathBuf, Node)> = self
                        .now
                        .iter()
                        .filter(|(p, _)| p.starts_with(from) && *p != from)
                        .map(|(p, n)| (p.clone(), n.clone()))
                        .collect();
                    for names in [&mut self.now, &mut self.durable] {
                        for (path, node) in &inside {
                            if names.remove(path).is_some() {
                                names.insert(
                                    to.join(path.strip_prefix(from).unwrap()),
                                    node.clone(),
                                );
                            }
                        }
                    }
                }
                self.change(Change::Rename(from.clone(), to.clone(), node));
            }
            Step::SyncFolder(folder) => {
                let (done, left) = std::mem::take(&mut self.waiting)
                    .into_iter()
                    .partition(|change| change.touches(folder));
                self.waiting = left;
                for change in done {
                    change.apply(&mut self.durable);
                }
            }
            Step::Remove(path) => self.change(Change::Remove(path.clone())),
            Step::Acknowledged(_) => {}
        }
    }

    /// Every way in which the disk may be found.
    fn states(&self) -> Vec<State> {
        let mut all = Vec::new();
        let with = |keep: &dyn Fn(usize) -> bool| {
            let mut names = self.durable.clone();
            for (n, change) in self.waiting.iter().enumerate() {
                if keep(n) {
                    change.apply(&mut names);
                }
            }
            names
        };
        let mut add = |names: &BTreeMap<PathBuf, Node>, bytes: &dyn Fn(usize) -> Vec<u8>| {
            // What stands in a folder that is not there is not there.
            let reachable = |path: &Path| {
                path.ancestors().skip(1).all(|above| {
                    above.as_os_str().is_empty() || names.get(above) == Some(&Node::Folder)
                })
            };
            all.push(
                names
                    .iter()
                    .filter(|(path, _)| reachable(path))
                    .map(|(path, node)| match node {
                        Node::Folder => (path.clone(), None),
                        Node::File(at) => (path.clone(), Some(bytes(*at))),
                    })
                    .collect(),
            );
        };
        let durable = |at: usize| self.bytes[at].1.clone();
        let half = |at: usize| {
            let (now, durable) = &self.bytes[at];
            let more = now.len().saturating_sub(durable.len()) / 2;
            now[..(durable.len() + more).min(now.len())].to_vec()
        };
        let (none, every) = (with(&|_| false), with(&|_| true));
        add(&none, &durable);
        add(&none, &|at| self.bytes[at].0.clone());
        add(&every, &durable);
        add(&every, &half);
        add(&every, &|at| self.bytes[at].0.clone());
        for n in 0..self.waiting.len() {
            add(&with(&|m| m == n), &durable);
            add(&with(&|m| m != n), &durable);
            add(&with(&|m| m <= n), &durable);
        }
        all
    }
}

fn kept(root: &Path) -> Kept {
    let mut kept = Kept::default();
    for folder in ["record", "evidence", "slips"] {
        for inner in std::fs::read_dir(root.join(folder))
            .into_iter()
            .flatten()
            .flatten()
        {
            for file in std::fs::read_dir(inner.path())
                .into_iter()
                .flatten()
                .flatten()
            {
                let name = file.file_name().into_string().unwrap();
                if folder != "record" {
                    kept.files.insert(name);
                } else if name.ends_with(".jsonl") {
                    let bytes = std::fs::read(file.path()).unwrap();
                    let mut lines: Vec<&[u8]> = bytes.split(|b| *b == b'\n').collect();
                    lines.pop();
                    kept.lines.extend(lines.iter().map(|line| Digest::of(line)));
                }
            }
        }
    }
    kept
}

/// Records a life: made, filled, finished, packed, received into another.
fn life(scratch: &Path, lies: bool) -> Vec<Step> {
    let log: Log = Arc::default();
    let recorder = || -> Arc<dyn Files> {
        Arc::new(Recorder {
            log: log.clone(),
            lies,
        })
    };
    let acknowledge = |root: &Path| {
        let step = Step::Acknowledged(kept(root));
        log.lock().unwrap().push(step);
    };
    let (one, two) = (scratch.join("one"), scratch.join("two"));
    let photo = scratch.join("in.jpg");
    std::fs::write(&photo, b"\xff\xd8\xff\xdb\0\x04\0\x01\xff\xd9 invented").unwrap();
    let mut notebook = Notebook::init(
        &one,
        world(1, recorder()),
        "Invented",
        "owner",
        KeySource::File,
    )
    .unwrap();
    acknowledge(&one);
    let loose = notebook.write_note("before an aircraft is known", &Place::default());
    loose.unwrap();
    acknowledge(&one);
    let aircraft = notebook
        .add_aircraft(
            "N0TEST",
            "invented",
            None,
            "high_wing_strutted_fixed",
            false,
        )
        .unwrap();
    acknowledge(&one);
    let place = Place {
        aircraft: Some(aircraft),
        ..Place::default()
    };
    notebook
        .start_walkaround(&aircraft, &NewWalkaround::default())
        .unwrap();
    notebook.take_photo(&photo, &place).unwrap();
    acknowledge(&one);
    notebook.take_photo(&photo, &place).unwrap();
    notebook.write_note("a note", &place).unwrap();
    acknowledge(&one);
    notebook.finish_walkaround(&aircraft).unwrap();
    acknowledge(&one);
    let pack = scratch.join("pack");
    notebook
        .pack(
            &aircraft,
            Cut::Whole("review"),
            Withhold::default(),
            &pack,
            &|_, _| Ok("<!doctype html>".into()),
        )
        .unwrap();
    notebook.close().unwrap();
    let mut reader = Notebook::init(
        &two,
        world(2, recorder()),
        "Reader",
        "mechanic",
        KeySource::File,
    )
    .unwrap();
    let outcome = reader.receive_pack(&pack, false).unwrap();
    assert!(!outcome.refused);
    let mut both = kept(&one);
    let more = kept(&two);
    both.lines.extend(more.lines);
    both.files.extend(more.files);
    log.lock().unwrap().push(Step::Acknowledged(both));
    reader.close().unwrap();
    log.lock().unwrap().clone()
}

/// What is wrong with one state of the disk.
fn judge(root: &Path, state: &State, scratch: &Path, due: &Kept) -> Option<String> {
    if root.exists() {
        std::fs::remove_dir_all(root).unwrap();
    }
    std::fs::create_dir(root).unwrap();
    for (path, bytes) in state {
        let target = root.join(path.strip_prefix(scratch).unwrap());
        match bytes {
            None => std::fs::create_dir(&target).unwrap(),
            Some(bytes) => {
                std::fs::write(&target, bytes).unwrap();
                if target.ends_with("author.pk8") {
                    use std::os::unix::fs::PermissionsExt;
                    std::fs::set_permissions(&target, std::fs::Permissions::from_mode(0o600))
                        .unwrap();
                }
            }
        }
    }
    let mut here = Kept::default();
    for name in ["one", "two"] {
        let folder = root.join(name);
        let part = kept(&folder);
        here.lines.extend(part.lines);
        here.files.extend(part.files);
        if !folder.join("notebook.toml").exists() {
            continue;
        }
        let world = world(9, Arc::new(SystemFiles));
        let failures = |when: &str| match verify_folder(&world, &folder) {
            Err(error) => Some(format!("{name} {when}: {error}")),
            Ok(report) => report
                .rows
                .iter()
                .find(|row| row.status == Status::Failure)
                .map(|row| format!("{name} {when}: {} {}: {}", row.code, row.file, row.what)),
        };
        if let Some(wrong) = failures("as found") {
            return Some(wrong);
        }
        let again = Notebook::open(&folder, world.clone(), KeySource::File)
            .and_then(|mut n| n.write_note("afterwards", &Place::default()).map(|_| n))
            .and_then(Notebook::close);
        if let Err(error) = again {
            return Some(format!("{name} cannot be written to again: {error}"));
        }
        if let Some(wrong) = failures("written to again") {
            return Some(wrong);
        }
    }
    let pack = root.join("pack");
    if pack.exists() {
        let bag =
            witnessmark_core::pack::receive::judge(&world(9, Arc::new(SystemFiles)), &pack, true);
        match bag {
            Ok(judged) if !judged.outcome.refused => {}
            Ok(judged) => {
                return Some(format!(
                    "a pack has its name and is not whole: {:?}",
                    judged.outcome.report.rows.first()
                ));
            }
            Err(error) => return Some(format!("a pack has its name and is not whole: {error}")),
        }
    }
    if let Some(lost) = due.lines.difference(&here.lines).next() {
        return Some(format!("line {lost} was acknowledged and is gone"));
    }
    due.files
        .difference(&here.files)
        .next()
        .map(|lost| format!("file {lost} was acknowledged and is gone"))
}

/// States tried, and the first thing that is wrong.
fn replay(lies: bool) -> (usize, Option<String>) {
    let scratch = tempfile::tempdir().unwrap();
    let steps = life(scratch.path(), lies);
    let mut disk = Disk::default();
    for above in scratch
        .path()
        .ancestors()
        .filter(|p| !p.as_os_str().is_empty())
    {
        disk.durable.insert(above.to_path_buf(), Node::Folder);
        disk.now.insert(above.to_path_buf(), Node::Folder);
    }
    let spot = tempfile::tempdir().unwrap();
    let mut due = Kept::default();
    let mut seen: HashSet<Digest> = HashSet::new();
    for (n, step) in steps.iter().enumerate() {
        disk.step(step);
        if let Step::Acknowledged(kept) = step {
            due = kept.clone();
            seen.clear();
        }
        for mut state in disk.states() {
            state.retain(|path, _| path.starts_with(scratch.path()) && path != scratch.path());
            if !seen.insert(Digest::of(format!("{state:?}").as_bytes())) {
                continue;
            }
            if let Some(wrong) = judge(&spot.path().join("state"), &state, scratch.path(), &due) {
                let shown = format!("{step:?}");
                let shown: String = shown
                    .replace(&scratch.path().display().to_string(), "")
                    .chars()
                    .take(200)
                    .collect();
                return (
                    seen.len(),
                    Some(format!(
                        "after step {n} of {}, {shown}: {wrong}",
                        steps.len()
                    )),
                );
            }
        }
    }
    println!("{} steps", steps.len());
    (seen.len(), None)
}

#[test]
fn a_power_cut_after_any_step_loses_nothing_that_was_acknowledged() {
    let (states, wrong) = replay(false);
    assert_eq!(wrong, None);
    assert!(states > 1);
}

#[test]
fn a_disk_that_lies_about_syncing_is_found_out() {
    let (_, wrong) = replay(true);
    let wrong = wrong.expect("no error found: the checker is broken");
    // Which loss shows first depends on what the notebook writes first.
    assert!(
        wrong.contains("acknowledged and is gone") || wrong.contains("altered"),
        "{wrong}"
    );
}
