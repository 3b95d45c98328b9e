//! Every bit of a notebook's files turned, one at a time: detected, and located to the file and, in a
//! chain, to the line. A sample in the usual run, every bit where WITNESSMARK_DEEP is set. (Bits of
//! zipped packs are turned in `core/src/pack/receive/tests.rs`.)
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};
use std::sync::Arc;

use witnessmark_core::notebook::{
    KeySource, NewWalkaround, Notebook, Place, Withhold, verify_folder,
};
use witnessmark_core::pack::cut::Cut;
use witnessmark_core::pack::receive::judge;
use witnessmark_core::pack::verify::Status;
use witnessmark_core::record::parse_when;
use witnessmark_core::world::{GivenClock, SeededEntropy, SystemFiles, World};

fn world(seed: u64) -> World {
    World {
        clock: Arc::new(GivenClock::new(
            parse_when("2026-05-03T09:10:00+02:00").unwrap(),
        )),
        entropy: Arc::new(SeededEntropy::new(seed)),
        files: Arc::new(SystemFiles),
    }
}

fn files(folder: &Path, out: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap().flatten() {
        if entry.path().is_dir() {
            files(&entry.path(), out);
        } else {
            out.push(entry.path());
        }
    }
}

/// Which bits: all in the deep run; else some of each file, its first and last bytes among them.
fn bits(len: usize) -> Vec<usize> {
    let all = len * 8;
    if std::env::var_os("WITNESSMARK_DEEP").is_some() {
        return (0..all).collect();
    }
    let step = (all / 250).max(1) | 1;
    let mut some: Vec<usize> = (0..all).step_by(step).collect();
    some.extend(all.saturating_sub(16)..all);
    some
}

fn writable(path: &Path) {
    use std::os::unix::fs::PermissionsExt;
    let mode = if path.ends_with("author.pk8") {
        0o600
    } else {
        0o644
    };
    std::fs::set_permissions(path, std::fs::Permissions::from_mode(mode)).unwrap();
}

fn made(root: &Path) -> PathBuf {
    let mut notebook =
        Notebook::init(root, world(1), "Invented", "owner", KeySource::File).unwrap();
    let aircraft = notebook
        .add_aircraft(
            "N0TEST",
            "invented",
            None,
            "high_wing_strutted_fixed",
            false,
        )
        .unwrap();
    let place = Place {
        aircraft: Some(aircraft),
        ..Place::default()
    };
    let photo = root.with_extension("jpg");
    std::fs::write(&photo, b"\xff\xd8\xff\xdb\0\x04\0\x01\xff\xd9 invented").unwrap();
    let begun = notebook.start_walkaround(&aircraft, &NewWalkaround::default());
    begun.unwrap();
    notebook.take_photo(&photo, &place).unwrap();
    notebook.finish_walkaround(&aircraft).unwrap();
    notebook.write_note("after the finish", &place).unwrap();
    let pack = root.with_extension("pack");
    notebook
        .pack(
            &aircraft,
            Cut::Whole("review"),
            Withhold::default(),
            &pack,
            &|_, _| Ok("<!doctype html>".into()),
        )
        .unwrap();
    notebook.close().unwrap();
    pack
}

