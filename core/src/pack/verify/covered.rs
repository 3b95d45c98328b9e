//! Trees of the finishes: whether every line stands under one, by its chain or by a proof.

use super::chains::{Chain, FROM_COPY};
use super::context::Context;
use super::{Report, Row, Source};
use crate::error::{Error, ErrorKind, Result};
use crate::pack::members::Limits;
use crate::record::proof::merkle::{self, Tree};
use crate::record::{Body, Digest, Line};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeSet, HashMap};

/// Inclusion proofs of lines that travel without all lines before them.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Proofs {
    /// Aircraft.
    pub aircraft: Digest,
    /// Author.
    pub author: Digest,
    /// One for each line.
    pub proofs: Vec<Inclusion>,
}

/// One line's path to the root of a finish (RFC 6962 section 2.1.1).
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Inclusion {
    /// The line.
    pub line: Digest,
    /// Its number, the leaf's index.
    pub index: u64,
    /// The finish whose root it leads to.
    pub finish: Digest,
    /// Sibling hashes from the leaf upwards.
    pub path: Vec<Digest>,
}

/// Reads the proofs that came with a chain: beside it in a notebook, under `proofs/` in a pack.
pub fn proofs_of(
    chain: &Chain,
    source: &Source<'_>,
    limits: &Limits,
) -> Result<Option<(String, Proofs)>> {
    let (Some(aircraft), Some(author)) = (chain.aircraft, chain.author) else {
        return Ok(None);
    };
    let names = [
        format!(
            "{}record/{}/{}.proofs.json",
            source.prefix,
            aircraft.hex(),
            author.hex()
        ),
        format!(
            "{}proofs/{}-{}.json",
            source.prefix,
            aircraft.hex(),
            author.hex()
        ),
    ];
    for name in names {
        if source.members.len_of(&name).is_some() {
            let bytes = source.members.read(&name, limits.manifest)?;
            let proofs = serde_json::from_slice(&bytes).map_err(|e| {
                Error::new(
                    ErrorKind::BadFormat,
                    format!("the proofs cannot be read: {e}"),
                )
                .at(&name)
            })?;
            return Ok(Some((name, proofs)));
        }
    }
    Ok(None)
}

/// Trees of the finishes, and whether every line is under one.
pub(super) fn covered(
    chain: &Chain,
    source: &Source<'_>,
    context: &Context<'_>,
    unsigned: &BTreeSet<Digest>,
    limits: &Limits,
    report: &mut Report,
) -> Result<()> {
    let by_digest: HashMap<Digest, (&Line, u64)> = chain
        .numbered()
        .map(|(line, n)| (line.digest, (line, n)))
        .collect();
    let single = chain.lines.windows(2).all(|two| match two {
        [(_, a), (_, b)] => a.entry.seq != b.entry.seq,
        _ => true,
    });
    let whole = single
        && chain
            .lines
            .iter()
            .zip(0u64..)
            .all(|((_, line), i)| line.entry.seq == i);
    let mut tree = Tree::new();
    if whole {
        for line in chain.lines() {
            tree.push(&line.bytes);
        }
    }
    let mut held: BTreeSet<Digest> = BTreeSet::new();
    for (line, number) in chain.numbered() {
        let Body::WalkaroundFinished(finish) = &line.entry.body else {
            continue;
        };
        let bad = |what: &str| {
            context
                .about(line)
                .on(Row::new("bad_root", &chain.place(number), what, FROM_COPY))
        };
        if finish.size != line.entry.seq {
            report.push(bad(
                "this finish counts another number of lines than stand before it",
            ));
            continue;
        }
        let root = if whole {
            tree.root(finish.size)
        } else {
            let ancestors = ancestors(line, &by_digest);
            ancestors.map(|lines| {
                held.extend(lines.iter().map(|line| line.digest));
                merkle::tree_hash(&lines.iter().map(|line| &line.bytes).collect::<Vec<_>>()).0
            })
        };
        match root {
            Some(root) if root == finish.root.0 => {
                report.finishes += 1;
            }
            // A line under it has been named already.
            Some(_) if !unsigned.is_empty() => {}
            Some(_) => report.push(bad(
                "the lines before this finish are not those that it was made over: something was changed, taken out or put in afterwards",
            )),
            None => {}
        }
    }
    if whole {
        return Ok(());
    }
    // Twice before it is called damage: the file may have been written anew meanwhile.
    let (mut proven, mut wrong) = paths(chain, source, context, &by_digest, limits);
    if !wrong.is_empty() {
        (proven, wrong) = paths(chain, source, context, &by_digest, limits);
    }
    wrong.into_iter().for_each(|row| report.push(row));
    let loose = chain
        .lines()
        .filter(|line| {
            !held.contains(&line.digest) && !proven.contains(&line.digest) && line.entry.seq >= 1
        })
        .filter(|line| !matches!(line.entry.body, Body::WalkaroundFinished(_)))
        .count();
    if loose > 0 && chain.damaged.is_empty() {
        report.add(
            "gap",
            &chain.file,
            if loose == 1 {
                "1 line stands under no finish here: its signature holds, its place in the chain is not proven yet".to_owned()
            } else {
                format!("{loose} lines stand under no finish here: their signatures hold, their place in the chain is not proven yet")
            },
            "ask for the next finish of this author",
        );
    }
    Ok(())
}

/// The lines whose proofs lead to the finish that they name, and what is wrong with the others.
fn paths(
    chain: &Chain,
    source: &Source<'_>,
    context: &Context<'_>,
    by_digest: &HashMap<Digest, (&Line, u64)>,
    limits: &Limits,
) -> (BTreeSet<Digest>, Vec<Row>) {
    let mut proven = BTreeSet::new();
    let mut wrong = Vec::new();
    let (name, proofs) = match proofs_of(chain, source, limits) {
        Ok(Some(read)) => read,
        Ok(None) => return (proven, wrong),
        Err(error) => {
            let row = Row::new(
                "bad_root",
                &error.place,
                error.what,
                "ask for the pack again",
            );
            return (proven, vec![row]);
        }
    };
    for proof in &proofs.proofs {
        let (Some((line, number)), Some((finish, _))) =
            (by_digest.get(&proof.line), by_digest.get(&proof.finish))
        else {
            continue;
        };
        let Body::WalkaroundFinished(body) = &finish.entry.body else {
            continue;
        };
        let path: Vec<[u8; 32]> = proof.path.iter().map(|d| d.0).collect();
        let leaf = merkle::leaf_hash(&line.bytes);
        let holds = proof.index == line.entry.seq
            && merkle::verify_inclusion(proof.index, body.size, &leaf, &path, &body.root.0);
        if holds {
            proven.insert(line.digest);
        } else {
            wrong.push(context.during(line).on(Row::new(
                "bad_root",
                &name,
                format!("the proof for line {number} does not lead to the finish that it names"),
                "ask for the pack again",
            )));
        }
    }
    (proven, wrong)
}

/// The lines before one, oldest first, by their links; `None` where one is not here.
fn ancestors<'a>(line: &'a Line, all: &HashMap<Digest, (&'a Line, u64)>) -> Option<Vec<&'a Line>> {
    let mut out = Vec::new();
    let mut at = line;
    while at.entry.seq > 0 {
        let (before, _) = all.get(&at.entry.prev)?;
        if before.entry.seq + 1 != at.entry.seq {
            return None;
        }
        out.push(*before);
        at = before;
    }
    out.reverse();
    Some(out)
}
