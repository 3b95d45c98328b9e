//! Five authors meet in seeded orders in one store. Whatever the order, the same union stands
//! everywhere. A store that writes over what is there changes nothing but the words of the probe.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::{Odd, bucket, everything, holdings};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use witnessmark_core::notebook::Place;
use witnessmark_core::record::Digest;
use witnessmark_store::{Puts, probe};

/// Invented notebooks need no disk.
fn scratch() -> tempfile::TempDir {
    let memory = Path::new("/dev/shm");
    if memory.is_dir() {
        tempfile::tempdir_in(memory).unwrap()
    } else {
        tempfile::tempdir().unwrap()
    }
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copy(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

/// Five notebooks that know one aircraft and one another, from meeting in a folder before.
fn five(root: &Path) -> (Vec<PathBuf>, Digest) {
    let homes: Vec<PathBuf> = (0..5).map(|n| root.join(n.to_string())).collect();
    let meeting = root.join("meeting");
    let mut known = None;
    let mut people = Vec::new();
    for (n, home) in homes.iter().enumerate() {
        let mut notebook = common::person(home, n as u64 + 1);
        let aircraft = *known.get_or_insert_with(|| common::aircraft(&mut notebook, "N0AB"));
        notebook.exchange_folder(&meeting, false).unwrap();
        let place = Place {
            aircraft: Some(aircraft),
            ..Place::default()
        };
        notebook.write_note("here", &place).unwrap();
        notebook.exchange_folder(&meeting, false).unwrap();
        people.push(notebook);
    }
    for mut notebook in people {
        notebook.exchange_folder(&meeting, false).unwrap();
        notebook.close().unwrap();
    }
    (homes, known.unwrap())
}

/// One order of writing and meeting; what stands in the store at the end.
fn order(seed: u64, template: &[PathBuf], aircraft: &Digest, deaf: bool) -> Vec<String> {
    let scratch = scratch();
    let store = Arc::new(if deaf { Odd::deaf() } else { Odd::good() });
    let homes: Vec<PathBuf> = (0..5).map(|n| scratch.path().join(n.to_string())).collect();
    let mut people: Vec<_> = template
        .iter()
        .zip(&homes)
        .enumerate()
        .map(|(n, (from, home))| {
            copy(from, home);
            common::again(home, seed * 10 + n as u64)
        })
        .collect();
    // Lehmer's generator (Park and Miller 1988).
    let mut state = seed * 7919 + 1;
    let mut random = move |below: u64| {
        state = state * 48_271 % 2_147_483_647;
        state % below
    };
    let place = Place {
        aircraft: Some(*aircraft),
        ..Place::default()
    };
    let mut wrote = 0;
    for step in 0..12 {
        let person = &mut people[random(5) as usize];
        match random(5) {
            0 | 1 => {
                person.write_note(&format!("note {step}"), &place).unwrap();
                wrote += 1;
            }
            2 => {
                let file = common::photo(scratch.path(), (seed * 100 + step) as u32);
                person.take_photo(&file, &place).unwrap();
                wrote += 1;
            }
            _ => {
                person.exchange(&mut bucket(&store), false).unwrap();
            }
        }
    }
    for _ in 0..2 {
        for person in &mut people {
            let met = person.exchange(&mut bucket(&store), false).unwrap();
            assert!(!met.outcome.refused, "seed {seed}");
        }
    }
    for person in &mut people {
        let quiet = person.exchange(&mut bucket(&store), false).unwrap();
        assert_eq!((quiet.outcome.lines, quiet.put), (0, 0), "seed {seed}");
    }
    let union = holdings(&homes[0]);
    // Five notes, five chains' first lines and five slips were there before.
    assert!(union.len() >= wrote + 15, "seed {seed}: {}", union.len());
    for home in &homes {
        assert!(holdings(home) == union, "seed {seed}: {}", home.display());
    }
    union
}

/// A thousand orders, in four threads of the test harness.
fn orders(quarter: u64) {
    let root = scratch();
    let (template, aircraft) = five(root.path());
    for seed in (0..1000).filter(|seed| seed % 4 == quarter) {
        order(seed, &template, &aircraft, false);
    }
}

#[test]
fn any_order_of_meetings_ends_in_one_union_first_quarter() {
    orders(0);
}

#[test]
fn any_order_of_meetings_ends_in_one_union_second_quarter() {
    orders(1);
}

#[test]
fn any_order_of_meetings_ends_in_one_union_third_quarter() {
    orders(2);
}

#[test]
fn any_order_of_meetings_ends_in_one_union_last_quarter() {
    orders(3);
}

#[test]
fn a_store_that_ignores_put_if_absent_changes_nothing_but_the_probes_words() {
    let root = scratch();
    let (template, aircraft) = five(root.path());
    for seed in 0..40 {
        assert!(
            order(seed, &template, &aircraft, true) == order(seed, &template, &aircraft, false),
            "seed {seed}"
        );
    }
    let person = common::again(&template[0], 3);
    let ask = |store: Odd| {
        let store = Arc::new(store);
        let probed = probe(&bucket(&store), person.world(), &person.author()).unwrap();
        (probed.puts, probed.says)
    };
    let (refuses, overwrites) = (ask(Odd::good()), ask(Odd::deaf()));
    assert_eq!((refuses.0, overwrites.0), (Puts::Refuses, Puts::Overwrites));
    assert!(
        refuses
            .1
            .starts_with("The store refuses to write over what is there.")
    );
    assert!(
        overwrites
            .1
            .starts_with("The store writes over what is there without a word")
    );
}

/// Somebody writes over another's lines and another's photo: readers take neither in and say so,
/// who had them keeps them, and once the store's keeper has deleted them they come again.
#[test]
fn a_hostile_overwriting_is_refused_by_readers() {
    let scratch = scratch();
    let store = Arc::new(Odd::deaf());
    let mut author = common::person(&scratch.path().join("author"), 1);
    let aircraft = common::aircraft(&mut author, "N0AB");
    common::walk(&mut author, &aircraft, scratch.path(), &[1, 2]);
    author.exchange(&mut bucket(&store), false).unwrap();
    let before = everything(&store.inner);
    let name = |part: &str| {
        let found = before.keys().find(|name| name.contains(part)).unwrap();
        found.strip_prefix("notebooks/").unwrap().to_owned()
    };
    let (lines, original) = (name("/v1/n/"), name("/v1/e/"));
    common::lay(&store.inner, &lines, b"{\"forged\":true}\n");
    common::lay(&store.inner, &original, b"another picture");
    let mut reader = common::person(&scratch.path().join("reader"), 2);
    let met = reader.exchange(&mut bucket(&store), false).unwrap();
    assert_eq!((met.outcome.lines, met.outcome.new_files), (0, 0));
    let rows: Vec<(&str, &str, &str)> = met
        .outcome
        .report
        .rows
        .iter()
        .map(|row| (row.code, row.file.as_str(), row.what.as_str()))
        .collect();
    assert_eq!(
        rows,
        [(
            "altered",
            lines.as_str(),
            "what lies there is not what its name says"
        )]
    );
    // The author meets again: what is theirs stays theirs.
    let held = holdings(&scratch.path().join("author"));
    author.exchange(&mut bucket(&store), false).unwrap();
    assert_eq!(holdings(&scratch.path().join("author")), held);
    // The keeper of the store takes the forgeries away; a thorough meeting leaves the true ones.
    let kept = Arc::new(Odd::good());
    for (name, bytes) in everything(&store.inner) {
        let name = name.strip_prefix("notebooks/").unwrap();
        if name != lines && name != original {
            common::lay(&kept.inner, name, &bytes);
        }
    }
    let mut place = bucket(&kept);
    place.look_thoroughly();
    author.exchange(&mut place, false).unwrap();
    let met = reader.exchange(&mut bucket(&kept), false).unwrap();
    assert!(
        met.outcome.report.rows.is_empty(),
        "{:?}",
        met.outcome.report.rows
    );
    assert!(everything(&kept.inner) == before);
    for line in &held {
        assert!(
            holdings(&scratch.path().join("reader")).contains(line),
            "{line}"
        );
    }
}
