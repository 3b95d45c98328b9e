//! The table as Parquet, a file a year and kind.

use super::rows::{LookRow, SightingRow};
use arrow_array::builder::{
    BooleanBuilder, Date32Builder, Float64Builder, Int32Builder, StringBuilder,
};
use arrow_array::{ArrayRef, RecordBatch};
use parquet::arrow::ArrowWriter;
use parquet::basic::{Compression, ZstdLevel};
use parquet::file::properties::WriterProperties;
use serde::Serialize;
use std::collections::BTreeMap;
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
}

/// Takes one finished file: name below the table's folder, bytes.
pub type Sink<'a> = dyn FnMut(&str, Vec<u8>) -> Result<()> + 'a;

/// Writes the table.
#[derive(Debug, Default)]
pub struct Table {
    sightings: BTreeMap<i32, Vec<SightingRow>>,
    looks: BTreeMap<i32, Vec<LookRow>>,
}

impl Table {
    /// Adds sightings. A date that cannot be read is refused with the row's finding.
    ///
    /// # Errors
    /// `BadValue`.
    pub fn sightings(&mut self, rows: impl IntoIterator<Item = SightingRow>) -> Result<()> {
        for row in rows {
            let year = year(&row.date, &row.finding)?;
            self.sightings.entry(year).or_default().push(row);
        }
        Ok(())
    }

    /// Adds looks.
    ///
    /// # Errors
    /// `BadValue`, as above.
    pub fn looks(&mut self, rows: impl IntoIterator<Item = LookRow>) -> Result<()> {
        for row in rows {
            let year = year(&row.date, &row.walkaround)?;
            self.looks.entry(year).or_default().push(row);
        }
        Ok(())
    }

    /// Hands every file to `sink`, in order of name. The same rows give the same bytes.
    ///
    /// # Errors
    /// Those of the encoder and of `sink`.
    pub fn write(self, sink: &mut Sink<'_>) -> Result<Written> {
        let mut written = Written::default();
        let mut out = |name: String, batch: RecordBatch| -> Result<()> {
            let bytes = encode(&batch)?;
            written.files += 1;
            written.bytes += bytes.len() as u64;
            sink(&name, bytes)
        };
        for (year, mut rows) in self.looks {
            written.looks += rows.len();
            rows.sort_by(|a, b| {
                (&a.kind, &a.aircraft, &a.zone, &a.date).cmp(&(
                    &b.kind,
                    &b.aircraft,
                    &b.zone,
                    &b.date,
                ))
            });
            out(
                format!("looks/year={year:04}/part.parquet"),
                look_batch(&rows)?,
            )?;
        }
        for (year, mut rows) in self.sightings {
            written.sightings += rows.len();
            // Rows of one kind of aircraft and one zone beside one another pack and filter best.
            rows.sort_by(|a, b| {
                (&a.kind, &a.zone, &a.aircraft, &a.finding, &a.date).cmp(&(
                    &b.kind,
                    &b.zone,
                    &b.aircraft,
                    &b.finding,
                    &b.date,
                ))
            });
            out(
                format!("sightings/year={year:04}/part.parquet"),
                sighting_batch(&rows)?,
            )?;
        }
        Ok(written)
    }
}

fn year(date: &str, whose: &str) -> Result<i32> {
    days(date)
        .and_then(|_| date.get(..4)?.parse().ok())
        .ok_or_else(|| {
            Error::new(ErrorKind::BadValue, format!("this is no date: {date}"))
                .at(whose)
                .hint("write the table again after witnessmark verify")
        })
}

/// Days since 1970-01-01 (proleptic Gregorian), of `YYYY-MM-DD`.
fn days(date: &str) -> Option<i32> {
    let mut parts = date.splitn(3, '-').map(|part| part.parse::<i32>().ok());
    let (y, m, d) = (parts.next()??, parts.next()??, parts.next()??);
    if !(1..=12).contains(&m) || !(1..=31).contains(&d) || !(1..=9999).contains(&y) {
        return None;
    }
    // Years from March, so that the day that comes and goes is the last (ordinal date arithmetic).
    let y = if m <= 2 { y - 1 } else { y };
    let era = y.div_euclid(400);
    let of_era = y.rem_euclid(400);
    let of_year = (153 * ((m + 9) % 12) + 2) / 5 + d - 1;
    Some(era * 146_097 + of_era * 365 + of_era / 4 - of_era / 100 + of_year - 719_468)
}

