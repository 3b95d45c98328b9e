//! EXIF: orientation, the original time with its own offset and fraction, position and satellite
//! time, camera. Broken entries cost only themselves.
//!
//! Reading is `kamadak-exif`'s (rival: `nom-exif`, refused: no partial results when this was
//! written). What it does not check is checked here: ranges of dates, zero denominators, the number
//! of directory entries before memory is spent on them. Tags and their meaning: CIPA DC-008
//! (EXIF 2.32).

use chrono::{NaiveDate, NaiveDateTime, NaiveTime};
use exif::{Exif, In, Reader, Tag, Value};
use serde::{Deserialize, Serialize};

use super::hint::Hint;
use super::limits::EXIF_ENTRIES;
use super::source::{be16, be32, le16, le32};

/// A local time as a camera wrote it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Stamp {
    /// Date and time to the second.
    pub at: NaiveDateTime,
    /// Digits of the fraction as written, may be empty.
    pub fraction: String,
    /// Offset in the form `+02:00`, from the tag that belongs to this very time.
    pub offset: Option<String>,
}

impl Stamp {
    /// `YYYY-MM-DDThh:mm:ss` with the fraction as written.
    pub fn text(&self) -> String {
        let mut text = self.at.format("%Y-%m-%dT%H:%M:%S").to_string();
        if !self.fraction.is_empty() {
            text.push('.');
            text.push_str(&self.fraction);
        }
        text
    }

    /// Offset in seconds.
    pub fn offset_seconds(&self) -> Option<i64> {
        offset_seconds(self.offset.as_deref()?)
    }
}

/// Where a photograph says it was taken. Private: belongs into a slip, never into a line.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Gps {
    /// Degrees north, decimal with seven places (about a centimetre).
    pub lat: String,
    /// Degrees east, decimal with seven places.
    pub lon: String,
    /// Metres above (or below: negative) the sea, one place; as the camera's own datum.
    pub alt: Option<String>,
    /// Satellite time, `YYYY-MM-DDThh:mm:ss[.f]+00:00`.
    pub time: Option<String>,
}

/// What took a photograph, as it says itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Camera {
    /// Maker, may be empty.
    pub make: String,
    /// Model, may be empty.
    pub model: String,
}

/// What an EXIF block says.
#[derive(Debug, Default, Clone)]
pub(crate) struct Facts {
    /// 1 to 8.
    pub orientation: Option<u8>,
    pub original: Option<Stamp>,
    pub digitized: Option<Stamp>,
    pub modified: Option<Stamp>,
    pub gps: Option<Gps>,
    /// Satellite time even where the position is missing.
    pub gps_time: Option<NaiveDateTime>,
    pub camera: Option<Camera>,
    /// Size from the directory: meaningful for TIFF only.
    pub size: Option<(u32, u32)>,
    /// A DNG version is present.
    pub dng: bool,
    pub hints: Vec<Hint>,
}

/// Reads a block that starts with the TIFF header.
pub(crate) fn read(block: Vec<u8>) -> Facts {
    let mut facts = Facts::default();
    let block = match block.strip_prefix(b"Exif\0\0") {
        // Some writers put the JPEG name in front of it in other containers too.
        Some(rest) => rest.to_vec(),
        None => block,
    };
    if !within_bounds(&block) {
        facts.hints.push(Hint::new(
            "exif_unreadable",
            "its EXIF directory is far larger than any camera writes and was not read",
        ));
        return facts;
    }
    let mut skipped = 0;
    let parsed = Reader::new()
        .continue_on_error(true)
        .read_raw(block)
        .or_else(|e| e.distill_partial_result(|errors| skipped = errors.len()));
    let exif = match parsed {
        Ok(exif) => exif,
        Err(error) => {
            facts.hints.push(Hint::new(
                "exif_unreadable",
                format!("its EXIF could not be read ({error})"),
            ));
            return facts;
        }
    };
    if skipped > 0 {
        facts.hints.push(Hint::new(
            "exif_partly_broken",
            format!("{skipped} broken EXIF entries were left out, the others kept"),
        ));
    }
    fill(&exif, &mut facts);
    facts
}

