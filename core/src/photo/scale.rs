//! From pixels to millimetres: the plane given by a card, a scale sheet or a ruler.
//!
//! Every source of error is a parameter of one function, so that the first-order propagation and the
//! Monte Carlo run that checks it (`uncertainty`) vary the very same thing:
//!
//! * the corners or ruler points, independent and normal, with the stated uncertainty;
//! * the size of the card: ISO/IEC 7810 lets an unused ID-1 card be 85.47 to 85.72 mm by 53.92 to
//!   54.03 mm (from memory), taken as rectangular; of the sheet: what its check bar measured;
//! * the lens: a radial displacement k r² about the picture's middle, r = 1 at the picture's corner,
//!   k rectangular within ± `Bounds::lens`;
//! * the surface: the marks lie in a plane that stands off the scale's plane by a height and leans
//!   against it by two slopes about the scale's middle, within ± `Bounds`. A card or sheet was laid
//!   flat by somebody: small errors are likelier than large ones, so they are triangular (JCGM
//!   100:2008, 4.3.9). For that the camera is a pinhole that looks through the picture's middle with
//!   `Bounds::focal`.
//!
//! A ruler gives no plane: the surface is taken to face the camera, and `Bounds::slope` then bounds
//! how far it does not; rectangular, since nobody tries to look along a ruler squarely.

use nalgebra::{Matrix3, Vector3};

use super::geometry::{Homography, Point, distance, middle};
use super::marks::{Bounds, Corners, Marks, Measured, ScaleMarks, bad, to_pixels};
use crate::error::{Error, ErrorKind, Result};

/// Long and short side in mm of an ID-1 card (ISO/IEC 7810).
pub const CARD_MM: [f64; 2] = [85.60, 53.98];
/// Thickness in mm of an ID-1 card (ISO/IEC 7810).
pub const CARD_THICKNESS_MM: f64 = 0.76;
/// Radius in mm of the rounded corners of an ID-1 card (ISO/IEC 7810: 3.18 ± 0.30).
pub const CARD_RADIUS_MM: f64 = 3.18;
/// Distances in mm between the marks of the printed scale sheet, the same for both paper sizes.
pub const SHEET_MM: [f64; 2] = [160.0, 100.0];

/// Half-widths of the tolerance of [`CARD_MM`].
const CARD_TOLERANCE_MM: [f64; 2] = [0.125, 0.055];
/// Reading a rule against the check bar: ± 0.25 mm on 100 mm.
const BAR_READING: f64 = 0.0025;
/// A printer's two directions differ by up to this, and only one is checked.
const PRINTER_SQUARENESS: f64 = 0.005;
/// Printers that were not checked: "fit to page" is caught by the check bar only.
const BAR_UNCHECKED: f64 = 0.03;
/// Setting a mark's length on a ruler: half-width in mm of a printed division.
const RULER_DIVISION_MM: f64 = 0.1;

const SQRT_3: f64 = 1.732_050_807_568_877_2;
const SQRT_6: f64 = 2.449_489_742_783_178;

/// How an error is spread.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spread {
    /// Normal.
    Normal,
    /// Rectangular: bounds and nothing else are known.
    Rectangular,
    /// Triangular: bounds, and that what lies in their middle is likelier.
    Triangular,
}

/// Where an error comes from; the rows of the uncertainty budget.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Source {
    /// Corners or ruler points.
    Corners,
    /// Size of the card, print or ruler.
    Size,
    /// Lens distortion.
    Lens,
    /// Surface off the scale's plane.
    Plane,
}

/// One parameter of the scale: its error is zero at best guess.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Parameter {
    /// Where it comes from.
    pub source: Source,
    /// How it is spread.
    pub spread: Spread,
    /// Standard deviation: pixels (corners), mm (card, height), else a plain ratio.
    pub sd: f64,
}

#[derive(Debug, Clone)]
enum Basis {
    Plane { corners: [Point; 4], size: [f64; 2] },
    Ruler { ends: [Point; 2], length: f64 },
}

/// A scale with all its possible errors.
#[derive(Debug, Clone)]
pub struct Scale {
    basis: Basis,
    parameters: Vec<Parameter>,
    centre: Point,
    half_diagonal: f64,
    focal: f64,
}

