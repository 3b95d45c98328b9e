//! `lay`: an older photo of a place laid on a newer one. Needs no notebook.

use std::io::Cursor;
use std::path::{Path, PathBuf};

use clap::Args;
use image::ImageFormat;
use witnessmark_core::evidence::examine;
use witnessmark_core::photo::decode::{Decoded, decode};
use witnessmark_core::photo::lay::{LEAST, both, lay};
use witnessmark_core::photo::{Limits, Progress};
use witnessmark_core::world::Access;
use witnessmark_core::{Error, ErrorKind, Result};

use crate::output::Output;
use crate::real::Session;

/// `lay`
#[derive(Args)]
pub struct LayArgs {
    /// The older photo.
    older: PathBuf,
    /// The newer photo.
    newer: PathBuf,
    /// Write a picture of both here, .png or .jpg, to look at before anything is carried over.
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// Runs it.
pub fn run(session: &Session, args: &LayArgs, out: &Output) -> Result<u8> {
    let format = args.out.as_deref().map(format_of).transpose()?;
    let older = picture(session, &args.older)?;
    let newer = picture(session, &args.newer)?;
    let found = lay(&older.rgb, &newer.rgb, &Progress::new())?;
    if let (Some(file), Some(format)) = (&args.out, format) {
        match &found.homography {
            Some(homography) => {
                let mut bytes = Cursor::new(Vec::new());
                both(&older.rgb, &newer.rgb, homography)
                    .write_to(&mut bytes, format)
                    .map_err(|error| Error::new(ErrorKind::Io, error.to_string()))?;
                session
                    .world()?
                    .files
                    .replace(file, bytes.get_ref(), Access::Usual)
                    .map_err(|error| Error::io(&error, file.display()))?;
            }
            None => out.note("not the same view: no picture of both was written"),
        }
    }
    let found = found.at_scale(older.scale, newer.scale);
    out.show(&found, || found.to_text())
}

/// PNG or JPEG, by the name.
pub fn format_of(file: &Path) -> Result<ImageFormat> {
    match ImageFormat::from_path(file) {
        Ok(format @ (ImageFormat::Png | ImageFormat::Jpeg)) => Ok(format),
        _ => Err(
            Error::new(ErrorKind::BadValue, "a picture is written as PNG or JPEG")
                .at(file.display())
                .hint("let the name end in .png or .jpg"),
        ),
    }
}

/// A photo, upright, not larger than laying needs.
fn picture(session: &Session, path: &Path) -> Result<Decoded> {
    let failed = |error: std::io::Error| Error::io(&error, path.display());
    let files = session.world()?.files;
    let length = files.len(path).map_err(failed)?;
    let mut file = files.open(path).map_err(failed)?;
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let what = examine(&mut *file, length, &name).map_err(|error| error.at(path.display()))?;
    decode(
        &mut *file,
        &what,
        Some(LEAST),
        &Limits::default(),
        &Progress::new(),
    )
    .map_err(|error| error.at(path.display()))
}
