//! Meetings in a store in memory; invented notebooks whose truth is known by construction.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use object_store::memory::InMemory;
use std::path::Path;
use std::sync::Arc;
use witnessmark_core::notebook::{KeySource, Notebook};
use witnessmark_core::record::At;
use witnessmark_core::world::{GivenClock, SeededEntropy, SystemFiles, World};
use witnessmark_store::{Address, Bucket, Puts, probe};

fn world(seed: u64) -> World {
    World {
        clock: Arc::new(GivenClock::new(
            "2026-05-03T09:10:00+02:00".parse::<At>().unwrap().instant(),
        )),
        entropy: Arc::new(SeededEntropy::new(seed)),
        files: Arc::new(SystemFiles),
    }
}

fn bucket(memory: &Arc<InMemory>) -> Bucket {
    let address = Address::parse("s3://club/notebooks", &|_| None).unwrap();
    Bucket::over(address, vec![memory.clone()]).unwrap()
}

fn notebook(root: &Path, seed: u64) -> Notebook {
    Notebook::init(
        root,
        world(seed),
        &format!("Invented {seed}"),
        "owner",
        KeySource::File,
    )
    .unwrap()
}

fn lines(notebook: &Notebook) -> u64 {
    notebook.index().count().unwrap()
}

/// Five people, seeded orders of meeting: the same union everywhere, and a quiet meeting moves nothing.
#[test]
fn any_order_of_meetings_ends_in_one_union() {
    for seed in 0..6u64 {
        let memory = Arc::new(InMemory::new());
        let homes: Vec<tempfile::TempDir> = (0..5).map(|_| tempfile::tempdir().unwrap()).collect();
        let mut people: Vec<Notebook> = homes
            .iter()
            .enumerate()
            .map(|(n, home)| notebook(&home.path().join("notebook"), seed * 10 + n as u64 + 1))
            .collect();
        let first = people.first_mut().unwrap();
        first
            .add_aircraft("N0AB", "invented", None, "high_wing_strutted_fixed", false)
            .unwrap();
        first.exchange(&mut bucket(&memory), false).unwrap();
        let mut state = seed + 1;
        for _ in 0..20 {
            state = state * 48_271 % 2_147_483_647;
            let person = people.get_mut((state % 5) as usize).unwrap();
            person.exchange(&mut bucket(&memory), false).unwrap();
            if let Ok(aircraft) = person.the_aircraft(Some("N0AB")) {
                person.vouch(&aircraft).ok();
            }
        }
        for _ in 0..2 {
            for person in &mut people {
                person.exchange(&mut bucket(&memory), false).unwrap();
            }
        }
        let all = lines(people.first().unwrap());
        assert!(all > 2, "{all}");
        for person in &mut people {
            assert_eq!(lines(person), all, "seed {seed}");
            let mut place = bucket(&memory);
            let quiet = person.exchange(&mut place, false).unwrap();
            assert_eq!((quiet.outcome.lines, quiet.put), (0, 0));
            assert!(place.requests() <= 3, "{}", place.requests());
        }
    }
}

#[test]
fn a_store_that_refuses_is_told_from_one_that_writes_over() {
    let memory = Arc::new(InMemory::new());
    let home = tempfile::tempdir().unwrap();
    let person = notebook(&home.path().join("notebook"), 3);
    let probed = probe(&bucket(&memory), person.world(), &person.author()).unwrap();
    assert_eq!(probed.puts, Puts::Refuses);
}
