//! Whether a motion is true: the part of the pictures that both show is cut into cells, and each cell
//! with something in it is looked for again around where the motion says it is. In two views of one
//! place most cells fit best right there; in a wrong fit they fit best anywhere.

use nalgebra::Matrix3;

use super::homography;
use crate::photo::plane::Plane;

/// Side of a cell in samples.
const CELL: usize = 16;
/// Shifts tried each way, in samples.
const AROUND: isize = 5;
/// A cell agrees if it fits best within this many samples of no shift.
const CLOSE: f64 = 1.5;

/// What the cells say of a motion.
#[derive(Debug, Clone, Copy, Default)]
pub struct Verdict {
    /// Cells with something in them that both pictures show.
    pub asked: usize,
    /// Those that fit best where the motion says, and fit well there.
    pub agree: usize,
    /// Quarters of the common part in which at least a third of the cells asked agree.
    pub quarters: usize,
    /// Share of the smaller picture that both show.
    pub common: f64,
    /// Mean correlation of the agreeing cells.
    pub fit: f64,
    /// Root mean square of the shifts of the agreeing cells, in samples.
    pub rms: f64,
}

impl Verdict {
    /// Share of the asked cells that agree.
    pub fn share(&self) -> f64 {
        self.agree as f64 / self.asked.max(1) as f64
    }

    /// How many standard deviations the number of agreeing cells lies above chance: a cell of a wrong
    /// fit lands within reach of no shift about one time in twelve.
    pub fn beyond_chance(&self) -> f64 {
        let n = self.asked as f64;
        let p = 0.1;
        (self.agree as f64 - n * p) / (n * p * (1.0 - p)).sqrt().max(1e-9)
    }
}

/// A cell that was looked for again.
#[derive(Debug, Clone, Copy)]
pub struct Cell {
    /// Its middle.
    pub at: [f64; 2],
    /// By how much it was found beside where the motion says, in samples of `a`.
    pub shift: [f64; 2],
    /// Correlation there.
    pub fit: f64,
}

/// Looks for the cells of `a` in `b` around where `m` takes them. Both planes evened. Also the share of
/// `a` that `b` shows.
pub fn cells(a: &Plane, b: &Plane, m: &Matrix3<f64>) -> (Vec<Cell>, f64) {
    let (w, h) = (a.w, a.h);
    let mut warped = vec![f32::NAN; w * h];
    let mut common = 0usize;
    for y in 0..h {
        for x in 0..w {
            if let Some(q) = homography::mapped(m, [x as f64, y as f64])
                && b.holds(q[0], q[1], 0.0)
            {
                warped[y * w + x] = b.sample(q[0], q[1]);
                common += 1;
            }
        }
    }
    let mut out = Vec::new();
    let step = CELL * 3 / 4;
    let edge = AROUND as usize;
    let mut y = edge;
    while y + CELL + edge <= h {
        let mut x = edge;
        while x + CELL + edge <= w {
            if let Some((fit, shift)) = cell(a, &warped, x, y) {
                let half = (CELL - 1) as f64 / 2.0;
                out.push(Cell {
                    at: [x as f64 + half, y as f64 + half],
                    shift,
                    fit,
                });
            }
            x += step;
        }
        y += step;
    }
    (out, common as f64 / (w * h).max(1) as f64)
}

