//! What a person hands in by mistake: each with the exact words that come back, and with the notebook as it
//! was before, byte for byte, where the input was refused.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::{good, notebook, program, run};

/// Everything of a notebook but the index and its lock, which are derived.
fn kept(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    super::walk_files(folder)
        .into_iter()
        .filter(|path| {
            let name = path.file_name().unwrap().to_string_lossy();
            !name.starts_with("index.sqlite") && name != "notebook.lock" && name != "heads.json"
        })
        .map(|path| (path.clone(), std::fs::read(&path).unwrap()))
        .collect()
}

/// Refused with these words and this status, and nothing of the notebook changed.
fn refused_unchanged(folder: &Path, words: &[&str], status: i32, says: &str) {
    let before = kept(folder);
    let done = run(folder, words);
    let said = String::from_utf8(done.stderr).unwrap();
    assert_eq!(said.trim_end(), says, "{words:?}");
    assert_eq!(done.status.code(), Some(status), "{words:?}");
    assert_eq!(String::from_utf8(done.stdout).unwrap(), "", "{words:?}");
    assert!(
        kept(folder) == before,
        "{words:?} left something in the notebook"
    );
}

/// Kept all the same: what was said behind the entry's short form, and the bytes are in the notebook.
fn kept_all_the_same(folder: &Path, file: &Path, says: &str) {
    let said = good(folder, &["photo", &file.display().to_string()]);
    assert_eq!(said.trim_end().split_once("  ").unwrap().1, says);
    let bytes = std::fs::read(file).unwrap();
    assert!(kept(&folder.join("evidence")).values().any(|b| *b == bytes));
    assert!(super::walk_files(&folder.join("incoming")).is_empty());
}

struct Here {
    _scratch: tempfile::TempDir,
    folder: PathBuf,
    beside: PathBuf,
}

fn here() -> Here {
    let scratch = tempfile::tempdir().unwrap();
    let (folder, beside) = (scratch.path().join("n"), scratch.path().join("in"));
    notebook(&folder);
    std::fs::create_dir(&beside).unwrap();
    Here {
        folder,
        beside,
        _scratch: scratch,
    }
}

impl Here {
    fn file(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.beside.join(name);
        std::fs::write(&path, bytes).unwrap();
        path
    }

    fn chain(&self) -> PathBuf {
        super::walk_files(&self.folder.join("record"))
            .into_iter()
            .find(|path| path.extension().is_some_and(|ending| ending == "jsonl"))
            .unwrap()
    }
}

#[test]
fn a_directory() {
    let here = here();
    let path = here.beside.display().to_string();
    let says = format!("{path}: this is a folder, not a file; name the files in it");
    refused_unchanged(&here.folder, &["photo", &path], 2, &says);
}

#[test]
fn a_zero_byte_file() {
    let here = here();
    let path = here.file("zero.jpg", b"").display().to_string();
    let says = "zero.jpg: the file is empty; take the picture again, or copy the file again from where it came";
    refused_unchanged(&here.folder, &["photo", &path], 2, says);
}

#[test]
fn a_missing_file() {
    let here = here();
    let path = here.beside.join("missing.jpg").display().to_string();
    let says = format!("{path}: there is no such file; check the name");
    refused_unchanged(&here.folder, &["photo", &path], 2, &says);
    let json = format!(
        "{{\"error\":{{\"code\":\"unknown\",\"do\":\"check the name\",\"what\":\"there is no such file\",\"where\":\"{path}\"}}}}"
    );
    refused_unchanged(&here.folder, &["photo", &path, "--json"], 2, &json);
}

#[test]
fn a_text_file_called_jpg() {
    let here = here();
    let file = here.file("note.jpg", b"not a picture\n");
    kept_all_the_same(
        &here.folder,
        &file,
        "text/plain  unplaced  note: it is called .jpg but its content is plain text  note: this is no picture that can be shown; it is kept all the same",
    );
}

