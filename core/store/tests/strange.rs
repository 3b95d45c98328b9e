//! What may lie in a bucket that was nobody's to put there: each is named, left alone, and keeps
//! nothing else out. A bad object's exact words are the check.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod common;

use common::{Odd, bucket, everything, holdings};
use std::path::PathBuf;
use std::sync::Arc;
use witnessmark_core::pack::exchange::{Met, names};
use witnessmark_core::record::Digest;

/// An author has met; a reader meets after `spoil` was at the store.
struct Scene {
    scratch: tempfile::TempDir,
    store: Arc<Odd>,
    names: Vec<String>,
}

impl Scene {
    fn new() -> Self {
        let scratch = tempfile::tempdir().unwrap();
        let store = Arc::new(Odd::good());
        let mut author = common::person(&scratch.path().join("author"), 1);
        let aircraft = common::aircraft(&mut author, "N0AB");
        common::walk(&mut author, &aircraft, scratch.path(), &[1, 2]);
        author.exchange(&mut bucket(&store), false).unwrap();
        author.close().unwrap();
        let names = everything(&store.inner)
            .into_keys()
            .map(|name| name.strip_prefix("notebooks/").unwrap().to_owned())
            .collect();
        Self {
            scratch,
            store,
            names,
        }
    }

    fn segment(&self) -> names::Segment {
        let found = self.names.iter().find_map(|name| match names::read(name) {
            Some(names::Held::Segment(segment)) => Some(segment),
            _ => None,
        });
        found.unwrap()
    }

    fn author(&self) -> PathBuf {
        self.scratch.path().join("author")
    }

    /// The reader meets; the author's notebook and what lay there before stay as they were.
    fn read(&self) -> (Met, Vec<String>) {
        let (held, lay) = (holdings(&self.author()), everything(&self.store.inner));
        let home = self.scratch.path().join("reader");
        let mut reader = common::person(&home, 2);
        let met = reader.exchange(&mut bucket(&self.store), false).unwrap();
        assert!(!met.outcome.refused);
        let mut author = common::again(&self.author(), 1);
        author.exchange(&mut bucket(&self.store), false).unwrap();
        assert_eq!(holdings(&self.author()), held);
        let after = everything(&self.store.inner);
        for (name, bytes) in lay {
            assert!(after[&name] == bytes, "{name} was touched");
        }
        (met, holdings(&home))
    }

    /// Everything of the author came, whatever else lay there.
    fn whole(&self, reader: &[String]) {
        for one in holdings(&self.author()) {
            assert!(reader.contains(&one), "{one} did not come");
        }
    }
}

fn rows(met: &Met) -> Vec<(&str, &str, &str)> {
    met.outcome
        .report
        .rows
        .iter()
        .map(|row| (row.code, row.file.as_str(), row.what.as_str()))
        .collect()
}

#[test]
fn strangers_objects_are_counted_and_left_alone() {
    let scene = Scene::new();
    common::lay(&scene.store.inner, "v1/n/holiday.jpg", b"x");
    common::lay(&scene.store.inner, "v1/n/a/b/c/d.jsonl", b"{}");
    common::lay(&scene.store.inner, "accounts/2026.xlsx", b"x");
    let (met, reader) = scene.read();
    assert_eq!(
        rows(&met),
        [(
            "stray",
            "v1/n/a/b/c/d.jsonl",
            "2 files lie there that belong to no meeting; they were left alone"
        )]
    );
    scene.whole(&reader);
}

#[test]
fn an_object_that_is_not_its_names_digest_is_refused() {
    let scene = Scene::new();
    let original = scene
        .names
        .iter()
        .find(|n| n.starts_with(names::ORIGINALS))
        .unwrap();
    common::lay(&scene.store.inner, original, b"something else");
    let (met, reader) = scene.read();
    let rows = rows(&met);
    assert_eq!(
        rows[0],
        (
            "altered",
            original.as_str(),
            "what lies there is not what its name says; it was left alone"
        )
    );
    assert_eq!(
        (rows.len(), rows[1].0, rows[1].2),
        (
            2,
            "not_handed_over",
            "one file that lines speak of is not there yet"
        )
    );
    let digest = original
        .rsplit('/')
        .next()
        .unwrap()
        .split('.')
        .next()
        .unwrap();
    assert!(!reader.iter().any(|name| name.starts_with(digest)));
}

#[test]
fn a_segment_of_another_chain_is_refused() {
    let scene = Scene::new();
    let segment = scene.segment();
    let bytes = everything(&scene.store.inner)[&format!("notebooks/{}", segment.name())].clone();
    // The author's own lines under a stranger's name.
    let wrong = names::Segment {
        author: Digest([7; 32]),
        ..segment
    };
    common::lay(&scene.store.inner, &wrong.name(), &bytes);
    let (met, reader) = scene.read();
    assert_eq!(
        rows(&met),
        [(
            "altered",
            wrong.name().as_str(),
            "it holds a line of another chain"
        )]
    );
    scene.whole(&reader);
}

#[test]
fn a_store_half_full_of_garbage_gives_what_is_good_in_it() {
    let scene = Scene::new();
    let segment = scene.segment();
    let mut state = 1u64;
    for n in 0..200u64 {
        // Lehmer's generator (Park and Miller 1988).
        state = state * 48_271 % 2_147_483_647;
        let bytes: Vec<u8> = (0..state % 400)
            .map(|k| (state >> (k % 23)) as u8)
            .collect();
        let name = match n % 4 {
            0 => names::original(&Digest([n as u8; 32]), "jpg"),
            1 => names::slip(&Digest([n as u8; 32])),
            2 => names::Segment {
                from: n,
                to: n + 5,
                digest: Digest::of(&bytes),
                ..segment.clone()
            }
            .name(),
            _ => format!("v1/n/{state}"),
        };
        common::lay(&scene.store.inner, &name, &bytes);
    }
    let (met, reader) = scene.read();
    let count = |code: &str| {
        met.outcome
            .report
            .rows
            .iter()
            .filter(|row| row.code == code)
            .count()
    };
    assert_eq!(count("altered"), 50, "{:?}", rows(&met));
    assert_eq!(count("stray"), 1);
    assert!(
        rows(&met).iter().any(
            |row| row.2 == "50 files lie there that belong to no meeting; they were left alone"
        )
    );
    scene.whole(&reader);
}
