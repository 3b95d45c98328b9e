//! Receives a pack: everything is verified before a byte is written, then what is new is added.
//! Union, so that any order and any number of times give the same notebook.

use super::bag::{self, Rules};
use super::manifest;
use super::members::{self, Limits, Members};
use super::packer::{LeftOut, PackerSeal, Withheld, sealed};
use super::strip;
use super::verify::{self, Proofs, Report, Source, Status};
use crate::error::{Error, ErrorKind, Result};
use crate::evidence::{examine, store};
use crate::record::{Body, Digest, FORMAT, LINE_LIMIT, Line, chain, key};
use crate::world::{Access, World, below};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

mod payload;
mod plan;

/// What came of it.
#[derive(Debug, Clone, Default, Serialize)]
pub struct Outcome {
    /// Everything that was found.
    #[serde(flatten)]
    pub report: Report,
    /// True if nothing was taken in because of a failure.
    pub refused: bool,
    /// Packer's key, where the pack is signed.
    pub packer: Option<Digest>,
    /// Lines that are new here.
    pub lines: u64,
    /// Lines that were here already.
    pub known: u64,
    /// Original files that are new here.
    pub new_files: u64,
    /// Slips that are new here.
    pub slips: u64,
    /// True if this was only a look.
    pub dry_run: bool,
    /// The key that begins, where lines under this notebook's own key came back that it never wrote.
    pub new_key: Option<Digest>,
}

/// Failures that are shown but do not keep a pack out: they are findings about somebody's chain, and
/// the pack is the proof.
const SHOWN: [&str; 2] = ["two_lines_one_number", "not_as_vouched"];

/// A pack that has been judged.
pub struct Judged<'a> {
    members: Box<dyn Members + 'a>,
    /// Where the record is in it.
    prefix: &'static str,
    /// Rows, packer.
    pub outcome: Outcome,
    seal: Option<Digest>,
    withheld: Withheld,
}

/// Judges a pack, or any bag, without a notebook: what `verify PACK` does.
///
/// # Errors
/// What must not even be read: links, lying zips, names that leave the folder, limits.
pub fn judge(world: &World, path: &Path, for_receiving: bool) -> Result<Judged<'static>> {
    let limits = Limits::default();
    let members = members::open(&world.files, path, &limits)?;
    let ours = members
        .list()
        .iter()
        .any(|m| m.name.starts_with("data/record/"))
        || members.len_of("packer.json").is_some();
    let mut outcome = Outcome::default();
    let strict = for_receiving || ours;
    if strict {
        members::check_names(members.as_ref())?;
    }
    let rules = if strict { Rules::Pack } else { Rules::Any };
    let bag = bag::check(members.as_ref(), rules, &limits)?;
    verify::bag_rows(&bag, &mut outcome.report);
    let mut judged = Judged {
        members,
        prefix: "data/",
        outcome,
        seal: bag.seal,
        withheld: Withheld::default(),
    };
    if strict && bag.is_valid() {
        judged.format(&limits)?;
        judged.packer(&limits);
        judged.record(&limits)?;
    } else if !strict {
        judged.outcome.report.files = bag.digests.len() as u64;
    }
    let report = &mut judged.outcome.report;
    report.worth = crate::record::proof::WORTH;
    report.sort();
    judged.outcome.refused = refuses(report);
    Ok(judged)
}

