//! One measured length or area: from taps to stored marks, from marks to a value with uncertainty,
//! and the same again from the stored marks.

use image::RgbImage;
use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

use super::corners;
use super::geometry::{Point, distance, path_length};
use super::length;
use super::marks::{
    Bounds, Line, MAX_POINTS, Marks, Measured, ScaleMarks, bad, inside, to_sixteenths,
};
use super::progress::Progress;
use super::scale::{self, Scale, Warning, WarningCode};
use super::uncertainty::{Budget, K, decimals, reckon};
use crate::error::Result;

/// A picture as far as measuring needs it.
#[derive(Debug, Clone, Copy)]
pub struct Picture<'a> {
    /// Width and height in pixels after the EXIF orientation.
    pub size: [u32; 2],
    /// The pixels, upright; without them corners are taken as given.
    pub rgb: Option<&'a RgbImage>,
}

impl<'a> Picture<'a> {
    /// A picture with its pixels.
    pub fn of(rgb: &'a RgbImage) -> Self {
        Self {
            size: [rgb.width(), rgb.height()],
            rgb: Some(rgb),
        }
    }

    /// A picture of which only the size is at hand.
    pub fn sized(width: u32, height: u32) -> Self {
        Self {
            size: [width, height],
            rgb: None,
        }
    }
}

/// What the person tapped to give the scale, in pixels.
#[derive(Debug, Clone, PartialEq)]
pub enum ScaleTaps {
    /// Four corners of an ID-1 sized card, in any order.
    Card([Point; 4]),
    /// The four marks of the printed scale sheet, in any order.
    Sheet {
        /// Their places.
        taps: [Point; 4],
        /// What the sheet's 100 mm check bar measured, in mm, if somebody did.
        bar_mm: Option<f64>,
    },
    /// Two points of a ruler.
    Ruler {
        /// Their places.
        ends: [Point; 2],
        /// Distance between them on the ruler, in mm.
        length_mm: f64,
    },
}

/// What is assumed where the picture does not say. The defaults are this project's own, chosen for
/// a current phone's main camera and a card laid flat beside the mark (common practice, no source).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Standard uncertainty of each coordinate of a mark, in pixels.
    pub mark_u: f64,
    /// The same for a corner or ruler point that is taken as given.
    pub corner_u: f64,
    /// Look for the card's real edges near the taps.
    pub snap: bool,
    /// Greatest displacement by the lens at the picture's corner, as a part of the distance from the
    /// middle. Phones straighten their main camera's pictures; wide-angle ones may need more.
    pub lens: f64,
    /// Greatest distance in mm between the marked surface and the plane of the scale. The card's own
    /// thickness is 0.76 mm.
    pub offset_mm: f64,
    /// Greatest slope between them (0.013 is three quarters of a degree: one long edge of the card
    /// 0.7 mm up).
    pub slope: f64,
    /// Greatest slant of a ruler's picture (0.268 is fifteen degrees): a ruler does not show it.
    pub ruler_slant: f64,
    /// Focal length in pixels, if known.
    pub focal: Option<f64>,
}

impl Default for Options {
    fn default() -> Self {
        Self {
            mark_u: 1.0,
            corner_u: 1.0,
            snap: true,
            lens: 0.01,
            offset_mm: 0.8,
            slope: 0.013,
            ruler_slant: 0.268,
            focal: None,
        }
    }
}

impl Options {
    fn check(&self) -> Result<()> {
        let all = [
            self.mark_u,
            self.corner_u,
            self.lens,
            self.offset_mm,
            self.slope,
            self.ruler_slant,
        ];
        if all.iter().any(|v| !v.is_finite() || *v < 0.0)
            || self.focal.is_some_and(|f| !(f >= 1.0) || !f.is_finite())
        {
            return Err(bad(
                "an uncertainty or the focal length is not a number above zero",
            ));
        }
        Ok(())
    }
}

/// A scale, found: what is stored of it, what was assumed, what to tell the person.
#[derive(Debug, Clone, PartialEq)]
pub struct FoundScale {
    /// Taps and corners used.
    pub marks: ScaleMarks,
    /// Assumed bounds.
    pub bounds: Bounds,
    /// What to know.
    pub warnings: Vec<Warning>,
}

