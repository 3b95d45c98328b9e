//! A series of readings from a table (CSV) of paper records: read whole, checked, or refused with
//! the line.
//!
//! Columns `date,hours,landings,value,unit,u,method,place` in any order, only `value` is required;
//! cells may be empty, other columns are ignored. Rows are in order of time.

use chrono::{DateTime, NaiveDate, NaiveDateTime};

use crate::error::{Error, ErrorKind, Result};
use crate::quantity::{Dimension, Rational, Unit};

/// Largest file.
pub const MOST_BYTES: usize = 1024 * 1024;
/// Most rows (the trend looks at every pair).
pub const MOST_ROWS: usize = super::trend::MOST_POINTS;
/// Longest cell, in bytes.
pub const LONGEST_CELL: usize = 200;
/// Longest length that is believed, in millimetres: no light aircraft is 50 m long.
const LONGEST_MM: i64 = 50_000;
/// Largest figure of any other kind.
const LARGEST: i64 = 1_000_000_000;

/// What growth is counted against.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Axis {
    /// Hours of one meter.
    Hours,
    /// Landings.
    Landings,
    /// Days of the calendar.
    Days,
}

impl Axis {
    /// The word in options and JSON.
    pub fn word(self) -> &'static str {
        match self {
            Self::Hours => "hours",
            Self::Landings => "landings",
            Self::Days => "days",
        }
    }
}

/// One data row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Row {
    /// Days since 1970-01-01, with the time of day as fraction.
    pub days: Option<f64>,
    /// Hours of the meter.
    pub hours: Option<Rational>,
    /// Landings.
    pub landings: Option<Rational>,
    /// The value, exact; `None` for a row without one.
    pub value: Option<Rational>,
    /// Unit by its symbol.
    pub unit: Option<String>,
    /// Standard uncertainty in the same unit.
    pub u: Option<f64>,
    /// How it was measured.
    pub method: Option<String>,
    /// Where.
    pub place: Option<String>,
}

impl Row {
    /// The row's position on an axis.
    pub fn on(&self, axis: Axis) -> Option<f64> {
        match axis {
            Axis::Hours => self.hours.map(|h| h.to_f64()),
            Axis::Landings => self.landings.map(|l| l.to_f64()),
            Axis::Days => self.days,
        }
    }
}

/// Reads the table. Errors name the line of the file (the header is line 1): too large, not UTF-8,
/// no `value` column, a cell that cannot be read, a negative or absurd figure, rows out of order.
pub fn read(bytes: &[u8]) -> Result<Vec<Row>> {
    if bytes.len() > MOST_BYTES {
        return Err(Error::new(
            ErrorKind::TooLarge,
            format!(
                "the table has {} bytes; at most {MOST_BYTES} are read",
                bytes.len()
            ),
        )
        .hint("keep one finding to a file"));
    }
    let text = std::str::from_utf8(bytes).map_err(|error| {
        let line = 1 + bytes
            .get(..error.valid_up_to())
            .map_or(0, |good| good.iter().filter(|b| **b == b'\n').count());
        Error::new(ErrorKind::BadFormat, "the table is not UTF-8 text")
            .at(format!("line {line}"))
            .hint("save it as CSV in UTF-8")
    })?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let head = text.lines().next().unwrap_or("");
    let separator = [b',', b';', b'\t']
        .into_iter()
        .max_by_key(|s| (head.bytes().filter(|b| b == s).count(), *s == b','))
        .unwrap_or(b',');
    let mut reader = csv::ReaderBuilder::new()
        .delimiter(separator)
        .has_headers(false)
        .flexible(true)
        .trim(csv::Trim::All)
        .from_reader(text.as_bytes());
    let mut columns: Option<Vec<Option<Column>>> = None;
    let mut rows: Vec<Row> = Vec::new();
    let mut latest = Latest::default();
    for record in reader.records() {
        let record = record.map_err(|error| {
            let line = line_of(text, error.position());
            Error::new(ErrorKind::BadFormat, "the table cannot be read as CSV")
                .at(format!("line {line}"))
                .hint("check quotes and separators")
        })?;
        // Counted only when something is wrong.
        let line = || line_of(text, record.position());
        let Some(columns) = &columns else {
            columns = Some(header(&record)?);
            continue;
        };
        if record.iter().all(str::is_empty) {
            // A blank line at the end of a spreadsheet is not a reading.
            continue;
        }
        if rows.len() == MOST_ROWS {
            return Err(Error::new(
                ErrorKind::TooLarge,
                format!("the table has more than {MOST_ROWS} rows"),
            )
            .at(format!("line {}", line()))
            .hint("keep one finding to a file"));
        }
        if record.len() > columns.len() {
            return Err(Error::new(
                ErrorKind::BadFormat,
                format!("{} cells under {} columns", record.len(), columns.len()),
            )
            .at(format!("line {}", line()))
            .hint("a decimal comma splits a number in two: write 2.25"));
        }
        let row = row(columns, &record).map_err(|error| on_line(error, line()))?;
        latest.check(&row).map_err(|error| on_line(error, line()))?;
        rows.push(row);
    }
    if rows.is_empty() {
        return Err(
            Error::new(ErrorKind::BadFormat, "the table holds no readings").hint(
                "the first line names the columns: date,hours,landings,value,unit,u,method,place",
            ),
        );
    }
    Ok(rows)
}

