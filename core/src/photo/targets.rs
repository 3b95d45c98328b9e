//! The printed marks of the scale sheet: four black and four white quarters meeting in a point that
//! stays a point at any slant.

use image::RgbImage;

use super::edges::Found;
use super::geometry::{Homography, Point, distance};
use super::mixed::Mixed;
use super::progress::Progress;
use super::scale::SHEET_MM;
use crate::error::Result;

/// Radius in mm of a mark's round black and white figure on paper.
pub const MARK_RADIUS_MM: f64 = 5.0;
/// Standard uncertainty in pixels of a mark found: print, paper and compression.
const TARGET_U: f64 = 0.2;

/// Finds the four marks near the taps; `None` unless all four are found.
pub fn sheet(img: &RgbImage, taps: &[Point; 4], progress: &Progress) -> Result<Option<Found>> {
    let [w, h] = SHEET_MM;
    let Some(to_px) = Homography::from_four(&[[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]], taps) else {
        return Ok(None);
    };
    let photo = Mixed::brightness(img);
    let mut corners = *taps;
    for (slot, at) in corners
        .iter_mut()
        .zip([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]])
    {
        progress.check()?;
        let Some([[a, b], [c, d]]) = to_px.jacobian(at) else {
            return Ok(None);
        };
        // The smaller of the two half-axes of the mark's ellipse.
        let sum = a * a + b * b + c * c + d * d;
        let det = (a * d - b * c).abs();
        let least = ((sum - (sum * sum - 4.0 * det * det).max(0.0).sqrt()) / 2.0)
            .max(0.0)
            .sqrt();
        let Some(found) = target(&photo, *slot, least * MARK_RADIUS_MM) else {
            return Ok(None);
        };
        *slot = found;
    }
    Ok(Some(Found {
        corners,
        u: [TARGET_U; 4],
    }))
}

/// The point where the quarters meet, near a tap, for a mark of that radius in pixels.
fn target(photo: &Mixed<'_>, tap: Point, radius: f64) -> Option<Point> {
    if !(radius >= 4.0) || !radius.is_finite() {
        return None;
    }
    let reach = (1.2 * radius).clamp(6.0, 60.0);
    let pitch = (radius / 8.0).max(1.0);
    let n = (reach / pitch).ceil() as i64;
    let mut best = (0.0, tap);
    for j in -n..=n {
        for i in -n..=n {
            let p = [tap[0] + i as f64 * pitch, tap[1] + j as f64 * pitch];
            let s = quartered(photo, p, 0.6 * radius).min(quartered(photo, p, 0.35 * radius));
            if s > best.0 {
                best = (s, p);
            }
        }
    }
    // Less than this many grey levels between the quarters is paper grain.
    if best.0 < 12.0 {
        return None;
    }
    let mut p = best.1;
    for _ in 0..20 {
        let q = saddle(photo, p, 0.55 * radius)?;
        let moved = distance(p, q);
        p = q;
        if moved < 0.005 {
            break;
        }
    }
    (distance(p, best.1) < 0.5 * radius + 1.0).then_some(p)
}

/// How much brighter two opposite quarters are than the other two, less what a plain edge shows.
fn quartered(photo: &Mixed<'_>, p: Point, r: f64) -> f64 {
    const N: usize = 16;
    let (mut c1, mut s1, mut c2, mut s2) = (0.0, 0.0, 0.0, 0.0);
    for k in 0..N {
        let a = std::f64::consts::TAU * k as f64 / N as f64;
        let v = photo.sample([p[0] + r * a.cos(), p[1] + r * a.sin()]);
        c1 += v * a.cos();
        s1 += v * a.sin();
        c2 += v * (2.0 * a).cos();
        s2 += v * (2.0 * a).sin();
    }
    (c2.hypot(s2) - c1.hypot(s1)) / N as f64
}

/// The point to which every brightness gradient around it is at right angles: where edges meet
/// (Foerstner and Guelch 1987, from memory).
fn saddle(photo: &Mixed<'_>, p: Point, r: f64) -> Option<Point> {
    let n = r.ceil().min(40.0) as i64;
    let step = r / n as f64;
    let (mut xx, mut xy, mut yy, mut bx, mut by) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for j in -n..=n {
        for i in -n..=n {
            let (x, y) = (i as f64 * step, j as f64 * step);
            let d2 = (x * x + y * y) / (r * r);
            if d2 > 1.0 {
                continue;
            }
            let q = [p[0] + x, p[1] + y];
            let gx = photo.sample([q[0] + 1.0, q[1]]) - photo.sample([q[0] - 1.0, q[1]]);
            let gy = photo.sample([q[0], q[1] + 1.0]) - photo.sample([q[0], q[1] - 1.0]);
            let w = 1.0 - d2;
            xx += w * gx * gx;
            xy += w * gx * gy;
            yy += w * gy * gy;
            bx += w * (gx * gx * x + gx * gy * y);
            by += w * (gx * gy * x + gy * gy * y);
        }
    }
    let det = xx * yy - xy * xy;
    // Edges in one direction only do not meet anywhere.
    if !(det > 0.02 * (xx + yy).powi(2)) {
        return None;
    }
    let (dx, dy) = ((yy * bx - xy * by) / det, (xx * by - xy * bx) / det);
    let limit = r;
    (dx.hypot(dy) < limit).then(|| [p[0] + dx, p[1] + dy])
}
