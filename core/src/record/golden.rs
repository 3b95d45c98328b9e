//! One line of every kind: its bytes are pinned for ever in `fixtures/record/lines.jsonl`.
//!
//! Invented data. `WITNESSMARK_WRITE_GOLDEN=1` writes the files anew; a format that has landed is
//! never written anew, only added to.

use std::path::PathBuf;

use serde_json::{Value, json};

use super::key::{SeedSigner, Signer};
use super::{Body, Digest, Entry, Line, Seen, canonical};

fn fixture(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
        .join("../fixtures/record")
        .join(name)
}

/// Compares with the stored file, or writes it where that was asked for.
fn pinned(path: PathBuf, bytes: &[u8]) {
    if std::env::var_os("WITNESSMARK_WRITE_GOLDEN").is_some() {
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(&path, bytes).unwrap();
    }
    let stored = std::fs::read(&path).unwrap();
    assert!(
        stored == bytes,
        "{} is not what is written today",
        path.display()
    );
}

fn d(n: u8) -> String {
    Digest([n; 32]).hex()
}

/// Every kind with every member it can have, in the order of the table.
fn bodies() -> Vec<(&'static str, Value)> {
    let measure = json!({"quantity":"length","value":"9/4","to":"5/2","unit":"in","u":"0.03","method":"card","as_said":"two and a quarter inches",
        "marks":{"card":[[16,32],[4800,48],[4784,3200],[0,3216]],"path":[[160,320],[1600,3200]]},"scale":"invented class 2","context":{"minutes_since_wiped":"30"},"photo":d(2)});
    vec![
        (
            "chain opened",
            json!({"nonce":"000102030405060708090a0b0c0d0e0f","who":d(1),"format":1}),
        ),
        (
            "aircraft described",
            json!({"registration":"N0TEST","type":"invented high wing","serial":"0001"}),
        ),
        ("aircraft joined", json!({"other":d(3)})),
        (
            "layout chosen",
            json!({"name":"high_wing_strutted_fixed","file":d(4),"conditions":d(5),"map":{"711":"721"},"route":{"turn":"clockwise","start":"nose","order":["nose","tail"]}}),
        ),
        (
            "meter fitted",
            json!({"name":"tach","meter":"tachometer","reading":"12.3","offset":"1200.5","replaces":d(6)}),
        ),
        (
            "meter read",
            json!({"meter":d(6),"quantity":"total_time","reading":"1213.8","walkaround":d(7)}),
        ),
        (
            "component fitted",
            json!({"component":"propeller","serial":"P 1","zone":"612","hours":"1200","position":"blade 1","convention":"blade 1 is beside the mark","replaces":d(8),"run_before":"300"}),
        ),
        (
            "component removed",
            json!({"component":d(8),"hours":"1300","why":"overhaul"}),
        ),
        (
            "event",
            json!({"event":"hard_landing","file":d(9),"text":"gust at the flare","hold":true,"zones":["721"]}),
        ),
        (
            "hold lifted",
            json!({"event":d(9),"why":"released by the authority, an invented person"}),
        ),
        (
            "walkaround started",
            json!({"purpose":"preflight","hours":"1213.8","meter":d(6),"landings":"4021","event":d(9)}),
        ),
        (
            "walkaround finished",
            json!({"walkaround":d(7),"size":11,"root":d(10)}),
        ),
        (
            "looked",
            json!({"walkaround":d(7),"zones":["721","722"],"result":"not_seen","why":"fairing on","how":"light","access":"spat","condition":"crack","answers":[{"finding":d(11),"answer":"not_found"}],"stop":"left_main_gear","fresh":"before","earlier":2}),
        ),
        (
            "photo taken",
            json!({"file":d(12),"bytes":123456,"media":"image/jpeg","name":"Bild \u{e4}\u{1f6e9}.JPG","orientation":6,"size":[4000,3000],"picture":d(13),"complete":true,"route":"imported","camera":"Invented One","position":d(14),"hints":["offset_missing"],"walkaround":d(7),"stop":"left_main_gear"}),
        ),
        (
            "voice taken",
            json!({"file":d(15),"bytes":4096,"media":"audio/ogg","name":"a.ogg","walkaround":d(7),"stop":"nose"}),
        ),
        (
            "paper taken",
            json!({"file":d(16),"bytes":999,"media":"application/pdf","name":"log.pdf","paper":"log_page","picture":d(17),"orientation":1,"complete":false,"walkaround":d(7)}),
        ),
        (
            "paper checked",
            json!({"about":"serial","result":"agrees","says":"0001","papers":[d(16)]}),
        ),
        (
            "written",
            json!({"text":"a \"note\"\nwith <b>markup</b>, \u{7f} and \u{2028}","walkaround":d(7),"stop":"tail"}),
        ),
        (
            "transcript added",
            json!({"voice":d(15),"text":"crack at the screw","engine":"typed","version":"1","language":"en"}),
        ),
        (
            "restated",
            json!({"source":d(18),"kind":"written","seen":{"time":"2026-05-02","offset":null,"from":"given"},"body":{"text":"said before"}}),
        ),
        (
            "placed",
            json!({"what":d(2),"zone":"721","finding":d(11),"meant":{"view":"left_side"},"part":"lower screw"}),
        ),
        (
            "reading",
            json!({"reading":"oil_found","value":"6.5","unit":"qt","u":"0.25","zone":"410","context":{"engine":"cold"},"walkaround":d(7)}),
        ),
        (
            "serviced",
            json!({"what":"oil","value":"1","unit":"qt","zone":"410","walkaround":d(7),"context":{"grade":"W100"}}),
        ),
        (
            "finding opened",
            json!({"zone":"721","condition":"crack","part":"lower aft screw","component":d(8),"unsure":["in_paint"],"system":"fairing","text":"from the screw aft"}),
        ),
        (
            "finding sighted",
            json!({"finding":d(11),"walkaround":d(7),"result":"present","why":"panel shut","basis":"measured","step":"seep","measures":[measure.clone()],"evidence":[d(2)],"text":"longer","late":true,"fresh":"after"}),
        ),
        (
            "finding treated",
            json!({"finding":d(11),"how":"stop_drilled","by":"a mechanic","measures":[measure],"walkaround":d(7)}),
        ),
        (
            "finding closed",
            json!({"finding":d(11),"how":"replaced","by":"a mechanic","reference":"work order 1","evidence":d(2)}),
        ),
        (
            "finding reopened",
            json!({"finding":d(11),"why":"back again"}),
        ),
        (
            "finding split",
            json!({"finding":d(11),"sightings":[d(19)],"disputes":d(20),"part":"upper screw"}),
        ),
        ("finding joined", json!({"finding":d(11),"other":d(21)})),
        ("told", json!({"finding":d(11),"who":"the club"})),
        (
            "deferred",
            json!({"finding":d(11),"by":"a mechanic","on":"14 CFR 91.213(d)","until":"2026-06-01"}),
        ),
        (
            "maintenance entry seen",
            json!({"finding":d(11),"reference":"page 12","evidence":d(16)}),
        ),
        ("concern set", json!({"finding":d(11),"concern":"watch"})),
        (
            "limit set",
            json!({"finding":d(11),"quantity":"length","value":"1.6","unit":"in","source":"invented manual 51-10","words":"no crack may reach the edge"}),
        ),
        (
            "look again set",
            json!({"finding":d(11),"zone":"721","at":"10 h"}),
        ),
        (
            "read before flight",
            json!({"findings":[d(11)],"walkaround":d(7)}),
        ),
        (
            "amended",
            json!({"entry":d(22),"body":{"text":"what was meant"}}),
        ),
        ("retracted", json!({"entry":d(22),"why":"undo"})),
        ("author linked", json!({"linked":"","sig":""})),
        ("vouched", json!({"author":d(23),"seq":12,"line":d(24)})),
        (
            "timestamp received",
            json!({"finish":d(25),"file":d(26),"time":"2026-05-03T07:10:00+00:00","policy":"1.2.3.4.1"}),
        ),
        (
            "removed",
            json!({"file":d(15),"why":"a bystander is heard"}),
        ),
        // Members that came later stand in lines of their own: a line that has landed stays as it is.
        (
            "walkaround started",
            json!({"purpose":"annual","landings":"4022","landings_meter":d(6)}),
        ),
    ]
}

