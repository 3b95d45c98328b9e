//! Grey and Lab working copies of a picture: crops, shrinking by whole factors, Gaussian blur,
//! interpolation.
//!
//! Coordinates: a *picture* point has its origin at the top left corner of the picture, so that the
//! middle of the first pixel is (0.5, 0.5). A *plane* point is in units of plane pixels with the
//! middle of the first one at (0, 0). [`Window`] turns one into the other.

use image::RgbImage;

/// A part of the picture, shrunk by a whole factor: what a working plane shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Window {
    /// Left edge in picture pixels.
    pub x: u32,
    /// Top edge in picture pixels.
    pub y: u32,
    /// Width in plane pixels.
    pub w: usize,
    /// Height in plane pixels.
    pub h: usize,
    /// Picture pixels to one plane pixel, along one side; at least 1.
    pub shrink: u32,
}

impl Window {
    /// The window over the rectangle `x0..x1`, `y0..y1` (picture pixels, clamped to the picture),
    /// shrunk by `shrink`; what does not fill a plane pixel at the right and lower edge is left out.
    pub fn over(img: &RgbImage, x0: f64, y0: f64, x1: f64, y1: f64, shrink: u32) -> Self {
        let shrink = shrink.max(1);
        let clamp = |v: f64, hi: u32| -> u32 {
            if v.is_finite() {
                v.clamp(0.0, f64::from(hi)) as u32
            } else {
                0
            }
        };
        let (x, y) = (clamp(x0, img.width()), clamp(y0, img.height()));
        let (r, b) = (
            clamp(x1.ceil(), img.width()),
            clamp(y1.ceil(), img.height()),
        );
        Self {
            x,
            y,
            w: (r.saturating_sub(x) / shrink) as usize,
            h: (b.saturating_sub(y) / shrink) as usize,
            shrink,
        }
    }

    /// The whole picture, shrunk by the smallest whole factor that brings its longer side to at
    /// most `side` plane pixels.
    pub fn whole(img: &RgbImage, side: u32) -> Self {
        let long = img.width().max(img.height());
        let shrink = long.div_ceil(side.max(1)).max(1);
        Self::over(
            img,
            0.0,
            0.0,
            f64::from(img.width()),
            f64::from(img.height()),
            shrink,
        )
    }

    /// Picture point to plane point.
    pub fn to_plane(&self, p: [f64; 2]) -> [f64; 2] {
        let s = f64::from(self.shrink);
        [
            (p[0] - f64::from(self.x)) / s - 0.5,
            (p[1] - f64::from(self.y)) / s - 0.5,
        ]
    }

    /// Plane point to picture point.
    pub fn to_picture(&self, p: [f64; 2]) -> [f64; 2] {
        let s = f64::from(self.shrink);
        [
            (p[0] + 0.5) * s + f64::from(self.x),
            (p[1] + 0.5) * s + f64::from(self.y),
        ]
    }

    /// Number of plane pixels.
    pub fn area(&self) -> usize {
        self.w * self.h
    }
}

/// One channel of samples, row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// Width in samples.
    pub w: usize,
    /// Height in samples.
    pub h: usize,
    /// `w * h` samples.
    pub data: Vec<f32>,
}

impl Plane {
    /// A plane of one value.
    pub fn filled(w: usize, h: usize, value: f32) -> Self {
        Self {
            w,
            h,
            data: vec![value; w * h],
        }
    }

    /// Luma of the window, 0 to 255 (weights of ITU-R BT.601, which JPEG uses), averaged over each
    /// plane pixel.
    pub fn luma(img: &RgbImage, win: Window) -> Self {
        let [r, g, b] = mean_rgb(img, win);
        let data = r
            .iter()
            .zip(&g)
            .zip(&b)
            .map(|((r, g), b)| 0.299 * r + 0.587 * g + 0.114 * b)
            .collect();
        Self {
            w: win.w,
            h: win.h,
            data,
        }
    }

    /// Sample at a column and row, the nearest one where they lie outside; 0 for an empty plane.
    pub fn at(&self, x: isize, y: isize) -> f32 {
        let cx = x.clamp(0, self.w.saturating_sub(1) as isize) as usize;
        let cy = y.clamp(0, self.h.saturating_sub(1) as isize) as usize;
        self.data.get(cy * self.w + cx).copied().unwrap_or(0.0)
    }

    /// Value between samples, bilinear, clamped at the edges.
    pub fn sample(&self, x: f64, y: f64) -> f32 {
        if self.w == 0 || self.h == 0 || !x.is_finite() || !y.is_finite() {
            return 0.0;
        }
        let x = x.clamp(0.0, (self.w - 1) as f64);
        let y = y.clamp(0.0, (self.h - 1) as f64);
        let (x0, y0) = (x as usize, y as usize);
        let (x1, y1) = ((x0 + 1).min(self.w - 1), (y0 + 1).min(self.h - 1));
        let (fx, fy) = ((x - x0 as f64) as f32, (y - y0 as f64) as f32);
        let row = |r: usize| {
            let a = self.data[r * self.w + x0];
            a + (self.data[r * self.w + x1] - a) * fx
        };
        let a = row(y0);
        a + (row(y1) - a) * fy
    }

