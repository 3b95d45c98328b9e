//! The four straight edges of a card near four rough taps.
//!
//! For each side the brightness is read across the expected edge at many places; every pair of
//! offsets at the side's two ends is a candidate line and scored by how evenly it runs along a step
//! of one direction. The best few candidates of each side are combined so that together they make a
//! card and not, say, a printed frame on it. Then each line is fitted to sub-pixel step places,
//! outliers weighed down, and neighbours are crossed. The card's rounded corners (ISO/IEC 7810:
//! radius 3.18 mm) are left out of the fit: the lines cross where a sharp corner would be.

use image::RgbImage;

use super::corners::misfit;
use super::geometry::{Point, crossing, distance, is_convex, turn};
use super::mixed::Mixed;
use super::progress::Progress;
use super::scale::CARD_MM;
use crate::error::Result;

/// Corners found in the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// In the order of the taps.
    pub corners: [Point; 4],
    /// Standard uncertainty in pixels of each coordinate of each.
    pub u: [f64; 4],
}

/// Part of a side left out at each end when looking for the line: the rounded corner is up to 6 % of
/// the short side, and a tap is off by some percent.
const SEARCH_MARGIN: f64 = 0.12;
/// The same for the fit, whose ends are known better.
const FIT_MARGIN: f64 = 0.09;
/// Brightness steps per pixel at which a step counts half.
const HALF_STEP: f64 = 4.0;
/// Smallest step per pixel that is taken as an edge.
const LEAST_STEP: f64 = 1.2;
/// Model error of a fitted edge in pixels: bevel, shadow, sharpening, compression.
const EDGE_MODEL_U: f64 = 0.15;
/// Steps along an edge are correlated (compression works in blocks of 8): this many count as one.
const CORRELATED: f64 = 4.0;

/// One side: two ends, unit vectors along it and across it (out of the card).
#[derive(Debug, Clone, Copy)]
struct Side {
    ends: [Point; 2],
    length: f64,
    along: Point,
    out: Point,
}

impl Side {
    /// The corners go clockwise as seen (y down), so outwards is to the left of the direction.
    fn new(a: Point, b: Point) -> Option<Self> {
        let length = distance(a, b);
        if !(length > 8.0) {
            return None;
        }
        let along = [(b[0] - a[0]) / length, (b[1] - a[1]) / length];
        Some(Self {
            ends: [a, b],
            length,
            along,
            out: [along[1], -along[0]],
        })
    }

    /// The place at part `t` of the side, `s` pixels outwards.
    fn at(&self, t: f64, s: f64) -> Point {
        let a = self.ends[0];
        let d = t * self.length;
        [
            a[0] + self.along[0] * d + self.out[0] * s,
            a[1] + self.along[1] * d + self.out[1] * s,
        ]
    }

    /// The side moved outwards by different amounts at its two ends.
    fn moved(&self, by: [f64; 2]) -> Option<Self> {
        Self::new(self.at(0.0, by[0]), self.at(1.0, by[1]))
    }
}

/// The mixture of colours that shows a side best, from two strips beyond `reach` on either hand.
fn seen_at<'a>(img: &'a RgbImage, side: &Side, reach: f64) -> Mixed<'a> {
    let strip = |sign: f64| -> Vec<Point> {
        (0..320)
            .map(|i| {
                let t = SEARCH_MARGIN + (1.0 - 2.0 * SEARCH_MARGIN) * f64::from(i / 8) / 39.0;
                side.at(t, sign * (reach + 2.0 + 1.5 * f64::from(i % 8)))
            })
            .collect()
    };
    Mixed::telling_apart(img, &strip(1.0), &strip(-1.0))
}

