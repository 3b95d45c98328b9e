//! The box structure of HEIC, AVIF, M4A and MP4 (ISO/IEC 14496-12, 23008-12): size, rotation and
//! EXIF block of the primary picture, whether everything it points to is in the file, and the length
//! of a recording. Nothing is decoded.

use std::io;

use super::limits::{BOX_BYTES, EXIF_BYTES};
use super::source::{Source, be16, be32, be64};
use crate::photo::orient::Orientation;

/// A box inside of a slice: its type and its body.
struct Boxes<'a>(&'a [u8]);

impl<'a> Iterator for Boxes<'a> {
    type Item = ([u8; 4], &'a [u8]);
    fn next(&mut self) -> Option<Self::Item> {
        let kind: [u8; 4] = self.0.get(4..8)?.try_into().ok()?;
        let (head, size) = match be32(self.0, 0)? {
            0 => (8, self.0.len()),
            1 => (16, usize::try_from(be64(self.0, 8)?).ok()?),
            n => (8, n as usize),
        };
        let body = self.0.get(head..size)?;
        self.0 = self.0.get(size..)?;
        Some((kind, body))
    }
}

fn child<'a>(body: &'a [u8], kind: &[u8; 4]) -> Option<&'a [u8]> {
    Boxes(body).find(|(k, _)| k == kind).map(|(_, b)| b)
}

/// The boxes at the top of a file.
#[derive(Debug, Default)]
pub(crate) struct Top {
    /// Body of `meta` (without its four bytes of version), if it is small enough.
    pub meta: Option<Vec<u8>>,
    /// Body of `moov`.
    pub moov: Option<Vec<u8>>,
    /// Why the file is not whole.
    pub broken: Option<&'static str>,
}

/// Walks the top of the file.
pub(crate) fn top(source: &mut Source<'_>) -> io::Result<Top> {
    let mut top = Top::default();
    source.seek(0)?;
    // Real files have a handful of boxes; fragments of a recording two hours long some thousands.
    for _ in 0..100_000 {
        let start = source.position();
        if start >= source.len() {
            return Ok(top);
        }
        let Some(head) = source.array::<8>()? else {
            top.broken = Some("the file ends inside of a box");
            return Ok(top);
        };
        let size = match be32(&head, 0) {
            Some(0) => source.len() - start,
            Some(1) => source.array::<8>()?.map_or(0, u64::from_be_bytes),
            Some(n) => u64::from(n),
            None => 0,
        };
        let Some(end) = start.checked_add(size).filter(|&e| e >= source.position()) else {
            top.broken = Some("a box has an impossible length");
            return Ok(top);
        };
        let kind = head.get(4..).unwrap_or_default();
        let body = end.min(source.len()) - source.position();
        if kind == b"meta" && top.meta.is_none() && body <= BOX_BYTES {
            top.meta = Some(source.take(body)?.get(4..).unwrap_or_default().to_vec());
        } else if kind == b"moov" && top.moov.is_none() && body <= BOX_BYTES {
            top.moov = Some(source.take(body)?);
        }
        if end > source.len() {
            top.broken = Some("the file ends inside of a box");
            return Ok(top);
        }
        source.seek(end)?;
    }
    Ok(top)
}

/// What the primary picture of an HEIF file says.
#[derive(Debug, Default)]
pub(crate) struct Still {
    pub size: Option<(u32, u32)>,
    /// Rotation and mirroring of the container, composed.
    pub turned: Option<Orientation>,
    pub exif: Option<Vec<u8>>,
    pub broken: Option<&'static str>,
}

struct Item {
    id: u32,
    kind: [u8; 4],
}

