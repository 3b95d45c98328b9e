//! Invented notebooks whose truth is known by construction, built from the record's own parts.

use crate::record::key::{SeedSigner, Signer};
use crate::record::kinds::{
    AircraftDescribed, ChainOpened, FindingOpened, PhotoTaken, Placed, Sighted, Vouched,
    WalkaroundFinished, WalkaroundStarted,
};
use crate::record::proof::merkle;
use crate::record::slip::Slip;
use crate::record::{At, Body, Digest, Entry, Line, Seen};
use crate::world::{GivenClock, SeededEntropy, SystemFiles, World};
use std::path::Path;
use std::sync::Arc;

/// A world with a clock that stands and repeatable randomness.
pub fn world(seed: u64) -> World {
    World {
        clock: Arc::new(GivenClock::new(
            "2026-05-03T09:10:00+02:00".parse::<At>().unwrap().instant(),
        )),
        entropy: Arc::new(SeededEntropy::new(seed)),
        files: Arc::new(SystemFiles),
    }
}

/// One author's chain in the making.
pub struct Author {
    /// Key.
    pub signer: SeedSigner,
    /// Aircraft.
    pub aircraft: Digest,
    /// Lines so far.
    pub lines: Vec<Line>,
    minute: u32,
}

impl Author {
    /// Opens a chain, of a new aircraft where `aircraft` is zeros.
    pub fn open(seed: u8, aircraft: Digest, root: &Path) -> Self {
        let mut author = Self {
            signer: SeedSigner::from_seed(&[seed; 32]),
            aircraft,
            lines: Vec::new(),
            minute: 0,
        };
        let entropy = SeededEntropy::new(u64::from(seed));
        let slip = Slip::person(&entropy, &format!("Invented {seed}"), "owner", None).unwrap();
        let (bytes, who) = slip.to_bytes().unwrap();
        write(
            root,
            &format!("slips/{}/{who}.json", &who.hex()[..2]),
            &bytes,
        );
        let opened = author.add(ChainOpened {
            nonce: format!("{seed:032x}"),
            who: Some(who),
            format: crate::record::FORMAT,
        });
        if aircraft == Digest::ZERO {
            author.aircraft = opened;
        }
        author
    }

    /// Appends an entry.
    pub fn add(&mut self, body: impl Into<Body>) -> Digest {
        self.minute += 1;
        let at: At = format!(
            "2026-05-03T{:02}:{:02}:00+02:00",
            9 + self.minute / 60,
            self.minute % 60
        )
        .parse()
        .unwrap();
        let entry = Entry {
            author: self.signer.public(),
            aircraft: self.aircraft,
            seq: self.lines.len() as u64,
            prev: self.lines.last().map_or(Digest::ZERO, |line| line.digest),
            seen: Seen::clock(at.instant()),
            at,
            system_clock: true,
            body: body.into(),
        };
        let line = entry.sign(&self.signer).unwrap();
        let digest = line.digest;
        self.lines.push(line);
        digest
    }

    /// A photo of the given bytes, kept under `root`.
    pub fn photo(&mut self, root: &Path, bytes: &[u8], walkaround: Digest) -> Digest {
        let file = Digest::of(bytes);
        write(
            root,
            &format!("evidence/{}/{file}.jpg", &file.hex()[..2]),
            bytes,
        );
        let length = bytes.len() as u64;
        let picture = crate::evidence::examine(&mut std::io::Cursor::new(bytes), length, "x.jpg")
            .unwrap()
            .picture;
        self.add(PhotoTaken {
            file,
            bytes: length,
            media: "image/jpeg".into(),
            name: Some("IMG_1.JPG".into()),
            orientation: 1,
            size: None,
            picture: picture.and_then(|p| p.parse().ok()),
            complete: Some(true),
            route: "imported".into(),
            camera: None,
            position: None,
            hints: Vec::new(),
            walkaround: Some(walkaround),
            stop: None,
        })
    }

    /// Starts a walkaround.
    pub fn start(&mut self) -> Digest {
        self.add(WalkaroundStarted {
            purpose: Some("preflight".into()),
            hours: Some("1200.5".into()),
            meter: None,
            landings: None,
            landings_meter: None,
            event: None,
        })
    }