fn lines() -> Vec<Line> {
    let signer = SeedSigner::from_seed(&[7; 32]);
    let other = SeedSigner::from_seed(&[8; 32]);
    let mut lines: Vec<Line> = Vec::new();
    for (n, (kind, mut value)) in bodies().into_iter().enumerate() {
        let aircraft = lines.first().map_or(Digest::ZERO, |line| line.digest);
        if kind == "author linked" {
            let said =
                json!({"aircraft": aircraft, "author": signer.public(), "linked": other.public()});
            let sig = other.sign(&canonical::to_bytes(&said).unwrap());
            value = json!({"linked": other.public(), "sig": data_encoding::HEXLOWER.encode(&sig)});
        }
        let (body, more) = Body::from_value(kind, value).unwrap();
        assert!(!more, "{kind}: a member that the kind does not have");
        let at = format!("2026-05-03T09:{n:02}:00+02:00");
        let seen = match n % 4 {
            0 => Seen {
                time: at[..19].into(),
                offset: Some("+02:00".into()),
                from: "clock".into(),
            },
            1 => Seen {
                time: format!("{}.125", &at[..19]),
                offset: None,
                from: "exif".into(),
            },
            2 => Seen {
                time: "2026-05-03".into(),
                offset: None,
                from: "given".into(),
            },
            _ => Seen {
                time: format!("{}.5", &at[..19]),
                offset: Some("-03:30".into()),
                from: "exif".into(),
            },
        };
        let entry = Entry {
            author: signer.public(),
            aircraft,
            seq: n as u64,
            prev: lines.last().map_or(Digest::ZERO, |line| line.digest),
            at: at.parse().unwrap(),
            seen,
            system_clock: n % 5 != 4,
            body,
        };
        lines.push(entry.sign(&signer).unwrap());
    }
    lines
}

