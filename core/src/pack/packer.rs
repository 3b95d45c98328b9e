//! Makes a pack: a BagIt 1.0 bag that is complete before it gets its name, the same byte for byte
//! for the same record and cut, signed by its packer.

use super::cut::{self, Chosen, Cut};
use super::manifest::encode_path;
use super::members::{Folder, Limits, Members};
use super::strip;
use super::verify::{self, Chain, Report, Source};
use super::zip_write::ZipWriter;
use crate::error::{Error, ErrorKind, Result};
use crate::evidence::examine;
use crate::record::key::Signer;
use crate::record::{Body, Digest, FORMAT, canonical};
use crate::world::{Access, World};
use serde::{Deserialize, Serialize};
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{Read, Write};
use std::path::{Path, PathBuf};

/// What to pack.
pub struct Order<'a> {
    /// Descriptions of the aircraft that are joined.
    pub aircraft: BTreeSet<Digest>,
    /// How much.
    pub cut: Cut,
    /// Leave out names, roles and certificates.
    pub withhold_people: bool,
    /// Leave out positions: slips, and what photo files say.
    pub withhold_location: bool,
    /// The page to go with it, whole.
    pub report: Option<Vec<u8>>,
    /// Where to: a name that ends in `.zip` makes a zip.
    pub out: &'a Path,
}

/// What was made.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Packed {
    /// Where it is.
    pub out: String,
    /// SHA-256 of its tag manifest: what the packer signed.
    pub bag: Digest,
    /// Lines in it.
    pub lines: u64,
    /// Original files in it.
    pub files: u64,
    /// Bytes of payload.
    pub bytes: u64,
    /// Files and slips left out on purpose.
    pub withheld: u64,
    /// Copies among them that still prove the picture that was recorded.
    pub copies_proven: u64,
    /// Copies among them that are on the packer's word.
    pub copies_on_word: u64,
    /// Lines that no finish covers yet: their place in the chain is not proven by this pack.
    pub uncovered: u64,
}

/// `data/withheld.json`: what was left out, and on whose word.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct Withheld {
    /// The cut's word.
    pub cut: String,
    /// Files and slips.
    pub files: Vec<LeftOut>,
    /// Lines by author that no finish covers yet.
    pub uncovered: BTreeMap<String, u64>,
}

/// One thing that was left out.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
pub struct LeftOut {
    /// SHA-256 of the file or slip.
    pub file: Digest,
    /// people or location.
    pub why: String,
    /// Name in the pack of a copy without what was left out.
    #[serde(skip_serializing_if = "Option::is_none", default)]
    pub copy: Option<String>,
}

/// `packer.json`: who made the bag, outside everything that it signs.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PackerSeal {
    /// SHA-256 of `tagmanifest-sha256.txt`.
    pub bag: Digest,
    /// Key.
    pub packer: Digest,
    /// Ed25519 over canonical `{bag, packer}`, 128 hexadecimal digits.
    pub sig: String,
}

/// Bytes that a packer signs.
pub fn sealed(bag: &Digest, packer: &Digest) -> Result<Vec<u8>> {
    canonical::to_bytes(&serde_json::json!({ "bag": bag, "packer": packer }))
}

enum Content {
    Bytes(Vec<u8>),
    /// An original: its name in the notebook and its digest.
    Original(String, Digest),
}