impl Judged<'_> {
    /// A newer format is refused before its lines are judged by rules that may have changed.
    fn format(&mut self, limits: &Limits) -> Result<()> {
        if self.members.len_of("bag-info.txt").is_none() {
            self.unstated();
            return Ok(());
        }
        let bytes = self.members.read("bag-info.txt", limits.text)?;
        let text = String::from_utf8_lossy(&bytes);
        let mut stated = false;
        let elements = manifest::bag_info(&text, manifest::Version::ONE).unwrap_or_default();
        for (_, value) in elements
            .iter()
            .filter(|(label, _)| label.eq_ignore_ascii_case("Witnessmark-Format"))
        {
            stated = true;
            match value.parse::<u32>() {
                Ok(format) if format > FORMAT => {
                    return Err(Error::new(
                        ErrorKind::Newer,
                        format!("this pack has format {format}; this program knows up to {FORMAT}"),
                    )
                    .at(self.members.place())
                    .hint("use a newer witnessmark; nothing was taken in"));
                }
                Ok(_) => {}
                Err(_) => {
                    return Err(
                        Error::new(ErrorKind::BadFormat, "the pack's format is no number")
                            .at("bag-info.txt")
                            .hint("ask whoever made the pack to make it again"),
                    );
                }
            }
        }
        if !stated {
            self.unstated();
        }
        Ok(())
    }

    /// Judged by the rules of this program's format: whatever does not fit them is refused anyway.
    fn unstated(&mut self) {
        self.outcome.report.add(
            "not_checked",
            "bag-info.txt",
            format!("the pack does not say in which format it is; it was read as format {FORMAT}"),
            "ask who made it with which program, if anything looks strange",
        );
    }

    fn packer(&mut self, limits: &Limits) {
        let ask = "ask whoever made the pack to make it again";
        if self.members.len_of("packer.json").is_none() {
            self.outcome.report.add(
                "bad_manifest",
                "packer.json",
                "nobody has signed this pack: its lists could have been written anew",
                ask,
            );
            return;
        }
        let read = self
            .members
            .read("packer.json", limits.text)
            .and_then(|bytes| {
                crate::record::canonical::parse_canonical(&bytes).and_then(|value| {
                    serde_json::from_value::<PackerSeal>(value)
                        .map_err(|e| Error::new(ErrorKind::BadFormat, e.to_string()))
                })
            });
        let seal = match read {
            Ok(seal) => seal,
            Err(error) => {
                let what = format!("the packer's signature cannot be read: {}", error.what);
                self.outcome
                    .report
                    .add("bad_manifest", "packer.json", what, ask);
                return;
            }
        };
        let signature: Option<[u8; 64]> = data_encoding::HEXLOWER
            .decode(seal.sig.as_bytes())
            .ok()
            .and_then(|b| b.try_into().ok());
        let holds = Some(seal.bag) == self.seal
            && signature.is_some_and(|sig| {
                sealed(&seal.bag, &seal.packer)
                    .is_ok_and(|bytes| key::verify(&seal.packer, &bytes, &sig))
            });
        if holds {
            self.outcome.packer = Some(seal.packer);
        } else {
            self.outcome.report.add(
                "bad_signature",
                "packer.json",
                "the packer did not sign this pack as it is: something was changed after packing",
                ask,
            );
        }
    }

    fn record(&mut self, limits: &Limits) -> Result<()> {
        let name = "data/withheld.json";
        if self.members.len_of(name).is_some() {
            let bytes = self.members.read(name, limits.manifest)?;
            match serde_json::from_slice(&bytes) {
                Ok(withheld) => self.withheld = withheld,
                Err(error) => self.outcome.report.add(
                    "bad_manifest",
                    name,
                    format!("the list of what was left out cannot be read: {error}"),
                    "ask whoever made the pack to make it again",
                ),
            }
        }
        let source = Source {
            members: self.members.as_ref(),
            prefix: self.prefix,
            own: None,
            was_here: BTreeSet::new(),
            remembered: Default::default(),
            withheld: self
                .withheld
                .files
                .iter()
                .map(|left| (left.file, why_left(&left.why, left.copy.as_deref())))
                .collect(),
        };
        let found = verify::verify(&source, limits)?;
        let report = &mut self.outcome.report;
        report.rows.extend(found.rows);
        report.chains = found.chains;
        report.lines = found.lines;
        report.files = found.files;
        report.finishes = found.finishes;
        report.vouched = found.vouched;
        if report.lines == 0 {
            report.add(
                "bad_manifest",
                "data/record/",
                "there is no record in it",
                "ask whoever made the pack to make it again",
            );
        }
        self.copies(limits)?;
        self.others();
        Ok(())
    }

    /// Without a list of what was left out, a copy without its original says so itself.
    fn copies_stand_for(&mut self) {
        let originals: BTreeSet<Digest> = self
            .members
            .list()
            .iter()
            .filter_map(|m| verify::stated(m.name.strip_prefix("data/evidence/")?))
            .collect();
        for member in self.members.list() {
            let file = member
                .name
                .strip_prefix("data/copies/")
                .and_then(|name| name.split_once('.'))
                .filter(|(_, extension)| strip::EXTENSIONS.contains(extension))
                .and_then(|(name, _)| name.parse::<Digest>().ok());
            if let Some(file) = file.filter(|file| !originals.contains(file)) {
                self.withheld.files.push(LeftOut {
                    file,
                    why: "location".into(),
                    copy: Some(member.name.clone()),
                });
            }
        }
    }

    /// Copies without position must show the very picture that was recorded.
    fn copies(&mut self, limits: &Limits) -> Result<()> {
        let mut pictures: BTreeMap<Digest, Digest> = BTreeMap::new();
        for (_, _, line) in self.lines(limits)? {
            let (file, picture) = match &line.entry.body {
                Body::PhotoTaken(photo) => (photo.file, photo.picture),
                Body::PaperTaken(paper) => (paper.file, paper.picture),
                _ => continue,
            };
            if let Some(picture) = picture {
                pictures.insert(file, picture);
            }
        }
        for left in &self.withheld.files {
            let Some(copy) = &left.copy else { continue };
            let extension = strip::EXTENSIONS
                .into_iter()
                .find(|extension| *copy == format!("data/copies/{}.{extension}", left.file));
            let Some(extension) = extension.filter(|_| self.members.len_of(copy).is_some()) else {
                self.outcome.report.add(
                    "bad_manifest",
                    "data/withheld.json",
                    format!("it names a copy that is not there: {}", copy.escape_debug()),
                    "ask whoever made the pack to make it again",
                );
                continue;
            };
            let bytes = self.members.read(copy, store::PHOTO_LIMIT)?;
            let length = bytes.len() as u64;
            let shown = examine(&mut std::io::Cursor::new(bytes), length, copy)?;
            let recorded = pictures.get(&left.file).map(Digest::hex);
            let proven = shown.picture.is_some() && shown.picture == recorded;
            if recorded.is_none() && extension != "jpg" && shown.media.extension() == extension {
                self.outcome.report.add(
                    "not_checked",
                    copy,
                    "a copy without the position, on the packer's word: for this format nothing proves that it shows the picture that was recorded",
                    "ask its author for the original if it matters",
                );
            } else if !proven {
                self.outcome.report.add(
                    "altered",
                    copy,
                    "this copy does not show the picture that was recorded",
                    "ask whoever made the pack to make it again",
                );
            }
        }
        Ok(())
    }

    /// Everything else in the payload is named and left out.
    fn others(&mut self) {
        let names: BTreeSet<&str> = self
            .members
            .list()
            .iter()
            .map(|member| member.name.as_str())
            .collect();
        let copies: BTreeSet<&str> = self
            .withheld
            .files
            .iter()
            .filter_map(|left| left.copy.as_deref())
            .collect();
        // What verifying has named already (records, originals, slips) is not named again.
        let belongs = |name: &str| {
            if let Some(rest) = name.strip_prefix("data/proofs/") {
                return rest
                    .strip_suffix(".json")
                    .and_then(|stem| stem.split_once('-'))
                    .is_some_and(|(aircraft, author)| {
                        names.contains(format!("data/record/{aircraft}/{author}.jsonl").as_str())
                    });
            }
            matches!(name, "data/withheld.json" | "data/report/index.html")
                || copies.contains(name)
                || name.starts_with("data/record/") && !name.starts_with("data/record/loose/")
                || name.starts_with("data/evidence/")
                || name.starts_with("data/slips/")
        };
        let strange: Vec<String> = names
            .iter()
            .filter(|name| name.starts_with("data/") && !belongs(name))
            .map(|name| (*name).to_owned())
            .collect();
        for name in strange {
            let what = if name.starts_with("data/record/loose/") {
                "captures of no aircraft are never handed over; they are not taken in"
            } else {
                "a file that belongs to no record; it is not taken in"
            };
            self.outcome.report.add(
                "stray",
                &name,
                what,
                "look at it in the pack if you want it",
            );
        }
    }

    /// Every line with its aircraft and author, as far as it stands where it should.
    fn lines(&self, _limits: &Limits) -> Result<Vec<(Digest, Digest, Line)>> {
        let mut out = Vec::new();
        for member in self.members.list() {
            let Some((folder, file)) = member
                .name
                .strip_prefix("data/record/")
                .and_then(|rest| rest.split_once('/'))
            else {
                continue;
            };
            let (Ok(aircraft), Some(Ok(author))) = (
                folder.parse::<Digest>(),
                file.strip_suffix(".jsonl").map(str::parse::<Digest>),
            ) else {
                continue;
            };
            let stretch = chain::split(&self.members.read(&member.name, verify::RECORD_LIMIT)?, 0);
            for (_, line) in stretch.lines {
                if line.aircraft() == aircraft
                    && line.entry.author == author
                    && aircraft != Digest::ZERO
                {
                    out.push((aircraft, author, line));
                }
            }
        }
        Ok(out)
    }
}

