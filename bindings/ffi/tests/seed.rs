//! The author's seed is gone from the process once the notebook is shut. Alone in its file: it reads the
//! memory of the whole process.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used)]

use std::io::{Read, Seek, SeekFrom};

use witnessmark_ffi::*;

/// How often `seed` stands in writable memory, told by its complement so that the search itself holds no
/// copy.
fn copies(complement: &[u8; 32]) -> usize {
    let maps = std::fs::read_to_string("/proc/self/maps").unwrap();
    let mut memory = std::fs::File::open("/proc/self/mem").unwrap();
    let mut found = 0;
    // One page beside, so that a seed across a boundary of two reads is seen.
    let mut piece = vec![0u8; (1 << 16) + 32];
    for line in maps.lines() {
        let mut words = line.split_whitespace();
        let (range, rights) = (words.next().unwrap(), words.next().unwrap());
        if !rights.starts_with("rw") {
            continue;
        }
        let (from, to) = range.split_once('-').unwrap();
        let mut at = u64::from_str_radix(from, 16).unwrap();
        let to = u64::from_str_radix(to, 16).unwrap();
        let own = piece.as_ptr() as u64;
        while at < to {
            let length = usize::try_from((to - at).min((1 << 16) + 31)).unwrap();
            let beside = at + length as u64 <= own || at >= own + piece.len() as u64;
            if beside
                && memory.seek(SeekFrom::Start(at)).is_ok()
                && memory.read_exact(&mut piece[..length]).is_ok()
            {
                found += piece[..length]
                    .windows(32)
                    .filter(|w| w.iter().zip(complement).all(|(a, b)| *a == !*b))
                    .count();
                piece[..length].fill(0);
            }
            at += 1 << 16;
        }
    }
    found
}

fn author() -> Author {
    Author {
        name: "A. Example".into(),
        role: "owner".into(),
    }
}

#[test]
fn no_copy_of_the_seed_is_left_when_the_notebook_is_shut() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path().join("book").display().to_string();
    // Random, and never written out whole: only its complement stays.
    let mut complement = [0u8; 32];
    getrandom::fill(&mut complement).unwrap();
    let seed = || complement.iter().map(|byte| !byte).collect::<Vec<u8>>();
    let book = Notebook::make(root.clone(), author(), Some(seed())).unwrap();
    assert!(
        copies(&complement) > 0,
        "the search must find the key that is in use, else it proves nothing"
    );
    book.shut().unwrap();
    drop(book);
    assert_eq!(copies(&complement), 0, "after making and shutting");

    let book = Notebook::open(root.clone(), Some(seed())).unwrap();
    assert!(copies(&complement) > 0);
    book.add_aircraft(
        "N0123".into(),
        "Invented 2".into(),
        None,
        "low_wing_fixed".into(),
        false,
    )
    .unwrap();
    book.shut().unwrap();
    assert_eq!(
        copies(&complement),
        0,
        "after writing and shutting, the object not yet released"
    );

    // A seed of another length is refused and wiped as well.
    let mut long = seed();
    long.push(0);
    assert!(matches!(
        Notebook::open(root, Some(long)),
        Err(Trouble::Input { .. })
    ));
    assert_eq!(copies(&complement), 0, "after a refusal");
}
