//! A photo at work: decoded once, a scale, a line, a measure; undo; an older photo laid on it.

use std::io::{Cursor, Read};
use std::sync::{Arc, Mutex, PoisonError};

use image::RgbImage;
use witnessmark_core::photo::decode::{Limits, decode};
use witnessmark_core::photo::marks::Line;
use witnessmark_core::photo::marks::Measured;
use witnessmark_core::photo::measurement::{find_scale, from_marks, mark};
use witnessmark_core::photo::{Options, Picture, Progress, ScaleTaps, lay, outline, trace};
use witnessmark_core::quantity::{Rational, Unit, show_as};
use witnessmark_core::{Error, ErrorKind, Result, evidence};

use crate::file::Source;
use crate::given::MeasureGiven;
use crate::notebook::Alive;
use crate::trouble::{Answer, Trouble, closed};

/// A place in the picture: pixels after its EXIF orientation, from the top left, to the right and down.
#[derive(Debug, Clone, Copy, PartialEq, uniffi::Record)]
pub struct Dot {
    /// To the right.
    pub x: f64,
    /// Down.
    pub y: f64,
}

/// What gives the scale.
#[derive(Debug, Clone, PartialEq, uniffi::Enum)]
pub enum ScaleGiven {
    /// Four corners of a plain card of the ID-1 size (85.60 x 53.98 mm), in any order. Never a payment
    /// or identity card.
    Card {
        /// Exactly four.
        corners: Vec<Dot>,
    },
    /// Four marks of the printed scale sheet, in any order.
    Sheet {
        /// Exactly four.
        marks: Vec<Dot>,
        /// What its 100 mm check bar measures, in mm, if somebody laid a rule on it.
        bar_mm: Option<f64>,
    },
    /// Two points of a ruler.
    Ruler {
        /// Exactly two.
        ends: Vec<Dot>,
        /// Distance between them, in mm.
        length_mm: f64,
    },
}

/// The scale as it was found.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct ScaleView {
    /// What to know, sentences.
    pub warnings: Vec<String>,
}

/// A line that was drawn, followed or filled.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct LineView {
    /// `drawn`, `traced` or `outlined`.
    pub made: String,
    /// Its points; a closed line does not repeat the first.
    pub points: Vec<Dot>,
    /// True for a closed one.
    pub closed: bool,
    /// What to know, sentences.
    pub warnings: Vec<String>,
}

/// A measure made on the photo.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct MeasureView {
    /// "50.1 mm ± 0.4 mm (k = 2), by card" with what to know.
    pub says: String,
    /// The same in inches (square inches).
    pub says_inches: String,
    /// To hand back with a sighting: value, unit, uncertainty, method, marks.
    pub measure: MeasureGiven,
    /// What to know, sentences.
    pub warnings: Vec<String>,
}

/// An older photo laid on this one.
#[derive(Debug, Clone, PartialEq, uniffi::Record)]
pub struct LayView {
    /// Both show the same place closely enough.
    pub same_view: bool,
    /// Nine numbers, row by row, from pixels of the older to pixels of this one; empty otherwise.
    pub matrix: Vec<f64>,
    /// 0 to 1.
    pub quality: Option<f64>,
    /// In words; why not, if not.
    pub says: String,
}

/// Width and height in pixels, after the EXIF orientation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, uniffi::Record)]
pub struct PhotoSize {
    /// To the right.
    pub width: u32,
    /// Down.
    pub height: u32,
}

#[derive(Clone)]
struct Drawn {
    view: LineView,
    made: Line,
    u: f64,
    taps: Vec<Dot>,
}

#[derive(Clone, Default)]
struct Step {
    scale: Option<ScaleGiven>,
    line: Option<Drawn>,
}

struct Work {
    rgb: RgbImage,
    steps: Vec<Step>,
}

impl Work {
    fn now(&self) -> Step {
        self.steps.last().cloned().unwrap_or_default()
    }
}

