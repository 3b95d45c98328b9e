//! A lost phone, a new one, two from one backup: the path that new_phone.md describes, end to end.

use super::*;
use crate::notebook::{NewWalkaround, Place, verify_folder};
use crate::pack::testing::world;

fn owner(root: &Path) -> (Notebook, Digest) {
    let mut notebook =
        Notebook::init(root, world(1), "Invented", "owner", KeySource::File).unwrap();
    let aircraft = notebook
        .add_aircraft(
            "N0LOST",
            "invented",
            None,
            "high_wing_strutted_fixed",
            false,
        )
        .unwrap();
    walked(&mut notebook, &aircraft);
    (notebook, aircraft)
}

fn walked(notebook: &mut Notebook, aircraft: &Digest) {
    notebook
        .start_walkaround(aircraft, &NewWalkaround::default())
        .unwrap();
    let place = Place {
        aircraft: Some(*aircraft),
        ..Place::default()
    };
    notebook.write_note("seen", &place).unwrap();
    notebook.finish_walkaround(aircraft).unwrap();
}

/// Everything that stands in a record, by chain.
fn record(root: &Path) -> std::collections::BTreeMap<String, Vec<u8>> {
    crate::index::chain_files(&crate::world::SystemFiles, root)
        .unwrap()
        .into_iter()
        .map(|(path, file, _)| (file, std::fs::read(path).unwrap()))
        .collect()
}

fn copied(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let target = to.join(entry.file_name());
        if entry.path().is_dir() {
            copied(&entry.path(), &target);
        } else {
            std::fs::copy(entry.path(), target).unwrap();
        }
    }
}

fn restored(root: &Path, seed: u64, old: Option<&dyn Signer>) -> Notebook {
    Notebook::restore(root, world(seed), "Invented", "owner", KeySource::File, old).unwrap()
}

#[test]
fn a_lost_phone_goes_on_under_a_new_author_and_all_is_still_there() {
    let scratch = tempfile::tempdir().unwrap();
    let (lost, backup) = (scratch.path().join("lost"), scratch.path().join("backup"));
    let (notebook, aircraft) = owner(&lost);
    let old_author = notebook.author();
    notebook.backup(&backup).unwrap();
    notebook.close().unwrap();
    let before = record(&lost);
    std::fs::remove_dir_all(&lost).unwrap();
    assert!(!backup.join("keys").exists(), "a backup holds no key");
    // Read before anybody goes on.
    let reader = Notebook::read(&backup, world(2)).unwrap();
    assert_eq!(reader.finishes(&aircraft).unwrap().len(), 1);
    drop(reader);
    let error = Notebook::open(&backup, world(2), KeySource::File)
        .err()
        .unwrap();
    assert!(error.remedy.contains("new author"), "{error}");
    let mut notebook = restored(&backup, 3, None);
    assert_ne!(notebook.author(), old_author);
    walked(&mut notebook, &aircraft);
    assert_eq!(notebook.finishes(&aircraft).unwrap().len(), 2);
    notebook.close().unwrap();
    let after = record(&backup);
    assert_eq!(after.len(), before.len() + 1);
    for (file, bytes) in &before {
        assert_eq!(after.get(file), Some(bytes), "the old chain is not touched");
    }
    let report = verify_folder(&world(4), &backup).unwrap();
    assert!(!report.failed(), "{}", report.to_text());
}

#[test]
fn with_the_old_key_in_hand_the_two_are_said_to_be_one_person() {
    let scratch = tempfile::tempdir().unwrap();
    let (old, new) = (scratch.path().join("old"), scratch.path().join("new"));
    let (notebook, aircraft) = owner(&old);
    let old_author = notebook.author();
    notebook.backup(&new).unwrap();
    notebook.close().unwrap();
    let key = SeedSigner::load(&crate::world::SystemFiles, &key_path(&old)).unwrap();
    let mut notebook = restored(&new, 3, Some(&key));
    let links = notebook
        .index
        .kind_lines(&aircraft, "author linked")
        .unwrap();
    assert!(
        matches!(&links[..], [row] if row.author == notebook.author()
            && matches!(&row.body, Body::AuthorLinked(link) if link.linked == old_author))
    );
    // The old phone's chain was last seen by the new one: said to be the same person's word.
    notebook.vouch(&aircraft).unwrap();
    notebook.close().unwrap();
    let report = verify_folder(&world(4), &new).unwrap();
    assert!(!report.failed(), "{}", report.to_text());
    assert!(report.vouched.iter().all(|part| part.same_person));
    assert_eq!(report.vouched.len(), 1);
}

#[test]
fn two_devices_from_one_backup_never_write_one_chain() {
    let scratch = tempfile::tempdir().unwrap();
    let home = scratch.path().join("home");
    let (notebook, aircraft) = owner(&home);
    let backup = scratch.path().join("backup");
    notebook.backup(&backup).unwrap();
    notebook.close().unwrap();
    let (one, two) = (scratch.path().join("one"), scratch.path().join("two"));
    copied(&backup, &one);
    copied(&backup, &two);
    // The same seed of chance would be the same key: devices have their own.
    let (mut first, mut second) = (restored(&one, 5, None), restored(&two, 6, None));
    assert_ne!(first.author(), second.author());
    walked(&mut first, &aircraft);
    walked(&mut second, &aircraft);
    let place = scratch.path().join("shared");
    first.exchange_folder(&place, false).unwrap();
    second.exchange_folder(&place, false).unwrap();
    let met = first.exchange_folder(&place, false).unwrap();
    assert_eq!(met.outcome.new_key, None);
    first.close().unwrap();
    second.close().unwrap();
    assert_eq!(record(&one), record(&two));
    assert_eq!(record(&one).len(), 3, "one old chain, two new ones");
    for root in [&one, &two] {
        let report = verify_folder(&world(8), root).unwrap();
        assert!(!report.failed(), "{}", report.to_text());
    }
}

/// Somebody copies the whole folder, key and all, to a second device: the first meeting parts the two.
#[test]
fn a_key_that_two_devices_use_is_given_up_at_the_first_meeting() {
    let scratch = tempfile::tempdir().unwrap();
    let (one, two) = (scratch.path().join("one"), scratch.path().join("two"));
    let (notebook, aircraft) = owner(&one);
    let shared = notebook.author();
    notebook.close().unwrap();
    copied(&one, &two);
    let mut first = Notebook::open(&one, world(21), KeySource::File).unwrap();
    let mut second = Notebook::open(&two, world(22), KeySource::File).unwrap();
    walked(&mut first, &aircraft);
    let place = Place {
        aircraft: Some(aircraft),
        ..Place::default()
    };
    second.write_note("another thing", &place).unwrap();
    let meeting = scratch.path().join("shared");
    first.exchange_folder(&meeting, false).unwrap();
    let met = second.exchange_folder(&meeting, false).unwrap();
    let fresh = met.outcome.new_key.unwrap();
    assert_eq!(second.author(), fresh);
    assert_ne!(fresh, shared);
    second.write_note("on under its own key", &place).unwrap();
    second.close().unwrap();
    first.close().unwrap();
    let other = record(&two)
        .into_keys()
        .any(|file| file.ends_with(".other.jsonl"));
    assert!(other, "both versions are kept");
}
