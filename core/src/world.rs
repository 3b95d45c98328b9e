//! Clock, randomness and file system, handed in so that tests own them.

use std::io::{self, Read, Seek, Write};
use std::path::{Path, PathBuf};

use chrono::{DateTime, FixedOffset};

/// A clock.
pub trait Clock: Send + Sync {
    /// Now, with the offset of the place.
    fn now(&self) -> DateTime<FixedOffset>;
    /// True for the machine's own clock; false for one handed in by a person or a test, which is
    /// shown wherever an entry made with it appears.
    fn is_system(&self) -> bool;
}

/// A source of random bytes.
pub trait Entropy: Send + Sync {
    /// Fills the slice; an error is a failure of the machine.
    fn fill(&self, bytes: &mut [u8]) -> io::Result<()>;
}

/// A file open for reading.
pub trait ReadFile: Read + Seek + Send {}
impl<T: Read + Seek + Send> ReadFile for T {}

/// A file open for writing.
pub trait WriteFile: Write + Send {
    /// Waits until the bytes are on the medium.
    fn sync(&mut self) -> io::Result<()>;
}

/// What a folder holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DirEntry {
    /// Name within the folder.
    pub name: String,
    /// True for a folder.
    pub is_dir: bool,
    /// True for a plain file (neither folder, link nor device).
    pub is_file: bool,
    /// Length in bytes of a plain file.
    pub len: u64,
}

/// Who may read a file that is created.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Access {
    /// Its owner alone (keys, slips): 0600.
    Owner,
    /// As the system's mask allows: 0644.
    Usual,
}

/// The file system. Every change to a notebook but the index's own files goes through this, so that
/// a test can fail, count or replay each step.
pub trait Files: Send + Sync {
    /// Opens for reading.
    fn open(&self, path: &Path) -> io::Result<Box<dyn ReadFile>>;
    /// Creates a file that must not exist.
    fn create_new(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>>;
    /// Opens for appending, creating it where absent.
    fn append(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>>;
    /// Cuts a file to `len` bytes and syncs it.
    fn truncate(&self, path: &Path, len: u64) -> io::Result<()>;
    /// Renames within one file system, replacing the target.
    fn rename(&self, from: &Path, to: &Path) -> io::Result<()>;
    /// Makes a folder's own entries durable.
    fn sync_dir(&self, path: &Path) -> io::Result<()>;
    /// Creates one folder; its name is not durable until the folder above it is synced.
    fn create_dir(&self, path: &Path) -> io::Result<()>;
    /// Takes away everybody's right to write.
    fn set_read_only(&self, path: &Path) -> io::Result<()>;
    /// Removes a file.
    fn remove(&self, path: &Path) -> io::Result<()>;
    /// Removes an empty folder.
    fn remove_dir(&self, path: &Path) -> io::Result<()>;
    /// Lists a folder, sorted by name; links are neither followed nor files.
    fn list(&self, path: &Path) -> io::Result<Vec<DirEntry>>;
    /// Length of a plain file; an error for anything else.
    fn len(&self, path: &Path) -> io::Result<u64>;
    /// True if anything has this name. That the system could not say is an error and never "no": what
    /// stands on the answer would take a record for a new one.
    fn exists(&self, path: &Path) -> io::Result<bool>;
    /// True if others than the owner may read it.
    fn readable_by_others(&self, path: &Path) -> io::Result<bool>;
    /// Takes the one writer's lock, held until dropped; `WouldBlock` if another holds it.
    fn lock(&self, path: &Path) -> io::Result<Box<dyn std::any::Any + Send>>;

    /// [`Files::exists`] with the core's own error, which names the file.
    ///
    /// # Errors
    /// Those of the machine.
    fn has(&self, path: &Path) -> Result<bool, crate::Error> {
        self.exists(path)
            .map_err(|error| crate::Error::io(&error, path.display()))
    }

    /// Creates a folder and those above it, and makes their names durable: a synced file in a folder
    /// whose own name is lost is lost with it.
    fn create_dirs(&self, path: &Path) -> io::Result<()> {
        if path.as_os_str().is_empty() || self.list(path).is_ok() {
            return Ok(());
        }
        let above = match path.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent,
            _ => Path::new("."),
        };
        self.create_dirs(above)?;
        match self.create_dir(path) {
            Err(error) if error.kind() != io::ErrorKind::AlreadyExists => Err(error),
            _ => self.sync_dir(above),
        }
    }

    /// Reads a whole file of at most `limit` bytes. A failure of the medium is tried once more.
    fn read(&self, path: &Path, limit: u64) -> io::Result<Vec<u8>> {
        let once = || -> io::Result<Vec<u8>> {
            let mut bytes = Vec::new();
            self.open(path)?
                .take(limit.saturating_add(1))
                .read_to_end(&mut bytes)?;
            Ok(bytes)
        };
        let bytes = match once() {
            Err(error) if error.kind() != io::ErrorKind::NotFound => once()?,
            other => other?,
        };
        if bytes.len() as u64 > limit {
            return Err(io::Error::new(
                io::ErrorKind::FileTooLarge,
                "larger than allowed here",
            ));
        }
        Ok(bytes)
    }

    /// Writes a small file so that a crash leaves either the old or the new one.
    fn replace(&self, path: &Path, bytes: &[u8], access: Access) -> io::Result<()> {
        let mut name = path.file_name().unwrap_or_default().to_os_string();
        name.push(".new");
        let temporary = path.with_file_name(name);
        if self.exists(&temporary)? {
            self.remove(&temporary)?;
        }
        let mut file = self.create_new(&temporary, access)?;
        file.write_all(bytes)?;
        file.sync()?;
        drop(file);
        self.rename(&temporary, path)?;
        match path.parent() {
            // A bare name lies in the current folder.
            Some(parent) if parent.as_os_str().is_empty() => self.sync_dir(Path::new(".")),
            Some(parent) => self.sync_dir(parent),
            None => Ok(()),
        }
    }
}

/// The three together.
#[derive(Clone)]
pub struct World {
    /// Clock.
    pub clock: std::sync::Arc<dyn Clock>,
    /// Randomness.
    pub entropy: std::sync::Arc<dyn Entropy>,
    /// File system.
    pub files: std::sync::Arc<dyn Files>,
}

/// The machine's own clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> DateTime<FixedOffset> {
        chrono::Local::now().fixed_offset()
    }
    fn is_system(&self) -> bool {
        true
    }
}

