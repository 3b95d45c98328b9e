//! From a rough region to the edge at half contrast: the ground around it is fitted as a plane of
//! colour, the stain within gives the contrast, and every pixel gets its share of the stain.

use nalgebra::{Matrix3, Vector3};

use super::{Filled, contour};
use crate::error::Result;
use crate::photo::plane::{Lab, Plane, Window, quantile};
use crate::photo::progress::Progress;

/// Settles the region: models stain and ground, moves the edge to half contrast, and does it again
/// with what it then knows.
pub fn settle(
    lab: &Lab,
    mut mask: Vec<bool>,
    seed: usize,
    win: Window,
    progress: &Progress,
) -> Result<Option<Filled>> {
    let (w, h) = (win.w, win.h);
    let mut last = None;
    for _ in 0..3 {
        progress.check()?;
        fill_holes(&mut mask, w, h);
        let Some(share) = shares(lab, &mask, w, h) else {
            break;
        };
        let size = (mask.iter().filter(|m| **m).count() as f64).sqrt();
        let free = component(&share.plane, 0.5, seed, None, &mask);
        // the edge may not wander off the region by more than this
        let band = (0.12 * size).clamp(3.0, 30.0) as usize;
        let near = grown(&mask, w, h, band);
        let held = component(&share.plane, 0.5, seed, Some(&near), &mask);
        let (n_free, n_held) = (count(&free), count(&held));
        if n_held < 12 {
            break;
        }
        let mut solid = held;
        fill_holes(&mut solid, w, h);
        let line_at = |level: f32| {
            // only this stain: others near by are pushed below the level, holes above it
            let around = grown(&solid, w, h, 2);
            let mut f = share.plane.clone();
            for i in 0..w * h {
                if !around[i] {
                    f.data[i] = f.data[i].min(0.2);
                } else if solid[i] && f.data[i] < 0.5 {
                    f.data[i] = 0.8;
                }
            }
            contour::largest(&f, level)
        };
        let line = line_at(0.5);
        if line.len() < 3 {
            break;
        }
        last = Some(Filled {
            win,
            wide: contour::area(&line_at(0.35)),
            narrow: contour::area(&line_at(0.65)),
            unclear: unclear(&share.plane, &line),
            escapes: (n_free as f64 / n_held as f64 - 1.0).max(0.0),
            clear: share.clear,
            line,
        });
        mask = solid;
    }
    Ok(last)
}

fn count(mask: &[bool]) -> usize {
    mask.iter().filter(|m| **m).count()
}

/// How much of each pixel is stain: 0 on the ground, 1 inside.
struct Shares {
    plane: Plane,
    /// Contrast over the spread of the ground.
    clear: f64,
}

fn shares(lab: &Lab, mask: &[bool], w: usize, h: usize) -> Option<Shares> {
    let size = (count(mask) as f64).sqrt();
    let gap = 3 + (0.08 * size) as usize;
    let ring_width = (0.3 * size).clamp(5.0, 60.0) as usize;
    let (inner, outer) = (grown(mask, w, h, gap), grown(mask, w, h, gap + ring_width));
    let ring: Vec<usize> = (0..w * h).filter(|&i| outer[i] && !inner[i]).collect();
    let out: Vec<bool> = mask.iter().map(|m| !m).collect();
    let keep_off = (0.12 * size).clamp(1.0, 20.0) as usize;
    let shore = grown(&out, w, h, keep_off);
    let mut core: Vec<usize> = (0..w * h).filter(|&i| mask[i] && !shore[i]).collect();
    if core.len() < 8 {
        core = (0..w * h).filter(|&i| mask[i]).collect();
    }
    if ring.len() < 12 || core.is_empty() {
        return None;
    }
    let planes = [&lab.l, &lab.a, &lab.b];
    let ground = planes.map(|p| fitted(p, &ring, w));
    let ground_at = |c: usize, i: usize| {
        let (x, y) = ((i % w) as f64, (i / w) as f64);
        (ground[c][0] + ground[c][1] * x + ground[c][2] * y) as f32
    };
    let contrast: Vec<f32> = (0..3)
        .map(|c| {
            let mut v: Vec<f32> = core
                .iter()
                .map(|&i| planes[c].data[i] - ground_at(c, i))
                .collect();
            quantile(&mut v, 0.5)
        })
        .collect();
    let square: f32 = contrast.iter().map(|v| v * v).sum();
    if square < 0.25 {
        return None;
    }
    let data: Vec<f32> = (0..w * h)
        .map(|i| {
            (0..3)
                .map(|c| (planes[c].data[i] - ground_at(c, i)) * contrast[c])
                .sum::<f32>()
                / square
        })
        .collect();
    let mut off: Vec<f32> = ring.iter().map(|&i| data[i].abs()).collect();
    let spread = f64::from(quantile(&mut off, 0.68)).max(1e-3);
    Some(Shares {
        plane: Plane { w, h, data },
        clear: 1.0 / spread,
    })
}

