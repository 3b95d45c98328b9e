//! Reads a pack in one zip file (PKWARE APPNOTE 6.3.10), members stored, nothing else.
//!
//! Rival refused: the `zip` crate's reader opens whatever it can (bytes before the first member,
//! overlapping members, the last of two equal names), which is right for an archive tool and wrong
//! for a door. Here the file must be laid end to end: member after member from its first byte, then
//! the directory, then the end record, and each member's own header must say what the directory
//! says. What is stored only cannot be a bomb: no file can be larger than the zip itself.

use super::members::{Limits, Member, Members, bounded, refused};
use super::names::PATH_LIMIT;
use crate::error::{Error, ErrorKind, Result};
use crate::world::{Files, ReadFile};
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};
use std::sync::Arc;

const LOCAL: u32 = 0x0403_4b50;
const CENTRAL: u32 = 0x0201_4b50;
const END: u32 = 0x0605_4b50;
const END64: u32 = 0x0606_4b50;
const LOCATOR64: u32 = 0x0706_4b50;
/// Longest extra field that is looked at.
const EXTRA_LIMIT: u16 = 1024;

/// A bag in a zip.
pub struct ZipPack {
    files: Arc<dyn Files>,
    path: PathBuf,
    list: Vec<Member>,
    /// For each of `list`: offset of its bytes, CRC-32.
    places: Vec<(u64, u32)>,
}

struct Found {
    name: String,
    /// Version needed, flags, method, time, date, CRC-32: what both headers must agree on.
    common: [u8; 14],
    crc: u32,
    len: u64,
    header: u64,
    data: u64,
}

/// Little-endian fields of a header that has been read whole.
struct Fields<'a>(&'a [u8]);

impl Fields<'_> {
    fn bytes<const N: usize>(&self, at: usize) -> [u8; N] {
        let mut out = [0; N];
        for (to, from) in out.iter_mut().zip(self.0.iter().skip(at)) {
            *to = *from;
        }
        out
    }
    fn u16(&self, at: usize) -> u16 {
        u16::from_le_bytes(self.bytes(at))
    }
    fn u32(&self, at: usize) -> u32 {
        u32::from_le_bytes(self.bytes(at))
    }
    fn u64(&self, at: usize) -> u64 {
        u64::from_le_bytes(self.bytes(at))
    }
}

impl ZipPack {
    /// Reads the directory and every member's own header.
    ///
    /// # Errors
    /// `BadFormat` for what is no zip or cut off; `Refused` for what a pack never has (compression,
    /// encryption, links, overlapping members …); `TooLarge` past a limit.
    pub fn open(files: Arc<dyn Files>, path: &Path, limits: &Limits) -> Result<Self> {
        let io = |error: std::io::Error| Error::io(&error, path.display());
        let size = files.len(path).map_err(io)?;
        let mut file = BufReader::with_capacity(64 * 1024, files.open(path).map_err(io)?);
        let (start, end, count) = directory(&mut file, size, limits)
            .map_err(|error| error.or_at(&path.display().to_string()))?;
        file.seek(SeekFrom::Start(start)).map_err(io)?;
        let mut found = Vec::new();
        let mut total = 0u64;
        let mut at = start;
        for _ in 0..count {
            let (entry, length) = central(&mut file, end.saturating_sub(at))?;
            at += length;
            total = total.saturating_add(entry.len);
            bounded(
                found.len() as u64 + 1,
                total,
                entry.len,
                limits,
                &entry.name,
            )?;
            found.push(entry);
        }
        if at != end {
            return Err(refused(
                "the zip's directory is longer than its list of files",
                &path.display(),
            ));
        }
        found.sort_by_key(|entry| entry.header);
        let mut next = 0;
        for entry in &mut found {
            if entry.header != next {
                return Err(refused(
                    "bytes before it in the zip belong to no file, or to two",
                    &entry.name.escape_debug(),
                ));
            }
            next = local(&mut file, entry, start)?;
        }
        if next != start {
            return Err(refused(
                "bytes in the zip belong to no file",
                &path.display(),
            ));
        }
        let prefix = base(&found)?;
        let mut pairs: Vec<(Member, (u64, u32))> = Vec::with_capacity(found.len());
        for entry in found {
            let name = entry.name.get(prefix.len()..).unwrap_or_default();
            if name.is_empty() || name.ends_with('/') {
                // A folder of its own: nothing to read. Its name is judged with the others.
                if entry.len != 0 {
                    return Err(refused("a folder with content", &entry.name.escape_debug()));
                }
                let bare = name.trim_end_matches('/');
                if !bare.is_empty()
                    && let Some(why) = super::names::unsafe_path(bare)
                {
                    return Err(refused(
                        &format!("it holds {why}"),
                        &entry.name.escape_debug(),
                    ));
                }
                continue;
            }
            let member = Member {
                name: name.to_owned(),
                len: entry.len,
            };
            pairs.push((member, (entry.data, entry.crc)));
        }
        pairs.sort_by(|a, b| a.0.name.cmp(&b.0.name));
        if let Some(name) = pairs.windows(2).find_map(|two| match two {
            [a, b] if a.0.name == b.0.name => Some(&a.0.name),
            _ => None,
        }) {
            return Err(refused("it is in the zip twice", &name.escape_debug()));
        }
        let (list, places) = pairs.into_iter().unzip();
        Ok(Self {
            files,
            path: path.to_path_buf(),
            list,
            places,
        })
    }
}

