//! Draws a photo-like JPEG of any size for benchmarks: soft shapes, edges and sensor noise from a
//! fixed seed. `cargo run --release -p witnessmark-core --example draw -- WIDTH HEIGHT FILE`

use std::error::Error;

use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage};

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let mut next = || words.next().ok_or("usage: draw WIDTH HEIGHT FILE");
    let (width, height, path) = (next()?.parse::<u32>()?, next()?.parse::<u32>()?, next()?);
    // xorshift: enough for noise, the same everywhere
    let mut state = 0x9E37_79B9_7F4A_7C15u64;
    let mut noise = move || {
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        (state >> 40) as f64 / f64::from(1 << 24) - 0.5
    };
    let picture = RgbImage::from_fn(width, height, |x, y| {
        let (u, v) = (
            f64::from(x) / f64::from(width),
            f64::from(y) / f64::from(height),
        );
        let soft = 0.5 + 0.2 * (9.0 * u + 4.0 * v).sin() + 0.15 * (23.0 * u * v).cos();
        let rivet = ((u * 40.0).fract() - 0.5).hypot((v * 30.0).fract() - 0.5) < 0.12;
        let light = soft - if rivet { 0.2 } else { 0.0 };
        let grain = noise() * 14.0;
        Rgb([0.9, 1.0, 0.8].map(|c| (light * c * 255.0 + grain).clamp(0.0, 255.0) as u8))
    });
    let mut out = std::io::BufWriter::new(std::fs::File::create(path)?);
    JpegEncoder::new_with_quality(&mut out, 90).encode_image(&picture)?;
    Ok(())
}