/// A photo at work. Long calls can be watched (`done`) and stopped (`cancel`) from another thread;
/// those two never wait for the lock.
#[derive(uniffi::Object)]
pub struct PhotoAtWork {
    work: Mutex<Option<Work>>,
    progress: Mutex<Arc<Progress>>,
    _alive: Alive,
}

fn open(source: &Source, progress: &Progress) -> Result<RgbImage> {
    let (file, name) = source.open()?;
    let limit = evidence::store::PHOTO_LIMIT;
    let mut bytes = Vec::new();
    file.take(limit + 1)
        .read_to_end(&mut bytes)
        .map_err(|error| Error::io(&error, &name))?;
    if bytes.len() as u64 > limit {
        return Err(
            Error::new(ErrorKind::TooLarge, "a photo has at most 300 MB")
                .at(&name)
                .hint("keep it, and measure on a smaller one"),
        );
    }
    let mut file = Cursor::new(bytes);
    let length = file.get_ref().len() as u64;
    let examined = evidence::examine(&mut file, length, &name)?;
    let decoded = decode(&mut file, &examined, None, &Limits::default(), progress)
        .map_err(|error| error.at(&name))?;
    Ok(decoded.rgb)
}

fn pair(dot: &Dot) -> [f64; 2] {
    [dot.x, dot.y]
}

fn dots(points: &[[f64; 2]]) -> Vec<Dot> {
    points.iter().map(|p| Dot { x: p[0], y: p[1] }).collect()
}

fn exactly<const N: usize>(points: &[Dot], what: &str) -> Result<[[f64; 2]; N]> {
    let list: Vec<[f64; 2]> = points.iter().map(pair).collect();
    list.try_into().map_err(|list: Vec<[f64; 2]>| {
        Error::new(
            ErrorKind::BadValue,
            format!("{N} points are needed, {} were given", list.len()),
        )
        .at(what)
        .hint("tap each once")
    })
}

fn taps(scale: &ScaleGiven) -> Result<ScaleTaps> {
    Ok(match scale {
        ScaleGiven::Card { corners } => ScaleTaps::Card(exactly(corners, "card")?),
        ScaleGiven::Sheet { marks, bar_mm } => ScaleTaps::Sheet {
            taps: exactly(marks, "sheet")?,
            bar_mm: *bar_mm,
        },
        ScaleGiven::Ruler { ends, length_mm } => ScaleTaps::Ruler {
            ends: exactly(ends, "ruler")?,
            length_mm: *length_mm,
        },
    })
}

impl PhotoAtWork {
    fn begin(&self) -> Arc<Progress> {
        let fresh = Arc::new(Progress::new());
        *self.progress.lock().unwrap_or_else(PoisonError::into_inner) = fresh.clone();
        fresh
    }

    fn with<T>(&self, call: impl FnOnce(&mut Work, &Progress) -> Result<T>) -> Answer<T> {
        let mut guard = match self.work.lock() {
            Ok(guard) => guard,
            Err(poisoned) => {
                self.work.clear_poison();
                let mut guard = poisoned.into_inner();
                *guard = None;
                guard
            }
        };
        let progress = self.begin();
        match guard.as_mut() {
            Some(work) => call(work, &progress).map_err(Trouble::from),
            None => Err(closed("this photo was shut", "open it again")),
        }
    }

    fn keep_line(&self, work: &mut Work, drawn: Drawn) -> LineView {
        let mut step = work.now();
        let view = drawn.view.clone();
        step.line = Some(drawn);
        work.steps.push(step);
        view
    }
}

#[uniffi::export]
impl PhotoAtWork {
    /// Decodes a photo upright, at full size.
    ///
    /// # Errors
    /// `Input` for what cannot be shown here or is past 300 MB or 250 megapixels.
    #[uniffi::constructor]
    pub fn open(photo: Source) -> Answer<Arc<Self>> {
        let progress = Arc::new(Progress::new());
        let rgb = open(&photo, &progress)?;
        Ok(Arc::new(Self {
            work: Mutex::new(Some(Work {
                rgb,
                steps: Vec::new(),
            })),
            progress: Mutex::new(progress),
            _alive: Alive::new(),
        }))
    }

