//! The body of the demo aircraft as triangles, and a hangar behind it.
//!
//! Its own axes: x from the nose aft, y to its left, z up from the ground, metres. Before the
//! camera they become x right, y down, z away, with its left side towards the viewer.

use super::solid::{P3, Triangle, cross, minus, skin, unit};
use std::f64::consts::{PI, TAU};

/// Part: body.
pub(super) const BODY: u8 = 0;
/// Part: wing.
pub(super) const WING: u8 = 1;
/// Part: tail.
pub(super) const TAIL: u8 = 2;
/// Part: strut.
pub(super) const STRUT: u8 = 3;
/// Part: tyre.
pub(super) const TYRE: u8 = 4;
/// Part: fairing.
pub(super) const FAIRING: u8 = 5;
/// Part: propeller.
pub(super) const PROPELLER: u8 = 6;
/// Part: spinner.
pub(super) const SPINNER: u8 = 7;
/// Part: hangar.
pub(super) const HANGAR: u8 = 8;
/// Part: fin.
pub(super) const FIN: u8 = 9;

const MIDDLE: f64 = 3.7;

fn to_world(p: P3) -> P3 {
    [p[0] - MIDDLE, -p[2], -p[1]]
}

/// A ring of the body at `x`: from `low` to `high`, half as wide as `half`, and how boxy.
fn ring(x: f64, low: f64, high: f64, half: f64, boxy: f64) -> Vec<P3> {
    (0..40)
        .map(|i| {
            let a = TAU * f64::from(i) / 40.0;
            let bend = |v: f64| v.signum() * v.abs().powf(2.0 / boxy);
            [
                x,
                half * bend(a.cos()),
                (low + high) / 2.0 + (high - low) / 2.0 * bend(a.sin()),
            ]
        })
        .collect()
}

/// Rings of a smooth body through stations of the same five numbers.
fn body(stations: &[[f64; 5]]) -> Vec<Vec<P3>> {
    let mut rings = Vec::new();
    for i in 0..stations.len() - 1 {
        let at = |k: i64| stations[k.clamp(0, stations.len() as i64 - 1) as usize];
        let i = i as i64;
        let (a, b, c, d) = (at(i - 1), at(i), at(i + 1), at(i + 2));
        for step in 0..8 {
            let t = f64::from(step) / 8.0;
            let v = [0, 1, 2, 3, 4].map(|k| {
                // Slopes that never overshoot a station: the smaller of both neighbours' steps.
                let slope = |l: f64, m: f64, r: f64| {
                    if (m - l) * (r - m) <= 0.0 {
                        0.0
                    } else {
                        (0.5 * (r - l)).clamp(
                            -2.0 * (m - l).abs().min((r - m).abs()),
                            2.0 * (m - l).abs().min((r - m).abs()),
                        )
                    }
                };
                let (m0, m1) = (slope(a[k], b[k], c[k]), slope(b[k], c[k], d[k]));
                let (t2, t3) = (t * t, t * t * t);
                b[k] * (2.0 * t3 - 3.0 * t2 + 1.0)
                    + m0 * (t3 - 2.0 * t2 + t)
                    + c[k] * (3.0 * t2 - 2.0 * t3)
                    + m1 * (t3 - t2)
            });
            rings.push(ring(v[0], v[1], v[2], v[3], v[4]));
        }
    }
    if let Some(v) = stations.last() {
        rings.push(ring(v[0], v[1], v[2], v[3], v[4]));
    }
    rings
}

/// An aerofoil ring: `thick` is its thickness as a part of the chord; `place` puts (along the
/// chord, across it) into space.
fn aerofoil(chord: f64, thick: f64, place: &dyn Fn(f64, f64) -> P3) -> Vec<P3> {
    (0..28)
        .map(|i| {
            let a = TAU * f64::from(i) / 28.0;
            let u = 0.5 - 0.5 * a.cos();
            let half = thick * chord * 1.9 * (u.max(0.0).sqrt() * (1.0 - u)).max(0.004);
            let side = if a.sin() >= 0.0 { 1.0 } else { -0.55 };
            place(u * chord, side * half)
        })
        .collect()
}