impl Error {
    fn or_at(self, place: &str) -> Self {
        if self.place.is_empty() {
            self.at(place)
        } else {
            self
        }
    }
}

impl Members for ZipPack {
    fn list(&self) -> &[Member] {
        &self.list
    }

    fn open(&self, name: &str) -> Result<Box<dyn Read + '_>> {
        let at = self
            .list
            .binary_search_by(|member| member.name.as_str().cmp(name))
            .map_err(|_| Error::new(ErrorKind::Unknown, "there is no such file in it").at(name))?;
        let (Some(member), Some((offset, crc))) = (self.list.get(at), self.places.get(at)) else {
            return Err(Error::new(ErrorKind::Unknown, "there is no such file in it").at(name));
        };
        let mut file = self
            .files
            .open(&self.path)
            .map_err(|error| Error::io(&error, name))?;
        file.seek(SeekFrom::Start(*offset))
            .map_err(|error| Error::io(&error, name))?;
        Ok(Box::new(Checked {
            file: file.take(member.len),
            left: member.len,
            hash: crc32fast::Hasher::new(),
            crc: *crc,
        }))
    }

    fn place(&self) -> String {
        self.path.display().to_string()
    }
}

/// Reads exactly a member's bytes and compares the CRC-32 at its end.
struct Checked {
    file: std::io::Take<Box<dyn ReadFile>>,
    left: u64,
    hash: crc32fast::Hasher,
    crc: u32,
}

impl Read for Checked {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.file.read(buffer)?;
        self.hash.update(buffer.get(..n).unwrap_or_default());
        self.left = self.left.saturating_sub(n as u64);
        if n == 0 && !buffer.is_empty() {
            if self.left > 0 {
                return Err(std::io::Error::from(std::io::ErrorKind::UnexpectedEof));
            }
            if self.hash.clone().finalize() != self.crc {
                return Err(std::io::Error::new(
                    std::io::ErrorKind::InvalidData,
                    "its bytes do not fit the zip's own sum",
                ));
            }
        }
        Ok(n)
    }
}

fn cut(error: &std::io::Error) -> Error {
    if error.kind() == std::io::ErrorKind::UnexpectedEof {
        bad("the zip ends too early")
    } else {
        Error::io(error, "")
    }
}

fn bad(what: &str) -> Error {
    Error::new(ErrorKind::BadFormat, what)
        .hint("nothing was taken in; it may have been cut off on its way: ask for it again")
}

/// Finds the directory: where it starts, where it ends, how many files it lists.
fn directory<R: Read + Seek>(file: &mut R, size: u64, limits: &Limits) -> Result<(u64, u64, u64)> {
    let Some(at) = size.checked_sub(22) else {
        return Err(bad("this is no zip file: it is too short"));
    };
    let mut record = [0; 22];
    file.seek(SeekFrom::Start(at)).map_err(|e| cut(&e))?;
    file.read_exact(&mut record).map_err(|e| cut(&e))?;
    let fields = Fields(&record);
    if fields.u32(0) != END || fields.u16(20) != 0 {
        return Err(bad(
            "this is no zip file, or it was cut off, or something follows its end",
        ));
    }
    let (mut count, mut length, mut start) = (
        u64::from(fields.u16(10)),
        u64::from(fields.u32(12)),
        u64::from(fields.u32(16)),
    );
    let mut end = at;
    let wide = count == 0xFFFF || length == 0xFFFF_FFFF || start == 0xFFFF_FFFF;
    if fields.u16(4) != 0 || fields.u16(6) != 0 || fields.u16(8) != fields.u16(10) {
        return Err(bad("a zip in several parts"));
    }
    let mut locator = [0; 20];
    if let Some(before) = at.checked_sub(20) {
        file.seek(SeekFrom::Start(before)).map_err(|e| cut(&e))?;
        file.read_exact(&mut locator).map_err(|e| cut(&e))?;
    }
    if Fields(&locator).u32(0) == LOCATOR64 {
        let place = Fields(&locator).u64(8);
        let expected = at.checked_sub(20 + 56);
        if Fields(&locator).u32(4) != 0 || Fields(&locator).u32(16) != 1 || Some(place) != expected
        {
            return Err(bad("the zip's 64-bit end record is not where it says"));
        }
        let mut record = [0; 56];
        file.seek(SeekFrom::Start(place)).map_err(|e| cut(&e))?;
        file.read_exact(&mut record).map_err(|e| cut(&e))?;
        let wide = Fields(&record);
        if wide.u32(0) != END64
            || wide.u64(4) != 44
            || wide.u32(16) != 0
            || wide.u32(20) != 0
            || wide.u64(24) != wide.u64(32)
        {
            return Err(bad("the zip's 64-bit end record makes no sense"));
        }
        let agrees = |narrow: u64, none: u64, value: u64| narrow == none || narrow == value;
        if !agrees(count, 0xFFFF, wide.u64(32))
            || !agrees(length, 0xFFFF_FFFF, wide.u64(40))
            || !agrees(start, 0xFFFF_FFFF, wide.u64(48))
        {
            return Err(bad("the zip's two end records disagree"));
        }
        (count, length, start) = (wide.u64(32), wide.u64(40), wide.u64(48));
        end = place;
    } else if wide {
        return Err(bad("the zip's 64-bit end record is missing"));
    }
    if start.checked_add(length) != Some(end) {
        return Err(bad(
            "the zip's directory is not where it says: something was put before it or cut out",
        ));
    }
    if count > limits.members {
        return Err(Error::new(
            ErrorKind::TooLarge,
            format!(
                "the zip lists {count} files; at most {} are taken in",
                limits.members
            ),
        )
        .hint("nothing was taken in; ask for it in smaller parts"));
    }
    if count.checked_mul(46).is_none_or(|least| least > length) {
        return Err(bad(
            "the zip's directory is too short for the files it counts",
        ));
    }
    Ok((start, end, count))
}

