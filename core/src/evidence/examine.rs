//! What a file is and what it says of itself, in one look that never fails on odd bytes: whatever
//! cannot be understood is stored and hashed all the same.

use std::io;

use serde::{Deserialize, Serialize};

use super::exif::{self, Camera, Facts, Gps};
use super::hint::Hint;
use super::limits::{PHOTO_PIXELS, TIFF_BYTES};
use super::media::Media;
use super::sniff::{HEAD, sniff};
use super::source::Source;
use super::{clocks, heic, jpeg, raster, sound};
use crate::photo::orient::Orientation;
use crate::world::ReadFile;
use crate::{Error, Result};

/// When something was observed, as the file itself says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Seen {
    /// Local time `YYYY-MM-DDThh:mm:ss`, with the fraction as the camera wrote it.
    pub time: String,
    /// `±hh:mm` from the tag that belongs to this very time; null if the camera wrote none.
    pub offset: Option<String>,
    /// `exif original`, or `exif digitized` where there is no original time.
    pub from: String,
}

/// Whether a file reaches its own end.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Complete {
    /// It does.
    Yes,
    /// It does not; why.
    No(String),
    /// This type of file is not checked.
    NotChecked,
}

/// What was found out about a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Examined {
    /// Media type by content.
    pub media: Media,
    /// Width in pixels as stored, before any rotation; 0 if unknown.
    pub width: u32,
    /// Height in pixels as stored.
    pub height: u32,
    /// How to turn it, 1 to 8 as in EXIF; 1 if nothing says otherwise. For HEIC and AVIF the
    /// container's rotation, which is the one that counts.
    pub orientation: u8,
    /// When it was taken, if it says so.
    pub seen: Option<Seen>,
    /// Where it was taken. Private.
    pub gps: Option<Gps>,
    /// What took it.
    pub camera: Option<Camera>,
    /// Whether it is whole.
    pub complete: Complete,
    /// The `picture` digest (see [`super::picture`]), JPEG only.
    pub picture: Option<String>,
    /// Length of a recording in milliseconds.
    pub length_ms: Option<u64>,
    /// More than one picture in turn; only the first is shown.
    pub animated: bool,
    /// Things worth a second look.
    pub hints: Vec<Hint>,
}

/// Examines a file of `len` bytes. `name` is what it was called: it decides nothing, but a name that
/// contradicts the content is a hint.
///
/// Memory stays below a few megabytes, but for TIFF, of which up to 16 MB are read.
///
/// # Errors
/// Only a failure to read the file.
pub fn examine(reader: &mut dyn ReadFile, len: u64, name: &str) -> Result<Examined> {
    look(reader, len, name).map_err(|error| Error::io(&error, name))
}

fn look(reader: &mut dyn ReadFile, len: u64, name: &str) -> io::Result<Examined> {
    let mut source = Source::new(reader, len)?;
    let media = sniff(source.window(HEAD)?);
    let mut found = Examined {
        media,
        width: 0,
        height: 0,
        orientation: 1,
        seen: None,
        gps: None,
        camera: None,
        complete: Complete::NotChecked,
        picture: None,
        length_ms: None,
        animated: false,
        hints: Vec::new(),
    };
    match media {
        Media::Jpg => {
            let walk = jpeg::walk(&mut source)?;
            (found.width, found.height) = (walk.width, walk.height);
            found.complete = complete(walk.broken);
            found.picture = walk.picture;
            if walk.behind > 0 {
                found.hints.push(Hint::new(
                    "more_behind_picture",
                    format!(
                        "{} bytes follow the picture (a second picture, a brightness map or a film)",
                        walk.behind
                    ),
                ));
            }
            say(&mut found, walk.exif, None);
        }
        Media::Png | Media::Webp | Media::Gif => {
            let raster = match media {
                Media::Png => raster::png(&mut source)?,
                Media::Webp => raster::webp(&mut source)?,
                _ => raster::gif(&mut source)?,
            };
            (found.width, found.height) = raster.size.unwrap_or_default();
            found.complete = complete(raster.broken);
            found.animated = raster.animated;
            if raster.animated {
                found.hints.push(Hint::new(
                    "animated",
                    "it moves; only its first picture is shown",
                ));
            }
            say(&mut found, raster.exif, None);
        }
        Media::Heic | Media::Avif => {
            let top = heic::top(&mut source)?;
            let mut broken = top.broken;
            match top.meta {
                Some(meta) => {
                    let still = heic::still(&mut source, &meta)?;
                    broken = broken.or(still.broken);
                    (found.width, found.height) = still.size.unwrap_or_default();
                    say(&mut found, still.exif, Some(still.turned));
                }
                None => broken = broken.or(Some("it has no directory of its pictures")),
            }
            found.complete = complete(broken);
        }
        Media::M4a | Media::Mp4 => film(&mut source, &mut found)?,
        Media::Tif => {
            source.seek(0)?;
            let block = source.take(TIFF_BYTES)?;
            let facts = exif::read(block);
            (found.width, found.height) = facts.size.unwrap_or_default();
            if facts.dng {
                found.media = Media::Dng;
            }
            tell(&mut found, facts, None);
        }
        Media::Wav => heard(&mut found, sound::wav(&mut source)?),
        Media::Aac => heard(&mut found, sound::adts(&mut source)?),
        Media::Ogg => heard(&mut found, sound::ogg(&mut source)?),
        Media::Pdf => {
            // The mark of the end stands in the last kilobyte (ISO 32000-1, annex H, note 18).
            source.seek(len.saturating_sub(1024))?;
            let tail = source.take(1024)?;
            let ended = tail.windows(5).any(|w| w == b"%%EOF");
            found.complete = complete((!ended).then_some("the file ends before the document does"));
        }
        Media::Dng | Media::Txt | Media::Bin => {}
    }
    name_against_content(&mut found, name);
    if u64::from(found.width) * u64::from(found.height) > PHOTO_PIXELS {
        found.hints.push(Hint::new(
            "too_many_pixels",
            format!(
                "{} × {} pixels are more than the limit of {} megapixels: it is kept, but cannot be shown",
                found.width,
                found.height,
                PHOTO_PIXELS / 1_000_000
            ),
        ));
    }
    Ok(found)
}

