//! What is known about a drawn picture: everything in pixels of the upright picture, origin at
//! its top left corner, x right, y down, the centre of the first pixel at (0.5, 0.5).

use crate::camera::Camera;
use crate::geometry::{Point, apart};
use nalgebra::{DMatrix, DVector, Matrix3, Vector3};
use serde::Serialize;

/// All that is known about one picture.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Truth {
    /// Width and height in pixels.
    pub size: [u32; 2],
    /// Scale cards, in the order in which they were laid down.
    pub cards: Vec<CardTruth>,
    /// Cracks.
    pub cracks: Vec<CrackTruth>,
    /// Stains.
    pub stains: Vec<StainTruth>,
    /// Further known lengths on the plane, such as the distance between two marks.
    pub lengths: Vec<LengthTruth>,
    /// Homography from the plane (mm) to the picture (px), rows first, as of a perfect lens.
    pub plane_to_px: [[f64; 3]; 3],
    /// The two radial coefficients of the lens (see [`Camera::bend`]).
    pub bend: [f64; 2],
    /// Standard deviation of the blur in pixels.
    pub blur_px: f64,
    /// Whether the picture counts as sharp: blur below 1.2 px and no shake above 2 px.
    pub sharp: bool,
    /// Pixels a millimetre in the middle of the picture.
    pub px_per_mm: f64,
}

/// A scale card.
#[derive(Clone, Debug, Serialize)]
pub struct CardTruth {
    /// Corners where the straight edges would meet, clockwise from the card's own top left.
    pub corners_px: [Point; 4],
    /// The same on the plane, in millimetres.
    pub corners_mm: [Point; 4],
    /// Width and height in millimetres.
    pub size_mm: [f64; 2],
    /// How far its face lies above the plane.
    pub lift_mm: f64,
    /// Whether all four corners are on the picture.
    pub whole: bool,
}

/// A crack.
#[derive(Clone, Debug, Serialize)]
pub struct CrackTruth {
    /// Its course, densely, from where it begins to its tip.
    pub polyline_px: Vec<Point>,
    /// The same on the plane.
    pub polyline_mm: Vec<Point>,
    /// Length on the plane.
    pub length_mm: f64,
    /// Length on the picture.
    pub length_px: f64,
    /// Width where it is widest.
    pub width_mm: f64,
}

/// A stain.
#[derive(Clone, Debug, Serialize)]
pub struct StainTruth {
    /// Outline at half of its strength.
    pub polygon_px: Vec<Point>,
    /// The same on the plane.
    pub polygon_mm: Vec<Point>,
    /// A place well inside.
    pub middle_px: Point,
    /// Area on the picture.
    pub area_px: f64,
    /// Area on the plane.
    pub area_mm2: f64,
}

/// A known length.
#[derive(Clone, Debug, Serialize)]
pub struct LengthTruth {
    /// The path on the picture.
    pub path_px: Vec<Point>,
    /// The path on the plane.
    pub path_mm: Vec<Point>,
    /// Its length on the plane.
    pub length_mm: f64,
}

/// How two pictures of one plane belong together.
#[derive(Clone, Debug, Serialize)]
pub struct PairTruth {
    /// Whether they show the same place at all.
    pub same_view: bool,
    /// Homography from older to newer pixels, rows first: exact for perfect lenses, else the best
    /// fit over the part that both see; zero for two different places.
    pub homography: [[f64; 3]; 3],
    /// How far that homography is off at most, in pixels, because of the lenses.
    pub worst_px: f64,
    /// Points that are exact whatever the lens: each older pixel and its newer one.
    pub points: Vec<[Point; 2]>,
}

/// A matrix as three rows.
pub fn rows(m: &Matrix3<f64>) -> [[f64; 3]; 3] {
    [0, 1, 2].map(|r| [0, 1, 2].map(|c| m[(r, c)]))
}

/// Applies a homography given as rows.
pub fn mapped(h: &[[f64; 3]; 3], p: Point) -> Point {
    let v = [0, 1, 2].map(|r| h[r][0] * p[0] + h[r][1] * p[1] + h[r][2]);
    [v[0] / v[2], v[1] / v[2]]
}

/// The truth about two pictures of the same plane.
pub fn pair(older: &Camera, newer: &Camera) -> PairTruth {
    let mut points = Vec::new();
    for j in 0..=20 {
        for i in 0..=20 {
            let p = [
                f64::from(older.width) * f64::from(i) / 20.0,
                f64::from(older.height) * f64::from(j) / 20.0,
            ];
            if let Some(q) = older.to_plane(p).and_then(|plane| newer.to_pixel(plane))
                && newer.sees(q, 0.0)
            {
                points.push([p, q]);
            }
        }
    }
    let start = newer.homography() * older.homography().try_inverse().unwrap_or_default();
    let scaled = start / start[(2, 2)];
    let perfect = older.bend == [0.0, 0.0] && newer.bend == [0.0, 0.0];
    let h = if perfect || points.len() < 8 {
        scaled
    } else {
        fitted(&points).unwrap_or(scaled)
    };
    let homography = rows(&h);
    let worst_px = points
        .iter()
        .map(|[a, b]| apart(mapped(&homography, *a), *b))
        .fold(0.0, f64::max);
    PairTruth {
        same_view: true,
        homography,
        worst_px,
        points,
    }
}

/// The homography with the least squared algebraic error in normalised coordinates.
fn fitted(points: &[[Point; 2]]) -> Option<Matrix3<f64>> {
    let norm = |which: usize| {
        let n = points.len() as f64;
        let mx = points.iter().map(|p| p[which][0]).sum::<f64>() / n;
        let my = points.iter().map(|p| p[which][1]).sum::<f64>() / n;
        let spread = points
            .iter()
            .map(|p| apart(p[which], [mx, my]))
            .sum::<f64>()
            / n;
        let s = std::f64::consts::SQRT_2 / spread.max(1e-9);
        Matrix3::new(s, 0.0, -s * mx, 0.0, s, -s * my, 0.0, 0.0, 1.0)
    };
    let (ta, tb) = (norm(0), norm(1));
    let mut a = DMatrix::zeros(2 * points.len(), 8);
    let mut b = DVector::zeros(2 * points.len());
    for (i, [from, to]) in points.iter().enumerate() {
        let p = ta * Vector3::new(from[0], from[1], 1.0);
        let q = tb * Vector3::new(to[0], to[1], 1.0);
        for (row, value) in [(2 * i, q.x), (2 * i + 1, q.y)] {
            let shift = if row % 2 == 0 { 0 } else { 3 };
            a[(row, shift)] = p.x;
            a[(row, shift + 1)] = p.y;
            a[(row, shift + 2)] = 1.0;
            a[(row, 6)] = -p.x * value;
            a[(row, 7)] = -p.y * value;
            b[row] = value;
        }
    }
    let square = a.transpose() * &a;
    let h = square.lu().solve(&(a.transpose() * b))?;
    let m = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], 1.0);
    let full = tb.try_inverse()? * m * ta;
    Some(full / full[(2, 2)])
}
