//! What proving, indexing and packing cost, as ratios in one run, with everything in the page cache: verify
//! against `openssl dgst -sha256` (one thread, and two against one), making the index anew against `.import` of
//! the same rows into the same tables by `sqlite3`, packing against `cp` and `openssl dgst`.
//!
//!   cargo bench -p witnessmark-core --bench record --profile release
//!
//! Ends with status 1 where a ratio is past its bound. Medians of runs in turn; two threads need two free cores.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Arc;
use std::time::Instant;

use witnessmark_core::index::Index;
use witnessmark_core::notebook::{KeySource, Notebook, Place, Withhold};
use witnessmark_core::pack::cut::Cut;
use witnessmark_core::pack::members::{Folder, Limits};
use witnessmark_core::pack::verify::{Source, verify};
use witnessmark_core::record::key::{SeedSigner, Signer};
use witnessmark_core::record::kinds::{ChainOpened, Looked, Written};
use witnessmark_core::record::{At, Body, Digest, Entry, FORMAT, Seen, parse_when};
use witnessmark_core::world::{Entropy, GivenClock, SeededEntropy, SystemFiles, World};

const PHOTOS: usize = 48;
const PHOTO_BYTES: usize = 4 << 20;
const LINES: u64 = 40_000;

fn world() -> World {
    World {
        clock: Arc::new(GivenClock::new(
            parse_when("2026-05-03T09:10:00+02:00").unwrap(),
        )),
        entropy: Arc::new(SeededEntropy::new(1)),
        files: Arc::new(SystemFiles),
    }
}

/// Seconds that one run takes.
fn timed(run: &mut dyn FnMut()) -> f64 {
    let from = Instant::now();
    run();
    from.elapsed().as_secs_f64()
}

/// Medians of several runs, one of each in turn.
fn in_turn<const N: usize>(rounds: usize, mut runs: [&mut dyn FnMut(); N]) -> [f64; N] {
    let mut took: [Vec<f64>; N] = std::array::from_fn(|_| Vec::new());
    for _ in 0..=rounds {
        for (run, took) in runs.iter_mut().zip(&mut took) {
            took.push(timed(*run));
        }
    }
    took.map(|mut times| {
        times.remove(0); // the first fills caches
        times.sort_by(f64::total_cmp);
        times[times.len() / 2]
    })
}

fn done(command: &mut Command) {
    let status = command.stdout(Stdio::null()).status().unwrap();
    assert!(status.success(), "{command:?}");
}

fn there(program: &str) -> bool {
    let found = Command::new(program)
        .arg("version")
        .stdin(Stdio::null())
        .output()
        .is_ok();
    if !found {
        println!("SKIPPED: {program} is not installed");
    }
    found
}

struct Judge {
    failed: bool,
}

impl Judge {
    fn say(&mut self, what: &str, ratio: f64, bound: f64, at_least: bool) {
        let good = if at_least {
            ratio >= bound
        } else {
            ratio <= bound
        };
        self.failed |= !good;
        let sign = if at_least { ">=" } else { "<=" };
        let verdict = if good { "" } else { "   MISSED" };
        println!("{what}: {ratio:.2} (must be {sign} {bound}){verdict}");
    }
}

/// A notebook of photos whose bytes are noise behind a JPEG's start.
fn notebook(root: &Path) -> (Notebook, Digest) {
    let mut notebook = Notebook::init(root, world(), "Invented", "owner", KeySource::File).unwrap();
    let aircraft = notebook
        .add_aircraft(
            "N0TEST",
            "invented",
            None,
            "high_wing_strutted_fixed",
            false,
        )
        .unwrap();
    let noise = SeededEntropy::new(9);
    let mut bytes = vec![0u8; PHOTO_BYTES];
    let place = Place {
        aircraft: Some(aircraft),
        ..Place::default()
    };
    for _ in 0..PHOTOS {
        noise.fill(&mut bytes).unwrap();
        bytes[..6].copy_from_slice(b"\xff\xd8\xff\xdb\0\x04");
        notebook
            .take_photo_stream(&mut bytes.as_slice(), "in.jpg", &place)
            .unwrap();
    }
    (notebook, aircraft)
}

