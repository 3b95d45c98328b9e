//! One walk through a JPEG file, segment by segment (ITU-T T.81, annex B): size, EXIF block,
//! whether the primary image reaches its end, and the `picture` digest. Nothing is decoded.
//!
//! Decoders accept a file cut short without a word (`image` and the EXIF reader alike), so the end
//! is looked for here.

use std::io;

use super::picture::{PictureDigest, counts_app14, is_frame};
use super::source::{Source, be16};

/// What the walk found.
#[derive(Debug, Default, Clone, PartialEq, Eq)]
pub(crate) struct Walk {
    /// Width in pixels as stored, 0 if unknown.
    pub width: u32,
    /// Height in pixels as stored, 0 if unknown.
    pub height: u32,
    /// The first EXIF block, without its six bytes of name.
    pub exif: Option<Vec<u8>>,
    /// Why the primary image is not whole; none if it is.
    pub broken: Option<&'static str>,
    /// The `picture` digest.
    pub picture: Option<String>,
    /// Bytes behind the primary image's end.
    pub behind: u64,
}

enum Scan {
    Marker(u8),
    End,
}

/// Walks a file that starts with SOI.
pub(crate) fn walk(source: &mut Source<'_>) -> io::Result<Walk> {
    let mut walk = Walk::default();
    let mut digest = PictureDigest::new();
    let mut scans = 0usize;
    source.seek(2)?;
    let mut next = marker(source)?;
    loop {
        let Scan::Marker(code) = next else {
            walk.broken = Some("the file ends before the picture does");
            return Ok(walk);
        };
        match code {
            0xD9 => break,
            0xD8 => {
                walk.broken = Some("another picture begins before the first has ended");
                return Ok(walk);
            }
            0x01 | 0xD0..=0xD7 => {
                next = marker(source)?;
                continue;
            }
            _ => {}
        }
        let Some(length) = source.array::<2>()?.map(u16::from_be_bytes) else {
            walk.broken = Some("the file ends before the picture does");
            return Ok(walk);
        };
        let Some(size) = length.checked_sub(2) else {
            walk.broken = Some("a segment has an impossible length");
            return Ok(walk);
        };
        let wanted = PictureDigest::counts(code) || matches!(code, 0xE1 | 0xEE);
        if wanted {
            let payload = source.take(u64::from(size))?;
            if payload.len() < usize::from(size) {
                walk.broken = Some("the file ends before the picture does");
                return Ok(walk);
            }
            if is_frame(code) && walk.width == 0 {
                walk.height = be16(&payload, 1).unwrap_or(0).into();
                walk.width = be16(&payload, 3).unwrap_or(0).into();
            }
            if code == 0xDC && walk.height == 0 {
                walk.height = be16(&payload, 0).unwrap_or(0).into();
            }
            if code == 0xE1
                && walk.exif.is_none()
                && let Some(block) = payload.strip_prefix(b"Exif\0\0")
            {
                walk.exif = Some(block.to_vec());
            }
            if PictureDigest::counts(code) || counts_app14(code, &payload) {
                digest.segment(code, &payload);
            }
        } else if !source.skip(u64::from(size))? {
            walk.broken = Some("the file ends before the picture does");
            return Ok(walk);
        }
        next = if code == 0xDA {
            scans += 1;
            coded(source, &mut digest)?
        } else {
            marker(source)?
        };
    }
    walk.behind = source.len().saturating_sub(source.position());
    if scans == 0 || walk.width == 0 || walk.height == 0 {
        walk.broken = Some("the file holds no picture");
    }
    if scans > 0 {
        walk.picture = Some(digest.finish());
    }
    Ok(walk)
}

/// The next marker outside coded data; fill bytes and bytes out of place are passed over.
fn marker(source: &mut Source<'_>) -> io::Result<Scan> {
    loop {
        let window = source.window(1)?;
        if window.is_empty() {
            return Ok(Scan::End);
        }
        let Some(at) = memchr::memchr(0xFF, window) else {
            let all = window.len();
            source.consume(all);
            continue;
        };
        source.consume(at + 1);
        loop {
            match source.byte()? {
                None => return Ok(Scan::End),
                Some(0xFF) => {}
                Some(0x00) => break,
                Some(code) => return Ok(Scan::Marker(code)),
            }
        }
    }
}

/// Passes over coded data, adding it to the digest, up to the next marker that is not RSTn.
fn coded(source: &mut Source<'_>, digest: &mut PictureDigest) -> io::Result<Scan> {
    loop {
        let window = source.window(2)?;
        let mut from = 0; // start of the run not yet added
        let mut at = 0;
        let mut found = None;
        while let Some(rest) = window.get(at..) {
            let Some(step) = memchr::memchr(0xFF, rest) else {
                at = window.len();
                break;
            };
            at += step;
            match window.get(at + 1) {
                // The byte that decides is not here yet.
                None => break,
                Some(0x00 | 0xD0..=0xD7) => at += 2,
                Some(0xFF) => {
                    digest.coded(window.get(from..at).unwrap_or_default());
                    at += 1;
                    from = at;
                }
                Some(&code) => {
                    found = Some(code);
                    break;
                }
            }
        }
        let last = window.len() < 2;
        let run = window.get(from..at).unwrap_or_default();
        digest.coded(run);
        if let Some(code) = found {
            source.consume(at + 2);
            return Ok(Scan::Marker(code));
        }
        source.consume(at);
        if last {
            return Ok(Scan::End);
        }
    }
}
