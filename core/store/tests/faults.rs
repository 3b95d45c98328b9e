//! A meeting is broken off at every request in turn, in every way: meeting once more completes it.
//! Held against the same meeting without a fault.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::{Fault, Odd, bucket, everything, holdings};
use object_store::memory::InMemory;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use witnessmark_core::notebook::Place;
use witnessmark_core::record::Digest;

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

/// A store with one author's walkaround; a second author who has read it and has one to leave; a
/// third with a note to leave.
struct Start {
    scratch: tempfile::TempDir,
    there: InMemory,
}

impl Start {
    fn new() -> Self {
        let scratch = tempfile::tempdir().unwrap();
        let store = Arc::new(Odd::good());
        let home = |n: u64| scratch.path().join(n.to_string());
        let mut first = common::person(&home(1), 1);
        let aircraft = common::aircraft(&mut first, "N0AB");
        common::walk(&mut first, &aircraft, scratch.path(), &[1, 2]);
        first.exchange(&mut bucket(&store), false).unwrap();
        let mut third = common::person(&home(3), 3);
        third.exchange(&mut bucket(&store), false).unwrap();
        let place = Place {
            aircraft: Some(aircraft),
            ..Place::default()
        };
        third.write_note("not left yet", &place).unwrap();
        let mut second = common::person(&home(2), 2);
        second.exchange(&mut bucket(&store), false).unwrap();
        common::walk(&mut second, &aircraft, scratch.path(), &[3, 4, 5]);
        // What the second has not read yet.
        common::walk(&mut first, &aircraft, scratch.path(), &[6]);
        first.exchange(&mut bucket(&store), false).unwrap();
        third.close().unwrap();
        first.close().unwrap();
        second.close().unwrap();
        let there = store.inner.fork();
        Self { scratch, there }
    }

    fn homes(&self, to: &Path) -> Vec<PathBuf> {
        [2u64, 3]
            .iter()
            .map(|n| {
                let home = to.join(n.to_string());
                copy(&self.scratch.path().join(n.to_string()), &home);
                home
            })
            .collect()
    }
}

/// What stands at the end: the store, and each notebook.
#[derive(PartialEq)]
struct End {
    store: BTreeMap<String, Vec<u8>>,
    notebooks: Vec<Vec<String>>,
}

/// The second author meets through a fault, then everybody meets without one. The first number says
/// how many requests the faulty meeting made; the truth says whether it was broken off.
fn run(start: &Start, fault: Fault, who: usize) -> (End, u64, bool) {
    let scratch = tempfile::tempdir().unwrap();
    let homes = start.homes(scratch.path());
    let odd = Arc::new(Odd::over(start.there.fork(), Fault::None));
    if who == 1 {
        // The reader meets after the writer has left everything.
        let mut writer = common::again(&homes[0], 2);
        writer.exchange(&mut bucket(&odd), false).unwrap();
        writer.close().unwrap();
    }
    let odd = Arc::new(Odd::over(odd.inner.fork(), fault));
    let mut notebook = common::again(&homes[who], who as u64 + 2);
    let broken = notebook.exchange(&mut bucket(&odd), false).is_err();
    // A killed program closes nothing.
    drop(notebook);
    let count = odd.count();
    let names = everything(&odd.inner);
    for name in odd.acknowledged.lock().unwrap().iter() {
        assert!(
            names.contains_key(name),
            "{fault:?}: {name} was acknowledged"
        );
    }
    let good = Arc::new(Odd::over(odd.inner.fork(), Fault::None));
    for round in 0..2 {
        for (n, home) in homes.iter().enumerate() {
            let mut notebook = common::again(home, n as u64 + 2 + 10 * round);
            let met = notebook.exchange(&mut bucket(&good), false).unwrap();
            assert!(
                !met.outcome.refused && common::only_the_clock(&met.outcome.report.rows),
                "{fault:?} {who} {n}: {:?}",
                met.outcome.report.rows
            );
            notebook.close().unwrap();
        }
    }
    let end = End {
        store: everything(&good.inner),
        notebooks: homes.iter().map(|home| holdings(home)).collect(),
    };
    (end, count, broken)
}

