//! The picture of both that a person looks at before anything is carried over: the older one as it
//! lies on the newer, the newer itself, and squares of both in turn, in which a wrong fit shows as
//! broken edges.

use image::{Rgb, RgbImage};
use nalgebra::Matrix3;

use super::homography;

/// Longer side of one panel at most, in pixels.
const PANEL: u32 = 900;
/// Squares along the longer side of the panel that shows both in turn.
const SQUARES: u32 = 9;
/// Where the older picture shows nothing.
const NOTHING: Rgb<u8> = Rgb([128, 128, 128]);

/// Three panels beside one another, 8 white pixels between them: older as laid, newer, both in turn.
/// `homography` takes pixels of `older` to pixels of `newer`; one that cannot be turned round leaves
/// the older panel grey.
pub fn both(older: &RgbImage, newer: &RgbImage, homography: &[[f64; 3]; 3]) -> RgbImage {
    let (w, h) = newer.dimensions();
    let long = w.max(h).max(1);
    let scale = f64::from(long.min(PANEL)) / f64::from(long);
    let side = |n: u32| ((f64::from(n) * scale).round() as u32).max(1);
    let (pw, ph) = (side(w), side(h));
    let back = Matrix3::from_fn(|r, c| homography[r][c]).try_inverse();
    let mut out = RgbImage::from_pixel(3 * pw + 16, ph, Rgb([255; 3]));
    let square = (pw.max(ph) / SQUARES).max(1);
    for y in 0..ph {
        for x in 0..pw {
            let p = [(f64::from(x) + 0.5) / scale, (f64::from(y) + 0.5) / scale];
            let new = mean(newer, p, 1.0 / scale).unwrap_or(NOTHING);
            let old = back
                .as_ref()
                .and_then(|m| {
                    homography::mapped(m, p).zip(homography::mapped(m, [p[0] + 1.0 / scale, p[1]]))
                })
                .and_then(|(q, r)| mean(older, q, (r[0] - q[0]).hypot(r[1] - q[1])))
                .unwrap_or(NOTHING);
            let turn = (x / square + y / square).is_multiple_of(2);
            out.put_pixel(x, y, old);
            out.put_pixel(pw + 8 + x, y, new);
            out.put_pixel(2 * pw + 16 + x, y, if turn { old } else { new });
        }
    }
    out
}

/// Mean colour of a square of about `size` pixels around a picture point; none outside.
fn mean(img: &RgbImage, p: [f64; 2], size: f64) -> Option<Rgb<u8>> {
    let (w, h) = (f64::from(img.width()), f64::from(img.height()));
    if !(p[0] >= 0.0 && p[1] >= 0.0 && p[0] < w && p[1] < h) {
        return None;
    }
    let n = size.round().clamp(1.0, 6.0);
    let from = |v: f64| (v - n / 2.0).round().max(0.0) as u32;
    let (x0, y0) = (from(p[0]), from(p[1]));
    let (mut sum, mut count) = ([0u32; 3], 0u32);
    for y in y0..(y0 + n as u32).min(img.height()) {
        for x in x0..(x0 + n as u32).min(img.width()) {
            if let Some(pixel) = img.get_pixel_checked(x, y) {
                for (s, v) in sum.iter_mut().zip(pixel.0) {
                    *s += u32::from(v);
                }
                count += 1;
            }
        }
    }
    (count > 0).then(|| Rgb(sum.map(|s| (s / count) as u8)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_panels_and_grey_where_the_older_shows_nothing() {
        let older = RgbImage::from_pixel(90, 60, Rgb([200, 10, 10]));
        let newer = RgbImage::from_pixel(90, 60, Rgb([10, 10, 200]));
        // the older picture lies 45 pixels further right on the newer
        let shift = [[1.0, 0.0, 45.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        let got = both(&older, &newer, &shift);
        assert_eq!(got.dimensions(), (3 * 90 + 16, 60));
        assert_eq!(*got.get_pixel(10, 30), NOTHING);
        assert_eq!(*got.get_pixel(70, 30), Rgb([200, 10, 10]));
        assert_eq!(*got.get_pixel(98 + 10, 30), Rgb([10, 10, 200]));
        let third: Vec<_> = (0..90).map(|x| *got.get_pixel(196 + x, 5)).collect();
        assert!(third.contains(&Rgb([200, 10, 10])) && third.contains(&Rgb([10, 10, 200])));
        let none = both(&older, &newer, &[[0.0; 3]; 3]);
        assert_eq!(*none.get_pixel(70, 30), NOTHING);
        both(&RgbImage::new(0, 0), &RgbImage::new(0, 0), &shift);
    }
}
