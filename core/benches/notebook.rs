//! A large notebook: history of one zone against the same rows read by hand-written SQL, a capture
//! against one in a small notebook, opening after new lines. `cargo bench -p witnessmark-core --bench
//! notebook [-- ENTRIES FINDINGS]` prints ratios, and fails where one is past its bound.
//!
//! The generator writes a chain as the library would: signed lines, linked, finishes with their tree.
//! Everything in it is invented.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::indexing_slicing)]

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use rusqlite::{Connection, OpenFlags, params};
use witnessmark_core::layout::Layout;
use witnessmark_core::notebook::{KeySource, Notebook, Place};
use witnessmark_core::record::key::{SeedSigner, Signer};
use witnessmark_core::record::kinds::{
    FindingOpened, Looked, Measure, Sighted, WalkaroundFinished, WalkaroundStarted, Written,
};
use witnessmark_core::record::proof::merkle::tree_hash;
use witnessmark_core::record::{At, Body, Digest, Entry, Seen, parse_when};
use witnessmark_core::world::{GivenClock, SeededEntropy, SystemFiles, World};

const LAYOUT: &str = "high_wing_strutted_fixed";

fn world() -> World {
    World {
        clock: Arc::new(GivenClock::new(
            parse_when("2026-05-03T09:10:00+02:00").unwrap(),
        )),
        entropy: Arc::new(SeededEntropy::new(7)),
        files: Arc::new(SystemFiles),
    }
}

fn open(root: &Path) -> Notebook {
    Notebook::open(root, world(), KeySource::File).unwrap()
}

/// Numbers that look random and are the same every time.
struct Dice(u64);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) as usize) % n
    }
}

/// Writes lines to the end of a chain.
struct Writer {
    path: PathBuf,
    signer: SeedSigner,
    aircraft: Digest,
    seq: u64,
    prev: Digest,
    minute: u64,
    lines: Vec<Vec<u8>>,
    unwritten: usize,
}

impl Writer {
    /// At the end of the one chain of a notebook.
    fn new(root: &Path, aircraft: Digest) -> Self {
        let files = SystemFiles;
        let signer = SeedSigner::load(&files, &root.join("keys").join("author.pk8")).unwrap();
        let name = format!("{}.jsonl", signer.public().hex());
        let path = root.join("record").join(aircraft.hex()).join(name);
        let text = std::fs::read(&path).unwrap();
        let lines: Vec<Vec<u8>> = text
            .split(|byte| *byte == b'\n')
            .filter(|line| !line.is_empty())
            .map(<[u8]>::to_vec)
            .collect();
        Self {
            prev: Digest::of(lines.last().unwrap()),
            seq: lines.len() as u64 - 1,
            unwritten: lines.len(),
            path,
            signer,
            aircraft,
            minute: lines.len() as u64,
            lines,
        }
    }

    fn write(&mut self, body: Body) -> Digest {
        let from = parse_when("2019-01-01T08:00:00+01:00").unwrap();
        self.minute += 30;
        let now = from + chrono::TimeDelta::minutes(self.minute as i64);
        self.seq += 1;
        let line = Entry {
            author: self.signer.public(),
            aircraft: self.aircraft,
            seq: self.seq,
            prev: self.prev,
            at: At::from_clock(now),
            seen: Seen::clock(now),
            system_clock: false,
            body,
        }
        .sign(&self.signer)
        .unwrap();
        self.prev = line.digest;
        self.lines.push(line.bytes);
        line.digest
    }

    fn flush(&mut self) {
        let mut file = std::fs::OpenOptions::new()
            .append(true)
            .open(&self.path)
            .unwrap();
        let mut out = Vec::new();
        for line in &self.lines[self.unwritten..] {
            out.extend_from_slice(line);
            out.push(b'\n');
        }
        file.write_all(&out).unwrap();
        file.sync_all().unwrap();
        self.unwritten = self.lines.len();
    }
}

fn sighted(finding: Digest, walkaround: Digest, dice: &mut Dice) -> Sighted {
    let size = 10 + dice.below(40);
    Sighted {
        finding,
        walkaround: Some(walkaround),
        result: "present".into(),
        why: None,
        basis: Some("measured".into()),
        step: None,
        measures: vec![Measure {
            quantity: "length".into(),
            value: format!("{size}"),
            to: None,
            unit: "mm".into(),
            u: Some("0.5".into()),
            method: "ruler".into(),
            as_said: Some(format!("length {size} mm by ruler")),
            marks: None,
            scale: None,
            context: std::collections::BTreeMap::new(),
            photo: None,
        }],
        evidence: Vec::new(),
        text: None,
        fresh: None,
        late: false,
    }
}