fn fill(exif: &Exif, facts: &mut Facts) {
    let hints = &mut facts.hints;
    facts.orientation = match uint(exif, Tag::Orientation) {
        Some(n @ 1..=8) => Some(n as u8),
        Some(0) | None => None,
        Some(n) => {
            hints.push(Hint::new(
                "orientation_unknown",
                format!("EXIF orientation {n} does not exist; taken as upright"),
            ));
            None
        }
    };
    facts.original = stamp(
        exif,
        [
            Tag::DateTimeOriginal,
            Tag::SubSecTimeOriginal,
            Tag::OffsetTimeOriginal,
        ],
        hints,
    );
    facts.digitized = stamp(
        exif,
        [
            Tag::DateTimeDigitized,
            Tag::SubSecTimeDigitized,
            Tag::OffsetTimeDigitized,
        ],
        hints,
    );
    facts.modified = stamp(
        exif,
        [Tag::DateTime, Tag::SubSecTime, Tag::OffsetTime],
        hints,
    );
    facts.gps_time = gps_time(exif).map(|(at, _)| at);
    facts.gps = gps(exif, hints);
    let make = text(exif, Tag::Make).unwrap_or_default();
    let model = text(exif, Tag::Model).unwrap_or_default();
    if !(make.is_empty() && model.is_empty()) {
        facts.camera = Some(Camera { make, model });
    }
    facts.size = uint(exif, Tag::ImageWidth).zip(uint(exif, Tag::ImageLength));
    // DNGVersion, Adobe DNG specification 1.4, tag 50706.
    facts.dng = exif
        .get_field(Tag(exif::Context::Tiff, 50706), In::PRIMARY)
        .is_some();
}

fn uint(exif: &Exif, tag: Tag) -> Option<u32> {
    exif.get_field(tag, In::PRIMARY)?.value.get_uint(0)
}

fn ascii(exif: &Exif, tag: Tag) -> Option<&[u8]> {
    match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Ascii(parts) => parts.first().map(Vec::as_slice),
        _ => None,
    }
}

/// A short plain text: control characters out, spaces trimmed, at most 100 characters.
fn text(exif: &Exif, tag: Tag) -> Option<String> {
    let raw = String::from_utf8_lossy(ascii(exif, tag)?).into_owned();
    let clean: String = raw.chars().filter(|c| !c.is_control()).take(100).collect();
    Some(clean.trim().to_owned())
}

/// Numerators and denominators. Some phones write the signed type where the standard asks for the
/// unsigned one; negative numbers make no sense in any of the tags read here.
fn rationals(exif: &Exif, tag: Tag) -> Option<Vec<(u32, u32)>> {
    match &exif.get_field(tag, In::PRIMARY)?.value {
        Value::Rational(parts) => Some(parts.iter().map(|r| (r.num, r.denom)).collect()),
        Value::SRational(parts) => parts
            .iter()
            .map(|r| Some((u32::try_from(r.num).ok()?, u32::try_from(r.denom).ok()?)))
            .collect(),
        _ => None,
    }
}

fn stamp(exif: &Exif, tags: [Tag; 3], hints: &mut Vec<Hint>) -> Option<Stamp> {
    let [time, fraction, offset] = tags;
    let raw = ascii(exif, time)?;
    let at = match date_time(raw) {
        Read::Value(at) => at,
        Read::Blank => return None,
        Read::Bad => {
            hints.push(Hint::new(
                "date_impossible",
                format!(
                    "{time} says {:?}, which is no date; not used",
                    String::from_utf8_lossy(raw.get(..raw.len().min(30)).unwrap_or(raw))
                ),
            ));
            return None;
        }
    };
    let offset = match ascii(exif, offset).map(read_offset) {
        Some(Read::Value(text)) => Some(text),
        Some(Read::Bad) => {
            hints.push(Hint::new(
                "offset_unreadable",
                format!("{offset} is no time offset; not used"),
            ));
            None
        }
        _ => None,
    };
    Some(Stamp {
        at,
        fraction: ascii(exif, fraction).map(digits).unwrap_or_default(),
        offset,
    })
}

enum Read<T> {
    Value(T),
    Blank,
    Bad,
}

