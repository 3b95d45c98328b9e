//! Questions to the index. All answers are rows of lines; their meaning is worked out elsewhere.

use rusqlite::{OptionalExtension, Row as SqlRow, params};

use super::{Index, sql};
use crate::error::{Error, ErrorKind, Result};
use crate::record::{At, Body, Digest, Seen};

/// One line as the index holds it.
#[derive(Debug, Clone, PartialEq)]
pub struct Row {
    /// Its digest.
    pub digest: Digest,
    /// Aircraft id.
    pub aircraft: Digest,
    /// Author key.
    pub author: Digest,
    /// Place in the chain.
    pub seq: u64,
    /// When written.
    pub at: At,
    /// When observed.
    pub seen: Seen,
    /// First key of every order, microseconds since 1970 UTC.
    pub order_us: i64,
    /// False for a given clock.
    pub system_clock: bool,
    /// It has something this program does not know.
    pub newer: bool,
    /// What it says.
    pub body: Body,
}

/// The end of a chain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ChainTail {
    /// Last number.
    pub seq: u64,
    /// Digest of the last line.
    pub digest: Digest,
}

const COLUMNS: &str = "line.digest, aircraft, author, seq, at, seen_time, seen_offset, seen_from, order_us, system_clock, newer, kind, body";
const ORDER: &str = "ORDER BY order_us, author, seq, line.digest";

impl Index {
    fn rows(&self, condition: &str, values: impl rusqlite::Params) -> Result<Vec<Row>> {
        let text = format!("SELECT {COLUMNS} FROM line WHERE {condition} {ORDER}");
        let mut statement = self.conn.prepare_cached(&text).map_err(sql)?;
        let mut found = statement.query(values).map_err(sql)?;
        let mut out = Vec::new();
        while let Some(row) = found.next().map_err(sql)? {
            out.push(read(row)?);
        }
        Ok(out)
    }

    /// Every line about an aircraft, in order.
    pub fn aircraft_lines(&self, aircraft: &Digest) -> Result<Vec<Row>> {
        self.rows("aircraft=?1", params![aircraft.0])
    }

