//! Trend of a series: Theil–Sen slope with its interval, Mann–Kendall with ties, and a weighted
//! straight line.
//!
//! Sources: Sen 1968, J. Am. Stat. Assoc. 63:1379, equation 2.6 for the interval with ties;
//! Kendall 1975 for the tie-corrected variance of the Mann–Kendall sum. Held against
//! `scipy.stats.theilslopes`, `pymannkendall` and `statsmodels` by `tests/outside/growth.py`.

use serde::Serialize;

/// Most points a trend takes: every pair has a slope, so work and memory grow with the square.
pub const MOST_POINTS: usize = 2_000;

/// 97.5 % point of the standard normal distribution, for two-sided 95 % intervals.
const NORMAL_975: f64 = 1.959_963_984_540_054;

/// Slope by Theil and Sen.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TheilSen {
    /// Median of the slopes between all pairs with different x.
    pub slope: f64,
    /// Two-sided 95 % interval of the slope; `None` where ties leave no variance.
    pub interval: Option<(f64, f64)>,
}

/// Theil–Sen slope of `(x, y)`; `None` below two different x or above [`MOST_POINTS`].
pub fn theil_sen(points: &[(f64, f64)]) -> Option<TheilSen> {
    if points.len() > MOST_POINTS {
        return None;
    }
    let mut slopes = Vec::with_capacity(points.len() * points.len().saturating_sub(1) / 2);
    for (at, a) in points.iter().enumerate() {
        for b in points.iter().skip(at + 1) {
            let dx = b.0 - a.0;
            let slope = (b.1 - a.1) / dx;
            if dx != 0.0 && slope.is_finite() {
                slopes.push(slope);
            }
        }
    }
    slopes.sort_by(f64::total_cmp);
    let slope = median_of_sorted(&slopes)?;
    let n = points.len() as f64;
    let variance = (n * (n - 1.0) * (2.0 * n + 5.0)
        - tie_sum(points.iter().map(|p| p.0))
        - tie_sum(points.iter().map(|p| p.1)))
        / 18.0;
    let interval = (variance >= 0.0).then(|| {
        let spread = NORMAL_975 * variance.sqrt();
        let count = slopes.len() as f64;
        let upper = ((count + spread) / 2.0).round_ties_even().min(count - 1.0);
        let lower = (((count - spread) / 2.0).round_ties_even() - 1.0).max(0.0);
        // Both lie in 0..count, which is at most MOST_POINTS²/2.
        let pick = |at: f64| slopes.get(at as usize).copied().unwrap_or(slope);
        (pick(lower), pick(upper))
    });
    Some(TheilSen { slope, interval })
}

/// Two-sided p of the Mann–Kendall test of `values` in order of time, ties corrected; `None` below
/// two values or above [`MOST_POINTS`].
pub fn mann_kendall_p(values: &[f64]) -> Option<f64> {
    if values.len() < 2 || values.len() > MOST_POINTS {
        return None;
    }
    let mut sum = 0.0;
    for (at, a) in values.iter().enumerate() {
        for b in values.iter().skip(at + 1) {
            sum += match b.partial_cmp(a) {
                Some(std::cmp::Ordering::Greater) => 1.0,
                Some(std::cmp::Ordering::Less) => -1.0,
                _ => 0.0,
            };
        }
    }
    let n = values.len() as f64;
    let variance = (n * (n - 1.0) * (2.0 * n + 5.0) - tie_sum(values.iter().copied())) / 18.0;
    if sum == 0.0 || variance <= 0.0 {
        return Some(1.0);
    }
    // Continuity correction: the sum moves in steps of two, one towards zero.
    let z = (f64::abs(sum) - 1.0) / variance.sqrt();
    Some(erfc(z / std::f64::consts::SQRT_2))
}

/// A straight line through readings with known standard uncertainties.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Line {
    /// Slope, per unit of x.
    pub slope: f64,
    /// Value at x = 0.
    pub intercept: f64,
    /// Standard uncertainty of the slope from the stated uncertainties alone.
    pub u_slope: f64,
    /// Standard uncertainty of the intercept from the stated uncertainties alone.
    pub u_intercept: f64,
    /// Sum of squared residuals over their variances.
    pub chi2: f64,
    /// Readings less the two fitted figures.
    pub degrees: usize,
}

/// Weighted least squares line through `(x, y, u)`; `None` below two different x, or where a u is
/// not above zero. Sums are taken about the weighted mean, so that no digits cancel.
pub fn weighted_line(points: &[(f64, f64, f64)]) -> Option<Line> {
    if points.len() < 2 || points.iter().any(|p| !(p.2 > 0.0 && p.2.is_finite())) {
        return None;
    }
    let weight = |u: f64| 1.0 / (u * u);
    let total: f64 = points.iter().map(|p| weight(p.2)).sum();
    let mean_x = points.iter().map(|p| weight(p.2) * p.0).sum::<f64>() / total;
    let mean_y = points.iter().map(|p| weight(p.2) * p.1).sum::<f64>() / total;
    let mut sxx = 0.0;
    let mut sxy = 0.0;
    for &(x, y, u) in points {
        sxx += weight(u) * (x - mean_x).powi(2);
        sxy += weight(u) * (x - mean_x) * (y - mean_y);
    }
    let slope = sxy / sxx;
    let intercept = mean_y - slope * mean_x;
    let chi2 = points
        .iter()
        .map(|&(x, y, u)| weight(u) * (y - mean_y - slope * (x - mean_x)).powi(2))
        .sum();
    let line = Line {
        slope,
        intercept,
        u_slope: (1.0 / sxx).sqrt(),
        u_intercept: (1.0 / total + mean_x * mean_x / sxx).sqrt(),
        chi2,
        degrees: points.len() - 2,
    };
    [
        line.slope,
        line.intercept,
        line.u_slope,
        line.u_intercept,
        chi2,
    ]
    .iter()
    .all(|figure| figure.is_finite())
    .then_some(line)
}