fn encode(batch: &RecordBatch) -> Result<Vec<u8>> {
    let wrong = |error: parquet::errors::ParquetError| {
        Error::new(
            ErrorKind::Io,
            format!("the table could not be written: {error}"),
        )
    };
    let properties = WriterProperties::builder()
        .set_compression(Compression::ZSTD(ZstdLevel::default()))
        .build();
    let mut bytes = Vec::new();
    let mut writer =
        ArrowWriter::try_new(&mut bytes, batch.schema(), Some(properties)).map_err(wrong)?;
    writer.write(batch).map_err(wrong)?;
    writer.close().map_err(wrong)?;
    Ok(bytes)
}

fn text<'a, R>(rows: &'a [R], of: impl Fn(&'a R) -> Option<&'a str>) -> ArrayRef {
    let mut column = StringBuilder::with_capacity(rows.len(), rows.len() * 8);
    rows.iter().for_each(|row| column.append_option(of(row)));
    Arc::new(column.finish())
}

fn real<R>(rows: &[R], of: impl Fn(&R) -> Option<f64>) -> ArrayRef {
    let mut column = Float64Builder::with_capacity(rows.len());
    rows.iter().for_each(|row| column.append_option(of(row)));
    Arc::new(column.finish())
}

fn date<'a, R>(rows: &'a [R], of: impl Fn(&'a R) -> &'a str) -> ArrayRef {
    let mut column = Date32Builder::with_capacity(rows.len());
    rows.iter()
        .for_each(|row| column.append_option(days(of(row))));
    Arc::new(column.finish())
}

fn truth<R>(rows: &[R], of: impl Fn(&R) -> bool) -> ArrayRef {
    let mut column = BooleanBuilder::with_capacity(rows.len());
    rows.iter().for_each(|row| column.append_value(of(row)));
    Arc::new(column.finish())
}

fn batch(columns: Vec<(&str, ArrayRef, bool)>) -> Result<RecordBatch> {
    RecordBatch::try_from_iter_with_nullable(columns).map_err(|error| {
        Error::new(
            ErrorKind::Io,
            format!("the table could not be made: {error}"),
        )
    })
}

fn sighting_batch(rows: &[SightingRow]) -> Result<RecordBatch> {
    let mut series = Int32Builder::with_capacity(rows.len());
    rows.iter().for_each(|row| series.append_value(row.series));
    batch(vec![
        ("aircraft", text(rows, |r| Some(&r.aircraft)), false),
        ("registration", text(rows, |r| Some(&r.registration)), false),
        ("type", text(rows, |r| Some(&r.kind)), false),
        ("zone", text(rows, |r| Some(&r.zone)), false),
        ("zone_name", text(rows, |r| Some(&r.zone_name)), false),
        ("condition", text(rows, |r| Some(&r.condition)), false),
        ("finding", text(rows, |r| Some(&r.finding)), false),
        ("date", date(rows, |r| &r.date), false),
        ("hours", real(rows, |r| r.hours), true),
        ("result", text(rows, |r| Some(&r.result)), false),
        ("value", real(rows, |r| r.value), true),
        ("u", real(rows, |r| r.u), true),
        ("unit", text(rows, |r| r.unit.as_deref()), true),
        ("series", Arc::new(series.finish()), false),
        ("open", truth(rows, |r| r.open), false),
        ("concern", text(rows, |r| r.concern.as_deref()), true),
        ("late", truth(rows, |r| r.late), false),
    ])
}

fn look_batch(rows: &[LookRow]) -> Result<RecordBatch> {
    batch(vec![
        ("aircraft", text(rows, |r| Some(&r.aircraft)), false),
        ("registration", text(rows, |r| Some(&r.registration)), false),
        ("type", text(rows, |r| Some(&r.kind)), false),
        ("walkaround", text(rows, |r| Some(&r.walkaround)), false),
        ("purpose", text(rows, |r| Some(&r.purpose)), false),
        ("date", date(rows, |r| &r.date), false),
        ("hours", real(rows, |r| r.hours), true),
        ("zone", text(rows, |r| Some(&r.zone)), false),
        ("zone_name", text(rows, |r| Some(&r.zone_name)), false),
        ("looked", text(rows, |r| Some(&r.looked)), false),
    ])
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::NaiveDate;

    /// Against chrono, every day of sixty years.
    #[test]
    fn days_are_those_of_the_calendar() {
        let epoch = NaiveDate::from_ymd_opt(1970, 1, 1).unwrap();
        for n in -3_700..22_000i64 {
            let day = epoch + chrono::Duration::days(n);
            assert_eq!(days(&day.format("%Y-%m-%d").to_string()), Some(n as i32));
        }
        for wrong in [
            "",
            "2025",
            "2025-13-01",
            "2025-00-01",
            "x-y-z",
            "2025-01-32",
        ] {
            assert_eq!(days(wrong), None, "{wrong}");
        }
    }

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
}
