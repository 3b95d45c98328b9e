//! Recordings: length, and whether they were closed. Containers that survive a killed recorder
//! (WAV, ADTS, Ogg) are whole up to where they end, whatever their heads say.

use std::io;

use super::source::{Source, le16, le32};

/// What a recording's structure says.
#[derive(Debug, Default)]
pub(crate) struct Sound {
    pub length_ms: Option<u64>,
    pub broken: Option<&'static str>,
}

const NOT_CLOSED: &str = "the recording was not closed; what was recorded up to then is kept";

/// WAV (RIFF; RF64 is not written by phones).
pub(crate) fn wav(source: &mut Source<'_>) -> io::Result<Sound> {
    let mut found = Sound::default();
    source.seek(12)?;
    let mut rate = 0u64;
    while let Some(head) = source.array::<8>()? {
        let length = u64::from(le32(&head, 4).unwrap_or(0));
        let start = source.position();
        match head.get(..4).unwrap_or_default() {
            b"fmt " => {
                let body = source.take(length.min(16))?;
                rate = le32(&body, 8).unwrap_or(0).into();
            }
            b"data" => {
                let there = source.len().saturating_sub(start);
                // A killed recorder leaves the length at zero or at its greatest value.
                if length > there || (length == 0 && there > 0) {
                    found.broken = Some(NOT_CLOSED);
                }
                let bytes = if length == 0 {
                    there
                } else {
                    length.min(there)
                };
                found.length_ms = bytes.saturating_mul(1000).checked_div(rate);
                return Ok(found);
            }
            _ => {}
        }
        source.seek(start + length + (length & 1))?;
    }
    found.broken = Some("it holds no sound");
    Ok(found)
}

/// Samples per second by index (ISO/IEC 14496-3, table 1.18).
const ADTS_RATES: [u64; 13] = [
    96_000, 88_200, 64_000, 48_000, 44_100, 32_000, 24_000, 22_050, 16_000, 12_000, 11_025, 8_000,
    7_350,
];

/// Length in bytes and rate of the ADTS frame that begins here.
pub(crate) fn adts_frame(head: &[u8]) -> Option<(u64, u64)> {
    let &[sync, flags, layout, a, b, c, _] = head.get(..7)? else {
        return None;
    };
    if sync != 0xFF || flags & 0xF6 != 0xF0 {
        return None;
    }
    let rate = *ADTS_RATES.get(usize::from(layout >> 2 & 0xF))?;
    let length = u64::from(a & 3) << 11 | u64::from(b) << 3 | u64::from(c) >> 5;
    (length >= 7).then_some((length, rate))
}

/// AAC in ADTS frames.
pub(crate) fn adts(source: &mut Source<'_>) -> io::Result<Sound> {
    let mut found = Sound::default();
    source.seek(0)?;
    let mut microseconds = 0u64;
    loop {
        let start = source.position();
        if start == source.len() {
            break;
        }
        let window = source.window(7)?;
        let Some((length, rate)) = adts_frame(window) else {
            found.broken = Some(if window.len() < 7 {
                NOT_CLOSED
            } else {
                "it is damaged inside"
            });
            break;
        };
        if start + length > source.len() {
            found.broken = Some(NOT_CLOSED);
            break;
        }
        microseconds += 1024 * 1_000_000 / rate;
        source.seek(start + length)?;
    }
    found.length_ms = Some(microseconds / 1000);
    Ok(found)
}

/// Ogg (RFC 3533): pages, the last one's position, the mark of the end.
pub(crate) fn ogg(source: &mut Source<'_>) -> io::Result<Sound> {
    let mut found = Sound::default();
    source.seek(0)?;
    let mut rate = 0u64;
    let mut before = 0u64;
    let mut last = 0u64;
    let mut ended = false;
    loop {
        let start = source.position();
        let Some(head) = source.array::<27>()? else {
            ended &= start == source.len();
            break;
        };
        if !head.starts_with(b"OggS") {
            found.broken = Some("it is damaged inside");
            break;
        }
        let segments = source.take(u64::from(head.get(26).copied().unwrap_or(0)))?;
        let body: u64 = segments.iter().map(|&n| u64::from(n)).sum();
        let at = source.position();
        if rate == 0 {
            let first = source.take(body.min(19))?;
            if first.starts_with(b"OpusHead") {
                // Positions count at 48 kHz whatever was recorded (RFC 7845).
                rate = 48_000;
                before = le16(&first, 10).unwrap_or(0).into();
            } else if first.starts_with(b"\x01vorbis") {
                rate = le32(&first, 12).unwrap_or(0).into();
            }
        }
        if let Some(position) = head.get(6..14).and_then(|b| <[u8; 8]>::try_from(b).ok()) {
            let position = u64::from_le_bytes(position);
            if position != u64::MAX {
                last = position;
            }
        }
        ended = head.get(5).is_some_and(|flags| flags & 4 != 0);
        if at + body > source.len() {
            ended = false;
            break;
        }
        source.seek(at + body)?;
    }
    if !ended && found.broken.is_none() {
        found.broken = Some(NOT_CLOSED);
    }
    found.length_ms = last
        .saturating_sub(before)
        .saturating_mul(1000)
        .checked_div(rate);
    Ok(found)
}
