//! Following the record: only what is new is read; a mismatch re-reads that chain alone.

use std::path::{Path, PathBuf};

use rusqlite::{OptionalExtension, Transaction, TransactionBehavior, params};

use super::{Index, sql};
use crate::error::{Error, Result};
use crate::record::kinds::{cites, zones};
use crate::record::{Digest, Line, chain};
use crate::world::Files;

/// Something odd in a chain file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Oddity {
    /// The last line is unfinished: so many bytes.
    Torn {
        /// Path below the notebook.
        file: String,
        /// Bytes after the last newline.
        bytes: u64,
    },
    /// A complete line that cannot be read.
    Damaged {
        /// Path below the notebook.
        file: String,
        /// Offset of the line in the file.
        offset: u64,
        /// Why.
        why: String,
    },
}

/// What following found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Followed {
    /// Lines added to the index.
    pub new_lines: usize,
    /// Chains read again from the start.
    pub reread: usize,
    /// Torn and damaged lines seen on the way.
    pub odd: Vec<Oddity>,
}

struct Known {
    length: u64,
    last_offset: u64,
    last_digest: Option<Digest>,
    lines: u64,
    damaged: u64,
}

/// Every chain file: path, and its name below `record/`.
pub fn chain_files(files: &dyn Files, root: &Path) -> Result<Vec<(PathBuf, String, u64)>> {
    let base = root.join("record");
    let mut out = Vec::new();
    if !files.has(&base)? {
        return Ok(out);
    }
    for folder in files
        .list(&base)
        .map_err(|error| Error::io(&error, base.display()))?
    {
        if !folder.is_dir {
            continue;
        }
        let path = base.join(&folder.name);
        for entry in files
            .list(&path)
            .map_err(|error| Error::io(&error, path.display()))?
        {
            if entry.is_file && entry.name.ends_with(".jsonl") {
                out.push((
                    path.join(&entry.name),
                    format!("{}/{}", folder.name, entry.name),
                    entry.len,
                ));
            }
        }
    }
    Ok(out)
}

impl Index {
    /// Brings the index up to the record.
    pub fn follow(&mut self, files: &dyn Files, root: &Path) -> Result<Followed> {
        let mut followed = Followed::default();
        let present = chain_files(files, root)?;
        let transaction = self
            .conn
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(sql)?;
        let gone: Vec<String> = {
            let mut statement = transaction
                .prepare_cached("SELECT file FROM chain")
                .map_err(sql)?;
            let names = statement
                .query_map([], |row| row.get::<_, String>(0))
                .map_err(sql)?;
            names
                .filter_map(std::result::Result::ok)
                .filter(|name| !present.iter().any(|(_, file, _)| file == name))
                .collect()
        };
        for file in gone {
            forget(&transaction, &file)?;
        }
        for (path, file, length) in &present {
            follow_chain(&transaction, files, path, file, *length, &mut followed)?;
        }
        transaction.commit().map_err(sql)?;
        Ok(followed)
    }

    /// `Some` if the index holds exactly what the chain files hold (their torn ends apart).
    pub(super) fn is_current(&self, files: &dyn Files, root: &Path) -> Result<Option<Followed>> {
        let present = chain_files(files, root)?;
        let known: i64 = self
            .conn
            .query_row("SELECT count(*) FROM chain", [], |row| row.get(0))
            .map_err(sql)?;
        if known != i64::try_from(present.len()).unwrap_or(i64::MAX) {
            return Ok(None);
        }
        let mut followed = Followed::default();
        for (path, file, length) in &present {
            let Some(known) = known_chain(&self.conn, file)? else {
                return Ok(None);
            };
            if known.length > *length || known.damaged > 0 || !last_line_holds(files, path, &known)?
            {
                return Ok(None);
            }
            if known.length < *length {
                let stretch = chain::read(files, path, known.length)?;
                if !stretch.lines.is_empty() || !stretch.damaged.is_empty() {
                    return Ok(None);
                }
                followed.odd.push(Oddity::Torn {
                    file: format!("record/{file}"),
                    bytes: stretch.torn,
                });
            }
        }
        Ok(Some(followed))
    }

