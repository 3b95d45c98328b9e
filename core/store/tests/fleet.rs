//! From a notebook to rows, and from rows to files. Invented data: what was written is known.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::{Odd, bucket};
use parquet::file::reader::{FileReader, SerializedFileReader};
use std::sync::Arc;
use witnessmark_core::notebook::{KeySource, NewFinding, NewSighting, NewWalkaround, Notebook};
use witnessmark_core::record::At;
use witnessmark_core::record::kinds::Measure;
use witnessmark_core::world::{GivenClock, SeededEntropy, SystemFiles, World};
use witnessmark_store::fleet::{self, SightingRow, Table, When};

fn day(text: &str) -> chrono::DateTime<chrono::FixedOffset> {
    text.parse::<At>().unwrap().instant()
}

fn length(said: &str) -> NewSighting {
    NewSighting {
        measures: vec![Measure::typed("crack", said).unwrap()],
        ..NewSighting::default()
    }
}

/// One crack over three walkarounds, written in inches, in millimetres and, after a stop drill, in inches.
#[test]
fn rows_hold_what_was_written_and_what_can_be_compared() {
    let scratch = tempfile::tempdir().unwrap();
    let clock = Arc::new(GivenClock::new(day("2025-03-01T09:00:00+01:00")));
    let world = World {
        clock: clock.clone(),
        entropy: Arc::new(SeededEntropy::new(1)),
        files: Arc::new(SystemFiles),
    };
    let mut notebook = Notebook::init(
        &scratch.path().join("book"),
        world,
        "A. Example",
        "owner",
        KeySource::File,
    )
    .unwrap();
    let aircraft = common::aircraft(&mut notebook, "N0AB");
    let walk = |notebook: &mut Notebook, when: &str, hours: &str| {
        clock.set(day(when));
        let new = NewWalkaround {
            purpose: Some("routine".to_owned()),
            hours: Some(hours.to_owned()),
            ..NewWalkaround::default()
        };
        notebook.start_walkaround(&aircraft, &new).unwrap();
    };
    walk(&mut notebook, "2025-03-01T09:00:00+01:00", "1000");
    let new = NewFinding {
        zone: "733".to_owned(),
        condition: "crack".to_owned(),
        ..NewFinding::default()
    };
    let finding = notebook
        .open_finding(&aircraft, &new, &length("length 1 in by ruler"))
        .unwrap();
    notebook
        .look_again(&aircraft, Some(&finding), None, "25 h")
        .unwrap();
    notebook.finish_walkaround(&aircraft).unwrap();
    walk(&mut notebook, "2026-01-10T09:00:00+01:00", "1020.5");
    notebook
        .sight(&aircraft, &finding, &length("length 30 mm +-0.5 by card"))
        .unwrap();
    notebook.finish_walkaround(&aircraft).unwrap();
    let before = fleet::status(&notebook).unwrap();
    let due = &before.aircraft[0].look_again[0];
    assert_eq!((due.when, due.at.as_str()), (When::Later, "1025 h"));
    walk(&mut notebook, "2026-02-10T09:00:00+01:00", "1030");
    assert_eq!(
        fleet::status(&notebook).unwrap().aircraft[0].look_again[0].when,
        When::Past
    );
    notebook
        .treat(&aircraft, &finding, "stop_drilled", None, vec![])
        .unwrap();
    notebook
        .sight(&aircraft, &finding, &length("length 1/2 in by ruler"))
        .unwrap();
    notebook.concern(&aircraft, &finding, "ask").unwrap();
    notebook.finish_walkaround(&aircraft).unwrap();

    let (sightings, looks) = fleet::gather(&notebook).unwrap();
    let told: Vec<_> = sightings
        .iter()
        .map(|row| {
            (
                row.date.as_str(),
                row.hours.unwrap(),
                row.value.unwrap(),
                row.unit.as_deref().unwrap(),
                row.value_written.unwrap(),
                row.unit_written.as_deref().unwrap(),
                row.method.as_deref().unwrap(),
                row.series,
            )
        })
        .collect();
    assert_eq!(
        told,
        [
            ("2025-03-01", 1000.0, 25.4, "mm", 1.0, "in", "ruler", 0),
            ("2026-01-10", 1020.5, 30.0, "mm", 30.0, "mm", "card", 0),
            ("2026-02-10", 1030.0, 12.7, "mm", 0.5, "in", "ruler", 1),
        ]
    );
    assert_eq!(sightings[1].u, Some(0.5));
    for row in &sightings {
        assert_eq!(row.quantity.as_deref(), Some("length"));
        assert_eq!(
            (row.registration.as_str(), row.kind.as_str()),
            ("N0AB", "invented")
        );
        assert_eq!(
            (row.zone.as_str(), row.condition.as_str()),
            ("733", "crack")
        );
        assert_eq!((row.finding.clone(), row.open), (finding.hex(), true));
        assert_eq!(row.concern.as_deref(), Some("ask"));
    }
    // Three walkarounds, each with a word for every zone of the layout, *not looked at* included.
    let zones = looks.len() / 3;
    assert!(
        zones > 10 && looks.len().is_multiple_of(3),
        "{}",
        looks.len()
    );
    let with = |word: &str| looks.iter().filter(|row| row.looked == word).count();
    assert_eq!(
        (with("findings"), with("not_looked_at")),
        (3, looks.len() - 3)
    );
    // No names of people anywhere.
    assert!(!format!("{sightings:?}{looks:?}").contains("Example"));
}

