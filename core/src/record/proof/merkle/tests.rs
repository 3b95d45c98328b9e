//! Outside reference: the test data of github.com/transparency-dev/merkle (Apache-2.0), 196 cases
//! of inclusion and consistency, read from `../shared/outside/merkle` where present. Known roots:
//! those of RFC 6962's reference implementation for its eight well-known inputs.

use super::*;
use data_encoding::{BASE64, HEXLOWER};
use std::path::{Path, PathBuf};

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

fn json_below(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            json_below(&path, found);
        } else if path.extension().is_some_and(|e| e == "json") {
            found.push(path);
        }
    }
}

#[derive(serde::Deserialize)]
#[serde(rename_all = "camelCase")]
struct Case {
    #[serde(default)]
    leaf_idx: u64,
    #[serde(default)]
    tree_size: u64,
    #[serde(default)]
    root: String,
    #[serde(default)]
    leaf_hash: String,
    #[serde(default)]
    size1: u64,
    #[serde(default)]
    size2: u64,
    #[serde(default)]
    root1: String,
    #[serde(default)]
    root2: String,
    proof: Option<Vec<String>>,
    want_err: bool,
}

fn bytes(text: &str) -> Vec<u8> {
    BASE64.decode(text.as_bytes()).unwrap()
}

#[test]
fn published_cases_are_judged_as_their_authors_say() {
    let Some(folder) = shared("outside/merkle/testdata") else {
        return;
    };
    let (mut accepted, mut refused) = (0, 0);
    for kind in ["inclusion", "consistency"] {
        let mut files = Vec::new();
        json_below(&folder.join(kind), &mut files);
        for file in files {
            let case: Case = serde_json::from_slice(&std::fs::read(&file).unwrap()).unwrap();
            let proof: Vec<Vec<u8>> = case
                .proof
                .unwrap_or_default()
                .iter()
                .map(|step| bytes(step))
                .collect();
            let good = if kind == "inclusion" {
                verify_inclusion(
                    case.leaf_idx,
                    case.tree_size,
                    &bytes(&case.leaf_hash),
                    &proof,
                    &bytes(&case.root),
                )
            } else {
                verify_consistency(
                    case.size1,
                    case.size2,
                    &bytes(&case.root1),
                    &bytes(&case.root2),
                    &proof,
                )
            };
            assert_eq!(good, !case.want_err, "{}", file.display());
            if good { accepted += 1 } else { refused += 1 }
        }
    }
    assert_eq!((accepted, refused), (12, 184));
}

/// Inputs and roots of the reference implementation of RFC 6962 (Certificate Transparency,
/// `merkletree/tree_hasher` tests), from memory; the last root is also in the shared test data.
#[test]
fn known_roots_of_the_reference_inputs() {
    let inputs = [
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    ];
    let mut tree = Tree::new();
    assert_eq!(
        HEXLOWER.encode(&tree.root(0).unwrap()),
        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
    );
    for input in inputs {
        tree.push(&HEXLOWER.decode(input.as_bytes()).unwrap());
    }
    assert_eq!(
        HEXLOWER.encode(&tree.root(1).unwrap()),
        "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d"
    );
    assert_eq!(
        HEXLOWER.encode(&tree.root(8).unwrap()),
        "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328"
    );
    assert_eq!(tree.root(9), None);
}

/// The recursion of the RFC, word for word; slow and obviously right.
fn plain_root(leaves: &[Hash]) -> Hash {
    match leaves {
        [] => Sha256::digest([]).into(),
        [one] => *one,
        many => {
            let (left, right) = many.split_at(split(many.len() as u64) as usize);
            node_hash(&plain_root(left), &plain_root(right))
        }
    }
}

#[test]
fn every_proof_of_small_trees_verifies_and_no_neighbour_does() {
    let mut tree = Tree::new();
    let mut leaves = Vec::new();
    for n in 0..40u64 {
        tree.push(&n.to_le_bytes());
        leaves.push(leaf_hash(&n.to_le_bytes()));
    }
    for size in 1..=40u64 {
        let root = tree.root(size).unwrap();
        assert_eq!(root, plain_root(&leaves[..size as usize]));
        for index in 0..size {
            let path = tree.inclusion(index, size).unwrap();
            let leaf = leaves[index as usize];
            assert!(verify_inclusion(index, size, &leaf, &path, &root));
            assert!(!verify_inclusion(index + 1, size, &leaf, &path, &root));
            assert!(!verify_inclusion(
                index,
                size,
                &leaf_hash(b"other"),
                &path,
                &root
            ));
            if size > 1 {
                assert!(!verify_inclusion(index, size, &leaf, &path[1..], &root));
            }
        }
        for old in 1..=size {
            let path = tree.consistency(old, size).unwrap();
            let old_root = tree.root(old).unwrap();
            assert!(verify_consistency(old, size, &old_root, &root, &path));
            if old < size {
                assert!(!verify_consistency(old, size, &root, &old_root, &path));
                assert!(!verify_consistency(old, size, &root, &root, &path));
            }
        }
        assert_eq!(tree.inclusion(size, size), None);
        assert_eq!(tree.consistency(0, size), None);
    }
}

proptest::proptest! {
    /// Any numbers and bytes whatever: an answer, never a panic.
    #[test]
    fn hostile_proofs_never_panic(
        a in proptest::num::u64::ANY,
        b in proptest::num::u64::ANY,
        path in proptest::collection::vec(proptest::collection::vec(proptest::num::u8::ANY, 0..40), 0..70),
        root in proptest::collection::vec(proptest::num::u8::ANY, 0..40),
    ) {
        let _ = verify_inclusion(a, b, &root, &path, &root);
        let _ = verify_consistency(a, b, &root, &root, &path);
    }
}
