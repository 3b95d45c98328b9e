//! SQLite over the record: derived, rebuildable, never the truth.
//!
//! Every line of every chain file is one row, with the digests and zones that it names beside it.
//! Nothing is decided here: what holds, what was amended, what belongs together is worked out by
//! [`crate::history`] from the lines, so that two indexes over the same set of lines, in whatever
//! order they were written, give the same answers.

mod follow;
mod query;
mod schema;

use std::path::Path;

use rusqlite::{Connection, OpenFlags};

pub use follow::{Followed, Oddity, chain_files};
pub use query::{ChainTail, Row};

use crate::error::{Error, ErrorKind, Result};
use crate::world::Files;

/// The index: a file beside the record, or in memory where that file cannot be used.
pub struct Index {
    conn: Connection,
    in_memory: bool,
}

pub(crate) fn sql(error: rusqlite::Error) -> Error {
    use rusqlite::ErrorCode as C;
    let kind = match error.sqlite_error_code() {
        Some(C::DiskFull) => ErrorKind::DiskFull,
        Some(C::DatabaseBusy | C::DatabaseLocked) => ErrorKind::Busy,
        Some(C::ReadOnly | C::PermissionDenied | C::CannotOpen) => ErrorKind::NoPermission,
        _ => ErrorKind::Io,
    };
    let remedy = match kind {
        ErrorKind::DiskFull => "the record is not touched by this; free some space and do it again",
        ErrorKind::Busy => "wait until the other program is done, and do it again",
        ErrorKind::NoPermission => "check who owns the folder and whether it may be written",
        _ => {
            "the record is not touched by this; have the index made anew: witnessmark index rebuild"
        }
    };
    Error::new(kind, format!("the index reported: {error}"))
        .at("index.sqlite")
        .hint(remedy)
}

impl Index {
    /// For the one writer: opens or makes the file, moves a damaged or newer one aside together
    /// with its `-wal` and `-shm`, and follows the record.
    pub fn open_writer(files: &dyn Files, root: &Path) -> Result<(Self, Followed)> {
        let path = root.join("index.sqlite");
        let attempt = |path: &Path| -> Result<(Self, Followed)> {
            let conn = Connection::open(path).map_err(sql)?;
            schema::prepare(&conn, true)?;
            let mut index = Self {
                conn,
                in_memory: false,
            };
            let followed = index.follow(files, root)?;
            Ok((index, followed))
        };
        let no_room =
            |error: &Error| matches!(error.kind, ErrorKind::DiskFull | ErrorKind::NoPermission);
        match attempt(&path) {
            Ok(done) => return Ok(done),
            Err(error) if no_room(&error) => {}
            // SQLite calls a full disk an I/O error where it meets one in its shared memory, so what looks
            // damaged may only lack room.
            Err(_) => match set_aside(files, &path).and_then(|()| attempt(&path)) {
                Ok(done) => return Ok(done),
                Err(error) if no_room(&error) || error.kind == ErrorKind::Io => {}
                Err(error) => return Err(error),
            },
        }
        // The record can still be read and, once there is room, written.
        let mut index = Self::memory()?;
        let followed = index.follow(files, root)?;
        Ok((index, followed))
    }

    /// For readers beside a writer: the file if it is current, else an index in memory.
    pub fn open_reader(files: &dyn Files, root: &Path) -> Result<(Self, Followed)> {
        let path = root.join("index.sqlite");
        if files.has(&path)? {
            let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
            let usable = Connection::open_with_flags(&path, flags)
                .map_err(sql)
                .and_then(|conn| {
                    schema::prepare(&conn, false)?;
                    Ok(Self {
                        conn,
                        in_memory: false,
                    })
                })
                .and_then(|index| Ok((index.is_current(files, root)?, index)));
            if let Ok((Some(followed), index)) = usable {
                return Ok((index, followed));
            }
        }
        let mut index = Self::memory()?;
        let followed = index.follow(files, root)?;
        Ok((index, followed))
    }

    /// An empty index in memory.
    pub fn memory() -> Result<Self> {
        let conn = Connection::open_in_memory().map_err(sql)?;
        schema::prepare(&conn, true)?;
        Ok(Self {
            conn,
            in_memory: true,
        })
    }

    /// Forgets everything and follows the record from the start.
    pub fn rebuild(&mut self, files: &dyn Files, root: &Path) -> Result<Followed> {
        match schema::clear(&self.conn).and_then(|()| self.follow(files, root)) {
            Ok(followed) => Ok(followed),
            // A file so damaged that it cannot even be emptied gives way to a new one.
            Err(_) if !self.in_memory => {
                let damaged = std::mem::replace(self, Self::memory()?);
                drop(damaged);
                set_aside(files, &root.join("index.sqlite"))?;
                let (fresh, followed) = Self::open_writer(files, root)?;
                *self = fresh;
                Ok(followed)
            }
            Err(error) => Err(error),
        }
    }

    /// True if nothing of it is kept on disk.
    pub fn is_in_memory(&self) -> bool {
        self.in_memory
    }

    /// Writes the log back into the file and closes it.
    pub fn close(self) -> Result<()> {
        if !self.in_memory {
            // A failure here costs nothing but a longer next opening.
            let _ = self
                .conn
                .query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()));
        }
        self.conn.close().map_err(|(_, error)| sql(error))
    }
}

fn set_aside(files: &dyn Files, path: &Path) -> Result<()> {
    for ending in ["", "-wal", "-shm"] {
        let mut name = path.as_os_str().to_os_string();
        name.push(ending);
        let from = Path::new(&name);
        if files.has(from)? {
            let mut target = path.as_os_str().to_os_string();
            target.push(".aside");
            target.push(ending);
            files
                .rename(from, Path::new(&target))
                .map_err(|error| Error::io(&error, from.display()))?;
        }
    }
    Ok(())
}