/// Brightness steps per pixel across a side at part `t`, from −reach to +reach in steps of `pitch`
/// pixels: the derivative of a Gaussian (σ = 1.1 px) over three neighbouring profiles.
fn steps_across(photo: &Mixed<'_>, side: &Side, t: f64, reach: f64, pitch: f64) -> Vec<f64> {
    const SIGMA: f64 = 1.1;
    let half = (3.0 * SIGMA / pitch).ceil() as i64;
    let n = (reach / pitch).round() as i64;
    let profile: Vec<f64> = (-n - half..=n + half)
        .map(|k| {
            let s = k as f64 * pitch;
            [-1.0, 0.0, 1.0]
                .iter()
                .map(|d| photo.sample(side.at(t + d / side.length, s)))
                .sum::<f64>()
                / 3.0
        })
        .collect();
    let kernel: Vec<f64> = (-half..=half)
        .map(|k| {
            let x = k as f64 * pitch / SIGMA;
            x / (SIGMA * SIGMA) * (-x * x / 2.0).exp() / (std::f64::consts::TAU).sqrt() * pitch
        })
        .collect();
    profile
        .windows(kernel.len())
        .map(|w| w.iter().zip(&kernel).map(|(v, k)| v * k).sum())
        .collect()
}

/// A line that may be the card's edge.
#[derive(Debug, Clone, Copy)]
struct Candidate {
    side: Side,
    /// +1 when it gets lighter outwards, −1 when darker.
    sign: f64,
    score: f64,
}

/// Best candidates for one side, best first.
fn candidates(
    photo: &Mixed<'_>,
    side: &Side,
    reach: f64,
    progress: &Progress,
) -> Result<Vec<Candidate>> {
    let r = reach.round() as i64;
    let width = (2 * r + 1) as usize;
    let count = (side.length / 3.0).clamp(24.0, 120.0) as usize;
    let place =
        |i: usize| SEARCH_MARGIN + (1.0 - 2.0 * SEARCH_MARGIN) * i as f64 / (count - 1) as f64;
    // Rows of saturated steps: the strongest within 0.75 px of each whole offset.
    let mut table = Vec::with_capacity(count * width);
    for i in 0..count {
        progress.check()?;
        let fine = steps_across(photo, side, place(i), r as f64 + 1.0, 0.5);
        for k in 0..width {
            let near = fine
                .get(2 * k + 1..(2 * k + 4).min(fine.len()))
                .unwrap_or(&[]);
            let g = near
                .iter()
                .fold(0.0_f64, |m, g| if g.abs() > m.abs() { *g } else { m });
            let g = if g.abs() < LEAST_STEP { 0.0 } else { g };
            table.push(g / (g.abs() + HALF_STEP));
        }
    }
    let mut scores = vec![0.0_f64; width * width];
    for a in 0..width {
        progress.check()?;
        for b in 0..width {
            let mut sum = 0.0;
            for (i, row) in table.chunks_exact(width).enumerate() {
                let t = place(i);
                let k = (a as f64 * (1.0 - t) + b as f64 * t).round() as usize;
                sum += row.get(k).copied().unwrap_or(0.0);
            }
            let (da, db) = (a as f64 - r as f64, b as f64 - r as f64);
            let near = 1.0 - 0.25 * (da * da + db * db) / (2.0 * reach * reach);
            if let Some(s) = scores.get_mut(a * width + b) {
                *s = sum / count as f64 * near;
            }
        }
    }
    let mut order: Vec<usize> = (0..scores.len())
        .filter(|i| scores.get(*i).is_some_and(|s| s.abs() > LEAST_SCORE))
        .collect();
    order.sort_by(|i, j| {
        let v = |k: &usize| scores.get(*k).copied().unwrap_or(0.0).abs();
        v(j).total_cmp(&v(i)).then(i.cmp(j))
    });
    let mut kept: Vec<(f64, f64)> = Vec::new();
    let mut out: Vec<Candidate> = Vec::new();
    for i in order {
        let s = scores.get(i).copied().unwrap_or(0.0);
        let best = out.first().map_or(s.abs(), |c| c.score);
        if out.len() == 4 || s.abs() < 0.55 * best {
            break;
        }
        let by = ((i / width) as f64 - r as f64, (i % width) as f64 - r as f64);
        if kept
            .iter()
            .any(|k| (k.0 - by.0).abs() < 5.0 && (k.1 - by.1).abs() < 5.0)
        {
            continue;
        }
        kept.push(by);
        if let Some(moved) = side.moved([by.0, by.1]) {
            out.push(Candidate {
                side: moved,
                sign: s.signum(),
                score: s.abs(),
            });
        }
    }
    Ok(out)
}

