//! Measures made on a photo: written down with their marks, and repeated from them.

use std::io::Read;
use std::path::{Path, PathBuf};

use super::{NewSighting, Notebook, Place};
use image::RgbImage;

use crate::error::{Error, ErrorKind, Result};
use crate::evidence::{examine, store};
use crate::history::compare::SCALE_ITEM;
use crate::photo::annotate::{Marked, annotate, caption, compare};
use crate::photo::decode::{Decoded, decode};
use crate::photo::geometry::Homography;
use crate::photo::lay::{self, Laid};
use crate::photo::marks::Measured;
use crate::photo::measurement::from_marks;
use crate::photo::work::{self, Repeated};
use crate::photo::{Limits, Marks, Measurement, Progress};
use crate::quantity::{Rational, Unit, show_as};
use crate::record::kinds::Measure;
use crate::record::{Body, Digest};
use crate::world::World;

/// A photo opened at full size, upright.
#[derive(Debug)]
pub struct OpenedPhoto {
    /// The pixels.
    pub decoded: Decoded,
    /// SHA-256 of the file.
    pub file: Digest,
    /// The date that the file gives for the picture, `2026-05-03`.
    pub date: Option<String>,
}

impl OpenedPhoto {
    /// Reads and decodes a photo, needing no notebook.
    ///
    /// # Errors
    /// What is past 300 MB or 250 megapixels, no picture, or cannot be read.
    pub fn open(world: &World, path: &Path, progress: &Progress) -> Result<Self> {
        let here = path.display();
        let failed = |error: std::io::Error| Error::io(&error, path.display());
        let limit = store::PHOTO_LIMIT;
        let mut bytes = Vec::new();
        world
            .files
            .open(path)
            .map_err(failed)?
            .take(limit + 1)
            .read_to_end(&mut bytes)
            .map_err(failed)?;
        if bytes.len() as u64 > limit {
            return Err(
                Error::new(ErrorKind::TooLarge, "a photo has at most 300 MB")
                    .at(here)
                    .hint("keep it, and measure on a smaller one"),
            );
        }
        let file = Digest::of(&bytes);
        let length = bytes.len() as u64;
        let mut source = std::io::Cursor::new(bytes);
        let name = path.file_name().unwrap_or_default().to_string_lossy();
        let examined = examine(&mut source, length, &name).map_err(|error| error.at(&here))?;
        let decoded = decode(&mut source, &examined, None, &Limits::default(), progress)
            .map_err(|error| error.at(here))?;
        let date = examined
            .seen
            .as_ref()
            .and_then(|seen| seen.time.get(..10))
            .map(str::to_owned);
        Ok(Self {
            decoded,
            file,
            date,
        })
    }

    /// A copy with the marks of a measure, a scale bar, the card's face masked, the date and the
    /// measure in millimetres and in inches.
    ///
    /// # Errors
    /// Marks of a picture of another size; `Cancelled`.
    pub fn annotated(&self, measured: &Measurement, progress: &Progress) -> Result<RgbImage> {
        let marked = Marked {
            photo: &self.decoded.rgb,
            marks: &measured.marks,
        };
        annotate(marked, &self.captions("", measured)?, progress)
    }

    /// What stands below a picture: date and measure, in both systems of units.
    fn captions(&self, which: &str, measured: &Measurement) -> Result<Vec<String>> {
        let date = self.date.as_deref().unwrap_or("no date in the file");
        let date = if which.is_empty() {
            date.to_owned()
        } else {
            format!("{which}, {date}")
        };
        let (value, u): (Rational, Rational) =
            (measured.value_text().parse()?, measured.u_text().parse()?);
        let (from, to) = match measured.quantity {
            Measured::Length => (Unit::Millimetre, Unit::Inch),
            Measured::Area => (Unit::SquareMillimetre, Unit::SquareInch),
        };
        let inches = show_as(&value, Some(&u), from, to)?.text;
        Ok(vec![caption(&date, measured), inches])
    }
}

/// A measure with its marks, its photo opened.
#[derive(Debug)]
pub struct MarkedPhoto {
    /// The photo.
    pub photo: OpenedPhoto,
    /// From the stored marks.
    pub measured: Measurement,
}

