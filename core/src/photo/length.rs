//! Length of a path, and why a line drawn with many points does not read long.
//!
//! Every point of a drawn line is off by a little, and each little zigzag adds length: about σ²/d per
//! step of d pixels. Two remedies, both only where that excess matters:
//!
//! * points closer than four times their error (a line drawn with a moving finger) are smoothed: the
//!   line with the least sum of squared second differences (Whittaker 1923, from memory) that stays
//!   as near to the drawn points, in the root mean square, as their own scatter. The scatter is taken
//!   from the line's second differences and never above the stated error of a mark, so that a true
//!   zigzag is not ironed out;
//! * points farther apart are left where they are, and the expected excess is taken off.
//!
//! Two taps, or a few far apart, are not touched.

use super::area;
use super::geometry::{Point, distance, path_length};
use super::marks::{Line, Measured};
use super::measurement::{Measurement, Options, Picture, ScaleTaps, find_scale, from_marks, mark};
use super::progress::Progress;
use crate::error::Result;

/// Measures the length of a path of taps or a drawn line, in pixels of the upright picture.
pub fn measure_length(
    picture: Picture<'_>,
    scale: &ScaleTaps,
    path: &[Point],
    options: &Options,
    progress: &Progress,
) -> Result<Measurement> {
    measure(Measured::Length, picture, scale, path, options, progress)
}

pub(crate) fn measure(
    quantity: Measured,
    picture: Picture<'_>,
    scale: &ScaleTaps,
    line: &[Point],
    options: &Options,
    progress: &Progress,
) -> Result<Measurement> {
    let found = find_scale(picture, scale, options, progress)?;
    if quantity == Measured::Area {
        area::enough(line)?;
    }
    let (marks, mut warnings) = mark(quantity, picture, found, line, Line::Drawn, options.mark_u)?;
    let mut m = from_marks(&marks)?;
    warnings.append(&mut m.warnings);
    m.warnings = warnings;
    Ok(m)
}

/// A line made steady.
#[derive(Debug, Clone, PartialEq)]
pub struct Steady {
    /// The line to measure, in pixels.
    pub line: Vec<Point>,
    /// Part of its length that is expected wobble, to be taken off.
    pub excess: f64,
    /// How far the points were moved, root mean square, in pixels; 0 when they were not.
    pub moved: f64,
}

impl Steady {
    /// A line that needs nothing.
    pub fn unchanged(line: Vec<Point>) -> Self {
        Self {
            line,
            excess: 0.0,
            moved: 0.0,
        }
    }

    /// What to tell the person, if it is worth it.
    pub fn said(&self) -> Option<String> {
        if self.moved > 0.0 {
            return Some(format!(
                "the drawn line was steadied: its points moved by {:.1} pixels on average",
                self.moved
            ));
        }
        (self.excess > 0.005).then(|| {
            format!(
                "{:.1} % was taken off for the wobble of the marks",
                100.0 * self.excess
            )
        })
    }
}

/// Points closer than this many times their error are smoothed.
const DENSE: f64 = 4.0;
/// An expected excess below this part of the length is left alone.
const EXCESS: f64 = 0.0005;
/// Fewer points than this are single marks, not a drawn line.
const FEW: usize = 6;

/// See the module; `sigma` is the stated error of a point in pixels.
pub fn steady(line: &[Point], sigma: f64) -> Steady {
    let n = line.len();
    let whole = path_length(line);
    if n < FEW || !(sigma > 0.0) || !(whole > 0.0) {
        return Steady::unchanged(line.to_vec());
    }
    let scatter = scatter(line).min(sigma);
    let excess: f64 = line
        .iter()
        .zip(line.iter().skip(1))
        .map(|(a, b)| distance(*a, *b))
        .filter(|d| *d > 0.0)
        // A step cannot have gained more than it is long.
        .map(|d| (scatter * scatter / d).min(d / 2.0))
        .sum::<f64>()
        / whole;
    if excess < EXCESS {
        return Steady::unchanged(line.to_vec());
    }
    if whole / (n - 1) as f64 >= DENSE * scatter {
        return Steady {
            line: line.to_vec(),
            excess,
            moved: 0.0,
        };
    }
    let smooth = smooth_to(line, scatter);
    let moved = rms(line, &smooth);
    Steady {
        line: smooth,
        excess: 0.0,
        moved,
    }
}

/// Scatter of each coordinate about a locally straight line: the median of the absolute second
/// differences, which for independent normal errors σ have standard deviation √6 σ.
fn scatter(line: &[Point]) -> f64 {
    let mut second: Vec<f64> = line
        .iter()
        .zip(line.iter().skip(1))
        .zip(line.iter().skip(2))
        .flat_map(|((a, b), c)| [0, 1].map(|i| (a[i] - 2.0 * b[i] + c[i]).abs()))
        .collect();
    let middle = second.len() / 2;
    if second.is_empty() {
        return 0.0;
    }
    let (_, median, _) = second.select_nth_unstable_by(middle, f64::total_cmp);
    // 0.6745: the median of |z| for a normal z.
    *median / (0.6745 * 6.0_f64.sqrt())
}

fn rms(a: &[Point], b: &[Point]) -> f64 {
    let sum: f64 = a
        .iter()
        .zip(b)
        .map(|(p, q)| (p[0] - q[0]).powi(2) + (p[1] - q[1]).powi(2))
        .sum();
    (sum / (2.0 * a.len().max(1) as f64)).sqrt()
}

