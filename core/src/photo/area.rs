//! Area inside an outline.

use super::geometry::{Point, turn};
use super::length::measure;
use super::marks::{Measured, bad};
use super::measurement::{Measurement, Options, Picture, ScaleTaps};
use super::progress::Progress;
use crate::error::Result;

/// Measures the area inside a polygon of taps or a drawn outline, in pixels of the upright picture.
pub fn measure_area(
    picture: Picture<'_>,
    scale: &ScaleTaps,
    outline: &[Point],
    options: &Options,
    progress: &Progress,
) -> Result<Measurement> {
    measure(Measured::Area, picture, scale, outline, options, progress)
}

pub(crate) fn enough(outline: &[Point]) -> Result<()> {
    if outline.len() < 3 {
        return Err(bad("an area needs at least three marks").hint("mark the outline once round"));
    }
    Ok(())
}

/// True when two sides of the polygon cross. Every pair is tried: at most 2,000 points, two million
/// pairs, a few milliseconds.
pub fn crosses_itself(polygon: &[Point]) -> bool {
    let n = polygon.len();
    let side = |i: usize| Some((*polygon.get(i)?, *polygon.get((i + 1) % n)?));
    for i in 0..n {
        for j in i + 2..n {
            if i == 0 && j == n - 1 {
                continue;
            }
            let (Some((a, b)), Some((c, d))) = (side(i), side(j)) else {
                continue;
            };
            let apart = a[0].max(b[0]) < c[0].min(d[0])
                || c[0].max(d[0]) < a[0].min(b[0])
                || a[1].max(b[1]) < c[1].min(d[1])
                || c[1].max(d[1]) < a[1].min(b[1]);
            if !apart && turn(a, b, c) * turn(a, b, d) < 0.0 && turn(c, d, a) * turn(c, d, b) < 0.0
            {
                return true;
            }
        }
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_crossed_outline_is_seen_and_a_plain_one_is_not() {
        assert!(!crosses_itself(&[
            [0.0, 0.0],
            [4.0, 0.0],
            [4.0, 4.0],
            [0.0, 4.0]
        ]));
        assert!(crosses_itself(&[
            [0.0, 0.0],
            [4.0, 4.0],
            [4.0, 0.0],
            [0.0, 4.0]
        ]));
        assert!(!crosses_itself(&[[0.0, 0.0], [4.0, 0.0], [2.0, 1.0]]));
    }
}
