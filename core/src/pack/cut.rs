//! Which lines go into a pack.

use super::verify::{Chain, Inclusion, Proofs};
use crate::record::kinds::cites;
use crate::record::proof::merkle::Tree;
use crate::record::{Body, Digest, Line};
use std::collections::{BTreeMap, BTreeSet, HashMap};

/// Lines by aircraft and author, then by number and digest.
type Chains<'a> = BTreeMap<(Digest, Digest), BTreeMap<(u64, Digest), &'a Line>>;

/// How much is handed over.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cut {
    /// One finding: what is about it, and what that stands on.
    Finding(BTreeSet<Digest>),
    /// Everything about an aircraft, under the name of the page that goes with it: review, baseline
    /// or handing over.
    Whole(&'static str),
}

impl Cut {
    /// Its word.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Finding(_) => "finding",
            Self::Whole(word) => word,
        }
    }
}

/// What was chosen.
#[derive(Debug, Default)]
pub struct Chosen {
    /// Lines by aircraft and author, each list by number, then digest.
    pub chains: BTreeMap<(Digest, Digest), Vec<Line>>,
    /// Proofs for chains that go without all of their lines.
    pub proofs: Vec<Proofs>,
    /// Lines that no finish covers yet, by author.
    pub uncovered: BTreeMap<Digest, u64>,
}

/// Roles under which a line names another line that it stands on.
const STANDS_ON: [&str; 11] = [
    "walkaround",
    "evidence",
    "what",
    "entry",
    "finding",
    "other",
    "voice",
    "photo",
    "component",
    "source",
    "meter",
];

/// Chooses lines of `aircraft` (all descriptions that are joined).
pub fn choose(chains: &[Chain], aircraft: &BTreeSet<Digest>, cut: &Cut) -> Chosen {
    let mut all: Chains<'_> = BTreeMap::new();
    for line in chains.iter().flat_map(Chain::lines) {
        if aircraft.contains(&line.aircraft()) {
            all.entry((line.aircraft(), line.entry.author))
                .or_default()
                .insert((line.entry.seq, line.digest), line);
        }
    }
    let wanted: Option<BTreeSet<Digest>> = match cut {
        Cut::Whole(_) => None,
        Cut::Finding(findings) => Some(about(&all, findings)),
    };
    let mut chosen = Chosen::default();
    for (key, lines) in all {
        let single = lines
            .keys()
            .zip(lines.keys().skip(1))
            .all(|(a, b)| a.0 != b.0);
        let whole = single && lines.keys().zip(0u64..).all(|(key, n)| key.0 == n);
        let mut kept: BTreeMap<(u64, Digest), &Line> = lines
            .iter()
            .filter(|(_, line)| wanted.as_ref().is_none_or(|w| w.contains(&line.digest)))
            .map(|(key, line)| (*key, *line))
            .collect();
        if kept.is_empty() {
            continue;
        }
        if wanted.is_some() && whole {
            prove(key, &lines, &mut kept, &mut chosen);
        }
        let last_finish = kept
            .values()
            .filter_map(|line| match &line.entry.body {
                Body::WalkaroundFinished(finish) => Some(finish.size),
                _ => None,
            })
            .max()
            .unwrap_or(0);
        let after = kept
            .values()
            .filter(|line| {
                line.entry.seq >= last_finish
                    && !matches!(line.entry.body, Body::WalkaroundFinished(_))
            })
            .count();
        if after > 0 {
            chosen.uncovered.insert(key.1, after as u64);
        }
        chosen
            .chains
            .insert(key, kept.into_values().cloned().collect());
    }
    chosen
}

/// Adds for every line the first finish over it, and the path to that finish's root.
fn prove<'a>(
    (aircraft, author): (Digest, Digest),
    lines: &BTreeMap<(u64, Digest), &'a Line>,
    kept: &mut BTreeMap<(u64, Digest), &'a Line>,
    chosen: &mut Chosen,
) {
    let mut tree = Tree::new();
    let mut finishes: Vec<(u64, &Line)> = Vec::new();
    for line in lines.values() {
        if let Body::WalkaroundFinished(finish) = &line.entry.body
            && finish.size == line.entry.seq
        {
            finishes.push((finish.size, line));
        }
        tree.push(&line.bytes);
    }
    let mut proofs = Vec::new();
    for line in kept.values().copied().collect::<Vec<_>>() {
        let at = finishes.partition_point(|(size, _)| *size <= line.entry.seq);
        let Some((size, finish)) = finishes.get(at) else {
            continue;
        };
        let Some(path) = tree.inclusion(line.entry.seq, *size) else {
            continue;
        };
        kept.insert((finish.entry.seq, finish.digest), finish);
        proofs.push(Inclusion {
            line: line.digest,
            index: line.entry.seq,
            finish: finish.digest,
            path: path.into_iter().map(Digest).collect(),
        });
    }
    proofs.sort();
    chosen.proofs.push(Proofs {
        aircraft,
        author,
        proofs,
    });
}

/// The finding's own lines, what they stand on, and what corrects or places any of it.
fn about(all: &Chains<'_>, findings: &BTreeSet<Digest>) -> BTreeSet<Digest> {
    let lines: HashMap<Digest, &Line> = all
        .values()
        .flat_map(BTreeMap::values)
        .map(|line| (line.digest, *line))
        .collect();
    let links: Vec<(&Line, Vec<(String, Digest)>)> = all
        .values()
        .flat_map(BTreeMap::values)
        .map(|line| {
            (
                *line,
                cites(&line.entry.body.to_value().unwrap_or_default()),
            )
        })
        .collect();
    let mut wanted: BTreeSet<Digest> = findings
        .iter()
        .copied()
        .filter(|d| lines.contains_key(d))
        .collect();
    for (line, cited) in &links {
        let frame = line.entry.seq == 0
            || matches!(
                line.entry.body,
                Body::AircraftDescribed(_) | Body::LayoutChosen(_) | Body::AircraftJoined(_)
            );
        let named = cited.iter().any(|(_, digest)| findings.contains(digest));
        if frame || named && !matches!(line.entry.body, Body::ReadBeforeFlight(_) | Body::Looked(_))
        {
            wanted.insert(line.digest);
        }
    }
    loop {
        let before = wanted.len();
        for (line, cited) in &links {
            if wanted.contains(&line.digest) {
                let others = !matches!(line.entry.body, Body::FindingJoined(_));
                wanted.extend(
                    cited
                        .iter()
                        .filter(|(role, target)| {
                            STANDS_ON.contains(&role.as_str())
                                && lines.contains_key(target)
                                && (others || findings.contains(target) || role != "other")
                        })
                        .map(|(_, target)| *target),
                );
                continue;
            }
            let corrects = matches!(
                line.entry.body,
                Body::Amended(_) | Body::Retracted(_) | Body::TranscriptAdded(_) | Body::Placed(_)
            );
            let of_evidence = |target: &Digest| {
                wanted.contains(target)
                    && lines
                        .get(target)
                        .is_some_and(|l| !matches!(l.entry.body, Body::WalkaroundStarted(_)))
            };
            if corrects && cited.iter().any(|(_, target)| of_evidence(target)) {
                wanted.insert(line.digest);
            }
        }
        if wanted.len() == before {
            return wanted;
        }
    }
}