/// A line that runs along less of an edge than this is none.
const LEAST_SCORE: f64 = 0.18;
/// What one percent of misfit to a card's shape costs in score.
const MISFIT_COST: f64 = 0.05;

/// Finds the card's corners near the taps, which go clockwise as seen, the long side first.
/// `None` when no four edges are found that could be a card's.
pub fn card(
    img: &RgbImage,
    taps: &[Point; 4],
    focal: f64,
    progress: &Progress,
) -> Result<Option<Found>> {
    let [a, b, c, d] = *taps;
    let sides = [
        Side::new(a, b),
        Side::new(b, c),
        Side::new(c, d),
        Side::new(d, a),
    ];
    let mut lists = Vec::with_capacity(4);
    let mean = sides.iter().flatten().map(|s| s.length).sum::<f64>() / 4.0;
    let reach = (0.05 * mean).clamp(6.0, 40.0);
    for side in &sides {
        let Some(side) = side else { return Ok(None) };
        let list = candidates(&seen_at(img, side, reach), side, reach, progress)?;
        if list.is_empty() {
            return Ok(None);
        }
        lists.push(list);
    }
    let Some(chosen) = choose(&lists, [img.width(), img.height()], focal) else {
        return Ok(None);
    };
    let mut fitted = Vec::with_capacity(4);
    for c in chosen {
        progress.check()?;
        let Some(f) = fit(&seen_at(img, &c.side, 4.0), &c) else {
            return Ok(None);
        };
        fitted.push(f);
    }
    let (Some(corners), [Some(w), Some(x), Some(y), Some(z)]) = (
        cross(&[0, 1, 2, 3].map(|i| fitted.get(i).map(|f| f.side))),
        [0, 1, 2, 3].map(|i| fitted.get(i)),
    ) else {
        return Ok(None);
    };
    if !is_convex(&corners)
        || corners
            .iter()
            .zip(taps)
            .any(|(c, t)| distance(*c, *t) > 2.0 * reach)
    {
        return Ok(None);
    }
    let sharpest = fitted.iter().map(|f| f.width).fold(f64::INFINITY, f64::min);
    let around = [(z, w), (w, x), (x, y), (y, z)];
    let mut u = [0.0; 4];
    for ((slot, at), (before, after)) in u.iter_mut().zip(&corners).zip(around) {
        let (p, q) = (
            before.variance_at(*at, sharpest),
            after.variance_at(*at, sharpest),
        );
        let sine = turn(
            [0.0, 0.0],
            before.side.along,
            [
                before.side.along[0] + after.side.along[0],
                before.side.along[1] + after.side.along[1],
            ],
        )
        .abs()
        .max(0.1);
        *slot = ((p + q) / 2.0 / (sine * sine) + EDGE_MODEL_U * EDGE_MODEL_U).sqrt();
    }
    Ok(Some(Found { corners, u }))
}

fn cross(sides: &[Option<Side>; 4]) -> Option<[Point; 4]> {
    let [Some(s), Some(t), Some(v), Some(w)] = *sides else {
        return None;
    };
    Some([
        crossing(w.ends, s.ends)?,
        crossing(s.ends, t.ends)?,
        crossing(t.ends, v.ends)?,
        crossing(v.ends, w.ends)?,
    ])
}

/// The combination with the best edges that still has a card's shape.
fn choose(lists: &[Vec<Candidate>], picture: [u32; 2], focal: f64) -> Option<[Candidate; 4]> {
    let [s, t, v, w] = lists else { return None };
    let mut best: Option<(f64, [Candidate; 4])> = None;
    for a in s {
        for b in t {
            for c in v {
                for d in w {
                    let Some(q) = cross(&[Some(a.side), Some(b.side), Some(c.side), Some(d.side)])
                    else {
                        continue;
                    };
                    let off = misfit(&q, CARD_MM, picture, focal).min(1.0);
                    let total = a.score + b.score + c.score + d.score - 100.0 * MISFIT_COST * off;
                    if best.is_none_or(|(t, _)| total > t) {
                        best = Some((total, [*a, *b, *c, *d]));
                    }
                }
            }
        }
    }
    best.map(|(_, c)| c)
}

