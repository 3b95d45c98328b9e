//! Work on the pixels of derived pictures: an older one laid on a newer one, cards masked.

use image::RgbImage;

use super::{Jpeg, jpeg};

/// The older picture as it would lie on the newer one; paper white where it does not reach.
pub(super) fn warped(
    older: &RgbImage,
    h: &[[f64; 3]; 3],
    (width, height): (u32, u32),
) -> Option<Jpeg> {
    let [[a, b, c], [d, e, f], [g, i, j]] = *h;
    let back = nalgebra::Matrix3::new(a, b, c, d, e, f, g, i, j).try_inverse()?;
    let (ow, oh) = (i64::from(older.width()), i64::from(older.height()));
    let mut out = RgbImage::new(width, height);
    for (x, y, pixel) in out.enumerate_pixels_mut() {
        let p = back * nalgebra::Vector3::new(f64::from(x), f64::from(y), 1.0);
        let (sx, sy) = (p.x / p.z, p.y / p.z);
        let (fx, fy) = (sx.floor(), sy.floor());
        let inside = sx.is_finite()
            && sy.is_finite()
            && fx >= 0.0
            && fy >= 0.0
            && (fx as i64) < ow - 1
            && (fy as i64) < oh - 1;
        if !inside {
            pixel.0 = [255; 3];
            continue;
        }
        let (tx, ty) = (sx - fx, sy - fy);
        let (x0, y0) = (fx as u32, fy as u32);
        let corner = |dx: u32, dy: u32| older.get_pixel(x0 + dx, y0 + dy).0;
        let (p00, p10, p01, p11) = (corner(0, 0), corner(1, 0), corner(0, 1), corner(1, 1));
        for (channel, value) in pixel.0.iter_mut().enumerate() {
            let at = |p: [u8; 3]| p.get(channel).copied().map_or(0.0, f64::from);
            let top = at(p00) * (1.0 - tx) + at(p10) * tx;
            let bottom = at(p01) * (1.0 - tx) + at(p11) * tx;
            *value = (top * (1.0 - ty) + bottom * ty).round() as u8;
        }
    }
    jpeg(&out)
}

/// Covers a card with grey stripes, a twentieth beyond its corners: nothing on it can be read in a
/// derived picture.
pub(super) fn mask(rgb: &mut RgbImage, corners: &[[f64; 2]; 4]) {
    let middle = |axis: usize| {
        corners
            .iter()
            .map(|c| c.get(axis).copied().unwrap_or(0.0))
            .sum::<f64>()
            / 4.0
    };
    let (mx, my) = (middle(0), middle(1));
    let grown = corners.map(|[x, y]| [mx + (x - mx) * 1.05, my + (y - my) * 1.05]);
    let bound = |axis: usize, low: bool, limit: u32| {
        let values = grown.iter().map(|c| c.get(axis).copied().unwrap_or(0.0));
        let edge = if low {
            values.fold(f64::INFINITY, f64::min).floor()
        } else {
            values.fold(f64::NEG_INFINITY, f64::max).ceil()
        };
        edge.clamp(0.0, f64::from(limit)) as u32
    };
    for y in bound(1, true, rgb.height())..bound(1, false, rgb.height()) {
        for x in bound(0, true, rgb.width())..bound(0, false, rgb.width()) {
            if within(&grown, f64::from(x) + 0.5, f64::from(y) + 0.5) {
                let shade = if (x + y) % 12 < 2 { 150 } else { 190 };
                if let Some(pixel) = rgb.get_pixel_mut_checked(x, y) {
                    pixel.0 = [shade; 3];
                }
            }
        }
    }
}

/// Even-odd rule.
fn within(corners: &[[f64; 2]; 4], x: f64, y: f64) -> bool {
    let mut inside = false;
    let turned = corners.iter().skip(1).chain(corners.first());
    for ([ax, ay], [bx, by]) in corners.iter().zip(turned) {
        if (ay > &y) != (by > &y) && x < (bx - ax) * (y - ay) / (by - ay) + ax {
            inside = !inside;
        }
    }
    inside
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_masked_card_carries_nothing_of_what_was_on_it() {
        let mut rgb = RgbImage::from_fn(100, 80, |x, y| {
            image::Rgb([(x * 2) as u8, (y * 3) as u8, 7])
        });
        let corners = [[20.0, 20.0], [70.0, 25.0], [68.0, 60.0], [22.0, 55.0]];
        mask(&mut rgb, &corners);
        for (x, y) in [(21, 21), (45, 40), (67, 58), (30, 50)] {
            let [r, g, b] = rgb.get_pixel(x, y).0;
            assert!(r == g && g == b && (r == 150 || r == 190), "{x} {y}");
        }
        assert_eq!(rgb.get_pixel(5, 5).0, [10, 15, 7]);
        assert_eq!(rgb.get_pixel(90, 40).0, [180, 120, 7]);
    }

    #[test]
    fn corners_outside_the_picture_are_no_harm() {
        let mut rgb = RgbImage::new(10, 10);
        mask(
            &mut rgb,
            &[[-1e9, -5.0], [1e9, -5.0], [1e9, 1e9], [f64::NAN, 4.0]],
        );
        mask(
            &mut rgb,
            &[[-50.0, -50.0], [50.0, -50.0], [50.0, 50.0], [-50.0, 50.0]],
        );
        assert!(rgb.pixels().all(|p| p.0[0] >= 150));
    }

    #[test]
    fn laid_without_motion_an_older_picture_stays_where_it_is() {
        let rgb = RgbImage::from_pixel(40, 30, image::Rgb([90, 90, 90]));
        let same = [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
        let out = warped(&rgb, &same, (40, 30)).unwrap();
        assert_eq!((out.width, out.height), (40, 30));
        assert!(warped(&rgb, &[[0.0; 3]; 3], (40, 30)).is_none());
    }
}
