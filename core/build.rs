//! Lists the data files, so that adding a layout, a condition, a scale or an event touches one file:
//! its own. Writes `data_files.rs` with one constant a folder: pairs of file name and text.
//!
//! A few lines here rather than the `include_dir` crate: a sorted list of names is all that is needed.

use std::error::Error;
use std::fmt::Write as _;
use std::path::Path;
use std::{env, fs};

fn main() -> Result<(), Box<dyn Error>> {
    let root = env::var("CARGO_MANIFEST_DIR")?;
    let mut code = String::new();
    for (constant, folder) in [
        ("LAYOUTS", "layouts"),
        ("CONDITIONS", "conditions"),
        ("SCALES", "conditions/scales"),
        ("EVENTS", "events"),
    ] {
        let path = Path::new(&root).join(folder);
        println!("cargo::rerun-if-changed={}", path.display());
        let mut names = Vec::new();
        // A folder without a file yet is no folder in a fresh clone.
        for entry in fs::read_dir(&path).into_iter().flatten() {
            let name = entry?.file_name().to_string_lossy().into_owned();
            // Files that start with an underscore are shared by their folder, not one of its kind.
            if name.ends_with(".toml") && !name.starts_with('_') {
                names.push(name);
            }
        }
        names.sort();
        writeln!(
            code,
            "/// Files of `core/{folder}`: name and text, sorted by name.\npub(crate) const {constant}: &[(&str, &str)] = &["
        )?;
        for name in names {
            let file = path.join(&name);
            writeln!(
                code,
                "    ({name:?}, include_str!({:?})),",
                file.display().to_string()
            )?;
        }
        code.push_str("];\n");
    }
    fs::write(Path::new(&env::var("OUT_DIR")?).join("data_files.rs"), code)?;
    Ok(())
}