    /// True if the plane point lies within the plane, `margin` samples from its edge.
    pub fn holds(&self, x: f64, y: f64, margin: f64) -> bool {
        x >= margin
            && y >= margin
            && x <= self.w as f64 - 1.0 - margin
            && y <= self.h as f64 - 1.0 - margin
    }

    /// Gaussian blur with standard deviation `sigma` in samples, edges repeated. No blur for a
    /// `sigma` of 0 or less.
    pub fn blurred(&self, sigma: f32) -> Self {
        if sigma <= 0.0 || self.data.is_empty() {
            return self.clone();
        }
        let radius = (3.0 * sigma).ceil().min(64.0) as usize;
        let mut kernel: Vec<f32> = (0..=radius)
            .map(|i| (-0.5 * (i as f32 / sigma).powi(2)).exp())
            .collect();
        let sum = kernel[0] + 2.0 * kernel[1..].iter().sum::<f32>();
        kernel.iter_mut().for_each(|k| *k /= sum);

        let (w, h) = (self.w, self.h);
        let mut across = vec![0.0f32; w * h];
        let mut line = vec![0.0f32; w + 2 * radius];
        for (src, dst) in self.data.chunks_exact(w).zip(across.chunks_exact_mut(w)) {
            line[..radius].fill(src[0]);
            line[radius..radius + w].copy_from_slice(src);
            line[radius + w..].fill(src[w - 1]);
            for (d, c) in dst.iter_mut().zip(&line[radius..]) {
                *d = c * kernel[0];
            }
            for (i, k) in kernel.iter().enumerate().skip(1) {
                let (left, right) = (&line[radius - i..], &line[radius + i..]);
                for ((d, a), b) in dst.iter_mut().zip(left).zip(right) {
                    *d += k * (a + b);
                }
            }
        }
        let mut out = vec![0.0f32; w * h];
        for (y, dst) in out.chunks_exact_mut(w).enumerate() {
            let row = |r: usize| &across[r * w..(r + 1) * w];
            for (d, c) in dst.iter_mut().zip(row(y)) {
                *d = c * kernel[0];
            }
            for (i, k) in kernel.iter().enumerate().skip(1) {
                let (up, down) = (row(y.saturating_sub(i)), row((y + i).min(h - 1)));
                for ((d, a), b) in dst.iter_mut().zip(up).zip(down) {
                    *d += k * (a + b);
                }
            }
        }
        Self { w, h, data: out }
    }

    /// Half as wide and high: the mean of each two by two samples. An odd last row or column is
    /// left out. `sample` points move by `x' = (x - 0.5) / 2`.
    pub fn halved(&self) -> Self {
        let (w, h) = (self.w / 2, self.h / 2);
        let mut data = Vec::with_capacity(w * h);
        for y in 0..h {
            let a = &self.data[2 * y * self.w..][..2 * w];
            let b = &self.data[(2 * y + 1) * self.w..][..2 * w];
            data.extend(
                a.chunks_exact(2)
                    .zip(b.chunks_exact(2))
                    .map(|(a, b)| 0.25 * (a[0] + a[1] + b[0] + b[1])),
            );
        }
        Self { w, h, data }
    }
}

/// CIE L*a*b* (D65, from sRGB by IEC 61966-2-1) of a window: L* from 0 to 100.
#[derive(Debug, Clone)]
pub struct Lab {
    /// Lightness.
    pub l: Plane,
    /// Green to red.
    pub a: Plane,
    /// Blue to yellow.
    pub b: Plane,
}

impl Lab {
    /// Lab of the mean colour of each plane pixel.
    pub fn of(img: &RgbImage, win: Window) -> Self {
        let [r, g, b] = mean_rgb(img, win);
        let linear: Vec<f32> = (0..=255u16)
            .map(|v| {
                let v = f32::from(v) / 255.0;
                if v <= 0.04045 {
                    v / 12.92
                } else {
                    ((v + 0.055) / 1.055).powf(2.4)
                }
            })
            .collect();
        let lin = |v: f32| {
            let i = (v as usize).min(254);
            linear[i] + (linear[i + 1] - linear[i]) * (v - i as f32)
        };
        let f = |t: f32| {
            if t > 0.008_856 {
                t.cbrt()
            } else {
                7.787 * t + 16.0 / 116.0
            }
        };
        let n = win.area();
        let mut out = [
            Vec::with_capacity(n),
            Vec::with_capacity(n),
            Vec::with_capacity(n),
        ];
        for ((r, g), b) in r.iter().zip(&g).zip(&b) {
            let (r, g, b) = (lin(*r), lin(*g), lin(*b));
            let x = f((0.4124 * r + 0.3576 * g + 0.1805 * b) / 0.9505);
            let y = f(0.2126 * r + 0.7152 * g + 0.0722 * b);
            let z = f((0.0193 * r + 0.1192 * g + 0.9505 * b) / 1.089);
            out[0].push(116.0 * y - 16.0);
            out[1].push(500.0 * (x - y));
            out[2].push(200.0 * (y - z));
        }
        let plane = |data| Plane {
            w: win.w,
            h: win.h,
            data,
        };
        let [l, a, b] = out;
        Self {
            l: plane(l),
            a: plane(a),
            b: plane(b),
        }
    }

