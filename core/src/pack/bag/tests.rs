//! Outside reference: the BagIt conformance suite of the Library of Congress (CC0), 60 bags, read
//! from `../shared/outside/bagit` where present.

use super::super::members;
use super::*;
use crate::world::{Files, SystemFiles};
use std::path::{Path, PathBuf};
use std::sync::Arc;

fn shared(what: &str) -> Option<PathBuf> {
    let root = std::env::var_os("WITNESSMARK_SHARED").map_or_else(
        || Path::new(env!("CARGO_MANIFEST_DIR")).join("../../shared"),
        PathBuf::from,
    );
    let path = root.join(what);
    if path.exists() {
        return Some(path);
    }
    eprintln!("SKIPPED: {} is not there", path.display());
    None
}

fn files() -> Arc<dyn Files> {
    Arc::new(SystemFiles)
}

fn judge(path: &Path, rules: Rules) -> BagReport {
    let limits = Limits::default();
    let members = members::open(&files(), path, &limits).unwrap();
    check(members.as_ref(), rules, &limits).unwrap()
}

fn folders(path: &Path) -> Vec<PathBuf> {
    let mut all: Vec<PathBuf> = std::fs::read_dir(path)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.is_dir())
        .collect();
    all.sort();
    all
}

#[test]
fn conformance_suite_is_judged_as_its_authors_say() {
    let Some(root) = shared("outside/bagit") else {
        return;
    };
    let mut wrong = Vec::new();
    let mut cases = 0;
    for version in folders(&root) {
        for class in folders(&version) {
            for case in folders(&class) {
                cases += 1;
                let report = judge(&case, Rules::Any);
                let odd = !report.faults.is_empty();
                let good = match class.file_name().unwrap().to_str().unwrap() {
                    "valid" => report.is_valid(),
                    "warning" => report.is_valid() && odd,
                    _ => !report.is_valid(),
                };
                if !good {
                    wrong.push(format!("{}: {:?}", case.display(), report.faults));
                }
                // None of them is a pack of ours, and that is said rather than guessed.
                assert!(judge(&case, Rules::Pack).faults.len() < 100);
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
    assert_eq!(cases, 60);
}

/// Invented bag whose truth is known by construction.
fn make(root: &Path, change: impl Fn(&mut BTreeMap<&'static str, Vec<u8>>)) {
    let mut all: BTreeMap<&'static str, Vec<u8>> = BTreeMap::new();
    all.insert("data/a.txt", b"one".to_vec());
    all.insert("data/b/c.txt", b"two".to_vec());
    all.insert(
        "bagit.txt",
        b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n".to_vec(),
    );
    let sums = |all: &BTreeMap<&'static str, Vec<u8>>, payload: bool| {
        all.iter()
            .filter(|(name, _)| name.starts_with("data/") == payload && !name.starts_with("tag"))
            .map(|(name, bytes)| format!("{}  {name}\n", Digest::of(bytes)))
            .collect::<String>()
    };
    let text = sums(&all, true);
    all.insert("manifest-sha256.txt", text.into_bytes());
    let text = sums(&all, false);
    all.insert("tagmanifest-sha256.txt", text.into_bytes());
    change(&mut all);
    for (name, bytes) in all {
        let path = root.join(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, bytes).unwrap();
    }
}

fn faults(change: impl Fn(&mut BTreeMap<&'static str, Vec<u8>>)) -> Vec<FaultKind> {
    let folder = tempfile::tempdir().unwrap();
    make(folder.path(), change);
    judge(folder.path(), Rules::Pack)
        .faults
        .iter()
        .map(|fault| fault.kind)
        .collect()
}

#[test]
fn a_whole_pack_has_no_fault_and_every_hurt_has_its_own() {
    assert_eq!(faults(|_| {}), []);
    assert_eq!(
        faults(|all| {
            all.insert("data/a.txt", b"onf".to_vec());
        }),
        [FaultKind::Altered]
    );
    assert_eq!(
        faults(|all| {
            all.remove("data/a.txt");
        }),
        [FaultKind::Missing]
    );
    assert_eq!(
        faults(|all| {
            all.insert("data/new.txt", b"x".to_vec());
        }),
        [FaultKind::Extra]
    );
    assert_eq!(
        faults(|all| {
            all.insert("README", b"x".to_vec());
        }),
        [FaultKind::Extra]
    );
    assert!(
        faults(|all| {
            all.insert("fetch.txt", b"http://a/b - data/a.txt\n".to_vec());
        })
        .contains(&FaultKind::Manifest)
    );
    assert!(
        faults(|all| {
            let md5 = b"f97c5d29941bfb1b2fdab0874906ab82  data/a.txt\n".to_vec();
            all.remove("manifest-sha256.txt");
            all.insert("manifest-md5.txt", md5);
        })
        .contains(&FaultKind::Manifest)
    );
}

#[cfg(unix)]
#[test]
fn links_are_refused_before_anything_is_read() {
    let folder = tempfile::tempdir().unwrap();
    make(folder.path(), |_| {});
    std::os::unix::fs::symlink("/etc/passwd", folder.path().join("data/link")).unwrap();
    let error = members::open(&files(), folder.path(), &Limits::default())
        .err()
        .unwrap();
    assert!(error.what.contains("link"), "{error}");
}