    /// Its size.
    ///
    /// # Errors
    /// `Closed`.
    pub fn size(&self) -> Answer<PhotoSize> {
        self.with(|work, _| {
            Ok(PhotoSize {
                width: work.rgb.width(),
                height: work.rgb.height(),
            })
        })
    }

    /// Gives the scale; the line stays.
    ///
    /// # Errors
    /// `Input` for points that make no scale.
    pub fn set_scale(&self, scale: ScaleGiven) -> Answer<ScaleView> {
        self.with(|work, progress| {
            let found = find_scale(
                Picture::of(&work.rgb),
                &taps(&scale)?,
                &Options::default(),
                progress,
            )?;
            let mut step = work.now();
            step.scale = Some(scale);
            work.steps.push(step);
            Ok(ScaleView {
                warnings: found.warnings.iter().map(|w| w.text.clone()).collect(),
            })
        })
    }

    /// A line drawn by hand; `closed` for an outline. Moving one point is drawing again.
    ///
    /// # Errors
    /// `Input` for points outside the picture.
    pub fn draw(&self, points: Vec<Dot>, closed: bool) -> Answer<LineView> {
        self.with(|work, _| {
            for point in &points {
                let inside = point.x >= 0.0
                    && point.y >= 0.0
                    && point.x <= f64::from(work.rgb.width())
                    && point.y <= f64::from(work.rgb.height());
                if !inside {
                    return Err(Error::new(
                        ErrorKind::BadValue,
                        "a point lies outside the picture",
                    )
                    .at("points")
                    .hint("tap within the picture"));
                }
            }
            let drawn = Drawn {
                view: LineView {
                    made: "drawn".into(),
                    points: points.clone(),
                    closed,
                    warnings: Vec::new(),
                },
                made: Line::Drawn,
                u: Options::default().mark_u,
                taps: Vec::new(),
            };
            Ok(self.keep_line(work, drawn))
        })
    }

    /// Follows the crack through the taps, at least two.
    ///
    /// # Errors
    /// `Cancelled`, `Input` for taps outside the picture or too few.
    pub fn trace(&self, taps: Vec<Dot>) -> Answer<LineView> {
        self.with(|work, progress| {
            let points: Vec<[f64; 2]> = taps.iter().map(pair).collect();
            let traced = trace::trace(&work.rgb, &points, progress)?;
            let drawn = Drawn {
                view: LineView {
                    made: "traced".into(),
                    points: dots(&traced.polyline),
                    closed: false,
                    warnings: Vec::new(),
                },
                made: Line::Traced,
                u: traced.u_px,
                taps,
            };
            Ok(self.keep_line(work, drawn))
        })
    }

    /// Fills the stain under the tap to its edge.
    ///
    /// # Errors
    /// `Cancelled`, `Input` for a tap outside the picture.
    pub fn outline(&self, tap: Dot) -> Answer<LineView> {
        self.with(|work, progress| {
            let outlined = outline::outline(&work.rgb, pair(&tap), progress)?;
            let drawn = Drawn {
                view: LineView {
                    made: "outlined".into(),
                    points: dots(&outlined.polygon),
                    closed: true,
                    warnings: outlined.warnings.clone(),
                },
                made: Line::Outlined,
                u: outlined.u_px,
                taps: vec![tap],
            };
            Ok(self.keep_line(work, drawn))
        })
    }

