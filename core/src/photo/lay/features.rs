//! Corners that are found again after turning and scaling, each with 256 bits that describe what is
//! around it: the smaller eigenvalue of the structure tensor (Shi and Tomasi 1994) on a stack of
//! shrunken copies, the direction from the intensity centroid, and comparisons of blurred samples in
//! a pattern turned into that direction (the idea of Rublee et al. 2011, ORB). The comparisons that
//! `imageproc` offers are neither turned nor scaled.

use crate::error::Result;
use crate::photo::plane::Plane;
use crate::photo::progress::Progress;

/// Shrinking from one copy to the next.
const STEP: f64 = 1.25;
/// Number of copies.
const COPIES: usize = 6;
/// Most features of a picture.
const MOST: usize = 1100;
/// Cells across and down in which features are thinned out, so that a busy corner does not take all.
const CELLS: (usize, usize) = (12, 9);
/// Samples kept clear of the edge: the turned pattern reaches so far.
const MARGIN: usize = 18;

/// A corner and what it looks like.
#[derive(Debug, Clone)]
pub struct Feature {
    /// Where, in samples of the plane that was given.
    pub at: [f64; 2],
    /// Size of its surroundings, 1 for the plane as it was given.
    pub size: f64,
    /// Direction in radians.
    pub turn: f64,
    bits: [u64; 4],
}

impl Feature {
    /// Number of bits in which two features differ.
    pub fn unlike(&self, other: &Self) -> u32 {
        self.bits
            .iter()
            .zip(&other.bits)
            .map(|(a, b)| (a ^ b).count_ones())
            .sum()
    }
}

/// The features of a plane, strongest of each cell first.
pub fn features(grey: &Plane, progress: &Progress) -> Result<Vec<Feature>> {
    let pattern = pattern();
    let mut copy = grey.clone();
    let mut size = 1.0;
    let mut all: Vec<(f32, Feature)> = Vec::new();
    for i in 0..COPIES {
        progress.check()?;
        if i > 0 {
            size *= STEP;
            copy = shrunk(&copy, STEP);
        }
        if copy.w <= 2 * MARGIN + 2 || copy.h <= 2 * MARGIN + 2 {
            break;
        }
        // smaller copies get fewer, by area
        let share = (MOST as f64 * 0.45 / (size * size)).max(60.0) as usize;
        let soft = copy.blurred(1.6);
        for (strength, x, y) in corners(&copy, share) {
            let turn = direction(&soft, x, y);
            let bits = described(&soft, x, y, turn, &pattern);
            let to = |v: f64| (v + 0.5) * size - 0.5;
            all.push((
                strength,
                Feature {
                    at: [to(x as f64), to(y as f64)],
                    size,
                    turn,
                    bits,
                },
            ));
        }
    }
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    all.truncate(MOST);
    Ok(all.into_iter().map(|f| f.1).collect())
}

/// A copy smaller by `by`, blurred before so that nothing folds over.
fn shrunk(p: &Plane, by: f64) -> Plane {
    let soft = p.blurred(0.6);
    let (w, h) = ((p.w as f64 / by) as usize, (p.h as f64 / by) as usize);
    let mut data = Vec::with_capacity(w * h);
    for y in 0..h {
        for x in 0..w {
            data.push(soft.sample((x as f64 + 0.5) * by - 0.5, (y as f64 + 0.5) * by - 0.5));
        }
    }
    Plane { w, h, data }
}

/// Corners: strength, column and row, at most `most`, spread over the cells.
fn corners(p: &Plane, most: usize) -> Vec<(f32, usize, usize)> {
    let (w, h) = (p.w, p.h);
    let soft = p.blurred(0.8);
    let mut products = [
        vec![0.0f32; w * h],
        vec![0.0f32; w * h],
        vec![0.0f32; w * h],
    ];
    for y in 1..h - 1 {
        for x in 1..w - 1 {
            let i = y * w + x;
            let dx = soft.data[i + 1] - soft.data[i - 1];
            let dy = soft.data[i + w] - soft.data[i - w];
            products[0][i] = dx * dx;
            products[1][i] = dy * dy;
            products[2][i] = dx * dy;
        }
    }
    let [xx, yy, xy] = products.map(|data| Plane { w, h, data }.blurred(1.5));
    let strength: Vec<f32> = (0..w * h)
        .map(|i| {
            let (a, b, c) = (xx.data[i], yy.data[i], xy.data[i]);
            0.5 * (a + b) - (0.25 * (a - b) * (a - b) + c * c).sqrt()
        })
        .collect();
    let cell = |x: usize, y: usize| (y * CELLS.1 / h) * CELLS.0 + x * CELLS.0 / w;
    let mut cells: Vec<Vec<(f32, usize, usize)>> = vec![Vec::new(); CELLS.0 * CELLS.1];
    for y in MARGIN..h - MARGIN {
        for x in MARGIN..w - MARGIN {
            let i = y * w + x;
            let s = strength[i];
            if s < 0.02 {
                continue;
            }
            let peak = (-1isize..=1).all(|dy| {
                (-1isize..=1).all(|dx| {
                    let j = (i as isize + dy * w as isize + dx) as usize;
                    strength[j] < s || (strength[j] == s && j >= i)
                })
            });
            if peak {
                cells[cell(x, y)].push((s, x, y));
            }
        }
    }
    let per_cell = (2 * most).div_ceil(cells.len());
    let mut out: Vec<(f32, usize, usize)> = Vec::new();
    for c in &mut cells {
        c.sort_by(|a, b| b.0.total_cmp(&a.0));
        out.extend(c.iter().take(per_cell));
    }
    out.sort_by(|a, b| b.0.total_cmp(&a.0));
    out.truncate(most);
    out
}

