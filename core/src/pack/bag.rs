//! Judges a bag: is every file there, and is every byte what the manifests say (RFC 8493 section 3)?
//!
//! Two sets of rules: [`Rules::Any`] for bags of whoever made them, in every published version from
//! 0.93 on; [`Rules::Pack`] for what is to be received, which must be BagIt 1.0 with SHA-256, without
//! fetch.txt and without anything that is merely tolerated. MD5 and SHA-1 are known to the first
//! only: both can be forged.

use super::manifest::{self, Encoding, Listed, Version};
use super::members::{Limits, Members};
use super::names;
use crate::error::{Error, Result};
use crate::record::Digest;
use sha2::Digest as _;
use std::collections::{BTreeMap, HashMap};
use std::io::Read;

/// By which rules.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Rules {
    /// Any bag.
    Any,
    /// A pack to be received.
    Pack,
}

/// What kind of fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaultKind {
    /// Bytes are not those of the manifest.
    Altered,
    /// Listed and not there.
    Missing,
    /// There and not listed.
    Extra,
    /// A name that must not be followed, or two for one file.
    Name,
    /// A text of the bag that cannot be read, or a rule of BagIt broken.
    Manifest,
    /// Allowed, but worth knowing.
    Odd,
}

/// One fault.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Kind; all but `Odd` make the bag invalid.
    pub kind: FaultKind,
    /// File that it is about.
    pub file: String,
    /// In words.
    pub what: String,
}

/// What was found.
#[derive(Debug, Clone, Default)]
pub struct BagReport {
    /// Faults in the order met.
    pub faults: Vec<Fault>,
    /// SHA-256 of every payload file by its manifest, where there is such a manifest.
    pub digests: BTreeMap<String, Digest>,
    /// SHA-256 of `tagmanifest-sha256.txt`, which a packer signs.
    pub seal: Option<Digest>,
    /// True if the bag's own payload manifests use SHA-256.
    pub sha256: bool,
}

impl BagReport {
    /// True without any fault but oddities.
    pub fn is_valid(&self) -> bool {
        self.faults.iter().all(|fault| fault.kind == FaultKind::Odd)
    }

    fn add(&mut self, kind: FaultKind, file: &str, what: impl Into<String>) {
        // Hostile manifests can be wrong a million times; the first thousand tell enough.
        if self.faults.len() < 1000 {
            self.faults.push(Fault {
                kind,
                file: file.escape_debug().to_string(),
                what: what.into(),
            });
        }
    }
}

/// Digest algorithms of manifests.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Algorithm {
    Md5,
    Sha1,
    Sha224,
    Sha256,
    Sha384,
    Sha512,
}

impl Algorithm {
    fn named(name: &str) -> Option<(Self, usize)> {
        Some(match name.to_ascii_lowercase().as_str() {
            "md5" => (Self::Md5, 32),
            "sha1" => (Self::Sha1, 40),
            "sha224" => (Self::Sha224, 56),
            "sha256" => (Self::Sha256, 64),
            "sha384" => (Self::Sha384, 96),
            "sha512" => (Self::Sha512, 128),
            _ => return None,
        })
    }
}

enum Hasher {
    Md5(md5::Md5),
    Sha1(sha1::Sha1),
    Sha224(sha2::Sha224),
    Sha256(sha2::Sha256),
    Sha384(sha2::Sha384),
    Sha512(Box<sha2::Sha512>),
}

impl Hasher {
    fn new(algorithm: Algorithm) -> Self {
        match algorithm {
            Algorithm::Md5 => Self::Md5(md5::Md5::new()),
            Algorithm::Sha1 => Self::Sha1(sha1::Sha1::new()),
            Algorithm::Sha224 => Self::Sha224(sha2::Sha224::new()),
            Algorithm::Sha256 => Self::Sha256(sha2::Sha256::new()),
            Algorithm::Sha384 => Self::Sha384(sha2::Sha384::new()),
            Algorithm::Sha512 => Self::Sha512(Box::new(sha2::Sha512::new())),
        }
    }
    fn update(&mut self, bytes: &[u8]) {
        match self {
            Self::Md5(h) => h.update(bytes),
            Self::Sha1(h) => h.update(bytes),
            Self::Sha224(h) => h.update(bytes),
            Self::Sha256(h) => h.update(bytes),
            Self::Sha384(h) => h.update(bytes),
            Self::Sha512(h) => h.update(bytes),
        }
    }
    fn hex(self) -> String {
        let hex = |bytes: &[u8]| data_encoding::HEXLOWER.encode(bytes);
        match self {
            Self::Md5(h) => hex(&h.finalize()),
            Self::Sha1(h) => hex(&h.finalize()),
            Self::Sha224(h) => hex(&h.finalize()),
            Self::Sha256(h) => hex(&h.finalize()),
            Self::Sha384(h) => hex(&h.finalize()),
            Self::Sha512(h) => hex(&h.finalize()),
        }
    }
}