/// Σ t(t−1)(2t+5) over groups of t equal values.
fn tie_sum(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_by(f64::total_cmp);
    sorted
        .chunk_by(|a, b| a == b)
        .map(|group| {
            let t = group.len() as f64;
            t * (t - 1.0) * (2.0 * t + 5.0)
        })
        .sum()
}

fn median_of_sorted(sorted: &[f64]) -> Option<f64> {
    let upper = *sorted.get(sorted.len() / 2)?;
    if sorted.len() % 2 == 1 {
        return Some(upper);
    }
    Some(sorted.get(sorted.len() / 2 - 1)?.midpoint(upper))
}

/// Complementary error function for z ≥ 0, to about 1e-15: the series of erf below 2.5, Lentz's
/// continued fraction above (Abramowitz & Stegun 7.1.6 and 7.1.14). A crate for one function was
/// not worth a dependency.
pub(crate) fn erfc(z: f64) -> f64 {
    if z < 2.5 {
        let mut term = z;
        let mut sum = z;
        let mut k = 0.0;
        while term.abs() > 1e-18 * sum.abs() && k < 200.0 {
            k += 1.0;
            term *= 2.0 * z * z / (2.0 * k + 1.0);
            sum += term;
        }
        return 1.0 - sum * (-z * z).exp() * std::f64::consts::FRAC_2_SQRT_PI;
    }
    // erfc(z)·√π·e^{z²} = 1/(z + (1/2)/(z + 1/(z + (3/2)/(z + …)))), from the inside out.
    let inner = (1..=60)
        .rev()
        .fold(z, |below, k| z + f64::from(k) / 2.0 / below);
    (-z * z).exp() / inner * (std::f64::consts::FRAC_2_SQRT_PI / 2.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn theil_sen_by_hand() {
        let fit = theil_sen(&[(0.0, 0.0), (1.0, 1.0), (2.0, 2.0), (3.0, 30.0)]).unwrap();
        // Pairs: 1, 1, 10, 1, 14.5, 28 → sorted 1 1 1 10 14.5 28, median 5.5.
        assert_eq!(fit.slope, 5.5);
        assert_eq!(theil_sen(&[(1.0, 2.0), (1.0, 3.0)]), None);
        assert_eq!(theil_sen(&[]), None);
    }

    #[test]
    fn all_tied_shows_nothing() {
        assert_eq!(mann_kendall_p(&[5.0; 6]), Some(1.0));
        assert_eq!(mann_kendall_p(&[5.0]), None);
    }

    #[test]
    fn erfc_known_values() {
        // scipy.special.erfc 1.17; tests/outside/growth.py holds p-values against it too.
        for (z, value) in [
            (0.0, 1.0),
            (0.5, 0.479_500_122_186_953_5),
            (1.0, 0.157_299_207_050_285_13),
            (2.0, 0.004_677_734_981_047_266),
            (3.0, 2.209_049_699_858_544e-5),
            (5.0, 1.537_459_794_428_035e-12),
        ] {
            let got = erfc(z);
            assert!((got - value).abs() <= 1e-13 * value.max(1e-3), "{z}: {got}");
        }
    }

    #[test]
    fn line_through_exact_points() {
        let line = weighted_line(&[(0.0, 1.0, 0.1), (1.0, 3.0, 0.2), (3.0, 7.0, 0.1)]).unwrap();
        assert!((line.slope - 2.0).abs() < 1e-14 && (line.intercept - 1.0).abs() < 1e-14);
        assert!(weighted_line(&[(0.0, 1.0, 0.0), (1.0, 3.0, 0.2)]).is_none());
        assert!(weighted_line(&[(1.0, 1.0, 0.1), (1.0, 3.0, 0.2)]).is_none());
    }

    proptest! {
        #[test]
        fn slope_lies_in_its_interval(points in prop::collection::vec((0i32..50, -50i32..50), 2..40)) {
            let points: Vec<(f64, f64)> = points.iter().map(|p| (f64::from(p.0), f64::from(p.1))).collect();
            if let Some(fit) = theil_sen(&points) {
                if let Some((low, high)) = fit.interval {
                    prop_assert!(low <= fit.slope && fit.slope <= high);
                }
                // Scaling y scales the slope.
                let twice: Vec<(f64, f64)> = points.iter().map(|p| (p.0, 2.0 * p.1)).collect();
                prop_assert_eq!(theil_sen(&twice).unwrap().slope, 2.0 * fit.slope);
            }
            let p = mann_kendall_p(&points.iter().map(|p| p.1).collect::<Vec<_>>()).unwrap();
            prop_assert!((0.0..=1.0).contains(&p));
        }
    }
}
