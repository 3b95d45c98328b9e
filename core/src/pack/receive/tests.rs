//! Packs made here and received here, in every order, and hurt on the way.

mod sets;

use super::super::cut::Cut;
use super::super::packer::{self, Order, Packed};
use super::super::testing::{Author, owner, world, write};
use super::*;
use crate::record::key::Signer;
use std::io::Read;

fn order<'a>(aircraft: Digest, cut: Cut, out: &'a Path) -> Order<'a> {
    Order {
        aircraft: BTreeSet::from([aircraft]),
        cut,
        withhold_people: false,
        withhold_location: false,
        report: Some(b"<!doctype html><title>invented</title>".to_vec()),
        out,
    }
}

fn make(root: &Path, author: &Author, cut: Cut, out: &Path) -> Packed {
    packer::pack(
        &world(1),
        root,
        &author.signer,
        &order(author.aircraft, cut, out),
    )
    .unwrap()
}

fn empty() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for name in ["record", "evidence", "slips", "incoming"] {
        std::fs::create_dir(folder.path().join(name)).unwrap();
    }
    folder
}

const STRANGER: Digest = Digest([0xEE; 32]);

fn take(root: &Path, pack: &Path) -> Outcome {
    receive(&world(2), root, STRANGER, pack, false).unwrap()
}

/// Everything that counts in a notebook: record, evidence, slips, with their bytes.
fn state(root: &Path) -> BTreeMap<String, Vec<u8>> {
    fn walk(folder: &Path, prefix: &str, out: &mut BTreeMap<String, Vec<u8>>) {
        let Ok(entries) = std::fs::read_dir(folder) else {
            return;
        };
        for entry in entries {
            let entry = entry.unwrap();
            let name = format!("{prefix}{}", entry.file_name().to_str().unwrap());
            if entry.path().is_dir() {
                walk(&entry.path(), &format!("{name}/"), out);
            } else {
                out.insert(name, std::fs::read(entry.path()).unwrap());
            }
        }
    }
    let mut out = BTreeMap::new();
    for folder in ["record", "evidence", "slips", "copies"] {
        walk(&root.join(folder), &format!("{folder}/"), &mut out);
    }
    out
}

#[test]
fn whole_history_goes_over_as_folder_and_as_zip_and_twice_changes_nothing() {
    let home = tempfile::tempdir().unwrap();
    let (author, _) = owner(home.path());
    let out = tempfile::tempdir().unwrap();
    for name in ["pack", "pack.zip"] {
        let packed = make(
            home.path(),
            &author,
            Cut::Whole("review"),
            &out.path().join(name),
        );
        assert_eq!(
            (packed.lines, packed.files, packed.uncovered),
            (author.lines.len() as u64, 3, 0)
        );
        let there = empty();
        let outcome = take(there.path(), &out.path().join(name));
        assert!(!outcome.refused, "{:?}", outcome.report.rows);
        assert!(outcome.report.rows.is_empty(), "{:?}", outcome.report.rows);
        assert_eq!(outcome.packer, Some(author.signer.public()));
        assert_eq!(
            (outcome.lines, outcome.known, outcome.new_files),
            (packed.lines, 0, 3)
        );
        assert_eq!(state(there.path()), state(home.path()));
        let remembered = std::fs::read(there.path().join("received.jsonl")).unwrap();
        assert_eq!(came_in(&world(1), there.path()).len(), 4);
        let again = take(there.path(), &out.path().join(name));
        assert_eq!(
            (again.lines, again.known, again.new_files),
            (0, packed.lines, 0)
        );
        assert_eq!(state(there.path()), state(home.path()));
        assert_eq!(
            std::fs::read(there.path().join("received.jsonl")).unwrap(),
            remembered
        );
    }
}