/// What the manifests expect of one file.
type Expected = BTreeMap<String, BTreeMap<Algorithm, String>>;

/// Files that desktops make and delete by themselves; a bag that lists one may lose it.
fn of_the_system(path: &str) -> bool {
    let name = path.rsplit('/').next().unwrap_or(path);
    matches!(name, ".DS_Store" | "Thumbs.db" | "desktop.ini")
}

/// Reads every byte once and says what is wrong.
///
/// # Errors
/// Only what the machine says while listing; everything about the bag is in the report.
pub fn check(members: &dyn Members, rules: Rules, limits: &Limits) -> Result<BagReport> {
    let mut report = BagReport::default();
    let strict = rules == Rules::Pack;
    let declared = match members.len_of("bagit.txt") {
        None => {
            report.add(
                FaultKind::Manifest,
                "bagit.txt",
                "there is none: this is not a bag",
            );
            return Ok(report);
        }
        Some(_) => members.read("bagit.txt", limits.text),
    };
    let (version, encoding) = match declared
        .map_err(|error| error.what)
        .and_then(|bytes| manifest::declaration(&bytes))
    {
        Ok(both) => both,
        Err(what) => {
            report.add(FaultKind::Manifest, "bagit.txt", what);
            return Ok(report);
        }
    };
    if strict && (version, encoding) != (Version::ONE, Encoding::Utf8) {
        report.add(
            FaultKind::Manifest,
            "bagit.txt",
            "a pack must be BagIt 1.0 in UTF-8",
        );
        return Ok(report);
    }
    let mut gate = Gate {
        members,
        limits,
        version,
        encoding,
        rules,
        report,
        aliases: HashMap::new(),
        lost: 0,
    };
    for member in members.list() {
        gate.aliases
            .entry(names::folded(&member.name))
            .or_default()
            .push(member.name.clone());
    }
    let (payload, payload_sets) = gate.manifests("manifest-", true);
    let (tags, _) = gate.manifests("tagmanifest-", false);
    if payload_sets.is_empty() {
        gate.report.add(
            FaultKind::Manifest,
            "manifest-sha256.txt",
            "no manifest whose digests are known here",
        );
    }
    gate.completeness(&payload, &payload_sets, &tags);
    gate.fetch(&payload);
    if !strict || gate.report.is_valid() {
        gate.contents(&payload);
        gate.contents(&tags);
    }
    gate.oxum();
    Ok(gate.report)
}

struct Gate<'a> {
    members: &'a dyn Members,
    limits: &'a Limits,
    version: Version,
    encoding: Encoding,
    rules: Rules,
    report: BagReport,
    /// Folded name to the names that are there.
    aliases: HashMap<String, Vec<String>>,
    /// Listed files of the system that are gone.
    lost: u64,
}