/// Makes the pack.
///
/// # Errors
/// `AlreadyThere` where the name is taken, `Damaged` where an original is not what it was (nothing
/// is left behind), `Unknown` where there is nothing to pack, else what the machine says.
pub fn pack(world: &World, root: &Path, signer: &dyn Signer, order: &Order<'_>) -> Result<Packed> {
    let files = world.files.as_ref();
    if files.has(order.out)? {
        return Err(Error::new(
            ErrorKind::AlreadyThere,
            "something of this name is there already",
        )
        .at(order.out.display())
        .hint("choose another name; nothing is ever overwritten"));
    }
    let limits = Limits {
        members: u64::MAX,
        total: u64::MAX,
        ..Limits::default()
    };
    let notebook = Folder::open(world.files.clone(), root, &limits)?;
    let source = Source {
        members: &notebook,
        prefix: "",
        own: Some(signer.public()),
        was_here: BTreeSet::new(),
        remembered: Default::default(),
        withheld: Vec::new(),
    };
    let chains: Vec<Chain> = verify::load(&source, &mut Report::default())?;
    let chosen = cut::choose(&chains, &order.aircraft, &order.cut);
    if chosen.chains.is_empty() {
        return Err(Error::new(
            ErrorKind::Unknown,
            "there is nothing about this aircraft to pack",
        ));
    }
    let (mut content, withheld) = contents(&notebook, &chosen, order)?;
    content.insert(
        "data/withheld.json".into(),
        Content::Bytes(canonical::to_bytes(&withheld)?),
    );
    let last = chosen
        .chains
        .values()
        .flatten()
        .max_by_key(|line| (line.entry.at.instant(), line.digest))
        .map(|line| {
            line.entry
                .at
                .to_string()
                .chars()
                .take(10)
                .collect::<String>()
        })
        .unwrap_or_default();
    let mut packed = Packed {
        out: order.out.display().to_string(),
        bag: Digest::ZERO,
        lines: chosen.chains.values().map(|lines| lines.len() as u64).sum(),
        files: content
            .keys()
            .filter(|name| name.starts_with("data/evidence/"))
            .count() as u64,
        bytes: 0,
        withheld: withheld.files.len() as u64,
        copies_proven: copies(&withheld, true),
        copies_on_word: copies(&withheld, false),
        uncovered: chosen.uncovered.values().sum(),
    };
    let mut manifest = String::new();
    for (name, what) in &content {
        let (digest, len) = match what {
            Content::Bytes(bytes) => (Digest::of(bytes), bytes.len() as u64),
            Content::Original(from, digest) => (*digest, notebook.len_of(from).unwrap_or(0)),
        };
        packed.bytes += len;
        manifest.push_str(&format!("{digest}  {}\n", encode_path(name)));
    }
    let oxum = format!("{}.{}", packed.bytes, content.len());
    let info = format!(
        "Bag-Software-Agent: witnessmark\nBagging-Date: {last}\nExternal-Description: the condition of one aircraft as it was recorded: {}\nPayload-Oxum: {oxum}\nWitnessmark-Format: {FORMAT}\n",
        order.cut.word()
    );
    let mut tags: BTreeMap<String, Content> = BTreeMap::new();
    tags.insert("bag-info.txt".into(), Content::Bytes(info.into_bytes()));
    tags.insert(
        "bagit.txt".into(),
        Content::Bytes(b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n".to_vec()),
    );
    tags.insert(
        "manifest-sha256.txt".into(),
        Content::Bytes(manifest.into_bytes()),
    );
    let tag_manifest: String = tags
        .iter()
        .map(|(name, what)| match what {
            Content::Bytes(bytes) => format!("{}  {name}\n", Digest::of(bytes)),
            Content::Original(..) => String::new(),
        })
        .collect();
    packed.bag = Digest::of(tag_manifest.as_bytes());
    let signature = signer.sign(&sealed(&packed.bag, &signer.public())?);
    let seal = PackerSeal {
        bag: packed.bag,
        packer: signer.public(),
        sig: data_encoding::HEXLOWER.encode(&signature),
    };
    tags.insert(
        "tagmanifest-sha256.txt".into(),
        Content::Bytes(tag_manifest.into_bytes()),
    );
    tags.insert(
        "packer.json".into(),
        Content::Bytes(canonical::to_bytes(&seal)?),
    );
    content.append(&mut tags);
    let base = format!(
        "witnessmark-{}-{}",
        order.cut.word().replace([' ', '_'], "-"),
        packed.bag.hex().get(..8).unwrap_or_default()
    );
    let partial = partial_name(order.out);
    let made = if order
        .out
        .extension()
        .is_some_and(|e| e.eq_ignore_ascii_case("zip"))
    {
        write_zip(world, &notebook, &content, &base, &partial)
    } else {
        write_folder(world, &notebook, &content, &partial)
    };
    let named = made.and_then(|()| {
        files
            .rename(&partial, order.out)
            .map_err(|e| Error::io(&e, order.out.display()))?;
        sync_parent(world, order.out)
    });
    if let Err(error) = named {
        discard(world, &partial);
        return Err(error);
    }
    Ok(packed)
}

/// Copies that prove their picture, or those that do not.
fn copies(withheld: &Withheld, proven: bool) -> u64 {
    let all = withheld.files.iter().filter_map(|left| left.copy.as_ref());
    all.filter(|copy| copy.ends_with(".jpg") == proven).count() as u64
}

fn partial_name(out: &Path) -> PathBuf {
    let mut name = out.file_name().unwrap_or_default().to_os_string();
    name.push(".partial");
    out.with_file_name(name)
}

/// Makes the name of `path` durable.
pub(crate) fn sync_parent(world: &World, path: &Path) -> Result<()> {
    let parent = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    world
        .files
        .sync_dir(parent)
        .map_err(|e| Error::io(&e, parent.display()))
}

/// Takes back an unfinished pack, as far as the machine lets us.
fn discard(world: &World, path: &Path) {
    let files = world.files.as_ref();
    match files.list(path) {
        Ok(entries) => {
            for entry in entries {
                discard(world, &path.join(entry.name));
            }
            let _ = files.remove_dir(path);
        }
        Err(_) => {
            let _ = files.remove(path);
        }
    }
}

fn contents(
    notebook: &Folder,
    chosen: &Chosen,
    order: &Order<'_>,
) -> Result<(BTreeMap<String, Content>, Withheld)> {
    let mut content: BTreeMap<String, Content> = BTreeMap::new();
    let mut withheld = Withheld {
        cut: order.cut.word().to_owned(),
        ..Withheld::default()
    };
    for ((aircraft, author), lines) in &chosen.chains {
        let mut bytes = Vec::new();
        for line in lines {
            bytes.extend_from_slice(&line.bytes);
            bytes.push(b'\n');
        }
        content.insert(
            format!("data/record/{aircraft}/{author}.jsonl"),
            Content::Bytes(bytes),
        );
    }
    for proofs in chosen.proofs.iter().filter(|p| !p.proofs.is_empty()) {
        let name = format!("data/proofs/{}-{}.json", proofs.aircraft, proofs.author);
        content.insert(name, Content::Bytes(canonical::to_bytes(proofs)?));
    }
    for (author, count) in &chosen.uncovered {
        withheld.uncovered.insert(author.hex(), *count);
    }
    let stored: BTreeMap<Digest, &str> = notebook
        .list()
        .iter()
        .filter_map(|member| {
            let rest = member.name.strip_prefix("evidence/")?;
            Some((verify::stated(rest)?, member.name.as_str()))
        })
        .collect();
    let mut left: BTreeSet<LeftOut> = BTreeSet::new();
    // What its author removed is not handed on, even where its bytes are still here.
    let removed = super::removed::removed(chosen.chains.values().flatten());
    for line in chosen.chains.values().flatten() {
        let body = line.entry.body.to_value()?;
        for (role, digest) in crate::record::kinds::cites(&body) {
            match role.as_str() {
                "who" | "position" => {
                    let (hide, why) = if role == "who" {
                        (order.withhold_people, "people")
                    } else {
                        (order.withhold_location, "location")
                    };
                    let hex = digest.hex();
                    let from = format!("slips/{}/{hex}.json", hex.get(..2).unwrap_or_default());
                    if hide {
                        left.insert(LeftOut {
                            file: digest,
                            why: why.into(),
                            copy: None,
                        });
                    } else if notebook.len_of(&from).is_some() {
                        content.insert(format!("data/{from}"), Content::Original(from, digest));
                    }
                }
                "file" | "conditions"
                    if !matches!(line.entry.body, Body::Removed(_))
                        && !removed.contains_key(&digest) =>
                {
                    let Some(from) = stored.get(&digest) else {
                        continue;
                    };
                    let picture =
                        matches!(line.entry.body, Body::PhotoTaken(_) | Body::PaperTaken(_));
                    if order.withhold_location && picture {
                        if content.contains_key(&format!("data/{from}"))
                            || left.iter().any(|l| l.file == digest)
                        {
                            continue;
                        }
                        without_position(notebook, from, &digest, &mut content, &mut left)?;
                    } else {
                        content.insert(
                            format!("data/{from}"),
                            Content::Original((*from).to_owned(), digest),
                        );
                    }
                }
                _ => {}
            }
        }
    }
    withheld.files = left.into_iter().collect();
    if let Some(page) = &order.report {
        content.insert(
            "data/report/index.html".into(),
            Content::Bytes(page.clone()),
        );
    }
    Ok((content, withheld))
}

/// A picture without its position: a copy with nothing but the picture, where its format allows
/// that, else nothing at all.
fn without_position(
    notebook: &Folder,
    from: &str,
    digest: &Digest,
    content: &mut BTreeMap<String, Content>,
    left: &mut BTreeSet<LeftOut>,
) -> Result<()> {
    let bytes = notebook.read(from, crate::evidence::store::PHOTO_LIMIT)?;
    let length = bytes.len() as u64;
    let seen = examine(&mut std::io::Cursor::new(&bytes), length, from)?;
    // A copy of a JPEG proves its picture by the digest that was recorded, or there is none; copies of
    // other formats go on the packer's word. What cannot be cleaned part by part is left out whole.
    let copy = strip::copy(&bytes).filter(|(copy, extension)| {
        let length = copy.len() as u64;
        examine(&mut std::io::Cursor::new(copy), length, from).is_ok_and(|stripped| {
            let proven = stripped.picture.is_some() && stripped.picture == seen.picture;
            (proven || *extension != "jpg") && stripped.gps.is_none()
        })
    });
    let name = copy.map(|(copy, extension)| {
        let name = format!("data/copies/{digest}.{extension}");
        content.insert(name.clone(), Content::Bytes(copy));
        name
    });
    left.insert(LeftOut {
        file: *digest,
        why: "location".into(),
        copy: name,
    });
    Ok(())
}

/// Reads an original while its digest is taken; a difference is damage and stops the packing.
pub(crate) struct Watched<'a> {
    inner: Box<dyn Read + 'a>,
    hash: Sha256,
}