/// The scale for one choice of errors: takes pixels to places in millimetres.
#[derive(Debug, Clone)]
pub struct Placed {
    centre: Point,
    half_diagonal: f64,
    k: f64,
    slope: [f64; 2],
    how: How,
}

#[derive(Debug, Clone)]
enum How {
    Plane {
        to_mm: Homography,
        height: f64,
        middle: Point,
    },
    Rays {
        focal: f64,
        depth: f64,
    },
}

impl Scale {
    /// The scale that checked marks describe.
    pub fn new(marks: &Marks) -> Result<Self> {
        marks.check()?;
        let [w, h] = marks.picture.map(f64::from);
        let b = &marks.bounds;
        let mut p = Vec::with_capacity(14);
        let mut push = |source, spread, sd: f64| p.push(Parameter { source, spread, sd });
        let rectangular = |half: f64| half / SQRT_3;
        let mut plane = |c: &Corners, size_sd: [f64; 2]| {
            for u in c.u {
                push(Source::Corners, Spread::Normal, u as f64 / 1000.0);
                push(Source::Corners, Spread::Normal, u as f64 / 1000.0);
            }
            push(Source::Size, Spread::Rectangular, size_sd[0]);
            push(Source::Size, Spread::Rectangular, size_sd[1]);
            c.used.map(to_pixels)
        };
        let basis = match &marks.scale {
            ScaleMarks::Card(c) => Basis::Plane {
                corners: plane(c, CARD_TOLERANCE_MM.map(rectangular)),
                size: CARD_MM,
            },
            ScaleMarks::Sheet {
                corners,
                bar_um,
                bar_checked,
            } => {
                let printed = *bar_um as f64 / 100_000.0;
                let size = SHEET_MM.map(|s| s * printed);
                let along = if *bar_checked {
                    BAR_READING
                } else {
                    BAR_UNCHECKED
                };
                let across = if *bar_checked {
                    PRINTER_SQUARENESS
                } else {
                    BAR_UNCHECKED
                };
                Basis::Plane {
                    corners: plane(
                        corners,
                        [rectangular(along * size[0]), rectangular(across * size[1])],
                    ),
                    size,
                }
            }
            ScaleMarks::Ruler { ends, u, length_um } => {
                for _ in 0..4 {
                    push(Source::Corners, Spread::Normal, *u as f64 / 1000.0);
                }
                let length = *length_um as f64 / 1000.0;
                push(
                    Source::Size,
                    Spread::Rectangular,
                    rectangular(RULER_DIVISION_MM / length),
                );
                Basis::Ruler {
                    ends: ends.map(to_pixels),
                    length,
                }
            }
        };
        push(
            Source::Lens,
            Spread::Rectangular,
            rectangular(b.lens as f64 / 1e5),
        );
        let (spread, divisor) = if b.peaked {
            (Spread::Triangular, SQRT_6)
        } else {
            (Spread::Rectangular, SQRT_3)
        };
        let slope = b.slope as f64 / 1000.0;
        for half in [b.offset_um as f64 / 1000.0, slope, slope] {
            push(Source::Plane, spread, half / divisor);
        }
        let scale = Self {
            basis,
            parameters: p,
            centre: [w / 2.0, h / 2.0],
            half_diagonal: w.hypot(h) / 2.0,
            focal: b.focal as f64,
        };
        if scale.placed(&vec![0.0; scale.parameters.len()]).is_none() {
            return Err(match marks.scale {
                ScaleMarks::Ruler { .. } => bad("the two ruler points coincide")
                    .hint("tap two lines of the ruler that are far apart"),
                _ => bad("the four corners do not make a card")
                    .hint("tap the four corners, one after the other, round the card"),
            });
        }
        Ok(scale)
    }

    /// All parameters, in the order that [`placed`](Self::placed) takes their errors.
    pub fn parameters(&self) -> &[Parameter] {
        &self.parameters
    }

