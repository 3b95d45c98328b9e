//! Vouching from open notebooks, where two people described one aircraft and joined the two.

use super::super::KeySource;
use super::*;
use crate::notebook::{NewWalkaround, Place, verify_folder};
use crate::pack::testing::world;
use std::path::Path;

fn person(root: &Path, seed: u8) -> Notebook {
    let name = format!("Invented {seed}");
    let key = KeySource::Seed([seed; 32]);
    Notebook::init(root, world(u64::from(seed)), &name, "owner", key).unwrap()
}

fn described(notebook: &mut Notebook, mark: &str) -> Digest {
    notebook
        .add_aircraft(mark, "invented", None, "high_wing_strutted_fixed", true)
        .unwrap()
}

fn walked(notebook: &mut Notebook, aircraft: &Digest) {
    notebook
        .start_walkaround(aircraft, &NewWalkaround::default())
        .unwrap();
    notebook.finish_walkaround(aircraft).unwrap();
}

#[test]
fn both_chains_of_an_author_are_vouched_for_where_descriptions_are_joined() {
    let scratch = tempfile::tempdir().unwrap();
    let (one, two) = (scratch.path().join("one"), scratch.path().join("two"));
    let (mut first, mut second) = (person(&one, 1), person(&two, 2));
    let (x, y) = (
        described(&mut first, "N0ONE"),
        described(&mut second, "N0TWO"),
    );
    walked(&mut first, &x);
    first.close().unwrap();
    second.receive(&one, false).unwrap();
    second.join_aircraft(&y, &x).unwrap();
    second.close().unwrap();
    // The first goes on in both descriptions: a chain of the same author under each.
    let mut first = Notebook::open(&one, world(11), KeySource::Seed([1; 32])).unwrap();
    first.receive(&two, false).unwrap();
    walked(&mut first, &y);
    let author = first.author();
    first.close().unwrap();
    let mut second = Notebook::open(&two, world(12), KeySource::Seed([2; 32])).unwrap();
    second.receive(&one, false).unwrap();
    let made = second.vouch(&y).unwrap();
    assert_eq!(made.len(), 2, "{made:?}");
    assert!(made.iter().all(|vouched| vouched.author == author));
    let mut under: Vec<Option<Digest>> = made.iter().map(|vouched| vouched.aircraft).collect();
    under.sort();
    assert_eq!(under, [None, Some(x)]);
    assert!(second.vouch(&y).unwrap().is_empty(), "once is enough");
    second.close().unwrap();
    let report = verify_folder(&world(13), &two).unwrap();
    assert!(!report.failed(), "{}", report.to_text());
    let mut parts: Vec<Digest> = report.vouched.iter().map(|part| part.aircraft).collect();
    parts.sort();
    let mut both = vec![x, y];
    both.sort();
    assert_eq!(parts, both);
}

/// The larger number of one chain must not hide that the other was written on.
#[test]
fn a_chain_that_does_not_verify_is_not_vouched_for() {
    let scratch = tempfile::tempdir().unwrap();
    let (one, two) = (scratch.path().join("one"), scratch.path().join("two"));
    let (mut first, mut second) = (person(&one, 1), person(&two, 2));
    let x = described(&mut first, "N0ONE");
    walked(&mut first, &x);
    let author = first.author();
    first.close().unwrap();
    second.receive(&one, false).unwrap();
    let path = two.join(format!("record/{x}/{author}.jsonl"));
    let text = std::fs::read_to_string(&path).unwrap();
    std::fs::write(&path, text.replacen("N0ONE", "N0TEN", 1)).unwrap();
    let error = second.vouch(&x).unwrap_err();
    assert_eq!(error.kind, ErrorKind::Damaged);
}

#[test]
fn a_place_under_a_finish_and_two_finishes_are_proven() {
    let scratch = tempfile::tempdir().unwrap();
    let mut notebook = person(scratch.path(), 3);
    let aircraft = described(&mut notebook, "N0ONE");
    let place = Place {
        aircraft: Some(aircraft),
        ..Place::default()
    };
    notebook
        .start_walkaround(&aircraft, &NewWalkaround::default())
        .unwrap();
    let note = notebook.write_note("seen", &place).unwrap().entry;
    notebook.finish_walkaround(&aircraft).unwrap();
    for _ in 0..3 {
        walked(&mut notebook, &aircraft);
    }
    let mut finishes = notebook.finishes(&aircraft).unwrap();
    // The clock stands still here, so the order of the list says nothing.
    finishes.sort_by_key(|finish| finish.size);
    assert_eq!(finishes.len(), 4);
    let proof = notebook.line_proof(&note).unwrap();
    assert_eq!(proof.finish, finishes[0].finish);
    proof.check(&proof.text).unwrap();
    let mut other = proof.text.clone();
    other = other.replacen("seen", "been", 1);
    assert!(proof.check(&other).is_err());
    for (i, older) in finishes.iter().enumerate() {
        for newer in &finishes[i..] {
            let shown = notebook.consistency(&older.finish, &newer.finish).unwrap();
            assert_eq!((shown.old_root, shown.new_root), (older.root, newer.root));
            shown.check().unwrap();
            let mut wrong = shown.clone();
            wrong.new_root.0[0] ^= 1;
            assert!(wrong.check().is_err());
        }
    }
    let error = notebook
        .consistency(&finishes[2].finish, &finishes[1].finish)
        .unwrap_err();
    assert_eq!(error.kind, ErrorKind::BadValue);
}