impl<'a> Watched<'a> {
    /// Starts at the beginning of a source.
    pub fn new(inner: Box<dyn Read + 'a>) -> Self {
        Self {
            inner,
            hash: Sha256::new(),
        }
    }

    /// SHA-256 of what was read.
    pub fn digest(self) -> Digest {
        Digest(self.hash.finalize().into())
    }
}

impl Read for Watched<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.inner.read(buffer)?;
        self.hash.update(buffer.get(..n).unwrap_or_default());
        Ok(n)
    }
}

fn damaged(name: &str) -> Error {
    Error::new(
        ErrorKind::Damaged,
        "this original is not as it was recorded; nothing was packed",
    )
    .at(name)
    .hint("a check says what it touches: witnessmark verify")
}

fn write_folder(
    world: &World,
    notebook: &Folder,
    content: &BTreeMap<String, Content>,
    partial: &Path,
) -> Result<()> {
    let files = world.files.as_ref();
    discard(world, partial);
    let mut folders: BTreeSet<PathBuf> = BTreeSet::new();
    for (name, what) in content {
        let path = name
            .split('/')
            .fold(partial.to_path_buf(), |path, part| path.join(part));
        let io = |error: std::io::Error| Error::io(&error, path.display());
        if let Some(parent) = path.parent() {
            files.create_dirs(parent).map_err(io)?;
            let mut folder = Some(parent);
            while let Some(here) = folder.filter(|here| here.starts_with(partial)) {
                folders.insert(here.to_path_buf());
                folder = here.parent();
            }
        }
        let mut out = files.create_new(&path, Access::Usual).map_err(io)?;
        match what {
            Content::Bytes(bytes) => out.write_all(bytes).map_err(io)?,
            Content::Original(from, digest) => {
                let mut source = Watched::new(notebook.open(from)?);
                copy(&mut source, out.as_mut()).map_err(io)?;
                if source.digest() != *digest {
                    return Err(damaged(from));
                }
            }
        }
        out.sync().map_err(io)?;
    }
    for folder in folders.iter().rev() {
        files
            .sync_dir(folder)
            .map_err(|e| Error::io(&e, folder.display()))?;
    }
    Ok(())
}