    /// The scale if each parameter were off by the given amount; `None` when that is no scale.
    pub fn placed(&self, errors: &[f64]) -> Option<Placed> {
        let e = |i: usize| errors.get(i).copied().unwrap_or(0.0);
        let lens = |k: f64, p: Point| undistort(p, self.centre, self.half_diagonal, k);
        match &self.basis {
            Basis::Plane { corners, size } => {
                let k = e(10);
                let mut c = *corners;
                for (i, p) in c.iter_mut().enumerate() {
                    *p = lens(k, [p[0] + e(2 * i), p[1] + e(2 * i + 1)]);
                }
                let (w, h) = (size[0] + e(8), size[1] + e(9));
                let to_px = Homography::from_four(&[[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]], &c)?;
                let (height, slope) = (e(11), [e(12), e(13)]);
                let middle = [w / 2.0, h / 2.0];
                let to_mm = if height == 0.0 && slope == [0.0, 0.0] {
                    to_px.inverse(middle)?
                } else {
                    self.lifted(&to_px, height, slope, middle)?
                        .inverse(middle)?
                };
                Some(Placed {
                    centre: self.centre,
                    half_diagonal: self.half_diagonal,
                    k,
                    slope,
                    how: How::Plane {
                        to_mm,
                        height,
                        middle,
                    },
                })
            }
            Basis::Ruler { ends, length } => {
                let k = e(5);
                let mut placed = Placed {
                    centre: self.centre,
                    half_diagonal: self.half_diagonal,
                    k,
                    slope: [e(7), e(8)],
                    how: How::Rays {
                        focal: self.focal,
                        depth: 1.0,
                    },
                };
                let mut it = ends
                    .iter()
                    .enumerate()
                    .map(|(i, p)| placed.place([p[0] + e(2 * i), p[1] + e(2 * i + 1)]));
                let (a, b) = (it.next()??, it.next()??);
                drop(it);
                let d = apart(a, b);
                if !(d > 1e-12) {
                    return None;
                }
                let depth = length * (1.0 + e(4)) / d - e(6);
                if !(depth > 0.0) || !depth.is_finite() {
                    return None;
                }
                placed.how = How::Rays {
                    focal: self.focal,
                    depth,
                };
                Some(placed)
            }
        }
    }

    /// The projection of a plane that stands `height` above the scale's and leans by `slope` about
    /// `at`: its points (x, y, height + slope·((x, y) − at)).
    fn lifted(
        &self,
        to_px: &Homography,
        height: f64,
        slope: [f64; 2],
        at: Point,
    ) -> Option<Homography> {
        let up = self.normal_column(to_px)?;
        let m = to_px.matrix();
        let c1 = m.column(0) + up * slope[0];
        let c2 = m.column(1) + up * slope[1];
        let c3 = m.column(2) + up * (height - slope[0] * at[0] - slope[1] * at[1]);
        let rows = [0, 1, 2].map(|r| [c1[r], c2[r], c3[r]]);
        Homography::new(rows, at)
    }

    /// What one millimetre straight up from the scale's plane adds to the homogeneous pixel.
    fn normal_column(&self, to_px: &Homography) -> Option<Vector3<f64>> {
        let f = self.focal;
        let k = Matrix3::new(
            f,
            0.0,
            self.centre[0],
            0.0,
            f,
            self.centre[1],
            0.0,
            0.0,
            1.0,
        );
        let b = k.try_inverse()? * to_px.matrix();
        let (b1, b2): (Vector3<f64>, Vector3<f64>) = (b.column(0).into(), b.column(1).into());
        let unit = (b1.norm() + b2.norm()) / 2.0;
        if !(unit > 0.0) {
            return None;
        }
        let mut n = b1.cross(&b2);
        n *= unit / n.norm();
        // Up is towards the camera, whichever way round the corners go.
        let t: Vector3<f64> = b.column(2).into();
        if n.dot(&t) > 0.0 {
            n = -n;
        }
        let up = k * n;
        up.iter().all(|v| v.is_finite()).then_some(up)
    }

    /// Length or area of a line in pixels, in mm or mm², for one choice of errors.
    pub fn evaluate(&self, what: Measured, line: &[Point], errors: &[f64]) -> Option<f64> {
        self.placed(errors)?.evaluate(what, line)
    }

