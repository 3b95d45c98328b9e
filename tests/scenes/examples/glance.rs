//! Draws a few of the random scenes into a folder, with what it took: `--example glance -- DIR`.

use std::error::Error;
use std::path::PathBuf;
use std::time::Instant;
use witnessmark_scenes::random_scenes::{self as scenes, TEST_SIZE};
use witnessmark_scenes::random_views as views;

fn main() -> Result<(), Box<dyn Error>> {
    let dir = PathBuf::from(std::env::args().nth(1).ok_or("a folder, please")?);
    std::fs::create_dir_all(&dir)?;
    for seed in 0..4 {
        let start = Instant::now();
        let pair = views::random_view_pair(seed, TEST_SIZE);
        let pictures = [
            ("card", scenes::random_card_scene(seed, TEST_SIZE)),
            ("crack", scenes::random_crack_scene(seed, false, TEST_SIZE)),
            ("seam", scenes::random_crack_scene(seed, true, TEST_SIZE)),
            ("stain", scenes::random_stain_scene(seed, TEST_SIZE)),
            ("older", pair.older),
            ("newer", pair.newer),
        ];
        println!(
            "seed {seed}: {:.2} s a picture; pair off by {:.2} px",
            start.elapsed().as_secs_f64() / 6.0,
            pair.truth.worst_px
        );
        for (name, picture) in pictures {
            picture.rgb.save(dir.join(format!("{name}-{seed}.png")))?;
        }
    }
    Ok(())
}