/// Receives a pack into the notebook at `root`, whose author is `own`. The caller holds the writer's
/// lock and lets the index follow afterwards.
///
/// # Errors
/// As [`judge`], and what the machine says while writing: what was written by then is whole, and
/// receiving once more completes it.
pub fn receive(
    world: &World,
    root: &Path,
    own: Digest,
    path: &Path,
    dry_run: bool,
) -> Result<Outcome> {
    let mut judged = judge(world, path, true)?;
    judged.outcome.dry_run = dry_run;
    if judged.outcome.refused {
        return Ok(judged.outcome);
    }
    take(
        world,
        root,
        own,
        judged,
        dry_run,
        &path.display().to_string(),
    )
}

/// Takes in what lies in `members` in the shape of a pack's payload, without a bag around it: every
/// line and original is judged all the same.
pub(crate) fn take_members<'a>(
    world: &World,
    root: &Path,
    own: Digest,
    members: Box<dyn Members + 'a>,
    from: &str,
) -> Result<Outcome> {
    take_payload(world, root, own, members, from, false)
}

fn take_payload<'a>(
    world: &World,
    root: &Path,
    own: Digest,
    members: Box<dyn Members + 'a>,
    from: &str,
    dry_run: bool,
) -> Result<Outcome> {
    let mut judged = Judged {
        members,
        prefix: "data/",
        outcome: Outcome {
            dry_run,
            ..Outcome::default()
        },
        seal: None,
        withheld: Withheld::default(),
    };
    judged.copies_stand_for();
    judged.record(&Limits::default())?;
    let report = &mut judged.outcome.report;
    // Only lines make a record; a place may well hold none that is new.
    report.rows.retain(|row| row.code != "bad_manifest");
    report.worth = crate::record::proof::WORTH;
    judged.outcome.refused = refuses(report);
    if judged.outcome.refused {
        judged.outcome.report.sort();
        return Ok(judged.outcome);
    }
    take(world, root, own, judged, dry_run, from)
}