/// A clock set by hand, which can be moved.
#[derive(Debug)]
pub struct GivenClock(std::sync::Mutex<DateTime<FixedOffset>>);

impl GivenClock {
    /// A clock that stands at `time`.
    pub fn new(time: DateTime<FixedOffset>) -> Self {
        Self(std::sync::Mutex::new(time))
    }

    /// Sets it.
    pub fn set(&self, time: DateTime<FixedOffset>) {
        *self
            .0
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner) = time;
    }
}

impl Clock for GivenClock {
    fn now(&self) -> DateTime<FixedOffset> {
        *self
            .0
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
    }
    fn is_system(&self) -> bool {
        false
    }
}

/// Repeatable bytes for tests and the demo: SHA-256 over seed and counter.
#[derive(Debug)]
pub struct SeededEntropy {
    seed: u64,
    counter: std::sync::atomic::AtomicU64,
}

impl SeededEntropy {
    /// Starts a stream.
    pub fn new(seed: u64) -> Self {
        Self {
            seed,
            counter: std::sync::atomic::AtomicU64::new(0),
        }
    }
}

impl Entropy for SeededEntropy {
    fn fill(&self, bytes: &mut [u8]) -> io::Result<()> {
        use sha2::{Digest, Sha256};
        for chunk in bytes.chunks_mut(32) {
            let n = self
                .counter
                .fetch_add(1, std::sync::atomic::Ordering::Relaxed);
            let mut hash = Sha256::new();
            hash.update(b"witnessmark seeded entropy");
            hash.update(self.seed.to_le_bytes());
            hash.update(n.to_le_bytes());
            let block = hash.finalize();
            chunk.copy_from_slice(&block[..chunk.len()]);
        }
        Ok(())
    }
}

/// The machine's file system.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemFiles;

struct SystemWrite(std::fs::File);

impl Write for SystemWrite {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }
    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

impl WriteFile for SystemWrite {
    fn sync(&mut self) -> io::Result<()> {
        self.0.sync_all()
    }
}

fn options(access: Access) -> std::fs::OpenOptions {
    let mut options = std::fs::OpenOptions::new();
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(match access {
            Access::Owner => 0o600,
            Access::Usual => 0o644,
        });
    }
    #[cfg(not(unix))]
    let _ = access;
    options
}

