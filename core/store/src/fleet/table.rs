//! The table as Parquet, a file a year and kind.
//!
//! Two million rows of text would be slow to sort and slow to build columns from, so every text that
//! recurs is a number from the moment its row comes in; the files of different years are then sorted
//! and written side by side.

use super::days::days;
use super::names::{Names, Texts};
use super::rows::{LookRow, SightingRow};
use super::write::{Sheet, batch, encode, keys, keys_or_none, reals};
use arrow_array::{Array, ArrayRef, BooleanArray, Date32Array, Int32Array, RecordBatch};
use serde::Serialize;
use std::borrow::Borrow;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use witnessmark_core::{Error, ErrorKind, Result};

/// What was written.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize)]
pub struct Written {
    /// Sightings.
    pub sightings: usize,
    /// Looks.
    pub looks: usize,
    /// Files.
    pub files: usize,
    /// Bytes of all files.
    pub bytes: u64,
    /// Years of an earlier table that this one has no rows of: removed from a folder, emptied in a store.
    pub stale: usize,
}

/// Takes one finished file: name below the table's folder, bytes.
pub type Sink<'a> = dyn FnMut(&str, Vec<u8>) -> Result<()> + 'a;

/// A sighting with numbers for its texts.
#[derive(Debug, Clone, Copy)]
struct Sighting {
    aircraft: u32,
    registration: u32,
    kind: u32,
    zone: u32,
    zone_name: u32,
    condition: u32,
    finding: u32,
    result: u32,
    quantity: Option<u32>,
    method: Option<u32>,
    unit: Option<u32>,
    unit_written: Option<u32>,
    concern: Option<u32>,
    date: i32,
    series: i32,
    hours: Option<f64>,
    value: Option<f64>,
    u: Option<f64>,
    value_written: Option<f64>,
    open: bool,
    late: bool,
}

/// A look with numbers for its texts.
#[derive(Debug, Clone, Copy)]
struct Look {
    aircraft: u32,
    registration: u32,
    kind: u32,
    walkaround: u32,
    purpose: u32,
    zone: u32,
    zone_name: u32,
    looked: u32,
    date: i32,
    hours: Option<f64>,
}

/// Writes the table.
#[derive(Debug, Default)]
pub struct Table {
    sightings: BTreeMap<i32, Vec<Sighting>>,
    looks: BTreeMap<i32, Vec<Look>>,
    aircraft: Names,
    registration: Names,
    kind: Names,
    zone: Names,
    zone_name: Names,
    condition: Names,
    finding: Names,
    result: Names,
    quantity: Names,
    method: Names,
    unit: Names,
    unit_written: Names,
    concern: Names,
    walkaround: Texts,
    purpose: Names,
    looked: Names,
}

impl Table {
    /// Adds sightings. A date that cannot be read is refused with the row's finding.
    ///
    /// # Errors
    /// `BadValue`.
    pub fn sightings<R: Borrow<SightingRow>>(
        &mut self,
        rows: impl IntoIterator<Item = R>,
    ) -> Result<()> {
        for row in rows {
            let row = row.borrow();
            let (year, date) = when(&row.date, &row.finding)?;
            let compact = Sighting {
                aircraft: self.aircraft.number(&row.aircraft),
                registration: self.registration.number(&row.registration),
                kind: self.kind.number(&row.kind),
                zone: self.zone.number(&row.zone),
                zone_name: self.zone_name.number(&row.zone_name),
                condition: self.condition.number(&row.condition),
                finding: self.finding.number(&row.finding),
                result: self.result.number(&row.result),
                quantity: row.quantity.as_deref().map(|one| self.quantity.number(one)),
                method: row.method.as_deref().map(|one| self.method.number(one)),
                unit: row.unit.as_deref().map(|unit| self.unit.number(unit)),
                unit_written: row
                    .unit_written
                    .as_deref()
                    .map(|unit| self.unit_written.number(unit)),
                concern: row.concern.as_deref().map(|one| self.concern.number(one)),
                date,
                series: row.series,
                hours: row.hours,
                value: row.value,
                u: row.u,
                value_written: row.value_written,
                open: row.open,
                late: row.late,
            };
            self.sightings.entry(year).or_default().push(compact);
        }
        Ok(())
    }

