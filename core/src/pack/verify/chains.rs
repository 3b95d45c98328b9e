//! Chains: places, links, signatures, clocks.

use super::context::{About, Context};
use super::covered::covered;
use super::{RECORD_LIMIT, Report, Row, Source};
use crate::error::{Error, ErrorKind, Result};
use crate::pack::members::Limits;
use crate::record::chain;
use crate::record::{Body, Digest, Line};
use std::collections::{BTreeMap, BTreeSet};

/// One chain file that has been read.
pub struct Chain {
    /// Path in the source.
    pub file: String,
    /// Folder's name: the aircraft.
    pub aircraft: Option<Digest>,
    /// File's name: the author.
    pub author: Option<Digest>,
    /// Lines with their number from 1 in the file, sorted by seq, then digest.
    pub(super) lines: Vec<(u64, Line)>,
    /// Lines that cannot be read: number and why.
    pub(super) damaged: Vec<(u64, Error)>,
    /// Bytes after the last newline.
    torn: u64,
    /// True if those are a whole line but for its newline, which is another byte.
    altered_end: bool,
}

impl Chain {
    /// The lines.
    pub fn lines(&self) -> impl Iterator<Item = &Line> {
        self.lines.iter().map(|(_, line)| line)
    }

    /// The lines with their numbers in the file.
    pub fn numbered(&self) -> impl Iterator<Item = (&Line, u64)> {
        self.lines.iter().map(|(number, line)| (line, *number))
    }

    pub(super) fn place(&self, number: u64) -> String {
        format!("{}:{number}", self.file)
    }

    /// True if a line stands where it should and its author signed it: else it says nothing.
    pub(super) fn stands(&self, line: &Line) -> bool {
        Some(line.aircraft()) == self.aircraft
            && Some(line.entry.author) == self.author
            && line.signature_holds()
    }

    /// What a line that cannot be read belonged to.
    fn about_damaged(&self, context: &Context<'_>, number: u64) -> About {
        let before = self.numbered().filter(|(_, n)| *n < number);
        let after = self.numbered().filter(|(_, n)| *n > number);
        let after = after.min_by_key(|(_, n)| *n);
        // The line behind it says what its digest was.
        let digest = after.filter(|(_, n)| *n == number + 1);
        context.lost(
            digest.map(|(line, _)| line.entry.prev),
            before.max_by_key(|(_, n)| *n).map(|(line, _)| line),
            after.map(|(line, _)| line),
        )
    }
}

/// Reads every chain; one that looks damaged is read twice.
pub fn load(source: &Source<'_>, report: &mut Report) -> Result<Vec<Chain>> {
    let base = format!("{}record/", source.prefix);
    let mut chains = Vec::new();
    let mut total = 0u64;
    for member in source.members.list() {
        let Some(rest) = member.name.strip_prefix(&base) else {
            continue;
        };
        let Some((folder, file)) = rest.split_once('/') else {
            report.add(
                "stray",
                &member.name,
                "a file in record/ that is no chain",
                "look at what it is",
            );
            continue;
        };
        if file.ends_with(".proofs.json") {
            continue;
        }
        let Some(stem) = file
            .strip_suffix(".jsonl")
            .filter(|stem| !stem.contains('/'))
        else {
            report.add(
                "stray",
                &member.name,
                "a file in record/ that is no chain",
                "look at what it is",
            );
            continue;
        };
        total = total.saturating_add(member.len);
        if total > RECORD_LIMIT {
            return Err(Error::new(
                ErrorKind::TooLarge,
                format!("its chains are more than {RECORD_LIMIT} bytes"),
            )
            .at(&member.name));
        }
        let bytes = source.members.read(&member.name, RECORD_LIMIT)?;
        let mut stretch = chain::split(&bytes, 0);
        // An unfinished last line as well: somebody may be writing it at this moment.
        let suspicious = !stretch.damaged.is_empty()
            || stretch.torn > 0
            || (bytes.len() as u64) < member.len
            || stretch
                .lines
                .iter()
                .any(|(_, line)| !line.signature_holds());
        drop(bytes);
        if suspicious {
            stretch = chain::split(&source.members.read(&member.name, RECORD_LIMIT)?, 0);
        }
        let mut numbers: BTreeMap<u64, ()> =
            stretch.damaged.iter().map(|(_, n, _)| (*n, ())).collect();
        let mut lines = Vec::with_capacity(stretch.lines.len());
        let mut number = 0;
        for (_, line) in stretch.lines {
            number += 1;
            while numbers.remove(&number).is_some() {
                number += 1;
            }
            lines.push((number, line));
        }
        lines.sort_by(|(_, a), (_, b)| a.entry.seq.cmp(&b.entry.seq).then(a.digest.cmp(&b.digest)));
        chains.push(Chain {
            file: member.name.clone(),
            aircraft: if folder == "loose" {
                Some(Digest::ZERO)
            } else {
                folder.parse().ok()
            },
            author: stem.split('.').next().and_then(|key| key.parse().ok()),
            lines,
            damaged: stretch
                .damaged
                .into_iter()
                .map(|(_, n, e)| (n, e))
                .collect(),
            torn: stretch.torn,
            altered_end: stretch.altered_end,
        });
    }
    Ok(chains)
}

