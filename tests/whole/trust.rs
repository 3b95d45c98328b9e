//! Keys, backups, and findings that two people made of one place.

use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

use super::{good, notebook, refused, run, walk_files};

fn mode(path: &Path) -> u32 {
    std::fs::metadata(path).unwrap().permissions().mode() & 0o777
}

fn json(folder: &Path, words: &[&str]) -> serde_json::Value {
    serde_json::from_str(&good(folder, words)).unwrap()
}

fn chains(folder: &Path) -> Vec<PathBuf> {
    let mut found = walk_files(&folder.join("record"));
    found.retain(|path| path.extension().is_some_and(|ending| ending == "jsonl"));
    found.sort();
    found
}

#[test]
fn a_key_that_others_can_read_is_refused() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let key = folder.join("keys/author.pk8");
    assert_eq!(mode(&key), 0o600);
    for open in [0o640, 0o604, 0o644, 0o620] {
        std::fs::set_permissions(&key, std::fs::Permissions::from_mode(open)).unwrap();
        let before: Vec<Vec<u8>> = (chains(&folder).iter())
            .map(|path| std::fs::read(path).unwrap())
            .collect();
        let done = run(&folder, &["note", "x"]);
        assert_eq!(done.status.code(), Some(2), "{open:o}");
        assert_eq!(
            String::from_utf8(done.stderr).unwrap(),
            format!(
                "{}: others on this machine can read the key; chmod 600 on that file, then open again\n",
                key.display()
            )
        );
        let after: Vec<Vec<u8>> = (chains(&folder).iter())
            .map(|path| std::fs::read(path).unwrap())
            .collect();
        assert!(before == after);
        // Reading needs no key.
        assert!(good(&folder, &["history"]).contains("N0AB"));
    }
    std::fs::set_permissions(&key, std::fs::Permissions::from_mode(0o600)).unwrap();
    good(&folder, &["note", "x"]);
}

#[test]
fn files_have_the_permissions_they_need() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let photo = scratch.path().join("p.jpg");
    std::fs::write(&photo, b"\xff\xd8\xff\xdb\0\x04\0\x01\xff\xd9 invented").unwrap();
    good(&folder, &["photo", &photo.display().to_string()]);
    let originals = walk_files(&folder.join("evidence"));
    assert!(originals.len() >= 2);
    for path in originals {
        assert_eq!(mode(&path) & 0o222, 0, "{} can be written", path.display());
    }
    for path in walk_files(&folder) {
        assert_eq!(
            mode(&path) & 0o113,
            0,
            "{}: {:o}",
            path.display(),
            mode(&path)
        );
    }
}

/// Two devices restored from one backup: each goes on under a key of its own, linked where the old key is
/// in hand, and never do they write one chain.
#[test]
fn a_backup_holds_no_key_and_is_gone_on_with_under_a_new_author() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    good(&folder, &["walkaround", "start"]);
    good(&folder, &["note", "before the backup", "--zone", "733"]);
    good(&folder, &["walkaround", "finish"]);
    let backup = scratch.path().join("backup");
    good(&folder, &["backup", &backup.display().to_string()]);
    let secret = std::fs::read(folder.join("keys/author.pk8")).unwrap();
    let seed = &secret[16..48]; // RFC 8410, section 10.3
    for path in walk_files(&backup) {
        let bytes = std::fs::read(&path).unwrap();
        let held = bytes.windows(32).any(|window| window == seed);
        assert!(!held, "{} holds the key", path.display());
    }
    let said = refused(&backup, &["note", "no key"], 2);
    assert!(
        said.contains("this notebook has no key: it can be read, not written"),
        "{said}"
    );
    assert!(good(&backup, &["history"]).contains("N0AB"));

    let old: Vec<(PathBuf, Vec<u8>)> = (chains(&backup).iter())
        .map(|path| {
            let name = path.strip_prefix(&backup).unwrap().to_path_buf();
            (name, std::fs::read(path).unwrap())
        })
        .collect();
    let copy = scratch.path().join("copy");
    let status = std::process::Command::new("cp")
        .arg("-r")
        .args([&backup, &copy])
        .status();
    assert!(status.unwrap().success());
    let mut keys = Vec::new();
    for (root, link) in [(&backup, true), (&copy, false)] {
        let (shown, key) = (
            root.display().to_string(),
            folder.join("keys/author.pk8").display().to_string(),
        );
        let mut words = vec![
            "init",
            &shown,
            "--author",
            "A. Person",
            "--role",
            "owner",
            "--json",
        ];
        if link {
            words.extend(["--old-key", &key]);
        }
        let made = json(root, &words);
        assert_eq!(made["restored"], true);
        keys.push(made["author"].as_str().unwrap().to_owned());
        good(root, &["note", "after restoring", "--zone", "733"]);
        for (name, bytes) in &old {
            assert!(
                std::fs::read(root.join(name)).unwrap() == *bytes,
                "{name:?}"
            );
        }
        let rows = json(root, &["verify", "--json"]);
        let failures = rows["rows"].as_array().unwrap().iter();
        assert_eq!(failures.filter(|row| row["status"] == "failure").count(), 0);
        let text: String = (chains(root).iter())
            .map(|path| std::fs::read_to_string(path).unwrap())
            .collect();
        assert_eq!(text.contains("\"kind\":\"author linked\""), link);
    }
    assert_ne!(keys[0], keys[1]);
    // Brought together: three chains side by side, nothing in dispute.
    good(&backup, &["receive", &copy.display().to_string()]);
    good(&backup, &["receive", &folder.display().to_string()]);
    assert_eq!(chains(&backup).len(), 3);
    assert!(good(&backup, &["verify"]).contains("Failures: 0."));
}

