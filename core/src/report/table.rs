//! The content as one table: a row for each sighting, step, look, reading and paper. RFC 4180.

use super::content::Content;
use crate::error::{Error, ErrorKind, Result};

/// Columns, always in this order.
pub const HEADS: [&str; 15] = [
    "kind",
    "date",
    "by",
    "hours",
    "meter",
    "landings",
    "zone",
    "finding",
    "place",
    "condition",
    "result",
    "says",
    "before",
    "first",
    "line",
];

/// The table. Text that a spreadsheet would take for a formula gets an apostrophe before it.
///
/// # Errors
/// None in practice: the writer fills memory.
pub fn write(content: &Content) -> Result<String> {
    let mut out = csv::WriterBuilder::new()
        .terminator(csv::Terminator::CRLF)
        .from_writer(Vec::new());
    let bad = |error: csv::Error| Error::new(ErrorKind::Io, error.to_string());
    out.write_record(HEADS).map_err(bad)?;
    let mut row = |cells: [&str; 15]| out.write_record(cells.map(tame)).map_err(bad);
    for item in &content.findings {
        for sight in &item.sightings {
            row([
                "sighting",
                &sight.date,
                &sight.by,
                sight.hours.as_deref().unwrap_or(""),
                sight.meter.as_deref().unwrap_or(""),
                sight.landings.as_deref().unwrap_or(""),
                &item.zone,
                &item.short,
                &item.place,
                &item.title,
                &sight.result,
                &sight.says,
                sight.before.as_deref().unwrap_or(""),
                sight.first.as_deref().unwrap_or(""),
                &sight.line.hex(),
            ])?;
        }
        for step in &item.steps {
            row([
                "step",
                &step.date,
                &step.by,
                "",
                "",
                "",
                &item.zone,
                &item.short,
                &item.place,
                &item.title,
                &step.kind,
                &step.says,
                "",
                "",
                "",
            ])?;
        }
    }
    for zone in &content.zones {
        for (look, walk) in zone.looks.iter().zip(&content.walkarounds) {
            row([
                "look",
                &walk.date,
                &walk.by,
                walk.hours.as_deref().unwrap_or(""),
                walk.meter.as_deref().unwrap_or(""),
                walk.landings.as_deref().unwrap_or(""),
                &zone.code,
                "",
                &zone.name,
                "",
                &look.result,
                &look.says,
                "",
                "",
                &walk.id.hex(),
            ])?;
        }
    }
    for zone in &content.zones {
        for look in &zone.outside {
            row([
                "look",
                &look.by.date,
                &look.by.by,
                "",
                "",
                "",
                &zone.code,
                "",
                &zone.name,
                "",
                &look.result,
                &look.says,
                "",
                "",
                "",
            ])?;
        }
    }
    for read in &content.readings {
        row([
            "reading",
            &read.date,
            &read.by,
            "",
            "",
            "",
            "",
            "",
            "",
            &read.reading,
            "",
            &read.says,
            "",
            "",
            "",
        ])?;
    }
    for paper in &content.papers {
        row([
            "paper",
            &paper.date,
            &paper.by,
            "",
            "",
            "",
            "",
            &paper.settles.join(" "),
            "",
            &paper.paper,
            "",
            paper.name.as_deref().unwrap_or(""),
            "",
            "",
            &paper.entry.hex(),
        ])?;
    }
    let bytes = out
        .into_inner()
        .map_err(|error| Error::new(ErrorKind::Io, error.to_string()))?;
    String::from_utf8(bytes).map_err(|error| Error::new(ErrorKind::BadFormat, error.to_string()))
}

pub(super) fn tame(cell: &str) -> String {
    if cell.starts_with(['=', '+', '-', '@', '\t', '\r']) {
        format!("'{cell}")
    } else {
        cell.to_owned()
    }
}