    /// Finishes it.
    pub fn finish(&mut self, walkaround: Digest) -> Digest {
        let leaves: Vec<&[u8]> = self
            .lines
            .iter()
            .map(|line| line.bytes.as_slice())
            .collect();
        let body = WalkaroundFinished {
            walkaround,
            size: leaves.len() as u64,
            root: merkle::tree_hash(&leaves),
        };
        self.add(body)
    }

    /// A finding with one sighting that shows a photo.
    pub fn finding(&mut self, zone: &str, photo: Digest, walkaround: Digest) -> Digest {
        let finding = self.add(FindingOpened {
            zone: zone.into(),
            condition: "crack".into(),
            part: None,
            component: None,
            unsure: Vec::new(),
            system: None,
            text: None,
        });
        self.add(Sighted {
            finding,
            walkaround: Some(walkaround),
            result: "present".into(),
            why: None,
            basis: Some("seen".into()),
            step: None,
            measures: Vec::new(),
            evidence: vec![photo],
            text: None,
            fresh: None,
            late: false,
        });
        finding
    }

    /// Hangs a capture on a zone.
    pub fn place(&mut self, what: Digest, zone: &str) -> Digest {
        self.add(Placed {
            what,
            zone: Some(zone.into()),
            finding: None,
            meant: None,
            part: None,
        })
    }

    /// Vouches for the last line of another chain.
    pub fn vouch(&mut self, other: &Author) -> Digest {
        let last = other.lines.last().unwrap();
        self.add(Vouched {
            author: other.signer.public(),
            seq: last.entry.seq,
            line: last.digest,
            aircraft: (other.aircraft != self.aircraft).then_some(other.aircraft),
        })
    }

    /// Writes the chain's file.
    pub fn save(&self, root: &Path) -> String {
        let name = format!("record/{}/{}.jsonl", self.aircraft, self.signer.public());
        let mut bytes = Vec::new();
        for line in &self.lines {
            bytes.extend_from_slice(&line.bytes);
            bytes.push(b'\n');
        }
        write(root, &name, &bytes);
        name
    }
}

/// Writes a file below a root.
pub fn write(root: &Path, name: &str, bytes: &[u8]) {
    let path = root.join(name);
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(path, bytes).unwrap();
}

/// A small JPEG drawn here: grey, with a number in its quantisation so that each differs.
pub fn jpeg(n: u8) -> Vec<u8> {
    let picture =
        image::GrayImage::from_fn(16, 16, |x, y| image::Luma([((x as u8) * n) ^ (y as u8)]));
    let mut out = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut out, image::ImageFormat::Jpeg)
        .unwrap();
    out.into_inner()
}

/// Adds an APP1 segment, as a camera does.
pub fn with_metadata(jpeg: &[u8]) -> Vec<u8> {
    let mut out = jpeg[..2].to_vec();
    out.extend([0xFF, 0xE1, 0, 10]);
    out.extend(b"APP1data");
    out.extend(&jpeg[2..]);
    out
}

/// The usual invented notebook: an owner with two finished walkarounds and two findings.
pub fn owner(root: &Path) -> (Author, Vec<Digest>) {
    let mut owner = Author::open(1, Digest::ZERO, root);
    owner.add(AircraftDescribed {
        registration: "N0TEST".into(),
        kind: "invented".into(),
        serial: None,
    });
    let first = owner.start();
    let photo = owner.photo(root, &with_metadata(&jpeg(3)), first);
    owner.place(photo, "721");
    let crack = owner.finding("721", photo, first);
    let photo = owner.photo(root, &jpeg(5), first);
    let leak = owner.finding("301", photo, first);
    owner.finish(first);
    let second = owner.start();
    let photo = owner.photo(root, &jpeg(7), second);
    owner.add(Sighted {
        finding: crack,
        walkaround: Some(second),
        result: "present".into(),
        why: None,
        basis: None,
        step: None,
        measures: Vec::new(),
        evidence: vec![photo],
        text: None,
        fresh: None,
        late: false,
    });
    owner.finish(second);
    owner.save(root);
    (owner, vec![crack, leak])
}