/// Puts corners in order, finds the card's edges, and says what was done.
pub fn find_scale(
    picture: Picture<'_>,
    taps: &ScaleTaps,
    options: &Options,
    progress: &Progress,
) -> Result<FoundScale> {
    options.check()?;
    progress.check()?;
    let focal = options
        .focal
        .unwrap_or_else(|| scale::default_focal(picture.size))
        // As it is stored, so that corners looked for again are found by the same rule.
        .round();
    let mut warnings = Vec::new();
    let (marks, slope) = match taps {
        ScaleTaps::Card(given) => {
            let c = corners::find(
                picture,
                given,
                corners::Shape::Card,
                options,
                focal,
                &mut warnings,
                progress,
            )?;
            (ScaleMarks::Card(c), options.slope)
        }
        ScaleTaps::Sheet { taps, bar_mm } => {
            let c = corners::find(
                picture,
                taps,
                corners::Shape::Sheet,
                options,
                focal,
                &mut warnings,
                progress,
            )?;
            if bar_mm.is_none() {
                warnings.push(Warning::new(
                    WarningCode::BarNotChecked,
                    "the check bar of the scale sheet was not measured; lay a rule on it and give what it shows",
                ));
            }
            let bar = bar_mm.unwrap_or(100.0);
            if !bar.is_finite() {
                return Err(bad("the length of the check bar is not a number")
                    .at("bar")
                    .hint("lay a rule on the bar and give what it shows, in mm"));
            }
            (
                ScaleMarks::Sheet {
                    corners: c,
                    bar_um: (bar * 1000.0).round() as i64,
                    bar_checked: bar_mm.is_some(),
                },
                options.slope,
            )
        }
        ScaleTaps::Ruler { ends, length_mm } => {
            for p in ends {
                inside(*p, picture.size, "ruler point")?;
            }
            if distance(ends[0], ends[1]) < 2.0 {
                return Err(bad("the two ruler points coincide")
                    .hint("tap two lines of the ruler that are far apart"));
            }
            if !length_mm.is_finite() {
                return Err(bad("the length between the ruler points is not a number")
                    .at("length")
                    .hint("give the distance between the two lines that were tapped, in mm"));
            }
            (
                ScaleMarks::Ruler {
                    ends: ends.map(to_sixteenths),
                    u: thousandths(options.corner_u),
                    length_um: (length_mm * 1000.0).round() as i64,
                },
                options.ruler_slant,
            )
        }
    };
    Ok(FoundScale {
        marks,
        bounds: scale::bounds(
            options.lens,
            options.offset_mm,
            slope,
            focal,
            !matches!(taps, ScaleTaps::Ruler { .. }),
        ),
        warnings,
    })
}

pub(crate) fn thousandths(px: f64) -> i64 {
    (px * 1000.0).round() as i64
}

/// Marks from taps: the scale found, the line rounded to sixteenths of a pixel and thinned to what
/// is stored. `line_u`: as [`Marks::line_u`], in pixels or square pixels.
pub fn mark(
    quantity: Measured,
    picture: Picture<'_>,
    scale: FoundScale,
    line: &[Point],
    made: Line,
    line_u: f64,
) -> Result<(Marks, Vec<Warning>)> {
    let mut warnings = scale.warnings;
    if line.len() > super::marks::MAX_POINTS_IN {
        return Err(crate::error::Error::new(
            crate::error::ErrorKind::TooLarge,
            format!(
                "the line has {} points; at most {} are taken",
                line.len(),
                super::marks::MAX_POINTS_IN
            ),
        )
        .hint("mark it with fewer points"));
    }
    for p in line {
        inside(*p, picture.size, "mark")?;
    }
    let mut points: Vec<_> = line.iter().map(|p| to_sixteenths(*p)).collect();
    // A tap held still repeats its place: no length, no information.
    points.dedup();
    if quantity == Measured::Area && points.len() > 1 && points.first() == points.last() {
        points.pop();
    }
    if points.len() > MAX_POINTS {
        warnings.push(Warning::new(
            WarningCode::Thinned,
            format!(
                "the line had {} points; {MAX_POINTS} spread evenly over it are kept",
                points.len()
            ),
        ));
        let last = points.len() - 1;
        points = (0..MAX_POINTS)
            .filter_map(|i| points.get(i * last / (MAX_POINTS - 1)).copied())
            .collect();
    }
    if quantity == Measured::Length && points.len() < 2 {
        return Err(bad("the marks coincide: there is no length between them")
            .hint("tap the two ends of what is to be measured"));
    }
    let marks = Marks {
        quantity,
        picture: picture.size,
        scale: scale.marks,
        made,
        line: points,
        line_u: thousandths(line_u),
        taps: Vec::new(),
        bounds: scale.bounds,
    };
    Ok((marks, warnings))
}

/// A length or an area with its uncertainty, as it is printed.
#[derive(Debug, Clone, PartialEq)]
pub struct Measurement {
    /// What was measured.
    pub quantity: Measured,
    /// Best value in `unit`, rounded as printed.
    pub value: f64,
    /// Standard uncertainty, rounded to two significant digits.
    pub u: f64,
    /// Decimals of both.
    pub decimals: usize,
    /// Where the uncertainty comes from, in `unit`.
    pub budget: Budget,
    /// Everything needed to repeat it.
    pub marks: Marks,
    /// What to know.
    pub warnings: Vec<Warning>,
    /// Best value and standard uncertainty before rounding.
    pub unrounded: [f64; 2],
}