/// Two measures of one finding, the older photo laid on the newer one.
#[derive(Debug)]
pub struct Compared {
    /// Whether and how the one lies on the other.
    pub laid: Laid,
    /// Both in one frame, what has been added drawn; none where they do not show the same view.
    pub picture: Option<RgbImage>,
}

/// Lays the older photo on the newer one and draws both measures in one frame. A person looks at it
/// before anything is carried over.
///
/// # Errors
/// Measures of two kinds; marks that cannot be carried over; `Cancelled`.
pub fn compared(older: &MarkedPhoto, newer: &MarkedPhoto, progress: &Progress) -> Result<Compared> {
    let laid = lay::lay(&older.photo.decoded.rgb, &newer.photo.decoded.rgb, progress)?;
    let Some(h) = laid
        .homography
        .filter(|_| laid.same_view)
        .and_then(|rows| Homography::new(rows, [0.0, 0.0]))
    else {
        return Ok(Compared {
            laid,
            picture: None,
        });
    };
    let mut captions = older.photo.captions("older", &older.measured)?;
    captions.extend(newer.photo.captions("newer", &newer.measured)?);
    let picture = compare(
        Marked {
            photo: &older.photo.decoded.rgb,
            marks: &older.measured.marks,
        },
        Marked {
            photo: &newer.photo.decoded.rgb,
            marks: &newer.measured.marks,
        },
        &h,
        &captions,
        progress,
    )?;
    Ok(Compared {
        laid,
        picture: Some(picture),
    })
}

impl Measure {
    /// A measure made on a photo, as the record keeps it.
    ///
    /// # Errors
    /// Marks that cannot be written, which do not come out of measuring.
    pub fn on_photo(measured: &Measurement, photo: Option<Digest>) -> Result<Self> {
        let marks = serde_json::to_value(&measured.marks)
            .map_err(|error| Error::new(ErrorKind::BadValue, error.to_string()))?;
        Ok(Self {
            quantity: measured.quantity_name().into(),
            value: measured.value_text(),
            to: None,
            unit: measured.unit().into(),
            u: Some(measured.u_text()),
            method: measured.recorded_method().into(),
            as_said: None,
            marks: Some(marks),
            scale: None,
            context: std::collections::BTreeMap::new(),
            photo,
        })
    }
}

/// A stored measure, repeated.
#[derive(Debug, Clone)]
pub struct RepeatedMeasure {
    /// As it was written.
    pub written: Measure,
    /// The same again.
    pub repeated: Repeated,
}

impl RepeatedMeasure {
    /// The stored marks give the digits that were written.
    pub fn marks_agree(&self) -> bool {
        self.agrees(&self.repeated.from_marks)
    }

    /// The taps on the original photo give them too; none without the photo.
    pub fn photo_agrees(&self) -> Option<bool> {
        let again = self.repeated.from_photo.as_ref()?;
        Some(self.agrees(&again.measurement))
    }

    fn agrees(&self, now: &Measurement) -> bool {
        self.written.value == now.value_text()
            && self.written.u.as_deref() == Some(now.u_text().as_str())
            && self.written.unit == now.unit()
    }
}

impl Notebook {
    /// Writes a sighting with a measure made on a photo that is in the notebook. `late`: the photo is
    /// an older one, recognised now; the sighting then has the photo's own date. `scale_item`: which
    /// card or print lay beside it, by the person's own name for it, so that two measures by the same
    /// piece do not count its error twice.
    ///
    /// # Errors
    /// A photo that does not say when it was taken cannot be a late sighting.
    pub fn sight_measured(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        measured: &Measurement,
        photo: &Digest,
        late: bool,
        scale_item: Option<&str>,
    ) -> Result<Digest> {
        let mut measure = Measure::on_photo(measured, Some(*photo))?;
        if let Some(item) = scale_item.map(str::trim).filter(|item| !item.is_empty()) {
            measure.context.insert(SCALE_ITEM.into(), item.to_owned());
        }
        let mut new = NewSighting {
            basis: Some("measured".into()),
            measures: vec![measure],
            evidence: vec![*photo],
            late,
            ..NewSighting::default()
        };
        if late {
            let taken = self.index.line(photo)?.map(|row| row.seen);
            let dated = taken.filter(|seen| !seen.time.is_empty());
            new.seen = Some(dated.ok_or_else(|| {
                Error::new(
                    ErrorKind::WrongState,
                    "the photo does not say when it was taken",
                )
                .at(photo.short())
                .hint("write the sighting with the date that you know: --seen DATE")
            })?);
        }
        self.sight(aircraft, finding, &new)
    }

