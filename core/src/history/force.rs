//! Which lines hold: retractions, amendments and restatements applied, order made.

use std::collections::{HashMap, HashSet};

use crate::index::Row;
use crate::record::kinds::cites;
use crate::record::{Body, Digest};

/// A line that holds, with the body that counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Fact {
    /// The line.
    pub row: Row,
    /// The amendment whose body counts, if any.
    pub amended: Option<Digest>,
    /// The line that this one restates, if any.
    pub restates: Option<Digest>,
}

/// Applies corrections and sorts by instant of `seen`, author key, seq, digest.
///
/// Only its author retracts or amends a line, within one chain, and an amendment keeps every digest
/// of the original. What a restated line is the new form of is called by the new line's digest. A retraction can itself be retracted (undo). Of
/// several amendments the one with the highest number counts. The answer does not depend on the
/// order in which the rows come.
pub fn in_force(mut rows: Vec<Row>) -> Vec<Fact> {
    rows.sort_by_key(|row| (row.author, row.seq, row.digest));
    rows.dedup_by(|a, b| a.digest == b.digest);
    let chain_of: HashMap<Digest, (Digest, Digest)> = rows
        .iter()
        .map(|row| (row.digest, (row.author, row.aircraft)))
        .collect();
    let mut gone: HashSet<Digest> = HashSet::new();
    // A line can only cite earlier lines of its chain, so the latest retraction is settled first.
    for row in rows.iter().rev() {
        if let Body::Retracted(retraction) = &row.body
            && !gone.contains(&row.digest)
            && chain_of.get(&retraction.entry) == Some(&(row.author, row.aircraft))
        {
            gone.insert(retraction.entry);
        }
    }
    let mut newest: HashMap<Digest, (u64, Digest, serde_json::Value)> = HashMap::new();
    for row in &rows {
        if let Body::Amended(amendment) = &row.body
            && !gone.contains(&row.digest)
            && chain_of.get(&amendment.entry) == Some(&(row.author, row.aircraft))
        {
            let entry = newest
                .entry(amendment.entry)
                .or_insert_with(|| (row.seq, row.digest, amendment.body.clone()));
            if row.seq >= entry.0 {
                *entry = (row.seq, row.digest, amendment.body.clone());
            }
        }
    }
    let mut facts: Vec<Fact> = rows
        .into_iter()
        .filter(|row| {
            !gone.contains(&row.digest)
                && !matches!(row.body, Body::Retracted(_) | Body::Amended(_))
        })
        .map(|mut row| {
            let mut amended = None;
            if let Some((_, by, value)) = newest.remove(&row.digest)
                && same_digests(&row.body, &value)
                && let Ok((body, _)) = Body::from_value(row.body.kind(), value)
            {
                row.body = body;
                amended = Some(by);
            }
            let mut restates = None;
            if let Body::Restated(restated) = &row.body
                && let Ok((body, _)) = Body::from_value(&restated.kind, restated.body.clone())
            {
                restates = Some(restated.source);
                let seen = restated.seen.clone();
                row.order_us = seen.instant_us(&row.at);
                row.seen = seen;
                row.body = body;
            }
            Fact {
                row,
                amended,
                restates,
            }
        })
        .collect();
    let renamed: HashMap<Digest, Digest> = facts
        .iter()
        .filter_map(|fact| Some((fact.restates?, fact.row.digest)))
        .collect();
    if !renamed.is_empty() {
        for fact in &mut facts {
            rename(&mut fact.row.body, &renamed);
        }
    }
    facts.sort_by(|a, b| {
        (a.row.order_us, a.row.author, a.row.seq, a.row.digest).cmp(&(
            b.row.order_us,
            b.row.author,
            b.row.seq,
            b.row.digest,
        ))
    });
    facts
}

/// An amendment says another thing of the same things.
fn same_digests(original: &Body, amended: &serde_json::Value) -> bool {
    original
        .to_value()
        .is_ok_and(|value| cites(&value) == cites(amended))
}

/// Lines that were restated are called by the digest of their new form.
fn rename(body: &mut Body, renamed: &HashMap<Digest, Digest>) {
    fn walk(value: &mut serde_json::Value, renamed: &HashMap<Digest, Digest>) -> bool {
        match value {
            serde_json::Value::String(text) if text.len() == 64 => {
                let new = text.parse().ok().and_then(|old: Digest| renamed.get(&old));
                if let Some(new) = new {
                    *text = new.hex();
                }
                new.is_some()
            }
            serde_json::Value::Array(items) => {
                items
                    .iter_mut()
                    .map(|item| u32::from(walk(item, renamed)))
                    .sum::<u32>()
                    > 0
            }
            serde_json::Value::Object(members) => {
                members
                    .values_mut()
                    .map(|member| u32::from(walk(member, renamed)))
                    .sum::<u32>()
                    > 0
            }
            _ => false,
        }
    }
    let kind = body.kind().to_owned();
    if let Ok(mut value) = body.to_value()
        && walk(&mut value, renamed)
        && let Ok((new, _)) = Body::from_value(&kind, value)
    {
        *body = new;
    }
}
