//! Pictures freed of local brightness and contrast, at a few sizes: what is compared when the light
//! has changed.

use nalgebra::Matrix3;

use super::homography;
use crate::photo::plane::Plane;

/// A plane with local brightness and contrast taken out: mean 0, spread about 1; flat places stay
/// near 0, so that noise is not blown up to look like something.
pub fn evened(p: &Plane, reach: f32) -> Plane {
    let mean = p.blurred(reach);
    let mut off = p.clone();
    for (v, m) in off.data.iter_mut().zip(&mean.data) {
        *v -= m;
    }
    let mut square = off.clone();
    square.data.iter_mut().for_each(|v| *v *= *v);
    let power = square.blurred(reach);
    for (v, s) in off.data.iter_mut().zip(&power.data) {
        *v /= s.max(0.0).sqrt() + 3.0;
    }
    off
}

/// Copies of one plane, each half the size of the one before, evened.
pub struct Stack(Vec<Plane>);

impl Stack {
    /// The copies of a plane of brightness.
    pub fn of(p: &Plane) -> Self {
        let mut out = Vec::new();
        let mut now = p.clone();
        for _ in 0..4 {
            if now.w < 24 || now.h < 24 {
                break;
            }
            out.push(evened(&now.blurred(0.8), 6.0));
            now = now.halved();
        }
        Self(out)
    }

    /// The evened copy at a size, 0 the largest.
    pub fn at(&self, i: usize) -> Option<&Plane> {
        self.0.get(i)
    }
}

/// The homography at half size (`halved` moves samples by (x - 0.5) / 2).
pub fn at_size(m: &Matrix3<f64>, size: usize) -> Option<Matrix3<f64>> {
    let s = f64::from(1u32 << size.min(16));
    let down = Matrix3::new(
        1.0 / s,
        0.0,
        0.5 / s - 0.5,
        0.0,
        1.0 / s,
        0.5 / s - 0.5,
        0.0,
        0.0,
        1.0,
    );
    homography::scaled(down * m * down.try_inverse()?)
}

/// The homography at full size from one at a smaller size: the inverse of [`at_size`].
pub fn from_size(m: &Matrix3<f64>, size: usize) -> Option<Matrix3<f64>> {
    let s = f64::from(1u32 << size.min(16));
    let up = Matrix3::new(s, 0.0, 0.5 * s - 0.5, 0.0, s, 0.5 * s - 0.5, 0.0, 0.0, 1.0);
    homography::scaled(up * m * up.try_inverse()?)
}