/// Reads one line of the directory, of which at most `left` bytes remain.
fn central<R: Read>(file: &mut R, left: u64) -> Result<(Found, u64)> {
    let mut header = [0; 46];
    if left < 46 {
        return Err(bad("the zip's directory ends too early"));
    }
    file.read_exact(&mut header).map_err(|e| cut(&e))?;
    let fields = Fields(&header);
    if fields.u32(0) != CENTRAL {
        return Err(bad("the zip's directory makes no sense"));
    }
    let (name_len, extra_len, comment) = (fields.u16(28), fields.u16(30), fields.u16(32));
    let length = 46 + u64::from(name_len) + u64::from(extra_len) + u64::from(comment);
    if length > left {
        return Err(bad("the zip's directory ends too early"));
    }
    if usize::from(name_len) > PATH_LIMIT + 128 || extra_len > EXTRA_LIMIT || comment != 0 {
        return Err(bad(
            "a name, comment or extra field in the zip is longer than allowed",
        ));
    }
    let name = name(file, name_len, fields.u16(8))?;
    let mut extra = vec![0; usize::from(extra_len)];
    file.read_exact(&mut extra).map_err(|e| cut(&e))?;
    let no = |what: &str, remedy: &str| {
        Error::new(ErrorKind::Refused, what)
            .at(name.escape_debug())
            .hint(format!("nothing was taken in; {remedy}"))
    };
    let flags = fields.u16(8);
    if flags & 0x2041 != 0 {
        return Err(no("it is encrypted", "ask for a pack without a password"));
    }
    if flags & !0x0800 != 0 {
        return Err(no(
            "it was written as a stream, its size only after it",
            "unpack the zip and receive the folder",
        ));
    }
    if fields.u16(10) != 0 {
        return Err(no(
            "it is compressed; packs are stored as they are",
            "unpack the zip and receive the folder",
        ));
    }
    if fields.u16(34) != 0 && fields.u16(34) != 0xFFFF {
        return Err(no(
            "it is in another part of the zip",
            "ask for it in one file",
        ));
    }
    // Upper half of the external attributes: the Unix mode, whatever system is said to have made it.
    let kind = (fields.u32(38) >> 16) & 0xF000;
    let folder = name.ends_with('/');
    if !(kind == 0 || kind == 0x8000 && !folder || kind == 0x4000 && folder) {
        return Err(no(
            "it is a link or a device",
            "ask for a pack of plain files",
        ));
    }
    let (mut packed, mut len, mut header_at) = (
        u64::from(fields.u32(20)),
        u64::from(fields.u32(24)),
        u64::from(fields.u32(42)),
    );
    wide(
        &extra,
        &mut [
            (&mut len, 0xFFFF_FFFF),
            (&mut packed, 0xFFFF_FFFF),
            (&mut header_at, 0xFFFF_FFFF),
        ],
    )
    .map_err(|what| no(what, "ask for it again"))?;
    if packed != len {
        return Err(no("its two sizes disagree", "ask for it again"));
    }
    let mut common = [0; 14];
    common.copy_from_slice(header.get(6..20).unwrap_or(&[0; 14]));
    Ok((
        Found {
            name,
            common,
            crc: fields.u32(16),
            len,
            header: header_at,
            data: 0,
        },
        length,
    ))
}

