//! Which motion most of the matched features agree on: random samples and consensus (Fischler and
//! Bolles 1981), with similarities from pairs of matches, then affine, then a full homography.

use nalgebra::{DMatrix, DVector, Matrix3};

use super::features::Feature;
use super::homography;

/// Motions tried.
const TRIES: usize = 4000;

/// A motion and how many matches follow it.
#[derive(Debug, Clone)]
pub struct Agreed {
    /// From samples of the first plane to samples of the second.
    pub motion: Matrix3<f64>,
    /// Number of matches within the tolerance.
    pub inliers: usize,
}

/// The best few different motions, most followed first.
pub fn motions(a: &[Feature], b: &[Feature], pairs: &[(usize, usize)], most: usize) -> Vec<Agreed> {
    if pairs.len() < 4 {
        return Vec::new();
    }
    let points: Vec<([f64; 2], [f64; 2])> =
        pairs.iter().map(|(i, j)| (a[*i].at, b[*j].at)).collect();
    let mut seed = 0x9E37_79B9_7F4A_7C15u64;
    let mut below = |n: usize| {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        ((seed >> 33) as usize) % n.max(1)
    };
    let mut found: Vec<(usize, Matrix3<f64>)> = Vec::new();
    for k in 0..TRIES {
        // the surest matches first, then ever more of the others
        let pool = (8 + k * pairs.len() / (TRIES / 2)).min(pairs.len());
        let (i, j) = (below(pool), below(pool));
        let Some(m) = similarity(points[i], points[j]) else {
            continue;
        };
        let (scale, turn) = (m[(0, 0)].hypot(m[(1, 0)]), m[(1, 0)].atan2(m[(0, 0)]));
        if !(0.25..4.0).contains(&scale) || !agrees(a, b, pairs[i], scale, turn) {
            continue;
        }
        let n = count(&points, &m, 7.0);
        if n >= 5 {
            found.push((n, m));
        }
    }
    found.sort_by_key(|f| std::cmp::Reverse(f.0));
    let mut out: Vec<Agreed> = Vec::new();
    for (_, m) in found.into_iter().take(40) {
        let better = refitted(&points, m);
        let probe = [300.0, 200.0];
        let here = homography::mapped(&better, probe);
        let new = out.iter().all(|o| {
            let there = homography::mapped(&o.motion, probe);
            match (here, there) {
                (Some(p), Some(q)) => (p[0] - q[0]).hypot(p[1] - q[1]) > 12.0,
                _ => true,
            }
        });
        if new {
            out.push(Agreed {
                inliers: count(&points, &better, 4.0),
                motion: better,
            });
        }
        if out.len() >= 2 * most {
            break;
        }
    }
    out.sort_by_key(|o| std::cmp::Reverse(o.inliers));
    out.truncate(most);
    out
}

/// Whether the sizes and directions of a matched pair fit the motion.
fn agrees(a: &[Feature], b: &[Feature], pair: (usize, usize), scale: f64, turn: f64) -> bool {
    let (f, g) = (&a[pair.0], &b[pair.1]);
    let grown = (g.size / f.size / scale).ln().abs();
    let turned = (g.turn - f.turn - turn)
        .sin()
        .atan2((g.turn - f.turn - turn).cos());
    grown < 0.5 && turned.abs() < 0.6
}

fn count(points: &[([f64; 2], [f64; 2])], m: &Matrix3<f64>, within: f64) -> usize {
    points
        .iter()
        .filter(|(p, q)| off(m, *p, *q) < within)
        .count()
}

pub fn off(m: &Matrix3<f64>, p: [f64; 2], q: [f64; 2]) -> f64 {
    homography::mapped(m, p).map_or(f64::INFINITY, |r| (r[0] - q[0]).hypot(r[1] - q[1]))
}

/// The turning, scaling and shifting that takes two points to two others.
fn similarity(a: ([f64; 2], [f64; 2]), b: ([f64; 2], [f64; 2])) -> Option<Matrix3<f64>> {
    let p = [b.0[0] - a.0[0], b.0[1] - a.0[1]];
    let q = [b.1[0] - a.1[0], b.1[1] - a.1[1]];
    let n = p[0] * p[0] + p[1] * p[1];
    if n < 400.0 {
        return None;
    }
    let c = (p[0] * q[0] + p[1] * q[1]) / n;
    let s = (p[0] * q[1] - p[1] * q[0]) / n;
    Some(Matrix3::new(
        c,
        -s,
        a.1[0] - c * a.0[0] + s * a.0[1],
        s,
        c,
        a.1[1] - s * a.0[0] - c * a.0[1],
        0.0,
        0.0,
        1.0,
    ))
}

/// Least squares over those that follow, tightening: affine first, a homography once enough do.
fn refitted(points: &[([f64; 2], [f64; 2])], start: Matrix3<f64>) -> Matrix3<f64> {
    let mut m = start;
    for (round, within) in [9.0, 7.0, 6.0, 5.0, 4.0].into_iter().enumerate() {
        let close: Vec<_> = points
            .iter()
            .filter(|(p, q)| off(&m, *p, *q) < within)
            .copied()
            .collect();
        let full = round >= 2 && close.len() >= 16;
        if let Some(next) = least_squares(&close, full)
            && homography::sane(&next)
        {
            m = next;
        }
    }
    m
}

/// Affine (6 unknowns) or full homography (8) by linear least squares.
pub fn least_squares(points: &[([f64; 2], [f64; 2])], full: bool) -> Option<Matrix3<f64>> {
    let unknowns = if full { 8 } else { 6 };
    if points.len() * 2 < unknowns + 2 {
        return None;
    }
    // about the size of a working plane, so that the equations are well conditioned
    const S: f64 = 320.0;
    let mut normal = DMatrix::<f64>::zeros(unknowns, unknowns);
    let mut right = DVector::<f64>::zeros(unknowns);
    for (p, q) in points {
        let (x, y) = (p[0] / S - 1.0, p[1] / S - 1.0);
        for (axis, value) in [q[0] / S - 1.0, q[1] / S - 1.0].into_iter().enumerate() {
            let mut row = vec![0.0; unknowns];
            row[3 * axis] = x;
            row[3 * axis + 1] = y;
            row[3 * axis + 2] = 1.0;
            if full {
                row[6] = -x * value;
                row[7] = -y * value;
            }
            let r = DVector::from_vec(row);
            normal += &r * r.transpose();
            right += r * value;
        }
    }
    let s = normal.cholesky()?.solve(&right);
    let g = |i: usize| if i < s.len() { s[i] } else { 0.0 };
    let m = Matrix3::new(s[0], s[1], s[2], s[3], s[4], s[5], g(6), g(7), 1.0);
    let norm = Matrix3::new(1.0 / S, 0.0, -1.0, 0.0, 1.0 / S, -1.0, 0.0, 0.0, 1.0);
    homography::scaled(norm.try_inverse()? * m * norm)
}
