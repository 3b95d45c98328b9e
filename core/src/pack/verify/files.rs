//! Originals and slips: every file that a line cites, and every file that none does.

use super::chains::Chain;
use super::context::{About, Context};
use super::{Report, Row, Source, Status};
use crate::error::{Error, Result};
use crate::evidence::Media;
use crate::pack::members::{Limits, Member};
use crate::record::kinds::TimestampReceived;
use crate::record::{Body, Digest, Line};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::io::Read;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Digest that a stored file's name states, if it stands where it should.
pub fn stated(rest: &str) -> Option<Digest> {
    let (folder, file) = rest.split_once('/')?;
    let (stem, extension) = file
        .split_once('.')
        .map_or((file, None), |(s, e)| (s, Some(e)));
    let digest: Digest = stem.parse().ok()?;
    // The closed table of media, and what the program itself keeps: data files, replies, slips.
    let known = extension.is_none_or(|e| {
        matches!(e, "toml" | "tsr" | "json")
            || Media::from_extension(e).is_some_and(|media| media.extension() == e)
    });
    (digest.hex().get(..2) == Some(folder) && known).then_some(digest)
}

struct Wanted {
    file: String,
    about: About,
    author: Digest,
    what: &'static str,
}

/// Everything below `evidence/` and `slips/`.
pub fn check(
    source: &Source<'_>,
    chains: &[Chain],
    context: &Context<'_>,
    limits: &Limits,
    report: &mut Report,
) -> Result<()> {
    let mut removed: BTreeMap<Digest, String> = BTreeMap::new();
    let mut wanted: BTreeMap<Digest, Wanted> = BTreeMap::new();
    let mut slips: BTreeMap<Digest, Wanted> = BTreeMap::new();
    for chain in chains {
        for (line, number) in chain.numbered() {
            if let Body::Removed(gone) = &line.entry.body {
                removed.insert(gone.file, gone.why.clone());
                continue;
            }
            for (role, digest) in Context::cited(line) {
                let target = match role.as_str() {
                    "file" | "conditions" => &mut wanted,
                    "who" | "position" => &mut slips,
                    _ => continue,
                };
                target.entry(digest).or_insert_with(|| Wanted {
                    file: format!("{}:{number}", chain.file),
                    about: context.about(line),
                    author: line.entry.author,
                    what: word(line, &role),
                });
            }
        }
    }
    let mut captures: BTreeMap<Digest, u32> = BTreeMap::new();
    for line in chains.iter().flat_map(Chain::lines) {
        let file = match &line.entry.body {
            Body::PhotoTaken(body) => body.file,
            Body::VoiceTaken(body) => body.file,
            Body::PaperTaken(body) => body.file,
            _ => continue,
        };
        *captures.entry(file).or_default() += 1;
    }
    let here = present(source, "evidence/", report);
    let slips_here = present(source, "slips/", report);
    let whole = whole(source, here.iter().chain(&slips_here), limits.threads);
    for (digest, want) in &wanted {
        match here.get(digest) {
            Some(member) => {
                one(&whole, digest, member, want, report);
                if let Some(why) = removed.get(digest)
                    && captures.get(digest).is_none_or(|count| *count < 2)
                {
                    report.push(want.about.on(Row::new(
                        "stray",
                        &member.name,
                        format!(
                            "{} was removed by its author ({why}) and its bytes are still here",
                            want.what
                        ),
                        "delete it: witnessmark remove EVIDENCE",
                    )));
                }
            }
            None => absent(source, digest, want, &removed, report),
        }
    }
    for (digest, want) in &slips {
        match slips_here.get(digest) {
            Some(member) => one(&whole, digest, member, want, report),
            None => absent(source, digest, want, &removed, report),
        }
    }
    for (digest, member) in here
        .iter()
        .filter(|(digest, _)| !wanted.contains_key(digest))
    {
        let why = if removed.contains_key(digest) {
            "its removal was recorded, and it is still here"
        } else {
            "no line is about it: its capture was cut short, or its line is gone"
        };
        report.add(
            "stray",
            &member.name,
            format!(
                "an original of {} byte{}; {why}",
                member.len,
                if member.len == 1 { "" } else { "s" }
            ),
            "take it in again, or delete it if you know what it is",
        );
        // A stray is checked all the same: its name promises its content.
        if !removed.contains_key(digest) && !whole.contains(digest) {
            report.add(
                "altered",
                &member.name,
                "a file whose bytes are not what its name says",
                "take it back from a backup; no line is about it",
            );
        }
    }
    for (_, member) in slips_here
        .iter()
        .filter(|(digest, _)| !slips.contains_key(digest))
    {
        // The slip with which a notebook is made is cited by its first line only.
        report.add(
            "stray",
            &member.name,
            "a slip that no line cites yet",
            "nothing",
        );
    }
    timestamps(source, chains, &here, context, limits, report);
    Ok(())
}