pub(super) const FROM_COPY: &str = "take this file back from a backup, or ask its author for a pack; the other lines are not touched";

/// One chain by itself.
pub fn check(
    chain: &Chain,
    source: &Source<'_>,
    context: &Context<'_>,
    limits: &Limits,
    report: &mut Report,
) -> Result<()> {
    if chain.aircraft.is_none() || chain.author.is_none() {
        report.add(
            "stray",
            &chain.file,
            "a file in record/ whose name is neither aircraft nor author",
            "look at what it is; nothing was read from it",
        );
        return Ok(());
    }
    if chain.altered_end {
        let number = (chain.lines.len() + chain.damaged.len()) as u64 + 1;
        report.add(
            "altered",
            &chain.place(number),
            format!("line {number} is whole, and the byte that ends it was changed"),
            FROM_COPY,
        );
    } else if chain.torn > 0 {
        report.add(
            "torn_line",
            &chain.file,
            format!("the last line is unfinished ({} bytes): writing was cut short; it was never acknowledged", chain.torn),
            "nothing; the next entry takes its place",
        );
    }
    for (number, error) in &chain.damaged {
        report.push(chain.about_damaged(context, *number).on(Row::new(
            "altered",
            &chain.place(*number),
            format!("line {number} cannot be read: {}", error.what),
            FROM_COPY,
        )));
    }
    let (sound, unsigned) = signatures(chain, context, report);
    links(chain, source, context, &unsigned, report);
    if unsigned.is_empty() {
        tail(chain, source, context, report);
    }
    clocks(chain, context, report);
    covered(chain, source, context, &unsigned, limits, report)?;
    report.lines += sound;
    unfinished(chain, context, report);
    Ok(())
}

/// Number of lines whose signature holds, and the lines whose does not: what follows from those is
/// not said a second time.
fn signatures(
    chain: &Chain,
    context: &Context<'_>,
    report: &mut Report,
) -> (u64, BTreeSet<Digest>) {
    let mut sound = 0;
    let mut unsigned = BTreeSet::new();
    for (line, number) in chain.numbered() {
        let wrong_place =
            Some(line.aircraft()) != chain.aircraft || Some(line.entry.author) != chain.author;
        if wrong_place {
            report.push(context.during(line).on(Row::new(
                "broken_link",
                &chain.place(number),
                format!(
                    "line {number} belongs to another aircraft or author than the file it stands in"
                ),
                FROM_COPY,
            )));
        } else if !linked(line) {
            report.push(context.during(line).on(Row::new(
                "bad_signature",
                &chain.place(number),
                format!("line {number} links this author to a key that did not agree to it"),
                "do not take the two for one person; ask the author",
            )));
        } else if line.signature_holds() {
            sound += 1;
        } else {
            unsigned.insert(line.digest);
            report.push(context.during(line).on(Row::new(
                "bad_signature",
                &chain.place(number),
                format!(
                    "line {number} ({}) is not what its author signed",
                    line.entry.body.kind()
                ),
                FROM_COPY,
            )));
        }
    }
    (sound, unsigned)
}

/// A link between two keys holds only if the other key signed it too.
pub(super) fn linked(line: &Line) -> bool {
    let Body::AuthorLinked(link) = &line.entry.body else {
        return true;
    };
    let said = serde_json::json!({ "aircraft": line.aircraft(), "author": line.entry.author, "linked": link.linked });
    let signature = data_encoding::HEXLOWER
        .decode(link.sig.as_bytes())
        .ok()
        .and_then(|bytes| <[u8; 64]>::try_from(bytes).ok());
    signature.is_some_and(|signature| {
        crate::record::canonical::to_bytes(&said)
            .is_ok_and(|bytes| crate::record::key::verify(&link.linked, &bytes, &signature))
    })
}

