//! Golden notebooks: whole folders in `fixtures/record`, written once, opened for ever, and compared
//! byte for byte with what is written today.
//!
//! Invented data. `WITNESSMARK_WRITE_GOLDEN=1` writes them anew; a format that has landed is never
//! written anew, only added to.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde_json::{Value, json};

use super::{KeySource, Notebook, Withhold, verify_folder};
use crate::evidence::store;
use crate::pack::cut::Cut;
use crate::record::proof::merkle;
use crate::record::{At, Body, Digest, Seen, chain};
use crate::world::{GivenClock, SeededEntropy, SystemFiles, World};

fn fixtures() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../fixtures/record")
}

struct Hand {
    notebook: Notebook,
    clock: Arc<GivenClock>,
    minute: u32,
}

impl Hand {
    fn new(root: &Path, seed: u8, name: &str, role: &str) -> Self {
        let clock = Arc::new(GivenClock::new(
            "2026-05-03T09:00:00+02:00".parse::<At>().unwrap().instant(),
        ));
        let world = World {
            clock: clock.clone(),
            entropy: Arc::new(SeededEntropy::new(u64::from(seed))),
            files: Arc::new(SystemFiles),
        };
        let notebook =
            Notebook::init(root, world, name, role, KeySource::Seed([seed; 32])).unwrap();
        Self {
            notebook,
            clock,
            minute: u32::from(seed),
        }
    }

    fn add(&mut self, aircraft: &Digest, kind: &str, body: Value) -> Digest {
        self.minute += 3;
        let at: At = format!(
            "2026-05-03T{:02}:{:02}:00+02:00",
            9 + self.minute / 60,
            self.minute % 60
        )
        .parse()
        .unwrap();
        self.clock.set(at.instant());
        let (body, more) = Body::from_value(kind, body).unwrap();
        assert!(!more, "{kind}");
        self.notebook
            .append(aircraft, Seen::clock(at.instant()), body)
            .unwrap()
    }

    fn file(&self, name: &str, extension: &str) -> (Digest, u64) {
        let bytes = std::fs::read(fixtures().join(name)).unwrap();
        let n = &self.notebook;
        let incoming =
            store::receive(&n.world, &n.root, &mut bytes.as_slice(), 8 << 20, name).unwrap();
        store::settle(n.world.files.as_ref(), &n.root, &incoming, extension).unwrap();
        (incoming.digest, incoming.bytes)
    }

    fn finish(&mut self, aircraft: &Digest, walkaround: Digest) {
        let path = self
            .notebook
            .root
            .join("record")
            .join(self.notebook.chain_file(aircraft));
        let lines = chain::read(&SystemFiles, &path, 0).unwrap().lines;
        let leaves: Vec<&[u8]> = lines
            .iter()
            .map(|(_, line)| line.bytes.as_slice())
            .collect();
        let root = merkle::tree_hash(&leaves);
        self.add(
            aircraft,
            "walkaround finished",
            json!({"walkaround": walkaround, "size": leaves.len(), "root": root}),
        );
    }
}

/// An owner and a mechanic, one walkaround each, brought together; and the owner's pack.
fn make(folder: &Path) -> Digest {
    let mut owner = Hand::new(&folder.join("owner"), 1, "Invented Owner", "owner");
    let aircraft = owner.notebook.open_first_chain().unwrap();
    owner.add(
        &aircraft,
        "aircraft described",
        json!({"registration":"N0GOLD","type":"invented high wing","serial":"0001"}),
    );
    let (layout, _) = owner.file("layout.toml", "toml");
    owner.add(
        &aircraft,
        "layout chosen",
        json!({"name":"high_wing_strutted_fixed","file":layout,"map":{}}),
    );
    let first = owner.add(
        &aircraft,
        "walkaround started",
        json!({"purpose":"preflight","hours":"1200.5"}),
    );
    let (photo, bytes) = owner.file("photo.jpg", "jpg");
    let picture = crate::evidence::examine(
        &mut std::io::Cursor::new(std::fs::read(fixtures().join("photo.jpg")).unwrap()),
        bytes,
        "photo.jpg",
    )
    .unwrap()
    .picture;
    let taken = owner.add(&aircraft, "photo taken", json!({"file":photo,"bytes":bytes,"media":"image/jpeg","name":"IMG 1.JPG","orientation":1,"picture":picture,"complete":true,"route":"imported","hints":[],"walkaround":first}));
    owner.add(&aircraft, "placed", json!({"what":taken,"zone":"721"}));
    let crack = owner.add(
        &aircraft,
        "finding opened",
        json!({"zone":"721","condition":"crack","part":"lower aft screw","unsure":[]}),
    );
    owner.add(&aircraft, "finding sighted", json!({"finding":crack,"walkaround":first,"result":"present","basis":"measured","measures":[{"quantity":"length","value":"32","unit":"mm","u":"0.5","method":"ruler","context":{}}],"evidence":[taken],"late":false}));
    owner.add(
        &aircraft,
        "looked",
        json!({"walkaround":first,"zones":["722"],"result":"nothing_found","answers":[]}),
    );
    owner.finish(&aircraft, first);
    let mut mechanic = Hand::new(&folder.join("mechanic"), 2, "Invented Mechanic", "mechanic");
    mechanic
        .notebook
        .receive_folder(&folder.join("owner"))
        .unwrap();
    let second = mechanic.add(
        &aircraft,
        "walkaround started",
        json!({"purpose":"before_maintenance","hours":"1210"}),
    );
    mechanic.add(&aircraft, "finding sighted", json!({"finding":crack,"walkaround":second,"result":"present","measures":[{"quantity":"length","value":"35","unit":"mm","u":"0.5","method":"ruler","context":{}}],"evidence":[],"late":false}));
    let note = mechanic.add(
        &aircraft,
        "written",
        json!({"text":"stop drilling is not what the manual says","walkaround":second}),
    );
    mechanic.add(
        &aircraft,
        "placed",
        json!({"what":note,"zone":"721","finding":crack}),
    );
    mechanic.notebook.vouch(&aircraft).unwrap();
    mechanic.finish(&aircraft, second);
    mechanic.notebook.close().unwrap();
    owner
        .clock
        .set("2026-05-04T09:00:00+02:00".parse::<At>().unwrap().instant());
    owner
        .notebook
        .receive_folder(&folder.join("mechanic"))
        .unwrap();
    let page = |_: &Notebook, _: &Digest| Ok("<!doctype html><title>invented</title>".to_owned());
    let withhold = Withhold::default();
    owner
        .notebook
        .pack(
            &aircraft,
            Cut::Whole("review"),
            withhold,
            &folder.join("pack"),
            &page,
        )
        .unwrap();
    owner
        .notebook
        .pack(
            &aircraft,
            Cut::Finding([crack].into()),
            Withhold {
                people: true,
                location: true,
            },
            &folder.join("finding.zip"),
            &page,
        )
        .unwrap();
    owner.notebook.close().unwrap();
    aircraft
}