#[test]
fn findings_of_different_people_at_one_place_are_offered_for_joining() {
    let scratch = tempfile::tempdir().unwrap();
    let (one, two) = (scratch.path().join("one"), scratch.path().join("two"));
    notebook(&one);
    let open = |folder: &Path, zone: &str, condition: &str, part: &str| -> String {
        let words = [
            "finding",
            "open",
            "--zone",
            zone,
            "--condition",
            condition,
            "--part",
            part,
            "--json",
        ];
        json(folder, &words)["short"].as_str().unwrap().to_owned()
    };
    let first = open(&one, "733", "crack", "lower aft screw");
    open(&one, "734", "crack", "upper edge");
    open(&one, "320", "dent", "trailing edge");
    let shown = two.display().to_string();
    good(
        &two,
        &[
            "init",
            &shown,
            "--author",
            "B. Person",
            "--role",
            "mechanic",
        ],
    );
    good(&two, &["receive", &one.display().to_string()]);
    let second = open(&two, "733", "crack", "the aft screw, low");
    open(&two, "733", "dent", "lower aft screw"); // another condition
    open(&two, "734", "crack", "rear bracket"); // another place in the zone
    open(&two, "320", "dent", "hinge"); // the same
    // Beside one's own nothing is offered, and what came is offered to whoever receives it.
    let came = json(&one, &["receive", &two.display().to_string(), "--json"]);
    let offers = came["may_be_one"].as_array().unwrap();
    assert_eq!(offers.len(), 1, "{offers:?}");
    // Opened within one instant: then the ids order them.
    let mut both = [(&first, "A. Person"), (&second, "B. Person")];
    if offers[0]["short"] != first.as_str() {
        both.reverse();
    }
    let [(one_id, one_by), (other_id, other_by)] = both;
    assert_eq!(offers[0]["short"], one_id.as_str());
    assert_eq!(offers[0]["other_short"], other_id.as_str());
    assert_eq!(
        offers[0]["says"],
        format!(
            "{one_id} ({one_by}, 2026-05-03) and {other_id} ({other_by}, 2026-05-03) may be one crack; if so, join them: witnessmark finding join {one_id} {other_id}"
        )
    );
    let asked = good(&one, &["finding", "join"]);
    assert_eq!(asked.trim_end(), offers[0]["says"].as_str().unwrap());
    // Receiving again brings nothing, and asks nothing.
    let again = json(&one, &["receive", &two.display().to_string(), "--json"]);
    assert_eq!(again["may_be_one"].as_array().unwrap().len(), 0);
    good(&one, &["finding", "join", &first, &second]);
    assert_eq!(
        good(&one, &["finding", "join"]).trim_end(),
        "No two findings of different people lie at one place."
    );
}