#[test]
fn the_same_record_makes_the_same_bytes_and_strangers_read_them() {
    let home = tempfile::tempdir().unwrap();
    let (author, findings) = owner(home.path());
    let out = tempfile::tempdir().unwrap();
    for cut in [
        Cut::Whole("baseline"),
        Cut::Finding(BTreeSet::from([findings[0]])),
    ] {
        let (a, b) = (out.path().join("a.zip"), out.path().join("b.zip"));
        make(home.path(), &author, cut.clone(), &a);
        make(home.path(), &author, cut, &b);
        assert_eq!(std::fs::read(&a).unwrap(), std::fs::read(&b).unwrap());
        // The `zip` crate, which shares no code with the writer, reads every member.
        let mut archive = zip::ZipArchive::new(std::fs::File::open(&a).unwrap()).unwrap();
        let mut names = Vec::new();
        for at in 0..archive.len() {
            let mut member = archive.by_index(at).unwrap();
            assert_eq!(member.unix_mode(), Some(0o100_644));
            let mut bytes = Vec::new();
            member.read_to_end(&mut bytes).unwrap();
            names.push(member.name().unwrap().into_owned());
        }
        assert!(names.is_sorted());
        assert!(!out.path().join("a.zip.partial").exists());
        std::fs::remove_file(a).unwrap();
        std::fs::remove_file(b).unwrap();
    }
}

#[test]
fn one_finding_goes_alone_and_is_still_shown_to_belong() {
    let home = tempfile::tempdir().unwrap();
    let (author, findings) = owner(home.path());
    let out = tempfile::tempdir().unwrap();
    let pack = out.path().join("finding");
    let packed = make(
        home.path(),
        &author,
        Cut::Finding(BTreeSet::from([findings[0]])),
        &pack,
    );
    assert!(packed.lines < author.lines.len() as u64);
    assert_eq!(packed.files, 2);
    let there = empty();
    let outcome = take(there.path(), &pack);
    assert!(!outcome.refused);
    // Gaps are said; nothing is unproven, nothing is missing.
    let codes: BTreeSet<&str> = outcome.report.rows.iter().map(|row| row.code).collect();
    assert_eq!(codes, BTreeSet::from(["gap"]), "{:?}", outcome.report.rows);
    assert!(
        !outcome
            .report
            .rows
            .iter()
            .any(|row| row.what.contains("under no finish")),
        "{:?}",
        outcome.report.rows
    );
    let other = findings[1].hex();
    assert!(
        !state(&pack.join("data"))
            .values()
            .any(|bytes| String::from_utf8_lossy(bytes).contains(&other))
    );
    // Later the whole history: the same as if it had come at once.
    let whole = out.path().join("whole.zip");
    make(home.path(), &author, Cut::Whole("review"), &whole);
    take(there.path(), &whole);
    let mut after = state(there.path());
    after.retain(|name, _| !name.ends_with(".proofs.json"));
    assert_eq!(after, state(home.path()));
}

