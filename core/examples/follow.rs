//! Follows a crack or outlines a stain in a photo and prints one JSON object: the benchmarks in
//! `tests/bench` run it beside other programs.
//!
//! `cargo run --release -p witnessmark-core --example follow -- trace FILE x,y x,y [x,y …]`
//! `cargo run --release -p witnessmark-core --example follow -- outline FILE x,y`

use std::error::Error;
use std::fs::File;
use std::path::Path;

use witnessmark_core::evidence::examine;
use witnessmark_core::photo::decode::decode;
use witnessmark_core::photo::outline::outline;
use witnessmark_core::photo::trace::trace;
use witnessmark_core::photo::{Limits, Progress};

const USAGE: &str = "usage: follow trace|outline FILE x,y [x,y …]";

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let (what, name) = (words.next().ok_or(USAGE)?, words.next().ok_or(USAGE)?);
    let mut taps = Vec::new();
    for word in words {
        let (x, y) = word.split_once(',').ok_or(USAGE)?;
        taps.push([x.parse::<f64>()?, y.parse::<f64>()?]);
    }
    let path = Path::new(&name);
    let length = std::fs::metadata(path)?.len();
    let mut file = File::open(path)?;
    let found = examine(&mut file, length, &name)?;
    let progress = Progress::new();
    let picture = decode(&mut file, &found, None, &Limits::default(), &progress)?;
    let line = match what.as_str() {
        "trace" => serde_json::to_string(&trace(&picture.rgb, &taps, &progress)?)?,
        "outline" => {
            let tap = taps.first().ok_or(USAGE)?;
            serde_json::to_string(&outline(&picture.rgb, *tap, &progress)?)?
        }
        _ => return Err(USAGE.into()),
    };
    println!("{line}");
    Ok(())
}
