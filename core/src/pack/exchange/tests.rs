//! Invented people who meet; truth by construction.

mod sets;
mod words;

use super::super::testing::{Author, jpeg, owner, world};
use super::here::Here;
use super::*;
use crate::record::key::Signer;
use std::path::Path;

fn meet_in(root: &Path, own: Digest, place: &Path) -> Met {
    let world = world(7);
    meet(
        &world,
        root,
        own,
        &mut InFolder::new(&world, place).unwrap(),
        false,
        &mut |_| {},
    )
    .unwrap()
}

/// Everything that a notebook would show to others, by name.
fn holdings(root: &Path) -> Vec<String> {
    let here = Here::load(&world(1), root).unwrap();
    let mut out: Vec<String> = here
        .chains
        .values()
        .flat_map(|lines| lines.iter().map(|line| line.digest.hex()))
        .chain(here.originals.keys().map(Digest::hex))
        .chain(here.slips.keys().map(Digest::hex))
        .collect();
    out.sort();
    out
}

fn names_in(place: &Path) -> Vec<String> {
    let world = world(1);
    let mut folder = InFolder::new(&world, place).unwrap();
    let mut out: Vec<String> = [names::LINES, names::ORIGINALS, names::SLIPS]
        .iter()
        .flat_map(|prefix| folder.list(prefix).unwrap())
        .map(|listed| listed.name)
        .collect();
    out.sort();
    out
}

/// An author of the same aircraft with one finished walkaround.
fn another(seed: u8, aircraft: Digest, root: &Path) -> Author {
    let mut author = Author::open(seed, aircraft, root);
    let walkaround = author.start();
    author.photo(root, &jpeg(seed), walkaround);
    author.finish(walkaround);
    author.save(root);
    author
}

#[test]
fn three_people_end_with_one_record_and_each_line_lies_there_once() {
    let place = tempfile::tempdir().unwrap();
    let homes: Vec<tempfile::TempDir> = (0..3).map(|_| tempfile::tempdir().unwrap()).collect();
    let (first, _) = owner(homes[0].path());
    let mut authors = vec![first];
    for (seed, home) in [21, 22].into_iter().zip(&homes[1..]) {
        let author = another(seed, authors[0].aircraft, home.path());
        authors.push(author);
    }
    for round in 0..2 {
        for (home, author) in homes.iter().zip(&authors) {
            let met = meet_in(home.path(), author.signer.public(), place.path());
            assert!(
                !met.outcome.refused,
                "{round}: {:?}",
                met.outcome.report.rows
            );
        }
    }
    let one = holdings(homes[0].path());
    assert!(one.len() > 12);
    for home in &homes {
        assert_eq!(holdings(home.path()), one);
    }
    let segments = names_in(place.path())
        .iter()
        .filter(|name| name.starts_with(names::LINES))
        .count();
    assert_eq!(segments, 3, "one segment an author");

    // A later walkaround is one more segment with its own lines, not the chain again.
    let walkaround = authors[1].start();
    authors[1].finish(walkaround);
    authors[1].save(homes[1].path());
    let met = meet_in(homes[1].path(), authors[1].signer.public(), place.path());
    assert_eq!((met.put, met.segments), (1, 1));
    let met = meet_in(homes[2].path(), authors[2].signer.public(), place.path());
    assert_eq!((met.outcome.lines, met.put), (2, 0));
    assert!(
        met.outcome.report.rows.is_empty(),
        "{:?}",
        met.outcome.report.rows
    );
    let again = meet_in(homes[2].path(), authors[2].signer.public(), place.path());
    assert_eq!((again.outcome.lines, again.put), (0, 0));
}

