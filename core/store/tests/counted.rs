//! Requests are counted, not timed.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::{Odd, bucket};
use std::sync::Arc;
use std::sync::atomic::Ordering;
use witnessmark_core::notebook::Place;

/// A reader who has missed ten segments by three authors.
#[test]
fn catching_up_takes_one_listing_and_one_request_a_segment() {
    let scratch = tempfile::tempdir().unwrap();
    let store = Arc::new(Odd::good());
    let mut authors: Vec<_> = (1..=3)
        .map(|n| common::person(&scratch.path().join(n.to_string()), n))
        .collect();
    let aircraft = common::aircraft(&mut authors[0], "N0AB");
    for _ in 0..2 {
        for author in &mut authors {
            author.exchange(&mut bucket(&store), false).unwrap();
            common::walk(author, &aircraft, scratch.path(), &[7]);
        }
    }
    for author in &mut authors {
        author.exchange(&mut bucket(&store), false).unwrap();
    }
    let mut reader = common::person(&scratch.path().join("reader"), 9);
    reader.exchange(&mut bucket(&store), false).unwrap();
    let before = store.count();
    reader.exchange(&mut bucket(&store), false).unwrap();
    assert_eq!(store.count() - before, 1, "a quiet meeting is one listing");

    let place = Place {
        aircraft: Some(aircraft),
        ..Place::default()
    };
    let segments = 10;
    for n in 0..segments {
        let author = &mut authors[n % 3];
        author.write_note(&format!("note {n}"), &place).unwrap();
        author.exchange(&mut bucket(&store), false).unwrap();
    }
    let before = store.count();
    let mut bucket = bucket(&store);
    let met = reader.exchange(&mut bucket, false).unwrap();
    let took = store.count() - before;
    assert_eq!(met.outcome.lines, segments as u64);
    assert!(took <= 1 + 3 + segments as u64, "{took} requests");
    assert_eq!(
        bucket.requests(),
        took,
        "what the bucket counts is what the store saw"
    );
    println!("catching up {segments} segments by 3 authors: {took} requests (bound 14)");
}

/// A listing has a page for every thousand names; a store with years in it costs pages, not files.
#[test]
fn pages_of_a_listing_are_counted() {
    let scratch = tempfile::tempdir().unwrap();
    let store = Arc::new(Odd::good());
    let mut author = common::person(&scratch.path().join("author"), 1);
    for n in 0..2500 {
        common::lay(&store.inner, &format!("v1/n/stray/{n}.txt"), b"x");
    }
    let mut bucket = bucket(&store);
    let met = author.exchange(&mut bucket, false).unwrap();
    assert_eq!((store.count(), bucket.requests()), (3, 3));
    let row = &met.outcome.report.rows[0];
    assert_eq!(
        (row.code, row.what.as_str()),
        (
            "stray",
            "2500 files lie there that belong to no meeting; they were left alone"
        )
    );
}

/// Prints what a walkaround and a year cost. Photos are drawn small; their requests count.
#[test]
fn what_a_walkaround_and_a_clubs_year_cost() {
    let scratch = tempfile::tempdir().unwrap();
    let store = Arc::new(Odd::good());
    let mut author = common::person(&scratch.path().join("author"), 1);
    let aircraft = common::aircraft(&mut author, "N0AB");
    author.exchange(&mut bucket(&store), false).unwrap();
    let photos: Vec<u32> = (0..30).map(|n| 1000 + 17 * n).collect();
    common::walk(&mut author, &aircraft, scratch.path(), &photos);
    let (before, bytes) = (store.count(), store.bytes.load(Ordering::SeqCst));
    store.kinds.lock().unwrap().clear();
    let met = author.exchange(&mut bucket(&store), false).unwrap();
    let requests = store.count() - before;
    let kinds = store.kinds.lock().unwrap().clone();
    let bytes = store.bytes.load(Ordering::SeqCst) - bytes;
    let drawn: u64 = photos
        .iter()
        .map(|n| {
            std::fs::metadata(scratch.path().join(format!("{n}.jpg")))
                .unwrap()
                .len()
        })
        .sum();
    // Thirty photos and one segment go up; each folder they may lie in is looked into at most once.
    assert_eq!((kinds["put"], met.put, met.segments), (31, 31, 1));
    assert!(kinds["list"] <= 1 + 30, "{kinds:?}");
    let lines = bytes - drawn;

    // A club: everybody walks round in turn and meets; the last one's requests are a reader's too.
    let people = 24u64;
    let rounds = 3;
    let club = Arc::new(Odd::good());
    let mut all: Vec<_> = (0..people)
        .map(|n| common::person(&scratch.path().join(format!("c{n}")), 100 + n))
        .collect();
    let aircraft = common::aircraft(&mut all[0], "N0CL");
    for _ in 0..2 {
        for person in &mut all {
            person.exchange(&mut bucket(&club), false).unwrap();
            person.vouch(&aircraft).ok();
        }
    }
    let before = club.count();
    club.kinds.lock().unwrap().clear();
    for round in 0..rounds {
        for (n, person) in all.iter_mut().enumerate() {
            common::walk(person, &aircraft, scratch.path(), &[round * 100 + n as u32]);
            person.exchange(&mut bucket(&club), false).unwrap();
        }
    }
    let each = (club.count() - before) / u64::from(rounds) / people;
    println!(
        "a walkaround of 30 photos: {requests} requests ({} puts, {} listings, {} gets), {lines} bytes of lines and slips beside the photos",
        kinds["put"],
        kinds["list"],
        kinds.get("get").copied().unwrap_or(0)
    );
    println!(
        "a club of {people}, each walking round and meeting in turn, one photo each: {each} requests a walkaround, its author's reading of the {} others' included: {:?}",
        people - 1,
        club.kinds.lock().unwrap()
    );
    let year = people * 300;
    println!(
        "reckoned from that, a year of {year} walkarounds of 30 photos of 3 MB: {} requests to leave them, {} MB of lines, {} GB of photos",
        year * requests,
        year * lines / 1_000_000,
        year * 90 / 1000
    );
    // Everything but the listing's pages grows with what is new, not with what is there.
    assert!(each < 4 * people, "{each}");
}