/// The line of the file, from 1, on which a record starts. The reader's own count is one short
/// after `\r\n` and blank lines, because it stops before the end of a line is complete.
fn line_of(text: &str, position: Option<&csv::Position>) -> usize {
    let bytes = text.as_bytes();
    let mut at = position
        .and_then(|p| usize::try_from(p.byte()).ok())
        .unwrap_or(0);
    while matches!(bytes.get(at), Some(b'\r' | b'\n')) {
        at += 1;
    }
    1 + bytes
        .get(..at)
        .map_or(0, |before| before.iter().filter(|b| **b == b'\n').count())
}

fn on_line(error: Error, line: usize) -> Error {
    let place = if error.place.is_empty() {
        format!("line {line}")
    } else {
        format!("line {line}, {}", error.place)
    };
    error.at(place)
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Column {
    Date,
    Hours,
    Landings,
    Value,
    Unit,
    U,
    Method,
    Place,
}

const COLUMNS: [(&str, Column); 8] = [
    ("date", Column::Date),
    ("hours", Column::Hours),
    ("landings", Column::Landings),
    ("value", Column::Value),
    ("unit", Column::Unit),
    ("u", Column::U),
    ("method", Column::Method),
    ("place", Column::Place),
];

fn header(record: &csv::StringRecord) -> Result<Vec<Option<Column>>> {
    let mut found: Vec<Option<Column>> = Vec::new();
    for name in record {
        let lower = name.to_lowercase();
        let column = COLUMNS.iter().find(|c| c.0 == lower).map(|c| c.1);
        if column.is_some() && found.contains(&column) {
            return Err(Error::new(
                ErrorKind::BadFormat,
                format!("the column \"{lower}\" is there twice"),
            )
            .at("line 1")
            .hint("name one of them otherwise"));
        }
        found.push(column);
    }
    if !found.contains(&Some(Column::Value)) {
        return Err(
            Error::new(ErrorKind::BadFormat, "the table has no column \"value\"")
                .at("line 1")
                .hint("name the columns in the first line: date,hours,landings,value,unit,u,method,place"),
        );
    }
    Ok(found)
}

fn row(columns: &[Option<Column>], record: &csv::StringRecord) -> Result<Row> {
    let mut row = Row::default();
    for (column, cell) in columns.iter().zip(record) {
        let Some(column) = column else { continue };
        if cell.is_empty() {
            continue;
        }
        let name = COLUMNS.iter().find(|c| c.1 == *column).map_or("", |c| c.0);
        if cell.len() > LONGEST_CELL {
            return Err(Error::new(
                ErrorKind::TooLarge,
                format!("a cell has more than {LONGEST_CELL} bytes"),
            )
            .at(name));
        }
        let figure = || {
            number(cell)
                .map_err(|error| error.at(name))
                .and_then(|figure| {
                    if figure.is_negative() {
                        return Err(Error::new(
                        ErrorKind::BadValue,
                        format!("{cell} is negative"),
                    )
                    .at(name)
                    .hint("a size, an uncertainty or a meter is not below zero: check the sign"));
                    }
                    if figure > Rational::whole(LARGEST) {
                        return Err(absurd(cell).at(name));
                    }
                    Ok(figure)
                })
        };
        match column {
            Column::Date => row.days = Some(date(cell)?),
            Column::Hours => row.hours = Some(figure()?),
            Column::Landings => row.landings = Some(figure()?),
            Column::Value => row.value = Some(figure()?),
            Column::U => row.u = Some(figure()?.to_f64()),
            Column::Unit => {
                let unit: Unit = cell.parse().map_err(|error: Error| error.at(name))?;
                row.unit = Some(unit.symbol().to_owned());
            }
            Column::Method => row.method = Some(cell.to_owned()),
            Column::Place => row.place = Some(cell.to_owned()),
        }
    }
    let too_long = row
        .unit
        .as_deref()
        .and_then(|unit| unit.parse::<Unit>().ok())
        .filter(|unit| unit.dimension() == Dimension::Length)
        .zip(row.value)
        .and_then(|(unit, value)| unit.convert(&value, Unit::Millimetre).ok())
        .is_some_and(|length| length > Rational::whole(LONGEST_MM));
    if too_long {
        return Err(absurd("a length of more than 50 m").at("value"));
    }
    Ok(row)
}

fn absurd(cell: &str) -> Error {
    Error::new(ErrorKind::BadValue, format!("{cell} cannot be right"))
        .hint("check the figure and its unit")
}

/// A figure as people (`2 1/4`, `2.25`) and programs (`5e-05`) write it, exact.
pub(crate) fn number(cell: &str) -> Result<Rational> {
    if let Some((mantissa, power)) = cell.split_once(['e', 'E'])
        && let (Ok(mantissa), Ok(power)) = (mantissa.parse::<Rational>(), power.parse::<i32>())
        && power.abs() <= 15
    {
        let ten = Rational::whole(10_i64.pow(power.unsigned_abs()));
        let figure = if power < 0 {
            mantissa.div(&ten)
        } else {
            mantissa.mul(&ten)
        };
        return figure.ok_or_else(|| absurd(cell));
    }
    cell.strip_prefix('+').unwrap_or(cell).parse()
}

/// Days since 1970-01-01 of a date, or of a date with a time. An offset is left aside: the place's
/// own calendar counts.
fn date(cell: &str) -> Result<f64> {
    let moment = NaiveDate::parse_from_str(cell, "%Y-%m-%d")
        .ok()
        .and_then(|date| date.and_hms_opt(0, 0, 0))
        .or_else(|| {
            DateTime::parse_from_rfc3339(cell)
                .ok()
                .map(|t| t.naive_local())
        })
        .or_else(|| NaiveDateTime::parse_from_str(cell, "%Y-%m-%dT%H:%M:%S").ok())
        .or_else(|| NaiveDateTime::parse_from_str(cell, "%Y-%m-%dT%H:%M").ok())
        .or_else(|| NaiveDateTime::parse_from_str(cell, "%Y-%m-%d %H:%M").ok());
    let seconds = moment.map(|m| m.and_utc().timestamp());
    // Between the first powered flight and the end of four-digit plans.
    match seconds {
        Some(s) if (-2_115_000_000..=10_413_792_000).contains(&s) => Ok(s as f64 / 86_400.0),
        Some(_) => Err(absurd(cell).at("date")),
        None => Err(Error::new(
            ErrorKind::BadValue,
            format!(
                "\"{}\" is not a date",
                cell.chars().take(40).collect::<String>()
            ),
        )
        .at("date")
        .hint("write it as 2026-05-03")),
    }
}

/// The newest position on each axis so far.
#[derive(Default)]
struct Latest {
    days: Option<f64>,
    hours: Option<Rational>,
    landings: Option<Rational>,
}

impl Latest {
    fn check(&mut self, row: &Row) -> Result<()> {
        let backwards = |name: &str, from: String, to: String| {
            Error::new(
                ErrorKind::BadValue,
                format!("{name} run backwards, from {from} to {to}"),
            )
            .at(name)
            .hint("put the rows in order of time; a replaced meter continues the total: write the total")
        };
        if let (Some(before), Some(now)) = (self.days, row.days)
            && now < before
        {
            return Err(backwards("date", iso_date(before), iso_date(now)));
        }
        for (name, before, now) in [
            ("hours", self.hours, row.hours),
            ("landings", self.landings, row.landings),
        ] {
            if let (Some(before), Some(now)) = (before, now)
                && now < before
            {
                return Err(backwards(name, plain(&before), plain(&now)));
            }
        }
        self.days = row.days.or(self.days);
        self.hours = row.hours.or(self.hours);
        self.landings = row.landings.or(self.landings);
        Ok(())
    }
}

fn plain(figure: &Rational) -> String {
    figure.to_decimal().unwrap_or_else(|| figure.to_string())
}

/// The date on which a number of days since 1970-01-01 falls.
pub(crate) fn iso_date(days: f64) -> String {
    // Days come from dates checked above or from a window of a few times their span.
    DateTime::from_timestamp((days * 86_400.0).round() as i64, 0)
        .map_or_else(String::new, |t| t.format("%Y-%m-%d").to_string())
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn reads_what_people_and_programs_write() {
        let text = "\u{feff}Date;hours;value;unit;u;note\n2026-05-03;102.5;2 1/4;inches;0.02;first\n2026-06-01;;5.8e1;mm;5e-1;\n;;;;;\n";
        let rows = read(text.as_bytes()).unwrap();
        assert_eq!(rows.len(), 2);
        assert_eq!(rows[0].unit.as_deref(), Some("in"));
        assert_eq!(rows[0].value.unwrap().to_string(), "9/4");
        assert_eq!(rows[1].value.unwrap().to_string(), "58");
        assert_eq!(rows[1].u, Some(0.5));
        assert_eq!(rows[1].hours, None);
        assert_eq!(iso_date(rows[1].days.unwrap()), "2026-06-01");
    }

    #[test]
    fn what_is_wrong_names_the_line() {
        for (text, place, word) in [
            ("hours,value\n1,2\n3,-4\n", "line 3, value", "negative"),
            ("hours,value\n10,2\n3,4\n", "line 3, hours", "backwards"),
            (
                "date,value\n2026-05-03,2\n2026-05-02,4\n",
                "line 3, date",
                "backwards",
            ),
            ("value,unit\n2,furlong\n", "line 2, unit", "not a unit"),
            ("value,unit\n2,km\n", "line 2, unit", "not a unit"),
            ("value,unit\n200,m\n", "line 2, value", "cannot be right"),
            ("value\nnan\n", "line 2, value", "not a number"),
            ("value\n1e300\n", "line 2, value", "not a number"),
            ("value,u\n2,-1\n", "line 2, u", "negative"),
            ("hours\n2\n", "line 1", "no column"),
            ("value,value\n2,3\n", "line 1", "twice"),
            ("value\n2,3\n", "line 2", "cells"),
            ("date,value\n3/5/26,2\n", "line 2, date", "not a date"),
            ("value\r\n1\r\n\r\n-2\r\n", "line 4, value", "negative"),
            ("value\n\n\n-2\n", "line 4, value", "negative"),
            (
                "value,method\n1,\"two\nlines\"\n-2,\n",
                "line 4, value",
                "negative",
            ),
            ("value\n", "", "no readings"),
            ("", "", "no readings"),
        ] {
            let error = read(text.as_bytes()).unwrap_err();
            assert_eq!(error.place, place, "{text:?}: {error}");
            assert!(error.what.contains(word), "{text:?}: {error}");
        }
        assert_eq!(read(b"value\n\xff\n").unwrap_err().place, "line 2");
        let long = vec![b'a'; MOST_BYTES + 1];
        assert_eq!(read(&long).unwrap_err().kind, ErrorKind::TooLarge);
        let many = format!("value\n{}", "1\n".repeat(MOST_ROWS + 1));
        assert_eq!(read(many.as_bytes()).unwrap_err().kind, ErrorKind::TooLarge);
    }

    proptest! {
        #[test]
        fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
            let _ = read(&bytes);
        }

        #[test]
        fn any_cells_are_read_or_refused(cells in prop::collection::vec("[-0-9./e \"+]{0,12}", 0..24)) {
            let mut text = String::from("hours,value,u,date\n");
            for row in cells.chunks(4) {
                text.push_str(&row.join(","));
                text.push('\n');
            }
            let _ = read(text.as_bytes());
        }
    }
}
