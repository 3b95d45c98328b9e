//! Points, quadrilaterals and homographies.
//!
//! Pixels are of the stored picture after its EXIF orientation, x to the right, y downwards, with
//! the origin at the outer corner of the top left pixel: that pixel's middle is (0.5, 0.5).

use nalgebra::{DMatrix, Matrix3, SMatrix, SVector, Vector3};

/// A point: pixels of a picture, or millimetres of a plane.
pub type Point = [f64; 2];

/// Distance between two points.
pub fn distance(a: Point, b: Point) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Length of a path through all points.
pub fn path_length(points: &[Point]) -> f64 {
    points
        .iter()
        .zip(points.iter().skip(1))
        .map(|(a, b)| distance(*a, *b))
        .sum()
}

/// Signed area of a polygon by the shoelace rule; positive when clockwise as seen (y downwards).
pub fn signed_area(polygon: &[Point]) -> f64 {
    // Relative to the first point: far from the origin the products would cancel badly.
    let Some(o) = polygon.first() else { return 0.0 };
    let next = polygon.iter().skip(1).chain(polygon.first());
    polygon
        .iter()
        .zip(next)
        .map(|(a, b)| (a[0] - o[0]) * (b[1] - o[1]) - (b[0] - o[0]) * (a[1] - o[1]))
        .sum::<f64>()
        / 2.0
}

/// Mean of the points; the origin for none.
pub fn middle(points: &[Point]) -> Point {
    let n = points.len().max(1) as f64;
    let sum = points
        .iter()
        .fold([0.0, 0.0], |s, p| [s[0] + p[0], s[1] + p[1]]);
    [sum[0] / n, sum[1] / n]
}

/// z component of (b − a) × (c − b): positive for a clockwise turn as seen (y downwards).
pub fn turn(a: Point, b: Point, c: Point) -> f64 {
    (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])
}

/// Where two lines, each through two points, cross; `None` when nearly parallel.
pub fn crossing(a: [Point; 2], b: [Point; 2]) -> Option<Point> {
    let (dax, day) = (a[1][0] - a[0][0], a[1][1] - a[0][1]);
    let (dbx, dby) = (b[1][0] - b[0][0], b[1][1] - b[0][1]);
    let det = dax * dby - day * dbx;
    if det.abs() < 1e-9 * dax.hypot(day) * dbx.hypot(dby) || det == 0.0 {
        return None;
    }
    let s = ((b[0][0] - a[0][0]) * dby - (b[0][1] - a[0][1]) * dbx) / det;
    Some([a[0][0] + s * dax, a[0][1] + s * day])
}

/// A plane-to-plane projection, kept so that its third coordinate is positive at the points it was
/// made from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Homography(Matrix3<f64>);

impl Homography {
    /// From the nine numbers, row by row; positive at `at`.
    pub fn new(rows: [[f64; 3]; 3], at: Point) -> Option<Self> {
        let m = Matrix3::from_fn(|r, c| {
            rows.get(r)
                .and_then(|row| row.get(c))
                .copied()
                .unwrap_or(0.0)
        });
        Self::signed(m, at)
    }

    fn signed(m: Matrix3<f64>, at: Point) -> Option<Self> {
        let w = (m * Vector3::new(at[0], at[1], 1.0)).z;
        let size = m.norm();
        if !size.is_finite() || size == 0.0 || !w.is_finite() || w == 0.0 {
            return None;
        }
        Some(Self(m * (w.signum() / size)))
    }

    /// The rows of the matrix, scaled so that the last number is 1 where that is possible.
    pub fn rows(&self) -> [[f64; 3]; 3] {
        let m = &self.0;
        let k = if m.m33.abs() > 1e-12 {
            1.0 / m.m33
        } else {
            1.0
        };
        [
            [m.m11 * k, m.m12 * k, m.m13 * k],
            [m.m21 * k, m.m22 * k, m.m23 * k],
            [m.m31 * k, m.m32 * k, m.m33 * k],
        ]
    }

    /// The matrix.
    pub fn matrix(&self) -> &Matrix3<f64> {
        &self.0
    }

