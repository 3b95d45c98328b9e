//! A start where too few features are found again: the turn and the scale from the magnitudes of the
//! Fourier transforms in log-polar form, then the shift, each by phase correlation (Reddy and
//! Chatterji 1996, IEEE Trans. Image Process. 5:1266).

use nalgebra::Matrix3;
use rustfft::{FftPlanner, num_complex::Complex};

use crate::error::Result;
use crate::photo::plane::Plane;
use crate::photo::progress::Progress;

/// Side of the square that is transformed.
const N: usize = 256;

/// Motions from samples of `a` to samples of `b` that the spectra suggest, best first: the turn is
/// known only up to half a turn, so both are tried.
pub fn motions(a: &Plane, b: &Plane, progress: &Progress) -> Result<Vec<Matrix3<f64>>> {
    let Some((sa, pa)) = square(a) else {
        return Ok(Vec::new());
    };
    let Some((sb, pb)) = square(b) else {
        return Ok(Vec::new());
    };
    let mut planner = FftPlanner::new();
    progress.check()?;
    let (la, lb) = (
        log_polar(&magnitudes(&pa, &mut planner)),
        log_polar(&magnitudes(&pb, &mut planner)),
    );
    progress.check()?;
    let (peaks, _) = correlated(&la, &lb, &mut planner, 3);
    let mut out: Vec<(f32, Matrix3<f64>)> = Vec::new();
    for (dr, da, _) in peaks {
        let wrap = |v: usize| {
            if v > N / 2 {
                v as f64 - N as f64
            } else {
                v as f64
            }
        };
        // a shift along the radius scales the spectrum, and the picture the other way
        let scale = (-wrap(dr) * base().ln()).exp();
        let angle = wrap(da) * std::f64::consts::PI / N as f64;
        if !(0.4..2.5).contains(&scale) {
            continue;
        }
        for half in [0.0, std::f64::consts::PI] {
            progress.check()?;
            let (s, c) = (angle + half).sin_cos();
            let mid = (N as f64 - 1.0) / 2.0;
            let turn = Matrix3::new(
                scale * c,
                -scale * s,
                mid - scale * (c * mid - s * mid),
                scale * s,
                scale * c,
                mid - scale * (s * mid + c * mid),
                0.0,
                0.0,
                1.0,
            );
            let Some(back) = turn.try_inverse() else {
                continue;
            };
            let turned = warped(&pa, &back);
            let (shift, height) = correlated(&windowed(&turned), &windowed(&pb), &mut planner, 1);
            if let Some((dx, dy, _)) = shift.first() {
                let mut m = turn;
                m[(0, 2)] += wrap(*dx);
                m[(1, 2)] += wrap(*dy);
                // from squares back to the planes
                let to = Matrix3::new(1.0 / sa, 0.0, 0.0, 0.0, 1.0 / sa, 0.0, 0.0, 0.0, 1.0);
                let from = Matrix3::new(sb, 0.0, 0.0, 0.0, sb, 0.0, 0.0, 0.0, 1.0);
                out.push((height, from * m * to));
            }
        }
    }
    out.sort_by(|x, y| y.0.total_cmp(&x.0));
    Ok(out.into_iter().map(|m| m.1).take(3).collect())
}

/// Radius grows by this from one log-polar column to the next.
fn base() -> f64 {
    ((N as f64 / 2.0).ln() / N as f64).exp()
}

/// The plane shrunk into the square from its top left corner, and plane samples to one of the square.
fn square(p: &Plane) -> Option<(f64, Plane)> {
    if p.w < 32 || p.h < 32 {
        return None;
    }
    let s = p.w.max(p.h) as f64 / N as f64;
    let soft = p.blurred(0.45 * s as f32);
    let mut out = Plane::filled(N, N, 0.0);
    let mean = soft.data.iter().sum::<f32>() / soft.data.len() as f32;
    for y in 0..N {
        for x in 0..N {
            let (u, v) = (x as f64 * s, y as f64 * s);
            out.data[y * N + x] = if soft.holds(u, v, 0.0) {
                soft.sample(u, v) - mean
            } else {
                0.0
            };
        }
    }
    Some((s, out))
}

/// Faded to nothing at the border, so that the border is no edge to the transform.
fn windowed(p: &Plane) -> Plane {
    let fade: Vec<f32> = (0..N)
        .map(|i| 0.5 - 0.5 * (std::f32::consts::TAU * i as f32 / (N - 1) as f32).cos())
        .collect();
    let data = p
        .data
        .iter()
        .enumerate()
        .map(|(i, v)| v * fade[i % N] * fade[i / N])
        .collect();
    Plane { w: N, h: N, data }
}

