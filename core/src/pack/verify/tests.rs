//! Damaged notebooks, one for each code, with what a person reads of each; then every bit.
//! Invented data whose truth is known by construction.

use super::*;
use crate::pack::members::Folder;
use crate::pack::testing::{Author, jpeg, owner, write};
use crate::record::kinds::{Removed, TimestampReceived, WalkaroundFinished};
use crate::world::SystemFiles;
use std::path::Path;
use std::sync::Arc;

fn look(root: &Path, own: Option<Digest>) -> Report {
    let limits = Limits::default();
    let members = Folder::open(Arc::new(SystemFiles), root, &limits).unwrap();
    let source = Source {
        members: &members,
        prefix: "",
        own,
        was_here: BTreeSet::new(),
        remembered: Default::default(),
        withheld: Vec::new(),
    };
    verify(&source, &limits).unwrap()
}

fn codes(report: &Report) -> Vec<&'static str> {
    let mut all: Vec<&'static str> = report.rows.iter().map(|row| row.code).collect();
    all.dedup();
    all
}

/// Makes the usual notebook, changes it, and says what verify finds.
fn found(change: impl FnOnce(&mut Author, &Path)) -> Report {
    let folder = tempfile::tempdir().unwrap();
    let (mut author, _) = owner(folder.path());
    change(&mut author, folder.path());
    let own = crate::record::key::Signer::public(&author.signer);
    look(folder.path(), Some(own))
}

/// Digests shortened, so that a snapshot shows words.
fn words(report: &Report) -> String {
    let mut out = String::new();
    for row in &report.rows {
        let file = row
            .file
            .split(['/', '.'])
            .map(|part| if part.len() == 64 { &part[..5] } else { part })
            .collect::<Vec<_>>()
            .join("/");
        out.push_str(&format!(
            "{:?} {} {file} | {} | {} | {}\n  {}\n  do: {}\n",
            row.status,
            row.code,
            row.walkaround.as_deref().unwrap_or("-"),
            row.zone.as_deref().unwrap_or("-"),
            row.finding.as_deref().unwrap_or("-"),
            row.what,
            row.remedy
        ));
    }
    out
}

fn evidence_of(author: &Author, nth: usize) -> Digest {
    author
        .lines
        .iter()
        .filter_map(|line| match &line.entry.body {
            crate::record::Body::PhotoTaken(photo) => Some(photo.file),
            _ => None,
        })
        .nth(nth)
        .unwrap()
}

fn evidence_path(digest: Digest) -> String {
    format!("evidence/{}/{digest}.jpg", &digest.hex()[..2])
}

#[test]
fn a_sound_notebook_has_no_row_at_all() {
    let report = found(|_, _| {});
    assert_eq!(words(&report), "");
    assert_eq!((report.chains, report.finishes, report.files), (1, 2, 4)); // three photos, one slip
    assert!(!report.failed());
    assert!(report.to_text().contains("Failures: 0"));
}

#[test]
fn every_failure_has_its_words() {
    let cases: Vec<(&str, Report)> = vec![
        (
            "altered original",
            found(|a, root| {
                write(root, &evidence_path(evidence_of(a, 0)), &jpeg(99));
            }),
        ),
        (
            "altered line",
            found(|a, root| {
                let name = a.save(root);
                let text = std::fs::read_to_string(root.join(&name)).unwrap();
                std::fs::write(root.join(&name), text.replacen("\"721\"", "\"721", 1)).unwrap();
            }),
        ),
        (
            "missing original",
            found(|a, root| {
                std::fs::remove_file(root.join(evidence_path(evidence_of(a, 1)))).unwrap();
            }),
        ),
        (
            "missing line",
            found(|a, root| {
                a.lines.remove(4);
                a.save(root);
            }),
        ),
        (
            "broken link",
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
            found(|a, root| {
                let name = a.save(root);
                let text = std::fs::read_to_string(root.join(&name)).unwrap();
                std::fs::write(root.join(&name), text.replacen("1200.5", "1100.5", 1)).unwrap();
            }),
        ),
        (
            "bad root",
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
            found(|a, root| {
                let mut voucher = Author::open(2, a.aircraft, root);
                voucher.vouch(a);
                voucher.save(root);
                a.lines.truncate(a.lines.len() - 2);
                a.save(root);
            }),
        ),
    ];
    let expected = [
        "altered",
        "altered",
        "missing",
        "missing",
        "broken_link",
        "bad_signature",
        "bad_root",
        "bad_timestamp",
        "two_lines_one_number",
        "not_as_vouched",
        "cut_tail",
    ];
    let mut all = String::new();
    for ((name, report), code) in cases.iter().zip(expected) {
        assert!(report.failed(), "{name}");
        assert!(codes(report).contains(&code), "{name}: {}", words(report));
        all.push_str(&format!("== {name}\n{}", words(report)));
    }
    insta::assert_snapshot!("failures", all);
}