    /// The one homography that takes four points to four others, by way of the unit square
    /// (closed form: Monte Carlo runs need it by the hundred thousand). `None` unless both sets
    /// go round a convex figure.
    pub fn from_four(from: &[Point; 4], to: &[Point; 4]) -> Option<Self> {
        let a = from_unit_square(from)?;
        let b = from_unit_square(to)?;
        Self::signed(b * a.try_inverse()?, from[0])
    }

    /// Least squares from four or more pairs: the direct linear transform on normalised points, then
    /// Gauss-Newton on the distances in the target plane (Hartley and Zisserman, Multiple View
    /// Geometry, 2nd ed., algorithms 4.2 and 4.3, from memory).
    pub fn fit(from: &[Point], to: &[Point]) -> Option<Self> {
        if from.len() != to.len() || from.len() < 4 {
            return None;
        }
        let (nf, tf) = normalised(from)?;
        let (nt, tt) = normalised(to)?;
        let mut a = DMatrix::<f64>::zeros(2 * nf.len(), 9);
        for (i, (p, q)) in nf.iter().zip(&nt).enumerate() {
            let one = [p[0], p[1], 1.0];
            for (c, v) in one.iter().enumerate() {
                a[(2 * i, c)] = *v;
                a[(2 * i, 6 + c)] = -q[0] * v;
                a[(2 * i + 1, 3 + c)] = *v;
                a[(2 * i + 1, 6 + c)] = -q[1] * v;
            }
        }
        let eigen = (a.transpose() * &a).symmetric_eigen();
        let least = eigen.eigenvalues.imin();
        let h = eigen.eigenvectors.column(least);
        let mut m = Matrix3::new(h[0], h[1], h[2], h[3], h[4], h[5], h[6], h[7], h[8]);
        m /= m.norm();
        let cost = |m: &Matrix3<f64>| -> f64 {
            nf.iter()
                .zip(&nt)
                .map(|(p, q)| {
                    residual(m, *p, *q).map_or(f64::INFINITY, |r| r[0] * r[0] + r[1] * r[1])
                })
                .sum()
        };
        let mut best = cost(&m);
        for _ in 0..10 {
            let Some(step) = gauss_newton_step(&m, &nf, &nt) else {
                break;
            };
            let trial = m + step;
            let trial = trial / trial.norm();
            let c = cost(&trial);
            if !(c < best) {
                break;
            }
            let gain = best - c;
            (m, best) = (trial, c);
            if gain < 1e-14 * best {
                break;
            }
        }
        let whole = tt.try_inverse()? * m * tf;
        Self::signed(whole, *from.first()?)
    }

    /// Where a point goes; `None` on or beyond the horizon.
    pub fn apply(&self, p: Point) -> Option<Point> {
        let v = self.0 * Vector3::new(p[0], p[1], 1.0);
        // The matrix has norm 1, so w of a point near the ones it was made from is far above this.
        if !(v.z > 1e-12) {
            return None;
        }
        let q = [v.x / v.z, v.y / v.z];
        (q[0].is_finite() && q[1].is_finite()).then_some(q)
    }

    /// The other way round; `at` is a point of the source plane that stays visible.
    pub fn inverse(&self, at: Point) -> Option<Self> {
        let there = self.apply(at)?;
        Self::signed(self.0.try_inverse()?, there)
    }

    /// Derivatives of the image of `p`: rows (∂x'/∂x, ∂x'/∂y), (∂y'/∂x, ∂y'/∂y).
    pub fn jacobian(&self, p: Point) -> Option<[[f64; 2]; 2]> {
        let m = &self.0;
        let q = self.apply(p)?;
        let w = m.m31 * p[0] + m.m32 * p[1] + m.m33;
        Some([
            [(m.m11 - q[0] * m.m31) / w, (m.m12 - q[0] * m.m32) / w],
            [(m.m21 - q[1] * m.m31) / w, (m.m22 - q[1] * m.m32) / w],
        ])
    }
}

fn residual(m: &Matrix3<f64>, p: Point, q: Point) -> Option<[f64; 2]> {
    let v = m * Vector3::new(p[0], p[1], 1.0);
    (v.z.abs() > 1e-12).then(|| [v.x / v.z - q[0], v.y / v.z - q[1]])
}

