//! Smooth random textures on the plane, band-limited to what a pixel can show.

use crate::random::{LATTICE_X, LATTICE_Y, mix};

/// Value noise with a wavelength of about one unit, between -1 and 1.
pub fn value(x: f64, y: f64, seed: u64) -> f32 {
    let (value, _) = value_and_slope(x, y, seed);
    value
}

/// [`value`] with its rise a unit to the right and a unit downwards.
#[inline(always)]
pub fn value_and_slope(x: f64, y: f64, seed: u64) -> (f32, [f32; 2]) {
    // Truncation and a correction: `floor` is a library call on the plainest x86-64.
    let ix = x as i64 - i64::from(x < 0.0);
    let iy = y as i64 - i64::from(y < 0.0);
    let (u, v) = ((x - ix as f64) as f32, (y - iy as f64) as f32);
    let rise = [6.0 * u * (1.0 - u), 6.0 * v * (1.0 - v)];
    let (u, v) = (u * u * (3.0 - 2.0 * u), v * v * (3.0 - 2.0 * v));
    let key = (ix as u64)
        .wrapping_mul(LATTICE_X)
        .wrapping_add((iy as u64).wrapping_mul(LATTICE_Y))
        .wrapping_add(seed);
    let corner = |key: u64| (mix(key) >> 40) as i32 as f32;
    let right = key.wrapping_add(LATTICE_X);
    let below = key.wrapping_add(LATTICE_Y);
    let (a, b) = (corner(key), corner(right));
    let (c, d) = (corner(below), corner(right.wrapping_add(LATTICE_Y)));
    let (top, low) = (a + (b - a) * u, c + (d - c) * u);
    const SCALE: f32 = 1.0 / 8_388_608.0;
    (
        (top + (low - top) * v) * SCALE - 1.0,
        [
            rise[0] * ((b - a) * (1.0 - v) + (d - c) * v) * SCALE,
            rise[1] * (low - top) * SCALE,
        ],
    )
}

/// Several octaves of [`value`], the longest with this wavelength in millimetres, each next half
/// as long and `keep` times as strong. Octaves shorter than two pixels are left out, as a lens
/// and a pixel would average them away.
pub fn octaves(
    at: [f64; 2],
    wavelength: f64,
    count: u32,
    keep: f32,
    footprint: f64,
    seed: u64,
) -> f32 {
    let (mut rate, mut strength, mut sum) = (1.0 / wavelength, 1.0f32, 0.0f32);
    let mut pixels = (wavelength / footprint) as f32;
    for octave in 0..count {
        let fade = (0.5 * (pixels - 1.0)).clamp(0.0, 1.0);
        if fade <= 0.0 {
            break;
        }
        let salt = seed.wrapping_add(u64::from(octave).wrapping_mul(0x51_7c_c1_b7));
        sum += strength * fade * value(at[0] * rate, at[1] * rate, salt);
        rate *= 2.0;
        pixels *= 0.5;
        strength *= keep;
    }
    sum
}