    /// Adds looks.
    ///
    /// # Errors
    /// `BadValue`, as above.
    pub fn looks<R: Borrow<LookRow>>(&mut self, rows: impl IntoIterator<Item = R>) -> Result<()> {
        for row in rows {
            let row = row.borrow();
            let (year, date) = when(&row.date, &row.walkaround)?;
            let compact = Look {
                aircraft: self.aircraft.number(&row.aircraft),
                registration: self.registration.number(&row.registration),
                kind: self.kind.number(&row.kind),
                walkaround: self.walkaround.add(&row.walkaround),
                purpose: self.purpose.number(&row.purpose),
                zone: self.zone.number(&row.zone),
                zone_name: self.zone_name.number(&row.zone_name),
                looked: self.looked.number(&row.looked),
                date,
                hours: row.hours,
            };
            self.looks.entry(year).or_default().push(compact);
        }
        Ok(())
    }

    /// Those of `there` that are files of an earlier table and not of this one.
    pub fn stale(&self, there: impl IntoIterator<Item = String>) -> Vec<String> {
        let kept: BTreeSet<String> = self
            .looks
            .keys()
            .map(|year| name("looks", *year))
            .chain(self.sightings.keys().map(|year| name("sightings", *year)))
            .collect();
        there
            .into_iter()
            .filter(|one| is_ours(one) && !kept.contains(one))
            .collect()
    }

    /// A file of no rows, with the columns of its kind: what a store gets in place of a stale file, where
    /// nobody may delete.
    ///
    /// # Errors
    /// Those of the encoder.
    pub fn empty(name: &str) -> Result<Vec<u8>> {
        let table = Self::default();
        let shared = Shared::of(&table);
        encode(&if name.starts_with("looks/") {
            shared.looks(Vec::new())?
        } else {
            shared.sightings(Vec::new())?
        })
    }

    /// Hands every file to `sink`, in order of name. The same rows give the same bytes.
    ///
    /// # Errors
    /// Those of the encoder and of `sink`.
    pub fn write(mut self, sink: &mut Sink<'_>) -> Result<Written> {
        let mut written = Written::default();
        let looks = std::mem::take(&mut self.looks);
        let sightings = std::mem::take(&mut self.sightings);
        let shared = Shared::of(&self);
        let mut sheets: Vec<Sheet<'_>> = Vec::new();
        for (year, rows) in looks {
            written.looks += rows.len();
            let shared = &shared;
            sheets.push(Sheet {
                name: name("looks", year),
                make: Box::new(move || encode(&shared.looks(rows)?)),
            });
        }
        for (year, rows) in sightings {
            written.sightings += rows.len();
            let shared = &shared;
            sheets.push(Sheet {
                name: name("sightings", year),
                make: Box::new(move || encode(&shared.sightings(rows)?)),
            });
        }
        super::write::side_by_side(sheets, &mut |name, bytes| {
            written.files += 1;
            written.bytes += bytes.len() as u64;
            sink(name, bytes)
        })?;
        Ok(written)
    }
}

/// A file of the table.
fn name(kind: &str, year: i32) -> String {
    format!("{kind}/year={year:04}/part.parquet")
}

/// True for a name that only a table has.
fn is_ours(one: &str) -> bool {
    let mut parts = one.split('/');
    let kind = parts.next().unwrap_or_default();
    let year = parts.next().and_then(|part| part.strip_prefix("year="));
    matches!(kind, "looks" | "sightings")
        && year.is_some_and(|year| year.len() == 4 && year.bytes().all(|b| b.is_ascii_digit()))
        && parts.next() == Some("part.parquet")
        && parts.next().is_none()
}

/// What every file needs: the texts of its columns and their alphabetical places.
struct Shared<'a> {
    table: &'a Table,
    kinds: Vec<u32>,
    zones: Vec<u32>,
    aircraft: Vec<u32>,
    findings: Vec<u32>,
    texts: BTreeMap<&'static str, ArrayRef>,
}

/// The place of a number; of one that no column has, the last.
fn place(places: &[u32], number: u32) -> u64 {
    u64::from(places.get(number as usize).copied().unwrap_or(u32::MAX))
}

