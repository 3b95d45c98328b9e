//! A photo seen through one mixture of its three colours.

use image::RgbImage;
use nalgebra::{Matrix3, Vector3};

use super::geometry::Point;

/// One number a pixel: a weighted sum of red, green and blue.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Mixed<'a> {
    img: &'a RgbImage,
    weights: [f64; 3],
}

impl<'a> Mixed<'a> {
    /// Brightness as the eye sees it (ITU-R BT.601).
    pub(crate) fn brightness(img: &'a RgbImage) -> Self {
        Self {
            img,
            weights: [0.299, 0.587, 0.114],
        }
    }

    /// The mixture that tells two sets of places apart best (Fisher's linear discriminant, from
    /// memory): a card on a ground of the same brightness still differs in hue.
    pub(crate) fn telling_apart(img: &'a RgbImage, one: &[Point], other: &[Point]) -> Self {
        let plain = Self::brightness(img);
        let (a, b) = (spread(img, one), spread(img, other));
        // A few grey levels of noise are there in any case.
        let within = a.1 + b.1 + Matrix3::identity() * 18.0;
        let apart = a.0 - b.0;
        let Some(w) = within.try_inverse().map(|i| i * apart) else {
            return plain;
        };
        let size = w.norm();
        // Hardly any difference: brightness is as good as anything.
        if !(apart.norm() > 3.0) || !(size > 0.0) || !size.is_finite() {
            return plain;
        }
        Self {
            img,
            weights: (w / size).into(),
        }
    }

    /// Value between pixels; places outside take the nearest pixel.
    pub(crate) fn sample(&self, p: Point) -> f64 {
        let c = colours(self.img, p);
        c.iter().zip(&self.weights).map(|(v, w)| v * w).sum()
    }
}

/// Mean colour and its covariance.
fn spread(img: &RgbImage, places: &[Point]) -> (Vector3<f64>, Matrix3<f64>) {
    let n = places.len().max(1) as f64;
    let all: Vec<Vector3<f64>> = places
        .iter()
        .map(|p| Vector3::from(colours(img, *p)))
        .collect();
    let mean = all.iter().sum::<Vector3<f64>>() / n;
    let within = all
        .iter()
        .map(|c| (c - mean) * (c - mean).transpose())
        .sum::<Matrix3<f64>>()
        / n;
    (mean, within)
}

fn colours(img: &RgbImage, p: Point) -> [f64; 3] {
    let (right, bottom) = (
        img.width().saturating_sub(1),
        img.height().saturating_sub(1),
    );
    let x = (p[0] - 0.5).clamp(0.0, f64::from(right));
    let y = (p[1] - 0.5).clamp(0.0, f64::from(bottom));
    let (x0, y0) = (x as u32, y as u32);
    let (x1, y1) = ((x0 + 1).min(right), (y0 + 1).min(bottom));
    let (fx, fy) = (x - f64::from(x0), y - f64::from(y0));
    let at = |x: u32, y: u32| {
        img.get_pixel_checked(x, y)
            .map_or([0.0; 3], |p| p.0.map(f64::from))
    };
    let (a, b, c, d) = (at(x0, y0), at(x1, y0), at(x0, y1), at(x1, y1));
    [0, 1, 2].map(|i| {
        (a[i] * (1.0 - fx) + b[i] * fx) * (1.0 - fy) + (c[i] * (1.0 - fx) + d[i] * fx) * fy
    })
}