fn proving(root: &Path, judge: &mut Judge) {
    let mut originals: Vec<PathBuf> = Vec::new();
    for folder in std::fs::read_dir(root.join("evidence")).unwrap().flatten() {
        originals.extend(
            std::fs::read_dir(folder.path())
                .unwrap()
                .flatten()
                .map(|entry| entry.path()),
        );
    }
    let with = |threads: usize| {
        let limits = Limits {
            threads,
            ..Limits::default()
        };
        let members = Folder::open(Arc::new(SystemFiles), root, &limits).unwrap();
        let source = Source {
            members: &members,
            prefix: "",
            own: None,
            was_here: BTreeSet::new(),
            remembered: BTreeMap::new(),
            withheld: Vec::new(),
        };
        let report = verify(&source, &limits).unwrap();
        assert!(!report.failed() && report.files as usize >= PHOTOS);
    };
    let [theirs, one, two] = in_turn(
        7,
        [
            &mut || {
                done(
                    Command::new("openssl")
                        .args(["dgst", "-sha256"])
                        .args(&originals),
                )
            },
            &mut || with(1),
            &mut || with(2),
        ],
    );
    let size = (PHOTOS * PHOTO_BYTES) as f64 / 1e9;
    println!(
        "verify of {size:.2} GB: {:.2} GB/s on one thread, openssl {:.2} GB/s",
        size / one,
        size / theirs
    );
    judge.say(
        "verify, one thread, of openssl dgst",
        theirs / one,
        0.85,
        true,
    );
    if std::thread::available_parallelism().map_or(1, |n| n.get()) < 2 {
        println!("SKIPPED: one core only, two threads are not compared");
    } else {
        judge.say("verify, two threads of one", one / two, 1.7, true);
    }
}

/// A chain of many signed lines, written straight to its file.
fn long_chain(root: &Path) {
    let signer = SeedSigner::generate(&SeededEntropy::new(2)).unwrap();
    let clock = parse_when("2026-05-03T09:10:00+02:00").unwrap();
    let (mut aircraft, mut prev) = (Digest::ZERO, Digest::ZERO);
    let mut text = Vec::new();
    for seq in 0..LINES {
        let body: Body = if seq == 0 {
            ChainOpened {
                nonce: "00".repeat(16),
                who: None,
                format: FORMAT,
            }
            .into()
        } else if seq % 2 == 0 {
            Looked {
                walkaround: None,
                zones: vec![format!("{}", 110 + seq % 700)],
                result: "nothing_found".into(),
                why: None,
                how: Some("close".into()),
                access: None,
                condition: None,
                stop: None,
                fresh: None,
                earlier: None,
                answers: Vec::new(),
            }
            .into()
        } else {
            Written {
                text: format!("note {seq}, which says what was seen at the fairing"),
                walkaround: Some(prev),
                stop: None,
            }
            .into()
        };
        let now = clock + chrono::Duration::seconds(i64::try_from(seq).unwrap());
        let entry = Entry {
            author: signer.public(),
            aircraft,
            seq,
            prev,
            at: At::from_clock(now),
            seen: Seen::clock(now),
            system_clock: true,
            body,
        };
        let line = entry.sign(&signer).unwrap();
        prev = line.digest;
        if seq == 0 {
            aircraft = line.digest;
        }
        text.extend(&line.bytes);
        text.push(b'\n');
    }
    let folder = root.join("record").join(aircraft.hex());
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(format!("{}.jsonl", signer.public())), text).unwrap();
}

fn sqlite(file: &Path, commands: &[String]) -> String {
    let output = Command::new("sqlite3")
        .arg("-batch")
        .arg(file)
        .args(commands)
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}