fn complete(broken: Option<&str>) -> Complete {
    broken.map_or(Complete::Yes, |why| Complete::No(why.to_owned()))
}

fn heard(found: &mut Examined, sound: sound::Sound) {
    found.length_ms = sound.length_ms;
    found.complete = complete(sound.broken);
}

fn film(source: &mut Source<'_>, found: &mut Examined) -> io::Result<()> {
    let top = heic::top(source)?;
    let Some(moov) = top.moov else {
        found.complete = Complete::No(
            "the recording was not closed and has no index; most players cannot open it".to_owned(),
        );
        return Ok(());
    };
    found.complete = complete(top.broken);
    let recording = heic::recording(&moov);
    found.length_ms = recording.length_ms;
    if recording.has_picture {
        found.media = Media::Mp4;
    } else if recording.has_sound {
        found.media = Media::M4a;
    }
    Ok(())
}

fn say(found: &mut Examined, block: Option<Vec<u8>>, container: Option<Option<Orientation>>) {
    let facts = block.map(exif::read).unwrap_or_default();
    tell(found, facts, container);
}

/// Fills in what EXIF says. `container` is given for formats whose own rotation counts.
fn tell(found: &mut Examined, facts: Facts, container: Option<Option<Orientation>>) {
    let mut clocks = clocks::compare(&facts);
    found.hints.extend(facts.hints);
    found.hints.append(&mut clocks);
    match container {
        None => found.orientation = facts.orientation.unwrap_or(1),
        Some(turned) => {
            let turned = turned.unwrap_or(Orientation::UPRIGHT).code();
            found.orientation = turned;
            match facts.orientation {
                Some(said) if said != 1 && said == turned => found.hints.push(Hint::new(
                    "double_rotation",
                    "both its container and its EXIF say how to turn it; it is turned once",
                )),
                Some(said) if said != turned => found.hints.push(Hint::new(
                    "orientation_disagrees",
                    format!(
                        "its container says orientation {turned}, its EXIF {said}; the container's counts"
                    ),
                )),
                _ => {}
            }
        }
    }
    found.seen = facts
        .original
        .map(|stamp| (stamp, "exif original"))
        .or_else(|| facts.digitized.map(|stamp| (stamp, "exif digitized")))
        .map(|(stamp, from)| Seen {
            time: stamp.text(),
            offset: stamp.offset,
            from: from.to_owned(),
        });
    if found.seen.is_none() && facts.modified.is_some() {
        // When a file was last changed says nothing about when the picture was taken.
        found.hints.push(Hint::new(
            "only_changed_time",
            "it says when it was last changed, but not when it was taken",
        ));
    }
    found.gps = facts.gps;
    found.camera = facts.camera;
}

fn name_against_content(found: &mut Examined, name: &str) {
    let Some((_, extension)) = name.rsplit_once('.') else {
        return;
    };
    let Some(named) = Media::from_extension(extension) else {
        return;
    };
    // A TIFF may be a negative, an MPEG-4 file of either kind: no contradiction.
    let same =
        |a: Media, b: Media| matches!((a, b), (Media::Tif, Media::Dng) | (Media::M4a, Media::Mp4));
    let fits = named == found.media || same(named, found.media) || same(found.media, named);
    if !fits && !matches!((named, found.media), (Media::Txt, Media::Bin)) {
        found.hints.push(Hint::new(
            "name_differs",
            format!(
                "it is called .{} but its content is {}",
                extension.to_ascii_lowercase(),
                match found.media {
                    Media::Bin => "nothing that is known here".to_owned(),
                    Media::Txt => "plain text".to_owned(),
                    media => media.extension().to_uppercase(),
                }
            ),
        ));
    }
}
