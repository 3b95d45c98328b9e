//! The four corners of a card, or the four marks of the scale sheet: given in any order, brought
//! into one order, and moved from rough taps to what the picture shows.
//!
//! The order used is clockwise as seen, the first side along the long side of the card. Which side
//! is the long one is taken from the order given, unless the picture contradicts it clearly: a
//! camera that looks through the middle of the picture can have taken only one of the two.

use nalgebra::{Matrix3, Vector3};

use super::geometry::{Homography, Point, distance, is_convex, middle, signed_area};
use super::marks::{Corners, bad, inside, to_pixels, to_sixteenths};
use super::measurement::{Options, Picture, thousandths};
use super::progress::Progress;
use super::scale::{CARD_MM, SHEET_MM, Warning, WarningCode};
use super::{edges, targets};
use crate::error::Result;

/// What the four corners belong to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// A card with straight edges and rounded corners.
    Card,
    /// The scale sheet with four printed marks.
    Sheet,
}

impl Shape {
    /// Long and short side in mm.
    pub fn size(self) -> [f64; 2] {
        match self {
            Self::Card => CARD_MM,
            Self::Sheet => SHEET_MM,
        }
    }
}

/// Corners closer than this are one tap twice.
const COINCIDE_PX: f64 = 4.0;
/// Uncertainty of a tap whose edge was not found: pixels at least, and part of the long side.
const ROUGH_PX: f64 = 3.0;
const ROUGH_PART: f64 = 0.006;
/// Above this misfit the four corners are no card, or the picture was cut.
const ODD_SHAPE: f64 = 0.1;

/// Orders the taps, looks for the real edges or marks, and says what was done.
pub(crate) fn find(
    picture: Picture<'_>,
    given: &[Point; 4],
    shape: Shape,
    options: &Options,
    focal: f64,
    warnings: &mut Vec<Warning>,
    progress: &Progress,
) -> Result<Corners> {
    let found = find_any(picture, given, shape, options, focal, warnings, progress)?;
    if misfit(
        &found.used.map(to_pixels),
        shape.size(),
        picture.size,
        focal,
    ) > ODD_SHAPE
    {
        warnings.push(Warning::new(
            WarningCode::NotACard,
            "the four corners do not have the shape of what they belong to; tap them again, on the whole picture as it was taken",
        ));
    }
    Ok(found)
}

fn find_any(
    picture: Picture<'_>,
    given: &[Point; 4],
    shape: Shape,
    options: &Options,
    focal: f64,
    warnings: &mut Vec<Warning>,
    progress: &Progress,
) -> Result<Corners> {
    for p in given {
        inside(*p, picture.size, "corner")?;
    }
    let tapped = given.map(to_sixteenths);
    let given = tapped.map(to_pixels);
    let ordered = order(&given, shape.size(), picture.size, focal)?;
    if let Some(why) = ordered.why {
        warnings.push(Warning::new(WarningCode::CornersReordered, why));
    }
    let as_given = |u: f64| Corners {
        tapped,
        used: ordered.corners.map(to_sixteenths),
        u: [thousandths(u); 4],
        snapped: false,
    };
    let (Some(img), true) = (picture.rgb, options.snap) else {
        return Ok(as_given(options.corner_u));
    };
    let found = match shape {
        Shape::Card => edges::card(img, &ordered.corners, focal, progress)?,
        Shape::Sheet => targets::sheet(img, &ordered.corners, progress)?,
    };
    match found {
        Some(f) => Ok(Corners {
            tapped,
            used: f.corners.map(to_sixteenths),
            u: f.u.map(thousandths),
            snapped: true,
        }),
        None => {
            let what = match shape {
                Shape::Card => "the card's edges were not found near the four corners",
                Shape::Sheet => "the sheet's marks were not found near the four taps",
            };
            warnings.push(Warning::new(
                WarningCode::CornersNotFound,
                format!("{what}; they are used as tapped, with a larger uncertainty"),
            ));
            // Taps that were to be snapped are rough ones.
            let [a, b, ..] = ordered.corners;
            let rough = (ROUGH_PART * distance(a, b)).max(ROUGH_PX);
            Ok(as_given(options.corner_u * rough))
        }
    }
}