#[test]
fn a_dry_run_moves_nothing_and_says_what_would() {
    let place = tempfile::tempdir().unwrap();
    let (home, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let (author, _) = owner(home.path());
    let world = world(3);
    let dry = |root: &Path, own: Digest| {
        meet(
            &world,
            root,
            own,
            &mut InFolder::new(&world, place.path()).unwrap(),
            true,
            &mut |_| {},
        )
        .unwrap()
    };
    let said = dry(home.path(), author.signer.public());
    assert!(said.put > 3 && said.put_bytes > 100);
    assert!(names_in(place.path()).is_empty());
    let did = meet_in(home.path(), author.signer.public(), place.path());
    assert_eq!((said.put, said.put_bytes), (did.put, did.put_bytes));
    let said = dry(other.path(), Digest([5; 32]));
    assert!(holdings(other.path()).is_empty());
    let did = meet_in(other.path(), Digest([5; 32]), place.path());
    assert_eq!(
        (
            said.outcome.lines,
            said.outcome.new_files,
            said.outcome.slips,
            said.got_bytes
        ),
        (
            did.outcome.lines,
            did.outcome.new_files,
            did.outcome.slips,
            did.got_bytes
        )
    );
    assert_eq!(holdings(other.path()), holdings(home.path()));
}

/// What is wrong in the place is named, left alone, and keeps nothing else out.
#[test]
fn hostile_and_half_copied_files_are_left_alone() {
    let place = tempfile::tempdir().unwrap();
    let (home, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let (author, _) = owner(home.path());
    meet_in(home.path(), author.signer.public(), place.path());
    let listed = names_in(place.path());
    let original = listed
        .iter()
        .find(|n| n.starts_with(names::ORIGINALS))
        .unwrap();
    std::fs::write(place.path().join(original), b"half").unwrap();
    // A segment under another's name, a segment that was written over, garbage, a newer layout.
    let stranger = tempfile::tempdir().unwrap();
    let foreign = another(77, author.aircraft, stranger.path());
    let bytes: Vec<u8> = foreign
        .lines
        .iter()
        .flat_map(|line| [line.bytes.clone(), b"\n".to_vec()].concat())
        .collect();
    let wrong = Segment {
        author: author.signer.public(),
        aircraft: author.aircraft,
        from: 0,
        to: foreign.lines.len() as u64 - 1,
        digest: Digest::of(&bytes),
    };
    super::super::testing::write(place.path(), &wrong.name(), &bytes);
    let over = Segment {
        digest: Digest([9; 32]),
        ..wrong.clone()
    };
    super::super::testing::write(place.path(), &over.name(), b"written over\n");
    super::super::testing::write(place.path(), "v1/n/notes.txt", b"hello");
    super::super::testing::write(place.path(), "v1/e/zz/junk.bin", b"junk");
    let met = meet_in(other.path(), Digest([5; 32]), place.path());
    assert!(!met.outcome.refused, "{:?}", met.outcome.report.rows);
    assert_eq!(met.outcome.lines, author.lines.len() as u64);
    let codes = |code: &str| {
        met.outcome
            .report
            .rows
            .iter()
            .filter(|row| row.code == code)
            .count()
    };
    assert_eq!(codes("altered"), 3, "{:?}", met.outcome.report.rows);
    assert_eq!(codes("stray"), 2);
    assert_eq!(
        codes("not_handed_over"),
        1,
        "{:#?}",
        met.outcome.report.rows
    );
    // Once the bad copy is deleted, whoever has the original leaves it again, and it comes.
    std::fs::remove_file(place.path().join(original)).unwrap();
    let met = meet_in(home.path(), author.signer.public(), place.path());
    assert_eq!(met.put, 1);
    let met = meet_in(other.path(), Digest([5; 32]), place.path());
    assert_eq!(met.outcome.new_files, 1);
    assert_eq!(holdings(other.path()), holdings(home.path()));
}

#[test]
fn a_segment_that_is_not_listed_yet_is_a_gap_and_no_failure() {
    let place = tempfile::tempdir().unwrap();
    let (home, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let (mut author, _) = owner(home.path());
    meet_in(home.path(), author.signer.public(), place.path());
    let before = names_in(place.path());
    let walkaround = author.start();
    author.finish(walkaround);
    author.save(home.path());
    meet_in(home.path(), author.signer.public(), place.path());
    let early = before.iter().find(|n| n.ends_with(".jsonl")).unwrap();
    let hidden = tempfile::tempdir().unwrap();
    std::fs::rename(place.path().join(early), hidden.path().join("x")).unwrap();
    let met = meet_in(other.path(), Digest([5; 32]), place.path());
    assert!(
        !met.outcome.refused && !met.outcome.report.failed(),
        "{:?}",
        met.outcome.report.rows
    );
    assert!(met.outcome.report.rows.iter().any(|row| row.code == "gap"));
    assert_eq!(met.outcome.lines, 2);
    std::fs::rename(hidden.path().join("x"), place.path().join(early)).unwrap();
    let met = meet_in(other.path(), Digest([5; 32]), place.path());
    assert!(
        met.outcome.report.rows.is_empty(),
        "{:?}",
        met.outcome.report.rows
    );
    assert_eq!(holdings(other.path()), holdings(home.path()));
}

/// Two versions of a chain stand side by side, and both travel on.
#[test]
fn two_versions_of_a_line_both_travel() {
    let place = tempfile::tempdir().unwrap();
    let homes: Vec<tempfile::TempDir> = (0..3).map(|_| tempfile::tempdir().unwrap()).collect();
    let (author, _) = owner(homes[0].path());
    std::fs::create_dir_all(homes[1].path()).unwrap();
    meet_in(homes[0].path(), author.signer.public(), place.path());
    meet_in(homes[1].path(), Digest([5; 32]), place.path());
    // The holder of the key writes the last part anew.
    let mut rewritten = author;
    rewritten.lines.truncate(3);
    let walkaround = rewritten.start();
    rewritten.finish(walkaround);
    std::fs::remove_dir_all(homes[0].path().join("record")).unwrap();
    rewritten.save(homes[0].path());
    meet_in(homes[0].path(), rewritten.signer.public(), place.path());
    let met = meet_in(homes[1].path(), Digest([5; 32]), place.path());
    assert!(
        met.outcome
            .report
            .rows
            .iter()
            .any(|r| r.code == "two_lines_one_number")
    );
    let met = meet_in(homes[2].path(), Digest([6; 32]), place.path());
    assert!(
        met.outcome
            .report
            .rows
            .iter()
            .any(|r| r.code == "two_lines_one_number")
    );
    let lines = |home: &tempfile::TempDir| {
        Here::load(&world(1), home.path())
            .unwrap()
            .chains
            .values()
            .map(|lines| lines.iter().count())
            .sum::<usize>()
    };
    assert_eq!(lines(&homes[1]), lines(&homes[2]));
    assert!(lines(&homes[1]) > rewritten.lines.len());
}
