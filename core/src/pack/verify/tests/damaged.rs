//! A damaged notebook or pack for each code, and what a person reads of it.

use super::super::super::cut::Cut;
use super::super::super::packer::{self, Order};
use super::super::super::receive::judge;
use super::super::super::testing::world;
use super::*;
use crate::record::kinds::{Removed, TimestampReceived, WalkaroundFinished};

type Case = (&'static str, &'static str, Report);

/// A pack of the usual notebook, changed, as its receiver judges it.
fn packed(people: bool, change: impl FnOnce(&Path)) -> Report {
    let home = tempfile::tempdir().unwrap();
    let (author, _) = owner(home.path());
    let out = home.path().join("pack");
    let order = Order {
        aircraft: BTreeSet::from([author.aircraft]),
        cut: Cut::Whole("review"),
        withhold_people: people,
        withhold_location: false,
        report: None,
        out: &out,
    };
    packer::pack(&world(1), home.path(), &author.signer, &order).unwrap();
    change(&out);
    judge(&world(1), &out, true).unwrap().outcome.report
}

/// A reply of a local `openssl ts`, of the fuzz targets' corpus.
fn reply() -> Vec<u8> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/seeds/timestamp");
    let mut found = std::fs::read_dir(folder).unwrap().filter_map(|entry| {
        let bytes = std::fs::read(entry.unwrap().path()).unwrap();
        crate::record::proof::timestamp::Reply::parse(&bytes)
            .is_ok()
            .then_some(bytes)
    });
    found.next().unwrap()
}

/// Stores a reply that is made to name the author's last line, and the line about it. Whether the
/// authority signed that is not checked here, which is the point.
pub fn stamp(author: &mut Author, root: &Path) {
    let bytes = reply();
    let old = crate::record::proof::timestamp::Reply::parse(&bytes).unwrap();
    let finish = author.lines.last().unwrap().digest;
    let at = bytes.windows(32).position(|w| w == old.imprint.0).unwrap();
    let bytes = [&bytes[..at], &finish.0, &bytes[at + 32..]].concat();
    let file = Digest::of(&bytes);
    let name = format!("evidence/{}/{file}.tsr", &file.hex()[..2]);
    write(root, &name, &bytes);
    author.add(TimestampReceived {
        finish,
        file,
        time: old.time,
        policy: None,
    });
    author.save(root);
}

fn failures() -> Vec<Case> {
    vec![
        (
            "altered original",
            "altered",
            found(|a, root| {
                write(root, &evidence_path(evidence_of(a, 0)), &jpeg(99));
            }),
        ),
        (
            "altered line",
            "altered",
            found(|a, root| {
                let name = a.save(root);
                let text = std::fs::read_to_string(root.join(&name)).unwrap();
                std::fs::write(root.join(&name), text.replacen("\"721\"", "\"721", 1)).unwrap();
            }),
        ),
        (
            "missing original",
            "missing",
            found(|a, root| {
                std::fs::remove_file(root.join(evidence_path(evidence_of(a, 1)))).unwrap();
            }),
        ),
        (
            "missing line",
            "missing",
            found(|a, root| {
                a.lines.remove(4);
                a.save(root);
            }),
        ),
        (
            "missing opening of a finding",
            "missing",
            found(|a, root| {
                a.lines.remove(5);
                a.save(root);
            }),
        ),
        (
            "broken link",
            "broken_link",
            found(|a, root| {
                // The author writes the middle of the chain anew: signatures hold, links do not.
                let mut entry = a.lines[5].entry.clone();
                if let crate::record::Body::FindingOpened(finding) = &mut entry.body {
                    finding.zone = "722".into();
                }
                a.lines[5] = entry.sign(&a.signer).unwrap();
                a.save(root);
            }),
        ),
        (
            "bad signature",
            "bad_signature",
            found(|a, root| {
                let name = a.save(root);
                let text = std::fs::read_to_string(root.join(&name)).unwrap();
                std::fs::write(root.join(&name), text.replacen("1200.5", "1100.5", 1)).unwrap();
            }),
        ),
        (
            "bad root",
            "bad_root",
            found(|a, root| {
                let walkaround = a.start();
                let body = WalkaroundFinished {
                    walkaround,
                    size: a.lines.len() as u64,
                    root: Digest([9; 32]),
                };
                a.add(body);
                a.save(root);
            }),
        ),
        (
            "bad timestamp",
            "bad_timestamp",
            found(|a, root| {
                write(
                    root,
                    &evidence_path(Digest::of(b"no reply")).replace("jpg", "tsr"),
                    b"no reply",
                );
                let finish = a.lines.last().unwrap().digest;
                a.add(TimestampReceived {
                    finish,
                    file: Digest::of(b"no reply"),
                    time: "2026-05-03T09:00:00+00:00".into(),
                    policy: None,
                });
                a.save(root);
            }),
        ),
        (
            "two lines, one number",
            "two_lines_one_number",
            found(|a, root| {
                let mut entry = a.lines[3].entry.clone();
                entry.at = "2026-05-03T10:30:00+02:00".parse().unwrap();
                let other = entry.sign(&a.signer).unwrap();
                a.lines.push(other);
                a.save(root);
            }),
        ),
        (
            "not as vouched",
            "not_as_vouched",
            found(|a, root| {
                let mut voucher = Author::open(2, a.aircraft, root);
                voucher.vouch(a);
                voucher.save(root);
                let last = a.lines.pop().unwrap();
                let mut entry = last.entry;
                entry.at = "2026-05-03T11:00:00+02:00".parse().unwrap();
                a.lines.push(entry.sign(&a.signer).unwrap());
                a.save(root);
            }),
        ),
        (
            "cut tail",
            "cut_tail",
            found(|a, root| {
                let mut voucher = Author::open(2, a.aircraft, root);
                voucher.vouch(a);
                voucher.save(root);
                a.lines.truncate(a.lines.len() - 2);
                a.save(root);
            }),
        ),
        ("missing chain", "missing", {
            let folder = tempfile::tempdir().unwrap();
            let (author, _) = owner(folder.path());
            let name = author.save(folder.path());
            let own = crate::record::key::Signer::public(&author.signer);
            std::fs::remove_file(folder.path().join(&name)).unwrap();
            let last = author.lines.last().unwrap().digest;
            look_with(folder.path(), Some(own), &[(name, last)])
        }),
        ("cut tail, remembered here", "cut_tail", {
            let folder = tempfile::tempdir().unwrap();
            let (mut author, _) = owner(folder.path());
            let own = crate::record::key::Signer::public(&author.signer);
            let last = author.lines.last().unwrap().digest;
            author.lines.truncate(author.lines.len() - 2);
            let name = author.save(folder.path());
            look_with(folder.path(), Some(own), &[(name, last)])
        }),
        (
            "a file that no list names",
            "bad_manifest",
            packed(false, |pack| write(pack, "data/extra.txt", b"extra")),
        ),
        (
            "a pack that nobody signed",
            "bad_manifest",
            packed(false, |pack| {
                std::fs::remove_file(pack.join("packer.json")).unwrap()
            }),
        ),
    ]
}

