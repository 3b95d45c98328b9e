//! Two phones meet in a folder that only their shells can reach: the shell does the core's steps and
//! decides nothing. Invented data, of which the test knows the truth by construction.
#![allow(clippy::unwrap_used)]

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use witnessmark_ffi::*;

type There = BTreeMap<String, Vec<u8>>;

/// What a shell does, and all that it does. `lose` names a file that vanishes between list and get.
fn exchange(
    book: &Notebook,
    there: &mut There,
    folder: &Path,
    lose: Option<&str>,
) -> (u64, u64, u64, usize) {
    std::fs::create_dir_all(folder).unwrap();
    for turn in 1..10 {
        let list = there
            .iter()
            .map(|(name, bytes)| FileGiven {
                name: name.clone(),
                bytes: bytes.len() as u64,
            })
            .collect();
        let view = book
            .exchange_turn(list, folder.display().to_string())
            .unwrap();
        if let Some(lost) = lose {
            there.retain(|name, _| !name.contains(lost));
        }
        for step in view.steps {
            if step.get {
                if let Some(bytes) = there.get(&step.name) {
                    std::fs::write(step.path, bytes).unwrap();
                }
            } else {
                there.insert(step.name, std::fs::read(step.path).unwrap());
            }
        }
        if view.done {
            std::fs::remove_dir_all(folder).unwrap();
            let r = view.received;
            assert!(!r.refused);
            assert!(r.says.contains(&r.entries.to_string()), "{}", r.says);
            return (r.entries, r.files, r.left, turn);
        }
    }
    unreachable!("an exchange that does not end");
}

fn book(root: &Path, name: &str, seed: u8) -> Arc<Notebook> {
    let author = Author {
        name: name.into(),
        role: "owner".into(),
    };
    Notebook::for_tests(
        root.join(name).display().to_string(),
        author,
        vec![seed; 32],
        "2026-05-01T09:10:00+02:00".into(),
        u64::from(seed),
    )
    .unwrap()
}

fn photo(root: &Path, shade: u8) -> Source {
    let path = root.join(format!("{shade}.png"));
    image::RgbImage::from_pixel(64, 48, image::Rgb([shade, 0, 9]))
        .save(&path)
        .unwrap();
    Source::Path {
        path: path.display().to_string(),
    }
}

#[test]
fn two_phones_meet_through_their_shells() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path();
    let (one, two) = (book(root, "one", 1), book(root, "two", 2));
    let craft = one
        .add_aircraft(
            "N0123".into(),
            "Invented 2".into(),
            None,
            "low_wing_fixed".into(),
            false,
        )
        .unwrap();
    let place = PlaceGiven {
        aircraft: Some(craft.clone()),
        taken: true,
        ..PlaceGiven::default()
    };
    for shade in [10, 20, 30] {
        one.take_photo(photo(root, shade), place.clone()).unwrap();
    }
    let mut there = There::new();
    there.insert("holiday.jpg".into(), b"a stranger's file".to_vec());
    there.insert("v1/e/../../escape".into(), b"another".to_vec());
    let (entries, _, left, turns) = exchange(&one, &mut there, &root.join("way"), None);
    assert_eq!((entries, turns), (0, 1), "nothing to fetch: one turn");
    assert!(left >= 4, "three photos and a segment: {left}");

    let (entries, files, left, turns) = exchange(&two, &mut there, &root.join("way"), None);
    assert!(
        entries >= 4 && files >= 3 && left == 0,
        "{entries} {files} {left}"
    );
    assert!(turns <= 3, "list, lines, originals: {turns}");
    assert_eq!(two.aircraft().unwrap()[0].registration, "N0123");
    assert!(!two.verify().unwrap().failed);

    // Quiet the second time, and the other way round.
    let quiet = exchange(&two, &mut there, &root.join("way"), None);
    assert_eq!((quiet.0, quiet.1, quiet.2), (0, 0, 0));
    two.take_photo(photo(root, 40), place).unwrap();
    exchange(&two, &mut there, &root.join("way"), None);
    let (entries, files, ..) = exchange(&one, &mut there, &root.join("way"), None);
    assert!(entries >= 2 && files >= 1, "{entries} {files}");
    assert!(!one.verify().unwrap().failed);

    // What vanishes between the list and the copying is not there yet; the rest comes, and it ends.
    let three = book(root, "three", 3);
    let lost = there
        .keys()
        .find(|name| name.starts_with("v1/e/") && name.ends_with(".png"))
        .unwrap()
        .clone();
    let (entries, ..) = exchange(&three, &mut there, &root.join("way"), Some(&lost));
    assert!(entries >= 4, "{entries}");

    // A file whose bytes are not its name is left alone.
    let four = book(root, "four", 4);
    let segment = there
        .keys()
        .find(|name| name.ends_with(".jsonl"))
        .unwrap()
        .clone();
    there.get_mut(&segment).unwrap()[10] ^= 1;
    exchange(&four, &mut there, &root.join("way"), None);
    assert!(!four.verify().unwrap().failed);
}

#[test]
fn an_empty_folder_name_is_a_typed_error_everywhere() {
    let input = |outcome: Result<(), Trouble>| matches!(outcome, Err(Trouble::Input { what_to_do, .. }) if !what_to_do.is_empty());
    let author = || Author {
        name: "A".into(),
        role: "owner".into(),
    };
    assert!(input(Notebook::open(String::new(), None).map(|_| ())));
    assert!(input(Notebook::read(String::new()).map(|_| ())));
    assert!(input(
        Notebook::make(String::new(), author(), None).map(|_| ())
    ));
    assert!(input(verify_folder(String::new()).map(|_| ())));
    assert!(!notebook_is_in(String::new()));
    let folder = tempfile::tempdir().unwrap();
    let book = book(folder.path(), "one", 1);
    assert!(input(book.exchange(String::new(), false).map(|_| ())));
    assert!(input(book.exchange_turn(vec![], String::new()).map(|_| ())));
    assert!(input(book.backup(String::new()).map(|_| ())));
    assert!(input(book.receive_notebook(String::new()).map(|_| ())));
}
