//! What is made of a photo to be looked at: two previews, how sharp, how lit, what it resembles.
//!
//! Derived and rebuildable, so nothing here is synced and a failure to keep it is no failure: it is
//! made again next time. `previews/<aa>/<sha256>.json` is written last and says that the two pictures
//! beside it are whole. Made after the commit point of a capture, when somebody asks: the shutter
//! never waits for a decode.

use std::io::{Cursor, Write};
use std::path::PathBuf;

use serde::{Deserialize, Serialize};

use super::Notebook;
use crate::error::{Error, ErrorKind, Result};
use crate::evidence;
use crate::photo::nearly::nearly_same;
use crate::photo::preview::{Intake, Odd};
use crate::photo::quality::{Exposure, Sharpness};
use crate::photo::{Limits, Progress, intake};
use crate::record::{Body, Digest};
use crate::world::Access;

/// Most bytes of a kept preview or of what is said of it.
const MOST: u64 = 4 << 20;

/// Which preview.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PreviewSize {
    /// Longer side at most 320 pixels.
    Small,
    /// Longer side at most 1024 pixels.
    Large,
}

impl PreviewSize {
    fn word(self) -> &'static str {
        match self {
            Self::Small => "small",
            Self::Large => "large",
        }
    }
}

/// What a photo looks like to the program.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Looks {
    /// How sharp; none where the picture cannot be shown here.
    pub sharpness: Option<Sharpness>,
    /// How lit.
    pub exposure: Option<Exposure>,
    /// Signs by which nearly equal pictures are found, 16 hexadecimal digits; none if not shown.
    pub signs: Option<String>,
    /// Why there is no picture, or what is odd about it.
    pub says: Option<Odd>,
    /// The previews were made by a shell from a file that is not decoded here (HEIC).
    pub handed_in: bool,
}

/// Advice on a photo just taken; never a reason to refuse it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Advice {
    /// blurred, too_dark, too_bright, nearly_same, or a code of [`Odd`].
    pub code: String,
    /// In plain words.
    pub says: String,
}