fn word(line: &Line, role: &str) -> &'static str {
    match (&line.entry.body, role) {
        (_, "who") => "the slip with the author's name",
        (_, "position") => "the slip with a position",
        (_, "conditions") => "the file of conditions in use",
        (Body::PhotoTaken(_), _) => "a photo",
        (Body::VoiceTaken(_), _) => "a recording",
        (Body::PaperTaken(_), _) => "a paper",
        (Body::LayoutChosen(_), _) => "the layout in use",
        (Body::TimestampReceived(_), _) => "the reply of a time-stamping authority",
        _ => "a file",
    }
}

fn present<'a>(
    source: &Source<'a>,
    folder: &str,
    report: &mut Report,
) -> BTreeMap<Digest, &'a Member> {
    let base = format!("{}{folder}", source.prefix);
    let mut out = BTreeMap::new();
    for member in source.members.list() {
        let Some(rest) = member.name.strip_prefix(&base) else {
            continue;
        };
        match stated(rest) {
            Some(digest) => {
                if let Some(other) = out.insert(digest, member) {
                    let other: &Member = other;
                    report.add(
                        "stray",
                        &other.name,
                        "the same original under a second name",
                        "delete one of the two",
                    );
                }
            }
            None => report.add(
                "stray",
                &member.name,
                "a file whose name is not the digest of an original",
                "look at what it is",
            ),
        }
    }
    out
}

/// The digests whose files are what their names say. Large files first, so that no thread is left with
/// one of them at the end; what comes out does not depend on how many threads there are.
fn whole<'a>(
    source: &Source<'_>,
    files: impl Iterator<Item = (&'a Digest, &'a &'a Member)>,
    threads: usize,
) -> BTreeSet<Digest> {
    let mut files: Vec<(Digest, &Member)> = files.map(|(digest, file)| (*digest, *file)).collect();
    files.sort_by_key(|(_, member)| std::cmp::Reverse(member.len));
    let next = AtomicUsize::new(0);
    let work = || {
        let mut good = Vec::new();
        while let Some((digest, member)) = files.get(next.fetch_add(1, Ordering::Relaxed)) {
            if holds(source, digest, member) {
                good.push(*digest);
            }
        }
        good
    };
    let mut good = BTreeSet::new();
    std::thread::scope(|scope| {
        let others: Vec<_> = (1..threads.min(files.len()))
            .map(|_| std::thread::Builder::new().spawn_scoped(scope, work))
            .collect();
        good.extend(work());
        // Where a thread could not be had, the others did its part.
        for other in others.into_iter().flatten() {
            match other.join() {
                Ok(found) => good.extend(found),
                Err(panic) => std::panic::resume_unwind(panic),
            }
        }
    });
    good
}

fn holds(source: &Source<'_>, digest: &Digest, member: &Member) -> bool {
    // Twice: a bad cable is not a damaged original.
    (0..2).any(|_| digest_of(source, member).is_ok_and(|found| found == *digest))
}

fn digest_of(source: &Source<'_>, member: &Member) -> Result<Digest> {
    let mut file = source.members.open(&member.name)?;
    let mut hash = Sha256::new();
    let mut buffer = vec![0u8; 256 * 1024];
    loop {
        let n = match file.read(&mut buffer) {
            Ok(n) => n,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(Error::io(&error, &member.name)),
        };
        match buffer.get(..n) {
            Some(chunk) if n > 0 => hash.update(chunk),
            _ => return Ok(Digest(hash.finalize().into())),
        }
    }
}