/// `.import` cannot read bytes, so its digests are hexadecimal texts in tables that are otherwise the same.
fn indexing(scratch: &Path, judge: &mut Judge) {
    let root = scratch.join("long");
    long_chain(&root);
    let file = root.join("index.sqlite");
    let fresh = || {
        for ending in ["", "-wal", "-shm"] {
            let _ = std::fs::remove_file(root.join(format!("index.sqlite{ending}")));
        }
        let (index, followed) = Index::open_writer(&SystemFiles, &root).unwrap();
        assert_eq!(followed.new_lines as u64, LINES);
        index.close().unwrap();
    };
    fresh();
    let tables = ["chain", "line", "cite", "zone"];
    let mut load = vec![
        ".mode csv".to_owned(),
        "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL; PRAGMA foreign_keys=ON; PRAGMA temp_store=MEMORY;".to_owned(),
    ];
    let schema = sqlite(
        &file,
        &["SELECT sql || ';' FROM sqlite_schema WHERE sql IS NOT NULL".into()],
    );
    load.push(schema.replace(") STRICT", ")").replace("BLOB", "TEXT"));
    for table in tables {
        let columns = sqlite(
            &file,
            &[format!(
                "SELECT group_concat(CASE type WHEN 'BLOB' THEN 'lower(hex('||name||'))' ELSE name END) FROM pragma_table_info('{table}')"
            )],
        );
        let rows = scratch.join(format!("{table}.csv"));
        let out = std::fs::File::create(&rows).unwrap();
        let status = Command::new("sqlite3")
            .args(["-batch", "-csv"])
            .arg(&file)
            .arg(format!("SELECT {} FROM {table}", columns.trim()))
            .stdout(out)
            .status();
        assert!(status.unwrap().success());
        load.push(format!(".import {} {table}", rows.display()));
    }
    let rival = scratch.join("rival.sqlite");
    let [ours, theirs] = in_turn(
        5,
        [&mut { fresh }, &mut || {
            for ending in ["", "-wal", "-shm"] {
                let _ = std::fs::remove_file(scratch.join(format!("rival.sqlite{ending}")));
            }
            sqlite(&rival, &load);
        }],
    );
    let counted = sqlite(&rival, &["SELECT count(*) FROM line".into()]);
    assert_eq!(counted.trim(), LINES.to_string());
    println!("index of {LINES} lines: {ours:.2} s, sqlite3 .import {theirs:.2} s");
    judge.say(
        "index made anew, of sqlite3 .import",
        ours / theirs,
        3.0,
        false,
    );
}

fn packing(scratch: &Path, notebook: &Notebook, aircraft: &Digest, judge: &mut Judge) {
    let evidence = notebook.root().join("evidence");
    let pack = |name: &str| {
        let out = scratch.join(name);
        let _ = std::fs::remove_dir_all(&out);
        let _ = std::fs::remove_file(&out);
        notebook
            .pack(
                aircraft,
                Cut::Whole("review"),
                Withhold::default(),
                &out,
                &|_, _| Ok("<!doctype html>".into()),
            )
            .unwrap();
    };
    let copy = scratch.join("copy");
    let [theirs, folder, zip] = in_turn(
        5,
        [
            &mut || {
                let _ = std::fs::remove_dir_all(&copy);
                done(Command::new("cp").arg("-r").arg(&evidence).arg(&copy));
                done(Command::new("sh").arg("-c").arg(format!(
                    "openssl dgst -sha256 $(find {} -type f)",
                    copy.display()
                )));
            },
            &mut || pack("pack"),
            &mut || pack("pack.zip"),
        ],
    );
    println!("packing: folder {folder:.2} s, zip {zip:.2} s, cp and openssl dgst {theirs:.2} s");
    judge.say(
        "pack as a folder, of cp and dgst",
        folder / theirs,
        1.5,
        false,
    );
    judge.say("pack as a zip, of cp and dgst", zip / theirs, 1.5, false);
}

fn main() {
    // In memory where that can be had, so that no disk is measured.
    let shm = Path::new("/dev/shm");
    let scratch = tempfile::tempdir_in(shm)
        .or_else(|_| tempfile::tempdir())
        .unwrap();
    let mut judge = Judge { failed: false };
    let root = scratch.path().join("n");
    let (notebook, aircraft) = notebook(&root);
    if there("openssl") {
        proving(&root, &mut judge);
        packing(scratch.path(), &notebook, &aircraft, &mut judge);
    }
    if there("sqlite3") {
        indexing(scratch.path(), &mut judge);
    }
    drop(notebook);
    drop(scratch);
    if judge.failed {
        std::process::exit(1);
    }
}
