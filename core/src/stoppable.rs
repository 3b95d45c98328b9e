//! Long work that somebody may stop: a file system that opens nothing more once it was asked to.
//!
//! Every long call (check, pack, backup, receive, exchange) opens file after file, so this is where it
//! can stop without each of its loops knowing about it. What is open is finished, renamed, synced and
//! cleaned up as ever: to the record a stop is a kill between two files, which it survives
//! (`tests/faults`), and not a new kind of failure. Outside a long call nothing is ever held up: a
//! photo is kept whatever was asked before.

use std::io;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use crate::error::{Error, ErrorKind};
use crate::world::{Access, DirEntry, Files, ReadFile, WriteFile};

/// How far a long work has come, and whether it was asked to stop.
#[derive(Debug, Default)]
pub struct Stop {
    running: AtomicBool,
    asked: AtomicBool,
    files: AtomicU64,
    bytes: AtomicU64,
}

impl Stop {
    /// Begins a long work: counts from nothing, asked by nobody.
    pub fn begin(&self) {
        self.asked.store(false, Ordering::SeqCst);
        self.files.store(0, Ordering::SeqCst);
        self.bytes.store(0, Ordering::SeqCst);
        self.running.store(true, Ordering::SeqCst);
    }

    /// Ends it; true if it was asked to stop.
    pub fn end(&self) -> bool {
        self.running.store(false, Ordering::SeqCst);
        self.asked.swap(false, Ordering::SeqCst)
    }

    /// Asks the running work to stop. Without one, nothing happens.
    pub fn ask(&self) {
        if self.running.load(Ordering::SeqCst) {
            self.asked.store(true, Ordering::SeqCst);
        }
    }

    /// Files opened for reading, and bytes read, since the work began.
    pub fn come(&self) -> (u64, u64) {
        (
            self.files.load(Ordering::SeqCst),
            self.bytes.load(Ordering::SeqCst),
        )
    }

    /// What a work that was stopped answers.
    pub fn stopped() -> Error {
        Error::new(ErrorKind::Cancelled, "stopped before it was finished")
            .hint("do it again when there is time: what had come in by then is whole, nothing else was kept")
    }

    /// A reader that counts and can be stopped as well, for what comes from outside the file system.
    pub fn watch<R: io::Read>(self: &Arc<Self>, inner: R) -> impl io::Read {
        Counted {
            inner,
            stop: self.clone(),
        }
    }

    fn check(&self) -> io::Result<()> {
        if self.running.load(Ordering::SeqCst) && self.asked.load(Ordering::SeqCst) {
            return Err(io::Error::other("stopped by the person"));
        }
        Ok(())
    }
}

/// A file system under a [`Stop`].
pub struct Stoppable {
    inner: Arc<dyn Files>,
    stop: Arc<Stop>,
}

impl Stoppable {
    /// The same files, which can be told to open no more.
    pub fn new(inner: Arc<dyn Files>, stop: Arc<Stop>) -> Self {
        Self { inner, stop }
    }
}

struct Counted<R> {
    inner: R,
    stop: Arc<Stop>,
}

impl<R: io::Read> io::Read for Counted<R> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        self.stop.check()?;
        let n = self.inner.read(into)?;
        self.stop.bytes.fetch_add(n as u64, Ordering::SeqCst);
        Ok(n)
    }
}

impl<R: io::Seek> io::Seek for Counted<R> {
    fn seek(&mut self, to: io::SeekFrom) -> io::Result<u64> {
        self.inner.seek(to)
    }
}

impl Files for Stoppable {
    fn open(&self, path: &Path) -> io::Result<Box<dyn ReadFile>> {
        self.stop.check()?;
        let inner = self.inner.open(path)?;
        self.stop.files.fetch_add(1, Ordering::SeqCst);
        Ok(Box::new(Counted {
            inner,
            stop: self.stop.clone(),
        }))
    }
    fn create_new(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>> {
        self.stop.check()?;
        self.inner.create_new(path, access)
    }
    fn append(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>> {
        self.stop.check()?;
        self.inner.append(path, access)
    }
    fn list(&self, path: &Path) -> io::Result<Vec<DirEntry>> {
        // Cleaning up lists as well, so this is never held up.
        self.inner.list(path)
    }
    fn truncate(&self, path: &Path, len: u64) -> io::Result<()> {
        self.inner.truncate(path, len)
    }
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        self.inner.rename(from, to)
    }
    fn sync_dir(&self, path: &Path) -> io::Result<()> {
        self.inner.sync_dir(path)
    }
    fn create_dir(&self, path: &Path) -> io::Result<()> {
        self.inner.create_dir(path)
    }
    fn set_read_only(&self, path: &Path) -> io::Result<()> {
        self.inner.set_read_only(path)
    }
    fn remove(&self, path: &Path) -> io::Result<()> {
        self.inner.remove(path)
    }
    fn remove_dir(&self, path: &Path) -> io::Result<()> {
        self.inner.remove_dir(path)
    }
    fn len(&self, path: &Path) -> io::Result<u64> {
        self.inner.len(path)
    }
    fn exists(&self, path: &Path) -> io::Result<bool> {
        self.inner.exists(path)
    }
    fn readable_by_others(&self, path: &Path) -> io::Result<bool> {
        self.inner.readable_by_others(path)
    }
    fn lock(&self, path: &Path) -> io::Result<Box<dyn std::any::Any + Send>> {
        self.inner.lock(path)
    }
}

#[cfg(test)]
mod tests;
