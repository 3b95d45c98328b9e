//! The index is derived: over random notebooks, with everything that a person can do and what others
//! handed in, deleting it (or damaging it, or reading beside it without one) gives the same answers.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::Path;
use std::sync::Arc;

use proptest::prelude::*;
use witnessmark_core::notebook::{
    KeySource, NewFinding, NewLook, NewSighting, NewWalkaround, Notebook, Place,
};
use witnessmark_core::record::kinds::Measure;
use witnessmark_core::record::{Digest, parse_when};
use witnessmark_core::world::{GivenClock, SeededEntropy, SystemFiles, World};

/// One thing that a person does; numbers choose among what there is.
#[derive(Debug, Clone)]
struct Act {
    what: u8,
    which: usize,
    other: usize,
    by: bool,
}

fn acts() -> impl Strategy<Value = Vec<Act>> {
    let act = (0u8..18, any::<usize>(), any::<usize>(), any::<bool>()).prop_map(
        |(what, which, other, by)| Act {
            what,
            which,
            other,
            by,
        },
    );
    prop::collection::vec(act, 1..28)
}

const ZONES: [&str; 4] = ["733", "734", "120", "560"];

struct Life {
    books: [Option<Notebook>; 2],
    roots: [std::path::PathBuf; 2],
    clock: [Arc<GivenClock>; 2],
    aircraft: Digest,
    minutes: i64,
}

fn book(root: &Path, seed: u64) -> (Notebook, Arc<GivenClock>) {
    let clock = Arc::new(GivenClock::new(
        parse_when("2026-05-03T09:10:00+02:00").unwrap(),
    ));
    let world = World {
        clock: clock.clone(),
        entropy: Arc::new(SeededEntropy::new(seed)),
        files: Arc::new(SystemFiles),
    };
    let made = Notebook::init(root, world, "Invented", "owner", KeySource::File).unwrap();
    (made, clock)
}

fn pick(from: &[Digest], number: usize) -> Option<Digest> {
    (!from.is_empty()).then(|| from[number % from.len()])
}

impl Life {
    fn new(scratch: &Path) -> Self {
        let roots = [scratch.join("one"), scratch.join("two")];
        let (mut one, first) = book(&roots[0], 1);
        let aircraft = one
            .add_aircraft(
                "N0TEST",
                "invented",
                None,
                "high_wing_strutted_fixed",
                false,
            )
            .unwrap();
        let (mut two, second) = book(&roots[1], 2);
        two.receive_folder(&roots[0]).unwrap();
        Self {
            books: [Some(one), Some(two)],
            roots,
            clock: [first, second],
            aircraft,
            minutes: 0,
        }
    }

    fn act(&mut self, act: &Act, photo: &Path) {
        self.minutes += 7;
        let at = usize::from(act.by);
        let now = parse_when("2026-05-03T09:10:00+02:00").unwrap()
            + chrono::Duration::minutes(self.minutes);
        self.clock[at].set(now);
        let aircraft = self.aircraft;
        let (from, book) = (self.roots[1 - at].clone(), self.books[at].as_mut().unwrap());
        let state = book.state(&aircraft).unwrap();
        let findings: Vec<Digest> = state.findings.iter().map(|finding| finding.id).collect();
        let lines: Vec<Digest> = (book.index().aircraft_lines(&aircraft).unwrap().iter())
            .map(|row| row.digest)
            .collect();
        let place = Place {
            aircraft: Some(aircraft),
            zone: act
                .other
                .is_multiple_of(2)
                .then(|| ZONES[act.which % 4].to_owned()),
            ..Place::default()
        };
        let sighting = NewSighting {
            measures: vec![
                Measure::typed(
                    "crack",
                    &format!("length {} mm by ruler", 10 + act.other % 40),
                )
                .unwrap(),
            ],
            ..NewSighting::default()
        };
        // What the present state does not allow is refused and changes nothing: part of the property.
        let _ = match act.what {
            0 => book
                .start_walkaround(&aircraft, &NewWalkaround::default())
                .map(drop),
            1 => book.finish_walkaround(&aircraft).map(drop),
            2 => book.take_photo(photo, &place).map(drop),
            3 => book
                .write_note(&format!("note {}", act.other % 5), &place)
                .map(drop),
            4 => book.write_note("loose", &Place::default()).map(drop),
            5 | 6 => {
                let new = NewFinding {
                    zone: ZONES[act.which % 4].into(),
                    condition: ["crack", "dent"][act.other % 2].into(),
                    ..NewFinding::default()
                };
                book.open_finding(&aircraft, &new, &sighting).map(drop)
            }
            7 | 8 => match pick(&findings, act.which) {
                Some(finding) => book.sight(&aircraft, &finding, &sighting).map(drop),
                None => Ok(()),
            },
            9 => match pick(&findings, act.which) {
                Some(finding) => book
                    .close_finding(&aircraft, &finding, "gone", None, None, None)
                    .map(drop),
                None => Ok(()),
            },
            10 => match (pick(&findings, act.which), pick(&findings, act.other)) {
                (Some(a), Some(b)) => book.join_findings(&aircraft, &a, &b).map(drop),
                _ => Ok(()),
            },
            11 => match pick(&lines, act.which) {
                Some(line) => book.retract(&line, Some("a slip of the hand")).map(drop),
                None => Ok(()),
            },
            12 => book.undo(&aircraft).map(drop),
            13 => {
                let look = NewLook {
                    zones: vec![ZONES[act.which % 4].into()],
                    not_seen: act.other.is_multiple_of(3).then(|| "wet".into()),
                    ..NewLook::default()
                };
                book.look(&aircraft, &look).map(drop)
            }
            14 => match pick(&lines, act.which) {
                Some(line) => book
                    .place(&aircraft, &line, Some(ZONES[act.other % 4]), None, None)
                    .map(drop),
                None => Ok(()),
            },
            15 => book.vouch(&aircraft).map(drop),
            16 => match pick(&findings, act.which) {
                Some(finding) => book
                    .treat(&aircraft, &finding, "dressed", None, Vec::new())
                    .map(drop),
                None => Ok(()),
            },
            _ => book.receive_folder(&from).map(drop),
        };
    }
}