impl Measurement {
    /// `mm` or `mm2`.
    pub fn unit(&self) -> &'static str {
        match self.quantity {
            Measured::Length => "mm",
            Measured::Area => "mm2",
        }
    }

    /// `length` or `area`.
    pub fn quantity_name(&self) -> &'static str {
        match self.quantity {
            Measured::Length => "length",
            Measured::Area => "area",
        }
    }

    /// `card`, `sheet` or `ruler`.
    pub fn method(&self) -> &'static str {
        match self.marks.scale {
            ScaleMarks::Card(_) => "card",
            ScaleMarks::Sheet { .. } => "sheet",
            ScaleMarks::Ruler { .. } => "ruler",
        }
    }

    /// The method's word in the record, as the conditions know it: a ruler in a photo is not a ruler
    /// laid on by hand.
    pub fn recorded_method(&self) -> &'static str {
        match self.method() {
            "ruler" => "ruler_photo",
            other => other,
        }
    }

    /// Expanded uncertainty, k = 2, of the printed standard uncertainty.
    pub fn expanded(&self) -> f64 {
        rounded(f64::from(K) * self.u, self.decimals)
    }

    /// The value's digits, as the record stores them.
    pub fn value_text(&self) -> String {
        format!("{:.*}", self.decimals, self.value)
    }

    /// The standard uncertainty's digits.
    pub fn u_text(&self) -> String {
        format!("{:.*}", self.decimals, self.u)
    }

    /// One line for people: `50.13 mm ± 0.42 mm (k = 2), by card`.
    pub fn to_text(&self) -> String {
        let unit = self.unit().replace('2', "²");
        let d = self.decimals;
        let by = match self.method() {
            "sheet" => "scale sheet",
            m => m,
        };
        let mut text = format!(
            "{:.d$} {unit} ± {:.d$} {unit} (k = {K}), by {by}",
            self.value,
            self.expanded()
        );
        for w in &self.warnings {
            text.push_str("\n  ");
            text.push_str(&w.text);
        }
        text
    }
}

impl Serialize for Measurement {
    fn serialize<S: Serializer>(&self, s: S) -> std::result::Result<S::Ok, S::Error> {
        let mut o = s.serialize_struct("Measurement", 10)?;
        o.serialize_field("quantity", self.quantity_name())?;
        o.serialize_field("value", &self.value)?;
        o.serialize_field("unit", self.unit())?;
        o.serialize_field("u", &self.u)?;
        o.serialize_field("k", &K)?;
        o.serialize_field("U", &self.expanded())?;
        o.serialize_field("method", self.method())?;
        o.serialize_field("marks", &self.marks)?;
        o.serialize_field("warnings", &self.warnings)?;
        let r = |v: f64| rounded(v, self.decimals + 1);
        let b = &self.budget;
        o.serialize_field(
            "budget",
            &Budget {
                marks: r(b.marks),
                corners: r(b.corners),
                size: r(b.size),
                lens: r(b.lens),
                plane: r(b.plane),
            },
        )?;
        o.end()
    }
}

/// The nearest double to the number with that many decimals: through its digits, so that what is
/// computed with is what is printed.
fn rounded(v: f64, decimals: usize) -> f64 {
    format!("{v:.decimals$}").parse().unwrap_or(v)
}

/// The value that stored marks give. Uses nothing but the marks, so it is the same every time.
pub fn from_marks(marks: &Marks) -> Result<Measurement> {
    let scale = Scale::new(marks)?;
    let line = marks.line_px();
    let line_u = marks.line_u as f64 / 1000.0;
    let mut warnings = scale.warnings(&line);
    let used = match (marks.made, marks.quantity) {
        (Line::Drawn, Measured::Length) => {
            let steady = length::steady(&line, line_u);
            if let Some(text) = steady.said() {
                warnings.push(Warning::new(WarningCode::Steadied, text));
            }
            steady
        }
        _ => length::Steady::unchanged(line),
    };
    let mut r = reckon(&scale, marks.quantity, &used.line, marks.made, line_u)?;
    r.value *= 1.0 - used.excess;
    if marks.quantity == Measured::Length
        && marks.made == Line::Drawn
        && path_length(&used.line) < 10.0 * line_u.max(0.1)
    {
        warnings.push(Warning::new(
            WarningCode::MarksShort,
            "the mark is only a few pixels long, hardly more than the error of marking it; go nearer",
        ));
    }
    if marks.quantity == Measured::Area && super::area::crosses_itself(&used.line) {
        warnings.push(Warning::new(
            WarningCode::CrossesItself,
            "the outline crosses itself; the parts may cancel; draw it once round",
        ));
    }
    let u = r.budget.combined();
    let d = decimals(u);
    Ok(Measurement {
        quantity: marks.quantity,
        value: rounded(r.value, d),
        u: rounded(u, d),
        decimals: d,
        budget: r.budget,
        marks: marks.clone(),
        warnings,
        unrounded: [r.value, u],
    })
}

#[cfg(test)]
mod tests;
