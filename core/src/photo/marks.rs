//! What a person marked on a photo, in the form in which it is stored: whole numbers only, so that
//! anyone who has the original photo can repeat the measure to the printed digits.
//!
//! A result is always computed from these rounded marks, never from what was rounded away.

use serde::{Deserialize, Serialize};

use super::geometry::Point;
use crate::error::{Error, ErrorKind, Result};

/// Parts of a pixel in which places are stored.
pub const PER_PIXEL: f64 = 16.0;
/// Points of a line that are stored at most (design section 5).
pub const MAX_POINTS: usize = 2_000;
/// Points of a line that are taken in at most; more are refused, between the two the line is thinned.
pub const MAX_POINTS_IN: usize = 200_000;
/// Largest side of a picture whose marks are taken, in pixels.
pub const MAX_SIDE: u32 = 1 << 20;

/// A place on the picture in sixteenths of a pixel.
pub type Sixteenths = [i64; 2];

/// Rounds a place to sixteenths of a pixel.
pub fn to_sixteenths(p: Point) -> Sixteenths {
    // `as` saturates; places are checked to lie in the picture before they are stored.
    [
        (p[0] * PER_PIXEL).round() as i64,
        (p[1] * PER_PIXEL).round() as i64,
    ]
}

/// Back to pixels, exactly.
pub fn to_pixels(p: Sixteenths) -> Point {
    [p[0] as f64 / PER_PIXEL, p[1] as f64 / PER_PIXEL]
}

/// What is measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Measured {
    /// Length of the line, in millimetres.
    Length,
    /// Area inside the line, in square millimetres.
    Area,
}

/// How a line was made: decides how its own uncertainty is reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Line {
    /// Points set or drawn by hand.
    Drawn,
    /// Followed along a crack by the program.
    Traced,
    /// Filled to a stain's edge by the program.
    Outlined,
}

/// What gives the scale.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "by", rename_all = "lowercase")]
pub enum ScaleMarks {
    /// A card of the ID-1 size, 85.60 × 53.98 mm.
    Card(Corners),
    /// The four marks of the project's own printed scale sheet.
    Sheet {
        /// The four marks.
        #[serde(flatten)]
        corners: Corners,
        /// What the sheet's 100 mm check bar measured, in micrometres.
        bar_um: i64,
        /// False when nobody laid a rule on the check bar.
        bar_checked: bool,
    },
    /// Two points of a ruler.
    Ruler {
        /// The two points.
        ends: [Sixteenths; 2],
        /// Standard uncertainty of each coordinate, in thousandths of a pixel.
        u: i64,
        /// Distance between them on the ruler, in micrometres.
        length_um: i64,
    },
}

/// Four corners as tapped, and as used.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Corners {
    /// As the person gave them, in the person's order.
    pub tapped: [Sixteenths; 4],
    /// As used: clockwise, first along the long side, on the edges that were found.
    pub used: [Sixteenths; 4],
    /// Standard uncertainty of each coordinate of each used corner, in thousandths of a pixel.
    pub u: [i64; 4],
    /// True when `used` lies on edges found in the picture.
    pub snapped: bool,
}

/// Bounds of what cannot be seen in the picture; see `scale`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Bounds {
    /// Greatest radial displacement by the lens at the picture's corner, in hundred-thousandths of
    /// the distance from the middle.
    pub lens: i64,
    /// Greatest height of the marked surface above or below the scale's plane, in micrometres.
    pub offset_um: i64,
    /// Greatest slope of the marked surface against the scale's plane, in thousandths.
    pub slope: i64,
    /// Focal length in pixels.
    pub focal: i64,
    /// True where small offsets and slopes are likelier than large ones (triangular within the
    /// bounds): a card or sheet that somebody laid flat. Not said in measures of before: rectangular.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub peaked: bool,
}

/// Everything needed to repeat a measure from the original photo.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Marks {
    /// Length or area.
    pub quantity: Measured,
    /// Width and height in pixels of the picture after its orientation.
    pub picture: [u32; 2],
    /// What gives the scale.
    pub scale: ScaleMarks,
    /// How the line was made.
    pub made: Line,
    /// The path, or the polygon without its first point repeated.
    pub line: Vec<Sixteenths>,
    /// Standard uncertainty: of each coordinate of a drawn point, or of the whole of a traced
    /// line's length; thousandths of a pixel. Of an outlined area: thousandths of a square pixel.
    pub line_u: i64,
    /// The taps from which a traced or outlined line was made.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub taps: Vec<Sixteenths>,
    /// What was assumed of lens and surface.
    pub bounds: Bounds,
}

impl Marks {
    /// The line in pixels.
    pub fn line_px(&self) -> Vec<Point> {
        self.line.iter().map(|p| to_pixels(*p)).collect()
    }

