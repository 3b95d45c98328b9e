//! Any list of records as one flat table: CSV (RFC 4180) and Markdown (CommonMark 0.31 has no
//! tables; the pipe form that its common extensions share).

use serde::Serialize;
use serde_json::Value;

use super::{markdown, table};
use crate::error::{Error, ErrorKind, Result};

/// What a column is called, and where its value stands in a record, as a JSON pointer (RFC 6901); a
/// pointer that begins with `^` starts at the outer record.
pub type Column = (&'static str, &'static str);

/// Where the records of a list stand in what is shown, and which columns they give. A pointer that
/// leads nowhere gives an empty cell; a list of words is joined with `; `.
#[derive(Debug, Clone, Copy)]
pub struct Columns {
    /// JSON pointer to the array of records.
    pub at: &'static str,
    /// JSON pointer, within each of them, to an array that gives the rows instead.
    pub within: Option<&'static str>,
    /// The columns, in order.
    pub columns: &'static [Column],
}

/// A table of text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listing {
    /// Names of the columns.
    pub heads: Vec<&'static str>,
    /// A cell for each of them.
    pub rows: Vec<Vec<String>>,
}

impl Listing {
    /// The table of a record that is shown as JSON otherwise: both say the same.
    ///
    /// # Errors
    /// [`ErrorKind::BadValue`] where the record cannot be written as JSON.
    pub fn of<T: Serialize>(record: &T, columns: &Columns) -> Result<Self> {
        let json = serde_json::to_value(record)
            .map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))?;
        let records = json
            .pointer(columns.at)
            .and_then(Value::as_array)
            .map(Vec::as_slice)
            .unwrap_or_default();
        let row = |outer: &Value, inner: &Value| {
            let cell = |(_, at): &Column| {
                match at.strip_prefix('^') {
                    Some(at) => outer.pointer(at),
                    None => inner.pointer(at),
                }
                .map(text)
                .unwrap_or_default()
            };
            columns.columns.iter().map(cell).collect()
        };
        let mut rows = Vec::new();
        for outer in records {
            match columns.within {
                None => rows.push(row(outer, outer)),
                Some(at) => {
                    let inner = outer.pointer(at).and_then(Value::as_array);
                    rows.extend(inner.into_iter().flatten().map(|inner| row(outer, inner)));
                }
            }
        }
        Ok(Self {
            heads: columns.columns.iter().map(|(name, _)| *name).collect(),
            rows,
        })
    }

    /// As CSV; a cell that a spreadsheet would take for a formula gets an apostrophe before it.
    ///
    /// # Errors
    /// None in practice: the writer fills memory.
    pub fn to_csv(&self) -> Result<String> {
        let bad = |error: String| Error::new(ErrorKind::Io, error);
        let mut out = csv::WriterBuilder::new()
            .terminator(csv::Terminator::CRLF)
            .from_writer(Vec::new());
        out.write_record(&self.heads)
            .map_err(|error| bad(error.to_string()))?;
        for row in &self.rows {
            out.write_record(row.iter().map(|cell| table::tame(cell)))
                .map_err(|error| bad(error.to_string()))?;
        }
        let bytes = out.into_inner().map_err(|error| bad(error.to_string()))?;
        String::from_utf8(bytes).map_err(|error| bad(error.to_string()))
    }

    /// As a Markdown table; text stays text.
    pub fn to_markdown(&self) -> String {
        let mut out = String::new();
        markdown::table(&mut out, &self.heads, self.rows.iter().cloned());
        // One line after the table is for text that follows; here none does.
        out.truncate(out.trim_end().len());
        out.push('\n');
        out
    }
}

fn text(value: &Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::String(text) => text.clone(),
        Value::Bool(yes) => if *yes { "yes" } else { "no" }.to_owned(),
        Value::Number(number) => number.to_string(),
        Value::Array(parts) => parts.iter().map(text).collect::<Vec<_>>().join("; "),
        Value::Object(_) => value.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const COLUMNS: Columns = Columns {
        at: "/rows",
        within: None,
        columns: &[
            ("place", "/place"),
            ("seen", "/last/date"),
            ("open", "/open"),
            ("zones", "/zones"),
        ],
    };

    // Truth by construction.
    fn listing() -> Listing {
        let record = serde_json::json!({"rows": [
            {"place": "=HYPERLINK(\"x\")", "last": {"date": "2031-05-01"}, "open": true, "zones": ["733", "734"]},
            {"place": "a | b, *c*\nd", "open": false, "zones": []},
        ]});
        Listing::of(&record, &COLUMNS).unwrap()
    }

    #[test]
    fn cells_come_from_where_the_pointers_lead() {
        let table = listing();
        assert_eq!(table.heads, ["place", "seen", "open", "zones"]);
        assert_eq!(table.rows[0][1..], ["2031-05-01", "yes", "733; 734"]);
        assert_eq!(table.rows[1][1..], ["", "no", ""]);
    }

    #[test]
    fn rows_may_stand_one_list_deeper() {
        let record = serde_json::json!({"groups": [
            {"name": "a", "zones": [{"code": "1"}, {"code": "2"}]}, {"name": "b"},
        ]});
        let columns = Columns {
            at: "/groups",
            within: Some("/zones"),
            columns: &[("group", "^/name"), ("zone", "/code")],
        };
        let table = Listing::of(&record, &columns).unwrap();
        assert_eq!(table.rows, [["a", "1"], ["a", "2"]]);
    }

    #[test]
    fn csv_is_read_back_and_no_cell_is_a_formula() {
        let text = listing().to_csv().unwrap();
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        let rows: Vec<csv::StringRecord> = reader.records().map(|row| row.unwrap()).collect();
        assert_eq!(&rows[0][0], "'=HYPERLINK(\"x\")");
        assert_eq!(&rows[1][0], "a | b, *c*\nd");
    }

    #[test]
    fn markdown_keeps_text_as_text() {
        let text = listing().to_markdown();
        assert_eq!(
            text.lines().collect::<Vec<_>>(),
            [
                "| place | seen | open | zones |",
                "| --- | --- | --- | --- |",
                "| =HYPERLINK(\"x\") | 2031-05-01 | yes | 733; 734 |",
                "| a \\| b, \\*c\\* d |  | no |  |",
            ]
        );
    }

    #[test]
    fn a_record_without_the_list_gives_heads_alone() {
        let table = Listing::of(&serde_json::json!({"other": 1}), &COLUMNS).unwrap();
        assert!(table.rows.is_empty());
        assert_eq!(table.to_csv().unwrap(), "place,seen,open,zones\r\n");
    }
}