impl<'a> Shared<'a> {
    fn of(table: &'a Table) -> Self {
        Self {
            kinds: table.kind.places(),
            zones: table.zone.places(),
            aircraft: table.aircraft.places(),
            findings: table.finding.places(),
            texts: BTreeMap::from([
                ("aircraft", table.aircraft.values()),
                ("registration", table.registration.values()),
                ("type", table.kind.values()),
                ("zone", table.zone.values()),
                ("zone_name", table.zone_name.values()),
                ("condition", table.condition.values()),
                ("result", table.result.values()),
                ("quantity", table.quantity.values()),
                ("method", table.method.values()),
                ("unit", table.unit.values()),
                ("unit_written", table.unit_written.values()),
                ("concern", table.concern.values()),
                ("purpose", table.purpose.values()),
                ("looked", table.looked.values()),
            ]),
            table,
        }
    }

    /// A column of one of the texts above.
    fn text<R>(
        &self,
        name: &'static str,
        rows: &[R],
        of: impl Fn(&R) -> u32,
    ) -> Result<(&'static str, ArrayRef, bool)> {
        Ok((name, keys(self.values(name)?, rows.iter().map(of))?, false))
    }

    fn text_or_none<R>(
        &self,
        name: &'static str,
        rows: &[R],
        of: impl Fn(&R) -> Option<u32>,
    ) -> Result<(&'static str, ArrayRef, bool)> {
        let column = keys_or_none(self.values(name)?, rows.iter().map(of))?;
        Ok((name, column, true))
    }

    fn values(&self, name: &str) -> Result<ArrayRef> {
        self.texts
            .get(name)
            .cloned()
            .ok_or_else(|| Error::new(ErrorKind::Unknown, format!("there is no column {name}")))
    }

    fn sightings(&self, rows: Vec<Sighting>) -> Result<RecordBatch> {
        // Rows of one type and zone beside one another pack and filter best.
        let rows = sorted(rows, |row| {
            (
                place(&self.kinds, row.kind) << 32 | place(&self.zones, row.zone),
                place(&self.aircraft, row.aircraft) << 32 | place(&self.findings, row.finding),
                row.date,
            )
        });
        let rows = rows.as_slice();
        let findings = self
            .table
            .finding
            .written_out(rows.iter().map(|r| r.finding));
        batch(vec![
            self.text("aircraft", rows, |r| r.aircraft)?,
            self.text("registration", rows, |r| r.registration)?,
            self.text("type", rows, |r| r.kind)?,
            self.text("zone", rows, |r| r.zone)?,
            self.text("zone_name", rows, |r| r.zone_name)?,
            self.text("condition", rows, |r| r.condition)?,
            ("finding", findings, false),
            ("date", dates(rows, |r| r.date), false),
            ("hours", reals(rows, |r| r.hours), true),
            self.text("result", rows, |r| r.result)?,
            self.text_or_none("quantity", rows, |r| r.quantity)?,
            self.text_or_none("method", rows, |r| r.method)?,
            ("value", reals(rows, |r| r.value), true),
            ("u", reals(rows, |r| r.u), true),
            self.text_or_none("unit", rows, |r| r.unit)?,
            ("value_written", reals(rows, |r| r.value_written), true),
            self.text_or_none("unit_written", rows, |r| r.unit_written)?,
            (
                "series",
                Arc::new(Int32Array::from_iter_values(rows.iter().map(|r| r.series))),
                false,
            ),
            ("open", truths(rows, |r| r.open), false),
            self.text_or_none("concern", rows, |r| r.concern)?,
            ("late", truths(rows, |r| r.late), false),
        ])
    }

    fn looks(&self, rows: Vec<Look>) -> Result<RecordBatch> {
        let rows = sorted(rows, |row| {
            (
                place(&self.kinds, row.kind) << 32 | place(&self.aircraft, row.aircraft),
                place(&self.zones, row.zone),
                row.date,
            )
        });
        let rows = rows.as_slice();
        let walkarounds = self
            .table
            .walkaround
            .written_out(rows.iter().map(|r| r.walkaround));
        batch(vec![
            self.text("aircraft", rows, |r| r.aircraft)?,
            self.text("registration", rows, |r| r.registration)?,
            self.text("type", rows, |r| r.kind)?,
            ("walkaround", walkarounds, false),
            self.text("purpose", rows, |r| r.purpose)?,
            ("date", dates(rows, |r| r.date), false),
            ("hours", reals(rows, |r| r.hours), true),
            self.text("zone", rows, |r| r.zone)?,
            self.text("zone_name", rows, |r| r.zone_name)?,
            self.text("looked", rows, |r| r.looked)?,
        ])
    }
}

