//! Smooth random textures on the plane, band-limited to what a pixel can show.

use crate::random::lattice;

fn corner(x: i64, y: i64, seed: u64) -> f32 {
    (lattice(x, y, seed) >> 40) as f32 / 8_388_608.0 - 1.0
}

/// Value noise with a wavelength of about one unit, between -1 and 1.
pub fn value(x: f64, y: f64, seed: u64) -> f32 {
    let (fx, fy) = (x.floor(), y.floor());
    let (ix, iy) = (fx as i64, fy as i64);
    let (u, v) = ((x - fx) as f32, (y - fy) as f32);
    let (u, v) = (u * u * (3.0 - 2.0 * u), v * v * (3.0 - 2.0 * v));
    let top = corner(ix, iy, seed) * (1.0 - u) + corner(ix + 1, iy, seed) * u;
    let low = corner(ix, iy + 1, seed) * (1.0 - u) + corner(ix + 1, iy + 1, seed) * u;
    top * (1.0 - v) + low * v
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
    let (mut length, mut strength, mut sum) = (wavelength, 1.0f32, 0.0f32);
    for octave in 0..count {
        let fade = ((length / footprint - 1.0) / 2.0).clamp(0.0, 1.0) as f32;
        if fade <= 0.0 {
            break;
        }
        let salt = seed.wrapping_add(u64::from(octave).wrapping_mul(0x51_7c_c1_b7));
        sum += strength * fade * value(at[0] / length, at[1] / length, salt);
        length *= 0.5;
        strength *= keep;
    }
    sum
}
