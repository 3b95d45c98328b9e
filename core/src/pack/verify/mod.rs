//! Verifying a record: rows with stable codes, each naming walkaround, zone and finding.
//!
//! Works on a notebook's folder and on what a pack holds alike, without the index: a stranger's
//! reader has no index either. Whatever looks damaged is read once more before it is called so; a
//! false alarm frightens people more than a bug.

mod chains;
mod context;
mod covered;
mod files;
mod vouch;

pub use chains::Chain;
pub(crate) use chains::load;
pub use covered::{Inclusion, Proofs};
pub(crate) use files::stated;

use super::bag::{BagReport, FaultKind};
use super::members::{Limits, Members};
use crate::error::Result;
use crate::record::Digest;
use context::Context;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// How grave a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// As it should be, and worth saying.
    InOrder,
    /// No damage; something to know or to do.
    Hint,
    /// The record is not what it was, or contradicts itself.
    Failure,
}

/// One thing found.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Row {
    /// Stable code.
    pub code: &'static str,
    /// Class of the code.
    pub status: Status,
    /// File, with the line's number where it is one line: `record/…/….jsonl:12`.
    pub file: String,
    /// Walkaround that it touches.
    pub walkaround: Option<String>,
    /// Zone code.
    pub zone: Option<String>,
    /// Finding that it touches.
    pub finding: Option<String>,
    /// What is so, in a sentence.
    pub what: String,
    /// What to do about it.
    #[serde(rename = "do")]
    pub remedy: String,
}

impl Row {
    /// A pack that must not even be read, as a row.
    pub fn of(error: &crate::error::Error) -> Self {
        Self::new(
            "bad_manifest",
            &error.place,
            error.what.as_str(),
            &error.remedy,
        )
    }

    pub(crate) fn new(
        code: &'static str,
        file: &str,
        what: impl Into<String>,
        remedy: &str,
    ) -> Self {
        Self {
            code,
            status: status_of(code),
            file: file.to_owned(),
            walkaround: None,
            zone: None,
            finding: None,
            what: what.into(),
            remedy: remedy.to_owned(),
        }
    }
}

/// Every code, by how grave it is; the list is that of the command line's description.
pub const CODES: [(Status, &[&str]); 3] = [
    (
        Status::Failure,
        &[
            "altered",
            "missing",
            "broken_link",
            "bad_signature",
            "bad_root",
            "bad_timestamp",
            "bad_manifest",
            "two_lines_one_number",
            "not_as_vouched",
            "cut_tail",
        ],
    ),
    (
        Status::Hint,
        &[
            "not_handed_over",
            "gap",
            "torn_line",
            "unfinished",
            "clock_order",
            "stray",
            "unplaced",
            "not_checked",
        ],
    ),
    (Status::InOrder, &["removed", "withheld"]),
];

/// Status of a code; what is not in the list is taken for grave.
pub fn status_of(code: &str) -> Status {
    CODES
        .iter()
        .find(|(_, codes)| codes.contains(&code))
        .map_or(Status::Failure, |(status, _)| *status)
}

/// What was verified, and what came of it.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Report {
    /// Failures first, then hints, then what is in order.
    pub rows: Vec<Row>,
    /// Chains read.
    pub chains: u64,
    /// Lines whose place, digest and signature hold.
    pub lines: u64,
    /// Original files whose bytes are those recorded.
    pub files: u64,
    /// Finishes whose tree was computed again and agrees.
    pub finishes: u64,
    /// Lines of a chain that another author has vouched for.
    pub vouched: Vec<VouchedPart>,
    /// What all this is worth.
    pub worth: &'static str,
}

/// The part of a chain that somebody else stands behind.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct VouchedPart {
    /// Whose chain.
    pub author: Digest,
    /// Aircraft.
    pub aircraft: Digest,
    /// By whom.
    pub by: Digest,
    /// True if that is another device of the same person, by a link that both keys signed.
    pub same_person: bool,
    /// Number of the last line of it, from 0.
    pub seq: u64,
    /// Since when, as the voucher wrote it.
    pub since: String,
}

impl Report {
    /// True if any row is a failure.
    pub fn failed(&self) -> bool {
        self.rows.iter().any(|row| row.status == Status::Failure)
    }

    pub(crate) fn add(
        &mut self,
        code: &'static str,
        file: &str,
        what: impl Into<String>,
        remedy: &str,
    ) {
        self.push(Row::new(code, file, what, remedy));
    }

    pub(crate) fn push(&mut self, row: Row) {
        self.rows.push(row);
    }