#[test]
fn the_same_photo_twice_is_one_file_and_two_entries() {
    let here = here();
    let file = here
        .file("once.jpg", b"\xFF\xD8\xFF\xD9")
        .display()
        .to_string();
    let entry = || -> serde_json::Value {
        let shown = good(&here.folder, &["photo", &file, "--json"]);
        let shown: serde_json::Value = serde_json::from_str(&shown).unwrap();
        shown["captured"][0].clone()
    };
    let (first, second) = (entry(), entry());
    assert_eq!(first["file"], second["file"]);
    assert_ne!(first["entry"], second["entry"]);
    assert_eq!(
        (&first["known"], &second["known"]),
        (&false.into(), &true.into())
    );
    let kept = super::walk_files(&here.folder.join("evidence"));
    let named = first["file"].as_str().unwrap();
    let same = |path: &&PathBuf| path.display().to_string().contains(named);
    assert_eq!(kept.iter().filter(same).count(), 1);
    let chain = std::fs::read_to_string(here.chain()).unwrap();
    assert_eq!(chain.matches("\"kind\":\"photo taken\"").count(), 2);
}

#[test]
fn a_photo_cut_in_half() {
    let here = here();
    let pixels = image::RgbImage::from_fn(320, 240, |x, y| {
        image::Rgb([(x * 7) as u8, (y * 5) as u8, (x * y) as u8])
    });
    let mut whole = std::io::Cursor::new(Vec::new());
    pixels
        .write_to(&mut whole, image::ImageFormat::Jpeg)
        .unwrap();
    let whole = whole.into_inner();
    let file = here.file("half.jpg", &whole[..whole.len() / 2]);
    kept_all_the_same(
        &here.folder,
        &file,
        "image/jpeg  unplaced  kept, but the file is cut short: take the picture again if you can",
    );
}

#[test]
fn a_photo_of_20000_by_20000_claimed_pixels() {
    let here = here();
    // A frame header that claims them (ITU-T T.81, B.2.2) and a hundred coded bytes.
    let mut bytes = vec![0xFF, 0xD8, 0xFF, 0xC0, 0, 17, 8];
    bytes.extend(20_000u16.to_be_bytes().repeat(2));
    bytes.extend([3, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0]);
    bytes.extend([0xFF, 0xDA, 0, 8, 1, 1, 0, 0, 63, 0]);
    bytes.extend([0x12; 100]);
    bytes.extend([0xFF, 0xD9]);
    let file = here.file("claims.jpg", &bytes);
    kept_all_the_same(
        &here.folder,
        &file,
        "image/jpeg  unplaced  note: 20000 × 20000 pixels are more than the limit of 250 megapixels: it is kept, but cannot be shown",
    );
}

#[test]
fn an_unknown_zone_names_the_nearest() {
    let here = here();
    refused_unchanged(
        &here.folder,
        &["look", "left wheel faring", "--nothing-found"],
        2,
        "left wheel faring: there is no zone \"left wheel faring\" in high_wing_strutted_fixed; nearest: 733 left wheel fairing, 734 right wheel fairing, 760 nose wheel fairing",
    );
    // Nothing is near: where to look is said.
    refused_unchanged(
        &here.folder,
        &["look", "999", "--nothing-found"],
        2,
        "999: there is no zone \"999\" in high_wing_strutted_fixed; the layout lists its zones: witnessmark layout show high_wing_strutted_fixed",
    );
    // A photo on a zone that is none is not half taken.
    let file = here.file("p.jpg", b"\xff\xd8\xff\xdb\0\x04\0\x01\xff\xd9 invented");
    let before = kept(&here.folder);
    let done = run(
        &here.folder,
        &["photo", &file.display().to_string(), "--zone", "rudderr"],
    );
    assert_eq!(done.status.code(), Some(2));
    let said = String::from_utf8(done.stderr).unwrap();
    assert!(said.contains("nearest: 320 rudder"), "{said}");
    assert!(kept(&here.folder) == before);
}