/// The smoothest line whose root mean square distance per coordinate from the points is `target`.
fn smooth_to(line: &[Point], target: f64) -> Vec<Point> {
    let (mut low, mut high) = (-6.0_f64, 24.0_f64);
    let mut best = line.to_vec();
    // The distance grows with the weight, so halving finds it; 40 halvings are far below a digit.
    for _ in 0..40 {
        let mid = (low + high) / 2.0;
        let trial = whittaker(line, mid.exp());
        if rms(line, &trial) > target {
            high = mid;
        } else {
            low = mid;
            best = trial;
        }
    }
    best
}

// The index names a row of the matrix in several arrays at once.
#[allow(clippy::needless_range_loop)]
/// Solves (I + λ DᵀD) q = p for both coordinates, D the second differences: a band of five,
/// factored as L D Lᵀ.
fn whittaker(line: &[Point], weight: f64) -> Vec<Point> {
    let n = line.len();
    // Diagonals of DᵀD by adding up each row (1, −2, 1) of D.
    let mut d0 = vec![1.0; n];
    let mut d1 = vec![0.0; n];
    let mut d2 = vec![0.0; n];
    let row = [1.0, -2.0, 1.0];
    for i in 0..n.saturating_sub(2) {
        for j in 0..3 {
            d0[i + j] += weight * row[j] * row[j];
            if j < 2 {
                d1[i + j] += weight * row[j] * row[j + 1];
            }
        }
        d2[i] += weight * row[0] * row[2];
    }
    let (mut l1, mut l2) = (vec![0.0; n], vec![0.0; n]);
    let mut q = line.to_vec();
    for i in 0..n {
        if i >= 1 {
            let carried = if i >= 2 {
                d0[i - 2] * l1[i - 2] * l2[i - 2]
            } else {
                0.0
            };
            l1[i - 1] = (d1[i - 1] - carried) / d0[i - 1];
            d0[i] -= l1[i - 1] * l1[i - 1] * d0[i - 1];
        }
        if i >= 2 {
            d0[i] -= l2[i - 2] * l2[i - 2] * d0[i - 2];
        }
        l2[i] = d2[i] / d0[i];
        for c in 0..2 {
            let mut v = q[i][c];
            if i >= 1 {
                v -= l1[i - 1] * q[i - 1][c];
            }
            if i >= 2 {
                v -= l2[i - 2] * q[i - 2][c];
            }
            q[i][c] = v;
        }
    }
    for i in (0..n).rev() {
        for c in 0..2 {
            let mut v = q[i][c] / d0[i];
            if i + 1 < n {
                v -= l1[i] * q[i + 1][c];
            }
            if i + 2 < n {
                v -= l2[i] * q[i + 2][c];
            }
            q[i][c] = v;
        }
    }
    q
}

#[cfg(test)]
mod tests {
    use super::super::uncertainty::Random;
    use super::*;

    // Truth by construction: lines of known length, disturbed with seeded noise.

    fn wave(step: f64) -> (Vec<Point>, f64) {
        let (mut x, mut line) = (0.0, Vec::new());
        let y = |x: f64| 25.0 * (x / 60.0).sin();
        while x <= 420.0 {
            line.push([50.0 + x, 100.0 + y(x)]);
            x += step;
        }
        let fine: Vec<Point> = (0..=42_000)
            .map(|i| [f64::from(i) * 0.01, y(f64::from(i) * 0.01)])
            .collect();
        (line, path_length(&fine))
    }

    #[test]
    fn a_drawn_line_of_many_jittered_points_reads_within_half_a_percent() {
        for (step, worst_raw) in [
            (1.0, 1.6),
            (2.0, 1.2),
            (3.0, 1.1),
            (6.0, 1.02),
            (12.0, 1.003),
        ] {
            let (line, truth) = wave(step);
            let (mut raw, mut got, runs) = (0.0, 0.0, 40);
            for seed in 0..runs {
                let mut r = Random::new(seed);
                let noisy: Vec<Point> = line
                    .iter()
                    .map(|p| [p[0] + r.normal(), p[1] + r.normal()])
                    .collect();
                let s = steady(&noisy, 1.0);
                raw += path_length(&noisy) / truth / runs as f64;
                got += path_length(&s.line) * (1.0 - s.excess) / truth / runs as f64;
            }
            println!("step {step}: raw {raw:.4}, steadied {got:.4}");
            assert!(raw > worst_raw, "the noise of the test is too weak: {raw}");
            assert!((got - 1.0).abs() < 0.006, "step {step}: {got}");
        }
    }

    #[test]
    fn clean_lines_and_single_marks_are_left_alone() {
        let (line, truth) = wave(2.0);
        let s = steady(&line, 1.0);
        assert!((path_length(&s.line) * (1.0 - s.excess) / truth - 1.0).abs() < 0.001);
        let taps = [[0.0, 0.0], [50.0, 3.0], [90.0, 40.0]];
        assert_eq!(steady(&taps, 1.0), Steady::unchanged(taps.to_vec()));
        // A true zigzag, its corners marked without error, loses at most what a mark's error may hide.
        let zigzag: Vec<Point> = (0..40)
            .map(|i| [f64::from(i) * 10.0, if i % 2 == 0 { 0.0 } else { 8.0 }])
            .collect();
        let s = steady(&zigzag, 1.0);
        let ratio = path_length(&s.line) * (1.0 - s.excess) / path_length(&zigzag);
        assert!(ratio > 0.99, "{ratio}");
    }

    #[test]
    fn the_band_solver_solves_its_equations() {
        let (line, _) = wave(7.0);
        let q = whittaker(&line, 3.0);
        let d = |i: usize, c: usize| q[i][c] - 2.0 * q[i + 1][c] + q[i + 2][c];
        for i in 2..line.len() - 2 {
            for c in 0..2 {
                let left = q[i][c] + 3.0 * (d(i, c) - 2.0 * d(i - 1, c) + d(i - 2, c));
                assert!((left - line[i][c]).abs() < 1e-9);
            }
        }
    }
}