    /// Every chain file that was followed: where its last line begins, where it ends, its digest.
    pub fn tails(&self) -> Result<Vec<(String, u64, u64, Digest)>> {
        let mut statement = self
            .conn
            .prepare_cached("SELECT file, last_offset, length, last_digest FROM chain WHERE last_digest IS NOT NULL ORDER BY file")
            .map_err(sql)?;
        let rows = statement
            .query_map([], |row| {
                Ok((
                    row.get::<_, String>(0)?,
                    row.get::<_, i64>(1)?.unsigned_abs(),
                    row.get::<_, i64>(2)?.unsigned_abs(),
                    Digest(row.get(3)?),
                ))
            })
            .map_err(sql)?;
        rows.map(|row| row.map_err(sql)).collect()
    }

    /// Adds one line that was just appended to its file at `offset`.
    pub fn add(&mut self, file: &str, offset: u64, line: &Line) -> Result<()> {
        let transaction = self
            .conn
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .map_err(sql)?;
        let known = known_chain(&transaction, file)?;
        let (lines, damaged) = known.map_or((0, 0), |known| (known.lines, known.damaged));
        let end = offset + line.bytes.len() as u64 + 1;
        remember(
            &transaction,
            file,
            end,
            offset,
            Some(line.digest),
            lines + 1,
            damaged,
        )?;
        insert(&transaction, file, line)?;
        transaction.commit().map_err(sql)
    }
}

fn follow_chain(
    transaction: &Transaction,
    files: &dyn Files,
    path: &Path,
    file: &str,
    length: u64,
    followed: &mut Followed,
) -> Result<()> {
    let known = known_chain(transaction, file)?;
    let (mut start, mut lines, mut damaged) = (0, 0, 0);
    let mut last = (0, None);
    match known {
        Some(known)
            if known.length <= length
                && known.damaged == 0
                && last_line_holds(files, path, &known)? =>
        {
            if known.length == length {
                return Ok(());
            }
            (start, lines, damaged) = (known.length, known.lines, known.damaged);
            last = (known.last_offset, known.last_digest);
        }
        Some(_) => {
            forget(transaction, file)?;
            followed.reread += 1;
        }
        None => {}
    }
    let stretch = chain::read(files, path, start)?;
    if let Some((offset, line)) = stretch.lines.last() {
        last = (*offset, Some(line.digest));
    }
    lines += stretch.lines.len() as u64;
    damaged += stretch.damaged.len() as u64;
    remember(
        transaction,
        file,
        stretch.end,
        last.0,
        last.1,
        lines,
        damaged,
    )?;
    for (_, line) in &stretch.lines {
        insert(transaction, file, line)?;
    }
    followed.new_lines += stretch.lines.len();
    for (offset, _, error) in stretch.damaged {
        followed.odd.push(Oddity::Damaged {
            file: format!("record/{file}"),
            offset,
            why: error.what,
        });
    }
    if stretch.torn > 0 {
        followed.odd.push(Oddity::Torn {
            file: format!("record/{file}"),
            bytes: stretch.torn,
        });
    }
    Ok(())
}

fn known_chain(conn: &rusqlite::Connection, file: &str) -> Result<Option<Known>> {
    conn.prepare_cached(
        "SELECT length, last_offset, last_digest, lines, damaged FROM chain WHERE file=?1",
    )
    .and_then(|mut statement| {
        statement
            .query_row([file], |row| {
                Ok(Known {
                    length: row.get::<_, i64>(0)?.unsigned_abs(),
                    last_offset: row.get::<_, i64>(1)?.unsigned_abs(),
                    last_digest: row
                        .get::<_, Option<Vec<u8>>>(2)?
                        .and_then(|bytes| Digest::from_slice(&bytes)),
                    lines: row.get::<_, i64>(3)?.unsigned_abs(),
                    damaged: row.get::<_, i64>(4)?.unsigned_abs(),
                })
            })
            .optional()
    })
    .map_err(sql)
}

