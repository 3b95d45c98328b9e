//! Everything is read twice before it is called damage: here the first reading of each file goes
//! wrong, as beside somebody who writes it, or over a bad cable.

use super::damaged::stamp;
use super::*;
use crate::pack::cut;
use crate::pack::members::Member;
use crate::record::canonical;
use std::io::Read;
use std::sync::Mutex;

/// A folder whose files are wrong the first time that they are opened.
struct Hasty {
    inner: Folder,
    opened: Mutex<BTreeSet<String>>,
    /// What becomes of them.
    wrong: fn(Vec<u8>) -> Vec<u8>,
}

impl Members for Hasty {
    fn list(&self) -> &[Member] {
        self.inner.list()
    }

    fn open(&self, name: &str) -> Result<Box<dyn Read + '_>> {
        let mut bytes = Vec::new();
        self.inner.open(name)?.read_to_end(&mut bytes).unwrap();
        if self.opened.lock().unwrap().insert(name.to_owned()) {
            bytes = (self.wrong)(bytes);
        }
        Ok(Box::new(std::io::Cursor::new(bytes)))
    }

    fn place(&self) -> String {
        self.inner.place()
    }
}

fn hasty(root: &Path, own: Option<Digest>, wrong: fn(Vec<u8>) -> Vec<u8>) -> Report {
    let limits = Limits::default();
    let members = Hasty {
        inner: Folder::open(Arc::new(SystemFiles), root, &limits).unwrap(),
        opened: Mutex::default(),
        wrong,
    };
    let source = Source {
        members: &members,
        prefix: "",
        own,
        was_here: BTreeSet::new(),
        remembered: Default::default(),
        withheld: Vec::new(),
    };
    let report = verify(&source, &limits).unwrap();
    assert!(!members.opened.lock().unwrap().is_empty());
    report
}

const WRONG: [fn(Vec<u8>) -> Vec<u8>; 3] = [
    |mut bytes| {
        let middle = bytes.len() / 2;
        bytes[middle] ^= 4;
        bytes
    },
    |mut bytes| {
        bytes.truncate(bytes.len() * 2 / 3);
        bytes
    },
    |_| Vec::new(),
];

/// Chain, originals, slips, a time stamp's reply.
#[test]
fn a_first_reading_that_goes_wrong_is_no_damage() {
    let folder = tempfile::tempdir().unwrap();
    let (mut author, _) = owner(folder.path());
    stamp(&mut author, folder.path());
    let own = Some(crate::record::key::Signer::public(&author.signer));
    let calm = words(&look(folder.path(), own));
    assert!(calm.contains("Hint") && !calm.contains("Failure"), "{calm}");
    for wrong in WRONG {
        assert_eq!(words(&hasty(folder.path(), own, wrong)), calm);
    }
}

/// The proofs beside a part of a chain, which a receiving program writes anew.
#[test]
fn proofs_that_are_written_anew_at_that_moment_are_no_damage() {
    let home = tempfile::tempdir().unwrap();
    let (author, findings) = owner(home.path());
    let limits = Limits::default();
    let members = Folder::open(Arc::new(SystemFiles), home.path(), &limits).unwrap();
    let source = Source {
        members: &members,
        prefix: "",
        own: None,
        was_here: BTreeSet::new(),
        remembered: Default::default(),
        withheld: Vec::new(),
    };
    let chains = load(&source, &mut Report::default()).unwrap();
    let chosen = cut::choose(
        &chains,
        &BTreeSet::from([author.aircraft]),
        &cut::Cut::Finding(BTreeSet::from([findings[0]])),
    );
    let part = tempfile::tempdir().unwrap();
    for ((aircraft, key), lines) in &chosen.chains {
        let mut bytes = Vec::new();
        for line in lines {
            bytes.extend([line.bytes.as_slice(), b"\n"].concat());
        }
        write(
            part.path(),
            &format!("record/{aircraft}/{key}.jsonl"),
            &bytes,
        );
    }
    let proofs = &chosen.proofs[0];
    let name = format!("record/{}/{}.proofs.json", proofs.aircraft, proofs.author);
    write(part.path(), &name, &canonical::to_bytes(proofs).unwrap());
    let calm = words(&look(part.path(), None));
    assert!(
        !calm.contains("Failure") && !calm.contains("under no finish"),
        "{calm}"
    );
    for wrong in WRONG {
        assert_eq!(words(&hasty(part.path(), None, wrong)), calm);
    }
    // What stays wrong is damage.
    let mut hurt = std::fs::read(part.path().join(&name)).unwrap();
    let at = String::from_utf8_lossy(&hurt).find("\"path\":[\"").unwrap() + 9;
    hurt[at] = if hurt[at] == b'0' { b'1' } else { b'0' };
    write(part.path(), &name, &hurt);
    assert!(codes(&look(part.path(), None)).contains(&"bad_root"));
}