    /// What is wrong with the picture as a means of measuring this line.
    pub fn warnings(&self, line: &[Point]) -> Vec<Warning> {
        let mut out = Vec::new();
        match &self.basis {
            Basis::Plane { corners, size } => {
                let [a, b, c, d] = *corners;
                let long = (distance(a, b) + distance(c, d)) / 2.0;
                let short = (distance(b, c) + distance(d, a)) / 2.0;
                let px = long.max(short);
                if px < SMALL_PX {
                    out.push(Warning::new(WarningCode::CardSmall, format!(
                        "the card is small in the picture: its long side is {px:.0} pixels; go nearer until it is at least {SMALL_PX:.0}"
                    )));
                }
                let zero = vec![0.0; self.parameters.len()];
                let Some(placed) = self.placed(&zero) else {
                    return out;
                };
                if let Some(tilt) = placed.tilt(middle(corners)).filter(|t| *t > STEEP_DEGREES) {
                    out.push(Warning::new(WarningCode::Steep, format!(
                        "the picture was taken at a slant of about {tilt:.0} degrees; take it from straight above"
                    )));
                }
                let at = [size[0] / 2.0, size[1] / 2.0];
                let far = line
                    .iter()
                    .filter_map(|p| placed.place(*p))
                    .map(|q| distance([q[0], q[1]], at))
                    .fold(0.0, f64::max);
                let limit = FAR_SIDES * size[0];
                if far > limit {
                    out.push(Warning::new(WarningCode::FarFromScale, format!(
                        "the mark lies up to {far:.0} mm from the middle of the card; lay the card within {limit:.0} mm of it"
                    )));
                }
            }
            Basis::Ruler { ends, .. } => {
                let px = distance(ends[0], ends[1]);
                if px < SMALL_PX {
                    out.push(Warning::new(WarningCode::CardSmall, format!(
                        "the two ruler points are only {px:.0} pixels apart; choose points at least {SMALL_PX:.0} pixels apart"
                    )));
                }
                let m = middle(ends);
                let far = line.iter().map(|p| distance(*p, m)).fold(0.0, f64::max);
                if far > 2.0 * px {
                    out.push(Warning::new(
                        WarningCode::FarFromScale,
                        "the mark lies far from the two ruler points; lay the ruler beside it"
                            .to_owned(),
                    ));
                }
            }
        }
        out
    }
}

/// Below this many pixels for its longer side a card is small: 1 px is then 0.3 mm or more.
const SMALL_PX: f64 = 280.0;
/// Above this slant the far side of the card is poorly known.
const STEEP_DEGREES: f64 = 45.0;
/// Farther than this many long sides from the card's middle, its small errors have grown several times.
const FAR_SIDES: f64 = 2.0;

impl Placed {
    /// Where a pixel lies, in mm; `None` beyond the plane's horizon.
    pub fn place(&self, p: Point) -> Option<[f64; 3]> {
        let p = undistort(p, self.centre, self.half_diagonal, self.k);
        match &self.how {
            How::Plane {
                to_mm,
                height,
                middle,
            } => {
                let [x, y] = to_mm.apply(p)?;
                let z = height + self.slope[0] * (x - middle[0]) + self.slope[1] * (y - middle[1]);
                Some([x, y, z])
            }
            How::Rays { focal, depth } => {
                let (u, v) = (
                    (p[0] - self.centre[0]) / focal,
                    (p[1] - self.centre[1]) / focal,
                );
                let n = 1.0 - self.slope[0] * u - self.slope[1] * v;
                // The plane z = depth + slope · (x, y): a ray (u, v, 1) meets it at depth / n.
                (n > 1e-6).then(|| [u * depth / n, v * depth / n, depth / n])
            }
        }
    }

    /// Length of the path or area of the polygon, in mm or mm².
    pub fn evaluate(&self, what: Measured, line: &[Point]) -> Option<f64> {
        let placed: Option<Vec<[f64; 3]>> = line.iter().map(|p| self.place(*p)).collect();
        let placed = placed?;
        let value = match what {
            Measured::Length => placed
                .iter()
                .zip(placed.iter().skip(1))
                .map(|(a, b)| apart(*a, *b))
                .sum(),
            Measured::Area => {
                let flat: Vec<Point> = placed.iter().map(|p| [p[0], p[1]]).collect();
                let [a, b] = self.slope;
                super::geometry::signed_area(&flat).abs() * (1.0 + a * a + b * b).sqrt()
            }
        };
        f64::is_finite(value).then_some(value)
    }

