//! How much each place of a picture looks like a thin dark or light line.
//!
//! The second derivatives of the blurred picture are taken at a few blurs (Lindeberg 1998, Edge
//! detection and ridge detection with automatic scale selection, IJCV 30:117). At each blur the
//! response is divided by its own median over the window, so that the number says how far a line
//! stands out of this picture's noise and texture, whatever they are.

use crate::error::Result;
use crate::photo::plane::{Plane, quantile};
use crate::photo::progress::Progress;

/// Blurs at which lines are looked for, in plane pixels: lines about 1.5 to 8 pixels wide.
pub const BLURS: [f32; 3] = [1.0, 1.8, 3.2];

/// Below this a response is rounding of 8-bit samples, not a line (grey levels, after blurring).
const FLOOR: f32 = 0.12;

/// Line responses of a window, as multiples of what its noise and texture give.
pub struct Ridges {
    /// Dark line on lighter ground.
    pub dark: Plane,
    /// Light line on darker ground.
    pub light: Plane,
}

/// Measures both kinds of line over the plane.
pub fn ridges(grey: &Plane, progress: &Progress) -> Result<Ridges> {
    let (w, h) = (grey.w, grey.h);
    let mut dark = Plane::filled(w, h, 0.0);
    let mut light = Plane::filled(w, h, 0.0);
    let mut pair = vec![[0.0f32; 2]; w * h];
    for sigma in BLURS {
        progress.check()?;
        let b = grey.blurred(sigma);
        line_strength(&b, sigma, &mut pair);
        // every 7th sample is plenty for a median
        let mut some: Vec<f32> = pair.iter().step_by(7).map(|p| p[0].max(p[1])).collect();
        let noise = quantile(&mut some, 0.5).max(FLOOR);
        for ((p, d), l) in pair.iter().zip(&mut dark.data).zip(&mut light.data) {
            *d = d.max(p[0] / noise);
            *l = l.max(p[1] / noise);
        }
    }
    Ok(Ridges { dark, light })
}

/// For every sample, the strength of a dark and of a light line: the larger principal second
/// derivative less half of the smaller one's size, so that spots count for less than lines.
fn line_strength(b: &Plane, sigma: f32, out: &mut [[f32; 2]]) {
    let (w, h) = (b.w, b.h);
    // scale normalisation with exponent 3/4, Lindeberg's for ridges
    let norm = sigma.powf(1.5);
    if w < 3 || h < 3 {
        return;
    }
    for y in 0..h {
        let up = &b.data[y.saturating_sub(1) * w..][..w];
        let mid = &b.data[y * w..][..w];
        let down = &b.data[(y + 1).min(h - 1) * w..][..w];
        let row = &mut out[y * w..][..w];
        for x in 1..w - 1 {
            let c2 = 2.0 * mid[x];
            let xx = mid[x - 1] + mid[x + 1] - c2;
            let yy = up[x] + down[x] - c2;
            let xy = 0.25 * (up[x - 1] + down[x + 1] - up[x + 1] - down[x - 1]);
            let mean = 0.5 * (xx + yy);
            let diff = 0.5 * (xx - yy);
            let r = (diff * diff + xy * xy).sqrt();
            let (hi, lo) = (mean + r, mean - r);
            row[x] = [
                norm * (hi - 0.5 * lo.abs()).max(0.0),
                norm * (-lo - 0.5 * hi.abs()).max(0.0),
            ];
        }
        row[0] = [0.0; 2];
        row[w - 1] = [0.0; 2];
    }
    // a line along the very edge of the window is the edge's doing
    out[..w].fill([0.0; 2]);
    out[(h - 1) * w..].fill([0.0; 2]);
}