/// `YYYY:MM:DD hh:mm:ss`; unknown parts are blanks by the standard, zeros in practice.
fn date_time(raw: &[u8]) -> Read<NaiveDateTime> {
    let trimmed = raw.trim_ascii();
    if trimmed
        .iter()
        .all(|c| matches!(c, b' ' | b':' | b'0' | b'-'))
    {
        return Read::Blank;
    }
    let read = || {
        let (date, time) = (trimmed.get(..10)?, trimmed.get(10..)?);
        let (first, second) = (*date.get(4)?, *date.get(7)?);
        // Some editors write dashes or dots; the order is the same.
        if first != second || !matches!(first, b':' | b'-' | b'.' | b'/') {
            return None;
        }
        let day = NaiveDate::from_ymd_opt(
            i32::try_from(number(date.get(..4)?)?).ok()?,
            number(date.get(5..7)?)?,
            number(date.get(8..)?)?,
        )?;
        let time = time
            .strip_prefix(b" ")
            .or_else(|| time.strip_prefix(b"T"))?;
        let clock = time.get(..8)?;
        if clock.get(2) != Some(&b':') || clock.get(5) != Some(&b':') {
            return None;
        }
        let clock = NaiveTime::from_hms_opt(
            number(clock.get(..2)?)?,
            number(clock.get(3..5)?)?,
            number(clock.get(6..)?)?,
        )?;
        // Cameras with EXIF are younger than 1990, film that was scanned is not; nothing is from the
        // far future.
        (1826..2200)
            .contains(&chrono::Datelike::year(&day))
            .then(|| day.and_time(clock))
    };
    read().map_or(Read::Bad, Read::Value)
}

fn number(digits: &[u8]) -> Option<u32> {
    if digits.is_empty() || !digits.iter().all(u8::is_ascii_digit) {
        return None;
    }
    std::str::from_utf8(digits).ok()?.parse().ok()
}

/// Digits of a fraction as written, at most nine; anything else is no fraction.
fn digits(raw: &[u8]) -> String {
    let trimmed = raw.trim_ascii();
    if trimmed.len() > 9 || !trimmed.iter().all(u8::is_ascii_digit) {
        return String::new();
    }
    String::from_utf8_lossy(trimmed).into_owned()
}

fn read_offset(raw: &[u8]) -> Read<String> {
    let trimmed = raw.trim_ascii();
    if trimmed.iter().all(|c| matches!(c, b' ' | b':')) {
        return Read::Blank;
    }
    let text = String::from_utf8_lossy(trimmed).into_owned();
    match offset_seconds(&text) {
        Some(_) => Read::Value(text),
        None => Read::Bad,
    }
}

/// Seconds of `±hh:mm`; offsets run from −12:00 to +14:00.
pub(crate) fn offset_seconds(text: &str) -> Option<i64> {
    let bytes = text.as_bytes();
    let sign = match bytes.first()? {
        b'+' => 1,
        b'-' => -1,
        _ => return None,
    };
    if bytes.len() != 6 || bytes.get(3) != Some(&b':') {
        return None;
    }
    let hours = number(bytes.get(1..3)?)?;
    let minutes = number(bytes.get(4..6)?)?;
    let seconds = sign * i64::from(hours * 3600 + minutes * 60);
    (minutes < 60 && (-12 * 3600..=14 * 3600).contains(&seconds)).then_some(seconds)
}

/// Satellite time and the digits of its fraction.
fn gps_time(exif: &Exif) -> Option<(NaiveDateTime, String)> {
    let mut day = ascii(exif, Tag::GPSDateStamp)?.trim_ascii().to_vec();
    day.extend_from_slice(b" 00:00:00");
    let Read::Value(day) = date_time(&day) else {
        return None;
    };
    let parts = rationals(exif, Tag::GPSTimeStamp)?;
    let &[hours, minutes, (num, denom)] = parts.get(..3)? else {
        return None;
    };
    let whole = |(num, denom): (u32, u32)| (num.checked_rem(denom)? == 0).then(|| num / denom);
    let nanos = (u64::from(num) * 1_000_000_000).checked_div(u64::from(denom))?;
    let clock = NaiveTime::from_hms_nano_opt(
        whole(hours)?,
        whole(minutes)?,
        u32::try_from(nanos / 1_000_000_000).ok()?,
        (nanos % 1_000_000_000) as u32,
    )?;
    let fraction = format!("{:09}", nanos % 1_000_000_000);
    Some((
        day.date().and_time(clock),
        fraction.trim_end_matches('0').to_owned(),
    ))
}