#[test]
fn every_kind_has_its_golden_line() {
    let lines = lines();
    let kinds: Vec<&str> = lines.iter().map(|line| line.entry.body.kind()).collect();
    let (each, more) = kinds.split_at(Body::KINDS.len());
    assert_eq!(each, Body::KINDS);
    assert!(more.iter().all(|kind| Body::KINDS.contains(kind)));
    let mut bytes = Vec::new();
    let mut digests = String::new();
    for line in &lines {
        assert!(!line.newer && line.signature_holds());
        bytes.extend_from_slice(&line.bytes);
        bytes.push(b'\n');
        digests.push_str(&format!("{}  {}\n", line.digest, line.entry.body.kind()));
    }
    pinned(fixture("lines.jsonl"), &bytes);
    pinned(fixture("lines.sha256.txt"), digests.as_bytes());
}

/// The stored bytes are read by today's code, whatever it writes itself.
#[test]
fn golden_lines_are_read_for_ever() {
    let bytes = std::fs::read(fixture("lines.jsonl")).unwrap();
    let stretch = super::chain::split(&bytes, 0);
    assert!(stretch.damaged.is_empty() && stretch.torn == 0);
    assert!(stretch.lines.len() >= 43);
    let mut before = Digest::ZERO;
    for (_, line) in &stretch.lines {
        assert_eq!(line.entry.prev, before);
        assert!(
            line.signature_holds() && !line.newer,
            "{}",
            line.entry.body.kind()
        );
        assert!(!matches!(line.entry.body, Body::Unknown { .. }));
        before = line.digest;
    }
}

/// The words of the record, documented from the golden lines.
#[test]
fn the_table_of_kinds_is_the_one_in_the_documentation() {
    fn members(value: &Value, out: &mut Vec<String>) {
        for (key, member) in value.as_object().unwrap() {
            let mut text = format!("`{key}`");
            let inner = match member {
                Value::Array(items) => items.first().filter(|item| item.is_object()),
                Value::Object(_)
                    if !["marks", "context", "map", "body", "seen", "route"]
                        .contains(&key.as_str()) =>
                {
                    Some(member)
                }
                _ => None,
            };
            if let Some(inner) = inner {
                let mut within = Vec::new();
                members(inner, &mut within);
                text.push_str(&format!(" ({})", within.join(", ")));
            }
            out.push(text);
        }
    }
    let mut text = String::from("| kind | members |\n| --- | --- |\n");
    for kind in Body::KINDS {
        let mut names = Vec::new();
        for (_, value) in bodies().iter().filter(|(of, _)| of == kind) {
            members(value, &mut names);
        }
        names.sort();
        names.dedup();
        text.push_str(&format!("| {kind} | {} |\n", names.join(", ")));
    }
    pinned(
        PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("src/record/kinds/table.md"),
        text.as_bytes(),
    );
}

/// What a newer version writes is kept, followed and said.
#[test]
fn unknown_kinds_and_members_survive() {
    let signer = SeedSigner::from_seed(&[7; 32]);
    let template = &lines()[1];
    let mut value: Value = serde_json::from_slice(&template.bytes).unwrap();
    value["entry"]["body"]["file2"] = json!(d(40));
    value["entry"]["seen"]["zone_name"] = json!("CEST");
    value["entry"]["weather"] = json!("rain");
    let signed = canonical::to_bytes(&value["entry"]).unwrap();
    value["sig"] = json!(data_encoding::HEXLOWER.encode(&signer.sign(&signed)));
    let bytes = canonical::to_bytes(&value).unwrap();
    let line = Line::parse(&bytes).unwrap();
    assert!(line.newer && line.signature_holds());
    assert_eq!(line.bytes, bytes);
    assert_eq!(line.body_json()["file2"], json!(d(40)));
}