impl Gate<'_> {
    fn strict(&self) -> bool {
        self.rules == Rules::Pack
    }

    fn odd(&mut self, file: &str, what: &str) {
        let kind = if self.strict() {
            FaultKind::Manifest
        } else {
            FaultKind::Odd
        };
        self.report.add(kind, file, what);
    }

    fn text(&mut self, name: &str, limit: u64) -> Option<String> {
        let read = self
            .members
            .read(name, limit)
            .map_err(|error| error.what)
            .and_then(|bytes| self.encoding.decode(&bytes));
        match read {
            Ok(text) => Some(text),
            Err(what) => {
                self.report.add(FaultKind::Manifest, name, what);
                None
            }
        }
    }

    /// Reads all manifests of one sort: what they expect, and which paths each lists.
    fn manifests(&mut self, prefix: &str, payload: bool) -> (Expected, Vec<(String, Vec<String>)>) {
        let mut expected = Expected::new();
        let mut sets = Vec::new();
        let names: Vec<String> = self
            .members
            .list()
            .iter()
            .map(|member| member.name.clone())
            .filter(|name| {
                name.starts_with(prefix) && name.ends_with(".txt") && !name.contains('/')
            })
            .collect();
        for name in names {
            let word = name
                .get(prefix.len()..name.len().saturating_sub(4))
                .unwrap_or_default();
            let Some((algorithm, hex)) = Algorithm::named(word) else {
                self.odd(
                    &name,
                    "its kind of digest is not known here; it was not checked",
                );
                continue;
            };
            if payload && algorithm == Algorithm::Sha256 {
                self.report.sha256 = true;
            }
            let Some(text) = self.text(&name, self.limits.manifest) else {
                continue;
            };
            match manifest::manifest(&text, hex) {
                Ok(listed) => {
                    let paths = self.take(&name, algorithm, listed, payload, &mut expected);
                    sets.push((name, paths));
                }
                Err(what) => self.report.add(FaultKind::Manifest, &name, what),
            }
        }
        (expected, sets)
    }

    fn take(
        &mut self,
        file: &str,
        algorithm: Algorithm,
        listed: Vec<Listed>,
        payload: bool,
        expected: &mut Expected,
    ) -> Vec<String> {
        let mut paths = Vec::with_capacity(listed.len());
        for line in listed {
            if let Some(why) = names::unsafe_path(&line.path) {
                self.report.add(
                    FaultKind::Name,
                    file,
                    format!("it lists {why}: \"{}\"", line.path.escape_debug()),
                );
                continue;
            }
            if payload != line.path.starts_with("data/") {
                let what = if payload {
                    "lies outside data/"
                } else {
                    "lies in data/"
                };
                self.report.add(
                    FaultKind::Name,
                    file,
                    format!("it lists \"{}\", which {what}", line.path),
                );
                continue;
            }
            if let Some(odd) = line.odd {
                self.odd(file, &format!("{odd}: \"{}\"", line.path));
            }
            if !payload && line.path.starts_with("tagmanifest-") {
                self.odd(file, "it lists a tag manifest");
            }
            let path = self.present_name(file, line.path);
            let of_path = expected.entry(path.clone()).or_default();
            match of_path.get(&algorithm) {
                Some(before) if *before != line.digest => {
                    self.report.add(
                        FaultKind::Manifest,
                        file,
                        format!("it lists \"{path}\" twice with different digests"),
                    );
                }
                Some(_) if self.version >= Version::ONE => self.report.add(
                    FaultKind::Manifest,
                    file,
                    format!("it lists \"{path}\" twice"),
                ),
                Some(_) => self.odd(file, &format!("it lists \"{path}\" twice")),
                None => {
                    of_path.insert(algorithm, line.digest);
                    paths.push(path);
                }
            }
        }
        paths
    }

    /// The name under which a listed file is there; another spelling of one file is odd.
    fn present_name(&mut self, file: &str, path: String) -> String {
        if self.strict() || self.members.len_of(&path).is_some() {
            return path;
        }
        let one = match self.aliases.get(&names::folded(&path)).map(Vec::as_slice) {
            Some([one]) => one.clone(),
            _ => return path,
        };
        self.odd(file, &format!("\"{path}\" is there as \"{one}\""));
        one
    }

    fn completeness(
        &mut self,
        payload: &Expected,
        sets: &[(String, Vec<String>)],
        tags: &Expected,
    ) {
        for path in payload.keys().chain(tags.keys()) {
            if self.members.len_of(path).is_some() {
                continue;
            }
            if !self.strict() && of_the_system(path) {
                self.lost += 1;
                self.odd(path, "a file of the desktop that is listed and gone");
            } else {
                self.report
                    .add(FaultKind::Missing, path, "it is listed and is not there");
            }
        }
        // From 1.0 on every manifest lists every payload file.
        if self.version >= Version::ONE {
            for (name, paths) in sets {
                if paths.len() != payload.len() {
                    self.report.add(
                        FaultKind::Manifest,
                        name,
                        "it does not list every file that another manifest lists",
                    );
                }
            }
        }
        for member in self.members.list() {
            let in_payload = member.name.starts_with("data/");
            if in_payload && !payload.contains_key(&member.name) {
                self.report
                    .add(FaultKind::Extra, &member.name, "no manifest lists it");
            }
            let loose = !in_payload
                && !tags.contains_key(&member.name)
                && !member.name.starts_with("tagmanifest-")
                && member.name != "packer.json";
            if self.strict() && loose {
                self.report.add(
                    FaultKind::Extra,
                    &member.name,
                    "the tag manifest does not list it",
                );
            }
        }
        if self.strict() {
            for need in ["manifest-sha256.txt", "tagmanifest-sha256.txt"] {
                if self.members.len_of(need).is_none() {
                    self.report.add(
                        FaultKind::Manifest,
                        need,
                        "there is none; a pack is received only with SHA-256 digests (MD5 and SHA-1 can be forged)",
                    );
                }
            }
        }
    }

    fn fetch(&mut self, payload: &Expected) {
        if self.members.len_of("fetch.txt").is_none() {
            return;
        }
        if self.strict() {
            self.report.add(
                FaultKind::Manifest,
                "fetch.txt",
                "it asks for files from the network; a pack is whole or not received",
            );
            return;
        }
        let Some(text) = self.text("fetch.txt", self.limits.manifest) else {
            return;
        };
        match manifest::fetch(&text) {
            Err(what) => self.report.add(FaultKind::Manifest, "fetch.txt", what),
            Ok(paths) => {
                for path in paths {
                    if let Some(why) = names::unsafe_path(&path) {
                        self.report
                            .add(FaultKind::Name, "fetch.txt", format!("it asks for {why}"));
                    } else if !payload.contains_key(&path) {
                        self.report.add(
                            FaultKind::Manifest,
                            "fetch.txt",
                            format!("it asks for \"{path}\", which no manifest lists"),
                        );
                    }
                }
            }
        }
    }

    /// Every listed file against its digests; a difference is read once more before it is called one.
    fn contents(&mut self, expected: &Expected) {
        for (path, wanted) in expected {
            if self.members.len_of(path).is_none() {
                continue;
            }
            let algorithms: Vec<Algorithm> = wanted.keys().copied().collect();
            let mut outcome = hash(self.members, path, &algorithms);
            if !fits(&outcome, wanted) {
                outcome = hash(self.members, path, &algorithms);
            }
            match outcome {
                Ok(got) if got == *wanted => {
                    let sha256 = wanted.get(&Algorithm::Sha256);
                    if let Some(digest) = sha256.and_then(|hex| hex.parse().ok()) {
                        self.report.digests.insert(path.clone(), digest);
                    }
                }
                Ok(_) => self.report.add(
                    FaultKind::Altered,
                    path,
                    "its bytes are not those that the manifest lists",
                ),
                Err(error) => self.report.add(
                    FaultKind::Altered,
                    path,
                    format!("it could not be read whole: {}", error.what),
                ),
            }
        }
        if self.report.seal.is_none()
            && self.members.len_of("tagmanifest-sha256.txt").is_some()
            && let Ok(bytes) = self
                .members
                .read("tagmanifest-sha256.txt", self.limits.manifest)
        {
            self.report.seal = Some(Digest::of(&bytes));
        }
    }

    fn oxum(&mut self) {
        if self.members.len_of("bag-info.txt").is_none() {
            return;
        }
        let Some(text) = self.text("bag-info.txt", self.limits.text) else {
            return;
        };
        let elements = match manifest::bag_info(&text, self.version) {
            Ok(elements) => elements,
            Err(what) => {
                self.report.add(FaultKind::Manifest, "bag-info.txt", what);
                return;
            }
        };
        let (mut bytes, mut count) = (0u64, 0u64);
        for member in self
            .members
            .list()
            .iter()
            .filter(|m| m.name.starts_with("data/"))
        {
            bytes = bytes.saturating_add(member.len);
            count += 1;
        }
        for (_, value) in elements
            .iter()
            .filter(|(label, _)| label.eq_ignore_ascii_case("Payload-Oxum"))
        {
            let stated = value
                .split_once('.')
                .and_then(|(a, b)| Some((a.parse::<u64>().ok()?, b.parse::<u64>().ok()?)));
            let good = stated.is_some_and(|(octets, files)| {
                files == count + self.lost && (octets == bytes || self.lost > 0 && octets >= bytes)
            });
            if !good {
                self.report.add(
                    FaultKind::Manifest,
                    "bag-info.txt",
                    format!("it says {value} (bytes.files) and {bytes}.{count} are there"),
                );
            }
        }
    }
}

fn fits(
    outcome: &Result<BTreeMap<Algorithm, String>>,
    wanted: &BTreeMap<Algorithm, String>,
) -> bool {
    outcome.as_ref().is_ok_and(|got| got == wanted)
}

fn hash(
    members: &dyn Members,
    path: &str,
    algorithms: &[Algorithm],
) -> Result<BTreeMap<Algorithm, String>> {
    let mut file = members.open(path)?;
    let mut hashers: Vec<(Algorithm, Hasher)> =
        algorithms.iter().map(|a| (*a, Hasher::new(*a))).collect();
    let mut buffer = vec![0u8; 128 * 1024];
    loop {
        let n = match file.read(&mut buffer) {
            Ok(n) => n,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(Error::io(&error, path)),
        };
        let Some(chunk) = buffer.get(..n).filter(|chunk| !chunk.is_empty()) else {
            break;
        };
        for (_, hasher) in &mut hashers {
            hasher.update(chunk);
        }
    }
    Ok(hashers
        .into_iter()
        .map(|(a, hasher)| (a, hasher.hex()))
        .collect())
}

#[cfg(test)]
mod tests;
