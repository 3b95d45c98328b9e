//! From a way of pixels to a smooth line: each point is moved across the line to where it is darkest
//! (or lightest), to a fraction of a pixel, then the whole is smoothed as little as its own noise asks.

use crate::photo::plane::Plane;

/// How far a point may be moved across, in plane pixels.
const REACH: f64 = 2.5;

/// Evenly spaced points along a line, `step` apart; the last one may be closer.
pub fn resampled(line: &[[f64; 2]], step: f64) -> Vec<[f64; 2]> {
    let Some(&first) = line.first() else {
        return Vec::new();
    };
    let mut out = vec![first];
    let mut left = step;
    for pair in line.windows(2) {
        let (a, b) = (pair[0], pair[1]);
        let len = (b[0] - a[0]).hypot(b[1] - a[1]);
        let mut at = left;
        while at < len {
            let t = at / len;
            out.push([a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t]);
            at += step;
        }
        left = at - len;
    }
    if let (Some(&end), Some(last)) = (line.last(), out.last_mut()) {
        if out_of(*last, end) > 0.3 * step {
            out.push(end);
        } else {
            *last = end;
        }
    }
    out
}

fn out_of(a: [f64; 2], b: [f64; 2]) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

/// Length of a line of points.
pub fn length(line: &[[f64; 2]]) -> f64 {
    line.windows(2).map(|p| out_of(p[0], p[1])).sum()
}

/// Mean over `2 * half + 1` followers, fewer at the ends, which stay in place.
pub fn averaged(line: &[[f64; 2]], half: usize) -> Vec<[f64; 2]> {
    (0..line.len())
        .map(|i| {
            let k = half.min(i).min(line.len() - 1 - i);
            let part = &line[i - k..=i + k];
            let n = part.len() as f64;
            let sum = part
                .iter()
                .fold([0.0, 0.0], |s, p| [s[0] + p[0], s[1] + p[1]]);
            [sum[0] / n, sum[1] / n]
        })
        .collect()
}

/// Moves each point across the line to the extremum of `grey` within reach, dark or light, and says
/// how clearly it stands out there (second difference, grey levels).
pub fn centred(grey: &Plane, line: &[[f64; 2]], dark: bool) -> (Vec<[f64; 2]>, Vec<f64>) {
    let sign = if dark { 1.0 } else { -1.0 };
    let mut weights = Vec::with_capacity(line.len());
    let mut moved = Vec::with_capacity(line.len());
    let last = line.len().saturating_sub(1);
    for (i, p) in line.iter().enumerate() {
        let (a, b) = (line[i.saturating_sub(3)], line[(i + 3).min(last)]);
        let len = out_of(a, b);
        if len < 1e-9 {
            moved.push(*p);
            weights.push(0.0);
            continue;
        }
        let across = [-(b[1] - a[1]) / len, (b[0] - a[0]) / len];
        const N: usize = 11;
        let step = 2.0 * REACH / (N - 1) as f64;
        let mut v = [0.0f64; N];
        for (k, v) in v.iter_mut().enumerate() {
            let o = k as f64 * step - REACH;
            *v = sign * f64::from(grey.sample(p[0] + o * across[0], p[1] + o * across[1]));
        }
        // the nearest local extremum, not the deepest: a seam next to the crack may be deeper
        let mid = N / 2;
        let at = (0..=mid - 1)
            .flat_map(|d| [mid + d, mid - d])
            .find(|&k| k > 0 && k < N - 1 && v[k] <= v[k - 1] && v[k] <= v[k + 1]);
        let (o, weight) = match at {
            Some(k) => {
                let curve = v[k - 1] + v[k + 1] - 2.0 * v[k];
                let shift = if curve > 1e-9 {
                    (0.5 * (v[k - 1] - v[k + 1]) / curve).clamp(-0.5, 0.5)
                } else {
                    0.0
                };
                ((k as f64 + shift) * step - REACH, curve)
            }
            None => (0.0, 0.0),
        };
        moved.push([p[0] + o * across[0], p[1] + o * across[1]]);
        weights.push(weight.max(0.0));
    }
    (moved, weights)
}