fn row(year: i32) -> SightingRow {
    SightingRow {
        finding: "x".to_owned(),
        date: format!("{year}-01-01"),
        ..SightingRow::default()
    }
}

fn table(years: &[i32]) -> Table {
    let mut table = Table::default();
    table
        .sightings(years.iter().map(|year| row(*year)))
        .unwrap();
    table
}

/// A year of which nothing is left goes with the next table; what somebody else put there stays.
#[test]
fn years_without_rows_go_from_a_folder() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path();
    let first = fleet::to_folder(table(&[2019, 2020]), folder).unwrap();
    assert_eq!((first.files, first.stale), (2, 0));
    let theirs = folder.join("sightings/year=2020/notes.txt");
    std::fs::write(&theirs, "mine").unwrap();
    std::fs::create_dir_all(folder.join("sightings/year=none")).unwrap();
    let second = fleet::to_folder(table(&[2021]), folder).unwrap();
    assert_eq!((second.files, second.stale), (1, 2));
    let year = |year: i32| folder.join(format!("sightings/year={year}"));
    assert!(!year(2019).exists() && theirs.exists() && year(2021).join("part.parquet").exists());
    assert!(!year(2020).join("part.parquet").exists());
    assert!(folder.join("sightings/year=none").exists());
    assert_eq!(fleet::to_folder(table(&[2021]), folder).unwrap().stale, 0);
}

/// In a store nothing is deleted: the stale year is there and has no rows.
#[test]
fn years_without_rows_are_emptied_in_a_store() {
    let store = Arc::new(Odd::good());
    fleet::to_bucket(table(&[2019, 2020]), &mut bucket(&store)).unwrap();
    common::lay(&store.inner, "sightings/stranger.txt", b"x");
    let second = fleet::to_bucket(table(&[2020]), &mut bucket(&store)).unwrap();
    assert_eq!(second.stale, 1);
    let there = common::everything(&store.inner);
    assert_eq!(there["notebooks/sightings/stranger.txt"], b"x");
    let rows = |year: i32| {
        let bytes = there[&format!("notebooks/sightings/year={year}/part.parquet")].clone();
        let reader = SerializedFileReader::new(parquet_bytes(bytes)).unwrap();
        let file = reader.metadata().file_metadata();
        (file.num_rows(), file.schema_descr().num_columns())
    };
    assert_eq!(rows(2019), (0, rows(2020).1));
    assert_eq!(rows(2020).0, 1);
}

fn parquet_bytes(bytes: Vec<u8>) -> std::fs::File {
    let mut file = tempfile::tempfile().unwrap();
    std::io::Write::write_all(&mut file, &bytes).unwrap();
    file
}
