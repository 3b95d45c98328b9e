//! Writes N of each kind of scene with their truth, for checks in other languages:
//! `--example export -- DIR N [WIDTHxHEIGHT]`. Pictures are JPEG (as phones write them); each has a
//! JSON file of the same name. Pairs have two pictures and one JSON file.
//! `large.jpg` is one picture of 12 megapixels.

use serde_json::json;
use std::error::Error;
use std::path::Path;
use witnessmark_scenes::random_scenes::{self as scenes, TEST_SIZE};
use witnessmark_scenes::random_views as views;
use witnessmark_scenes::{Exif, Rendered, encode_jpeg};

fn keep(dir: &Path, name: &str, picture: &Rendered) -> Result<(), Box<dyn Error>> {
    let exif = Exif::demo("Export", "2026:05:03 09:10:00", "+02:00", "");
    std::fs::write(dir.join(format!("{name}.jpg")), encode_jpeg(picture, &exif))?;
    Ok(())
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut args = std::env::args().skip(1);
    let dir = args.next().ok_or("a folder, please")?;
    let count: u64 = args.next().ok_or("how many of each kind?")?.parse()?;
    let size = match args.next() {
        None => TEST_SIZE,
        Some(text) => {
            let (w, h) = text.split_once('x').ok_or("the size as WIDTHxHEIGHT")?;
            [w.parse()?, h.parse()?]
        }
    };
    let dir = Path::new(&dir);
    std::fs::create_dir_all(dir)?;
    let large = witnessmark_scenes::make_large_jpeg(count);
    std::fs::write(dir.join("large.jpg"), large)?;
    for seed in 0..count {
        for (kind, picture) in [
            ("card", scenes::random_card_scene(seed, size)),
            ("crack", scenes::random_crack_scene(seed, false, size)),
            ("seam", scenes::random_crack_scene(seed, true, size)),
            ("stain", scenes::random_stain_scene(seed, size)),
        ] {
            let name = format!("{kind}-{seed:03}");
            keep(dir, &name, &picture)?;
            let file = format!("{name}.jpg");
            let text = json!({"kind": kind, "seed": seed, "file": file, "truth": picture.truth});
            std::fs::write(dir.join(format!("{name}.json")), text.to_string())?;
        }
        for (kind, pair) in [
            ("pair", views::random_view_pair(seed, size)),
            ("impostor", views::impostor_pair(seed, size)),
        ] {
            let name = format!("{kind}-{seed:03}");
            keep(dir, &format!("{name}-older"), &pair.older)?;
            keep(dir, &format!("{name}-newer"), &pair.newer)?;
            let text = json!({
                "kind": kind, "seed": seed, "older": format!("{name}-older.jpg"),
                "newer": format!("{name}-newer.jpg"), "truth": pair.truth,
            });
            std::fs::write(dir.join(format!("{name}.json")), text.to_string())?;
        }
        let [sharp, blurred] = views::sharpness_pair(seed, size);
        keep(dir, &format!("sharpness-{seed:03}-sharp"), &sharp)?;
        keep(dir, &format!("sharpness-{seed:03}-blurred"), &blurred)?;
        println!("seed {seed}");
    }
    Ok(())
}
