//! What the evidence path accepts at most. Each limit is checked before anything is allocated for
//! it, and named in the message that a person sees.

use crate::{Error, ErrorKind, Result};

/// Largest photo or paper file, in bytes (300 MB, decimal as file managers show it).
pub const PHOTO_BYTES: u64 = 300_000_000;
/// Most pixels of a picture that is decoded (250 megapixels).
pub const PHOTO_PIXELS: u64 = 250_000_000;
/// Longest recording, in milliseconds (two hours).
pub const VOICE_MS: u64 = 2 * 60 * 60 * 1000;
/// Largest recording, in bytes: two hours of 48 kHz 16-bit stereo WAV are 1.4 GB.
pub const VOICE_BYTES: u64 = 1_500_000_000;
/// Largest EXIF block that is read; a JPEG segment cannot carry more than 64 KiB, other containers can.
pub const EXIF_BYTES: u64 = 1 << 20;
/// Largest part of a TIFF file that is searched for its directory.
pub const TIFF_BYTES: u64 = 16 << 20;
/// Most entries in all EXIF directories together; phones write about 100.
pub const EXIF_ENTRIES: usize = 10_000;
/// Largest index box (`meta`, `moov`) of an HEIC or MP4 file that is read.
pub const BOX_BYTES: u64 = 4 << 20;

/// Refuses a photo or paper file past [`PHOTO_BYTES`], before a byte of it is copied.
pub fn check_photo_bytes(len: u64, place: &str) -> Result<()> {
    check(len, PHOTO_BYTES, "300 MB for a photo", place)
}

/// Refuses a recording past [`VOICE_BYTES`].
pub fn check_voice_bytes(len: u64, place: &str) -> Result<()> {
    check(len, VOICE_BYTES, "1.5 GB for a recording", place)
}

fn check(len: u64, limit: u64, named: &str, place: &str) -> Result<()> {
    if len <= limit {
        return Ok(());
    }
    Err(Error::new(
        ErrorKind::TooLarge,
        format!("{len} bytes are more than the limit of {named}; the file stays where it is"),
    )
    .at(place)
    .hint("make a smaller copy and add that"))
}