#[test]
fn every_bit_of_a_notebook_is_watched() {
    let scratch = tempfile::tempdir().unwrap();
    let root = scratch.path().join("n");
    made(&root);
    // The index remembers last lines; it is derived, so nothing may depend on it.
    for ending in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(root.join(format!("index.sqlite{ending}")));
    }
    let mut all = Vec::new();
    for folder in ["record", "slips", "evidence", "keys"] {
        files(&root.join(folder), &mut all);
    }
    all.push(root.join("notebook.toml"));
    assert!(all.len() >= 6, "{all:?}");
    let (mut tried, mut wrong) = (0, Vec::new());
    for path in all {
        let name = path.strip_prefix(&root).unwrap().display().to_string();
        let good = std::fs::read(&path).unwrap();
        writable(&path);
        for bit in bits(good.len()) {
            let mut hurt = good.clone();
            hurt[bit / 8] ^= 1 << (bit % 8);
            std::fs::write(&path, &hurt).unwrap();
            tried += 1;
            let found = match verify_folder(&world(2), &root) {
                Err(error) => vec![format!("{error}")],
                Ok(report) => report
                    .rows
                    .iter()
                    .filter(|row| row.status == Status::Failure)
                    .map(|row| format!("{} {}", row.file, row.what))
                    .collect(),
            };
            let located = if name.starts_with("record/") {
                // The newline between two lines belongs to either.
                let line = 1 + good[..bit / 8].iter().filter(|b| **b == b'\n').count();
                let places = [format!("{name}:{line} "), format!("{name}:{} ", line + 1)];
                found
                    .iter()
                    .any(|row| places.iter().any(|p| row.starts_with(p)))
            } else if name == "notebook.toml" {
                !found.is_empty()
            } else {
                found.iter().any(|row| row.contains(&name))
            };
            if !located {
                wrong.push(format!(
                    "{name} bit {bit} ({:?}): {found:?}",
                    char::from(good[bit / 8])
                ));
            }
        }
        std::fs::write(&path, &good).unwrap();
    }
    println!("{tried} bits turned");
    assert!(
        wrong.is_empty(),
        "{} of {tried}: {:#?}",
        wrong.len(),
        &wrong[..wrong.len().min(12)]
    );
}

#[test]
fn every_bit_of_a_pack_is_watched() {
    let scratch = tempfile::tempdir().unwrap();
    let pack = made(&scratch.path().join("n"));
    let mut all = Vec::new();
    files(&pack, &mut all);
    let (mut tried, mut wrong) = (0, Vec::new());
    for path in all {
        let name = path.strip_prefix(&pack).unwrap().display().to_string();
        let good = std::fs::read(&path).unwrap();
        for bit in bits(good.len()) {
            let mut hurt = good.clone();
            hurt[bit / 8] ^= 1 << (bit % 8);
            std::fs::write(&path, &hurt).unwrap();
            tried += 1;
            let found = match judge(&world(2), &pack, true) {
                Err(error) => vec![format!("{error}")],
                Ok(judged) if judged.outcome.refused => judged
                    .outcome
                    .report
                    .rows
                    .iter()
                    .map(|row| format!("{} {}", row.file, row.what))
                    .collect(),
                Ok(_) => Vec::new(),
            };
            // A list or a seal that was changed is named itself, or what it no longer fits.
            let list = !name.contains('/');
            if found.is_empty() || !list && !found.iter().any(|row| row.contains(&name)) {
                wrong.push(format!("{name} bit {bit}: {found:?}"));
            }
        }
        std::fs::write(&path, &good).unwrap();
    }
    println!("{tried} bits turned");
    assert!(
        wrong.is_empty(),
        "{} of {tried}: {:#?}",
        wrong.len(),
        &wrong[..wrong.len().min(12)]
    );
}

/// Bad sectors and bad intentions alike: the newline that ends an acknowledged line.
#[test]
fn an_acknowledged_last_line_is_never_cut_off_as_unfinished() {
    let scratch = tempfile::tempdir().unwrap();
    let root = scratch.path().join("n");
    made(&root);
    let mut chains = Vec::new();
    files(&root.join("record"), &mut chains);
    let mut bytes = std::fs::read(&chains[0]).unwrap();
    *bytes.last_mut().unwrap() = 0x0B;
    std::fs::write(&chains[0], &bytes).unwrap();
    let mut notebook = Notebook::open(&root, world(3), KeySource::File).unwrap();
    let aircraft = notebook.the_aircraft(None).unwrap();
    let place = Place {
        aircraft: Some(aircraft),
        ..Place::default()
    };
    let error = notebook.write_note("next", &place).unwrap_err();
    assert!(error.what.contains("it is not cut off"), "{error}");
    assert_eq!(std::fs::read(&chains[0]).unwrap(), bytes);
}
