//! Whole-program tests: the command line as a person uses it. All data here is invented.
#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

mod bad_input;
mod growth;
mod hear;
mod history;
mod knowledge;
mod lay;
mod listings;
mod measure;
mod readme;
mod store;
mod trust;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// The program as it is now: built once a run, so that no older one is tested by mistake.
fn program() -> PathBuf {
    static BUILT: std::sync::OnceLock<PathBuf> = std::sync::OnceLock::new();
    BUILT
        .get_or_init(|| {
            let mut cargo = Command::new(env!("CARGO"));
            // What Cargo tells a test about its package makes the build scripts of others run again
            // (ring asks for CARGO_MANIFEST_DIR), and half the workspace would be compiled twice.
            for (name, _) in std::env::vars() {
                if name.starts_with("CARGO_PKG_") || name.starts_with("CARGO_MANIFEST_") {
                    cargo.env_remove(name);
                }
            }
            let status = cargo
                .args(["build", "--release", "--workspace", "--bins"])
                .status()
                .unwrap();
            assert!(status.success());
            // The test stands in target/release/deps; the program one folder up.
            let here = std::env::current_exe().unwrap();
            here.ancestors().nth(2).unwrap().join("witnessmark")
        })
        .clone()
}

fn run(folder: &Path, words: &[&str]) -> Output {
    Command::new(program())
        .arg("-C")
        .arg(folder)
        .args(["--now", "2026-05-03T09:10:00+02:00"])
        .args(words)
        .output()
        .unwrap()
}

fn good(folder: &Path, words: &[&str]) -> String {
    let output = run(folder, words);
    assert!(
        output.status.success(),
        "{words:?}: {}",
        String::from_utf8_lossy(&output.stderr)
    );
    String::from_utf8(output.stdout).unwrap()
}

fn refused(folder: &Path, words: &[&str], status: i32) -> String {
    let output = run(folder, words);
    assert_eq!(
        output.status.code(),
        Some(status),
        "{words:?}: {}",
        String::from_utf8_lossy(&output.stdout)
    );
    String::from_utf8(output.stderr).unwrap()
}

fn notebook(folder: &Path) {
    let shown = folder.display().to_string();
    good(
        folder,
        &["init", &shown, "--author", "A. Person", "--role", "owner"],
    );
    good(
        folder,
        &[
            "aircraft",
            "add",
            "N0AB",
            "--type",
            "four-seater",
            "--layout",
            "high_wing_strutted_fixed",
        ],
    );
}

#[test]
fn a_walkaround_from_first_photo_to_history() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    good(
        &folder,
        &[
            "walkaround",
            "start",
            "--purpose",
            "routine",
            "--hours",
            "1200.1",
        ],
    );
    let opened = good(
        &folder,
        &[
            "finding",
            "open",
            "--zone",
            "left wheel fairing",
            "--condition",
            "crack",
            "--measure",
            "length 2 in by ruler",
            "--json",
        ],
    );
    let opened: serde_json::Value = serde_json::from_str(&opened).unwrap();
    let short = opened["short"].as_str().unwrap();
    good(&folder, &["walkaround", "finish"]);
    good(&folder, &["walkaround", "start", "--hours", "1240"]);
    good(
        &folder,
        &[
            "finding",
            "sight",
            short,
            "--measure",
            "length 2 1/4 in by ruler",
            "--text",
            "<b>longer</b>",
        ],
    );
    good(&folder, &["look", "734", "--nothing-found"]);
    good(&folder, &["walkaround", "finish"]);
    let history: serde_json::Value =
        serde_json::from_str(&good(&folder, &["history", "--json"])).unwrap();
    let finding = &history["findings"][0];
    assert_eq!(finding["change"], "worse");
    assert_eq!(finding["sightings"].as_array().unwrap().len(), 2);
    // Markup in a note stays text.
    let page = scratch.path().join("page.html");
    good(&folder, &["report", "--out", &page.display().to_string()]);
    let page = std::fs::read_to_string(page).unwrap();
    assert!(page.contains("&lt;b&gt;longer&lt;/b&gt;") && !page.contains("<b>longer</b>"));
    // The index is derived: without it the answer is the same.
    for ending in ["", "-wal", "-shm"] {
        let _ = std::fs::remove_file(folder.join(format!("index.sqlite{ending}")));
    }
    let again: serde_json::Value =
        serde_json::from_str(&good(&folder, &["history", "--json"])).unwrap();
    assert_eq!(again, history);
}