    /// All three channels blurred.
    pub fn blurred(&self, sigma: f32) -> Self {
        Self {
            l: self.l.blurred(sigma),
            a: self.a.blurred(sigma),
            b: self.b.blurred(sigma),
        }
    }

    /// Colour of sample `i` (row times width plus column).
    pub fn colour(&self, i: usize) -> [f32; 3] {
        [self.l.data[i], self.a.data[i], self.b.data[i]]
    }
}

/// Mean of each channel over every plane pixel of the window.
fn mean_rgb(img: &RgbImage, win: Window) -> [Vec<f32>; 3] {
    let n = win.area();
    let mut out = [vec![0.0f32; n], vec![0.0f32; n], vec![0.0f32; n]];
    let s = win.shrink as usize;
    let stride = img.width() as usize * 3;
    let raw = img.as_raw();
    let scale = 1.0 / (s * s) as f32;
    let mut sums = vec![[0u32; 3]; win.w];
    for row in 0..win.h {
        sums.fill([0; 3]);
        for dy in 0..s {
            let start = (win.y as usize + row * s + dy) * stride + win.x as usize * 3;
            let Some(line) = raw.get(start..start + win.w * s * 3) else {
                continue;
            };
            for (sum, block) in sums.iter_mut().zip(line.chunks_exact(3 * s)) {
                for p in block.chunks_exact(3) {
                    sum[0] += u32::from(p[0]);
                    sum[1] += u32::from(p[1]);
                    sum[2] += u32::from(p[2]);
                }
            }
        }
        for (i, sum) in sums.iter().enumerate() {
            for c in 0..3 {
                out[c][row * win.w + i] = sum[c] as f32 * scale;
            }
        }
    }
    out
}

/// The value below which the share `q` of the samples lies; 0 for none. NaN sorts last.
pub fn quantile(values: &mut [f32], q: f64) -> f32 {
    if values.is_empty() {
        return 0.0;
    }
    let k = ((values.len() - 1) as f64 * q.clamp(0.0, 1.0)).round() as usize;
    *values.select_nth_unstable_by(k, f32::total_cmp).1
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn window_turns_points_there_and_back() {
        let img = RgbImage::new(100, 80);
        let win = Window::over(&img, 10.0, 20.0, 90.0, 70.0, 3);
        assert_eq!((win.w, win.h), (26, 16));
        assert_eq!(win.to_plane([11.5, 21.5]), [0.0, 0.0]);
        let p = [33.3, 44.4];
        let q = win.to_picture(win.to_plane(p));
        assert!((q[0] - p[0]).abs() < 1e-9 && (q[1] - p[1]).abs() < 1e-9);
        assert_eq!(Window::over(&img, f64::NAN, 0.0, -5.0, 10.0, 0).area(), 0);
    }

    // Published pairs: sRGB red, green, blue and mid grey in CIE L*a*b* (D65), values as in Bruce
    // Lindbloom's tables, from memory.
    #[test]
    fn lab_of_known_colours() {
        let known: [([u8; 3], [f32; 3]); 4] = [
            ([255, 0, 0], [53.24, 80.09, 67.20]),
            ([0, 255, 0], [87.73, -86.18, 83.18]),
            ([0, 0, 255], [32.30, 79.19, -107.86]),
            ([128, 128, 128], [53.59, 0.0, 0.0]),
        ];
        for (rgb, lab) in known {
            let img = RgbImage::from_pixel(2, 2, image::Rgb(rgb));
            let got = Lab::of(&img, Window::whole(&img, 10)).colour(0);
            for c in 0..3 {
                assert!((got[c] - lab[c]).abs() < 0.3, "{rgb:?}: {got:?} {lab:?}");
            }
        }
    }

    #[test]
    fn blur_keeps_the_mean_of_an_impulse_and_its_spread() {
        let mut p = Plane::filled(41, 41, 0.0);
        p.data[20 * 41 + 20] = 1.0;
        let b = p.blurred(2.0);
        let sum: f32 = b.data.iter().sum();
        let var: f32 = (0..41 * 41)
            .map(|i| b.data[i] * ((i % 41) as f32 - 20.0).powi(2))
            .sum();
        assert!((sum - 1.0).abs() < 1e-4);
        assert!((var - 4.0).abs() < 0.2, "{var}");
    }
}