fn transformed(data: &mut Vec<Complex<f32>>, planner: &mut FftPlanner<f32>, back: bool) {
    let fft = if back {
        planner.plan_fft_inverse(N)
    } else {
        planner.plan_fft_forward(N)
    };
    // rows, turn over, rows again: the result stays turned over, which both directions undo
    fft.process(data);
    let mut over = vec![Complex::default(); N * N];
    for y in 0..N {
        for x in 0..N {
            over[x * N + y] = data[y * N + x];
        }
    }
    fft.process(&mut over);
    *data = over;
}

fn spectrum(p: &Plane, planner: &mut FftPlanner<f32>) -> Vec<Complex<f32>> {
    let mut data: Vec<Complex<f32>> = p.data.iter().map(|v| Complex::new(*v, 0.0)).collect();
    transformed(&mut data, planner, false);
    data
}

/// Log of the magnitudes with the middle at zero frequency and low frequencies held down.
fn magnitudes(p: &Plane, planner: &mut FftPlanner<f32>) -> Plane {
    let s = spectrum(&windowed(p), planner);
    let mut out = Plane::filled(N, N, 0.0);
    for v in 0..N {
        for u in 0..N {
            // the spectrum is turned over: column u is its row
            let m = s[u * N + v].norm();
            let (x, y) = ((u + N / 2) % N, (v + N / 2) % N);
            let cosine = |k: usize| (std::f32::consts::PI * (k as f32 / N as f32 - 0.5)).cos();
            let low = cosine(x) * cosine(y);
            out.data[y * N + x] = (1.0 - low) * (2.0 - low) * (1.0 + m).ln();
        }
    }
    out
}

/// Rows are directions over half a turn, columns logarithms of the radius.
fn log_polar(m: &Plane) -> Plane {
    let mid = N as f64 / 2.0;
    let rate = base();
    let mut out = Plane::filled(N, N, 0.0);
    for a in 0..N {
        let (s, c) = (std::f64::consts::PI * a as f64 / N as f64).sin_cos();
        for r in 0..N {
            let radius = rate.powi(r as i32);
            out.data[a * N + r] = m.sample(mid + radius * c, mid + radius * s);
        }
    }
    let mean = out.data.iter().sum::<f32>() / (N * N) as f32;
    out.data.iter_mut().for_each(|v| *v -= mean);
    out
}

fn warped(p: &Plane, back: &Matrix3<f64>) -> Plane {
    let mut out = Plane::filled(N, N, 0.0);
    for y in 0..N {
        for x in 0..N {
            if let Some(q) = super::homography::mapped(back, [x as f64, y as f64])
                && p.holds(q[0], q[1], 0.0)
            {
                out.data[y * N + x] = p.sample(q[0], q[1]);
            }
        }
    }
    out
}

/// Highest places of the phase correlation: by how much `a` has to be shifted to give `b`, right and
/// down, with wrapping; and the height of the first.
fn correlated(
    a: &Plane,
    b: &Plane,
    planner: &mut FftPlanner<f32>,
    most: usize,
) -> (Vec<(usize, usize, f32)>, f32) {
    let (sa, sb) = (spectrum(a, planner), spectrum(b, planner));
    let mut cross: Vec<Complex<f32>> = sa
        .iter()
        .zip(&sb)
        .map(|(x, y)| {
            let c = x.conj() * y;
            // a little less than full whitening: empty frequencies carry only noise
            c / (c.norm().powf(0.85) + 1e-6)
        })
        .collect();
    // the inverse works on the turned-over spectrum and turns it back
    transformed(&mut cross, planner, true);
    let mut value: Vec<f32> = cross.iter().map(|c| c.re).collect();
    let total = value.iter().map(|v| v * v).sum::<f32>().sqrt().max(1e-12);
    let mut out = Vec::new();
    for _ in 0..most {
        let Some((i, v)) = value
            .iter()
            .enumerate()
            .max_by(|x, y| x.1.total_cmp(y.1))
            .map(|(i, v)| (i, *v))
        else {
            break;
        };
        let (x, y) = (i % N, i / N);
        out.push((x, y, v / total));
        for dy in 0..9 {
            for dx in 0..9 {
                value[((y + dy + N - 4) % N) * N + (x + dx + N - 4) % N] = f32::MIN;
            }
        }
    }
    let first = out.first().map_or(0.0, |p| p.2);
    (out, first)
}