/// Asks the cells of `a` whether `m` takes them to the same thing in `b`.
pub fn ask(a: &Plane, b: &Plane, m: &Matrix3<f64>) -> Verdict {
    let (cells, common) = cells(a, b, m);
    let mut out = Verdict {
        common,
        asked: cells.len(),
        ..Verdict::default()
    };
    let n = cells.len().max(1) as f64;
    let mid = cells
        .iter()
        .fold([0.0, 0.0], |s, c| [s[0] + c.at[0] / n, s[1] + c.at[1] / n]);
    let mut quarters = [[0usize; 2]; 4];
    let (mut squares, mut fits) = (0.0, 0.0);
    for c in &cells {
        let off = c.shift[0].hypot(c.shift[1]);
        let ok = c.fit >= 0.45 && off <= CLOSE;
        let k = usize::from(c.at[0] > mid[0]) + 2 * usize::from(c.at[1] > mid[1]);
        quarters[k][0] += 1;
        if ok {
            quarters[k][1] += 1;
            out.agree += 1;
            squares += off * off;
            fits += c.fit;
        }
    }
    out.rms = (squares / out.agree.max(1) as f64).sqrt();
    out.fit = fits / out.agree.max(1) as f64;
    out.quarters = quarters
        .iter()
        .filter(|q| q[1] >= 2 && 4 * q[1] >= q[0])
        .count();
    out
}

/// Best correlation and the shift at which a cell has it; none if there is nothing in the cell or the
/// other picture does not show it all. A cell that only has a straight edge in it fits equally along
/// the edge and says nothing.
fn cell(a: &Plane, warped: &[f32], x0: usize, y0: usize) -> Option<(f64, [f64; 2])> {
    let w = a.w;
    const AREA: f32 = (CELL * CELL) as f32;
    let mut here = [0.0f32; CELL * CELL];
    let (mut xx, mut yy, mut xy) = (0.0f32, 0.0f32, 0.0f32);
    for j in 0..CELL {
        for i in 0..CELL {
            let k = (y0 + j) * w + x0 + i;
            here[j * CELL + i] = a.data[k];
            let dx = a.data[k + 1] - a.data[k - 1];
            let dy = a.data[k + w] - a.data[k - w];
            xx += dx * dx;
            yy += dy * dy;
            xy += dx * dy;
        }
    }
    let small = 0.5 * (xx + yy) - (0.25 * (xx - yy) * (xx - yy) + xy * xy).sqrt();
    if small / AREA < 0.012 {
        return None;
    }
    let mean = here.iter().sum::<f32>() / AREA;
    here.iter_mut().for_each(|v| *v -= mean);
    let power = here.iter().map(|v| v * v).sum::<f32>();
    const SIDE: usize = 2 * AROUND as usize + 1;
    let mut score = [[0.0f32; SIDE]; SIDE];
    for (r, row) in score.iter_mut().enumerate() {
        for (c, s) in row.iter_mut().enumerate() {
            let (dx, dy) = (c as isize - AROUND, r as isize - AROUND);
            let (mut sum, mut square, mut cross) = (0.0f32, 0.0f32, 0.0f32);
            for j in 0..CELL {
                let start = ((y0 + j) as isize + dy) as usize * w + (x0 as isize + dx) as usize;
                let line = warped.get(start..start + CELL)?;
                for (v, t) in line.iter().zip(&here[j * CELL..]) {
                    sum += v;
                    square += v * v;
                    cross += v * t;
                }
            }
            if !square.is_finite() {
                return None;
            }
            let var = square - sum * sum / AREA;
            *s = cross / (var * power).max(1e-9).sqrt();
        }
    }
    let (mut best, mut at) = (f32::MIN, (0, 0));
    for (r, row) in score.iter().enumerate() {
        for (c, s) in row.iter().enumerate() {
            if *s > best {
                best = *s;
                at = (r, c);
            }
        }
    }
    let peak = |lo: f32, mid: f32, hi: f32| {
        let curve = lo + hi - 2.0 * mid;
        if curve < -1e-9 {
            f64::from((0.5 * (lo - hi) / curve).clamp(-0.5, 0.5))
        } else {
            0.0
        }
    };
    let (r, c) = at;
    let (mut dx, mut dy) = (c as f64 - AROUND as f64, r as f64 - AROUND as f64);
    if c > 0 && c + 1 < SIDE {
        dx += peak(score[r][c - 1], best, score[r][c + 1]);
    }
    if r > 0 && r + 1 < SIDE {
        dy += peak(score[r - 1][c], best, score[r + 1][c]);
    }
    Some((f64::from(best), [dx, dy]))
}