    /// The entry of a photo with these bytes about the aircraft; taken in where there is none.
    ///
    /// # Errors
    /// As taking in a photo.
    pub fn photo_of(&mut self, path: &Path, file: &Digest, place: &Place) -> Result<Digest> {
        if let Some(aircraft) = &place.aircraft {
            for row in self.index.kind_lines(aircraft, "photo taken")? {
                if matches!(&row.body, Body::PhotoTaken(taken) if taken.file == *file) {
                    return Ok(row.digest);
                }
            }
        }
        Ok(self.take_photo(path, place)?.entry)
    }

    /// The file of a photo by the first digits of its entry or of its own digest.
    ///
    /// # Errors
    /// No such photo, or its file is not here.
    pub fn photo_path(&self, text: &str) -> Result<PathBuf> {
        let row = self.entry(text, &["photo taken", "paper taken"])?;
        let file = match &row.body {
            Body::PhotoTaken(taken) => taken.file,
            Body::PaperTaken(taken) => taken.file,
            _ => row.digest,
        };
        self.original(&file)?.ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "the file of this photo is not here")
                .at(text)
                .hint("get it from the person who took it")
        })
    }

    /// Repeats every measure with marks of a sighting or treatment, from its marks and, where the
    /// photo is here, from its taps.
    ///
    /// # Errors
    /// No such entry; none of its measures has marks; marks that no picture could carry.
    pub fn repeat_measures(&self, text: &str, progress: &Progress) -> Result<Vec<RepeatedMeasure>> {
        let mut out = Vec::new();
        for written in self.marked_measures(text)? {
            let marks = marks_of(&written)?;
            let photo = match self.photo_file(&written) {
                Some(path) => Some(OpenedPhoto::open(&self.world, &path, progress)?),
                None => None,
            };
            let rgb = photo.as_ref().map(|photo| &photo.decoded.rgb);
            out.push(RepeatedMeasure {
                repeated: work::repeat(&marks, rgb, progress)?,
                written,
            });
        }
        Ok(out)
    }

    /// The first measure with marks of a sighting or treatment, with its photo.
    ///
    /// # Errors
    /// As [`Notebook::repeat_measures`]; the photo is not here.
    pub fn marked_photo(&self, text: &str, progress: &Progress) -> Result<MarkedPhoto> {
        let written = self.marked_measures(text)?;
        let written = written.first().ok_or_else(|| without_marks(text))?;
        let path = self.photo_file(written).ok_or_else(|| {
            Error::new(ErrorKind::Unknown, "the photo of this measure is not here")
                .at(text)
                .hint("get it from the person who took it")
        })?;
        Ok(MarkedPhoto {
            measured: from_marks(&marks_of(written)?)?,
            photo: OpenedPhoto::open(&self.world, &path, progress)?,
        })
    }

    fn photo_file(&self, measure: &Measure) -> Option<PathBuf> {
        self.photo_path(&measure.photo?.hex()).ok()
    }

    fn marked_measures(&self, text: &str) -> Result<Vec<Measure>> {
        let row = self.entry(text, &["finding sighted", "finding treated"])?;
        let measures = match row.body {
            Body::Sighted(body) => body.measures,
            Body::Treated(body) => body.measures,
            _ => Vec::new(),
        };
        let marked: Vec<Measure> = measures.into_iter().filter(|m| m.marks.is_some()).collect();
        if marked.is_empty() {
            return Err(without_marks(text));
        }
        Ok(marked)
    }
}

/// The marks of a stored measure.
///
/// # Errors
/// They cannot be read: written by a newer version, or altered.
pub fn marks_of(measure: &Measure) -> Result<Marks> {
    let value = measure.marks.clone().unwrap_or_default();
    serde_json::from_value(value).map_err(|error| {
        Error::new(
            ErrorKind::BadFormat,
            format!("the marks of this measure cannot be read: {error}"),
        )
    })
}

fn without_marks(text: &str) -> Error {
    Error::new(
        ErrorKind::WrongState,
        "this entry has no measure with marks on a photo",
    )
    .at(text)
    .hint("give a sighting that was measured on a photo")
}