/// Reads the primary picture's properties out of `meta`, and the EXIF block from the file.
pub(crate) fn still(source: &mut Source<'_>, meta: &[u8]) -> io::Result<Still> {
    let mut still = Still::default();
    let primary = child(meta, b"pitm").and_then(|b| match b.first()? {
        0 => be16(b, 4).map(u32::from),
        _ => be32(b, 4),
    });
    let Some(primary) = primary else {
        still.broken = Some("it names no primary picture");
        return Ok(still);
    };
    properties(meta, primary, &mut still);
    let items = child(meta, b"iinf").map(items).unwrap_or_default();
    let idat = child(meta, b"idat").unwrap_or_default();
    let Some(places) = child(meta, b"iloc").and_then(locations) else {
        still.broken = Some("it does not say where its picture is");
        return Ok(still);
    };
    for place in &places {
        for &(offset, length) in &place.extents {
            let end = offset.checked_add(length);
            let room = if place.in_idat {
                idat.len() as u64
            } else {
                source.len()
            };
            if end.is_none_or(|end| end > room) {
                still.broken = Some("a part of its picture lies behind the end of the file");
            }
        }
    }
    if let Some(id) = items.iter().find(|i| &i.kind == b"Exif").map(|i| i.id)
        && let Some(place) = places.iter().find(|p| p.id == id)
    {
        let mut block = Vec::new();
        for &(offset, length) in &place.extents {
            let left = EXIF_BYTES.saturating_sub(block.len() as u64);
            if length > left {
                break;
            }
            if place.in_idat {
                let end = offset.saturating_add(length).min(idat.len() as u64);
                block
                    .extend_from_slice(idat.get(offset as usize..end as usize).unwrap_or_default());
            } else {
                source.seek(offset)?;
                block.extend(source.take(length)?);
            }
        }
        // Four bytes say how many more come before the TIFF header (ISO/IEC 23008-12, annex A).
        still.exif = be32(&block, 0)
            .and_then(|skip| block.get(4usize.checked_add(skip as usize)?..))
            .map(<[u8]>::to_vec);
    }
    Ok(still)
}

fn properties(meta: &[u8], primary: u32, still: &mut Still) {
    let Some(iprp) = child(meta, b"iprp") else {
        return;
    };
    let all: Vec<([u8; 4], &[u8])> = child(iprp, b"ipco")
        .map(|b| Boxes(b).collect())
        .unwrap_or_default();
    let mut turned = None;
    for (_, ipma) in Boxes(iprp).filter(|(k, _)| k == b"ipma") {
        for index in associated(ipma, primary).unwrap_or_default() {
            // Numbered from 1; 0 stands for none.
            let Some((kind, body)) = usize::from(index).checked_sub(1).and_then(|i| all.get(i))
            else {
                continue;
            };
            match kind {
                b"ispe" => still.size = be32(body, 4).zip(be32(body, 8)),
                // Anti-clockwise quarter turns.
                b"irot" => {
                    let quarters = body.first().copied().unwrap_or(0) & 3;
                    turned = Some(
                        turned
                            .unwrap_or(Orientation::UPRIGHT)
                            .then(Orientation::anticlockwise(quarters)),
                    );
                }
                // Axis 0: top and bottom change places; 1: left and right (ISO/IEC 23008-12:2022).
                b"imir" => {
                    let sides = body.first().copied().unwrap_or(0) & 1 == 1;
                    let mirror = if sides {
                        Orientation::MIRRORED
                    } else {
                        Orientation::FLIPPED
                    };
                    turned = Some(turned.unwrap_or(Orientation::UPRIGHT).then(mirror));
                }
                _ => {}
            }
        }
    }
    still.turned = turned;
}

/// Property numbers of one item out of `ipma`.
fn associated(ipma: &[u8], item: u32) -> Option<Vec<u16>> {
    let (version, wide) = (*ipma.first()?, ipma.get(3)? & 1 == 1);
    let count = be32(ipma, 4)?;
    let mut at = 8usize;
    for _ in 0..count {
        let id = if version == 0 {
            let id = u32::from(be16(ipma, at)?);
            at += 2;
            id
        } else {
            let id = be32(ipma, at)?;
            at += 4;
            id
        };
        let number = usize::from(*ipma.get(at)?);
        at += 1;
        let step = if wide { 2 } else { 1 };
        let entries = ipma.get(at..at + number * step)?;
        at += number * step;
        if id == item {
            // The top bit says "essential" and is no part of the number.
            return Some(
                entries
                    .chunks_exact(step)
                    .map(|e| match e {
                        [high, low] => u16::from_be_bytes([high & 0x7F, *low]),
                        [one] => u16::from(one & 0x7F),
                        _ => 0,
                    })
                    .collect(),
            );
        }
    }
    None
}