/// Rows in the order of their keys, those with equal keys as they came.
fn sorted<R: Copy>(rows: Vec<R>, key: impl Fn(&R) -> (u64, u64, i32)) -> Vec<R> {
    // Sorting small keys and moving each row once is quicker than moving rows while sorting.
    let mut order: Vec<(u64, u64, i32, u32)> = rows
        .iter()
        .enumerate()
        .map(|(at, row)| {
            let (first, second, date) = key(row);
            (first, second, date, at as u32)
        })
        .collect();
    order.sort_unstable();
    order
        .into_iter()
        .filter_map(|(_, _, _, at)| rows.get(at as usize).copied())
        .collect()
}

fn dates<R>(rows: &[R], of: impl Fn(&R) -> i32) -> ArrayRef {
    let column: Arc<dyn Array> = Arc::new(Date32Array::from_iter_values(rows.iter().map(of)));
    column
}

fn truths<R>(rows: &[R], of: impl Fn(&R) -> bool) -> ArrayRef {
    Arc::new(BooleanArray::from_iter(
        rows.iter().map(|row| Some(of(row))),
    ))
}

/// Year and day of a date.
fn when(date: &str, whose: &str) -> Result<(i32, i32)> {
    days(date)
        .and_then(|day| Some((date.get(..4)?.parse().ok()?, day)))
        .ok_or_else(|| {
            Error::new(ErrorKind::BadValue, format!("this is no date: {date}"))
                .at(whose)
                .hint("write the table again after witnessmark verify")
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_row_without_a_date_is_refused_by_name() {
        let mut table = Table::default();
        let error = table
            .sightings([SightingRow {
                finding: "abc".to_owned(),
                date: "yesterday".to_owned(),
                ..SightingRow::default()
            }])
            .unwrap_err();
        assert!(error.to_string().contains("yesterday") && error.to_string().contains("abc"));
    }

    fn row(kind: &str, zone: &str, finding: &str, date: &str) -> SightingRow {
        SightingRow {
            kind: kind.to_owned(),
            zone: zone.to_owned(),
            finding: finding.to_owned(),
            date: date.to_owned(),
            ..SightingRow::default()
        }
    }

    /// The order is that of the texts, whatever order they came in, and so are the bytes.
    #[test]
    fn the_same_rows_in_any_order_give_the_same_files() {
        let rows = [
            row("b", "2", "x", "2024-02-01"),
            row("a", "9", "y", "2024-01-01"),
            row("b", "10", "z", "2025-01-01"),
            row("a", "10", "x", "2024-03-01"),
            row("b", "2", "x", "2024-01-01"),
        ];
        let write = |rows: &[SightingRow]| {
            let mut files = Vec::new();
            let mut table = Table::default();
            table.sightings(rows).unwrap();
            table
                .write(&mut |name, bytes| {
                    files.push((name.to_owned(), bytes));
                    Ok(())
                })
                .unwrap();
            files
        };
        let first = write(&rows);
        assert_eq!(first.len(), 2);
        assert!(first[0].0 < first[1].0);
        let mut turned = rows.to_vec();
        for _ in 0..rows.len() {
            turned.rotate_left(1);
            assert!(write(&turned) == first);
        }
    }

    /// What a sink says is said, and nothing waits for it.
    #[test]
    fn a_sink_that_fails_ends_the_writing() {
        let mut table = Table::default();
        for year in 1990..2020 {
            table
                .sightings([row("a", "1", "x", &format!("{year}-01-01"))])
                .unwrap();
        }
        let mut calls = 0;
        let error = table
            .write(&mut |name, _| {
                calls += 1;
                Err(Error::new(ErrorKind::Io, "the disk is full").at(name))
            })
            .unwrap_err();
        assert_eq!((calls, error.what.as_str()), (1, "the disk is full"));
    }
}