fn hints() -> Vec<Case> {
    vec![
        (
            "torn line",
            "torn_line",
            found(|a, root| {
                let name = a.save(root);
                let mut bytes = std::fs::read(root.join(&name)).unwrap();
                bytes.extend(b"{\"entry\":{\"air");
                std::fs::write(root.join(name), bytes).unwrap();
            }),
        ),
        (
            "unfinished and unplaced",
            "unplaced",
            found(|a, root| {
                let walkaround = a.start();
                a.photo(root, &jpeg(11), walkaround);
                a.save(root);
            }),
        ),
        (
            "stray",
            "stray",
            found(|_, root| write(root, &evidence_path(Digest::of(b"x")), b"x")),
        ),
        (
            "removed",
            "removed",
            found(|a, root| {
                let file = evidence_of(a, 0);
                std::fs::remove_file(root.join(evidence_path(file))).unwrap();
                a.add(Removed {
                    file,
                    why: "a bystander is heard".into(),
                });
                a.save(root);
            }),
        ),
        ("never handed over", "not_handed_over", {
            let folder = tempfile::tempdir().unwrap();
            let (author, _) = owner(folder.path());
            std::fs::remove_file(folder.path().join(evidence_path(evidence_of(&author, 0))))
                .unwrap();
            look(folder.path(), None)
        }),
        ("clock set back", "clock_order", {
            found(|a, root| {
                let last = a.lines.pop().unwrap();
                let mut entry = last.entry;
                entry.at = "2026-05-03T08:00:00+02:00".parse().unwrap();
                a.lines.push(entry.sign(&a.signer).unwrap());
                a.save(root);
            })
        }),
        (
            "unfinished",
            "unfinished",
            found(|a, root| {
                a.start();
                a.save(root);
            }),
        ),
        ("lines that did not come", "gap", {
            let folder = tempfile::tempdir().unwrap();
            let (mut author, _) = owner(folder.path());
            author.lines.drain(4..6);
            author.save(folder.path());
            look(folder.path(), None)
        }),
        ("a time stamp", "not_checked", found(stamp)),
        ("a pack without names", "withheld", packed(true, |_| {})),
    ]
}

fn read_by_a_person(cases: &[Case], failed: bool) -> String {
    let mut all = String::new();
    for (name, code, report) in cases {
        assert_eq!(report.failed(), failed, "{name}: {}", words(report));
        assert!(codes(report).contains(code), "{name}: {}", words(report));
        all.push_str(&format!("== {name}\n{}", words(report)));
    }
    all
}

#[test]
fn there_is_a_damaged_notebook_for_every_code_with_its_words() {
    let (failures, hints) = (failures(), hints());
    let made: BTreeSet<&str> = failures
        .iter()
        .chain(&hints)
        .map(|(_, code, _)| *code)
        .collect();
    let all: BTreeSet<&str> = CODES
        .iter()
        .flat_map(|(_, codes)| *codes)
        .copied()
        .collect();
    assert_eq!(made, all);
    insta::assert_snapshot!("failures", read_by_a_person(&failures, true));
    insta::assert_snapshot!("hints", read_by_a_person(&hints, false));
}
