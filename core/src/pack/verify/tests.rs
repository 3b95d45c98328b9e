//! Verifying invented notebooks whose truth is known by construction; then every bit of one.

mod damaged;
mod twice;
mod vouching;

use super::*;
use crate::pack::members::Folder;
use crate::pack::testing::{Author, jpeg, owner, write};
use crate::world::SystemFiles;
use std::path::Path;
use std::sync::Arc;

fn look(root: &Path, own: Option<Digest>) -> Report {
    look_with(root, own, &[])
}

/// With lines that are known to have stood last in their files.
fn look_with(root: &Path, own: Option<Digest>, remembered: &[(String, Digest)]) -> Report {
    let limits = Limits::default();
    let members = Folder::open(Arc::new(SystemFiles), root, &limits).unwrap();
    let source = Source {
        members: &members,
        prefix: "",
        own,
        was_here: BTreeSet::new(),
        remembered: remembered
            .iter()
            .map(|(file, line)| (file.clone(), BTreeSet::from([*line])))
            .collect(),
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
