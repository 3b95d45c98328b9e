//! Making a picture smaller by averaging areas, in whole numbers, so that every machine gets the
//! same bytes (rival: `fast_image_resize`, refused: a few milliseconds gained on a picture that was
//! already shrunk while decoding, for a large dependency).

use image::RgbImage;

/// Weights of one direction: for each target pixel the first source pixel and the shares, which sum
/// to exactly 4096.
fn shares(from: u32, to: u32) -> Vec<(usize, Vec<u32>)> {
    let (from, to) = (u64::from(from), u64::from(to.max(1)));
    (0..to)
        .map(|n| {
            // Target pixel n covers [n·from, (n+1)·from) in units of 1/to source pixels.
            let (start, end) = (n * from, (n + 1) * from);
            let (first, last) = (start / to, (end - 1) / to);
            let mut sum = 0;
            let mut covered = 0;
            let weights = (first..=last)
                .map(|s| {
                    covered += ((s + 1) * to).min(end) - (s * to).max(start);
                    // Rounding the running total, not each share, makes the sum exact.
                    let until = (covered * 4096 + from / 2) / from;
                    let share = until - sum;
                    sum = until;
                    share as u32
                })
                .collect();
            (first as usize, weights)
        })
        .collect()
}

/// Shrinks to `width × height`, neither larger than the original's.
pub(crate) fn shrink(picture: &RgbImage, width: u32, height: u32) -> RgbImage {
    let (from_w, from_h) = picture.dimensions();
    let (width, height) = (
        width.clamp(1, from_w.max(1)),
        height.clamp(1, from_h.max(1)),
    );
    let mut out = RgbImage::new(width, height);
    if from_w == 0 || from_h == 0 {
        return out;
    }
    let across = shares(from_w, width);
    let down = shares(from_h, height);
    let stride = from_w as usize * 3;
    let source = picture.as_raw();
    let to_stride = width as usize * 3;
    let narrow = |y: usize, row: &mut [u32]| {
        let line = source.get(y * stride..(y + 1) * stride).unwrap_or_default();
        for (pixel, (first, weights)) in row.chunks_exact_mut(3).zip(&across) {
            let mut sum = [0u32; 3];
            let part = line.get(first * 3..).unwrap_or_default();
            for (from, &weight) in part.chunks_exact(3).zip(weights) {
                for (s, &v) in sum.iter_mut().zip(from) {
                    *s += u32::from(v) * weight;
                }
            }
            pixel.copy_from_slice(&sum);
        }
    };
    let mut row = vec![0u32; to_stride];
    let mut at = usize::MAX;
    let mut total = vec![0u64; to_stride];
    for (to, (first, weights)) in out.chunks_exact_mut(to_stride).zip(&down) {
        total.fill(0);
        for (n, &weight) in weights.iter().enumerate() {
            let y = first + n;
            // Neighbours share their border row.
            if y != at {
                narrow(y, &mut row);
                at = y;
            }
            for (t, &v) in total.iter_mut().zip(&row) {
                *t += u64::from(v) * u64::from(weight);
            }
        }
        for (to, &t) in to.iter_mut().zip(&total) {
            // 4096 × 4096 is 2^24.
            *to = ((t + (1 << 23)) >> 24) as u8;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shares_cover_everything_once() {
        for (from, to) in [(1, 1), (7, 7), (7, 3), (1000, 320), (4001, 1024), (9, 1)] {
            let mut cover = vec![0.0; from as usize];
            for (first, weights) in shares(from, to) {
                assert_eq!(weights.iter().sum::<u32>(), 4096);
                for (n, w) in weights.iter().enumerate() {
                    cover[first + n] += f64::from(*w);
                }
            }
            let each = 4096.0 * f64::from(to) / f64::from(from);
            for c in cover {
                assert!(
                    (c - each).abs() <= 2.0,
                    "{from} to {to}: {c} instead of {each}"
                );
            }
        }
    }

    #[test]
    fn a_flat_picture_stays_flat_and_a_checkerboard_becomes_its_mean() {
        let flat = RgbImage::from_pixel(37, 23, image::Rgb([17, 200, 255]));
        assert!(shrink(&flat, 10, 7).pixels().all(|p| p.0 == [17, 200, 255]));
        let board = RgbImage::from_fn(64, 64, |x, y| {
            image::Rgb([if (x + y) % 2 == 0 { 0 } else { 200 }; 3])
        });
        assert!(shrink(&board, 16, 16).pixels().all(|p| p.0 == [100; 3]));
    }
}