    /// Slant in degrees between the line of sight and the plane's upright at a pixel, from how much
    /// more a pixel covers one way than the other (exact for a distant camera).
    pub fn tilt(&self, p: Point) -> Option<f64> {
        let How::Plane { to_mm, .. } = &self.how else {
            return None;
        };
        let [[a, b], [c, d]] = to_mm.jacobian(p)?;
        let (sum, det) = (a * a + b * b + c * c + d * d, (a * d - b * c).abs());
        let root = (sum * sum - 4.0 * det * det).max(0.0).sqrt();
        let ratio = ((sum - root) / (sum + root)).max(0.0).sqrt();
        Some(ratio.min(1.0).acos().to_degrees())
    }
}

/// Takes out a radial displacement of k r², r = 1 at the picture's corner.
pub fn undistort(p: Point, centre: Point, half_diagonal: f64, k: f64) -> Point {
    if k == 0.0 {
        return p;
    }
    let d = [
        (p[0] - centre[0]) / half_diagonal,
        (p[1] - centre[1]) / half_diagonal,
    ];
    let s = 1.0 + k * (d[0] * d[0] + d[1] * d[1]);
    [
        centre[0] + (p[0] - centre[0]) * s,
        centre[1] + (p[1] - centre[1]) * s,
    ]
}

pub(crate) fn apart(a: [f64; 3], b: [f64; 3]) -> f64 {
    ((a[0] - b[0]).powi(2) + (a[1] - b[1]).powi(2) + (a[2] - b[2]).powi(2)).sqrt()
}

/// What a warning is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
pub enum WarningCode {
    /// The card, sheet or ruler covers few pixels.
    CardSmall,
    /// The picture was taken at a slant.
    Steep,
    /// The mark lies far from the scale.
    FarFromScale,
    /// The corners were given in another order than the one used.
    CornersReordered,
    /// The card's edges were not found near the taps.
    CornersNotFound,
    /// No straight view of a card has these four corners.
    NotACard,
    /// The sheet's check bar was not measured.
    BarNotChecked,
    /// A drawn line was steadied.
    Steadied,
    /// The line had more points than are stored.
    Thinned,
    /// The polygon crosses itself.
    CrossesItself,
    /// The line is so short that the marks' own error rules.
    MarksShort,
    /// The filling of a stain leaked, or its edge is unclear.
    Outline,
}

/// A warning: a code for programs, a sentence for people. Printed as the sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Warning {
    /// What it is about.
    pub code: WarningCode,
    /// What to know and do.
    pub text: String,
}

impl Warning {
    /// A warning.
    pub fn new(code: WarningCode, text: impl Into<String>) -> Self {
        Self {
            code,
            text: text.into(),
        }
    }
}

impl serde::Serialize for Warning {
    fn serialize<S: serde::Serializer>(&self, s: S) -> std::result::Result<S::Ok, S::Error> {
        s.serialize_str(&self.text)
    }
}

/// The default bounds for a picture, as stored with the marks.
pub fn default_focal(picture: [u32; 2]) -> f64 {
    // The usual main camera of a phone sees as a 26 mm lens does on 36 × 24 mm film of the same
    // diagonal: on a 4:3 sensor that is 0.75 of the long side (common practice, no source).
    0.75 * f64::from(picture[0].max(picture[1]))
}

/// Marks beyond the horizon of the card's plane.
pub(crate) fn beyond_horizon() -> Error {
    Error::new(
        ErrorKind::BadValue,
        "a mark lies beyond the horizon of the card's plane, where no length can be told",
    )
    .hint("check the four corners, or take the picture from straight above")
}

/// The bounds, as plain numbers: see [`Bounds`].
pub(crate) fn bounds(lens: f64, offset_mm: f64, slope: f64, focal: f64, peaked: bool) -> Bounds {
    Bounds {
        lens: (lens * 1e5).round() as i64,
        offset_um: (offset_mm * 1e3).round() as i64,
        slope: (slope * 1e3).round() as i64,
        focal: focal.round() as i64,
        peaked,
    }
}
