//! How sure a measured length or area is.
//!
//! Each parameter of the scale is moved by one standard deviation both ways (JCGM 100:2008, 5.1.3);
//! half the difference is its first-order share. Where the two sides are unlike, the second-order
//! share of JCGM 100, 5.1.2 (note) is added with the kurtosis of the parameter's spread: it matters
//! only for steep, small pictures and for a ruler's unknown slant. The marks' own share is analytic.
//! [`monte_carlo`] draws the same parameters at random (JCGM 101:2008) to check this.

use serde::Serialize;

use super::geometry::{Point, path_length, signed_area};
use super::marks::{Line, Measured};
use super::progress::Progress;
use super::scale::{Scale, Source, Spread, apart, beyond_horizon};
use crate::error::Result;

/// Coverage factor of the expanded uncertainty (JCGM 100, 6.3.3: about 95 %).
pub const K: u32 = 2;

/// Standard uncertainties by where they come from, in the unit of the value.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize)]
pub struct Budget {
    /// The marks on the line itself.
    pub marks: f64,
    /// Corners of the card, marks of the sheet, points of the ruler.
    pub corners: f64,
    /// Size of the card, print or ruler.
    pub size: f64,
    /// Lens distortion, within its stated bound.
    pub lens: f64,
    /// Surface off the scale's plane, within its stated bounds.
    pub plane: f64,
}

impl Budget {
    /// All together.
    pub fn combined(&self) -> f64 {
        [self.marks, self.corners, self.size, self.lens, self.plane]
            .iter()
            .map(|u| u * u)
            .sum::<f64>()
            .sqrt()
    }
}

/// A value with its budget.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reckoned {
    /// In mm or mm².
    pub value: f64,
    /// By source.
    pub budget: Budget,
}

/// Value and budget of a line in pixels. `line_u`: see `Marks::line_u`, here in pixels.
pub fn reckon(
    scale: &Scale,
    what: Measured,
    line: &[Point],
    made: Line,
    line_u: f64,
) -> Result<Reckoned> {
    let n = scale.parameters().len();
    let mut errors = vec![0.0; n];
    let value = scale
        .evaluate(what, line, &errors)
        .ok_or_else(beyond_horizon)?;
    let mut squares = [0.0_f64; 4];
    for (i, p) in scale.parameters().iter().enumerate() {
        if p.sd == 0.0 {
            continue;
        }
        let mut at = |e: f64| {
            if let Some(slot) = errors.get_mut(i) {
                *slot = e;
            }
            let v = scale.evaluate(what, line, &errors);
            if let Some(slot) = errors.get_mut(i) {
                *slot = 0.0;
            }
            v.ok_or_else(beyond_horizon)
        };
        let (up, down) = (at(p.sd)? - value, at(-p.sd)? - value);
        let (first, second) = ((up - down) / 2.0, (up + down) / 2.0);
        let kurtosis = match p.spread {
            Spread::Normal => 3.0,
            Spread::Rectangular => 1.8,
            Spread::Triangular => 2.4,
        };
        let slot = match p.source {
            Source::Corners => 0,
            Source::Size => 1,
            Source::Lens => 2,
            Source::Plane => 3,
        };
        if let Some(s) = squares.get_mut(slot) {
            *s += first * first + kurtosis * second * second;
        }
    }
    let marks = match made {
        Line::Drawn => drawn(scale, what, line, line_u)?,
        // A follower states the uncertainty of its whole line in pixels: scaled by the mean scale.
        Line::Traced => line_u * value / path_length(line).max(1e-9),
        Line::Outlined => line_u * value / signed_area(line).abs().max(1e-9),
    };
    let [corners, size, lens, plane] = squares.map(f64::sqrt);
    Ok(Reckoned {
        value,
        budget: Budget {
            marks,
            corners,
            size,
            lens,
            plane,
        },
    })
}