fn gauss_newton_step(m: &Matrix3<f64>, from: &[Point], to: &[Point]) -> Option<Matrix3<f64>> {
    let mut n = SMatrix::<f64, 9, 9>::zeros();
    let mut g = SVector::<f64, 9>::zeros();
    for (p, q) in from.iter().zip(to) {
        let v = m * Vector3::new(p[0], p[1], 1.0);
        if v.z.abs() < 1e-12 {
            return None;
        }
        let (x, y) = (v.x / v.z, v.y / v.z);
        let one = [p[0] / v.z, p[1] / v.z, 1.0 / v.z];
        let jx = SVector::<f64, 9>::from_column_slice(&[
            one[0],
            one[1],
            one[2],
            0.0,
            0.0,
            0.0,
            -x * one[0],
            -x * one[1],
            -x * one[2],
        ]);
        let jy = SVector::<f64, 9>::from_column_slice(&[
            0.0,
            0.0,
            0.0,
            one[0],
            one[1],
            one[2],
            -y * one[0],
            -y * one[1],
            -y * one[2],
        ]);
        n += jx * jx.transpose() + jy * jy.transpose();
        g += jx * (x - q[0]) + jy * (y - q[1]);
    }
    // The overall factor of the matrix is free: hold the step at right angles to the matrix.
    let h = SVector::<f64, 9>::from_column_slice(&[
        m.m11, m.m12, m.m13, m.m21, m.m22, m.m23, m.m31, m.m32, m.m33,
    ]);
    n += h * h.transpose() * n.trace().max(1e-300);
    let step = n.cholesky()?.solve(&(-g));
    Some(Matrix3::new(
        step[0], step[1], step[2], step[3], step[4], step[5], step[6], step[7], step[8],
    ))
}

/// Moves to the mean and scales to a mean distance of √2, so that the sums below are well behaved.
fn normalised(points: &[Point]) -> Option<(Vec<Point>, Matrix3<f64>)> {
    let c = middle(points);
    let mean = points.iter().map(|p| distance(*p, c)).sum::<f64>() / points.len() as f64;
    if !(mean > 1e-12) || !mean.is_finite() {
        return None;
    }
    let s = std::f64::consts::SQRT_2 / mean;
    let moved = points
        .iter()
        .map(|p| [(p[0] - c[0]) * s, (p[1] - c[1]) * s])
        .collect();
    Some((
        moved,
        Matrix3::new(s, 0.0, -c[0] * s, 0.0, s, -c[1] * s, 0.0, 0.0, 1.0),
    ))
}

/// Unit square (0,0) (1,0) (1,1) (0,1) to a convex quadrilateral (Heckbert 1989, from memory).
fn from_unit_square(q: &[Point; 4]) -> Option<Matrix3<f64>> {
    let [a, b, c, d] = *q;
    let s = [a[0] - b[0] + c[0] - d[0], a[1] - b[1] + c[1] - d[1]];
    let e1 = [b[0] - c[0], b[1] - c[1]];
    let e2 = [d[0] - c[0], d[1] - c[1]];
    let den = e1[0] * e2[1] - e1[1] * e2[0];
    if den == 0.0 || !den.is_finite() {
        return None;
    }
    let g = (s[0] * e2[1] - s[1] * e2[0]) / den;
    let h = (e1[0] * s[1] - e1[1] * s[0]) / den;
    // Convex: the third coordinate stays positive at all four corners.
    if !(1.0 + g > 0.0 && 1.0 + h > 0.0 && 1.0 + g + h > 0.0) {
        return None;
    }
    Some(Matrix3::new(
        b[0] - a[0] + g * b[0],
        d[0] - a[0] + h * d[0],
        a[0],
        b[1] - a[1] + g * b[1],
        d[1] - a[1] + h * d[1],
        a[1],
        g,
        h,
        1.0,
    ))
}

