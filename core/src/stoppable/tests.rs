//! A wish to stop at every single opening of a file: nothing half-made has a name, nothing that was
//! recorded is lost, and the next capture is kept. True by construction; no source.

use super::*;
use crate::notebook::{KeySource, Notebook, Place, Withhold};
use crate::pack::testing::{jpeg, world};
use crate::world::{SystemFiles, World};
use std::path::PathBuf;

/// Asks to stop when the n-th file is opened or made.
struct AsksAt {
    stop: Arc<Stop>,
    left: Arc<AtomicU64>,
}

impl AsksAt {
    fn step(&self) {
        if self.left.fetch_sub(1, Ordering::SeqCst) == 1 {
            self.stop.ask();
        }
    }
}

impl Files for AsksAt {
    fn open(&self, path: &Path) -> io::Result<Box<dyn ReadFile>> {
        self.step();
        SystemFiles.open(path)
    }
    fn create_new(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>> {
        self.step();
        SystemFiles.create_new(path, access)
    }
    fn append(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>> {
        self.step();
        SystemFiles.append(path, access)
    }
    fn list(&self, path: &Path) -> io::Result<Vec<DirEntry>> {
        SystemFiles.list(path)
    }
    fn truncate(&self, path: &Path, len: u64) -> io::Result<()> {
        SystemFiles.truncate(path, len)
    }
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        SystemFiles.rename(from, to)
    }
    fn sync_dir(&self, path: &Path) -> io::Result<()> {
        SystemFiles.sync_dir(path)
    }
    fn create_dir(&self, path: &Path) -> io::Result<()> {
        SystemFiles.create_dir(path)
    }
    fn set_read_only(&self, path: &Path) -> io::Result<()> {
        SystemFiles.set_read_only(path)
    }
    fn remove(&self, path: &Path) -> io::Result<()> {
        SystemFiles.remove(path)
    }
    fn remove_dir(&self, path: &Path) -> io::Result<()> {
        SystemFiles.remove_dir(path)
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
    fn lock(&self, path: &Path) -> io::Result<Box<dyn std::any::Any + Send>> {
        SystemFiles.lock(path)
    }
}

struct Bench {
    _folder: tempfile::TempDir,
    root: PathBuf,
    notebook: Notebook,
    aircraft: crate::record::Digest,
    stop: Arc<Stop>,
    left: Arc<AtomicU64>,
}

impl Bench {
    fn new(seed: u64, photos: u8) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let root = folder.path().join("notebook");
        let stop = Arc::new(Stop::default());
        let left = Arc::new(AtomicU64::new(0));
        let asks = AsksAt {
            stop: stop.clone(),
            left: left.clone(),
        };
        let world = World {
            files: Arc::new(Stoppable::new(Arc::new(asks), stop.clone())),
            ..world(seed)
        };
        let key = KeySource::Seed([u8::try_from(seed).unwrap(); 32]);
        let mut notebook = Notebook::init(&root, world, "Invented", "owner", key).unwrap();
        let aircraft = notebook
            .add_aircraft("N0STP", "invented", None, "low_wing_fixed", false)
            .unwrap();
        let place = Place {
            aircraft: Some(aircraft),
            ..Place::default()
        };
        for n in 0..photos {
            notebook
                .take_photo_stream(&mut jpeg(n).as_slice(), "a.jpg", &place)
                .unwrap();
        }
        Self {
            _folder: folder,
            root,
            notebook,
            aircraft,
            stop,
            left,
        }
    }

    /// Runs one work that is asked to stop at its n-th file; whether it was asked in time.
    fn work<T>(&mut self, n: u64, work: impl FnOnce(&mut Notebook) -> T) -> (T, bool) {
        self.stop.begin();
        self.left.store(n, Ordering::SeqCst);
        let out = work(&mut self.notebook);
        self.left.store(0, Ordering::SeqCst);
        (out, self.stop.end())
    }

    fn still_keeps(&mut self, what: &str) {
        self.notebook.refresh().unwrap();
        let place = Place {
            aircraft: Some(self.aircraft),
            ..Place::default()
        };
        self.notebook.write_note(what, &place).unwrap();
        let report = self.notebook.verify().unwrap();
        assert!(!report.failed(), "{what}: {:?}", report.rows);
    }
}

fn beside(path: &Path) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(path)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn a_backup_or_pack_that_is_stopped_anywhere_leaves_nothing_beside_it() {
    for what in ["backup", "pack"] {
        let mut bench = Bench::new(3, 3);
        let outside = tempfile::tempdir().unwrap();
        let out = outside.path().join("out");
        let aircraft = bench.aircraft;
        let mut n = 1;
        loop {
            let (made, asked) = bench.work(n, |notebook| match what {
                "backup" => notebook.backup(&out).map(|_| ()),
                _ => {
                    let cut = notebook.cut(&aircraft, "handing_over", None)?;
                    let page = |_: &Notebook, _: &crate::record::Digest| Ok(String::new());
                    notebook
                        .pack(&aircraft, cut, Withhold::default(), &out, &page)
                        .map(|_| ())
                }
            });
            if made.is_ok() {
                // All of it, whether somebody asked at the last moment or not.
                assert_eq!(beside(outside.path()), ["out"], "{what} at {n}");
                assert!(!asked || n > 3, "{what} took no notice at {n}");
                break;
            }
            assert!(asked, "{what} failed on its own at {n}: {made:?}");
            assert!(beside(outside.path()).is_empty(), "{what} at {n}");
            n += 1;
        }
        assert!(n > 8, "{what} opened only {n} files");
        bench.still_keeps(what);
    }
}

#[test]
fn receiving_that_is_stopped_anywhere_is_whole_and_done_again_complete() {
    let giver = Bench::new(5, 3);
    let from = giver.root.clone();
    let mut n = 1;
    loop {
        let mut taker = Bench::new(6, 1);
        let (made, asked) = taker.work(n, |notebook| notebook.receive(&from, false));
        let whole = made.is_ok_and(|outcome| !outcome.refused);
        taker.still_keeps(&format!("stopped at {n}"));
        let again = taker.notebook.receive(&from, false).unwrap();
        assert!(!again.refused, "at {n}: {:?}", again.report.rows);
        assert_eq!(taker.notebook.aircraft_list().unwrap().len(), 2, "at {n}");
        taker.still_keeps(&format!("after {n}"));
        if whole && !asked {
            break;
        }
        assert!(asked, "failed on its own at {n}");
        n += 1;
        assert!(n < 1000, "it never ends");
    }
    assert!(n > 10, "it opened only {n} files");
}

#[test]
fn outside_a_long_work_nothing_is_held_up_and_the_count_is_of_what_was_read() {
    let mut bench = Bench::new(7, 2);
    bench.stop.ask();
    bench.still_keeps("nobody was running");
    let (report, asked) = bench.work(0, |notebook| notebook.verify().unwrap());
    assert!(!report.failed() && !asked);
    let (files, bytes) = bench.stop.come();
    assert!(files > 2 && bytes > 1000, "{files} files, {bytes} bytes");
    assert_eq!(Stop::stopped().kind, ErrorKind::Cancelled);
}
