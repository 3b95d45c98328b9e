//! Heads of PNG, WebP and GIF files: size, EXIF block, end, and whether they move.

use std::io;

use super::limits::EXIF_BYTES;
use super::source::{Source, be32, le16, le32};

/// What the head and the chunks say.
#[derive(Debug, Default)]
pub(crate) struct Raster {
    pub size: Option<(u32, u32)>,
    pub exif: Option<Vec<u8>>,
    /// More than one picture, shown one after the other.
    pub animated: bool,
    pub broken: Option<&'static str>,
}

const CUT: &str = "the file ends before the picture does";

/// PNG, chunk by chunk (W3C PNG third edition).
pub(crate) fn png(source: &mut Source<'_>) -> io::Result<Raster> {
    let mut found = Raster::default();
    source.seek(8)?;
    loop {
        let Some(head) = source.array::<8>()? else {
            found.broken = Some(CUT);
            return Ok(found);
        };
        let length = u64::from(be32(&head, 0).unwrap_or(0));
        let end = source.position() + length + 4;
        match head.get(4..).unwrap_or_default() {
            b"IHDR" => {
                let body = source.take(length.min(8))?;
                found.size = be32(&body, 0).zip(be32(&body, 4));
            }
            b"eXIf" if length <= EXIF_BYTES && found.exif.is_none() => {
                found.exif = Some(source.take(length)?);
            }
            b"acTL" => {
                let body = source.take(length.min(4))?;
                found.animated = be32(&body, 0).is_some_and(|n| n > 1);
            }
            b"IEND" => {
                if end > source.len() {
                    found.broken = Some(CUT);
                }
                return Ok(found);
            }
            _ => {}
        }
        source.seek(end)?;
    }
}

/// WebP (RFC 9649).
pub(crate) fn webp(source: &mut Source<'_>) -> io::Result<Raster> {
    let mut found = Raster::default();
    source.seek(4)?;
    let stated = source.array::<4>()?.map_or(0, u32::from_le_bytes);
    if u64::from(stated) + 8 > source.len() {
        found.broken = Some(CUT);
    }
    source.seek(12)?;
    while let Some(head) = source.array::<8>()? {
        let length = u64::from(le32(&head, 4).unwrap_or(0));
        let end = source.position() + length + (length & 1);
        match head.get(..4).unwrap_or_default() {
            b"VP8X" => {
                let body = source.take(length.min(10))?;
                let three = |at: usize| le32(&body, at).map(|n| (n & 0xFF_FFFF) + 1);
                found.animated = body.first().is_some_and(|flags| flags & 2 != 0);
                // The last number has three bytes only.
                let height = le16(&body, 7)
                    .zip(body.get(9))
                    .map(|(low, &high)| (u32::from(low) | u32::from(high) << 16) + 1);
                found.size = three(4).zip(height);
            }
            b"VP8 " if found.size.is_none() => {
                let body = source.take(length.min(10))?;
                found.size = le16(&body, 6)
                    .zip(le16(&body, 8))
                    .map(|(w, h)| (u32::from(w & 0x3FFF), u32::from(h & 0x3FFF)));
            }
            b"VP8L" if found.size.is_none() => {
                let body = source.take(length.min(5))?;
                found.size =
                    le32(&body, 1).map(|bits| ((bits & 0x3FFF) + 1, (bits >> 14 & 0x3FFF) + 1));
            }
            b"EXIF" if length <= EXIF_BYTES && found.exif.is_none() => {
                found.exif = Some(source.take(length)?);
            }
            _ => {}
        }
        source.seek(end)?;
    }
    Ok(found)
}

/// GIF (CompuServe, version 89a): size and trailer.
pub(crate) fn gif(source: &mut Source<'_>) -> io::Result<Raster> {
    let mut found = Raster::default();
    source.seek(6)?;
    let body = source.take(4)?;
    found.size = le16(&body, 0)
        .zip(le16(&body, 2))
        .map(|(w, h)| (w.into(), h.into()));
    source.seek(source.len().saturating_sub(1))?;
    if source.byte()? != Some(0x3B) {
        found.broken = Some(CUT);
    }
    Ok(found)
}
