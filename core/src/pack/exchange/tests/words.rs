//! What a meeting says of files that are not here, and how far it has got; what was removed.

use super::*;
use crate::record::Body;
use crate::record::kinds::Removed;

fn said(met: &Met) -> Vec<(&'static str, String)> {
    let rows = met.outcome.report.rows.iter();
    rows.map(|row| (row.code, row.what.clone())).collect()
}

fn photos(author: &Author) -> Vec<Digest> {
    let lines = author.lines.iter();
    lines
        .filter_map(|line| match &line.entry.body {
            Body::PhotoTaken(photo) => Some(photo.file),
            _ => None,
        })
        .collect()
}

fn original(root: &Path, digest: &Digest) -> std::path::PathBuf {
    root.join(format!("evidence/{}/{digest}.jpg", &digest.hex()[..2]))
}

/// Gone here, left out by the packer, removed by the author, not come yet: four sentences, four codes.
#[test]
fn gone_left_out_removed_and_not_come_yet_are_told_apart() {
    let place = tempfile::tempdir().unwrap();
    let (home, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let (mut author, _) = owner(home.path());
    let own = author.signer.public();
    let all = photos(&author);
    author.add(Removed {
        file: all[0],
        why: "a bystander is seen".into(),
    });
    author.save(home.path());
    for digest in &all[..2] {
        std::fs::remove_file(original(home.path(), digest)).unwrap();
    }
    // At home: one was removed on purpose, one is gone.
    let rows = said(&meet_in(home.path(), own, place.path()));
    let missing = "one file was here and is gone, and nobody has left it there";
    let removed = "one file was removed on purpose by its author: neither taken nor left";
    assert_eq!(
        rows,
        [
            ("missing", missing.to_owned()),
            ("removed", removed.to_owned())
        ]
    );
    // Elsewhere: the same file has simply not come, and a pack said that the name was left out.
    let opened = author.lines.iter().find_map(|line| match &line.entry.body {
        Body::ChainOpened(opened) => opened.who,
        _ => None,
    });
    let slip = opened.unwrap();
    std::fs::remove_file(place.path().join(names::slip(&slip))).unwrap();
    std::fs::write(
        other.path().join("received.jsonl"),
        format!("{{\"bag\":null,\"why\":\"people\",\"withheld\":\"{slip}\"}}\n"),
    )
    .unwrap();
    let rows = said(&meet_in(other.path(), Digest([5; 32]), place.path()));
    let what = |code: &str| {
        let found = rows.iter().find(|(known, _)| *known == code);
        found.map(|(_, what)| what.as_str()).unwrap_or_default()
    };
    assert_eq!(rows.len(), 3, "{rows:?}");
    assert_eq!(
        what("not_handed_over"),
        "one file that lines speak of is not there yet"
    );
    assert_eq!(
        what("withheld"),
        "one file was left out on purpose by who packed it (people)"
    );
    assert_eq!(what("removed"), removed);
}

/// A recording that its author removed may still lie in the place, or in somebody's notebook.
#[test]
fn what_was_removed_is_neither_fetched_nor_left() {
    let place = tempfile::tempdir().unwrap();
    let homes: Vec<tempfile::TempDir> = (0..3).map(|_| tempfile::tempdir().unwrap()).collect();
    let (mut author, _) = owner(homes[0].path());
    let own = author.signer.public();
    meet_in(homes[0].path(), own, place.path());
    meet_in(homes[1].path(), Digest([5; 32]), place.path());
    let gone = photos(&author)[0];
    author.add(Removed {
        file: gone,
        why: "a bystander is seen".into(),
    });
    author.save(homes[0].path());
    std::fs::remove_file(original(homes[0].path(), &gone)).unwrap();
    meet_in(homes[0].path(), own, place.path());
    assert!(
        !original(homes[0].path(), &gone).exists(),
        "it does not come back"
    );
    let lies = place.path().join(names::original(&gone, "jpg"));
    assert!(lies.exists());
    meet_in(homes[2].path(), Digest([6; 32]), place.path());
    assert!(!original(homes[2].path(), &gone).exists());
    // The second person has the bytes from before; once deleted there, they are not left again.
    std::fs::remove_file(&lies).unwrap();
    meet_in(homes[1].path(), Digest([5; 32]), place.path());
    assert!(
        original(homes[1].path(), &gone).exists(),
        "nothing is deleted by itself"
    );
    assert!(!lies.exists());
}

#[test]
fn a_dry_run_makes_no_folder_and_a_file_is_no_folder() {
    let scratch = tempfile::tempdir().unwrap();
    let home = tempfile::tempdir().unwrap();
    let (author, _) = owner(home.path());
    let world = world(3);
    let place = scratch.path().join("not/there/yet");
    let mut folder = InFolder::new(&world, &place).unwrap();
    let met = meet(
        &world,
        home.path(),
        author.signer.public(),
        &mut folder,
        true,
        &mut |_| panic!("nothing moves"),
    )
    .unwrap();
    assert!(met.put > 3);
    assert!(!scratch.path().join("not").exists());
    let file = scratch.path().join("file");
    std::fs::write(&file, b"x").unwrap();
    let error = InFolder::new(&world, &file).err().unwrap();
    assert_eq!(error.kind, ErrorKind::BadValue);
}

#[test]
fn how_far_it_has_got_is_told_to_the_end() {
    let place = tempfile::tempdir().unwrap();
    let (home, other) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let (author, _) = owner(home.path());
    let world = world(3);
    let steps = |root: &Path, own: Digest| {
        let mut steps: Vec<Step> = Vec::new();
        let mut folder = InFolder::new(&world, place.path()).unwrap();
        let met = meet(&world, root, own, &mut folder, false, &mut |step| {
            steps.push(step);
        });
        (met.unwrap(), steps)
    };
    let (met, left) = steps(home.path(), author.signer.public());
    let last = left.last().unwrap();
    assert_eq!(
        (last.doing, last.done, last.of),
        (Doing::Leaving, met.put, met.put)
    );
    let (met, came) = steps(other.path(), Digest([5; 32]));
    let fetched: Vec<&Step> = came
        .iter()
        .filter(|step| step.doing == Doing::Fetching)
        .collect();
    assert_eq!(fetched.len() as u64, met.outcome.new_files);
    let last = fetched.last().unwrap();
    assert_eq!((last.done, last.of, last.bytes), (3, 3, met.got_bytes));
    assert_eq!(last.words(), "fetching originals: 3 of 3");
    assert!(came.iter().any(|step| step.doing == Doing::Reading));
}
