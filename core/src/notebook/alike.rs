//! Findings of different people that may be one: offered for joining, never joined by themselves.

use serde::Serialize;

use super::{Notebook, folded, names};
use crate::error::Result;
use crate::history::state::Finding;
use crate::record::Digest;

/// Two findings that a person may want to join.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Joinable {
    /// The one opened earlier.
    pub finding: Digest,
    /// Its short form.
    pub short: String,
    /// The other.
    pub other: Digest,
    /// Its short form.
    pub other_short: String,
    /// Both in a sentence, with who opened them and when.
    pub says: String,
}

/// Words that tell places apart; little ones do not.
fn words(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphanumeric())
        .map(folded)
        .filter(|word| word.chars().count() > 3)
        .collect()
}

/// One zone, one condition, one component, opened by different authors, both open; words for the place, where
/// both have some, share one; and nobody has said that they are two.
fn may_be_one(one: &Finding, other: &Finding) -> bool {
    let parts_agree = match (&one.part, &other.part) {
        (Some(a), Some(b)) => {
            let theirs = words(b);
            folded(a) == folded(b) || words(a).iter().any(|word| theirs.contains(word))
        }
        _ => true,
    };
    let disputed = |finding: &Finding| finding.steps.iter().any(|step| step.what == "disputed");
    one.open
        && other.open
        && !one.zone.is_empty()
        && one.zone == other.zone
        && one.condition == other.condition
        && one.component == other.component
        && one.opened.author != other.opened.author
        && parts_agree
        && !disputed(one)
        && !disputed(other)
}

impl Notebook {
    /// Pairs of open findings of different people at one place that nobody has joined yet.
    ///
    /// # Errors
    /// Those of reading the index.
    pub fn joinable(&self, aircraft: &Digest) -> Result<Vec<Joinable>> {
        let state = self.state(aircraft)?;
        let mut out = Vec::new();
        for (at, one) in state.findings.iter().enumerate() {
            for other in state.findings.iter().skip(at + 1) {
                if !may_be_one(one, other) {
                    continue;
                }
                let (one, other) =
                    if (one.opened.order_us, one.id) <= (other.opened.order_us, other.id) {
                        (one, other)
                    } else {
                        (other, one)
                    };
                let told = |finding: &Finding| {
                    format!(
                        "{} ({}, {})",
                        names::short(&finding.zone, &finding.id, 5),
                        self.shown_author(&state, &finding.opened.author),
                        finding.opened.seen.time.get(..10).unwrap_or("no date"),
                    )
                };
                let (short, other_short) = (
                    names::short(&one.zone, &one.id, 5),
                    names::short(&other.zone, &other.id, 5),
                );
                out.push(Joinable {
                    says: format!(
                        "{} and {} may be one {}; if so, join them: witnessmark finding join {short} {other_short}",
                        told(one),
                        told(other),
                        one.condition.replace('_', " "),
                    ),
                    finding: one.id,
                    other: other.id,
                    short,
                    other_short,
                });
            }
        }
        Ok(out)
    }
}