    /// Leaves out failures that another look at the same did not find.
    pub(crate) fn keep_confirmed(&mut self, other: &Self) {
        self.rows.retain(|row| {
            row.status != Status::Failure
                || other
                    .rows
                    .iter()
                    .any(|known| known.code == row.code && known.file == row.file)
        });
    }

    pub(crate) fn sort(&mut self) {
        self.rows.sort_by(|a, b| {
            b.status
                .cmp(&a.status)
                .then_with(|| a.file.cmp(&b.file))
                .then_with(|| a.code.cmp(b.code))
                .then_with(|| a.what.cmp(&b.what))
        });
        self.rows.dedup();
    }

    /// What a person reads.
    pub fn to_text(&self) -> String {
        use std::fmt::Write;
        let mut out = String::new();
        for row in &self.rows {
            let word = match row.status {
                Status::Failure => "FAILURE",
                Status::Hint => "hint",
                Status::InOrder => "in order",
            };
            let _ = write!(out, "{word}: {}", row.what);
            let about: Vec<String> = [
                row.walkaround.as_ref().map(|w| format!("walkaround {w}")),
                row.zone.as_ref().map(|z| format!("zone {z}")),
                row.finding.as_ref().map(|f| format!("finding {f}")),
            ]
            .into_iter()
            .flatten()
            .collect();
            if !about.is_empty() {
                let _ = write!(out, " [{}]", about.join(", "));
            }
            let _ = writeln!(out, "\n    {} ({})", row.file, row.code);
            if !row.remedy.is_empty() {
                let _ = writeln!(out, "    do: {}", row.remedy);
            }
        }
        let count = |status| self.rows.iter().filter(|row| row.status == status).count();
        let _ = writeln!(
            out,
            "Checked: chains {}, lines {}, files {}, finishes {}. Failures: {}. Hints: {}.",
            self.chains,
            self.lines,
            self.files,
            self.finishes,
            count(Status::Failure),
            count(Status::Hint)
        );
        for part in &self.vouched {
            let _ = writeln!(
                out,
                "Lines 1 to {} of author {} are vouched for by author {}{} since {}.",
                part.seq + 1,
                part.author.short(),
                part.by.short(),
                if part.same_person {
                    " (another device of the same person: nobody else stands behind them by this)"
                } else {
                    ""
                },
                part.since
            );
        }
        let _ = writeln!(out, "{}", self.worth);
        out
    }
}

/// What is to be verified.
pub struct Source<'a> {
    /// Folder or zip.
    pub members: &'a dyn Members,
    /// Where `record/`, `evidence/`, `slips/` are in it: empty for a notebook, `data/` for a pack.
    pub prefix: &'a str,
    /// The notebook's own author, for whom "never came" cannot be.
    pub own: Option<Digest>,
    /// Digests of files that are known to have been here.
    pub was_here: BTreeSet<Digest>,
    /// Chain file to lines that are known to have stood last in it once, where that is known.
    pub remembered: BTreeMap<String, BTreeSet<Digest>>,
    /// Digests of files that the packer left out on purpose, with why.
    pub withheld: Vec<(Digest, String)>,
}

/// Bytes of all chains that are verified at once. A line is 64 KiB at most, so this is a bound on
/// memory, far above what a club of aeroplanes writes in decades.
pub const RECORD_LIMIT: u64 = 512 << 20;

/// Checks everything below `source`.
///
/// # Errors
/// Only those of the machine; whatever is wrong with the record is a row.
pub fn verify(source: &Source<'_>, limits: &Limits) -> Result<Report> {
    let mut report = Report {
        worth: crate::record::proof::WORTH,
        ..Report::default()
    };
    let chains = chains::load(source, &mut report)?;
    let context = Context::of(&chains);
    for chain in &chains {
        chains::check(chain, source, &context, limits, &mut report)?;
    }
    chains::gone(&chains, source, &context, &mut report);
    vouch::vouching(&chains, source, &context, &mut report);
    files::check(source, &chains, &context, limits, &mut report)?;
    context.unplaced(&mut report);
    report.chains = chains.len() as u64;
    report.sort();
    Ok(report)
}

/// A bag's faults as rows.
pub fn bag_rows(bag: &BagReport, report: &mut Report) {
    for fault in &bag.faults {
        let (code, remedy) = match fault.kind {
            FaultKind::Altered => ("altered", "ask for the pack again"),
            FaultKind::Missing => ("missing", "ask for the pack again"),
            FaultKind::Odd => ("not_checked", "nothing; it is allowed"),
            FaultKind::Extra | FaultKind::Name | FaultKind::Manifest => {
                ("bad_manifest", "ask whoever made the pack to make it again")
            }
        };
        report.add(code, &fault.file, fault.what.as_str(), remedy);
    }
}

#[cfg(test)]
mod tests;