#[test]
fn a_time_without_offset() {
    let here = here();
    for text in ["2026-05-03T09:10", "2026-05-03T09:10:00Z", "yesterday"] {
        refused_unchanged(
            &here.folder,
            &["walkaround", "start", "--at", text],
            2,
            &format!(
                "\"{text}\" is not a time; write it as 2026-05-03T09:10:00+02:00 or 2026-05-03"
            ),
        );
    }
    // A clock that did not say its offset is a fact, and kept as one: never guessed.
    let at = ["walkaround", "start", "--at", "2026-05-03T09:10:00"];
    good(&here.folder, &at);
    let chain = std::fs::read_to_string(here.chain()).unwrap();
    assert!(chain.contains("\"offset\":null,\"time\":\"2026-05-03T09:10:00\""));
}

#[test]
fn a_registration_with_strange_characters() {
    let here = here();
    let long = "N".repeat(17);
    for (text, shown) in [
        ("N0<script>", "N0<script>"),
        ("", ""),
        ("   ", "   "),
        ("N0/../x", "N0/../x"),
        ("N0\u{7}", "N0\\u{7}"),
        ("N0\u{202e}BA", "N0\\u{202e}BA"),
        // Cyrillic letters that look like those of another mark; full-width digits.
        ("N0\u{410}\u{412}", "N0\u{410}\u{412}"),
        ("N\u{ff10}AB", "N\u{ff10}AB"),
        ("N0\u{1f6e9}", "N0\u{1f6e9}"),
        (long.as_str(), long.as_str()),
    ] {
        let words = [
            "aircraft",
            "add",
            text,
            "--type",
            "x",
            "--layout",
            "high_wing_strutted_fixed",
        ];
        let says = format!(
            "registration: \"{shown}\" cannot be a registration; write it as it is painted: letters, digits and hyphens, at most 16"
        );
        refused_unchanged(&here.folder, &words, 2, &says);
    }
}

#[test]
fn a_second_writer() {
    let here = here();
    let lock = std::fs::File::options()
        .write(true)
        .open(here.folder.join("notebook.lock"))
        .unwrap();
    lock.lock().unwrap();
    let says = format!(
        "{}: another program is writing to this notebook; wait until it is done, or close it; reading works meanwhile",
        here.folder.display()
    );
    refused_unchanged(&here.folder, &["note", "two at once"], 3, &says);
    // Readers work beside it.
    assert!(good(&here.folder, &["history"]).contains("N0AB"));
    lock.unlock().unwrap();
    good(&here.folder, &["note", "now it is free"]);
}

/// One line of the chain altered by hand: verify names it, the others are read, nothing is cut.
fn one_line_altered(from: &str, to: &str, why: &str) {
    let here = here();
    good(&here.folder, &["note", "the words before"]);
    good(&here.folder, &["note", "the words behind"]);
    let path = here.chain();
    let text = std::fs::read_to_string(&path).unwrap();
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    let at = lines.len() - 2;
    assert!(lines[at].contains(from), "{}", lines[at]);
    lines[at] = lines[at].replace(from, to);
    let hurt = lines.join("\n") + "\n";
    std::fs::write(&path, &hurt).unwrap();
    let done = run(&here.folder, &["verify"]);
    assert_eq!(done.status.code(), Some(1));
    let said = String::from_utf8(done.stdout).unwrap();
    let file = path.strip_prefix(&here.folder).unwrap().display();
    let due = format!(
        "FAILURE: line {line} cannot be read: {why}\n    {file}:{line} (altered)\n    do: take this file back from a backup, or ask its author for a pack; the other lines are not touched\n",
        line = at + 1
    );
    assert!(said.starts_with(&due), "{said}\ninstead of\n{due}");
    // The others are there, and going on cuts nothing.
    good(&here.folder, &["note", "and on"]);
    assert!(std::fs::read_to_string(&path).unwrap().starts_with(&hurt));
    let all = good(&here.folder, &["walkaround", "start"]);
    assert!(all.contains("is open"), "{all}");
}

#[test]
fn a_duplicate_key_in_a_line() {
    one_line_altered(
        "\"seq\":",
        "\"seq\":3,\"seq\":",
        "the key \"seq\" stands twice",
    );
}

#[test]
fn a_lone_surrogate_in_a_line() {
    one_line_altered(
        "the words before",
        "the words \\ud800before",
        "a lone surrogate in a text (not a character)",
    );
}