fn ball(centre: P3, size: P3, shape: f64, part: u8, out: &mut Vec<Triangle>) {
    let rings: Vec<Vec<P3>> = (0..=24)
        .map(|i| {
            let t = f64::from(i) / 24.0;
            // A drop: blunt in front, drawn out behind when `shape` is above 1.
            let r = (PI * t.powf(1.0 / shape)).sin().max(0.0).sqrt().max(0.01);
            (0..24)
                .map(|j| {
                    let a = TAU * f64::from(j) / 24.0;
                    [
                        centre[0] + size[0] * (2.0 * t - 1.0),
                        centre[1] + size[1] * r * a.cos(),
                        centre[2] + size[2] * r * a.sin(),
                    ]
                })
                .collect()
        })
        .collect();
    skin(&rings, true, part, &to_world, out);
}

fn rod(from: P3, to: P3, half: [f64; 2], part: u8, out: &mut Vec<Triangle>) {
    let along = unit(minus(to, from));
    let aft = unit(minus([1.0, 0.0, 0.0], along.map(|v| v * along[0])));
    let up = cross(along, aft);
    let rings: Vec<Vec<P3>> = [from, to]
        .iter()
        .map(|end| {
            (0..16)
                .map(|j| {
                    let a = TAU * f64::from(j) / 16.0;
                    [0, 1, 2]
                        .map(|k| end[k] + half[0] * a.cos() * aft[k] + half[1] * a.sin() * up[k])
                })
                .collect()
        })
        .collect();
    skin(&rings, true, part, &to_world, out);
}

fn wheel(centre: P3, radius: f64, out: &mut Vec<Triangle>) {
    let rings: Vec<Vec<P3>> = [
        (-0.075, 0.55),
        (-0.08, 0.86),
        (-0.045, 1.0),
        (0.045, 1.0),
        (0.08, 0.86),
        (0.075, 0.55),
        (0.07, 0.01),
    ]
    .iter()
    .map(|(y, r)| {
        (0..32)
            .map(|j| {
                let a = TAU * f64::from(j) / 32.0;
                [
                    centre[0] + radius * r * a.cos(),
                    centre[1] + y,
                    centre[2] + radius * r * a.sin(),
                ]
            })
            .collect()
    })
    .collect();
    skin(&rings, true, TYRE, &to_world, out);
}