/// Receives another notebook's folder, or a restored backup: its chains, originals, slips, proofs
/// and copies, judged as a pack's are.
///
/// # Errors
/// As [`receive`].
pub fn receive_notebook(
    world: &World,
    root: &Path,
    own: Digest,
    folder: &Path,
    dry_run: bool,
) -> Result<Outcome> {
    let payload = payload::Payload::of(world, folder)?;
    let from = folder.display().to_string();
    take_payload(world, root, own, Box::new(payload), &from, dry_run)
}

fn refuses(report: &Report) -> bool {
    report
        .rows
        .iter()
        .any(|row| row.status == Status::Failure && !SHOWN.contains(&row.code))
}

fn take(
    world: &World,
    root: &Path,
    own: Digest,
    mut judged: Judged<'_>,
    dry_run: bool,
    from: &str,
) -> Result<Outcome> {
    let limits = Limits::default();
    let plan = plan::Plan::make(world, root, own, &mut judged, &limits)?;
    if !dry_run {
        plan.carry_out(world, root, &judged, from)?;
    }
    judged.outcome.report.sort();
    Ok(judged.outcome)
}

/// `received.jsonl`: local, unsigned; what tells "was here and is gone" from "never came".
pub(crate) fn remember(
    world: &World,
    root: &Path,
    seal: Option<Digest>,
    packer: Option<Digest>,
    from: &str,
    came: &[Digest],
    withheld: &[LeftOut],
) -> Result<()> {
    let at = crate::record::At::from_clock(world.clock.now()).to_string();
    let mut text = Vec::new();
    let mut line = |value: serde_json::Value| -> Result<()> {
        text.extend(crate::record::canonical::to_bytes(&value)?);
        text.push(b'\n');
        Ok(())
    };
    line(serde_json::json!({ "at": at, "bag": seal, "from": from, "packer": packer }))?;
    for digest in came {
        line(serde_json::json!({ "bag": seal, "file": digest }))?;
    }
    for left in withheld {
        line(serde_json::json!({ "bag": seal, "why": left.why, "withheld": left.file }))?;
    }
    let path = root.join("received.jsonl");
    let io = |error: std::io::Error| Error::io(&error, path.display());
    let mut out = world.files.append(&path, Access::Owner).map_err(io)?;
    out.write_all(&text).map_err(io)?;
    out.sync().map_err(io)
}