    /// What bears on one zone: lines that name it, everything that hangs on those through
    /// citations, corrections of any of them, and the frame (walkarounds, descriptions, authors).
    pub fn zone_lines(&self, aircraft: &Digest, zone: &str) -> Result<Vec<Row>> {
        self.rows(
            "id IN (
               WITH RECURSIVE part(id, digest) AS (
                 SELECT line.id, line.digest FROM zone JOIN line ON line.id=zone.line WHERE zone.code=?2 AND line.aircraft=?1
                 UNION
                 SELECT line.id, line.digest FROM part JOIN cite ON cite.target=part.digest
                   JOIN line ON line.id=cite.line WHERE line.aircraft=?1
               )
               SELECT id FROM part
               UNION SELECT other.id FROM part JOIN cite ON cite.line=part.id AND cite.role IN ('evidence','what','photo','other','finding')
                 JOIN line AS other ON other.digest=cite.target
               UNION SELECT id FROM line WHERE aircraft=?1 AND kind IN
                 ('chain opened','aircraft described','layout chosen','walkaround started','walkaround finished','event','meter fitted','meter read','retracted','amended')
             )",
            params![aircraft.0, zone],
        )
    }

    /// Loose captures: those before an aircraft was known.
    pub fn loose_lines(&self) -> Result<Vec<Row>> {
        self.rows("aircraft=?1", params![Digest::ZERO.0])
    }

    /// Aircraft ids in the record.
    pub fn aircraft_ids(&self) -> Result<Vec<Digest>> {
        let mut statement = self
            .conn
            .prepare_cached(
                "SELECT DISTINCT aircraft FROM line WHERE aircraft<>?1 ORDER BY aircraft",
            )
            .map_err(sql)?;
        let ids = statement
            .query_map(params![Digest::ZERO.0], |row| row.get::<_, [u8; 32]>(0))
            .map_err(sql)?;
        ids.map(|id| id.map(Digest).map_err(sql)).collect()
    }

    /// Lines of some kinds about an aircraft.
    pub fn kind_lines(&self, aircraft: &Digest, kind: &str) -> Result<Vec<Row>> {
        self.rows("aircraft=?1 AND kind=?2", params![aircraft.0, kind])
    }

    /// One author's walkarounds that no line in force has finished, in order. Retractions and
    /// amendments are settled by the caller, who gets them too.
    pub fn open_walkaround_lines(&self, aircraft: &Digest, author: &Digest) -> Result<Vec<Row>> {
        self.rows(
            "id IN (
               WITH open(id, digest) AS (
                 SELECT start.id, start.digest FROM line AS start
                 WHERE start.aircraft=?1 AND start.kind='walkaround started' AND start.author=?2
                   AND NOT EXISTS (
                     SELECT 1 FROM cite JOIN line AS finish ON finish.id=cite.line
                     WHERE cite.target=start.digest AND cite.role='walkaround'
                       AND finish.kind='walkaround finished'
                       AND NOT EXISTS (SELECT 1 FROM cite AS back WHERE back.target=finish.digest AND back.role='entry'))
               )
               SELECT id FROM open
               UNION
               SELECT cite.line FROM open JOIN cite ON cite.target=open.digest WHERE cite.role IN ('entry','source','walkaround')
                 AND EXISTS (SELECT 1 FROM line WHERE line.id=cite.line AND line.kind IN ('retracted','amended','walkaround finished'))
               UNION
               SELECT undo.line FROM open JOIN cite ON cite.target=open.digest AND cite.role='entry'
                 JOIN line AS first ON first.id=cite.line JOIN cite AS undo ON undo.target=first.digest AND undo.role='entry'
               UNION
               SELECT back.line FROM open JOIN cite ON cite.target=open.digest AND cite.role='walkaround'
                 JOIN line AS finish ON finish.id=cite.line AND finish.kind='walkaround finished'
                 JOIN cite AS back ON back.target=finish.digest AND back.role='entry'
               UNION
               SELECT again.line FROM open JOIN cite ON cite.target=open.digest AND cite.role='walkaround'
                 JOIN line AS finish ON finish.id=cite.line AND finish.kind='walkaround finished'
                 JOIN cite AS back ON back.target=finish.digest AND back.role='entry'
                 JOIN line AS undone ON undone.id=back.line
                 JOIN cite AS again ON again.target=undone.digest AND again.role='entry'
             )",
            params![aircraft.0, author.0],
        )
    }

    /// One author's lines about an aircraft, by number.
    pub fn chain_lines(&self, aircraft: &Digest, author: &Digest) -> Result<Vec<Row>> {
        let mut rows = self.rows("aircraft=?1 AND author=?2", params![aircraft.0, author.0])?;
        rows.sort_by(|a, b| a.seq.cmp(&b.seq).then(a.digest.cmp(&b.digest)));
        Ok(rows)
    }

    /// The end of the chain in a file below `record/`.
    pub fn tail(&self, file: &str) -> Result<Option<ChainTail>> {
        self.conn
            .prepare_cached("SELECT line.seq, line.digest FROM chain JOIN line ON line.digest=chain.last_digest WHERE chain.file=?1")
            .and_then(|mut statement| {
                statement
                    .query_row([file], |row| Ok(ChainTail { seq: row.get::<_, i64>(0)?.unsigned_abs(), digest: Digest(row.get(1)?) }))
                    .optional()
            })
            .map_err(sql)
    }

    /// Bytes of a chain file that the index has followed.
    pub fn chain_length(&self, file: &str) -> Result<u64> {
        self.conn
            .prepare_cached("SELECT length FROM chain WHERE file=?1")
            .and_then(|mut statement| {
                statement
                    .query_row([file], |row| row.get::<_, i64>(0))
                    .optional()
            })
            .map(|length| length.unwrap_or(0).unsigned_abs())
            .map_err(sql)
    }

    /// One line by its whole digest.
    pub fn line(&self, digest: &Digest) -> Result<Option<Row>> {
        Ok(self
            .rows("line.digest=?1", params![digest.0])?
            .into_iter()
            .next())
    }

    /// Lines whose digest begins with hexadecimal digits, of given kinds (all where empty).
    pub fn by_prefix(&self, prefix: &str, kinds: &[&str]) -> Result<Vec<Row>> {
        let clean = prefix.to_ascii_lowercase();
        if clean.is_empty() || clean.len() > 64 || !clean.bytes().all(|b| b.is_ascii_hexdigit()) {
            return Ok(Vec::new());
        }
        // A range of the index, not a look at every line.
        let bound = |fill: char| {
            let text: String = clean
                .chars()
                .chain(std::iter::repeat(fill))
                .take(64)
                .collect();
            text.parse::<Digest>()
        };
        let (Ok(low), Ok(high)) = (bound('0'), bound('f')) else {
            return Ok(Vec::new());
        };
        let rows = self.rows("line.digest BETWEEN ?1 AND ?2", params![low.0, high.0])?;
        Ok(rows
            .into_iter()
            .filter(|row| kinds.is_empty() || kinds.contains(&row.body.kind()))
            .collect())
    }

    /// Lines that cite a digest under a role (any role where empty).
    pub fn citing(&self, target: &Digest, role: &str) -> Result<Vec<Row>> {
        self.rows(
            "id IN (SELECT line FROM cite WHERE target=?1 AND (?2='' OR role=?2))",
            params![target.0, role],
        )
    }

    /// Every file digest that lines cite as evidence, with a citing line.
    pub fn files(&self) -> Result<Vec<(Digest, Digest)>> {
        let mut statement = self
            .conn
            .prepare_cached("SELECT cite.target, line.digest FROM cite JOIN line ON line.id=cite.line WHERE cite.role IN ('file','conditions') ORDER BY 1,2")
            .map_err(sql)?;
        let found = statement
            .query_map([], |row| Ok((Digest(row.get(0)?), Digest(row.get(1)?))))
            .map_err(sql)?;
        found.map(|pair| pair.map_err(sql)).collect()
    }

    /// Number of lines in all.
    pub fn count(&self) -> Result<u64> {
        self.conn
            .query_row("SELECT count(*) FROM line", [], |row| row.get::<_, i64>(0))
            .map(i64::unsigned_abs)
            .map_err(sql)
    }
}

fn read(row: &SqlRow) -> Result<Row> {
    let kind: String = row.get(11).map_err(sql)?;
    let body: String = row.get(12).map_err(sql)?;
    let odd = |what: String| {
        Error::new(ErrorKind::Damaged, what)
            .at("index.sqlite")
            .hint("have the index made anew: witnessmark index rebuild")
    };
    // What a newer version wrote was found out when the line was followed, and is in its own column.
    let body = Body::from_text(&kind, &body).map_err(|error| odd(error.what))?;
    let at: String = row.get(4).map_err(sql)?;
    Ok(Row {
        digest: Digest(row.get(0).map_err(sql)?),
        aircraft: Digest(row.get(1).map_err(sql)?),
        author: Digest(row.get(2).map_err(sql)?),
        seq: row.get::<_, i64>(3).map_err(sql)?.unsigned_abs(),
        at: at.parse()?,
        seen: Seen {
            time: row.get(5).map_err(sql)?,
            offset: row.get(6).map_err(sql)?,
            from: row.get(7).map_err(sql)?,
        },
        order_us: row.get(8).map_err(sql)?,
        system_clock: row.get(9).map_err(sql)?,
        newer: row.get(10).map_err(sql)?,
        body,
    })
}