#[test]
fn a_known_registration_is_refused() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let said = refused(
        &folder,
        &[
            "aircraft",
            "add",
            "n0ab",
            "--type",
            "x",
            "--layout",
            "high_wing_strutted_fixed",
        ],
        2,
    );
    assert!(said.contains("here already"), "{said}");
}

#[test]
fn two_notebooks_become_one_history_and_receiving_twice_changes_nothing() {
    let scratch = tempfile::tempdir().unwrap();
    let (one, two) = (scratch.path().join("one"), scratch.path().join("two"));
    notebook(&one);
    good(
        &two,
        &[
            "init",
            &two.display().to_string(),
            "--author",
            "B. Person",
            "--role",
            "mechanic",
        ],
    );
    good(&two, &["receive", &one.display().to_string()]);
    good(
        &two,
        &["finding", "open", "--zone", "733", "--condition", "crack"],
    );
    good(&one, &["receive", &two.display().to_string()]);
    let first = good(&one, &["history", "--json"]);
    let said: serde_json::Value = serde_json::from_str(&good(
        &one,
        &["receive", &two.display().to_string(), "--json"],
    ))
    .unwrap();
    assert_eq!(said["lines"], 0);
    assert_eq!(first, good(&one, &["history", "--json"]));
    assert!(first.contains("B. Person"));
}

/// Truth by construction: the demo's photographs are drawn, so the length of every crack is known.
/// What the demo measured on them, through the same calls as anybody's, must agree within three
/// standard uncertainties (99.7 % of a normal error; JCGM 100).
#[test]
fn the_demos_cracks_measure_what_was_drawn() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("demo");
    let output = Command::new(program())
        .arg("demo")
        .arg(&folder)
        .arg("--json")
        .output()
        .unwrap();
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let shown: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let drawn: Vec<f64> = witnessmark_scenes::demo::shots()
        .iter()
        .filter(|shot| shot.key == "fairing-crack")
        .map(|shot| shot.draw().truth.cracks[0].length_mm)
        .collect();
    let findings = shown["history"]["findings"].as_array().unwrap();
    let fairing = findings
        .iter()
        .find(|finding| finding["condition"] == "crack")
        .unwrap();
    let measured: Vec<(f64, f64)> = fairing["sightings"]
        .as_array()
        .unwrap()
        .iter()
        .map(|sighting| {
            (
                sighting["value"].as_f64().unwrap(),
                sighting["u"].as_f64().unwrap(),
            )
        })
        .collect();
    println!("drawn {drawn:?}, measured {measured:?}");
    assert_eq!(drawn.len(), measured.len());
    for (truth, (value, u)) in drawn.iter().zip(&measured) {
        assert!(
            (value - truth).abs() <= 3.0 * u,
            "drawn {truth}, measured {value} with u {u}"
        );
    }
}

/// A part is packed through a notebook of its own, which must be gone afterwards: the second pack of
/// a part once failed on what the first had left behind.
#[test]
fn a_part_can_be_packed_twice_and_leaves_nothing_behind() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    good(&folder, &["walkaround", "start"]);
    good(&folder, &["note", "N. Body's words", "--zone", "733"]);
    good(&folder, &["walkaround", "finish"]);
    let packs: Vec<Vec<u8>> = ["one.zip", "two.zip"]
        .iter()
        .map(|name| {
            let out = scratch.path().join(name);
            let shown = out.display().to_string();
            good(
                &folder,
                &[
                    "pack",
                    "--cut",
                    "review",
                    "--withhold",
                    "people",
                    "--out",
                    &shown,
                ],
            );
            std::fs::read(out).unwrap()
        })
        .collect();
    assert!(
        packs[0] == packs[1],
        "the same part packs to the same bytes"
    );
    let left = walk_files(&folder.join("incoming"));
    assert!(left.is_empty(), "{left:?}");
}

fn walk_files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        if entry.path().is_dir() {
            found.extend(walk_files(&entry.path()));
        } else {
            found.push(entry.path());
        }
    }
    found
}

/// `-C` names the notebook and a command's own folder is another: the two once were one name to the
/// reader of the command line.
#[test]
fn a_commands_own_folder_is_not_the_notebooks() {
    let scratch = tempfile::tempdir().unwrap();
    let folder = scratch.path().join("n");
    notebook(&folder);
    let copy = scratch.path().join("copy");
    good(&folder, &["backup", &copy.display().to_string()]);
    assert!(copy.join("notebook.toml").exists());
    assert!(!copy.join("keys").exists(), "a backup holds no key");
}