/// Direction of the brightness centroid within 9 samples.
fn direction(p: &Plane, x: usize, y: usize) -> f64 {
    const R: isize = 9;
    let (mut mx, mut my) = (0.0f32, 0.0f32);
    for dy in -R..=R {
        let half = ((R * R - dy * dy) as f32).sqrt() as isize;
        let row = (y as isize + dy) as usize * p.w;
        for dx in -half..=half {
            let v = p.data[row + (x as isize + dx) as usize];
            mx += dx as f32 * v;
            my += dy as f32 * v;
        }
    }
    f64::from(my.atan2(mx))
}

/// 256 pairs of places within 12 samples of the middle, denser towards it; the same every time.
fn pattern() -> Vec<[f32; 4]> {
    let mut seed = 0x2545_F491_4F6C_DD1Du64;
    let mut next = || {
        // sum of four even draws is near enough to a Gaussian one
        let mut sum = 0.0f32;
        for _ in 0..4 {
            seed ^= seed << 13;
            seed ^= seed >> 7;
            seed ^= seed << 17;
            sum += (seed >> 40) as f32 / (1u64 << 24) as f32 - 0.5;
        }
        sum * 10.0
    };
    let mut out = Vec::with_capacity(256);
    while out.len() < 256 {
        let p = [next(), next(), next(), next()];
        if p[0].hypot(p[1]) <= 13.0
            && p[2].hypot(p[3]) <= 13.0
            && (p[0] - p[2]).hypot(p[1] - p[3]) > 2.0
        {
            out.push(p);
        }
    }
    out
}

fn described(p: &Plane, x: usize, y: usize, turn: f64, pattern: &[[f32; 4]]) -> [u64; 4] {
    let (s, c) = (turn.sin() as f32, turn.cos() as f32);
    let at = |dx: f32, dy: f32| {
        let u = (x as f32 + c * dx - s * dy).round() as usize;
        let v = (y as f32 + s * dx + c * dy).round() as usize;
        p.data[v.min(p.h - 1) * p.w + u.min(p.w - 1)]
    };
    let mut bits = [0u64; 4];
    for (i, q) in pattern.iter().enumerate() {
        if at(q[0], q[1]) < at(q[2], q[3]) {
            bits[i / 64] |= 1 << (i % 64);
        }
    }
    bits
}

/// Pairs of features that prefer one another: indices into both lists, the surest first.
pub fn matched(a: &[Feature], b: &[Feature]) -> Vec<(usize, usize)> {
    struct Best {
        at: usize,
        first: u32,
        second: u32,
    }
    let none = || Best {
        at: usize::MAX,
        first: u32::MAX,
        second: u32::MAX,
    };
    let mut of_a: Vec<Best> = a.iter().map(|_| none()).collect();
    let mut of_b: Vec<Best> = b.iter().map(|_| none()).collect();
    for (i, f) in a.iter().enumerate() {
        for (j, g) in b.iter().enumerate() {
            let d = f.unlike(g);
            for (best, at) in [(&mut of_a[i], j), (&mut of_b[j], i)] {
                if d < best.first {
                    best.second = best.first;
                    best.first = d;
                    best.at = at;
                } else if d < best.second {
                    best.second = d;
                }
            }
        }
    }
    let mut pairs: Vec<(f64, usize, usize)> = of_a
        .iter()
        .enumerate()
        .filter(|(i, m)| m.at < b.len() && of_b[m.at].at == *i && m.first <= 80)
        .map(|(i, m)| {
            let ratio = f64::from(m.first) / f64::from(m.second.max(1));
            (ratio, i, m.at)
        })
        .collect();
    pairs.sort_by(|x, y| x.0.total_cmp(&y.0));
    pairs.into_iter().map(|(_, i, j)| (i, j)).collect()
}
