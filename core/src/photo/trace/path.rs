//! Cheapest paths over a plane of costs: Dijkstra's method on the eight neighbours of each pixel,
//! with whole-number costs in a ring of buckets (Dial 1969, CACM 12:632). The rival, a binary heap,
//! took three times as long.

use crate::error::Result;
use crate::photo::progress::Progress;

/// Most that one pixel may cost; bounds the ring of buckets.
pub const MOST: u16 = 600;

const RING: usize = 1024;
const NO_STEP: u8 = 8;
const STEPS: [(isize, isize); 8] = [
    (1, 0),
    (-1, 0),
    (0, 1),
    (0, -1),
    (1, 1),
    (-1, -1),
    (1, -1),
    (-1, 1),
];

/// Costs of crossing each pixel, row by row.
pub struct Costs {
    /// Width in pixels.
    pub w: usize,
    /// Height in pixels.
    pub h: usize,
    /// Cost of one pixel's length, 1 to [`MOST`].
    pub cost: Vec<u16>,
}

/// Cheapest ways from one pixel to every other.
pub struct Field {
    w: usize,
    /// Cost of the cheapest way to each pixel; `u32::MAX` where none was found.
    pub total: Vec<u32>,
    /// Step by which each pixel was reached.
    step: Vec<u8>,
    /// Pixels in the order in which they were settled.
    pub order: Vec<u32>,
}

impl Field {
    /// All cheapest ways from pixel `from` (row times width plus column).
    pub fn from(costs: &Costs, from: usize, progress: &Progress) -> Result<Self> {
        let (w, h) = (costs.w, costs.h);
        let mut f = Self {
            w,
            total: vec![u32::MAX; w * h],
            step: vec![NO_STEP; w * h],
            order: Vec::with_capacity(w * h),
        };
        if from >= w * h {
            return Ok(f);
        }
        let mut settled = vec![false; w * h];
        let mut ring: Vec<Vec<u32>> = vec![Vec::new(); RING];
        f.total[from] = 0;
        ring[0].push(from as u32);
        let (mut waiting, mut now) = (1usize, 0u32);
        while waiting > 0 {
            if now.is_multiple_of(4096) {
                progress.check()?;
            }
            let slot = now as usize % RING;
            while let Some(p) = ring[slot].pop() {
                waiting -= 1;
                let p = p as usize;
                if settled[p] || f.total[p] != now {
                    continue;
                }
                settled[p] = true;
                f.order.push(p as u32);
                let (x, y) = ((p % w) as isize, (p / w) as isize);
                for (s, (dx, dy)) in STEPS.iter().enumerate() {
                    let (nx, ny) = (x + dx, y + dy);
                    if nx < 0 || ny < 0 || nx >= w as isize || ny >= h as isize {
                        continue;
                    }
                    let q = ny as usize * w + nx as usize;
                    if settled[q] {
                        continue;
                    }
                    let both = u32::from(costs.cost[p]) + u32::from(costs.cost[q]);
                    // 181 / 256 is half the square root of two
                    let add = if s < 4 { both / 2 } else { both * 181 / 256 }.max(1);
                    let t = now + add;
                    if t < f.total[q] {
                        f.total[q] = t;
                        f.step[q] = s as u8;
                        ring[t as usize % RING].push(q as u32);
                        waiting += 1;
                    }
                }
            }
            now = now.saturating_add(1);
        }
        Ok(f)
    }

    /// The pixel before `p` on the way from the start; none at the start and where no way leads.
    pub fn before(&self, p: usize) -> Option<usize> {
        let (dx, dy) = *STEPS.get(usize::from(*self.step.get(p)?))?;
        let q = p as isize - dx - dy * self.w as isize;
        usize::try_from(q).ok()
    }

    /// Pixels from the start to `to`, both included; empty if no way leads there.
    pub fn way(&self, to: usize) -> Vec<usize> {
        if self.total.get(to).is_none_or(|t| *t == u32::MAX) {
            return Vec::new();
        }
        let mut way = vec![to];
        let mut p = to;
        while let Some(q) = self.before(p) {
            way.push(q);
            p = q;
        }
        way.reverse();
        way
    }
}

/// The best way that leaves the found one and comes back to it further on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RunnerUp {
    /// Its cost over the found way's, for the part where they differ; 1 or more.
    pub ratio: f64,
    /// Its length over the found way's whole length, in pixel steps, negative if shorter.
    pub longer: f64,
}

/// Looks for a second way between the ends of `way`: one that keeps more than `apart` pixels from it
/// and rejoins it at least `skip` pixels of `way` later. `there` and `back` are the fields from its
/// first and its last pixel. A dead-end branch is no second way: it rejoins where it left.
pub fn runner_up(
    way: &[usize],
    there: &Field,
    back: &Field,
    apart: usize,
    skip: usize,
) -> Option<RunnerUp> {
    let (w, n) = (there.w, there.total.len());
    let (&first, &last) = (way.first()?, way.last()?);
    let best = there.total[last];
    let h = n / w.max(1);
    let mut near = vec![false; n];
    let mut place = vec![u32::MAX; n];
    for (i, &p) in way.iter().enumerate() {
        place[p] = i as u32;
        let (x, y) = (p % w, p / w);
        let (x1, y1) = ((x + apart).min(w - 1), (y + apart).min(h - 1));
        for row in y.saturating_sub(apart)..=y1 {
            near[row * w + x.saturating_sub(apart)..=row * w + x1].fill(true);
        }
    }
    // where along `way` each pixel's cheapest way left it
    let left = |field: &Field, start: usize| {
        let mut left = place.clone();
        for &p in &field.order {
            let p = p as usize;
            if left[p] == u32::MAX
                && p != start
                && let Some(q) = field.before(p)
            {
                left[p] = left[q];
            }
        }
        left
    };
    let (leaves, rejoins) = (left(there, first), left(back, last));
    let mut found: Option<(f64, usize)> = None;
    for p in 0..n {
        if near[p] || there.total[p] == u32::MAX || back.total[p] == u32::MAX {
            continue;
        }
        let (a, b) = (leaves[p] as usize, rejoins[p] as usize);
        if b >= way.len() || b < a + skip {
            continue;
        }
        let part = f64::from(there.total[way[b]].saturating_sub(there.total[way[a]])).max(1.0);
        let excess = f64::from((there.total[p] + back.total[p]).saturating_sub(best));
        let ratio = 1.0 + excess / part;
        if found.is_none_or(|(r, _)| ratio < r) {
            found = Some((ratio, p));
        }
    }
    let (ratio, p) = found?;
    let steps = (there.way(p).len() + back.way(p).len()) as f64;
    Some(RunnerUp {
        ratio,
        longer: steps - way.len() as f64,
    })
}