/// Whittaker's smoother (Whittaker 1923; Eilers 2003, Anal. Chem. 75:3631) of second order on both
/// coordinates: minimises the weighted squared distance from the points plus `stiffness` times the
/// squared second differences. Solved as a banded system in one pass forward and one back.
pub fn stiffened(line: &[[f64; 2]], weights: &[f64], stiffness: f64) -> Vec<[f64; 2]> {
    let n = line.len();
    if n < 5 {
        return line.to_vec();
    }
    // bands of W + stiffness * D'D, D the second difference
    let mut diag = weights.to_vec();
    let (mut one, mut two) = (vec![0.0; n], vec![0.0; n]);
    for i in 0..n - 2 {
        let d = [1.0, -2.0, 1.0];
        for a in 0..3 {
            diag[i + a] += stiffness * d[a] * d[a];
        }
        one[i] += stiffness * d[0] * d[1];
        one[i + 1] += stiffness * d[1] * d[2];
        two[i] += stiffness * d[0] * d[2];
    }
    // LDL' of a symmetric matrix with two bands
    let (mut d, mut l1, mut l2) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
    for i in 0..n {
        let mut v = diag[i];
        if i >= 1 {
            v -= l1[i - 1] * l1[i - 1] * d[i - 1];
        }
        if i >= 2 {
            v -= l2[i - 2] * l2[i - 2] * d[i - 2];
        }
        d[i] = v.max(1e-12);
        if i + 1 < n {
            let mut v = one[i];
            if i >= 1 {
                v -= l1[i - 1] * d[i - 1] * l2[i - 1];
            }
            l1[i] = v / d[i];
        }
        if i + 2 < n {
            l2[i] = two[i] / d[i];
        }
    }
    let solve = |c: usize| {
        let mut z: Vec<f64> = line.iter().zip(weights).map(|(p, w)| p[c] * w).collect();
        for i in 0..n {
            if i >= 1 {
                z[i] -= l1[i - 1] * z[i - 1];
            }
            if i >= 2 {
                z[i] -= l2[i - 2] * z[i - 2];
            }
        }
        for i in 0..n {
            z[i] /= d[i];
        }
        for i in (0..n).rev() {
            if i + 1 < n {
                z[i] -= l1[i] * z[i + 1];
            }
            if i + 2 < n {
                z[i] -= l2[i] * z[i + 2];
            }
        }
        z
    };
    let (x, y) = (solve(0), solve(1));
    x.into_iter().zip(y).map(|(x, y)| [x, y]).collect()
}

/// The line made to end across from `tap`: cut back, or drawn on straight by at most `reach`.
/// Works on the last point; turn the line round for the first.
pub fn ended_at(line: &mut Vec<[f64; 2]>, tap: [f64; 2], reach: f64) {
    let mut cut = 0.0;
    while line.len() >= 2 && cut < reach {
        let n = line.len();
        let back = line[n.saturating_sub(5)];
        let end = line[n - 1];
        let len = out_of(back, end);
        if len < 1e-9 {
            line.pop();
            continue;
        }
        let dir = [(end[0] - back[0]) / len, (end[1] - back[1]) / len];
        let beyond = (tap[0] - end[0]) * dir[0] + (tap[1] - end[1]) * dir[1];
        if beyond > 0.0 {
            let on = beyond.min(reach);
            line.push([end[0] + on * dir[0], end[1] + on * dir[1]]);
            return;
        }
        let prev = line[n - 2];
        let seg = out_of(prev, end);
        if -beyond < seg || n == 2 {
            let t = if seg > 1e-9 {
                (-beyond / seg).min(0.99)
            } else {
                0.0
            };
            line[n - 1] = [
                end[0] + (prev[0] - end[0]) * t,
                end[1] + (prev[1] - end[1]) * t,
            ];
            return;
        }
        cut += seg;
        line.pop();
    }
}