impl Notebook {
    /// What a photo looks like; made where it is not there yet, with its previews. `file` is the
    /// digest of the photo's bytes.
    ///
    /// # Errors
    /// [`ErrorKind::Unknown`] if the file is not here; failures of reading it; `Cancelled`.
    pub fn looks(&self, file: &Digest, progress: &Progress) -> Result<Looks> {
        if let Some(known) = self.kept_looks(file) {
            return Ok(known);
        }
        let path = self.original(file)?.ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "the photo's file is not here").at(file.short())
        })?;
        let files = self.world.files.as_ref();
        let here = |error: std::io::Error| Error::io(&error, path.display());
        let mut open = files.open(&path).map_err(here)?;
        let examined = evidence::examine(open.as_mut(), files.len(&path).map_err(here)?, "")?;
        let made = intake(open.as_mut(), &examined, &Limits::default(), progress)?;
        Ok(self.keep_looks(file, made, false))
    }

    /// A preview as a JPEG file without metadata, upright; none where the picture cannot be shown
    /// here: [`Notebook::looks`] says why.
    ///
    /// # Errors
    /// As [`Notebook::looks`].
    pub fn preview(&self, file: &Digest, size: PreviewSize) -> Result<Option<Vec<u8>>> {
        let files = self.world.files.as_ref();
        let path = self.preview_path(file, size.word(), "jpg");
        if self.looks(file, &Progress::new())?.signs.is_none() {
            return Ok(None);
        }
        if let Ok(bytes) = files.read(&path, MOST) {
            return Ok(Some(bytes));
        }
        // Not kept (a full disk, a folder that may not be written), or taken away since: made for this
        // one showing.
        let original = self.original(file)?.ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "the photo's file is not here").at(file.short())
        })?;
        let here = |error: std::io::Error| Error::io(&error, original.display());
        let mut open = files.open(&original).map_err(here)?;
        let examined = evidence::examine(open.as_mut(), files.len(&original).map_err(here)?, "")?;
        let made = intake(
            open.as_mut(),
            &examined,
            &Limits::default(),
            &Progress::new(),
        )?;
        Ok(made.view.map(|view| match size {
            PreviewSize::Small => view.small.jpeg,
            PreviewSize::Large => view.large.jpeg,
        }))
    }

    /// Takes a preview that the shell made of a photo that is not decoded here. The original stays
    /// what is kept and proven; this is only shown.
    ///
    /// # Errors
    /// [`ErrorKind::WrongState`] if the photo is decoded here; [`ErrorKind::BadFormat`] if what was
    /// handed in is no picture.
    pub fn hand_in_preview(&self, file: &Digest, jpeg: &[u8]) -> Result<Looks> {
        let own = self.looks(file, &Progress::new())?;
        if own.signs.is_some() && !own.handed_in {
            return Err(Error::new(
                ErrorKind::WrongState,
                "this photo is decoded here: its preview is made here",
            )
            .at(file.short()));
        }
        let mut bytes = Cursor::new(jpeg.to_vec());
        let examined = evidence::examine(&mut bytes, jpeg.len() as u64, "preview.jpg")?;
        let mut bytes = Cursor::new(jpeg.to_vec());
        let made = intake(&mut bytes, &examined, &Limits::default(), &Progress::new())?;
        if made.view.is_none() {
            return Err(
                Error::new(ErrorKind::BadFormat, "the preview cannot be shown")
                    .at(file.short())
                    .hint("hand in a JPEG or PNG picture"),
            );
        }
        Ok(self.keep_looks(file, made, true))
    }

    /// What is worth saying of a photo just taken: blurred, dark, glaring, nearly the same as
    /// another of this walkaround. `entry` is its line.
    ///
    /// # Errors
    /// As [`Notebook::looks`]; [`ErrorKind::Unknown`] for a line that is no photo.
    pub fn advice(&self, entry: &Digest) -> Result<Vec<Advice>> {
        let row = self.index.line(entry)?.ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "there is no such entry").at(entry.short())
        })?;
        let Body::PhotoTaken(photo) = &row.body else {
            return Err(Error::new(ErrorKind::BadValue, "this entry is no photo").at(entry.short()));
        };
        let looks = self.looks(&photo.file, &Progress::new())?;
        let mut out = Vec::new();
        let mut say = |code: &str, says: String| {
            out.push(Advice {
                code: code.to_owned(),
                says,
            });
        };
        // The capture said in its own words what it saw of the file.
        let said = photo.complete == Some(false) || !photo.hints.is_empty();
        if let Some(odd) = looks.says.as_ref().filter(|_| !said) {
            say(&odd.code, odd.says.clone());
        }
        // Where nothing can be made out, how sharp it is does not matter.
        let light = looks
            .exposure
            .is_some_and(|light| light.too_dark || light.too_bright);
        if !light && looks.sharpness.is_some_and(|sharp| sharp.blurred) {
            say(
                "blurred",
                "it may be blurred: take it again if you can".to_owned(),
            );
        }
        if looks.exposure.is_some_and(|light| light.too_dark) {
            say(
                "too_dark",
                "it is dark: what is in the shadow will not be seen later".to_owned(),
            );
        }
        if looks.exposure.is_some_and(|light| light.too_bright) {
            say(
                "too_bright",
                "it is glaring: what is in the glare will not be seen later".to_owned(),
            );
        }
        if let (Some(own), Some(walkaround)) = (signs(&looks), &photo.walkaround) {
            // Only of this walkaround: a photo that is like last year's is one that was meant to be.
            for other in self.index.citing(walkaround, "walkaround")? {
                let Body::PhotoTaken(before) = &other.body else {
                    continue;
                };
                if before.file == photo.file {
                    continue;
                }
                // Not looked at until now: nothing to compare with, and no reason to decode it here.
                let Some(theirs) = self.kept_looks(&before.file).as_ref().and_then(signs) else {
                    continue;
                };
                if nearly_same(own, theirs) {
                    let name = before.name.clone().unwrap_or_else(|| before.file.short());
                    say(
                        "nearly_same",
                        format!("it is nearly the same picture as {name}; both are kept"),
                    );
                    break;
                }
            }
        }
        Ok(out)
    }

    fn preview_path(&self, file: &Digest, what: &str, ending: &str) -> PathBuf {
        let hex = file.hex();
        self.root
            .join("previews")
            .join(hex.get(..2).unwrap_or_default())
            .join(format!("{hex}.{what}.{ending}"))
    }

    fn kept_looks(&self, file: &Digest) -> Option<Looks> {
        let path = self.preview_path(file, "looks", "json");
        let bytes = self.world.files.read(&path, MOST).ok()?;
        serde_json::from_slice(&bytes).ok()
    }

    fn keep_looks(&self, file: &Digest, made: Intake, handed_in: bool) -> Looks {
        let looks = Looks {
            sharpness: made.view.as_ref().map(|view| view.sharpness),
            exposure: made.view.as_ref().map(|view| view.exposure),
            signs: made
                .view
                .as_ref()
                .map(|view| format!("{:016x}", view.signs)),
            says: made.says,
            handed_in,
        };
        let files = self.world.files.as_ref();
        let keep = |what: &str, ending: &str, bytes: &[u8]| -> std::io::Result<()> {
            let path = self.preview_path(file, what, ending);
            if let Some(folder) = path.parent() {
                files.create_dirs(folder)?;
            }
            // Not synced: it is made again. The rename keeps a half-written file from being shown.
            let new = path.with_extension("new");
            if files.exists(&new)? {
                files.remove(&new)?;
            }
            let mut file = files.create_new(&new, Access::Usual)?;
            file.write_all(bytes)?;
            drop(file);
            files.rename(&new, &path)
        };
        let all = || -> std::io::Result<()> {
            if let Some(view) = &made.view {
                keep(PreviewSize::Small.word(), "jpg", &view.small.jpeg)?;
                keep(PreviewSize::Large.word(), "jpg", &view.large.jpeg)?;
            }
            keep("looks", "json", &serde_json::to_vec(&looks)?)
        };
        // What cannot be kept is made again: see the module's page.
        let _ = all();
        looks
    }
}

fn signs(looks: &Looks) -> Option<u64> {
    u64::from_str_radix(looks.signs.as_deref()?, 16).ok()
}
