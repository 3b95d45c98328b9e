//! One measure on one photo, from taps to the printed digits, and the same again from what is
//! stored: what a terminal, a phone's screen and a notebook all call.

use image::RgbImage;

use super::area;
use super::corners;
use super::geometry::{Point, distance};
use super::marks::{Line, Marks, Measured, ScaleMarks, bad, inside, to_pixels, to_sixteenths};
use super::measurement::{
    FoundScale, Measurement, Options, Picture, ScaleTaps, find_scale, from_marks, mark,
};
use super::outline::{Outlined, outline};
use super::progress::Progress;
use super::trace::{Traced, trace};
use crate::error::{Error, ErrorKind, Result};

/// What the person showed on the photo, in pixels of the upright picture.
#[derive(Debug, Clone, PartialEq)]
pub enum Shown {
    /// A path of taps, drawn or corrected by hand: its length.
    Path(Vec<Point>),
    /// A closed line, drawn or corrected by hand, without its first point repeated: its area.
    Edge(Vec<Point>),
    /// Both ends of a crack, then any number of taps on it between them: the crack is followed.
    Crack(Vec<Point>),
    /// A tap in a stain: it is filled to its edge.
    Stain(Point),
}

/// The line that came of it.
#[derive(Debug, Clone, PartialEq)]
pub enum Made {
    /// As drawn.
    Drawn,
    /// Followed along the crack.
    Traced(Traced),
    /// Filled to the stain's edge.
    Outlined(Outlined),
}

/// A line on a photo, ready to be measured by any scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    /// Its points; a closed line does not repeat the first.
    pub line: Vec<Point>,
    /// How it came about.
    pub made: Made,
    /// Length or area.
    pub quantity: Measured,
    /// The taps that it was made from; none for one drawn by hand.
    pub taps: Vec<Point>,
    /// As [`Marks::line_u`], in pixels or square pixels.
    pub u: f64,
}

impl Drawn {
    /// Draws, follows or fills.
    ///
    /// # Errors
    /// Taps outside the picture or too few; nothing stands out at the tap; `Cancelled`.
    pub fn of(
        rgb: &RgbImage,
        shown: &Shown,
        options: &Options,
        progress: &Progress,
    ) -> Result<Self> {
        let size = [rgb.width(), rgb.height()];
        let by_hand = |line: &[Point], quantity| {
            for p in line {
                inside(*p, size, "mark")?;
            }
            Ok(Self {
                line: line.to_vec(),
                made: Made::Drawn,
                quantity,
                taps: Vec::new(),
                u: options.mark_u,
            })
        };
        match shown {
            Shown::Path(line) => by_hand(line, Measured::Length),
            Shown::Edge(line) => {
                area::enough(line)?;
                by_hand(line, Measured::Area)
            }
            Shown::Crack(taps) => {
                // What is stored must give the same line again: the taps count as they are stored.
                let taps = stored(taps, size)?;
                let traced = trace(rgb, &taps, progress)?;
                Ok(Self {
                    line: kept_inside(&traced.polyline, size),
                    quantity: Measured::Length,
                    u: traced.u_px,
                    taps,
                    made: Made::Traced(traced),
                })
            }
            Shown::Stain(tap) => {
                let taps = stored(&[*tap], size)?;
                let tap = taps.first().copied().unwrap_or(*tap);
                let outlined = outline(rgb, tap, progress)?;
                Ok(Self {
                    line: kept_inside(&outlined.polygon, size),
                    quantity: Measured::Area,
                    u: outlined.u_px,
                    taps,
                    made: Made::Outlined(outlined),
                })
            }
        }
    }

    /// The measure of this line by a scale that was found in the same picture.
    ///
    /// # Errors
    /// Too few marks, marks beyond the horizon of the card's plane.
    pub fn by(&self, size: [u32; 2], scale: FoundScale) -> Result<Measurement> {
        let made = match self.made {
            Made::Drawn => Line::Drawn,
            Made::Traced(_) => Line::Traced,
            Made::Outlined(_) => Line::Outlined,
        };
        let picture = Picture::sized(size[0], size[1]);
        let (mut marks, mut warnings) =
            mark(self.quantity, picture, scale, &self.line, made, self.u)?;
        marks.taps = self.taps.iter().map(|p| to_sixteenths(*p)).collect();
        if let Made::Outlined(o) = &self.made {
            warnings.extend(o.warnings.iter().map(|w| {
                super::scale::Warning::new(super::scale::WarningCode::Outline, w.clone())
            }));
        }
        let mut m = from_marks(&marks)?;
        for w in m.warnings.drain(..) {
            if !warnings.contains(&w) {
                warnings.push(w);
            }
        }
        m.warnings = warnings;
        Ok(m)
    }
}

/// Draws, follows or fills, and measures by the scale if there is one.
///
/// # Errors
/// As [`Drawn::of`], [`find_scale`] and [`Drawn::by`].
pub fn on_photo(
    rgb: &RgbImage,
    shown: &Shown,
    scale: Option<&ScaleTaps>,
    options: &Options,
    progress: &Progress,
) -> Result<(Drawn, Option<Measurement>)> {
    // The scale first: it is the cheaper to find wrong.
    let found = scale
        .map(|taps| find_scale(Picture::of(rgb), taps, options, progress))
        .transpose()?;
    let drawn = Drawn::of(rgb, shown, options, progress)?;
    let measurement = found
        .map(|found| drawn.by([rgb.width(), rgb.height()], found))
        .transpose()?;
    Ok((drawn, measurement))
}

