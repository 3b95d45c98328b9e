//! The main job through the door, in Rust: what the JVM and Python tests do again from outside.
//! Invented data, of which the test knows the truth by construction.

#![allow(clippy::unwrap_used)]

use std::collections::HashMap;

use witnessmark_ffi::*;

fn author() -> Author {
    Author {
        name: "A. Example".into(),
        role: "owner".into(),
    }
}

fn jpeg(folder: &std::path::Path, name: &str, shade: u8) -> Source {
    let path = folder.join(name);
    let picture = image::RgbImage::from_fn(320, 240, |x, y| {
        image::Rgb([shade, (x % 256) as u8, (y % 256) as u8])
    });
    picture.save(&path).unwrap();
    Source::Path {
        path: path.display().to_string(),
    }
}

#[test]
fn a_walk_from_first_start_to_a_pack_that_another_notebook_receives() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("book").display().to_string();
    let now = |day: u32| format!("2026-05-{day:02}T09:10:00+02:00");
    let book = Notebook::for_tests(root.clone(), author(), vec![7; 32], now(1), 1).unwrap();
    assert_eq!(first_start().asks.len(), 3);
    let craft = book
        .add_aircraft(
            "N0123".into(),
            "Invented 2".into(),
            None,
            "low_wing_fixed".into(),
            false,
        )
        .unwrap();
    book.start_walkaround(
        craft.clone(),
        WalkaroundGiven {
            purpose: Some("preflight".into()),
            hours: Some("1200.5".into()),
            landings: None,
        },
    )
    .unwrap();
    let walk = book.walk(craft.clone(), RouteGiven::default()).unwrap();
    assert_eq!(walk.purpose.as_deref(), Some("preflight"));
    let first = walk.next_stop.unwrap();
    let stop = book
        .stop(craft.clone(), first.clone(), RouteGiven::default())
        .unwrap();
    assert_eq!(stop.actions[0].key, "nothing_found");
    assert_eq!(stop.actions[0].size, "main");
    let next = book
        .nothing_found_next(craft.clone(), first.clone(), RouteGiven::default())
        .unwrap();
    assert!(next.entry.is_some());
    assert_eq!(next.stop, stop.next_stop);
    let walk = book.walk(craft.clone(), RouteGiven::default()).unwrap();
    assert_eq!(walk.stops[0].looked, walk.stops[0].zones);

    let place = PlaceGiven {
        aircraft: Some(craft.clone()),
        stop: next.stop.clone(),
        taken: true,
        ..PlaceGiven::default()
    };
    let photo = book
        .take_photo(jpeg(folder.path(), "a.jpg", 10), place.clone())
        .unwrap();
    assert_eq!(book.unplaced(craft.clone()).unwrap().captures.len(), 1);
    let draft = book
        .hear(
            craft.clone(),
            "crack two inches on the left wheel fairing".into(),
            vec![],
            None,
        )
        .unwrap();
    assert!(draft.may_keep, "{draft:?}");
    let kept = book.keep(craft.clone(), draft.draft, None).unwrap();
    let finding = kept.opened[0].clone();
    let screen = book.finding(craft.clone(), finding.clone()).unwrap();
    assert_eq!(screen.condition, "crack");
    book.place(
        photo.entry,
        PlaceGiven {
            finding: Some(finding.clone()),
            zone: Some(screen.line.zone.clone()),
            ..place
        },
    )
    .unwrap();
    assert!(book.unplaced(craft.clone()).unwrap().captures.is_empty());
    assert_eq!(
        book.finding(craft.clone(), finding.clone())
            .unwrap()
            .photos
            .len(),
        1
    );
    let done = book.finish_walkaround(craft.clone()).unwrap();
    assert!(!done.proof_code.is_empty());

    // a month later: an inch longer by the same means is worse; half an inch by eye would not be
    book.set_clock("2026-06-03T09:00:00+02:00".into()).unwrap();
    book.sight(
        craft.clone(),
        finding.clone(),
        SightingGiven {
            measures: vec![MeasureGiven {
                quantity: "length".into(),
                value: "4".into(),
                unit: "in".into(),
                method: "ruler".into(),
                ..MeasureGiven::default()
            }],
            ..SightingGiven::default()
        },
    )
    .unwrap();
    let lines = book.findings(craft.clone()).unwrap();
    assert_eq!(lines[0].change, "worse", "{lines:?}");
    // What was measured outside a walkaround was looked at; in a new one it is covered again.
    let again = book.again(craft.clone()).unwrap();
    assert_eq!((again.count, again.covered), (1, 0));
    assert_eq!(again.tools, ["a ruler"]);
    let check = book.verify().unwrap();
    assert!(!check.failed, "{check:?}");
    let out = folder.path().join("pack.zip").display().to_string();
    book.pack(
        craft.clone(),
        "review".into(),
        None,
        false,
        false,
        out.clone(),
    )
    .unwrap();

    let other = Notebook::for_tests(
        folder.path().join("other").display().to_string(),
        Author {
            name: "B. Example".into(),
            role: "mechanic".into(),
        },
        vec![8; 32],
        "2026-06-04T09:00:00+02:00".into(),
        2,
    )
    .unwrap();
    let file = std::fs::File::open(&out).unwrap();
    let received = other
        .receive(
            Source::Descriptor {
                descriptor: std::os::fd::AsRawFd::as_raw_fd(&file),
                name: "pack.zip".into(),
            },
            false,
        )
        .unwrap();
    assert!(!received.refused && received.entries > 0, "{received:?}");
    assert_eq!(other.findings(craft.clone()).unwrap()[0].id, finding);
    assert_eq!(other.vouch(craft.clone()).unwrap(), 1);
    book.shut().unwrap();
    book.shut().unwrap();
    assert!(matches!(book.aircraft(), Err(Trouble::Closed { .. })));
    assert!(matches!(
        Notebook::open(root, Some(vec![1; 31])),
        Err(Trouble::Input { .. })
    ));
    let view = other.event(craft.clone(), "hard_landing".into()).unwrap();
    assert!(!view.places.is_empty());
    other
        .write_reading(
            craft.clone(),
            "oil_found".into(),
            "6.5".into(),
            Some("qt".into()),
            None,
            HashMap::new(),
        )
        .unwrap();
    assert!(other.readings(craft).unwrap().kinds[0].last.contains("6.5"));
}

