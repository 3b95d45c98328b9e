//! Drawn pictures as JPEG files with EXIF, as a phone would hand them over.

use crate::exif::{Exif, segment};
use crate::random_scenes::crack_setup;
use crate::random_views::view_pair_setup;
use crate::scene::Rendered;
use image::{DynamicImage, ExtendedColorType, ImageEncoder, RgbImage, codecs::jpeg::JpegEncoder};

/// The pixels as a camera stores them so that this EXIF orientation shows them upright.
fn stored(upright: &RgbImage, orientation: u16) -> RgbImage {
    let picture = DynamicImage::ImageRgb8(upright.clone());
    // Each undoes what a viewer does for that value (Exif 2.32, tag 0x0112).
    match orientation {
        2 => picture.fliph(),
        3 => picture.rotate180(),
        4 => picture.flipv(),
        5 => picture.rotate90().fliph(),
        6 => picture.rotate270(),
        7 => picture.rotate270().fliph(),
        8 => picture.rotate90(),
        _ => picture,
    }
    .into_rgb8()
}

/// A JPEG file with EXIF, quality 90. Empty only if the encoder fails, which it does for pictures
/// over 65,535 pixels a side.
pub fn encode_jpeg(rendered: &Rendered, exif: &Exif) -> Vec<u8> {
    encode_rgb(&rendered.rgb, exif, 90)
}

/// The same for any picture and quality (1 to 100).
pub fn encode_rgb(upright: &RgbImage, exif: &Exif, quality: u8) -> Vec<u8> {
    let pixels = stored(upright, exif.orientation);
    let mut plain = Vec::new();
    let encoder = JpegEncoder::new_with_quality(&mut plain, quality);
    let done = encoder.write_image(
        pixels.as_raw(),
        pixels.width(),
        pixels.height(),
        ExtendedColorType::Rgb8,
    );
    if done.is_err() || plain.len() < 2 {
        return Vec::new();
    }
    let payload = segment(exif, pixels.width(), pixels.height());
    // Exif 2.32, 4.5.4: the segment follows the start of image directly.
    let mut out = plain[..2].to_vec();
    out.extend([0xff, 0xe1]);
    out.extend(((payload.len() + 2) as u16).to_be_bytes());
    out.extend(payload);
    out.extend(&plain[2..]);
    out
}

/// A 12 megapixel picture (4000 x 3000) of drawn sheet metal with fine texture and noise, as a
/// JPEG for benchmarks of intake.
pub fn make_large_jpeg(seed: u64) -> Vec<u8> {
    let size = [4000, 3000];
    let rendered = if seed.is_multiple_of(2) {
        crack_setup(seed, true, size).render()
    } else {
        let [setup, _] = view_pair_setup(seed, size);
        setup.render()
    };
    let exif = Exif::demo("Large", "2026:05:03 09:10:00", "+02:00", "125");
    encode_jpeg(&rendered, &exif)
}
