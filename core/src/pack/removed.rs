//! Originals that were removed on purpose: a bystander's recording, say.

use crate::record::{Body, Digest, Line};
use std::collections::{BTreeMap, BTreeSet};

/// Files whose removal is written down, with the reason given. Bytes that another capture cites as well
/// stay, so such a file is not among them, nor one whose removal its author took back.
pub fn removed<'a>(lines: impl Iterator<Item = &'a Line>) -> BTreeMap<Digest, String> {
    let lines: Vec<&Line> = lines.collect();
    let taken_back: BTreeSet<(Digest, Digest)> = lines
        .iter()
        .filter_map(|line| match &line.entry.body {
            Body::Retracted(back) => Some((line.entry.author, back.entry)),
            _ => None,
        })
        .collect();
    let mut out = BTreeMap::new();
    let mut removals: BTreeMap<Digest, u64> = BTreeMap::new();
    let mut captures: BTreeMap<Digest, u64> = BTreeMap::new();
    for line in lines {
        match &line.entry.body {
            Body::Removed(gone) if !taken_back.contains(&(line.entry.author, line.digest)) => {
                out.insert(gone.file, gone.why.clone());
                *removals.entry(gone.file).or_default() += 1;
            }
            Body::PhotoTaken(body) => *captures.entry(body.file).or_default() += 1,
            Body::VoiceTaken(body) => *captures.entry(body.file).or_default() += 1,
            Body::PaperTaken(body) => *captures.entry(body.file).or_default() += 1,
            _ => {}
        }
    }
    out.retain(|file, _| captures.get(file).unwrap_or(&0) <= removals.get(file).unwrap_or(&0));
    out
}