fn gps(exif: &Exif, hints: &mut Vec<Hint>) -> Option<Gps> {
    let present = exif.get_field(Tag::GPSLatitude, In::PRIMARY).is_some()
        || exif.get_field(Tag::GPSLongitude, In::PRIMARY).is_some();
    if !present {
        return None;
    }
    let lat = degrees(
        exif,
        Tag::GPSLatitude,
        Tag::GPSLatitudeRef,
        [b'N', b'S'],
        90.0,
    );
    let lon = degrees(
        exif,
        Tag::GPSLongitude,
        Tag::GPSLongitudeRef,
        [b'E', b'W'],
        180.0,
    );
    let (Some(lat), Some(lon)) = (lat, lon) else {
        hints.push(Hint::new(
            "position_unusable",
            "its position is empty or out of range; not used",
        ));
        return None;
    };
    // Exactly 0, 0 is what receivers without a fix write, and open sea.
    if lat == 0.0 && lon == 0.0 {
        hints.push(Hint::new(
            "position_unusable",
            "its position is 0, 0, which is what a receiver without a fix writes; not used",
        ));
        return None;
    }
    let alt = rationals(exif, Tag::GPSAltitude)
        .and_then(|parts| parts.first().copied())
        .filter(|&(_, denom)| denom != 0)
        .map(|(num, denom)| {
            // Byte 1: below the sea (CIPA DC-008, GPSAltitudeRef).
            let below = uint(exif, Tag::GPSAltitudeRef) == Some(1);
            let metres = f64::from(num) / f64::from(denom);
            format!("{:.1}", if below { -metres } else { metres })
        });
    let time = gps_time(exif).map(|(at, fraction)| {
        let dot = if fraction.is_empty() { "" } else { "." };
        format!("{}{dot}{fraction}+00:00", at.format("%Y-%m-%dT%H:%M:%S"))
    });
    Some(Gps {
        lat: format!("{lat:.7}"),
        lon: format!("{lon:.7}"),
        alt,
        time,
    })
}

fn degrees(exif: &Exif, value: Tag, side: Tag, names: [u8; 2], most: f64) -> Option<f64> {
    let parts = rationals(exif, value)?;
    if parts.is_empty() || parts.len() > 3 || parts.iter().any(|&(_, denom)| denom == 0) {
        return None;
    }
    let mut sum = 0.0;
    for (&(num, denom), unit) in parts.iter().zip([1.0, 60.0, 3600.0]) {
        sum += f64::from(num) / f64::from(denom) / unit;
    }
    // Without its side a number could be on either half of the globe: not used.
    let side = ascii(exif, side)?.first()?.to_ascii_uppercase();
    let signed = match names {
        [plus, _] if side == plus => sum,
        [_, minus] if side == minus => -sum,
        _ => return None,
    };
    (sum <= most).then_some(signed)
}

/// True if the directories together stay below [`EXIF_ENTRIES`]: overlapping directories could
/// otherwise make gigabytes of a 64 KiB block. Follows the same links as the reader.
fn within_bounds(block: &[u8]) -> bool {
    let little = block.starts_with(b"II");
    let short = |at: usize| {
        if little {
            le16(block, at)
        } else {
            be16(block, at)
        }
    };
    let long = |at: usize| {
        if little {
            le32(block, at)
        } else {
            be32(block, at)
        }
    };
    let mut waiting: Vec<usize> = long(4).map(|n| n as usize).into_iter().collect();
    let mut seen = std::collections::HashSet::new();
    let mut entries = 0usize;
    while let Some(start) = waiting.pop() {
        if start == 0 || !seen.insert(start) {
            continue;
        }
        let Some(count) = short(start) else { continue };
        let room = block.len().saturating_sub(start + 2) / 12;
        let count = usize::from(count).min(room);
        entries += count + 1;
        if entries > EXIF_ENTRIES {
            return false;
        }
        for n in 0..count {
            let at = start + 2 + n * 12;
            // Pointers to the EXIF, GPS and interoperability directories.
            if matches!(short(at), Some(0x8769 | 0x8825 | 0xA005))
                && let Some(to) = long(at + 8)
            {
                // A pointer counts like a thousand entries: nobody needs ten of them.
                entries += 1000;
                // A pointer that claims many values would be copied again and again.
                if long(at + 4) > Some(65_536) {
                    return false;
                }
                waiting.push(to as usize);
            }
        }
        if let Some(next) = long(start + 2 + count * 12) {
            waiting.push(next as usize);
        }
    }
    true
}