/// Everything that is asked of an index, in words.
fn answers(book: &Notebook, aircraft: &Digest) -> String {
    let index = book.index();
    let mut out = format!(
        "{:#?}\n{:#?}\n{:?}\n{:?}\n",
        book.history(aircraft).map_err(|error| error.what),
        book.state(aircraft).map_err(|error| error.what),
        book.finishes(aircraft).map_err(|error| error.what),
        book.walkaround_status(aircraft).map_err(|error| error.what),
    );
    for zone in ZONES {
        out += &format!(
            "{:?}\n",
            book.zone_state(aircraft, zone).map_err(|error| error.what)
        );
    }
    let rows = index.aircraft_lines(aircraft).unwrap();
    for row in &rows {
        let mut citing = index.citing(&row.digest, "").unwrap();
        citing.sort_by_key(|row| row.digest);
        out += &format!("{row:?} cited by {citing:?}\n");
    }
    out += &format!(
        "{:?}\n{:?}\n{:?}\n{}\n{:?}\n{:?}",
        index.loose_lines().unwrap(),
        index.aircraft_ids().unwrap(),
        index.files().unwrap(),
        index.count().unwrap(),
        index.tails().unwrap(),
        book.aircraft_list().unwrap(),
    );
    out
}

fn without_index(root: &Path) {
    for ending in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(root.join(format!("index.sqlite{ending}")));
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: if std::env::var_os("WITNESSMARK_DEEP").is_some() { 400 } else { 24 },
        .. ProptestConfig::default()
    })]

    #[test]
    fn deleting_the_index_changes_no_answer(acts in acts(), hurt in any::<usize>()) {
        let scratch = tempfile::tempdir().unwrap();
        let photo = scratch.path().join("in.jpg");
        std::fs::write(&photo, b"\xff\xd8\xff\xdb\0\x04\0\x01\xff\xd9 invented").unwrap();
        let mut life = Life::new(scratch.path());
        for act in &acts {
            life.act(act, &photo);
        }
        let aircraft = life.aircraft;
        for at in [0, 1] {
            let root = life.roots[at].clone();
            let mut book = life.books[at].take().unwrap();
            let world = book.world().clone();
            let grown = answers(&book, &aircraft);
            prop_assert!(grown.contains("N0TEST"));
            book.rebuild_index().unwrap();
            prop_assert!(answers(&book, &aircraft) == grown, "made anew in place");
            book.close().unwrap();

            // Beside it, without one: built in memory, and no file is made.
            without_index(&root);
            let reader = Notebook::read(&root, world.clone()).unwrap();
            prop_assert!(answers(&reader, &aircraft) == grown, "in memory");
            drop(reader);
            prop_assert!(!root.join("index.sqlite").exists());

            let book = Notebook::open(&root, world.clone(), KeySource::File).unwrap();
            prop_assert!(answers(&book, &aircraft) == grown, "opened again");
            book.close().unwrap();

            // Half of it lost and a byte of the rest altered: `index rebuild` makes it anew.
            let path = root.join("index.sqlite");
            let mut bytes = std::fs::read(&path).unwrap();
            let len = bytes.len();
            bytes[hurt % 100] ^= 0x55;
            bytes[len / 2..].fill(0);
            std::fs::write(&path, bytes).unwrap();
            let mut book = Notebook::open(&root, world, KeySource::File).unwrap();
            book.rebuild_index().unwrap();
            prop_assert!(answers(&book, &aircraft) == grown, "made anew after damage");
            book.close().unwrap();
        }
    }
}
