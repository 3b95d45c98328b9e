//! One decode of a photo on its way in, and all that is made of it: two previews, sharpness,
//! exposure, the signs by which near-copies are found.

use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder, RgbImage};
use serde::{Deserialize, Serialize};

use super::Progress;
use super::decode::{Limits, at_most, unturned};
use super::nearly::signs;
use super::orient::Orientation;
use super::quality::{Exposure, Sharpness, brightness, exposure, sharpness};
use crate::evidence::{Complete, Examined};
use crate::world::ReadFile;
use crate::{Error, ErrorKind, Result};

/// Longer side of the small preview at most, in pixels.
pub const SMALL: u32 = 320;
/// Longer side of the large preview at most.
pub const LARGE: u32 = 1024;
/// Longer side of the large preview at least, where the photo has it: what lies between lets 12
/// megapixels be decoded at a quarter (1000 pixels) instead of at half.
pub const LARGE_LEAST: u32 = 768;
/// Quality of the previews; derived files, made again at any time.
const QUALITY: u8 = 82;

/// A preview: a JPEG file without any metadata, upright.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Preview {
    /// The file.
    pub jpeg: Vec<u8>,
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
}

/// What was made of a photo.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct View {
    /// At most [`SMALL`].
    pub small: Preview,
    /// At most [`LARGE`].
    pub large: Preview,
    /// How sharp.
    pub sharpness: Sharpness,
    /// How lit.
    pub exposure: Exposure,
    /// Signs for finding near-copies, see [`super::nearly`].
    pub signs: u64,
}

/// Outcome of [`intake`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Intake {
    /// None if the picture cannot be shown here; the file is kept all the same.
    pub view: Option<View>,
    /// Why there is no view, or what is odd about it.
    pub says: Option<Odd>,
}

/// Something a person should know about a photo's view.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Odd {
    /// Stable code: `not_decodable`, `too_large`, `partly_shown`, `first_picture_only`.
    pub code: String,
    /// In plain words.
    pub says: String,
}

/// Decodes once and makes everything that intake needs. `what` comes from
/// [`crate::evidence::examine`] of the same file.
///
/// # Errors
/// Only `Cancelled` and failures of reading: a picture that cannot be shown is an answer.
pub fn intake(
    file: &mut dyn ReadFile,
    what: &Examined,
    limits: &Limits,
    progress: &Progress,
) -> Result<Intake> {
    let raw = match unturned(file, what, Some(LARGE_LEAST), limits, progress) {
        Ok(raw) => raw,
        Err(error) if matches!(error.kind, ErrorKind::BadFormat | ErrorKind::TooLarge) => {
            let code = if error.kind == ErrorKind::TooLarge {
                "too_large"
            } else {
                "not_decodable"
            };
            return Ok(Intake {
                view: None,
                says: Some(Odd {
                    code: code.to_owned(),
                    says: error.what,
                }),
            });
        }
        Err(error) => return Err(error),
    };
    progress.set_done(700);
    progress.check()?;
    let shown = at_most(&raw.rgb, LARGE);
    drop(raw.rgb);
    let grey = brightness(&shown);
    let sharpness = sharpness(&grey, shown.width() as usize);
    let exposure = exposure(&grey);
    progress.check()?;
    // Turned after shrinking: a twelfth of the pixels.
    let large = turned(shown, what.orientation)?;
    let small = at_most(&large, SMALL);
    let view = View {
        signs: signs(&small),
        small: preview(&small)?,
        large: preview(&large)?,
        sharpness,
        exposure,
    };
    progress.set_done(1000);
    let odd = |code: &str, says: &str| Odd {
        code: code.to_owned(),
        says: says.to_owned(),
    };
    let says = if raw.partial || matches!(what.complete, Complete::No(_)) {
        Some(odd(
            "partly_shown",
            "the file is cut short or damaged; what can be decoded is shown, the rest is grey",
        ))
    } else if what.animated {
        Some(odd(
            "first_picture_only",
            "it moves; its first picture is shown",
        ))
    } else {
        None
    };
    Ok(Intake {
        view: Some(view),
        says,
    })
}

fn turned(picture: RgbImage, orientation: u8) -> Result<RgbImage> {
    let turn = Orientation::from_code(orientation);
    if turn == Orientation::UPRIGHT {
        return Ok(picture);
    }
    let (width, height) = picture.dimensions();
    let pixels = turn.turn::<3>(picture.as_raw(), width, height);
    let (width, height) = turn.size(width, height);
    RgbImage::from_raw(width, height, pixels)
        .ok_or_else(|| Error::new(ErrorKind::BadFormat, "the picture could not be turned"))
}

fn preview(picture: &RgbImage) -> Result<Preview> {
    let mut jpeg = Vec::with_capacity(picture.len() / 8);
    JpegEncoder::new_with_quality(&mut jpeg, QUALITY)
        .write_image(
            picture.as_raw(),
            picture.width(),
            picture.height(),
            ExtendedColorType::Rgb8,
        )
        .map_err(|e| {
            Error::new(
                ErrorKind::Io,
                format!("the preview could not be written: {e}"),
            )
        })?;
    Ok(Preview {
        jpeg,
        width: picture.width(),
        height: picture.height(),
    })
}
