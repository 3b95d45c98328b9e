//! Who stands behind what: on joined aircraft, forged, by oneself, by another device of oneself.

use super::*;
use crate::record::key::{SeedSigner, Signer};
use crate::record::kinds::{AircraftJoined, AuthorLinked, Vouched};

fn public(author: &Author) -> Digest {
    author.signer.public()
}

/// An owner, and somebody who described the same aircraft on their own and joined the two.
fn joined(root: &Path) -> (Author, Author) {
    let (author, _) = owner(root);
    let mut voucher = Author::open(2, Digest::ZERO, root);
    voucher.add(AircraftJoined {
        other: author.aircraft,
    });
    assert_ne!(author.aircraft, voucher.aircraft);
    voucher.vouch(&author);
    voucher.save(root);
    (author, voucher)
}

#[test]
fn vouching_says_which_part_and_since_when() {
    let folder = tempfile::tempdir().unwrap();
    let (author, _) = owner(folder.path());
    let mut voucher = Author::open(2, author.aircraft, folder.path());
    voucher.vouch(&author);
    voucher.save(folder.path());
    let report = look(folder.path(), None);
    assert!(!report.failed(), "{}", words(&report));
    let part = &report.vouched[0];
    assert_eq!(part.seq, author.lines.len() as u64 - 1);
    assert!(!part.same_person);
    let text = report.to_text();
    let said = format!(
        "Lines 1 to {} of author {} are vouched for by author {} since 2026-05-03T09:02:00+02:00.",
        author.lines.len(),
        public(&author).short(),
        public(&voucher).short()
    );
    assert!(text.contains(&said), "{text}");
}

#[test]
fn a_vouching_holds_across_joined_descriptions() {
    let folder = tempfile::tempdir().unwrap();
    let (author, voucher) = joined(folder.path());
    let report = look(folder.path(), None);
    assert!(!report.failed(), "{}", words(&report));
    assert!(!codes(&report).contains(&"gap"), "{}", words(&report));
    let part = &report.vouched[0];
    assert_eq!(
        (part.author, part.aircraft, part.by, part.seq),
        (
            public(&author),
            author.aircraft,
            public(&voucher),
            author.lines.len() as u64 - 1
        )
    );
}

#[test]
fn a_chain_written_anew_shows_across_joined_descriptions() {
    let folder = tempfile::tempdir().unwrap();
    let (mut author, _) = joined(folder.path());
    let mut last = author.lines.pop().unwrap().entry;
    last.at = "2026-05-03T11:00:00+02:00".parse().unwrap();
    author.lines.push(last.sign(&author.signer).unwrap());
    author.save(folder.path());
    let report = look(folder.path(), None);
    assert!(
        codes(&report).contains(&"not_as_vouched"),
        "{}",
        words(&report)
    );
    assert!(report.vouched.is_empty());
    // Cut instead: the owner is told so.
    author.lines.truncate(author.lines.len() - 3);
    author.save(folder.path());
    let report = look(folder.path(), Some(public(&author)));
    assert!(codes(&report).contains(&"cut_tail"), "{}", words(&report));
    assert!(report.vouched.is_empty());
}

/// One author with a chain under each of two joined descriptions: neither stands for the other.
#[test]
fn two_chains_of_one_author_are_not_taken_for_one() {
    let folder = tempfile::tempdir().unwrap();
    let (author, mut voucher) = joined(folder.path());
    let mut second = Author::open(1, voucher.aircraft, folder.path());
    second.start();
    second.save(folder.path());
    assert_eq!(public(&author), public(&second));
    voucher.vouch(&second);
    voucher.save(folder.path());
    let report = look(folder.path(), None);
    assert!(!report.failed(), "{}", words(&report));
    let mut parts: Vec<(Digest, u64)> = report
        .vouched
        .iter()
        .map(|part| (part.aircraft, part.seq))
        .collect();
    parts.sort();
    let mut expected = vec![
        (author.aircraft, author.lines.len() as u64 - 1),
        (second.aircraft, 1),
    ];
    expected.sort();
    assert_eq!(parts, expected);
}

#[test]
fn a_forged_vouching_counts_neither_for_nor_against() {
    let folder = tempfile::tempdir().unwrap();
    let (author, _) = owner(folder.path());
    let mut voucher = Author::open(2, author.aircraft, folder.path());
    voucher.vouch(&author);
    let good = voucher.lines.pop().unwrap();
    // Somebody without the voucher's key writes a line under it: for the true last line, then against it.
    let forger = SeedSigner::from_seed(&[66; 32]);
    for against in [false, true] {
        let mut entry = good.entry.clone();
        if let (true, crate::record::Body::Vouched(vouched)) = (against, &mut entry.body) {
            vouched.line = Digest([9; 32]);
        }
        let forged = entry.sign(&forger).unwrap();
        assert_eq!(forged.entry.author, public(&voucher));
        voucher.lines.push(forged);
        voucher.save(folder.path());
        let report = look(folder.path(), Some(public(&author)));
        assert!(report.vouched.is_empty(), "{}", report.to_text());
        assert_eq!(codes(&report), ["bad_signature"], "{}", words(&report));
        voucher.lines.pop();
    }
}

#[test]
fn nobody_vouches_for_himself() {
    let folder = tempfile::tempdir().unwrap();
    let (mut author, _) = owner(folder.path());
    let last = author.lines.last().unwrap();
    let (seq, line) = (last.entry.seq, last.digest);
    author.add(Vouched {
        author: public(&author),
        seq,
        line,
        aircraft: None,
    });
    author.save(folder.path());
    let report = look(folder.path(), Some(public(&author)));
    assert!(report.vouched.is_empty());
    assert!(!report.to_text().contains("are vouched for"));
    assert!(
        codes(&report).contains(&"not_checked"),
        "{}",
        words(&report)
    );
}

#[test]
fn another_device_of_the_same_person_is_said_to_be_that() {
    let folder = tempfile::tempdir().unwrap();
    let (author, _) = owner(folder.path());
    for agreed in [true, false] {
        let mut device = Author::open(5, author.aircraft, folder.path());
        let said = crate::record::canonical::to_bytes(&serde_json::json!({
            "aircraft": author.aircraft, "author": public(&device), "linked": public(&author)
        }))
        .unwrap();
        // Without the other key's agreement the two are strangers, and the link is a failure.
        let signer = if agreed {
            &author.signer
        } else {
            &device.signer
        };
        let sig = data_encoding::HEXLOWER.encode(&signer.sign(&said));
        device.add(AuthorLinked {
            linked: public(&author),
            sig,
        });
        device.vouch(&author);
        device.save(folder.path());
        let report = look(folder.path(), None);
        assert_eq!(report.failed(), !agreed, "{}", words(&report));
        assert_eq!(report.vouched.len(), 1);
        assert_eq!(report.vouched[0].same_person, agreed);
        let text = report.to_text();
        assert_eq!(
            text.contains("another device of the same person"),
            agreed,
            "{text}"
        );
    }
}