    /// Refuses marks that no picture could carry: they may come from another author's line.
    pub fn check(&self) -> Result<()> {
        let [w, h] = self.picture;
        if w == 0 || h == 0 || w > MAX_SIDE || h > MAX_SIDE {
            return Err(bad(format!(
                "a picture of {w} × {h} pixels carries no marks"
            )));
        }
        if self.line.len() > MAX_POINTS {
            return Err(Error::new(
                ErrorKind::TooLarge,
                format!(
                    "the line has {} points; at most {MAX_POINTS} are stored",
                    self.line.len()
                ),
            )
            .hint("mark it with fewer points"));
        }
        let least = match self.quantity {
            Measured::Length => 2,
            Measured::Area => 3,
        };
        if self.line.len() < least {
            return Err(bad(match self.quantity {
                Measured::Length => "a length needs at least two marks",
                Measured::Area => "an area needs at least three marks",
            }));
        }
        for p in self.line.iter().chain(&self.taps) {
            inside(to_pixels(*p), self.picture, "mark")?;
        }
        let (places, us): (&[Sixteenths], &[i64]) = match &self.scale {
            ScaleMarks::Card(c) => (&c.used, &c.u),
            ScaleMarks::Sheet {
                corners, bar_um, ..
            } => {
                // Printers shrink to fit by some percent; far from that it is a slip of the pen.
                if !(50_000..=200_000).contains(bar_um) {
                    return Err(bad(
                        "the check bar of the scale sheet must measure between 50 and 200 mm",
                    )
                    .hint("lay a rule on the bar marked 100 mm and give what it shows"));
                }
                (&corners.used, &corners.u)
            }
            ScaleMarks::Ruler { ends, u, length_um } => {
                if !(100..=10_000_000).contains(length_um) {
                    return Err(bad(
                        "the length between the two ruler points must be between 0.1 mm and 10 m",
                    ));
                }
                (ends, std::slice::from_ref(u))
            }
        };
        // Corners found on edges may lie a little outside the picture.
        let (fw, fh) = (f64::from(w), f64::from(h));
        for p in places {
            let q = to_pixels(*p);
            if !(q[0] > -fw && q[0] < 2.0 * fw && q[1] > -fh && q[1] < 2.0 * fh) {
                return Err(bad("a corner of the scale lies far outside the picture"));
            }
        }
        let longest = 1_000 * i64::from(MAX_SIDE);
        let widest = match self.made {
            Line::Outlined => longest * i64::from(MAX_SIDE),
            _ => longest,
        };
        let b = &self.bounds;
        let in_range = us.iter().all(|u| (0..=longest).contains(u))
            && (0..=widest).contains(&self.line_u)
            && (0..=20_000).contains(&b.lens)
            && (0..=1_000_000).contains(&b.offset_um)
            && (0..=500).contains(&b.slope)
            && b.focal >= 1
            && b.focal <= 100 * i64::from(MAX_SIDE);
        if !in_range {
            return Err(bad(
                "the stated uncertainties of the marks are out of range",
            ));
        }
        Ok(())
    }
}

/// An error unless the place is a number and lies in the picture.
pub(crate) fn inside(p: Point, picture: [u32; 2], what: &str) -> Result<()> {
    let [w, h] = picture;
    if !(p[0].is_finite() && p[1].is_finite()) {
        return Err(bad(format!("a {what} has a place that is not a number"))
            .at(what)
            .hint("tap within the picture"));
    }
    if p[0] < 0.0 || p[1] < 0.0 || p[0] > f64::from(w) || p[1] > f64::from(h) {
        return Err(bad(format!(
            "the {what} at {:.1},{:.1} lies outside the picture of {w} × {h} pixels",
            p[0], p[1]
        ))
        .hint("places are pixels of the upright picture, from its top left corner, x to the right, y downwards"));
    }
    Ok(())
}

pub(crate) fn bad(what: impl Into<String>) -> Error {
    Error::new(ErrorKind::BadValue, what)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marks() -> Marks {
        Marks {
            quantity: Measured::Length,
            picture: [400, 300],
            scale: ScaleMarks::Ruler {
                ends: [[16, 16], [1616, 16]],
                u: 1000,
                length_um: 100_000,
            },
            made: Line::Drawn,
            line: vec![[100, 100], [900, 900]],
            line_u: 1000,
            taps: vec![],
            bounds: Bounds {
                lens: 1000,
                offset_um: 800,
                slope: 17,
                focal: 300,
                peaked: false,
            },
        }
    }

    #[test]
    fn marks_survive_json_and_hold_nothing_but_whole_numbers() {
        let m = marks();
        let text = serde_json::to_string(&m).unwrap();
        assert!(!text.contains('.'), "{text}");
        assert_eq!(serde_json::from_str::<Marks>(&text).unwrap(), m);
        let card = Marks {
            scale: ScaleMarks::Sheet {
                corners: Corners {
                    tapped: [[0, 0]; 4],
                    used: [[1, 1]; 4],
                    u: [200; 4],
                    snapped: true,
                },
                bar_um: 99_500,
                bar_checked: true,
            },
            ..m
        };
        let text = serde_json::to_string(&card).unwrap();
        assert_eq!(serde_json::from_str::<Marks>(&text).unwrap(), card);
    }

    #[test]
    fn marks_that_no_picture_could_carry_are_refused() {
        assert!(marks().check().is_ok());
        let cases: [fn(&mut Marks); 8] = [
            |m| m.picture = [0, 300],
            |m| m.line = vec![[100, 100]],
            |m| m.line = vec![[0, 0]; MAX_POINTS + 1],
            |m| m.line.push([16 * 401, 0]),
            |m| m.line.push([i64::MAX, i64::MIN]),
            |m| m.line_u = -1,
            |m| m.bounds.focal = 0,
            |m| {
                m.scale = ScaleMarks::Ruler {
                    ends: [[0, 0], [i64::MAX, 0]],
                    u: 1,
                    length_um: 1000,
                }
            },
        ];
        for (i, spoil) in cases.iter().enumerate() {
            let mut m = marks();
            spoil(&mut m);
            assert!(m.check().is_err(), "case {i}");
        }
    }
}