impl Files for SystemFiles {
    fn open(&self, path: &Path) -> io::Result<Box<dyn ReadFile>> {
        let file = std::fs::File::open(path)?;
        let meta = file.metadata()?;
        if meta.is_dir() {
            return Err(io::Error::from(io::ErrorKind::IsADirectory));
        }
        if !meta.is_file() {
            return Err(io::Error::new(
                io::ErrorKind::InvalidInput,
                "not a plain file",
            ));
        }
        Ok(Box::new(file))
    }

    fn create_new(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>> {
        Ok(Box::new(SystemWrite(
            options(access).write(true).create_new(true).open(path)?,
        )))
    }

    fn append(&self, path: &Path, access: Access) -> io::Result<Box<dyn WriteFile>> {
        Ok(Box::new(SystemWrite(
            options(access).append(true).create(true).open(path)?,
        )))
    }

    fn truncate(&self, path: &Path, len: u64) -> io::Result<()> {
        let file = std::fs::OpenOptions::new().write(true).open(path)?;
        file.set_len(len)?;
        file.sync_all()
    }

    fn rename(&self, from: &Path, to: &Path) -> io::Result<()> {
        std::fs::rename(from, to)
    }

    fn sync_dir(&self, path: &Path) -> io::Result<()> {
        #[cfg(unix)]
        std::fs::File::open(path)?.sync_all()?;
        #[cfg(not(unix))]
        let _ = path;
        Ok(())
    }

    fn create_dir(&self, path: &Path) -> io::Result<()> {
        std::fs::create_dir(path)
    }

    fn set_read_only(&self, path: &Path) -> io::Result<()> {
        let mut permissions = std::fs::metadata(path)?.permissions();
        permissions.set_readonly(true);
        std::fs::set_permissions(path, permissions)
    }

    fn remove(&self, path: &Path) -> io::Result<()> {
        std::fs::remove_file(path)
    }

    fn remove_dir(&self, path: &Path) -> io::Result<()> {
        std::fs::remove_dir(path)
    }

    fn list(&self, path: &Path) -> io::Result<Vec<DirEntry>> {
        let mut entries = Vec::new();
        for entry in std::fs::read_dir(path)? {
            let entry = entry?;
            let kind = entry.file_type()?;
            let len = if kind.is_file() {
                entry.metadata()?.len()
            } else {
                0
            };
            entries.push(DirEntry {
                name: entry.file_name().to_string_lossy().into_owned(),
                is_dir: kind.is_dir(),
                is_file: kind.is_file(),
                len,
            });
        }
        entries.sort_by(|a, b| a.name.cmp(&b.name));
        Ok(entries)
    }

    fn len(&self, path: &Path) -> io::Result<u64> {
        let meta = std::fs::symlink_metadata(path)?;
        if meta.is_file() {
            Ok(meta.len())
        } else if meta.is_dir() {
            Err(io::Error::from(io::ErrorKind::IsADirectory))
        } else {
            Err(io::Error::new(
                io::ErrorKind::InvalidInput,
                "not a plain file",
            ))
        }
    }

    fn exists(&self, path: &Path) -> io::Result<bool> {
        match std::fs::symlink_metadata(path) {
            Ok(_) => Ok(true),
            // A file where a folder is asked for holds nothing either.
            Err(error)
                if matches!(
                    error.kind(),
                    io::ErrorKind::NotFound | io::ErrorKind::NotADirectory
                ) =>
            {
                Ok(false)
            }
            Err(error) => Err(error),
        }
    }

    fn readable_by_others(&self, path: &Path) -> io::Result<bool> {
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            Ok(std::fs::metadata(path)?.permissions().mode() & 0o077 != 0)
        }
        #[cfg(not(unix))]
        {
            let _ = path;
            Ok(false)
        }
    }

    fn lock(&self, path: &Path) -> io::Result<Box<dyn std::any::Any + Send>> {
        let file = options(Access::Usual)
            .write(true)
            .create(true)
            .truncate(false)
            .open(path)?;
        match file.try_lock() {
            Ok(()) => Ok(Box::new(file)),
            Err(std::fs::TryLockError::WouldBlock) => {
                Err(io::Error::from(io::ErrorKind::WouldBlock))
            }
            Err(std::fs::TryLockError::Error(error)) => Err(error),
        }
    }
}

/// Joins below a root; a convenience that keeps call sites short.
pub(crate) fn below(root: &Path, parts: &[&str]) -> PathBuf {
    let mut path = root.to_path_buf();
    for part in parts {
        path.push(part);
    }
    path
}