fn items(iinf: &[u8]) -> Vec<Item> {
    let skip = if iinf.first() == Some(&0) { 6 } else { 8 };
    let Some(entries) = iinf.get(skip..) else {
        return Vec::new();
    };
    Boxes(entries)
        .filter(|(kind, _)| kind == b"infe")
        .filter_map(|(_, body)| {
            let (id, at) = match body.first()? {
                2 => (u32::from(be16(body, 4)?), 8),
                3 => (be32(body, 4)?, 10),
                _ => return None,
            };
            let kind = body.get(at..at + 4)?.try_into().ok()?;
            Some(Item { id, kind })
        })
        .collect()
}

struct Place {
    id: u32,
    in_idat: bool,
    extents: Vec<(u64, u64)>,
}

fn locations(iloc: &[u8]) -> Option<Vec<Place>> {
    let version = *iloc.first()?;
    let sizes = be16(iloc, 4)?;
    let size = |shift: u16| usize::from(sizes >> shift & 0xF);
    let (offset_size, length_size, base_size) = (size(12), size(8), size(4));
    let index_size = if version == 0 { 0 } else { size(0) };
    let mut at = 6usize;
    let number = |at: &mut usize, size: usize| -> Option<u64> {
        let value = match size {
            0 => Some(0),
            2 => be16(iloc, *at).map(u64::from),
            4 => be32(iloc, *at).map(u64::from),
            8 => be64(iloc, *at),
            _ => None,
        };
        *at += size;
        value
    };
    let id_size = if version < 2 { 2 } else { 4 };
    let count = number(&mut at, id_size)?;
    let mut places = Vec::new();
    for _ in 0..count {
        let id = number(&mut at, id_size)? as u32;
        let method = if version == 0 {
            0
        } else {
            number(&mut at, 2)? & 0xF
        };
        number(&mut at, 2)?; // which file: this one
        let base = number(&mut at, base_size)?;
        let extents = number(&mut at, 2)?;
        let mut place = Place {
            id,
            in_idat: method == 1,
            extents: Vec::new(),
        };
        // A row that takes no bytes could be repeated without end.
        let extents = if index_size + offset_size + length_size == 0 {
            0
        } else {
            extents
        };
        for _ in 0..extents {
            number(&mut at, index_size)?;
            let offset = number(&mut at, offset_size)?;
            let length = number(&mut at, length_size)?;
            // Method 2 (built from other items) names no bytes of the file.
            if method < 2 {
                place.extents.push((base.checked_add(offset)?, length));
            }
        }
        places.push(place);
    }
    Some(places)
}

/// What a recording's `moov` says.
#[derive(Debug, Default)]
pub(crate) struct Recording {
    pub has_picture: bool,
    pub has_sound: bool,
    pub length_ms: Option<u64>,
}

/// Reads tracks and length.
pub(crate) fn recording(moov: &[u8]) -> Recording {
    let mut found = Recording::default();
    for (kind, body) in Boxes(moov) {
        match &kind {
            b"mvhd" => {
                let (scale, length) = if body.first() == Some(&1) {
                    (be32(body, 20), be64(body, 24))
                } else {
                    (be32(body, 12), be32(body, 16).map(u64::from))
                };
                found.length_ms = scale
                    .filter(|&s| s > 0)
                    .zip(length)
                    .map(|(s, n)| (u128::from(n) * 1000 / u128::from(s)) as u64);
            }
            b"trak" => {
                let handler = child(body, b"mdia")
                    .and_then(|b| child(b, b"hdlr"))
                    .and_then(|b| b.get(8..12));
                found.has_picture |= handler == Some(b"vide");
                found.has_sound |= handler == Some(b"soun");
            }
            _ => {}
        }
    }
    found
}