/// True when the four corners, in this order, go once round a convex figure; every corner must
/// differ clearly from a straight line.
pub fn is_convex(q: &[Point; 4]) -> bool {
    let [a, b, c, d] = *q;
    let turns = [turn(a, b, c), turn(b, c, d), turn(c, d, a), turn(d, a, b)];
    let sides = [
        distance(a, b),
        distance(b, c),
        distance(c, d),
        distance(d, a),
    ];
    let least = sides.iter().fold(f64::INFINITY, |m, s| m.min(*s));
    // At least about 1.5 degrees of turn at every corner.
    turns.iter().zip(0..4).all(|(t, i)| {
        let (s, r) = (sides[i], sides[(i + 1) % 4]);
        t.signum() == turns[0].signum() && t.abs() > 0.025 * s * r
    }) && least > 0.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_points_and_least_squares_agree_with_a_known_projection() {
        // Truth by construction: any matrix is a projection.
        let h = Homography::new(
            [[3.1, 0.4, 120.0], [-0.3, 2.8, 80.0], [0.001, 0.0006, 1.0]],
            [0.0, 0.0],
        )
        .unwrap();
        let from: Vec<Point> = [
            [0.0, 0.0],
            [85.6, 0.0],
            [85.6, 54.0],
            [0.0, 54.0],
            [40.0, 20.0],
            [10.0, 50.0],
        ]
        .to_vec();
        let to: Vec<Point> = from.iter().map(|p| h.apply(*p).unwrap()).collect();
        let four = Homography::from_four(
            &[from[0], from[1], from[2], from[3]],
            &[to[0], to[1], to[2], to[3]],
        )
        .unwrap();
        let all = Homography::fit(&from, &to).unwrap();
        for (p, q) in from.iter().zip(&to) {
            assert!(distance(four.apply(*p).unwrap(), *q) < 1e-9);
            assert!(distance(all.apply(*p).unwrap(), *q) < 1e-9);
            let back = four.inverse(from[0]).unwrap().apply(*q).unwrap();
            assert!(distance(back, *p) < 1e-9);
        }
        let j = four.jacobian([20.0, 20.0]).unwrap();
        let e = 1e-5;
        let (a, b) = (
            four.apply([20.0 + e, 20.0]).unwrap(),
            four.apply([20.0 - e, 20.0]).unwrap(),
        );
        assert!((j[0][0] - (a[0] - b[0]) / (2.0 * e)).abs() < 1e-6);
        assert!((j[1][0] - (a[1] - b[1]) / (2.0 * e)).abs() < 1e-6);
    }

    #[test]
    fn refinement_lowers_the_residual_of_disturbed_points() {
        let h = Homography::new(
            [[3.1, 0.4, 120.0], [-0.3, 2.8, 80.0], [0.004, 0.003, 1.0]],
            [0.0, 0.0],
        )
        .unwrap();
        let mut from = Vec::new();
        let mut to = Vec::new();
        for i in 0..6 {
            for j in 0..6 {
                let p = [f64::from(i) * 17.0, f64::from(j) * 11.0];
                let q = h.apply(p).unwrap();
                let wobble = f64::from((i * 7 + j * 13) % 5) - 2.0;
                from.push(p);
                to.push([q[0] + 0.5 * wobble, q[1] - 0.3 * wobble]);
            }
        }
        let fitted = Homography::fit(&from, &to).unwrap();
        let cost = |h: &Homography| {
            from.iter()
                .zip(&to)
                .map(|(p, q)| distance(h.apply(*p).unwrap(), *q).powi(2))
                .sum::<f64>()
        };
        assert!(cost(&fitted) < cost(&h));
        // A minimum: no small change of any of the nine numbers lowers it.
        let rows = fitted.rows();
        for r in 0..3 {
            for c in 0..3 {
                for k in [0.9999, 1.0001] {
                    let mut rows = rows;
                    rows[r][c] *= k;
                    let near = Homography::new(rows, [0.0, 0.0]).unwrap();
                    assert!(cost(&near) >= cost(&fitted) * (1.0 - 1e-9), "{r} {c}");
                }
            }
        }
    }

    #[test]
    fn crossed_hollow_and_flat_quadrilaterals_are_told_apart() {
        assert!(is_convex(&[[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]]));
        assert!(is_convex(&[[0.0, 0.0], [0.0, 3.0], [4.0, 3.0], [4.0, 0.0]]));
        assert!(!is_convex(&[
            [0.0, 0.0],
            [4.0, 3.0],
            [4.0, 0.0],
            [0.0, 3.0]
        ]));
        assert!(!is_convex(&[
            [0.0, 0.0],
            [4.0, 0.0],
            [1.0, 1.0],
            [0.0, 3.0]
        ]));
        assert!(!is_convex(&[
            [0.0, 0.0],
            [2.0, 0.0],
            [4.0, 0.0],
            [0.0, 3.0]
        ]));
        assert!(
            (signed_area(&[[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]]) - 12.0).abs() < 1e-12
        );
    }
}
