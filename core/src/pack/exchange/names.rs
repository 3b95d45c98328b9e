//! Names of what lies in a meeting place.
//!
//! Everything is named by what it holds, so nobody ever writes over anybody, and no store need refuse
//! an overwriting:
//!
//! | name | holds |
//! | --- | --- |
//! | `v1/e/<aa>/<sha256>[.ext]` | an original, named by its digest |
//! | `v1/s/<aa>/<sha256>.json` | a slip |
//! | `v1/n/<author>/<aircraft>/<from>-<to>-<sha256>.jsonl` | a segment: lines `from` to `to` of one chain, each following the one before; the digest is that of the file |
//! | `v1/n/<author>/<aircraft>/<sha256>.proofs.json` | inclusion proofs of a chain of which only a part was handed over |
//!
//! `from` and `to` have ten digits, so that a listing stands in the order of the chain.

use crate::pack::verify;
use crate::record::Digest;

/// Segments and proofs.
pub const LINES: &str = "v1/n/";
/// Originals.
pub const ORIGINALS: &str = "v1/e/";
/// Slips.
pub const SLIPS: &str = "v1/s/";

/// One stretch of a chain.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Segment {
    /// Whose chain.
    pub author: Digest,
    /// About which aircraft.
    pub aircraft: Digest,
    /// Number of its first line.
    pub from: u64,
    /// Number of its last line.
    pub to: u64,
    /// SHA-256 of the file: the lines, each with its newline.
    pub digest: Digest,
}

/// What a name stands for.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Held {
    /// Lines.
    Segment(Segment),
    /// Inclusion proofs: author, aircraft, digest of the file.
    Proofs(Digest, Digest, Digest),
    /// An original.
    Original(Digest),
    /// A slip.
    Slip(Digest),
}

impl Segment {
    /// Its name in the place.
    pub fn name(&self) -> String {
        format!(
            "{LINES}{}/{}/{:010}-{:010}-{}.jsonl",
            self.author, self.aircraft, self.from, self.to, self.digest
        )
    }
}

/// Name of an original; `extension` without its dot, may be empty.
pub fn original(digest: &Digest, extension: &str) -> String {
    let hex = digest.hex();
    let dot = if extension.is_empty() { "" } else { "." };
    format!("{ORIGINALS}{}/{hex}{dot}{extension}", &hex[..2])
}

/// The folder in which a digest's file lies, below `prefix`.
pub fn folder(prefix: &str, digest: &Digest) -> String {
    format!("{prefix}{}/", &digest.hex()[..2])
}

/// Name of a slip.
pub fn slip(digest: &Digest) -> String {
    let hex = digest.hex();
    format!("{SLIPS}{}/{hex}.json", &hex[..2])
}

/// Name of a file of proofs.
pub fn proofs(author: &Digest, aircraft: &Digest, digest: &Digest) -> String {
    format!("{LINES}{author}/{aircraft}/{digest}.proofs.json")
}

/// What a name stands for; `None` for a stranger's.
pub fn read(name: &str) -> Option<Held> {
    if crate::pack::names::unfit_for_pack(name).is_some() {
        return None;
    }
    if let Some(rest) = name.strip_prefix(ORIGINALS) {
        return verify::stated(rest).map(Held::Original);
    }
    if let Some(rest) = name.strip_prefix(SLIPS) {
        return verify::stated(rest).map(Held::Slip);
    }
    let mut parts = name.strip_prefix(LINES)?.split('/');
    let (author, aircraft, file) = (
        parts.next()?.parse().ok()?,
        parts.next()?.parse::<Digest>().ok()?,
        parts.next()?,
    );
    if parts.next().is_some() || aircraft == Digest::ZERO {
        return None;
    }
    if let Some(digest) = file.strip_suffix(".proofs.json") {
        return Some(Held::Proofs(author, aircraft, digest.parse().ok()?));
    }
    let mut range = file.strip_suffix(".jsonl")?.splitn(3, '-');
    let mut number = || {
        let text = range.next()?;
        (text.len() == 10 && text.bytes().all(|b| b.is_ascii_digit()))
            .then(|| text.parse::<u64>().ok())?
    };
    let (from, to) = (number()?, number()?);
    let digest = range.next()?.parse().ok()?;
    (from <= to).then_some(Held::Segment(Segment {
        author,
        aircraft,
        from,
        to,
        digest,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_say_what_they_hold_and_come_back() {
        let segment = Segment {
            author: Digest([1; 32]),
            aircraft: Digest([2; 32]),
            from: 0,
            to: 41,
            digest: Digest([3; 32]),
        };
        assert_eq!(read(&segment.name()), Some(Held::Segment(segment.clone())));
        assert_eq!(
            read(&original(&Digest([4; 32]), "jpg")),
            Some(Held::Original(Digest([4; 32])))
        );
        assert_eq!(
            read(&original(&Digest([4; 32]), "")),
            Some(Held::Original(Digest([4; 32])))
        );
        assert_eq!(
            read(&slip(&Digest([5; 32]))),
            Some(Held::Slip(Digest([5; 32])))
        );
        assert_eq!(
            read(&proofs(&segment.author, &segment.aircraft, &segment.digest)),
            Some(Held::Proofs(
                segment.author,
                segment.aircraft,
                segment.digest
            ))
        );
        for strange in [
            "notes.txt".to_owned(),
            "../x".to_owned(),
            "v1/e/ab/x.jpg".to_owned(),
            // In the wrong folder.
            original(&Digest([4; 32]), "jpg").replace("/04/", "/05/"),
            segment.name().replace("0000000041", "41"),
            segment
                .name()
                .replace("0000000000-0000000041", "0000000042-0000000041"),
            segment
                .name()
                .replace(&segment.aircraft.hex(), &Digest::ZERO.hex()),
            segment.name().replace(".jsonl", ".jsonl.partial"),
            segment.name().replace("v1/", "v2/"),
        ] {
            assert_eq!(read(&strange), None, "{strange}");
        }
    }
}