/// Plane of values over the pixels `at`, by least squares, twice: the second time without what is
/// far off it (other marks in the ring). Constant, across, down.
fn fitted(p: &Plane, at: &[usize], w: usize) -> [f64; 3] {
    let mut values: Vec<f32> = at.iter().map(|&i| p.data[i]).collect();
    let mid = f64::from(quantile(&mut values, 0.5));
    let mut fit = [mid, 0.0, 0.0];
    let mut limit = f64::INFINITY;
    for _ in 0..3 {
        let (mut m, mut v) = (Matrix3::<f64>::zeros(), Vector3::<f64>::zeros());
        let mut off: Vec<f32> = Vec::with_capacity(at.len());
        for &i in at {
            let (x, y) = ((i % w) as f64, (i / w) as f64);
            let value = f64::from(p.data[i]);
            let d = (value - (fit[0] + fit[1] * x + fit[2] * y)).abs();
            off.push(d as f32);
            if d <= limit {
                let r = Vector3::new(1.0, x, y);
                m += r * r.transpose();
                v += r * value;
            }
        }
        if let Some(s) = m.cholesky().map(|c| c.solve(&v)) {
            fit = [s[0], s[1], s[2]];
        }
        limit = 2.5 * f64::from(quantile(&mut off, 0.6)).max(0.2);
    }
    fit
}

/// Pixels connected to the region's own at or above the level, within `bounds` if given.
fn component(
    share: &Plane,
    level: f32,
    seed: usize,
    bounds: Option<&[bool]>,
    mask: &[bool],
) -> Vec<bool> {
    let (w, h) = (share.w, share.h);
    let ok = |i: usize| share.data[i] >= level && bounds.is_none_or(|b| b[i]);
    // the tap itself may sit on a speck: start from the nearest pixel of the region that counts
    let (sx, sy) = ((seed % w) as isize, (seed / w) as isize);
    let start = (0..w * h)
        .filter(|&i| mask[i] && ok(i))
        .min_by_key(|&i| ((i % w) as isize - sx).pow(2) + ((i / w) as isize - sy).pow(2));
    let mut out = vec![false; w * h];
    let mut stack: Vec<usize> = start.into_iter().collect();
    while let Some(p) = stack.pop() {
        if out[p] || !ok(p) {
            continue;
        }
        out[p] = true;
        let (x, y) = (p % w, p / w);
        if x > 0 {
            stack.push(p - 1);
        }
        if x + 1 < w {
            stack.push(p + 1);
        }
        if y > 0 {
            stack.push(p - w);
        }
        if y + 1 < h {
            stack.push(p + w);
        }
    }
    out
}

/// Everything that the border of the window cannot reach without crossing the region becomes part of it.
fn fill_holes(mask: &mut [bool], w: usize, h: usize) {
    let mut outside = vec![false; w * h];
    let mut stack: Vec<usize> = (0..w)
        .flat_map(|x| [x, (h - 1) * w + x])
        .chain((0..h).flat_map(|y| [y * w, y * w + w - 1]))
        .collect();
    while let Some(p) = stack.pop() {
        if outside[p] || mask[p] {
            continue;
        }
        outside[p] = true;
        let (x, y) = (p % w, p / w);
        if x > 0 {
            stack.push(p - 1);
        }
        if x + 1 < w {
            stack.push(p + 1);
        }
        if y > 0 {
            stack.push(p - w);
        }
        if y + 1 < h {
            stack.push(p + w);
        }
    }
    for (m, o) in mask.iter_mut().zip(&outside) {
        *m = !o;
    }
}

/// The region grown by `by` pixels in every direction (a square), by two running sums.
fn grown(mask: &[bool], w: usize, h: usize, by: usize) -> Vec<bool> {
    let pass = |src: &[bool], n: usize, lines: usize, step: usize, jump: usize| {
        let mut out = vec![false; src.len()];
        for l in 0..lines {
            let base = l * jump;
            let mut last: Option<usize> = None;
            for i in 0..n {
                if src[base + i * step] {
                    last = Some(i);
                }
                out[base + i * step] = last.is_some_and(|k| i - k <= by);
            }
            let mut next: Option<usize> = None;
            for i in (0..n).rev() {
                if src[base + i * step] {
                    next = Some(i);
                }
                if next.is_some_and(|k| k - i <= by) {
                    out[base + i * step] = true;
                }
            }
        }
        out
    };
    let across = pass(mask, w, h, 1, w);
    pass(&across, h, w, w, 1)
}

/// Share of the edge across which the stain's share hardly falls.
fn unclear(share: &Plane, line: &[[f64; 2]]) -> f64 {
    let n = line.len();
    let size = contour::area(line).sqrt();
    let d = (0.1 * size).clamp(3.0, 10.0);
    let faint = (0..n)
        .filter(|&i| {
            let (a, b) = (line[(i + n - 3) % n], line[(i + 3) % n]);
            let len = (b[0] - a[0]).hypot(b[1] - a[1]).max(1e-9);
            let (nx, ny) = (-(b[1] - a[1]) / len, (b[0] - a[0]) / len);
            let p = line[i];
            let one = share.sample(p[0] + d * nx, p[1] + d * ny);
            let other = share.sample(p[0] - d * nx, p[1] - d * ny);
            (one - other).abs() < 0.35
        })
        .count();
    faint as f64 / n.max(1) as f64
}