fn name<R: Read>(file: &mut R, length: u16, flags: u16) -> Result<String> {
    let mut bytes = vec![0; usize::from(length)];
    file.read_exact(&mut bytes).map_err(|e| cut(&e))?;
    match String::from_utf8(bytes) {
        Ok(name) if !name.is_empty() && (name.is_ascii() || flags & 0x0800 != 0) => Ok(name),
        _ => Err(bad("a name in the zip is neither ASCII nor marked UTF-8")),
    }
}

/// Takes the 64-bit values of the extra field 0x0001 for those that say "see there", in order.
fn wide(extra: &[u8], values: &mut [(&mut u64, u64)]) -> std::result::Result<(), &'static str> {
    let mut rest = extra;
    let mut sixty_four: Option<&[u8]> = None;
    while !rest.is_empty() {
        let fields = Fields(rest);
        let (id, length) = (fields.u16(0), usize::from(fields.u16(2)));
        let (Some(body), true) = (rest.get(4..4 + length), rest.len() >= 4) else {
            return Err("an extra field runs past its end");
        };
        match id {
            0x0001 if sixty_four.is_none() => sixty_four = Some(body),
            0x0001 => return Err("two 64-bit fields"),
            0x7075 => return Err("a second name is hidden in an extra field"),
            0x9901 | 0x0017 => return Err("it is encrypted"),
            _ => {}
        }
        rest = rest.get(4 + length..).unwrap_or_default();
    }
    let mut body = sixty_four.unwrap_or_default();
    for (value, none) in values {
        if **value == *none {
            if body.len() < 8 {
                return Err("its 64-bit size is missing");
            }
            **value = Fields(body).u64(0);
            body = body.get(8..).unwrap_or_default();
        }
    }
    Ok(())
}

/// Reads a member's own header, compares, and returns where the member ends.
fn local<R: Read + Seek>(file: &mut R, entry: &mut Found, limit: u64) -> Result<u64> {
    let differ = || {
        refused(
            "the zip says two different things of it",
            &entry.name.escape_debug(),
        )
    };
    let mut header = [0; 30];
    file.seek(SeekFrom::Start(entry.header))
        .map_err(|e| cut(&e))?;
    file.read_exact(&mut header).map_err(|e| cut(&e))?;
    let fields = Fields(&header);
    if fields.u32(0) != LOCAL || header.get(4..18) != Some(&entry.common[..]) {
        return Err(differ());
    }
    let (name_len, extra_len) = (fields.u16(26), fields.u16(28));
    if usize::from(name_len) != entry.name.len() || extra_len > EXTRA_LIMIT {
        return Err(differ());
    }
    if name(file, name_len, fields.u16(6))? != entry.name {
        return Err(differ());
    }
    let mut extra = vec![0; usize::from(extra_len)];
    file.read_exact(&mut extra).map_err(|e| cut(&e))?;
    let (mut packed, mut len) = (u64::from(fields.u32(18)), u64::from(fields.u32(22)));
    wide(
        &extra,
        &mut [(&mut len, 0xFFFF_FFFF), (&mut packed, 0xFFFF_FFFF)],
    )
    .map_err(|what| refused(what, &entry.name.escape_debug()))?;
    if packed != entry.len || len != entry.len {
        return Err(differ());
    }
    entry.data = entry.header + 30 + u64::from(name_len) + u64::from(extra_len);
    match entry.data.checked_add(entry.len) {
        Some(end) if end <= limit => Ok(end),
        _ => Err(refused(
            "it is said to be longer than the zip has room for",
            &entry.name.escape_debug(),
        )),
    }
}

/// The one folder that everything is in (RFC 8493 section 4), with its slash; empty where the bag
/// lies at the top.
fn base(found: &[Found]) -> Result<String> {
    if found.iter().any(|entry| entry.name == "bagit.txt") {
        return Ok(String::new());
    }
    let Some(prefix) = found
        .iter()
        .find_map(|entry| entry.name.strip_suffix("bagit.txt"))
        .filter(|prefix| prefix.ends_with('/') && prefix.matches('/').count() == 1)
    else {
        return Err(bad("there is no bagit.txt in it: this is not a pack"));
    };
    if let Some(why) = super::names::unfit_for_pack(prefix.trim_end_matches('/')) {
        return Err(refused(
            &format!("its folder has {why}"),
            &prefix.escape_debug(),
        ));
    }
    match found.iter().find(|entry| !entry.name.starts_with(prefix)) {
        Some(other) => Err(refused(
            "it lies beside the pack's own folder",
            &other.name.escape_debug(),
        )),
        None => Ok(prefix.to_owned()),
    }
}
