//! Homographies: applying one, and telling a possible view of a plane from nonsense.

use nalgebra::{Matrix3, Vector3};

/// A point taken through the homography; none where it goes to or beyond the horizon.
pub fn mapped(m: &Matrix3<f64>, p: [f64; 2]) -> Option<[f64; 2]> {
    let v = m * Vector3::new(p[0], p[1], 1.0);
    (v[2] > 1e-6).then(|| [v[0] / v[2], v[1] / v[2]])
}

/// The same homography with a 1 in its last place; none if it has no such form.
pub fn scaled(m: Matrix3<f64>) -> Option<Matrix3<f64>> {
    let last = m[(2, 2)];
    (last.abs() > 1e-12 && m.iter().all(|v| v.is_finite())).then(|| m / last)
}

/// Whether it could be another hand-held view of the same place, for planes of some hundred samples
/// a side: not mirrored, between a quarter and four times the size everywhere, no strong perspective.
pub fn sane(m: &Matrix3<f64>) -> bool {
    let corners = [[0.0, 0.0], [640.0, 0.0], [640.0, 480.0], [0.0, 480.0]];
    corners.iter().all(|c| {
        let Some(p) = mapped(m, *c) else { return false };
        let (Some(r), Some(d)) = (mapped(m, [c[0] + 1.0, c[1]]), mapped(m, [c[0], c[1] + 1.0]))
        else {
            return false;
        };
        let (u, v) = ([r[0] - p[0], r[1] - p[1]], [d[0] - p[0], d[1] - p[1]]);
        let area = u[0] * v[1] - u[1] * v[0];
        let (lu, lv) = (u[0].hypot(u[1]), v[0].hypot(v[1]));
        area > 0.06 && area < 16.0 && area > 0.45 * lu * lv && lu < 2.5 * lv && lv < 2.5 * lu
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_turn_is_sane_and_a_mirror_is_not() {
        assert!(sane(&Matrix3::identity()));
        let turn = Matrix3::new(0.0, -1.2, 500.0, 1.2, 0.0, 0.0, 0.0, 0.0, 1.0);
        assert!(sane(&turn));
        assert!(!sane(&Matrix3::new(
            -1.0, 0.0, 640.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0
        )));
        let horizon = Matrix3::new(1.0, 0.0, 0.0, 0.0, 1.0, 0.0, -0.01, 0.0, 1.0);
        assert!(!sane(&horizon) && mapped(&horizon, [200.0, 0.0]).is_none());
    }
}
