//! Is a photo sharp, and is its light usable? Warnings only: nothing is ever rejected for it.
//!
//! Both are read on the preview (about a quarter of a phone photo's scale), where sensor noise has
//! averaged out. Sharpness is not the plain variance of the Laplacian, which tells more about how
//! busy a scene is than how sharp: it is the Laplacian's size *relative to the gradient's* along the
//! strongest twentieth of all gradients, which asks how steep the steepest edges are.

use image::RgbImage;
use serde::{Deserialize, Serialize};

/// Below this a photo is called blurred.
pub const BLURRED_BELOW: u32 = 550;

/// How sharp, in thousandths of a pixel's step: higher is sharper; also the plain variance.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Sharpness {
    /// Steepness of the steepest edges, in thousandths.
    pub edges: u32,
    /// Variance of the Laplacian of 8-bit brightness, rounded.
    pub laplacian: u32,
    /// True where a second photo is worth taking.
    pub blurred: bool,
}

/// How the light fell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Exposure {
    /// Mean brightness, 0 to 255.
    pub mean: u8,
    /// Pixels that are black, in thousandths of all.
    pub black: u16,
    /// Pixels that are white, in thousandths of all.
    pub white: u16,
    /// True where shadows hide what may be there.
    pub too_dark: bool,
    /// True where glare hides what may be there.
    pub too_bright: bool,
}

/// Brightness by ITU-R BT.601, in whole numbers.
pub(crate) fn brightness(picture: &RgbImage) -> Vec<u8> {
    picture
        .pixels()
        .map(|p| {
            let [r, g, b] = p.0.map(u32::from);
            ((299 * r + 587 * g + 114 * b + 500) / 1000) as u8
        })
        .collect()
}

/// Measures sharpness on a preview's brightness.
pub(crate) fn sharpness(grey: &[u8], width: usize) -> Sharpness {
    let none = Sharpness {
        edges: 0,
        laplacian: 0,
        blurred: true,
    };
    let height = grey.len().checked_div(width).unwrap_or(0);
    if width < 8 || height < 8 {
        return none;
    }
    // Squared gradient (central differences ×2) and Laplacian of every inner pixel.
    let mut steps: Vec<(u32, u16)> = Vec::with_capacity(grey.len());
    let (mut sum, mut squares) = (0i64, 0i64);
    let rows: Vec<&[u8]> = grey.chunks_exact(width).collect();
    for three in rows.windows(3) {
        let [above, here, below] = three else {
            continue;
        };
        let columns = here.windows(3).zip(above.iter().zip(below.iter()).skip(1));
        for (side, (&up, &down)) in columns {
            let &[left, middle, right] = side else {
                continue;
            };
            let (up, down) = (i32::from(up), i32::from(down));
            let (left, middle, right) = (i32::from(left), i32::from(middle), i32::from(right));
            let (dx, dy) = (right - left, down - up);
            let bend = up + down + left + right - 4 * middle;
            sum += i64::from(bend);
            squares += i64::from(bend * bend);
            steps.push(((dx * dx + dy * dy) as u32, bend.unsigned_abs() as u16));
        }
    }
    let count = steps.len();
    if count == 0 {
        return none;
    }
    let n = count as f64;
    let laplacian = squares as f64 / n - (sum as f64 / n).powi(2);
    let strongest = (count / 20).max(1);
    let at = count - strongest;
    let (_, _, _) = steps.select_nth_unstable(at);
    let top = steps.get(at..).unwrap_or_default();
    let bends: u64 = top.iter().map(|s| u64::from(s.1)).sum();
    let slopes: f64 = top.iter().map(|s| f64::from(s.0).sqrt() / 2.0).sum();
    // Two levels are added so that noise on a blank wall is not called sharp.
    let edges = bends as f64 / (slopes + 2.0 * top.len() as f64);
    let edges = (edges * 1000.0).round() as u32;
    Sharpness {
        edges,
        laplacian: laplacian.round() as u32,
        blurred: edges < BLURRED_BELOW,
    }
}

/// Measures exposure on a preview's brightness.
pub(crate) fn exposure(grey: &[u8]) -> Exposure {
    let count = grey.len().max(1) as u64;
    let sum: u64 = grey.iter().map(|&v| u64::from(v)).sum();
    let share = |test: fn(u8) -> bool| {
        let n = grey.iter().filter(|&&v| test(v)).count() as u64;
        (n * 1000 / count) as u16
    };
    let (mean, black, white) = ((sum / count) as u8, share(|v| v <= 8), share(|v| v >= 250));
    Exposure {
        mean,
        black,
        white,
        // Common practice, no source: half a picture without any tone cannot be judged.
        too_dark: black > 500 || mean < 25,
        too_bright: white > 500 || mean > 235,
    }
}