#[test]
fn a_walk_of_the_wrong_aircraft_moves_and_a_recording_goes() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("book").display().to_string();
    let now = "2026-05-01T09:10:00+02:00".to_owned();
    let book = Notebook::for_tests(root, author(), vec![7; 32], now, 1).unwrap();
    let add = |registration: &str| {
        book.add_aircraft(
            registration.into(),
            "Invented 2".into(),
            None,
            "low_wing_fixed".into(),
            false,
        )
        .unwrap()
    };
    let (wrong, right) = (add("N0123"), add("N0456"));
    let walk = book
        .start_walkaround(wrong.clone(), WalkaroundGiven::default())
        .unwrap();
    let place = PlaceGiven {
        aircraft: Some(wrong.clone()),
        stop: Some("propeller".into()),
        taken: true,
        ..PlaceGiven::default()
    };
    book.take_photo(jpeg(folder.path(), "a.jpg", 10), place)
        .unwrap();
    let says = book.move_walkaround(walk, right.clone()).unwrap();
    assert!(says.starts_with("Moved to N0456"), "{says}");
    assert!(book.unplaced(wrong).unwrap().captures.is_empty());
    assert_eq!(book.unplaced(right.clone()).unwrap().captures.len(), 1);

    let sound = folder.path().join("a.wav");
    // RIFF header of eight silent samples (Microsoft, Multimedia Programming Interface 1.0, from memory)
    let mut wav = b"RIFF\x2c\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0\x40\x1f\0\0\x40\x1f\0\0\x01\0\x08\0data\x08\0\0\0".to_vec();
    wav.extend([128; 8]);
    std::fs::write(&sound, wav).unwrap();
    let place = PlaceGiven {
        aircraft: Some(right.clone()),
        ..PlaceGiven::default()
    };
    let voice = book
        .take_voice(
            Source::Path {
                path: sound.display().to_string(),
            },
            place,
        )
        .unwrap();
    assert!(
        book.remove_recording(voice.entry, "another person's voice".into())
            .unwrap()
    );
    assert_eq!(book.unplaced(right).unwrap().captures.len(), 1);
}