#[test]
fn a_meeting_broken_off_at_any_request_is_completed_by_the_next() {
    let start = Start::new();
    for who in [0, 1] {
        let (truth, requests, broken) = run(&start, Fault::None, who);
        assert!(!broken && requests > 5, "{requests}");
        assert!(truth.notebooks[0] == truth.notebooks[1]);
        assert!(truth.notebooks[0].len() > 20);
        for (name, bytes) in &truth.store {
            let stated = Digest::of(bytes).hex();
            assert!(name.contains(&stated), "{name} is not named by {stated}");
        }
        let mut broken_off = 0;
        for n in 1..=requests {
            for fault in [
                Fault::Fails(n),
                Fault::ReplyLost(n),
                Fault::Gone(n),
                Fault::DoneThenGone(n),
            ] {
                let (end, _, broken) = run(&start, fault, who);
                assert!(end == truth, "{who} {fault:?}");
                // One request that fails, or whose reply is lost, is asked again at once.
                let alone = matches!(fault, Fault::Fails(_) | Fault::ReplyLost(_));
                assert!(!(alone && broken), "{who} {fault:?} ended the meeting");
                broken_off += u64::from(broken);
            }
        }
        assert!(broken_off >= requests, "{broken_off} of {requests}");
        println!(
            "faults: {requests} requests, each failing in four ways; {broken_off} meetings broken off, all completed by the next"
        );
    }
}

/// The bytes arrived, the reply did not: reading back settles it, and nothing is written twice.
#[test]
fn a_lost_reply_is_settled_by_reading_back() {
    let start = Start::new();
    let truth = run(&start, Fault::None, 0).1;
    let mut settled = 0;
    for n in 1..=truth {
        let scratch = tempfile::tempdir().unwrap();
        let homes = start.homes(scratch.path());
        let odd = Arc::new(Odd::over(start.there.fork(), Fault::ReplyLost(n)));
        let mut notebook = common::again(&homes[0], 2);
        let met = notebook.exchange(&mut bucket(&odd), false).unwrap();
        assert!(met.put > 3);
        let kinds = odd.kinds.lock().unwrap();
        // The lost put, the refused second one, and the reading back.
        if kinds["put"] == met.put + 1 {
            settled += 1;
            assert_eq!(odd.acknowledged.lock().unwrap().len() as u64, met.put - 1);
        } else {
            assert_eq!(kinds["put"], met.put);
        }
    }
    assert!(settled > 3, "{settled}");
}

/// A photo too large to move whole: a small picture, and a camera's padding behind its end.
fn large_photo(folder: &std::path::Path) -> std::path::PathBuf {
    let mut bytes = std::fs::read(common::photo(folder, 7)).unwrap();
    bytes.resize(17 << 20, 0x5A);
    let path = folder.join("large.jpg");
    std::fs::write(&path, bytes).unwrap();
    path
}

/// An upload in parts that is acknowledged and is not there: found by reading back, and sent again; where
/// that does not help either, no line is left that points at nothing.
#[test]
fn a_large_original_is_read_back_before_it_counts() {
    for (mislaid, arrives) in [(0, true), (1, true), (u64::MAX, false)] {
        let scratch = tempfile::tempdir().unwrap();
        let store = std::sync::Arc::new(Odd::good());
        store
            .mislaid
            .store(mislaid, std::sync::atomic::Ordering::SeqCst);
        let mut author = common::person(&scratch.path().join("author"), 1);
        let aircraft = common::aircraft(&mut author, "N0AB");
        let photo = large_photo(scratch.path());
        let place = witnessmark_core::notebook::Place {
            aircraft: Some(aircraft),
            ..Default::default()
        };
        author.take_photo(&photo, &place).unwrap();
        let met = author.exchange(&mut bucket(&store), false);
        assert_eq!(met.is_ok(), arrives, "{mislaid}");
        let there = common::everything(&store.inner);
        let bytes = std::fs::read(&photo).unwrap();
        let digest = witnessmark_core::record::Digest::of(&bytes).hex();
        let found = there
            .iter()
            .any(|(name, held)| name.ends_with(&format!("{digest}.jpg")) && *held == bytes);
        assert_eq!(found, arrives, "{mislaid}");
        let lines = there.keys().any(|name| name.ends_with(".jsonl"));
        assert_eq!(lines, arrives, "{mislaid}");
        author.close().unwrap();
    }
}

/// The probe asks whether a store refuses; one that fails has not answered.
#[test]
fn a_store_that_fails_is_not_said_to_refuse() {
    let scratch = tempfile::tempdir().unwrap();
    let person = common::person(&scratch.path().join("author"), 1);
    let ask = |odd: Odd| {
        let store = std::sync::Arc::new(odd);
        witnessmark_store::probe(&bucket(&store), person.world(), &person.author())
    };
    let honest = ask(Odd::good()).unwrap();
    assert_eq!(honest.puts, witnessmark_store::Puts::Refuses);
    // The second writing is the second request: nothing answers from there on.
    for at in 1..4 {
        let error = ask(Odd::over(InMemory::new(), Fault::Gone(at))).unwrap_err();
        assert!(error.what.contains("did not answer"), "{at}: {error}");
    }
}