/// First-order share of independent errors of `u` pixels in every coordinate of every point.
fn drawn(scale: &Scale, what: Measured, line: &[Point], u: f64) -> Result<f64> {
    let placed = scale
        .placed(&vec![0.0; scale.parameters().len()])
        .ok_or_else(beyond_horizon)?;
    let places: Option<Vec<[f64; 3]>> = line.iter().map(|p| placed.place(*p)).collect();
    let places = places.ok_or_else(beyond_horizon)?;
    let n = line.len();
    let around = |i: usize| -> (Option<[f64; 3]>, Option<[f64; 3]>) {
        match what {
            Measured::Length => (
                i.checked_sub(1).and_then(|j| places.get(j)).copied(),
                places.get(i + 1).copied(),
            ),
            Measured::Area => (
                places.get((i + n - 1) % n).copied(),
                places.get((i + 1) % n).copied(),
            ),
        }
    };
    let mut square = 0.0;
    const STEP: f64 = 0.05;
    for (i, p) in line.iter().enumerate() {
        let (before, after) = around(i);
        let part = |q: Point| -> Option<f64> {
            let at = placed.place(q)?;
            Some(match what {
                Measured::Length => {
                    before.map_or(0.0, |b| apart(b, at)) + after.map_or(0.0, |a| apart(at, a))
                }
                Measured::Area => {
                    let (b, a) = (before?, after?);
                    // Only the two triangles at this corner change; seen from the corner before.
                    ((at[0] - b[0]) * (a[1] - b[1]) - (a[0] - b[0]) * (at[1] - b[1])) / 2.0
                }
            })
        };
        for step in [[STEP, 0.0], [0.0, STEP]] {
            let up = part([p[0] + step[0], p[1] + step[1]]).ok_or_else(beyond_horizon)?;
            let down = part([p[0] - step[0], p[1] - step[1]]).ok_or_else(beyond_horizon)?;
            square += ((up - down) / (2.0 * STEP) * u).powi(2);
        }
    }
    Ok(square.sqrt())
}

/// What a Monte Carlo run found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Drawn {
    /// Mean of the values.
    pub mean: f64,
    /// Their standard deviation.
    pub sd: f64,
    /// Draws that gave no value (the scale fell apart).
    pub lost: u32,
}

/// Propagation of distributions (JCGM 101): draws every parameter, and every coordinate of every
/// point of a drawn line, at random.
pub fn monte_carlo(
    scale: &Scale,
    what: Measured,
    line: &[Point],
    line_u: f64,
    draws: u32,
    seed: u64,
    progress: &Progress,
) -> Result<Drawn> {
    let mut random = Random::new(seed);
    let mut errors = vec![0.0; scale.parameters().len()];
    let mut moved = line.to_vec();
    let (mut n, mut mean, mut m2, mut lost) = (0.0, 0.0, 0.0, 0);
    for i in 0..draws {
        if i % 256 == 0 {
            progress.check()?;
            progress.set_done((u64::from(i) * 1000 / u64::from(draws)) as u32);
        }
        for (e, p) in errors.iter_mut().zip(scale.parameters()) {
            *e = p.sd
                * match p.spread {
                    Spread::Normal => random.normal(),
                    Spread::Rectangular => random.rectangular(),
                    Spread::Triangular => random.triangular(),
                };
        }
        for (m, p) in moved.iter_mut().zip(line) {
            *m = [
                p[0] + line_u * random.normal(),
                p[1] + line_u * random.normal(),
            ];
        }
        let Some(v) = scale.evaluate(what, &moved, &errors) else {
            lost += 1;
            continue;
        };
        n += 1.0;
        let d = v - mean;
        mean += d / n;
        m2 += d * (v - mean);
    }
    progress.set_done(1000);
    Ok(Drawn {
        mean,
        sd: if n > 1.0 {
            (m2 / (n - 1.0)).sqrt()
        } else {
            0.0
        },
        lost,
    })
}

/// A seeded generator (SplitMix64, Steele, Lea and Flood 2014, from memory): the run is a check, the
/// same everywhere, so nothing is drawn from outside.
#[derive(Debug, Clone)]
pub struct Random {
    state: u64,
    spare: Option<f64>,
}

impl Random {
    /// Starts at a seed.
    pub fn new(seed: u64) -> Self {
        Self {
            state: seed,
            spare: None,
        }
    }

    /// Uniform in 0 ≤ x < 1.
    pub fn unit(&mut self) -> f64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Rectangular with mean 0 and standard deviation 1.
    pub fn rectangular(&mut self) -> f64 {
        (2.0 * self.unit() - 1.0) * 3.0_f64.sqrt()
    }

    /// Triangular with mean 0 and standard deviation 1: two rectangular ones together.
    pub fn triangular(&mut self) -> f64 {
        (self.rectangular() + self.rectangular()) / 2.0_f64.sqrt()
    }

    /// Normal with mean 0 and standard deviation 1 (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        if let Some(z) = self.spare.take() {
            return z;
        }
        let r = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        let (s, c) = (std::f64::consts::TAU * self.unit()).sin_cos();
        self.spare = Some(r * s);
        r * c
    }
}

/// How many decimals a value may show whose standard uncertainty is `u`: two significant digits of
/// the uncertainty (JCGM 100, 7.2.6). Between 0 and 6.
pub fn decimals(u: f64) -> usize {
    if !(u > 0.0) || !u.is_finite() {
        return 6;
    }
    (1.0 - u.log10().floor()).clamp(0.0, 6.0) as usize
}
