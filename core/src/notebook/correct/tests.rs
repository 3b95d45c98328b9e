use super::super::{KeySource, Place};
use super::*;
use crate::pack::testing::{jpeg, world};
use crate::record::kinds::Event;

/// After an accident evidence is preserved (49 CFR 830.10): an event that holds forbids removing.
#[test]
fn nothing_is_removed_under_a_hold_and_it_is_after_the_hold_was_lifted() {
    let scratch = tempfile::tempdir().unwrap();
    let root = scratch.path().join("n");
    let key = KeySource::Seed([3; 32]);
    let mut notebook = Notebook::init(&root, world(1), "Invented", "owner", key).unwrap();
    let mut described = |another| {
        notebook
            .add_aircraft(
                "N0HOLD",
                "invented",
                None,
                "high_wing_strutted_fixed",
                another,
            )
            .unwrap()
    };
    let (aircraft, joined) = (described(false), described(true));
    let photo = scratch.path().join("x.jpg");
    std::fs::write(&photo, jpeg(3)).unwrap();
    let place = Place {
        aircraft: Some(aircraft),
        ..Place::default()
    };
    let taken = notebook.take_photo(&photo, &place).unwrap().entry;
    // The hold stands under the other description of the same aircraft.
    notebook.join_aircraft(&aircraft, &joined).unwrap();
    let seen = notebook.now_seen();
    let event = Event {
        event: "hard_landing".into(),
        file: None,
        text: None,
        hold: true,
        zones: Vec::new(),
    };
    let event = notebook.append(&joined, seen, event.into()).unwrap();
    let lines = notebook.index().aircraft_lines(&aircraft).unwrap().len();
    let error = notebook
        .remove_evidence(&taken, "a bystander is seen")
        .unwrap_err();
    assert_eq!(error.kind, ErrorKind::Refused);
    assert!(error.what.contains("holds the evidence"), "{error}");
    let after = notebook.index().aircraft_lines(&aircraft).unwrap().len();
    assert_eq!(after, lines);
    let file = crate::record::Digest::of(&jpeg(3));
    assert!(notebook.original(&file).unwrap().is_some());
    notebook
        .lift_hold(&joined, &event, "released by the authority")
        .unwrap();
    let gone = notebook
        .remove_evidence(&taken, "a bystander is seen")
        .unwrap();
    assert!(gone.deleted && gone.entry.is_some());
    assert!(notebook.original(&file).unwrap().is_none());
    let report = notebook.verify().unwrap();
    assert!(!report.failed(), "{}", report.to_text());
    assert!(report.rows.iter().any(|row| row.code == "removed"));
}