#[test]
fn hints_and_intended_gaps_are_no_failures() {
    let mut all = String::new();
    let mut case = |name: &str, code: &str, report: Report| {
        assert!(!report.failed(), "{name}: {}", words(&report));
        assert!(codes(&report).contains(&code), "{name}: {}", words(&report));
        all.push_str(&format!("== {name}\n{}", words(&report)));
    };
    case(
        "torn line",
        "torn_line",
        found(|a, root| {
            let name = a.save(root);
            let mut bytes = std::fs::read(root.join(&name)).unwrap();
            bytes.extend(b"{\"entry\":{\"air");
            std::fs::write(root.join(name), bytes).unwrap();
        }),
    );
    case(
        "unfinished and unplaced",
        "unplaced",
        found(|a, root| {
            let walkaround = a.start();
            a.photo(root, &jpeg(11), walkaround);
            a.save(root);
        }),
    );
    case(
        "stray",
        "stray",
        found(|_, root| write(root, &evidence_path(Digest::of(b"x")), b"x")),
    );
    case(
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
    );
    case("never handed over", "not_handed_over", {
        let folder = tempfile::tempdir().unwrap();
        let (author, _) = owner(folder.path());
        std::fs::remove_file(folder.path().join(evidence_path(evidence_of(&author, 0)))).unwrap();
        look(folder.path(), None)
    });
    case("clock set back", "clock_order", {
        found(|a, root| {
            let last = a.lines.pop().unwrap();
            let mut entry = last.entry;
            entry.at = "2026-05-03T08:00:00+02:00".parse().unwrap();
            a.lines.push(entry.sign(&a.signer).unwrap());
            a.save(root);
        })
    });
    insta::assert_snapshot!("hints", all);
}

#[test]
fn vouching_says_which_part_and_since_when() {
    let folder = tempfile::tempdir().unwrap();
    let (author, _) = owner(folder.path());
    let mut voucher = Author::open(2, author.aircraft, folder.path());
    voucher.vouch(&author);
    voucher.save(folder.path());
    let report = look(folder.path(), None);
    assert!(!report.failed(), "{}", words(&report));
    let part = &report.vouched[0];
    assert_eq!(part.seq, author.lines.len() as u64 - 1);
    assert!(report.to_text().contains("vouched for by author"));
}

/// A sample here; every one in the deep run (`WITNESSMARK_DEEP=1`).
#[test]
fn a_flipped_bit_is_found_and_named_wherever_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path();
    let (author, _) = owner(root);
    let own = Some(crate::record::key::Signer::public(&author.signer));
    let step = if std::env::var_os("WITNESSMARK_DEEP").is_some() {
        1
    } else {
        61
    };
    let members = Folder::open(Arc::new(SystemFiles), root, &Limits::default()).unwrap();
    let names: Vec<String> = crate::pack::members::Members::list(&members)
        .iter()
        .map(|member| member.name.clone())
        .collect();
    let (mut flips, mut bit) = (0, 0usize);
    for name in names {
        let path = root.join(&name);
        let good = std::fs::read(&path).unwrap();
        while bit < good.len() * 8 {
            let mut hurt = good.clone();
            hurt[bit / 8] ^= 1 << (bit % 8);
            std::fs::write(&path, &hurt).unwrap();
            let report = look(root, own);
            let line = good[..bit / 8].iter().filter(|b| **b == b'\n').count() + 1;
            // The last newline of a chain: its line is then unfinished, and what it held is missed.
            let torn = name.starts_with("record/") && bit / 8 == good.len() - 1;
            assert!(
                report.failed() || torn && !report.rows.is_empty(),
                "{name} bit {bit} line {line}"
            );
            assert!(
                report.rows.iter().any(|row| row.file.starts_with(&name)),
                "{name} bit {bit}: {}",
                words(&report)
            );
            flips += 1;
            bit += step;
        }
        bit -= good.len() * 8;
        std::fs::write(&path, &good).unwrap();
    }
    assert!(flips > 100);
}
