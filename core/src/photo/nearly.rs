//! Are two photos nearly the same picture (a burst, a copy sent through a messenger)? A hint for the
//! eye: two photos of one place a year apart may be nearly the same on purpose.

use image::RgbImage;

use super::quality::brightness;
use super::shrink::shrink;

/// Up to this many of 64 signs may differ.
pub const NEARLY: u32 = 8;

/// 64 signs of brightness steps from left to right on a grid of 9 × 8 ("difference hash"), of the
/// upright picture. First bit: top left.
pub fn signs(picture: &RgbImage) -> u64 {
    if picture.width() < 9 || picture.height() < 8 {
        return 0;
    }
    let grey = brightness(&shrink(picture, 9, 8));
    let mut bits = 0u64;
    for row in grey.chunks_exact(9) {
        for pair in row.windows(2) {
            bits = bits << 1 | u64::from(matches!(pair, [a, b] if a > b));
        }
    }
    bits
}

/// How many signs differ, 0 to 64.
pub fn distance(a: u64, b: u64) -> u32 {
    (a ^ b).count_ones()
}

/// True for pictures that look the same at a glance. A hash of zero (a blank or tiny picture) is
/// like nothing.
pub fn nearly_same(a: u64, b: u64) -> bool {
    a != 0 && b != 0 && distance(a, b) <= NEARLY
}
