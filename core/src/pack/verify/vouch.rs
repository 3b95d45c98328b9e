//! What authors say of one another's chains: who stands behind which part, and which chain was
//! written anew after somebody had recorded it.

use super::chains::{self, Chain};
use super::context::Context;
use super::{Report, Row, Source, VouchedPart};
use crate::record::kinds::Vouched;
use crate::record::{Body, Digest, Line};
use std::collections::{BTreeMap, HashMap};

/// Keys that are one person's, by links that both keys signed.
struct People(BTreeMap<Digest, Digest>);

impl People {
    fn of(chains: &[Chain]) -> Self {
        let mut people = Self(BTreeMap::new());
        for chain in chains {
            for line in chain.lines() {
                if let Body::AuthorLinked(link) = &line.entry.body
                    && chain.stands(line)
                    && chains::linked(line)
                {
                    let (a, b) = (people.who(line.entry.author), people.who(link.linked));
                    if a != b {
                        people.0.insert(a.max(b), a.min(b));
                    }
                }
            }
        }
        people
    }

    /// One key for all keys of a person.
    fn who(&self, mut key: Digest) -> Digest {
        while let Some(other) = self.0.get(&key) {
            key = *other;
        }
        key
    }
}

/// Rows and vouched parts from every `vouched` line.
pub(super) fn vouching(
    chains: &[Chain],
    source: &Source<'_>,
    context: &Context<'_>,
    report: &mut Report,
) {
    let people = People::of(chains);
    let by_digest: HashMap<Digest, (&Chain, &Line)> = chains
        .iter()
        .flat_map(|chain| chain.lines().map(move |line| (line.digest, (chain, line))))
        .collect();
    for voucher in chains {
        for (line, number) in voucher.numbered() {
            let Body::Vouched(vouched) = &line.entry.body else {
                continue;
            };
            // What its author did not sign has a row of its own, and says nothing of others.
            if !voucher.stands(line) {
                continue;
            }
            let place = voucher.place(number);
            if vouched.author == line.entry.author {
                report.push(context.during(line).on(Row::new(
                    "not_checked",
                    &place,
                    "this author vouches for a chain of the same key: that shows nothing and is not counted",
                    "ask somebody else to vouch for it",
                )));
                continue;
            }
            let found = by_digest.get(&vouched.line).filter(|(chain, other)| {
                chain.author == Some(vouched.author) && other.entry.seq == vouched.seq
            });
            match found {
                Some((chain, _)) if !context.taken_back(&line.digest) => {
                    report.vouched.push(VouchedPart {
                        author: vouched.author,
                        aircraft: chain.aircraft.unwrap_or_default(),
                        by: line.entry.author,
                        same_person: people.who(vouched.author) == people.who(line.entry.author),
                        seq: vouched.seq,
                        since: line.entry.at.to_string(),
                    });
                }
                Some(_) => {}
                None => absent(
                    chains,
                    source,
                    context,
                    (voucher, line, &place),
                    vouched,
                    report,
                ),
            }
        }
    }
}

/// The line that was vouched for is not here: another stands in its place, the chain ends before
/// it, or that part was never handed over.
fn absent(
    chains: &[Chain],
    source: &Source<'_>,
    context: &Context<'_>,
    (voucher, line, place): (&Chain, &Line, &str),
    vouched: &Vouched,
    report: &mut Report,
) {
    let who = line.entry.author.short();
    let aircraft = vouched.aircraft.or(voucher.aircraft);
    let theirs: Vec<&Chain> = chains
        .iter()
        .filter(|chain| chain.author == Some(vouched.author) && chain.aircraft == aircraft)
        .collect();
    let other = theirs.iter().find_map(|chain| {
        let mut lines = chain.numbered();
        lines
            .find(|(other, _)| other.entry.seq == vouched.seq)
            .map(|(other, n)| (other, chain.place(n)))
    });
    let end = theirs
        .iter()
        .flat_map(|chain| chain.lines())
        .max_by_key(|line| line.entry.seq);
    if let Some((other, at)) = other {
        report.push(context.during(other).on(Row::new(
            "not_as_vouched",
            &at,
            format!(
                "author {who} recorded another line {} of this chain at {}: the chain was written anew after that",
                vouched.seq + 1,
                line.entry.at
            ),
            "ask both authors; compare with a printed proof code",
        )));
    } else if source.own == Some(vouched.author)
        && end.is_none_or(|end| end.entry.seq < vouched.seq)
    {
        report.push(context.lost(Some(vouched.line), end, None).on(Row::new(
            "cut_tail",
            place,
            format!(
                "author {who} has seen line {} of your chain; here it ends {}",
                vouched.seq + 1,
                end.map_or("before its first line".to_owned(), |end| format!(
                    "at line {}",
                    end.entry.seq + 1
                ))
            ),
            "take the chain back from a backup, or receive it from that author",
        )));
    } else {
        report.push(context.lost(Some(vouched.line), None, None).on(Row::new(
            "gap",
            place,
            format!(
                "author {who} vouches for line {} of author {}, which is not here",
                vouched.seq + 1,
                vouched.author.short()
            ),
            "ask for the whole history to use it",
        )));
    }
}