/// A stored measure, repeated.
#[derive(Debug, Clone, PartialEq)]
pub struct Repeated {
    /// From the stored marks alone.
    pub from_marks: Measurement,
    /// From the stored taps on the original photo: the scale looked for, the line followed or filled
    /// again. None without the photo.
    pub from_photo: Option<FromPhoto>,
}

/// A measure made again from the taps.
#[derive(Debug, Clone, PartialEq)]
pub struct FromPhoto {
    /// The measure.
    pub measurement: Measurement,
    /// How far, in pixels, a corner of the scale now lies from where it was stored, at most. Zero
    /// unless the finder has been changed.
    pub corners_moved: f64,
    /// The same for the points of a followed or filled line; infinite when they are fewer or more.
    pub line_moved: f64,
}

/// Computes a stored measure again; with the photo, from its taps as well.
///
/// # Errors
/// Marks that no picture could carry; a photo of another size; what the followers refuse.
pub fn repeat(marks: &Marks, photo: Option<&RgbImage>, progress: &Progress) -> Result<Repeated> {
    let first = from_marks(marks)?;
    let Some(rgb) = photo else {
        return Ok(Repeated {
            from_marks: first,
            from_photo: None,
        });
    };
    let size = [rgb.width(), rgb.height()];
    if size != marks.picture {
        let ([w, h], [mw, mh]) = (size, marks.picture);
        return Err(bad(format!(
            "this picture has {w} × {h} pixels, the one that was marked had {mw} × {mh}"
        ))
        .hint("give the original photo"));
    }
    let mut again = marks.clone();
    again.scale = scale_again(rgb, marks, progress)?;
    let taps: Vec<Point> = marks.taps.iter().map(|p| to_pixels(*p)).collect();
    let shown = match (marks.made, taps.as_slice()) {
        (Line::Traced, [_, _, ..]) => Some(Shown::Crack(taps)),
        (Line::Outlined, [tap]) => Some(Shown::Stain(*tap)),
        // Drawn by hand, or by a program that did not keep its taps: the line is what was marked.
        _ => None,
    };
    if let Some(shown) = shown {
        let drawn = Drawn::of(rgb, &shown, &Options::default(), progress)?;
        let found = FoundScale {
            marks: again.scale,
            bounds: marks.bounds,
            warnings: Vec::new(),
        };
        again = drawn.by(size, found)?.marks;
    }
    let line_moved = if again.line.len() == marks.line.len() {
        most(again.line.iter().zip(&marks.line))
    } else {
        f64::INFINITY
    };
    let corners_moved = match (&again.scale, &marks.scale) {
        (ScaleMarks::Card(a), ScaleMarks::Card(b))
        | (ScaleMarks::Sheet { corners: a, .. }, ScaleMarks::Sheet { corners: b, .. }) => {
            most(a.used.iter().zip(&b.used))
        }
        _ => 0.0,
    };
    Ok(Repeated {
        from_marks: first,
        from_photo: Some(FromPhoto {
            measurement: from_marks(&again)?,
            corners_moved,
            line_moved,
        }),
    })
}

fn scale_again(rgb: &RgbImage, marks: &Marks, progress: &Progress) -> Result<ScaleMarks> {
    let (c, shape) = match &marks.scale {
        ScaleMarks::Card(c) => (c, corners::Shape::Card),
        ScaleMarks::Sheet { corners, .. } => (corners, corners::Shape::Sheet),
        ScaleMarks::Ruler { .. } => return Ok(marks.scale.clone()),
    };
    if !c.snapped {
        return Ok(marks.scale.clone());
    }
    let found = corners::find(
        Picture::of(rgb),
        &c.tapped.map(to_pixels),
        shape,
        &Options::default(),
        marks.bounds.focal as f64,
        &mut Vec::new(),
        progress,
    )?;
    Ok(match &marks.scale {
        ScaleMarks::Sheet {
            bar_um,
            bar_checked,
            ..
        } => ScaleMarks::Sheet {
            corners: found,
            bar_um: *bar_um,
            bar_checked: *bar_checked,
        },
        _ => ScaleMarks::Card(found),
    })
}

fn most<'a>(pairs: impl Iterator<Item = (&'a [i64; 2], &'a [i64; 2])>) -> f64 {
    pairs
        .map(|(a, b)| distance(to_pixels(*a), to_pixels(*b)))
        .fold(0.0, f64::max)
}

/// Taps as they will be stored, to a sixteenth of a pixel.
fn stored(taps: &[Point], size: [u32; 2]) -> Result<Vec<Point>> {
    for tap in taps {
        inside(*tap, size, "tap")?;
    }
    for (i, tap) in taps.iter().enumerate() {
        if taps
            .iter()
            .skip(i + 1)
            .any(|other| distance(*tap, *other) < 1.0)
        {
            return Err(Error::new(
                ErrorKind::BadValue,
                format!("two taps coincide at {},{}", tap[0], tap[1]),
            )
            .at("tap")
            .hint("tap each place once"));
        }
    }
    Ok(taps.iter().map(|p| to_pixels(to_sixteenths(*p))).collect())
}

/// A followed line may leave the picture by part of a pixel where the crack runs off it.
fn kept_inside(line: &[Point], size: [u32; 2]) -> Vec<Point> {
    let [w, h] = size.map(f64::from);
    line.iter()
        .map(|p| [p[0].clamp(0.0, w), p[1].clamp(0.0, h)])
        .collect()
}