/// Every triangle of the aircraft.
pub(super) fn model(propeller: f64) -> Vec<Triangle> {
    let mut out = Vec::new();
    let fuselage = body(&[
        [0.42, 1.02, 1.30, 0.14, 2.1],
        [0.46, 0.86, 1.42, 0.34, 2.4],
        [0.62, 0.78, 1.50, 0.44, 2.7],
        [1.20, 0.68, 1.58, 0.51, 3.0],
        [1.66, 0.64, 1.64, 0.54, 3.2],
        [2.30, 0.62, 2.14, 0.56, 3.4],
        [2.60, 0.62, 2.19, 0.56, 3.5],
        [3.60, 0.66, 2.17, 0.54, 3.4],
        [4.25, 0.76, 1.98, 0.47, 3.0],
        [4.90, 0.88, 1.68, 0.36, 2.6],
        [6.20, 1.06, 1.52, 0.22, 2.3],
        [7.60, 1.20, 1.44, 0.09, 2.1],
        [8.02, 1.26, 1.40, 0.03, 2.0],
    ]);
    skin(&fuselage, true, BODY, &to_world, &mut out);
    // Wing: straight inner part, tapered outer part, a little dihedral, rounded tips.
    let wing: Vec<Vec<P3>> = [-5.45, -5.36, -5.1, -2.7, -0.5, 0.5, 2.7, 5.1, 5.36, 5.45]
        .iter()
        .map(|&y: &f64| {
            let out = ((y.abs() - 2.7) / 2.6).clamp(0.0, 1.0);
            let tip = ((y.abs() - 5.1) / 0.36).clamp(0.0, 1.0);
            let chord = (1.62 - 0.50 * out) * (1.0 - 0.45 * tip * tip);
            let front = 2.02 + 0.10 * out + 0.16 * tip * tip;
            let high = 2.12 + 0.030 * y.abs();
            aerofoil(chord, 0.125 * (1.0 - 0.7 * tip), &|u, t| {
                [front + u, y, high + t]
            })
        })
        .collect();
    skin(&wing, true, WING, &to_world, &mut out);
    let stabiliser: Vec<Vec<P3>> = [-1.70, -1.62, -0.1, 0.1, 1.62, 1.70]
        .iter()
        .map(|&y: &f64| {
            let chord = if y.abs() > 1.65 {
                0.52
            } else {
                1.04 - 0.24 * y.abs() / 1.62
            };
            aerofoil(chord, 0.08, &|u, t| {
                [7.02 + 0.16 * y.abs() + u, y, 1.36 + t]
            })
        })
        .collect();
    skin(&stabiliser, true, TAIL, &to_world, &mut out);
    let fin: Vec<Vec<P3>> = [1.38, 1.62, 2.0, 2.56, 2.66]
        .iter()
        .map(|&z: &f64| {
            let t = (z - 1.38) / 1.28;
            let front = [5.9, 6.72][usize::from(z > 1.5)] + 0.62 * t;
            let end = 8.16 + 0.20 * t;
            aerofoil(end - front, if z > 2.6 { 0.03 } else { 0.08 }, &|u, s| {
                [front + u, s, z]
            })
        })
        .collect();
    skin(&fin, true, FIN, &to_world, &mut out);
    for side in [-1.0, 1.0] {
        rod(
            [2.42, 0.53 * side, 0.86],
            [2.62, 2.75 * side, 2.16],
            [0.085, 0.028],
            STRUT,
            &mut out,
        );
        rod(
            [3.30, 0.40 * side, 0.74],
            [3.42, 1.24 * side, 0.24],
            [0.055, 0.028],
            STRUT,
            &mut out,
        );
        wheel([3.42, 1.30 * side, 0.205], 0.205, &mut out);
        ball(
            [3.52, 1.30 * side, 0.27],
            [0.54, 0.145, 0.175],
            1.35,
            FAIRING,
            &mut out,
        );
    }
    rod(
        [1.02, 0.0, 0.78],
        [0.92, 0.0, 0.20],
        [0.045, 0.045],
        STRUT,
        &mut out,
    );
    wheel([0.92, 0.0, 0.18], 0.18, &mut out);
    ball(
        [1.02, 0.0, 0.24],
        [0.46, 0.125, 0.155],
        1.35,
        FAIRING,
        &mut out,
    );
    // Spinner and propeller.
    let spinner: Vec<Vec<P3>> = (0..=12)
        .map(|i| {
            let t = f64::from(i) / 12.0;
            let r = 0.155 * t.sqrt();
            (0..24)
                .map(|j| {
                    let a = TAU * f64::from(j) / 24.0;
                    [0.14 + 0.29 * t, r * a.cos(), 1.16 + r * a.sin()]
                })
                .collect()
        })
        .collect();
    skin(&spinner, true, SPINNER, &to_world, &mut out);
    for half in [0.0, PI] {
        let (s, c) = (propeller + half).sin_cos();
        let blade: Vec<Vec<P3>> = [0.08, 0.25, 0.5, 0.75, 0.92, 0.95]
            .iter()
            .map(|&r: &f64| {
                let wide = 0.085 * (1.0 - (r / 1.03).powi(6)).max(0.05) + 0.02;
                let twist = 0.9 - 0.55 * r;
                (0..12)
                    .map(|j| {
                        let a = TAU * f64::from(j) / 12.0;
                        let (u, t) = (wide * a.cos(), 0.016 * a.sin());
                        let across = u * twist.cos() - t * twist.sin();
                        let aft = u * twist.sin() + t * twist.cos();
                        [0.33 + aft, r * s + across * c, 1.16 + r * c - across * s]
                    })
                    .collect()
            })
            .collect();
        skin(&blade, true, PROPELLER, &to_world, &mut out);
    }
    out
}

/// A hangar far behind, in the axes of the camera's world.
pub(super) fn hangar(at: P3, wide: f64, high: f64, turn: f64, out: &mut Vec<Triangle>) {
    let (s, c) = turn.sin_cos();
    let deep = wide * 0.8;
    let put = move |p: P3| {
        [
            at[0] + c * p[0] - s * p[1],
            -p[2],
            at[2] + s * p[0] + c * p[1],
        ]
    };
    let profile = [
        [0.0, 0.0],
        [0.0, high * 0.7],
        [wide / 2.0, high],
        [wide, high * 0.7],
        [wide, 0.0],
    ];
    // Each wall of its own, so that the edges stay hard.
    for w in profile.windows(2) {
        let rings: Vec<Vec<P3>> = w
            .iter()
            .map(|p| vec![[p[0], 0.0, p[1]], [p[0], deep, p[1]]])
            .collect();
        skin(&rings, false, HANGAR, &put, out);
    }
    let front: Vec<Vec<P3>> = vec![
        profile.iter().map(|p| [p[0], 0.0, p[1]]).collect(),
        profile.iter().map(|p| [p[0], 0.0, 0.0]).collect(),
    ];
    skin(&front, false, HANGAR, &put, out);
}