fn links(
    chain: &Chain,
    source: &Source<'_>,
    context: &Context<'_>,
    unsigned: &BTreeSet<Digest>,
    report: &mut Report,
) {
    let mut by_seq: BTreeMap<u64, Vec<(&Line, u64)>> = BTreeMap::new();
    for (line, number) in chain.numbered() {
        by_seq
            .entry(line.entry.seq)
            .or_default()
            .push((line, number));
    }
    let own = source.own.is_some() && source.own == chain.author && !chain.file.contains(".other");
    let mut next = 0;
    let mut before: Vec<Digest> = vec![Digest::ZERO];
    let mut last: Option<&Line> = None;
    for (seq, lines) in &by_seq {
        if let [first, .., last] = lines.as_slice() {
            report.push(context.during(first.0).on(Row::new(
                "two_lines_one_number",
                &chain.place(last.1),
                format!("line {} of this chain was written twice with different content: one of the two was made later to replace the other", seq + 1),
                "ask the author; both are kept, and whoever was given one of them earlier can say which",
            )));
        }
        if *seq == next {
            for (line, number) in lines {
                let after_unsigned = before.iter().any(|digest| unsigned.contains(digest));
                if !before.contains(&line.entry.prev) && !after_unsigned {
                    report.push(context.during(line).on(Row::new(
                        "broken_link",
                        &chain.place(*number),
                        format!("line {number} does not follow from the line before it"),
                        FROM_COPY,
                    )));
                }
            }
        } else {
            let after = lines.first().map(|(line, _)| *line);
            let about = context.lost(after.map(|line| line.entry.prev), last, after);
            let damaged = !chain.damaged.is_empty();
            // For people lines count from 1; `seq` counts from 0.
            let lines_word = if seq - next == 1 {
                format!("line {seq} is")
            } else {
                format!("lines {} to {seq} are", next + 1)
            };
            if own && !damaged {
                report.push(about.on(Row::new(
                    "missing",
                    &chain.file,
                    format!("{lines_word} gone from this chain"),
                    FROM_COPY,
                )));
            } else if !damaged {
                report.push(about.on(Row::new(
                    "gap",
                    &chain.file,
                    format!("{lines_word} not in what was handed over"),
                    "nothing, unless you need them: ask for the whole history",
                )));
            }
        }
        next = seq + 1;
        before = lines.iter().map(|(line, _)| line.digest).collect();
        last = lines.last().map(|(line, _)| *line);
    }
}

/// A line that once stood last must still be there: else the tail was cut.
fn tail(chain: &Chain, source: &Source<'_>, context: &Context<'_>, report: &mut Report) {
    let Some(lasts) = source.remembered.get(&chain.file) else {
        return;
    };
    if !chain.damaged.is_empty() {
        return;
    }
    for last in lasts {
        if chain.lines().all(|line| line.digest != *last) {
            let end = chain.lines.last().map(|(_, line)| line);
            report.push(context.lost(Some(*last), end, None).on(Row::new(
                "cut_tail",
                &chain.file,
                format!(
                    "line {} once stood last in this chain, and is gone with all that stood between",
                    last.short()
                ),
                FROM_COPY,
            )));
        }
    }
}

/// Chains that were here and whose file is gone.
pub fn gone(chains: &[Chain], source: &Source<'_>, context: &Context<'_>, report: &mut Report) {
    let here: BTreeSet<&str> = chains.iter().map(|chain| chain.file.as_str()).collect();
    for (file, lasts) in &source.remembered {
        if !here.contains(file.as_str()) {
            let about = context.lost(lasts.first().copied(), None, None);
            report.push(about.on(Row::new(
                "missing",
                file,
                "this chain was here and its whole file is gone",
                FROM_COPY,
            )));
        }
    }
}

fn clocks(chain: &Chain, context: &Context<'_>, report: &mut Report) {
    let by_digest: BTreeMap<Digest, &Line> =
        chain.lines().map(|line| (line.digest, line)).collect();
    let mut given = (0u64, 0u64);
    for (line, number) in chain.numbered() {
        if !line.entry.system_clock {
            given.0 += 1;
            given.1 = number;
        }
        if let Some(before) = by_digest.get(&line.entry.prev)
            && line.entry.at.instant() < before.entry.at.instant()
        {
            report.push(context.about(line).on(Row::new(
                "clock_order",
                &chain.place(number),
                format!("line {number} says it was written at {}, before the line in front of it ({})", line.entry.at, before.entry.at),
                "nothing; a device's clock was set back, or was wrong: the order of the lines holds",
            )));
        }
    }
    if given.0 > 0 {
        report.add(
            "clock_order",
            &chain.place(given.1),
            format!(
                "{} lines were written with a clock that was handed in, not the device's own",
                given.0
            ),
            "do not rely on their times of writing",
        );
    }
}

fn unfinished(chain: &Chain, context: &Context<'_>, report: &mut Report) {
    let finished: BTreeSet<Digest> = chain
        .lines()
        .filter_map(|line| match &line.entry.body {
            Body::WalkaroundFinished(finish) => Some(finish.walkaround),
            _ => None,
        })
        .collect();
    for (line, number) in chain.numbered() {
        if matches!(line.entry.body, Body::WalkaroundStarted(_)) && !finished.contains(&line.digest)
        {
            report.push(context.about(line).on(Row::new(
                "unfinished",
                &chain.place(number),
                "this walkaround was started and not finished: no proof code covers it yet",
                "finish it: witnessmark walkaround finish",
            )));
        }
    }
}
