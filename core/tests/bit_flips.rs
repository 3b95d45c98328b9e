//! Every bit of a notebook's files turned, one at a time: detected, and located to the file and, in a
//! chain, to the line. A sample in the usual run, every bit where WITNESSMARK_DEEP is set. (What a turned
//! bit in a zip does to a notebook that receives it: `core/src/pack/receive/tests.rs`.)
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use witnessmark_core::notebook::{
    KeySource, NewWalkaround, Notebook, Place, Withhold, verify_folder,
};
use witnessmark_core::pack::cut::Cut;
use witnessmark_core::pack::members::{Limits, open};
use witnessmark_core::pack::receive::judge;
use witnessmark_core::pack::verify::Status;
use witnessmark_core::record::parse_when;
use witnessmark_core::world::{Files, GivenClock, SeededEntropy, SystemFiles, World};

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

/// The line, from 1, in which a bit stands; the newline belongs to the line that it ends.
fn line_of(bytes: &[u8], bit: usize) -> usize {
    1 + bytes[..bit / 8].iter().filter(|b| **b == b'\n').count()
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
                // Refused before anything is read: the error names the file.
                Err(error) => {
                    let place = Path::new(&error.place);
                    let place = place.strip_prefix(&root).unwrap_or(place);
                    vec![format!("{} {}", place.display(), error.what)]
                }
                Ok(report) => report
                    .rows
                    .iter()
                    .filter(|row| row.status == Status::Failure)
                    .map(|row| format!("{} {}", row.file, row.what))
                    .collect(),
            };
            let located = if name.starts_with("record/") {
                let line = line_of(&good, bit);
                found
                    .iter()
                    .any(|row| row.starts_with(&format!("{name}:{line} ")))
            } else {
                // The row's own file, not some word in it.
                found.iter().any(|row| row.starts_with(&format!("{name} ")))
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
                Err(error) => {
                    let place = Path::new(&error.place);
                    let place = place.strip_prefix(&pack).unwrap_or(place);
                    vec![format!("{} {}", place.display(), error.what)]
                }
                Ok(judged) if judged.outcome.refused => judged
                    .outcome
                    .report
                    .rows
                    .iter()
                    .map(|row| format!("{} {}", row.file, row.what))
                    .collect(),
                Ok(_) => Vec::new(),
            };
            if !located(&name, &good, bit, &found) {
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

/// A changed file of a pack is named itself; a list's change shows at that list, at the list above it, or at
/// the file in whose line it stands, which no longer fits.
fn located(name: &str, good: &[u8], bit: usize, found: &[String]) -> bool {
    let named = |name: &str| found.iter().any(|row| row.starts_with(&format!("{name} ")));
    if named(name) {
        return true;
    }
    let line = good
        .split(|b| *b == b'\n')
        .nth(line_of(good, bit) - 1)
        .map(|line| String::from_utf8_lossy(line).into_owned())
        .unwrap_or_default();
    match name {
        "manifest-sha256.txt" => named("tagmanifest-sha256.txt") || names_in(&line, &named),
        "bagit.txt" | "bag-info.txt" => named("tagmanifest-sha256.txt"),
        // Nothing stands above it but the seal, which is over its bytes.
        "tagmanifest-sha256.txt" => named("packer.json") || names_in(&line, &named),
        _ => false,
    }
}

/// Whether the file that a manifest's line is about is named.
fn names_in(line: &str, named: &dyn Fn(&str) -> bool) -> bool {
    line.split_once("  ").is_some_and(|(_, file)| named(file))
}

/// Every bit of a zip's headers, directory and end: detected, or without effect on what is read. The
/// content of its members is the folder's, above.
#[test]
fn every_bit_of_a_zip_is_found_or_without_effect() {
    let scratch = tempfile::tempdir().unwrap();
    let root = scratch.path().join("n");
    made(&root);
    let notebook = Notebook::open(&root, world(5), KeySource::File).unwrap();
    let aircraft = notebook.the_aircraft(None).unwrap();
    let pack = scratch.path().join("pack.zip");
    let page = |_: &Notebook, _: &_| Ok("<!doctype html>".into());
    notebook
        .pack(
            &aircraft,
            Cut::Whole("review"),
            Withhold::default(),
            &pack,
            &page,
        )
        .unwrap();
    notebook.close().unwrap();
    let good = std::fs::read(&pack).unwrap();
    let members = |path: &Path| -> Option<BTreeMap<String, Vec<u8>>> {
        let limits = Limits::default();
        let files: Arc<dyn Files> = Arc::new(SystemFiles);
        let pack = open(&files, path, &limits).ok()?;
        let list = pack.list().iter();
        list.map(|member| Some((member.name.clone(), pack.read(&member.name, 1 << 20).ok()?)))
            .collect()
    };
    let right = members(&pack).unwrap();
    // Where bytes of members stand: everything else is the zip's own.
    let mut inside = vec![false; good.len()];
    for bytes in right.values().filter(|bytes| !bytes.is_empty()) {
        let at = good
            .windows(bytes.len())
            .position(|window| window == bytes.as_slice())
            .unwrap();
        inside[at..at + bytes.len()].fill(true);
    }
    let deep = std::env::var_os("WITNESSMARK_DEEP").is_some();
    let own: Vec<usize> = (0..good.len() * 8).filter(|bit| !inside[bit / 8]).collect();
    assert!(own.len() > 5_000, "{}", own.len());
    let (mut refused, mut without) = (0, BTreeMap::<usize, u32>::new());
    for bit in own.iter().step_by(if deep { 1 } else { 7 }) {
        let mut hurt = good.clone();
        hurt[bit / 8] ^= 1 << (bit % 8);
        std::fs::write(&pack, &hurt).unwrap();
        match judge(&world(2), &pack, true) {
            Ok(judged) if !judged.outcome.refused => {
                assert_eq!(members(&pack).as_ref(), Some(&right), "bit {bit}");
                *without.entry(bit / 8).or_default() += 1;
            }
            Ok(judged) => {
                assert!(judged.outcome.report.failed());
                refused += 1;
            }
            Err(error) => {
                assert!(!error.place.is_empty() || !error.what.is_empty());
                refused += 1;
            }
        }
    }
    println!("{refused} found, {} bytes without effect", without.len());
    assert!(refused > 20 * without.values().sum::<u32>(), "{without:?}");
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
