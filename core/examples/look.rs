//! Prints what the library reads out of files, one JSON object a line: the checks against other
//! programs in `tests/outside` read it. With `--previews FOLDER` the previews are written there.
//!
//! `cargo run --release -p witnessmark-core --example look -- [--previews FOLDER] FILE…`

use std::error::Error;
use std::fs::File;
use std::path::{Path, PathBuf};

use serde_json::json;
use witnessmark_core::evidence::examine;
use witnessmark_core::photo::{Limits, Progress, intake};

fn main() -> Result<(), Box<dyn Error>> {
    let mut previews: Option<PathBuf> = None;
    let mut words = std::env::args().skip(1);
    while let Some(word) = words.next() {
        if word == "--previews" {
            previews = words.next().map(PathBuf::from);
            continue;
        }
        let path = Path::new(&word);
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let mut file = File::open(path)?;
        let found = examine(&mut file, file_length(path)?, &name)?;
        let mut line = json!({ "file": word, "examined": found });
        if let Some(folder) = &previews {
            let made = intake(&mut file, &found, &Limits::default(), &Progress::new())?;
            line["says"] = json!(made.says);
            if let Some(view) = made.view {
                let large = folder.join(format!("{name}.large.jpg"));
                let small = folder.join(format!("{name}.small.jpg"));
                std::fs::write(&large, &view.large.jpeg)?;
                std::fs::write(&small, &view.small.jpeg)?;
                line["view"] = json!({
                    "large": { "path": large, "width": view.large.width, "height": view.large.height },
                    "small": { "path": small, "width": view.small.width, "height": view.small.height },
                    "sharpness": view.sharpness,
                    "exposure": view.exposure,
                    "signs": format!("{:016x}", view.signs),
                });
            }
        }
        println!("{line}");
    }
    Ok(())
}

fn file_length(path: &Path) -> std::io::Result<u64> {
    Ok(std::fs::metadata(path)?.len())
}