#[test]
fn a_proof_that_leads_elsewhere_is_refused() {
    let home = tempfile::tempdir().unwrap();
    let (author, findings) = owner(home.path());
    let out = tempfile::tempdir().unwrap();
    let pack = out.path().join("finding");
    make(
        home.path(),
        &author,
        Cut::Finding(BTreeSet::from([findings[0]])),
        &pack,
    );
    let proofs = std::fs::read_dir(pack.join("data/proofs"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let text = std::fs::read_to_string(&proofs).unwrap();
    let at = text.find("\"path\":[\"").unwrap() + 9;
    let hurt = format!(
        "{}{}{}",
        &text[..at],
        if &text[at..=at] == "0" { "1" } else { "0" },
        &text[at + 1..]
    );
    std::fs::write(&proofs, hurt).unwrap();
    reseal(&pack, &author);
    let there = empty();
    let outcome = take(there.path(), &pack);
    assert!(outcome.refused);
    assert!(
        outcome.report.rows.iter().any(|row| row.code == "bad_root"),
        "{:?}",
        outcome.report.rows
    );
    assert!(state(there.path()).is_empty());
}

/// Makes all manifests and the packer's signature anew, as an adversary with a key of his own can.
fn reseal(pack: &Path, signer: &Author) {
    let mut manifest = String::new();
    let files = {
        fn walk(folder: &Path, prefix: &str, out: &mut BTreeMap<String, Vec<u8>>) {
            for entry in std::fs::read_dir(folder).unwrap() {
                let entry = entry.unwrap();
                let name = format!("{prefix}{}", entry.file_name().to_str().unwrap());
                if entry.path().is_dir() {
                    walk(&entry.path(), &format!("{name}/"), out);
                } else {
                    out.insert(name, std::fs::read(entry.path()).unwrap());
                }
            }
        }
        let mut out = BTreeMap::new();
        walk(pack, "", &mut out);
        out
    };
    let (mut bytes, mut count) = (0, 0);
    for (name, content) in files.iter().filter(|(name, _)| name.starts_with("data/")) {
        manifest.push_str(&format!("{}  {name}\n", Digest::of(content)));
        bytes += content.len();
        count += 1;
    }
    write(pack, "manifest-sha256.txt", manifest.as_bytes());
    let info = String::from_utf8(files["bag-info.txt"].clone()).unwrap();
    let info: String = info
        .lines()
        .map(|line| {
            if line.starts_with("Payload-Oxum") {
                format!("Payload-Oxum: {bytes}.{count}\n")
            } else {
                format!("{line}\n")
            }
        })
        .collect();
    write(pack, "bag-info.txt", info.as_bytes());
    let tags: String = [
        ("bag-info.txt", info.into_bytes()),
        ("bagit.txt", files["bagit.txt"].clone()),
        ("manifest-sha256.txt", manifest.into_bytes()),
    ]
    .iter()
    .map(|(name, content)| format!("{}  {name}\n", Digest::of(content)))
    .collect();
    write(pack, "tagmanifest-sha256.txt", tags.as_bytes());
    let bag = Digest::of(tags.as_bytes());
    let packer = signer.signer.public();
    let sig = signer.signer.sign(&sealed(&bag, &packer).unwrap());
    let seal = PackerSeal {
        bag,
        packer,
        sig: data_encoding::HEXLOWER.encode(&sig),
    };
    write(
        pack,
        "packer.json",
        &crate::record::canonical::to_bytes(&seal).unwrap(),
    );
}

#[test]
fn a_resealed_pack_is_refused_by_what_is_inside() {
    let home = tempfile::tempdir().unwrap();
    let (author, _) = owner(home.path());
    let thief = Author::open(66, author.aircraft, home.path());
    let out = tempfile::tempdir().unwrap();
    let record = format!(
        "data/record/{}/{}.jsonl",
        author.aircraft,
        author.signer.public()
    );
    type Hurt<'a> = Box<dyn Fn(&Path) + 'a>;
    let rewrite = |pack: &Path, change: &dyn Fn(String) -> String| {
        let path = pack.join(&record);
        let text = std::fs::read_to_string(&path).unwrap();
        std::fs::write(&path, change(text)).unwrap();
    };
    let cases: Vec<(&str, Hurt<'_>)> = vec![
        (
            "bad_signature",
            Box::new(|pack| rewrite(pack, &|t| t.replacen("1200.5", "1100.5", 1))),
        ),
        (
            "altered",
            Box::new(|pack| rewrite(pack, &|t| t.replacen("{\"entry\"", "{ \"entry\"", 1))),
        ),
        (
            "broken_link",
            Box::new(|pack| {
                let path = pack.join(&record);
                let elsewhere = pack.join(format!(
                    "data/record/{}/{}.jsonl",
                    author.aircraft,
                    thief.signer.public()
                ));
                std::fs::rename(path, elsewhere).unwrap();
            }),
        ),
        (
            "bad_manifest",
            Box::new(|pack| write(pack, "data/withheld.json", b"{")),
        ),
        (
            "bad_manifest",
            Box::new(|pack| std::fs::remove_dir_all(pack.join("data/record")).unwrap()),
        ),
    ];
    for (code, hurt) in cases {
        let pack = out.path().join("pack");
        make(home.path(), &author, Cut::Whole("review"), &pack);
        hurt(&pack);
        reseal(&pack, &thief);
        let there = empty();
        let outcome = take(there.path(), &pack);
        assert!(outcome.refused, "{code}");
        assert!(
            outcome.report.rows.iter().any(|row| row.code == code),
            "{code}: {:?}",
            outcome.report.rows
        );
        assert!(state(there.path()).is_empty(), "{code}");
        assert!(!there.path().join("received.jsonl").exists());
        std::fs::remove_dir_all(&pack).unwrap();
    }
    // Evidence that is no longer what the line cites, under its old name.
    let pack = out.path().join("pack");
    make(home.path(), &author, Cut::Whole("review"), &pack);
    let some = std::fs::read_dir(pack.join("data/evidence"))
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    let file = std::fs::read_dir(some)
        .unwrap()
        .next()
        .unwrap()
        .unwrap()
        .path();
    std::fs::write(&file, b"another picture").unwrap();
    reseal(&pack, &thief);
    let there = empty();
    let outcome = take(there.path(), &pack);
    assert!(outcome.refused && state(there.path()).is_empty());
    assert!(
        outcome
            .report
            .rows
            .iter()
            .any(|row| row.code == "altered" && row.walkaround.is_some())
    );
}

#[test]
fn people_and_position_stay_behind_and_the_rest_is_still_proven() {
    let home = tempfile::tempdir().unwrap();
    let (author, _) = owner(home.path());
    let out = tempfile::tempdir().unwrap();
    let pack = out.path().join("pack.zip");
    let mut what = order(author.aircraft, Cut::Whole("review"), &pack);
    what.withhold_people = true;
    what.withhold_location = true;
    let packed = packer::pack(&world(1), home.path(), &author.signer, &what).unwrap();
    assert_eq!((packed.files, packed.withheld), (0, 4)); // three photos as copies, one slip
    let there = empty();
    let outcome = take(there.path(), &pack);
    assert!(!outcome.refused, "{:?}", outcome.report.rows);
    let codes: BTreeSet<&str> = outcome.report.rows.iter().map(|row| row.code).collect();
    assert_eq!(codes, BTreeSet::from(["withheld"]));
    let state = state(there.path());
    assert_eq!(
        state
            .keys()
            .filter(|name| name.starts_with("copies/"))
            .count(),
        3
    );
    assert!(
        !state
            .values()
            .any(|bytes| bytes.windows(8).any(|w| w == b"APP1data"))
    );
}

#[test]
fn a_chain_written_anew_comes_in_beside_the_old_one_and_is_named() {
    let home = tempfile::tempdir().unwrap();
    let (mut author, _) = owner(home.path());
    let out = tempfile::tempdir().unwrap();
    let there = empty();
    let first = out.path().join("first.zip");
    make(home.path(), &author, Cut::Whole("review"), &first);
    take(there.path(), &first);
    // The holder of the key rewrites everything after line 3.
    author.lines.truncate(4);
    let walkaround = author.start();
    author.finish(walkaround);
    author.save(home.path());
    let second = out.path().join("second.zip");
    make(home.path(), &author, Cut::Whole("review"), &second);
    let outcome = take(there.path(), &second);
    assert!(!outcome.refused);
    assert!(outcome.report.failed());
    assert!(
        outcome
            .report
            .rows
            .iter()
            .any(|row| row.code == "two_lines_one_number")
    );
    // In the other order the same set of lines.
    let other = empty();
    take(other.path(), &second);
    take(other.path(), &first);
    assert_eq!(state(there.path()), state(other.path()));
}

#[test]
fn lines_under_ones_own_key_continue_or_are_kept_beside() {
    let home = tempfile::tempdir().unwrap();
    let (mut author, _) = owner(home.path());
    let out = tempfile::tempdir().unwrap();
    let pack = out.path().join("pack.zip");
    make(home.path(), &author, Cut::Whole("review"), &pack);
    let own = author.signer.public();
    author.lines.truncate(6);
    author.save(home.path());
    let outcome = receive(&world(2), home.path(), own, &pack, false).unwrap();
    assert!(!outcome.report.failed(), "{:?}", outcome.report.rows);
    assert!(outcome.lines > 5);
    // Now this device goes another way, and the old lines come back.
    let walkaround = author.start();
    author.finish(walkaround);
    let name = author.save(home.path());
    let mine = std::fs::read(home.path().join(&name)).unwrap();
    let outcome = receive(&world(2), home.path(), own, &pack, false).unwrap();
    assert!(
        outcome
            .report
            .rows
            .iter()
            .any(|row| row.code == "two_lines_one_number")
    );
    assert_eq!(std::fs::read(home.path().join(&name)).unwrap(), mine);
    assert!(
        home.path()
            .join(name.replace(".jsonl", ".other.jsonl"))
            .exists()
    );
}

#[test]
fn a_look_writes_nothing() {
    let home = tempfile::tempdir().unwrap();
    let (author, _) = owner(home.path());
    let out = tempfile::tempdir().unwrap();
    let pack = out.path().join("pack.zip");
    make(home.path(), &author, Cut::Whole("review"), &pack);
    let there = empty();
    let outcome = receive(&world(2), there.path(), STRANGER, &pack, true).unwrap();
    assert_eq!(outcome.lines, author.lines.len() as u64);
    assert!(state(there.path()).is_empty());
}

/// Every bit of a zip, sampled; every one in the deep run: detected, or without effect.
#[test]
fn a_flipped_bit_in_a_zip_is_found_or_harmless() {
    let home = tempfile::tempdir().unwrap();
    let (author, _) = owner(home.path());
    let out = tempfile::tempdir().unwrap();
    let pack = out.path().join("pack.zip");
    make(home.path(), &author, Cut::Whole("review"), &pack);
    let good = std::fs::read(&pack).unwrap();
    let step = if std::env::var_os("WITNESSMARK_DEEP").is_some() {
        1
    } else {
        397
    };
    let (mut refused, mut harmless) = (0, 0);
    for bit in (0..good.len() * 8).step_by(step) {
        let mut hurt = good.clone();
        hurt[bit / 8] ^= 1 << (bit % 8);
        std::fs::write(&pack, &hurt).unwrap();
        let there = empty();
        match receive(&world(2), there.path(), STRANGER, &pack, false) {
            Ok(outcome) if !outcome.refused => {
                assert_eq!(state(there.path()), state(home.path()), "bit {bit}");
                harmless += 1;
            }
            Ok(_) | Err(_) => {
                assert!(state(there.path()).is_empty(), "bit {bit}");
                refused += 1;
            }
        }
    }
    assert!(
        refused > 100 && harmless * 50 < refused,
        "{refused} {harmless}"
    );
    for cut in (0..good.len()).step_by(good.len() / 50) {
        std::fs::write(&pack, &good[..cut]).unwrap();
        let there = empty();
        let error = receive(&world(2), there.path(), STRANGER, &pack, false).err();
        assert!(error.is_some() && state(there.path()).is_empty());
    }
    for (before, after) in [(&b"MZ"[..], &b""[..]), (b"", b"x"), (b"", &[0; 70_000])] {
        std::fs::write(&pack, [before, &good, after].concat()).unwrap();
        let there = empty();
        assert!(receive(&world(2), there.path(), STRANGER, &pack, false).is_err());
    }
}

proptest::proptest! {
    #![proptest_config(proptest::test_runner::Config { cases: 24, ..Default::default() })]
    /// Any set of packs of three authors, in any order, some of them twice: one and the same result.
    #[test]
    fn any_order_gives_one_notebook(order in proptest::collection::vec(0usize..6, 6..12)) {
        let home = tempfile::tempdir().unwrap();
        let (author, findings) = owner(home.path());
        let mut second = Author::open(2, author.aircraft, home.path());
        let mut third = Author::open(3, author.aircraft, home.path());
        let walkaround = second.start();
        second.finish(walkaround);
        second.vouch(&author);
        third.vouch(&second);
        second.save(home.path());
        third.save(home.path());
        let out = tempfile::tempdir().unwrap();
        let mut packs = Vec::new();
        for (n, who) in [&author, &second, &third].into_iter().enumerate() {
            let single = tempfile::tempdir().unwrap();
            for (name, bytes) in state(home.path()) {
                let theirs = !name.starts_with("record/") || name.contains(&who.signer.public().hex());
                if theirs { write(single.path(), &name, &bytes) }
            }
            let whole = out.path().join(format!("{n}.zip"));
            make(single.path(), who, Cut::Whole("review"), &whole);
            packs.push(whole);
            let part = out.path().join(format!("{n}-part.zip"));
            let cut = Cut::Finding(BTreeSet::from([findings[n % 2]]));
            make(home.path(), who, cut, &part);
            packs.push(part);
        }
        let mut all: Vec<usize> = (0..6).collect();
        all.extend(&order);
        let (a, b) = (empty(), empty());
        for n in &all { take(a.path(), &packs[*n]); }
        for n in all.iter().rev() { take(b.path(), &packs[*n]); }
        proptest::prop_assert_eq!(state(a.path()), state(b.path()));
    }
}
