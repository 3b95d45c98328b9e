//! `scale-sheet`: the printed scale. Needs no notebook.

use std::path::PathBuf;

use clap::Args;
use serde_json::json;
use witnessmark_core::photo::sheet::{Paper, pdf, svg};
use witnessmark_core::world::Access;
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// `scale-sheet`
#[derive(Args)]
pub struct SheetArgs {
    /// Write it here: .pdf or .svg.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// a4 or letter.
    #[arg(long, default_value = "a4")]
    paper: String,
}

/// Runs it.
pub fn run(session: &Session, args: &SheetArgs, out: &Output) -> Result<u8> {
    let paper = Paper::parse(&args.paper).map_err(|error| error.at("--paper"))?;
    let ending = args.out.extension().map(|e| e.to_ascii_lowercase());
    let bytes = match ending.as_ref().and_then(|e| e.to_str()) {
        Some("pdf") => pdf(paper),
        Some("svg") => svg(paper).into_bytes(),
        _ => {
            return Err(
                Error::new(ErrorKind::BadValue, "the scale sheet is a PDF or an SVG")
                    .at(args.out.display())
                    .hint("let the name end in .pdf or .svg"),
            );
        }
    };
    session
        .world()?
        .files
        .replace(&args.out, &bytes, Access::Usual)
        .map_err(|error| Error::io(&error, args.out.display()))?;
    let file = args.out.display().to_string();
    out.show(&json!({"file": file, "paper": paper.name(), "check_bar_mm": 100}), || {
        format!("{file} is written for {}. Print it at 100 %, then lay a rule on the bar marked 100 mm; if it measures anything else, give that with --bar.", paper.name())
    })
}
