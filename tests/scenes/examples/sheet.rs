//! Draws every demo photo and tiles them: `--example sheet -- OUT.png [WORD]`; with a word, only
//! those whose name holds it, at full size.

use std::error::Error;
use std::time::Instant;
use witnessmark_scenes::demo;

fn main() -> Result<(), Box<dyn Error>> {
    let out = std::env::args().nth(1).ok_or("where to, please: OUT.png")?;
    let word = std::env::args().nth(2);
    let start = Instant::now();
    let shots: Vec<demo::Shot> = demo::shots()
        .into_iter()
        .filter(|s| word.as_ref().is_none_or(|w| s.key.contains(w.as_str())))
        .collect();
    let columns = if word.is_some() { 2 } else { 6 };
    let (w, h) = if word.is_some() {
        (800, 600)
    } else {
        (400, 300)
    };
    let rows = shots.len().div_ceil(columns) as u32;
    let mut sheet = image::RgbImage::new(columns as u32 * w, rows * h);
    for (i, shot) in shots.iter().enumerate() {
        let photo = shot.draw();
        let picture = image::load_from_memory(&photo.jpeg)?;
        let small = picture
            .resize_exact(w, h, image::imageops::FilterType::Triangle)
            .into_rgb8();
        image::imageops::replace(
            &mut sheet,
            &small,
            i64::from((i % columns) as u32 * w),
            i64::from((i / columns) as u32 * h),
        );
    }
    sheet.save(&out)?;
    println!(
        "{} photos in {:.1} s, tiles in {out}",
        shots.len(),
        start.elapsed().as_secs_f64()
    );
    Ok(())
}