fn last_line_holds(files: &dyn Files, path: &Path, known: &Known) -> Result<bool> {
    use std::io::{Read, Seek, SeekFrom};
    let Some(digest) = known.last_digest else {
        return Ok(known.length == 0);
    };
    let io = |error| Error::io(&error, path.display());
    let mut file = files.open(path).map_err(io)?;
    file.seek(SeekFrom::Start(known.last_offset)).map_err(io)?;
    let mut bytes = Vec::new();
    file.take(known.length.saturating_sub(known.last_offset))
        .read_to_end(&mut bytes)
        .map_err(io)?;
    Ok(bytes.pop() == Some(b'\n') && Digest::of(&bytes) == digest)
}

fn remember(
    conn: &rusqlite::Connection,
    file: &str,
    length: u64,
    last_offset: u64,
    last: Option<Digest>,
    lines: u64,
    damaged: u64,
) -> Result<()> {
    conn.prepare_cached(
        "INSERT INTO chain(file, length, last_offset, last_digest, lines, damaged) VALUES(?1,?2,?3,?4,?5,?6)
         ON CONFLICT(file) DO UPDATE SET length=?2, last_offset=?3, last_digest=?4, lines=?5, damaged=?6",
    )
    .and_then(|mut statement| {
        statement.execute(params![
            file,
            as_i64(length),
            as_i64(last_offset),
            last.map(|digest| digest.0.to_vec()),
            as_i64(lines),
            as_i64(damaged)
        ])
    })
    .map(|_| ())
    .map_err(sql)
}

fn forget(conn: &rusqlite::Connection, file: &str) -> Result<()> {
    conn.prepare_cached("DELETE FROM line WHERE file=?1")
        .and_then(|mut statement| statement.execute([file]))
        .map_err(sql)?;
    conn.prepare_cached("DELETE FROM chain WHERE file=?1")
        .and_then(|mut statement| statement.execute([file]))
        .map(|_| ())
        .map_err(sql)
}

fn as_i64(value: u64) -> i64 {
    i64::try_from(value).unwrap_or(i64::MAX)
}

fn insert(conn: &rusqlite::Connection, file: &str, line: &Line) -> Result<()> {
    let entry = &line.entry;
    // As stored, so that what a newer version wrote is followed as well.
    let body = line.body_json();
    let text = body.to_string();
    let added = conn
        .prepare_cached(
            "INSERT OR IGNORE INTO line(digest, file, aircraft, author, seq, prev, at, seen_time, seen_offset, seen_from, order_us, system_clock, newer, kind, body)
             VALUES(?1,?2,?3,?4,?5,?6,?7,?8,?9,?10,?11,?12,?13,?14,?15)",
        )
        .and_then(|mut statement| {
            statement.execute(params![
                line.digest.0,
                file,
                line.aircraft().0,
                entry.author.0,
                as_i64(entry.seq),
                entry.prev.0,
                entry.at.to_string(),
                entry.seen.time,
                entry.seen.offset,
                entry.seen.from,
                line.order_us(),
                entry.system_clock,
                line.newer,
                entry.body.kind(),
                text
            ])
        })
        .map_err(sql)?;
    if added == 0 {
        return Ok(());
    }
    let id = conn.last_insert_rowid();
    for (role, target) in cites(&body) {
        conn.prepare_cached("INSERT INTO cite(line, role, target) VALUES(?1,?2,?3)")
            .and_then(|mut statement| statement.execute(params![id, role, target.0]))
            .map_err(sql)?;
    }
    for code in zones(&body) {
        conn.prepare_cached("INSERT INTO zone(line, code) VALUES(?1,?2)")
            .and_then(|mut statement| statement.execute(params![id, code]))
            .map_err(sql)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests;