    /// The measure of the present line by the present scale.
    ///
    /// # Errors
    /// `Input` where a scale or a line is missing.
    pub fn measure(&self) -> Answer<MeasureView> {
        self.with(|work, progress| {
            let step = work.now();
            let missing = |what: &str, remedy: &str| {
                Error::new(ErrorKind::WrongState, format!("there is no {what} yet"))
                    .at(what)
                    .hint(remedy)
            };
            let scale = step
                .scale
                .ok_or_else(|| missing("scale", "tap the four corners of the card"))?;
            let line = step
                .line
                .ok_or_else(|| missing("line", "tap the two ends of the crack, or the stain"))?;
            let picture = Picture::of(&work.rgb);
            let found = find_scale(picture, &taps(&scale)?, &Options::default(), progress)?;
            let quantity = if line.view.closed {
                Measured::Area
            } else {
                Measured::Length
            };
            let points: Vec<[f64; 2]> = line.view.points.iter().map(pair).collect();
            let (mut marks, warnings) = mark(quantity, picture, found, &points, line.made, line.u)?;
            marks.taps = line
                .taps
                .iter()
                .map(|dot| witnessmark_core::photo::marks::to_sixteenths(pair(dot)))
                .collect();
            let mut measurement = from_marks(&marks)?;
            for warning in warnings {
                if !measurement.warnings.contains(&warning) {
                    measurement.warnings.push(warning);
                }
            }
            let value: Rational = measurement.value_text().parse()?;
            let u: Rational = measurement.u_text().parse()?;
            let (from, to) = match quantity {
                Measured::Length => (Unit::Millimetre, Unit::Inch),
                Measured::Area => (Unit::SquareMillimetre, Unit::SquareInch),
            };
            Ok(MeasureView {
                says: measurement.to_text(),
                says_inches: show_as(&value, Some(&u), from, to)?.text,
                warnings: measurement
                    .warnings
                    .iter()
                    .map(|w| w.text.clone())
                    .collect(),
                measure: MeasureGiven {
                    quantity: measurement.quantity_name().into(),
                    value: measurement.value_text(),
                    unit: from.symbol().into(),
                    u: Some(measurement.u_text()),
                    method: measurement.recorded_method().into(),
                    marks: Some(
                        serde_json::to_string(&marks)
                            .map_err(|e| Error::new(ErrorKind::BadFormat, e.to_string()))?,
                    ),
                    ..MeasureGiven::default()
                },
            })
        })
    }

    /// Takes back the last scale or line; false if there is nothing left.
    ///
    /// # Errors
    /// `Closed`.
    pub fn undo(&self) -> Answer<bool> {
        self.with(|work, _| Ok(work.steps.pop().is_some()))
    }

    /// Lays an older photo on this one. "Not the same view" is an answer.
    ///
    /// # Errors
    /// `Cancelled`, `Input` for a photo that cannot be shown.
    pub fn lay(&self, older: Source) -> Answer<LayView> {
        self.with(|work, progress| {
            let older = open(&older, progress)?;
            let laid = lay::lay(&older, &work.rgb, progress)?;
            Ok(LayView {
                same_view: laid.same_view,
                matrix: laid.homography.iter().flatten().flatten().copied().collect(),
                quality: laid.quality,
                says: match (laid.same_view, laid.why) {
                    (true, _) => format!(
                        "Laid on one another; agreement {:.0} %. Look before you carry anything over.",
                        laid.quality.unwrap_or(0.0) * 100.0
                    ),
                    (false, Some(why)) => format!("Not the same view: {why}"),
                    (false, None) => "Not the same view.".into(),
                },
            })
        })
    }

    /// Carries points of an older photo over, by the matrix that `lay` gave.
    ///
    /// # Errors
    /// `Input` for points that cannot be carried over.
    pub fn carry(&self, matrix: Vec<f64>, points: Vec<Dot>) -> Answer<Vec<Dot>> {
        self.with(|_, _| {
            let [a, b, c, d, e, f, g, h, i] = <[f64; 9]>::try_from(matrix).map_err(|_| {
                Error::new(ErrorKind::BadValue, "a matrix has nine numbers").at("matrix")
            })?;
            let points: Vec<[f64; 2]> = points.iter().map(pair).collect();
            lay::carry(&[[a, b, c], [d, e, f], [g, h, i]], &points).map(|points| dots(&points))
        })
    }

    /// Asks the running work to stop. Never waits.
    pub fn cancel(&self) {
        self.progress
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .cancel();
    }

    /// How far the running work is, in thousandths. Never waits.
    pub fn done(&self) -> u32 {
        self.progress
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .done()
    }

    /// Shuts it and gives its memory back. Twice is no error.
    pub fn shut(&self) {
        self.cancel();
        let mut guard = self.work.lock().unwrap_or_else(PoisonError::into_inner);
        *guard = None;
    }
}
