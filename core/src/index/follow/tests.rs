//! That only new lines are read, and that a mismatch re-reads one chain: read off a file system that
//! notes how much was read of what.

use super::*;
use crate::pack::testing::{Author, owner};
use crate::world::{Access, DirEntry, Files, ReadFile, SystemFiles, WriteFile};
use std::collections::BTreeMap;
use std::io::{self, Read, Seek, SeekFrom};
use std::sync::{Arc, Mutex};

type Amounts = Arc<Mutex<BTreeMap<String, u64>>>;

/// Bytes read, by file name.
#[derive(Default)]
struct Noting(Amounts);

struct Noted(Box<dyn ReadFile>, String, Amounts);

impl Read for Noted {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let n = self.0.read(buffer)?;
        *self.2.lock().unwrap().entry(self.1.clone()).or_default() += n as u64;
        Ok(n)
    }
}

impl Seek for Noted {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.0.seek(to)
    }
}

impl Noting {
    fn taken(&self) -> BTreeMap<String, u64> {
        std::mem::take(&mut *self.0.lock().unwrap())
    }
}

impl Files for Noting {
    fn open(&self, path: &Path) -> io::Result<Box<dyn ReadFile>> {
        let name = path.file_name().unwrap().to_string_lossy().into_owned();
        let file = SystemFiles.open(path)?;
        Ok(Box::new(Noted(file, name, self.0.clone())))
    }
    fn create_new(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>> {
        SystemFiles.create_new(path, access)
    }
    fn append(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>> {
        SystemFiles.append(path, access)
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
    fn lock(&self, path: &Path) -> io::Result<Box<dyn std::any::Any + Send>> {
        SystemFiles.lock(path)
    }
}

#[test]
fn only_new_lines_are_read_and_a_mismatch_rereads_that_chain_alone() {
    let folder = tempfile::tempdir().unwrap();
    let (mut author, _) = owner(folder.path());
    let mut other = Author::open(2, author.aircraft, folder.path());
    for _ in 0..20 {
        let walkaround = other.start();
        other.finish(walkaround);
    }
    let theirs = other.save(folder.path());
    let mine = author.save(folder.path());
    let name = |path: &str| path.rsplit('/').next().unwrap().to_owned();
    let (mine, theirs) = (name(&mine), name(&theirs));
    let files = Noting::default();
    let mut index = Index::memory().unwrap();
    let all = index.follow(&files, folder.path()).unwrap();
    assert_eq!(all.new_lines, author.lines.len() + other.lines.len());
    files.taken();

    // Nothing new: of each chain its last line, to see that it still stands.
    let last = |author: &Author| author.lines.last().unwrap().bytes.len() as u64 + 1;
    let followed = index.follow(&files, folder.path()).unwrap();
    assert_eq!((followed.new_lines, followed.reread), (0, 0));
    let near = |read: Option<&u64>, bytes: u64| read.is_some_and(|n| n.abs_diff(bytes) <= 1);
    let read = files.taken();
    assert!(near(read.get(&mine), last(&author)), "{read:?}");
    assert!(near(read.get(&theirs), last(&other)), "{read:?}");

    // One line more: that line, and the last before it.
    let before = last(&author);
    author.start();
    author.save(folder.path());
    let followed = index.follow(&files, folder.path()).unwrap();
    assert_eq!((followed.new_lines, followed.reread), (1, 0));
    let read = files.taken();
    assert!(near(read.get(&mine), before + last(&author)), "{read:?}");
    assert!(near(read.get(&theirs), last(&other)), "{read:?}");

    // The last line is another: the whole of that chain, of the other still one line.
    let mut entry = author.lines.pop().unwrap().entry;
    entry.at = "2026-05-03T12:00:00+02:00".parse().unwrap();
    author.lines.push(entry.sign(&author.signer).unwrap());
    author.save(folder.path());
    let followed = index.follow(&files, folder.path()).unwrap();
    assert_eq!(followed.reread, 1);
    assert_eq!(followed.new_lines, author.lines.len());
    let read = files.taken();
    let whole: u64 = author
        .lines
        .iter()
        .map(|line| line.bytes.len() as u64 + 1)
        .sum();
    assert!(near(read.get(&theirs), last(&other)), "{read:?}");
    assert!(read[&mine] >= whole && read[&mine] <= whole + last(&author) + 1);
    let newest = author.lines.last().unwrap().digest;
    assert!(index.line(&newest).unwrap().is_some());
}