/// A disk of a few megabytes that fills up (tmpfs in a mount namespace of its own; needs root).
#[test]
fn a_full_disk() {
    let scratch = tempfile::tempdir().unwrap();
    let disk = scratch.path().join("disk");
    std::fs::create_dir(&disk).unwrap();
    let photo = scratch.path().join("large.jpg");
    // Three megabytes: a whole picture behind comments (ITU-T T.81, B.2.4.5).
    let mut small = std::io::Cursor::new(Vec::new());
    image::RgbImage::new(16, 16)
        .write_to(&mut small, image::ImageFormat::Jpeg)
        .unwrap();
    let mut bytes = vec![0xFF, 0xD8];
    for _ in 0..48 {
        bytes.extend([0xFF, 0xFE, 0xFF, 0xFF]);
        bytes.extend([b'x'; 65_533]);
    }
    bytes.extend(&small.into_inner()[2..]);
    std::fs::write(&photo, &bytes).unwrap();
    let script = r#"
        mount -t tmpfs -o size=5m witnessmark "$DISK" || exit 77
        cd "$DISK"
        w() { "$PROGRAM" -C n --now 2026-05-03T09:10:00+02:00 "$@"; echo "exit $?"; }
        "$PROGRAM" init n --author A --role owner > /dev/null || exit 78
        w aircraft add N0AB --type x --layout high_wing_strutted_fixed > /dev/null
        w note 'kept before' > /dev/null
        cat /dev/zero > filler 2> /dev/null; truncate -s -2M filler
        before=$(cat n/record/*/*.jsonl | sha256sum)
        echo '== a photo that does not fit'; w photo "$PHOTO" 2>&1
        cat /dev/zero >> filler 2> /dev/null
        echo '== not a byte left'; w note "$(printf 'x%.0s' {1..9000})" 2>&1
        [ "$before" = "$(cat n/record/*/*.jsonl | sha256sum)" ] && echo 'record as before'
        ls -A n/incoming | sed 's/^/left: /'
        echo '== it still opens'; w history 2>&1 | head -1; w verify 2>&1 | grep -E 'Failures|exit'
        rm filler
        echo '== room again'; w photo "$PHOTO" 2>&1 | sed 's/^[0-9a-f]*  //'; w note 'goes on' 2>&1 | sed 's/^[0-9a-f]*  //'
        w verify 2>&1 | grep -E 'Failures|exit'
    "#;
    let done = Command::new("unshare")
        .args(["-m", "bash", "-c", script])
        .env("DISK", &disk)
        .env("PHOTO", &photo)
        .env("PROGRAM", program())
        .output();
    let done = match done {
        Ok(done) if done.status.code() != Some(77) && !done.stdout.is_empty() => done,
        other => {
            println!(
                "SKIPPED: no small disk could be made (unshare and mount need root): {other:?}"
            );
            return;
        }
    };
    let said = String::from_utf8(done.stdout).unwrap();
    let due = "== a photo that does not fit\n\
        large.jpg: the disk is full; nothing was half-written; free some space and do it again\nexit 3\n\
        == not a byte left\n\
        CHAIN: the disk is full; nothing was half-written; free some space and do it again\nexit 3\n\
        record as before\n\
        == it still opens\nN0AB  x\nChecked: chains 1, lines 4, files 2, finishes 0. Failures: 0. Hints: 2.\nexit 0\n\
        == room again\nimage/jpeg  unplaced  note: it is dark: what is in the shadow will not be seen later\nexit 0\ntext/plain  unplaced\nexit 0\n\
        Checked: chains 1, lines 6, files 3, finishes 0. Failures: 0. Hints: 4.\nexit 0\n";
    // The chain's name depends on the key.
    let shown: String = said
        .lines()
        .map(|line| match line.split_once(".jsonl: ") {
            Some((_, rest)) => format!("CHAIN: {rest}\n"),
            None => format!("{line}\n"),
        })
        .collect();
    assert_eq!(shown, due, "{}", String::from_utf8_lossy(&done.stderr));
}
