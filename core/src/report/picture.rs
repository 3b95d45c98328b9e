//! Small copies of photographs for a page: upright, at most 900 pixels long, JPEG in the page itself.

use std::io::Cursor;
use std::path::Path;

use image::{DynamicImage, ImageReader, Limits, metadata::Orientation};

use crate::world::Files;

/// Long side in pixels.
const LONG_SIDE: u32 = 900;
/// Memory that one decode may take.
const DECODE_MEMORY: u64 = 256 << 20;
/// Largest side accepted.
const LARGEST_SIDE: u32 = 30_000;

/// A data address of the copy; `None` where the file is not here or cannot be decoded.
pub(super) fn data_address(files: &dyn Files, path: &Path, orientation: u8) -> Option<String> {
    let bytes = files.read(path, crate::evidence::store::PHOTO_LIMIT).ok()?;
    // Decoders meet hostile bytes here; one that panics costs a picture, not the page.
    let jpeg = std::panic::catch_unwind(|| small_copy(&bytes, orientation)).ok()??;
    Some(format!(
        "data:image/jpeg;base64,{}",
        data_encoding::BASE64.encode(&jpeg)
    ))
}

fn small_copy(bytes: &[u8], orientation: u8) -> Option<Vec<u8>> {
    let mut reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .ok()?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(DECODE_MEMORY);
    limits.max_image_width = Some(LARGEST_SIDE);
    limits.max_image_height = Some(LARGEST_SIDE);
    reader.limits(limits);
    let mut image: DynamicImage = reader.decode().ok()?.thumbnail(LONG_SIDE, LONG_SIDE);
    if let Some(orientation) = Orientation::from_exif(orientation) {
        image.apply_orientation(orientation);
    }
    let mut out = Vec::new();
    let encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut out, 78);
    image.to_rgb8().write_with_encoder(encoder).ok()?;
    Some(out)
}
