use super::super::{KeySource, Notebook, verify_folder};
use super::*;
use crate::pack::testing::world;
use std::collections::BTreeMap;

fn everything(root: &Path, out: &mut BTreeMap<String, Vec<u8>>) {
    for entry in std::fs::read_dir(root).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            out.insert(path.display().to_string(), Vec::new());
            everything(&path, out);
        } else {
            out.insert(path.display().to_string(), std::fs::read(&path).unwrap());
        }
    }
}

/// A later program's notebook: no call of ours reads it by rules that may have changed, or touches it.
#[test]
fn a_notebook_of_a_newer_format_is_refused_untouched() {
    let scratch = tempfile::tempdir().unwrap();
    let root = scratch.path().join("newer");
    let key = || KeySource::Seed([3; 32]);
    let mut notebook = Notebook::init(&root, world(1), "Invented", "owner", key()).unwrap();
    notebook
        .add_aircraft("N0NEW", "invented", None, "high_wing_strutted_fixed", false)
        .unwrap();
    notebook.close().unwrap();
    let path = root.join("notebook.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    let newer = text.replace("format = 1", "format = 2\nshape = \"unknown\"");
    assert_ne!(newer, text);
    std::fs::write(&path, newer).unwrap();
    // What the next writer would sweep or cut, and this one must leave alone.
    std::fs::write(root.join("incoming/half"), b"half").unwrap();
    let mut before = BTreeMap::new();
    everything(scratch.path(), &mut before);

    let other = tempfile::tempdir().unwrap();
    let seed = KeySource::Seed([4; 32]);
    let mut receiver = Notebook::init(other.path(), world(2), "Other", "owner", seed).unwrap();
    let refused = [
        Notebook::open(&root, world(3), key()).err(),
        Notebook::read(&root, world(3)).err(),
        Notebook::restore(&root, world(3), "New", "owner", key(), None).err(),
        verify_folder(&world(3), &root).err(),
        receiver.receive(&root, false).err(),
        receiver.receive_folder(&root).err(),
    ];
    for error in refused {
        let error = error.unwrap();
        assert_eq!(error.kind, ErrorKind::Newer, "{error}");
        assert!(error.what.contains("format 2"), "{error}");
    }
    let again = Notebook::init(&root, world(3), "New", "owner", key()).err();
    assert_eq!(again.unwrap().kind, ErrorKind::AlreadyThere);
    let mut after = BTreeMap::new();
    everything(scratch.path(), &mut after);
    assert_eq!(after, before);
}

#[test]
fn what_is_no_manifest_is_said_to_be_damaged() {
    for text in [
        "",
        "format = 1",
        "format = \"one\"",
        "\u{0}",
        "format = 1\nauthor = 5\nwho = 6",
    ] {
        let error = check_manifest(text.as_bytes()).unwrap_err();
        assert_eq!(error.kind, ErrorKind::Damaged, "{text:?}");
    }
    let long = vec![b'#'; 70_000];
    assert_eq!(check_manifest(&long).unwrap_err().kind, ErrorKind::TooLarge);
}