/// Corners in order, and why that differs from the order given.
#[derive(Debug, Clone, PartialEq)]
pub struct Ordered {
    /// Clockwise as seen, the first side along the long side.
    pub corners: [Point; 4],
    /// A sentence when they were given otherwise.
    pub why: Option<String>,
}

/// Brings four corners, given in any order, into the order used.
pub fn order(given: &[Point; 4], size: [f64; 2], picture: [u32; 2], focal: f64) -> Result<Ordered> {
    for (i, p) in given.iter().enumerate() {
        if given
            .iter()
            .skip(i + 1)
            .any(|q| distance(*p, *q) < COINCIDE_PX)
        {
            return Err(bad("two corners of the card coincide")
                .hint("tap the four corners of the card, each once"));
        }
    }
    let m = middle(given);
    let angle = |p: &Point| (p[1] - m[1]).atan2(p[0] - m[0]);
    let mut round = *given;
    // y goes down, so growing angles go clockwise as seen.
    round.sort_by(|a, b| angle(a).total_cmp(&angle(b)));
    let first = round.iter().position(|p| p == &given[0]).unwrap_or(0);
    round.rotate_left(first);
    if !is_convex(&round) {
        return Err(
            bad("the four corners do not make a card: one lies between the others")
                .hint("tap the four corners of the card, one after the other, round it"),
        );
    }
    let why = if round == *given {
        None
    } else if is_convex(given) && signed_area(given) < 0.0 {
        Some("corners reordered: they were given counter-clockwise")
    } else {
        Some("corners reordered: they were given crosswise")
    };
    let turned = {
        let mut t = round;
        t.rotate_left(1);
        t
    };
    let (as_is, other) = (
        misfit(&round, size, picture, focal),
        misfit(&turned, size, picture, focal),
    );
    // Clearly: the misfit given is above 5 % in shape, and the other explains it four times better.
    let swap = as_is > 0.05 && other < 0.25 * as_is;
    Ok(if swap {
        Ordered {
            corners: turned,
            why: Some(match why {
                None => {
                    "corners reordered: the first side given is the card's short side".to_owned()
                }
                Some(w) => format!("{w}, and the first side given is the card's short side"),
            }),
        }
    } else {
        Ordered {
            corners: round,
            why: why.map(str::to_owned),
        }
    })
}

/// How far four corners are from a view of a rectangle of that size by a camera that looks through
/// the middle of the picture: 0 for a perfect view; about the relative error in the ratio of the
/// sides. The focal length may be from 0.6 to 2.5 times the expected one.
pub(crate) fn misfit(corners: &[Point; 4], size: [f64; 2], picture: [u32; 2], focal: f64) -> f64 {
    let [w, h] = size;
    let Some(to_px) = Homography::from_four(&[[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]], corners)
    else {
        return f64::INFINITY;
    };
    let [cx, cy] = picture.map(|s| f64::from(s) / 2.0);
    let m = to_px.matrix();
    let mut least = f64::INFINITY;
    for i in -4..=7 {
        let f = focal * (1.14_f64).powi(i);
        let inverse = Matrix3::new(1.0 / f, 0.0, -cx / f, 0.0, 1.0 / f, -cy / f, 0.0, 0.0, 1.0);
        let b = inverse * m;
        let (b1, b2): (Vector3<f64>, Vector3<f64>) = (b.column(0).into(), b.column(1).into());
        let (n1, n2) = (b1.norm(), b2.norm());
        if !(n1 > 0.0 && n2 > 0.0) {
            continue;
        }
        least = least.min((n1 / n2).ln().hypot(b1.dot(&b2) / (n1 * n2)));
    }
    least
}