/// A fitted line.
#[derive(Debug, Clone, Copy)]
struct Fitted {
    side: Side,
    /// Of the step places about the line, in pixels².
    variance: f64,
    /// Width in pixels over which the step is spread: a shadow's edge is wider than a card's.
    width: f64,
    /// Step places that count, after taking correlation into account.
    count: f64,
    /// Their mean place along the side and its mean square, in pixels.
    mean: f64,
    spread: f64,
}

impl Fitted {
    /// Variance in pixels² of the line's place across, at the place along it of `p`. A step wider
    /// than the sharpest of the four sides may be a shadow's: half the surplus is allowed for.
    fn variance_at(&self, p: Point, sharpest: f64) -> f64 {
        let wide = 0.5 * (self.width - sharpest).max(0.0);
        let a = self.side.ends[0];
        let x = (p[0] - a[0]) * self.side.along[0] + (p[1] - a[1]) * self.side.along[1];
        wide * wide
            + self.variance / self.count * (1.0 + (x - self.mean).powi(2) / self.spread.max(1.0))
    }
}

fn fit(photo: &Mixed<'_>, candidate: &Candidate) -> Option<Fitted> {
    let refine = |mut side: Side| {
        let mut result = None;
        for reach in [4.0, 2.5, 2.5] {
            let f = fit_once(photo, &side, candidate.sign, reach)?;
            side = f.side;
            result = Some(f);
        }
        result
    };
    let mut found = refine(candidate.side)?;
    let (width, inner) = mean_step(photo, &found.side, candidate.sign);
    found.width = width;
    // A thin shadow beside a dark card ends in a step of the same direction as the card's own edge,
    // and may be the stronger of the two. The card's edge is the inner and the sharper one.
    if let Some(by) = inner
        && let Some(side) = found.side.moved([by, by])
        && let Some(mut f) = fit_once(photo, &side, candidate.sign, 1.6)
    {
        let (inner_width, _) = mean_step(photo, &f.side, candidate.sign);
        if inner_width < 0.8 * width {
            f.width = inner_width;
            return Some(f);
        }
    }
    Some(found)
}

/// The step averaged along the whole side: its width at half height, and how far inside (negative)
/// another step of the same direction lies, if there is one.
fn mean_step(photo: &Mixed<'_>, side: &Side, sign: f64) -> (f64, Option<f64>) {
    let (reach, pitch) = (8.0, 0.25);
    let mut mean: Vec<f64> = Vec::new();
    for i in 0..60 {
        let t = FIT_MARGIN + (1.0 - 2.0 * FIT_MARGIN) * f64::from(i) / 59.0;
        let g = steps_across(photo, side, t, reach, pitch);
        mean.resize(g.len(), 0.0);
        for (m, v) in mean.iter_mut().zip(&g) {
            *m += v * sign / 60.0;
        }
    }
    let place = |k: usize| k as f64 * pitch - reach;
    let value = |k: usize| mean.get(k).copied().unwrap_or(0.0);
    let near = (0..mean.len()).filter(|k| place(*k).abs() < 1.5);
    let Some(top) = near.max_by(|a, b| value(*a).total_cmp(&value(*b))) else {
        return (0.0, None);
    };
    let half = value(top) / 2.0;
    let right = (top..mean.len()).take_while(|k| value(*k) > half).count();
    let left = (0..=top).rev().take_while(|k| value(*k) > half).count();
    let least = 0.22 * value(top).max(4.0 * LEAST_STEP);
    let inner = (1..top)
        .filter(|k| place(*k) < place(top) - 1.2 && value(*k) > least)
        .filter(|k| value(*k) >= value(k - 1) && value(*k) > value(k + 1))
        .max_by(|a, b| value(*a).total_cmp(&value(*b)));
    (
        (left + right).saturating_sub(1) as f64 * pitch,
        inner.map(place),
    )
}