/// A notebook of so many entries and findings in all, a walkaround every 250 entries.
fn generate(root: &Path, entries: usize, findings: usize) -> Digest {
    let mut notebook =
        Notebook::init(root, world(), "A. Person", "owner", KeySource::File).unwrap();
    let aircraft = notebook
        .add_aircraft("N0BIG", "four-seater", None, LAYOUT, false)
        .unwrap();
    notebook.close().unwrap();
    let layout = Layout::built_in(LAYOUT).unwrap();
    let mut dice = Dice(11);
    let zone = |dice: &mut Dice| layout.zones[dice.below(layout.zones.len())].code.clone();
    let mut writer = Writer::new(root, aircraft);
    let mut known: Vec<Digest> = Vec::new();
    let mut walk = None;
    let mut since = 0;
    while writer.lines.len() < entries {
        if since == 250
            && let Some(walkaround) = walk
        {
            let size = writer.lines.len() as u64;
            let root = tree_hash(&writer.lines);
            writer.write(
                WalkaroundFinished {
                    walkaround,
                    size,
                    root,
                }
                .into(),
            );
            walk = None;
            continue;
        }
        let Some(walkaround) = walk else {
            let hours = format!("{}.{}", 1000 + writer.lines.len() / 200, dice.below(10));
            since = 0;
            walk = Some(
                writer.write(
                    WalkaroundStarted {
                        purpose: Some("routine".into()),
                        hours: Some(hours),
                        meter: None,
                        landings: None,
                        landings_meter: None,
                        event: None,
                    }
                    .into(),
                ),
            );
            continue;
        };
        since += 1;
        let left = entries - writer.lines.len();
        // Findings come as a fifth of all, each with its first sighting.
        if known.len() < findings && (left <= 2 * (findings - known.len()) || dice.below(5) == 0) {
            let id = writer.write(
                FindingOpened {
                    zone: zone(&mut dice),
                    condition: "crack".into(),
                    part: Some("lower aft screw".into()),
                    component: None,
                    unsure: Vec::new(),
                    system: None,
                    text: None,
                }
                .into(),
            );
            known.push(id);
            writer.write(sighted(id, walkaround, &mut dice).into());
            continue;
        }
        match dice.below(3) {
            0 if !known.is_empty() => {
                let id = known[dice.below(known.len())];
                writer.write(sighted(id, walkaround, &mut dice).into());
            }
            1 => {
                writer.write(
                    Looked {
                        walkaround: Some(walkaround),
                        zones: vec![zone(&mut dice)],
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
                    .into(),
                );
            }
            _ => {
                writer.write(
                    Written {
                        text: "as last time".into(),
                        walkaround: Some(walkaround),
                        stop: None,
                    }
                    .into(),
                );
            }
        }
    }
    writer.flush();
    aircraft
}

fn median(mut times: Vec<Duration>) -> f64 {
    times.sort();
    times[times.len() / 2].as_secs_f64()
}

fn timed<T>(work: impl FnOnce() -> T) -> (Duration, T) {
    let start = Instant::now();
    let out = work();
    (start.elapsed(), out)
}

/// The same rows by hand: what names the zone, what hangs on that, every walkaround; each column read
/// and each body parsed, since a body that is not parsed says nothing.
fn by_hand(root: &Path, aircraft: &Digest, zone: &str) -> usize {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let conn = Connection::open_with_flags(root.join("index.sqlite"), flags).unwrap();
    let mut statement = conn
        .prepare(
            "WITH named AS (SELECT line.id, line.digest FROM zone JOIN line ON line.id=zone.line WHERE zone.code=?2 AND line.aircraft=?1)
             SELECT digest, aircraft, author, seq, at, seen_time, seen_offset, seen_from, order_us, system_clock, newer, kind, body FROM line WHERE id IN (
               SELECT id FROM named
               UNION SELECT cite.line FROM named JOIN cite ON cite.target=named.digest
               UNION SELECT id FROM line WHERE aircraft=?1 AND kind IN ('chain opened','aircraft described','layout chosen','walkaround started','walkaround finished')
             ) ORDER BY order_us, author, seq, digest",
        )
        .unwrap();
    let mut rows = statement.query(params![aircraft.0, zone]).unwrap();
    let mut count = 0;
    let mut kept = Vec::new();
    while let Some(row) = rows.next().unwrap() {
        let body: String = row.get(12).unwrap();
        kept.push((
            row.get::<_, [u8; 32]>(0).unwrap(),
            row.get::<_, [u8; 32]>(1).unwrap(),
            row.get::<_, [u8; 32]>(2).unwrap(),
            row.get::<_, i64>(3).unwrap(),
            (
                row.get::<_, String>(4).unwrap(),
                row.get::<_, String>(5).unwrap(),
                row.get::<_, Option<String>>(6).unwrap(),
                row.get::<_, String>(7).unwrap(),
            ),
            row.get::<_, i64>(8).unwrap(),
            (
                row.get::<_, bool>(9).unwrap(),
                row.get::<_, bool>(10).unwrap(),
            ),
            row.get::<_, String>(11).unwrap(),
            serde_json::from_str::<serde_json::Value>(&body).unwrap(),
        ));
        count += 1;
    }
    std::hint::black_box(kept);
    count
}

fn check(failed: &mut bool, name: &str, ratio: f64, bound: f64) {
    let good = ratio <= bound;
    *failed |= !good;
    println!(
        "{} {name}: {ratio:.2} x (must be <= {bound})",
        if good { "ok    " } else { "FAILED" }
    );
}

fn main() {
    let asked: Vec<usize> = std::env::args()
        .filter_map(|word| word.parse().ok())
        .collect();
    let entries = asked.first().copied().unwrap_or(100_000);
    let findings = asked.get(1).copied().unwrap_or(entries / 5);
    // On the disk that the build is on: a temporary folder may be in memory, where nothing is synced.
    let target = Path::new(env!("CARGO_MANIFEST_DIR")).join("../target");
    std::fs::create_dir_all(&target).unwrap();
    let scratch = tempfile::tempdir_in(target).unwrap();
    let (large, small) = (scratch.path().join("large"), scratch.path().join("small"));
    let (took, big) = timed(|| generate(&large, entries, findings));
    let little = generate(&small, 100, 20);
    println!(
        "generated {entries} entries, {findings} findings in {:.1} s",
        took.as_secs_f64()
    );
    let (took, notebook) = timed(|| open(&large));
    println!("index made anew in {:.1} s", took.as_secs_f64());
    notebook.close().unwrap();
    let mut failed = false;

    // History of one zone.
    let zone = Layout::built_in(LAYOUT).unwrap().zones[10].code.clone();
    let notebook = Notebook::read(&large, world()).unwrap();
    let (mut ours, mut hand) = (Vec::new(), Vec::new());
    let mut rows = 0;
    for _ in 0..15 {
        let (took, count) = timed(|| by_hand(&large, &big, &zone));
        hand.push(took);
        rows = count;
        let (took, view) = timed(|| notebook.zone_history(&big, &zone).unwrap());
        ours.push(took);
        assert!(
            view.findings.len() * 100 > findings,
            "the zone has its findings"
        );
    }
    let (ours, hand) = (median(ours), median(hand));
    println!(
        "history of a zone {:.1} ms, {rows} rows by hand {:.1} ms",
        ours * 1e3,
        hand * 1e3
    );
    check(
        &mut failed,
        "history of a zone against hand-written SQL",
        ours / hand,
        1.5,
    );
    notebook.close().unwrap();

    // A capture, in turn in both notebooks.
    let (mut in_large, mut in_small) = (open(&large), open(&small));
    let (mut slow, mut quick) = (Vec::new(), Vec::new());
    for _ in 0..101 {
        for (notebook, aircraft, times) in [
            (&mut in_small, little, &mut quick),
            (&mut in_large, big, &mut slow),
        ] {
            let place = Place {
                aircraft: Some(aircraft),
                zone: None,
                stop: None,
                finding: None,
                view: None,
                taken: true,
            };
            let (took, _) = timed(|| notebook.write_note("as last time", &place).unwrap());
            times.push(took);
        }
    }
    let (slow, quick) = (median(slow), median(quick));
    println!(
        "capture {:.3} ms, in the small notebook {:.3} ms",
        slow * 1e3,
        quick * 1e3
    );
    check(
        &mut failed,
        "capture at many entries against one at 100",
        slow / quick,
        1.1,
    );
    in_large.close().unwrap();
    in_small.close().unwrap();

    // Opening after new lines.
    let mut writer = Writer::new(&large, big);
    let mut after = |n: usize| -> f64 {
        let mut times = Vec::new();
        for _ in 0..7 {
            for _ in 0..n {
                let note = Written {
                    text: "as last time".into(),
                    walkaround: None,
                    stop: None,
                };
                writer.write(note.into());
            }
            writer.flush();
            let (took, notebook) = timed(|| open(&large));
            times.push(took);
            notebook.close().unwrap();
        }
        median(times)
    };
    let (none, hundred, thousand) = (after(0), after(100), after(1000));
    println!(
        "opening {:.1} ms; after 100 new lines {:.1} ms, after 1,000 {:.1} ms",
        none * 1e3,
        hundred * 1e3,
        thousand * 1e3
    );
    let per = |time: f64, n: f64| (time - none).max(1e-6) / n;
    check(
        &mut failed,
        "a new line among 1,000 at opening against one among 100",
        per(thousand, 1000.0) / per(hundred, 100.0),
        1.5,
    );
    std::process::exit(i32::from(failed));
}