/// In pieces that a medium likes; `std::io::copy` takes 8 KiB at a time.
fn copy(source: &mut dyn Read, out: &mut dyn Write) -> std::io::Result<()> {
    let mut buffer = vec![0u8; 256 * 1024];
    loop {
        match source.read(&mut buffer) {
            Ok(0) => return Ok(()),
            Ok(n) => out.write_all(buffer.get(..n).unwrap_or_default())?,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => {}
            Err(error) => return Err(error),
        }
    }
}

fn write_zip(
    world: &World,
    notebook: &Folder,
    content: &BTreeMap<String, Content>,
    base: &str,
    partial: &Path,
) -> Result<()> {
    let files = world.files.as_ref();
    discard(world, partial);
    let io = |error: std::io::Error| Error::io(&error, partial.display());
    let out = files.create_new(partial, Access::Usual).map_err(io)?;
    let mut zip = ZipWriter::new(std::io::BufWriter::with_capacity(256 * 1024, out));
    for (name, what) in content {
        let full = format!("{base}/{name}");
        match what {
            Content::Bytes(bytes) => {
                zip.add(
                    &full,
                    bytes.len() as u64,
                    crc32fast::hash(bytes),
                    &mut bytes.as_slice(),
                )
                .map_err(io)?;
            }
            Content::Original(from, digest) => {
                // The header comes first and needs the sum: one fast pass for it, one for the rest.
                let (crc, len) = crc_of(notebook, from)?;
                let mut source = Watched::new(notebook.open(from)?);
                zip.add(&full, len, crc, &mut source).map_err(io)?;
                if source.digest() != *digest {
                    return Err(damaged(from));
                }
            }
        }
    }
    let mut out = zip
        .finish()
        .map_err(io)?
        .into_inner()
        .map_err(|e| io(e.into_error()))?;
    out.sync().map_err(io)
}

fn crc_of(notebook: &Folder, name: &str) -> Result<(u32, u64)> {
    let mut source = notebook.open(name)?;
    let mut hash = crc32fast::Hasher::new();
    let mut len = 0;
    let mut buffer = vec![0u8; 256 * 1024];
    loop {
        let n = match source.read(&mut buffer) {
            Ok(n) => n,
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(Error::io(&error, name)),
        };
        let Some(chunk) = buffer.get(..n).filter(|chunk| !chunk.is_empty()) else {
            return Ok((hash.finalize(), len));
        };
        hash.update(chunk);
        len += n as u64;
    }
}