fn one(
    whole: &BTreeSet<Digest>,
    digest: &Digest,
    member: &Member,
    want: &Wanted,
    report: &mut Report,
) {
    if whole.contains(digest) {
        report.files += 1;
        return;
    }
    report.push(want.about.on(Row::new(
        "altered",
        &member.name,
        format!(
            "{} is not as it was recorded: its bytes were changed, or the medium is failing",
            want.what
        ),
        "take this file back from a backup or from whoever has the pack; the rest is not touched",
    )));
}

fn absent(
    source: &Source<'_>,
    digest: &Digest,
    want: &Wanted,
    removed: &BTreeMap<Digest, String>,
    report: &mut Report,
) {
    let withheld = source.withheld.iter().find(|(d, _)| d == digest);
    let row = if let Some(why) = removed.get(digest) {
        Row::new(
            "removed",
            &want.file,
            format!("{} was removed on purpose: {why}", want.what),
            "nothing",
        )
    } else if source.own == Some(want.author) || source.was_here.contains(digest) {
        Row::new(
            "missing",
            &want.file,
            format!("{} was here and is gone ({})", want.what, digest.short()),
            "take it back from a backup or from whoever has the pack",
        )
    } else if let Some((_, why)) = withheld {
        Row::new(
            "withheld",
            &want.file,
            format!("{} was left out by the packer: {why}", want.what),
            "nothing",
        )
    } else {
        Row::new(
            "not_handed_over",
            &want.file,
            format!("{} was never handed over ({})", want.what, digest.short()),
            "ask its author for it if you need it",
        )
    };
    report.push(want.about.on(row));
}

fn timestamps(
    source: &Source<'_>,
    chains: &[Chain],
    here: &BTreeMap<Digest, &Member>,
    context: &Context<'_>,
    limits: &Limits,
    report: &mut Report,
) {
    let lines: BTreeSet<Digest> = chains
        .iter()
        .flat_map(Chain::lines)
        .map(|line| line.digest)
        .collect();
    for chain in chains {
        for line in chain.lines() {
            let Body::TimestampReceived(stamp) = &line.entry.body else {
                continue;
            };
            let Some(member) = here.get(&stamp.file) else {
                continue;
            };
            // Twice before it is called damage, like everything else.
            let mut row = stamped(source, member, stamp, &lines, limits);
            if row.status == Status::Failure {
                row = stamped(source, member, stamp, &lines, limits);
            }
            report.push(context.of_digest(stamp.finish).on(row));
        }
    }
}

/// What one reply says.
fn stamped(
    source: &Source<'_>,
    member: &Member,
    stamp: &TimestampReceived,
    lines: &BTreeSet<Digest>,
    limits: &Limits,
) -> Row {
    const AGAIN: &str = "ask the authority again: witnessmark timestamp request";
    let bad = |what: String| Row::new("bad_timestamp", &member.name, what, AGAIN);
    let reply = source
        .members
        .read(&member.name, limits.text)
        .and_then(|bytes| crate::record::proof::timestamp::Reply::parse(&bytes));
    match reply {
        Ok(reply) if reply.imprint != stamp.finish => bad(
            "the time stamp was given for another line than the one it is recorded for".to_owned(),
        ),
        Ok(reply) if reply.time != stamp.time => bad(format!(
            "the time stamp says {}, its entry says {}",
            reply.time, stamp.time
        )),
        Ok(_) if !lines.contains(&stamp.finish) => Row::new(
            "gap",
            &member.name,
            "the finish that this time stamp is for is not here",
            "ask for the whole history",
        ),
        Ok(reply) => Row::new(
            "not_checked",
            &member.name,
            format!(
                "the time stamp of {} is for this finish; the authority's signature was not checked here",
                reply.time
            ),
            "openssl ts -verify checks it against the authority's certificate",
        ),
        Err(error) => bad(format!("the time stamp cannot be read: {}", error.what)),
    }
}
