//! The tolerance sweep: which pixels a filling from the tap reaches at every tolerance at once.
//!
//! A pixel's *level* is the least tolerance at which the filling gets to it: the smallest, over all
//! ways from the tap, of the largest colour difference on the way. One pass over buckets gives the
//! levels of the whole window; the region at tolerance t is then all pixels of level t or less.

use crate::error::Result;
use crate::photo::progress::Progress;

/// Levels are whole numbers of quarter units of colour difference, at most this.
pub const LEVELS: usize = 320;

/// Levels of all pixels, from the pixels of the tap outwards.
pub fn levels(
    difference: &[f32],
    w: usize,
    h: usize,
    seeds: &[usize],
    progress: &Progress,
) -> Result<Vec<u16>> {
    const NONE: u16 = u16::MAX;
    let own = |p: usize| ((difference[p] * 4.0) as usize).min(LEVELS - 1);
    let mut level = vec![NONE; w * h];
    let mut buckets: Vec<Vec<u32>> = vec![Vec::new(); LEVELS];
    for &s in seeds.iter().filter(|s| **s < w * h) {
        level[s] = 0;
        buckets[0].push(s as u32);
    }
    for now in 0..LEVELS {
        progress.check()?;
        while let Some(p) = buckets[now].pop() {
            let p = p as usize;
            let (x, y) = (p % w, p / w);
            let mut go = |q: usize| {
                if level[q] == NONE {
                    let l = own(q).max(now);
                    level[q] = l as u16;
                    buckets[l].push(q as u32);
                }
            };
            if x > 0 {
                go(p - 1);
            }
            if x + 1 < w {
                go(p + 1);
            }
            if y > 0 {
                go(p - w);
            }
            if y + 1 < h {
                go(p + w);
            }
        }
    }
    Ok(level)
}

/// What the region is like at one tolerance.
#[derive(Debug, Clone, Copy, Default)]
pub struct Stage {
    /// Pixels in it.
    pub area: usize,
    /// Pixel sides on its boundary.
    pub edge: usize,
    /// Sum over those of the steepness there.
    pub steep: f64,
    /// Pixels of it on the border of the window.
    pub border: usize,
}

/// The stages at all tolerances, by sums over pixels and pixel sides.
pub fn stages(level: &[u16], steepness: &[f32], w: usize, h: usize) -> Vec<Stage> {
    let mut area = vec![0i64; LEVELS + 1];
    let mut edge = vec![0i64; LEVELS + 1];
    let mut steep = vec![0f64; LEVELS + 1];
    let mut border = vec![0i64; LEVELS + 1];
    for y in 0..h {
        for x in 0..w {
            let p = y * w + x;
            let l = usize::from(level[p]).min(LEVELS);
            area[l] += 1;
            if x == 0 || y == 0 || x + 1 == w || y + 1 == h {
                border[l] += 1;
            }
            let mut side = |q: usize| {
                let m = usize::from(level[q]).min(LEVELS);
                if l != m {
                    let g = f64::from(steepness[p].max(steepness[q]));
                    let (lo, hi) = (l.min(m), l.max(m));
                    edge[lo] += 1;
                    edge[hi] -= 1;
                    steep[lo] += g;
                    steep[hi] -= g;
                }
            };
            if x + 1 < w {
                side(p + 1);
            }
            if y + 1 < h {
                side(p + w);
            }
        }
    }
    let mut out = Vec::with_capacity(LEVELS);
    let mut now = Stage::default();
    let (mut a, mut e, mut b) = (0i64, 0i64, 0i64);
    for t in 0..LEVELS {
        a += area[t];
        e += edge[t];
        b += border[t];
        now.steep += steep[t];
        now.area = a.max(0) as usize;
        now.edge = e.max(0) as usize;
        now.border = b.max(0) as usize;
        out.push(now);
    }
    out
}