fn fit_once(photo: &Mixed<'_>, side: &Side, sign: f64, reach: f64) -> Option<Fitted> {
    let count = (side.length / 2.0).clamp(24.0, 400.0) as usize;
    let pitch = 0.25;
    let mut points: Vec<(f64, f64)> = Vec::with_capacity(count);
    for i in 0..count {
        let t = FIT_MARGIN + (1.0 - 2.0 * FIT_MARGIN) * i as f64 / (count - 1) as f64;
        let g = steps_across(photo, side, t, reach, pitch);
        let (k, top) = g
            .iter()
            .enumerate()
            .map(|(k, v)| (k, v * sign))
            .max_by(|a, b| a.1.total_cmp(&b.1))?;
        // A step at the very end of the reach is another edge's flank.
        if top < LEAST_STEP || k == 0 || k + 1 >= g.len() {
            continue;
        }
        let (l, r) = (g.get(k - 1)? * sign, g.get(k + 1)? * sign);
        let bend = l - 2.0 * top + r;
        let off = if bend < 0.0 {
            0.5 * (l - r) / bend
        } else {
            0.0
        };
        points.push((t * side.length, (k as f64 + off) * pitch - reach));
    }
    if points.len() < 12 || (points.len() as f64) < 0.5 * count as f64 {
        return None;
    }
    let mut weights = vec![1.0; points.len()];
    let (mut line, mut scale) = (weighted_line(&points, &weights)?, 1.0);
    for _ in 0..12 {
        let mut r: Vec<f64> = points
            .iter()
            .map(|p| (p.1 - line.0 - line.1 * p.0).abs())
            .collect();
        let half = r.len() / 2;
        let (_, m, _) = r.select_nth_unstable_by(half, f64::total_cmp);
        scale = (*m / 0.6745).max(0.05);
        for (w, p) in weights.iter_mut().zip(&points) {
            // Tukey's biweight.
            let z = (p.1 - line.0 - line.1 * p.0) / (4.7 * scale);
            *w = if z.abs() < 1.0 {
                (1.0 - z * z).powi(2)
            } else {
                0.0
            };
        }
        line = weighted_line(&points, &weights)?;
    }
    let whole: f64 = weights.iter().sum();
    // Both halves of the side must carry the line, and most of it: else it is part of something else.
    let middle = side.length / 2.0;
    let left: f64 = weights
        .iter()
        .zip(&points)
        .filter(|(_, p)| p.0 < middle)
        .map(|(w, _)| *w)
        .sum();
    if whole < 0.45 * count as f64
        || left < 0.15 * count as f64
        || whole - left < 0.15 * count as f64
    {
        return None;
    }
    let sum = |f: &dyn Fn(&(f64, f64)) -> f64| {
        weights
            .iter()
            .zip(&points)
            .map(|(w, p)| w * f(p))
            .sum::<f64>()
            / whole
    };
    let mean = sum(&|p| p.0);
    let spread = sum(&|p| (p.0 - mean).powi(2));
    let variance = sum(&|p| (p.1 - line.0 - line.1 * p.0).powi(2)).max(scale * scale * 0.25);
    Some(Fitted {
        side: side.moved([line.0, line.0 + line.1 * side.length])?,
        variance,
        width: 0.0,
        count: (whole / CORRELATED).max(1.0),
        mean,
        spread,
    })
}

/// Offset and slope.
fn weighted_line(points: &[(f64, f64)], weights: &[f64]) -> Option<(f64, f64)> {
    let (mut n, mut x, mut y) = (0.0, 0.0, 0.0);
    for (p, w) in points.iter().zip(weights) {
        (n, x, y) = (n + w, x + w * p.0, y + w * p.1);
    }
    if !(n > 0.0) {
        return None;
    }
    let (x, y) = (x / n, y / n);
    let (mut xx, mut xy) = (0.0, 0.0);
    for (p, w) in points.iter().zip(weights) {
        xx += w * (p.0 - x) * (p.0 - x);
        xy += w * (p.0 - x) * (p.1 - y);
    }
    (xx > 0.0).then(|| (y - xy / xx * x, xy / xx))
}
