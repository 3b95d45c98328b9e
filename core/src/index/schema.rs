//! Pragmas, tables, versions.
//!
//! | pragma | value | why |
//! | --- | --- | --- |
//! | `journal_mode` | WAL | readers work beside the one writer |
//! | `synchronous` | NORMAL | a lost last transaction is followed again from the record |
//! | `temp_store` | MEMORY | Android has no temporary folder for SQLite (SQLITE_IOERR_GETTEMPPATH) |
//! | `busy_timeout` | 5000 ms | a reader's checkpoint may hold the file for a moment |
//! | `journal_size_limit` | 4 MiB | the log does not grow without bound on a phone |
//! | `foreign_keys` | ON | rows beside a line go with it |
//! | `cell_size_check` | ON | a damaged page is found before it is believed |
//! | `trusted_schema` | OFF | the file may have been handled by others |

use rusqlite::Connection;

use super::sql;
use crate::error::{Error, ErrorKind, Result};

/// Version of the tables below; another version is set aside and rebuilt, since nothing in an
/// index is precious.
pub const VERSION: i64 = 1;

const MIGRATIONS: &[&str] = &["
CREATE TABLE chain(
  file TEXT PRIMARY KEY,      -- path below record/
  length INTEGER NOT NULL,    -- bytes followed
  last_offset INTEGER NOT NULL, -- where the last line begins
  last_digest BLOB,           -- its digest
  lines INTEGER NOT NULL,
  damaged INTEGER NOT NULL) STRICT;
CREATE TABLE line(
  id INTEGER PRIMARY KEY,
  digest BLOB NOT NULL UNIQUE,
  file TEXT NOT NULL REFERENCES chain(file) ON DELETE CASCADE DEFERRABLE INITIALLY DEFERRED,
  aircraft BLOB NOT NULL,
  author BLOB NOT NULL,
  seq INTEGER NOT NULL,
  prev BLOB NOT NULL,
  at TEXT NOT NULL,
  seen_time TEXT NOT NULL, seen_offset TEXT, seen_from TEXT NOT NULL,
  order_us INTEGER NOT NULL,
  system_clock INTEGER NOT NULL,
  newer INTEGER NOT NULL,
  kind TEXT NOT NULL,
  body TEXT NOT NULL) STRICT;
CREATE INDEX line_aircraft ON line(aircraft, order_us);
CREATE INDEX line_chain ON line(aircraft, author, seq);
CREATE INDEX line_kind ON line(aircraft, kind);
CREATE INDEX line_file ON line(file);
CREATE TABLE cite(
  line INTEGER NOT NULL REFERENCES line(id) ON DELETE CASCADE,
  role TEXT NOT NULL,
  target BLOB NOT NULL) STRICT;
CREATE INDEX cite_target ON cite(target, role);
CREATE INDEX cite_line ON cite(line);
CREATE TABLE zone(
  line INTEGER NOT NULL REFERENCES line(id) ON DELETE CASCADE,
  code TEXT NOT NULL) STRICT;
CREATE INDEX zone_code ON zone(code, line);
CREATE INDEX zone_line ON zone(line);
"];

/// Sets the pragmas and brings the tables to [`VERSION`]; all upgrades in one transaction.
pub fn prepare(conn: &Connection, may_write: bool) -> Result<()> {
    conn.busy_timeout(std::time::Duration::from_millis(5000))
        .map_err(sql)?;
    conn.execute_batch("PRAGMA temp_store=MEMORY; PRAGMA foreign_keys=ON; PRAGMA cell_size_check=ON; PRAGMA trusted_schema=OFF;")
        .map_err(sql)?;
    let version: i64 = conn
        .query_row("PRAGMA user_version", [], |row| row.get(0))
        .map_err(sql)?;
    if version == VERSION {
        if may_write {
            conn.execute_batch("PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA journal_size_limit=4194304;").map_err(sql)?;
        }
        return Ok(());
    }
    if version > VERSION || !may_write {
        return Err(
            Error::new(ErrorKind::Newer, "the index is of another version")
                .at("index.sqlite")
                .hint("it is made anew"),
        );
    }
    conn.execute_batch(
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA journal_size_limit=4194304;",
    )
    .map_err(sql)?;
    let mut upgrade = String::from("BEGIN IMMEDIATE;");
    let done = usize::try_from(version).unwrap_or(0);
    for step in MIGRATIONS.iter().skip(done) {
        upgrade.push_str(step);
    }
    upgrade.push_str(&format!("PRAGMA user_version={VERSION}; COMMIT;"));
    conn.execute_batch(&upgrade).map_err(sql)
}

/// Empties every table.
pub fn clear(conn: &Connection) -> Result<()> {
    conn.execute_batch("BEGIN IMMEDIATE; DELETE FROM zone; DELETE FROM cite; DELETE FROM line; DELETE FROM chain; COMMIT;").map_err(sql)
}