/// Digests of files that once came in with a pack.
pub fn came_in(world: &World, root: &Path) -> BTreeSet<Digest> {
    remembered(world, root)
        .filter_map(|value| value.get("file")?.as_str()?.parse().ok())
        .collect()
}

/// Digests of files that whoever packed them left out on purpose, and why.
pub fn left_out(world: &World, root: &Path) -> BTreeMap<Digest, String> {
    remembered(world, root)
        .filter_map(|value| {
            let file: Digest = value.get("withheld")?.as_str()?.parse().ok()?;
            let copy = copy_of(world, root, &file).ok().flatten();
            let name = copy.map(|path| path.display().to_string());
            let why = value.get("why")?.as_str()?;
            Some((file, why_left(why, name.as_deref())))
        })
        .collect()
}

fn remembered(world: &World, root: &Path) -> impl Iterator<Item = serde_json::Value> {
    let bytes = world
        .files
        .read(&root.join("received.jsonl"), 256 << 20)
        .unwrap_or_default();
    let values: Vec<serde_json::Value> = bytes
        .split(|b| *b == b'\n')
        .filter_map(|line| serde_json::from_slice(line).ok())
        .collect();
    values.into_iter()
}

fn slip_path(root: &Path, digest: &Digest) -> PathBuf {
    let hex = digest.hex();
    below(root, &["slips", hex.get(..2).unwrap_or("00")]).join(format!("{hex}.json"))
}

/// Where a copy without position is kept: beside the evidence, under the original's digest.
fn copy_path(root: &Path, digest: &Digest, extension: &str) -> PathBuf {
    below(root, &["copies"]).join(format!("{digest}.{extension}"))
}

/// The copy without position that is here for an original.
///
/// # Errors
/// Those of the machine.
pub fn copy_of(world: &World, root: &Path, digest: &Digest) -> Result<Option<PathBuf>> {
    for extension in strip::EXTENSIONS {
        let path = copy_path(root, digest, extension);
        if world.files.has(&path)? {
            return Ok(Some(path));
        }
    }
    Ok(None)
}

/// What a copy shows, for a person. `name` ends in its extension.
pub fn copy_words(name: &str) -> &'static str {
    if name.ends_with(".jpg") {
        "a copy without the position; the picture is the one recorded, its colour profile is not covered"
    } else {
        "a copy without the position, on the packer's word"
    }
}

/// Why something was left out, and what stands for it.
fn why_left(why: &str, copy: Option<&str>) -> String {
    match copy {
        Some(copy) => format!("{why}; in its place is {}", copy_words(copy)),
        None if why == "location" => {
            format!("{why}; it is left out whole where it cannot be cleaned")
        }
        None => why.to_owned(),
    }
}

#[cfg(test)]
mod tests;