/// Every file that is not derived, by name.
fn tree(root: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut out = BTreeMap::new();
    let mut waiting = vec![root.to_path_buf()];
    while let Some(folder) = waiting.pop() {
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path
                .strip_prefix(root)
                .unwrap()
                .to_string_lossy()
                .into_owned();
            if path.is_dir() {
                waiting.push(path);
            } else if !name.contains("index.sqlite")
                && !name.ends_with("notebook.lock")
                && !name.ends_with("received.jsonl")
            {
                out.insert(name, std::fs::read(path).unwrap());
            }
        }
    }
    out
}

#[test]
fn golden_notebooks_are_written_the_same_byte_for_byte() {
    let folder = tempfile::tempdir().unwrap();
    make(folder.path());
    let made = tree(folder.path());
    let stored = fixtures().join("notebooks");
    if std::env::var_os("WITNESSMARK_WRITE_GOLDEN").is_some() {
        for (name, bytes) in &made {
            let path = stored.join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, bytes).unwrap();
        }
    }
    let stored = tree(&stored);
    let names = |tree: &BTreeMap<String, Vec<u8>>| tree.keys().cloned().collect::<Vec<_>>();
    assert_eq!(names(&made), names(&stored));
    for (name, bytes) in &made {
        assert!(
            stored.get(name) == Some(bytes),
            "{name} is written differently today"
        );
    }
}

#[test]
fn golden_notebooks_open_for_ever() {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in tree(&fixtures().join("notebooks")) {
        crate::pack::testing::write(folder.path(), &name, &bytes);
    }
    let world = || crate::pack::testing::world(9);
    for (name, seed) in [("owner", 1), ("mechanic", 2)] {
        let root = folder.path().join(name);
        let report = verify_folder(&world(), &root).unwrap();
        assert!(!report.failed(), "{}", report.to_text());
        assert_eq!((report.chains, report.finishes), (2, 2));
        for writer in [false, true] {
            let notebook = if writer {
                Notebook::open(&root, world(), KeySource::Seed([seed; 32])).unwrap()
            } else {
                Notebook::read(&root, world()).unwrap()
            };
            let aircraft = notebook.the_aircraft(Some("N0GOLD")).unwrap();
            let state = notebook.state(&aircraft).unwrap();
            assert_eq!((state.findings.len(), state.walkarounds.len()), (1, 2));
            notebook.history(&aircraft).unwrap();
            notebook.close().unwrap();
        }
    }
    for pack in ["pack", "finding.zip"] {
        let home = tempfile::tempdir().unwrap();
        let mut reader = Notebook::init(
            home.path(),
            world(),
            "Invented Reader",
            "buyer",
            KeySource::Seed([5; 32]),
        )
        .unwrap();
        let outcome = reader
            .receive_pack(&folder.path().join(pack), false)
            .unwrap();
        assert!(!outcome.refused, "{}", outcome.report.to_text());
        let aircraft = reader.the_aircraft(None).unwrap();
        assert_eq!(reader.state(&aircraft).unwrap().findings.len(), 1);
    }
}
