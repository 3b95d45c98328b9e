//! When a measure may reach a user's own limit: a window, or the reason why there is none.
//!
//! A crack grows at a rate that rises with its size, da/dx = b·(a/s)^p: p = 0 is a straight line,
//! p = 1 exponential growth, and p = m/2 the law of Paris & Erdogan (1963) with m between 2 and 4
//! for most metals [from memory]. A few early readings cannot tell p, and a straight line through
//! them reaches the limit too late on every measured path; so size and rate at the last reading
//! are weighed by their likelihood under every p of a prior range, and the window is read off the
//! mixture of all. Beyond the readings two things are added that no early reading can tell: p may
//! change as the crack gets longer (the remaining section carries more), and growth is uneven.
//! Everything is a sum over a fixed grid: no random numbers, the same input gives the same window.
//!
//! The window leaves 2 % on the early side, 8 % on the late side. It never reaches further past
//! the last reading than [`REACH`] times the time over which there are readings, nor to a size of
//! more than [`MOST_TIMES_SIZE`] times the present one.

/// Probability left before `earliest`.
pub const TAIL_EARLY: f64 = 0.02;
/// Probability left after `latest`.
pub const TAIL_LATE: f64 = 0.08;
/// No end of a window lies further past the last reading than this many times the observed span.
pub const REACH: f64 = 4.0;

/// No window until a crack's limit of more than this many times its present size: from there on
/// what no reading has seen (another member, an edge, a stiffener) decides.
pub const MOST_TIMES_SIZE: f64 = 3.0;

/// One comparable reading, `y` counted so that larger is worse.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Where on the axis (hours, landings, days).
    pub x: f64,
    /// The value.
    pub y: f64,
    /// Its standard uncertainty.
    pub u: f64,
}

/// How the measure is expected to grow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Law {
    /// A crack's length: the rate rises with the size.
    Crack,
    /// Anything else: a weighted straight line.
    Line,
}

/// The window on the axis.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Window {
    /// 2 % of the probability lies before.
    pub earliest: f64,
    /// 8 % lies after; `None` where the readings leave the late end open.
    pub latest: Option<f64>,
    /// Half lies before; `None` beyond the reach.
    pub middle: Option<f64>,
    /// Mean exponent p given the readings.
    pub exponent: f64,
}

/// What is assumed beyond the readings.
#[derive(Debug, Clone, Copy)]
struct Assumptions {
    /// Mean and standard deviation of the exponent p.
    exponent: (f64, f64),
    /// Mean and standard deviation of its change beyond the last reading.
    steepening: (f64, f64),
    /// Prior weight of steady growth, a straight line: coating, seam, vibration, no fatigue law.
    straight: f64,
    /// Relative standard deviation of the remaining time from uneven growth.
    uneven: f64,
    /// Relative standard deviation of a real path about the law at each reading.
    wobble: f64,
}

/// Exponents: m/2 for m from 2 to 4 is 1 to 2, what the widening of the stress with size adds is
/// about as much again. Chosen beforehand from those ranges; no whole paths were held back.
const CRACK: Assumptions = Assumptions {
    exponent: (2.0, 1.0),
    steepening: (0.4, 0.7),
    straight: 0.12,
    uneven: 0.06,
    wobble: 0.004,
};

const LINE: Assumptions = Assumptions {
    exponent: (0.0, 0.0),
    steepening: (0.0, 0.0),
    straight: 1.0,
    uneven: 0.10,
    wobble: 0.0,
};

/// Range of exponents and its step. Below zero: growth that slows down.
const EXPONENT_LOW: f64 = -1.0;
const EXPONENT_STEP: f64 = 0.25;
const EXPONENTS: usize = 29;

/// Nodes and weights of five-point Gauss–Hermite integration over a standard normal variable
/// (Abramowitz & Stegun table 25.10, rescaled).
const NORMAL_5: [(f64, f64); 5] = [
    (-2.856_970_013_872_806, 0.011_257_411_327_720_69),
    (-1.355_626_179_974_266, 0.222_075_922_005_612_6),
    (0.0, 0.533_333_333_333_333_3),
    (1.355_626_179_974_266, 0.222_075_922_005_612_6),
    (2.856_970_013_872_806, 0.011_257_411_327_720_69),
];

/// Half width and step, in standard deviations, of the grid over size and rate.
const GRID_HALF: i32 = 8;
const GRID_STEP: f64 = 0.5;

/// The window in which `points` reach `limit`, or why there is none.
///
/// Points are in order of x, `y` and `limit` counted so that larger is worse.
pub fn estimate(points: &[Point], limit: f64, law: Law) -> Result<Window, String> {
    let assumed = match law {
        Law::Crack => CRACK,
        Law::Line => LINE,
    };
    let usable: Vec<Point> = points
        .iter()
        .copied()
        .filter(|p| p.x.is_finite() && p.y.is_finite() && p.u.is_finite() && p.u >= 0.0)
        // A crack of no length has not begun; the law starts from one that has.
        .filter(|p| law == Law::Line || p.y > 0.0)
        .collect();
    let (Some(first), Some(last)) = (usable.first(), usable.last()) else {
        return Err("there is no comparable reading".to_owned());
    };
    let mut instants: Vec<f64> = usable.iter().map(|p| p.x).collect();
    instants.sort_by(f64::total_cmp);
    instants.dedup();
    if instants.len() < 3 {
        return Err(format!(
            "a window needs at least three comparable readings at different times; there {} {}",
            if instants.len() == 1 { "is" } else { "are" },
            instants.len()
        ));
    }
    if !limit.is_finite() {
        return Err("the limit is not a number".to_owned());
    }
    if usable.iter().any(|p| p.y >= limit) {
        return Err("a reading has already reached the limit".to_owned());
    }
    if law == Law::Crack && limit > MOST_TIMES_SIZE * last.y {
        return Err(format!(
            "the limit lies further ahead than the readings carry (more than {MOST_TIMES_SIZE} times the present size)"
        ));
    }
    let span = last.x - first.x;
    let size = match law {
        Law::Crack => last.y,
        Law::Line => usable
            .iter()
            .map(|p| (limit - p.y).abs())
            .fold(0.0, f64::max),
    };
    if !(span > 0.0 && size > 0.0 && size.is_finite()) {
        return Err("the readings do not run forward in time".to_owned());
    }
    // Everything in units of the span and the present size: no scale of the user's enters below.
    let shift = if law == Law::Line { last.y } else { 0.0 };
    let scaled: Vec<Point> = usable
        .iter()
        .map(|p| {
            let y = (p.y - shift) / size;
            let floor = 1e-6f64.max(assumed.wobble * y.abs());
            Point {
                x: (p.x - last.x) / span,
                y,
                u: (p.u / size).hypot(floor),
            }
        })
        .collect();
    let weighed = weigh(&scaled, (limit - shift) / size, law, &assumed);
    let Some(weighed) = weighed else {
        return Err("no growth law fits these readings".to_owned());
    };
    if weighed.standing > TAIL_LATE {
        return Err("the readings do not show growth beyond their uncertainty".to_owned());
    }
    let earliest = weighed.quantile(TAIL_EARLY);
    if earliest > REACH {
        return Err(format!(
            "the limit lies further ahead than the readings carry (more than {REACH} times the time they cover)"
        ));
    }
    let within = |time: f64| (time <= REACH).then_some(last.x + time * span);
    Ok(Window {
        earliest: last.x + earliest * span,
        latest: within(weighed.quantile(1.0 - TAIL_LATE)),
        middle: within(weighed.quantile(0.5)),
        exponent: weighed.exponent,
    })
}

/// Remaining times with their weights, shortest first.
struct Weighed {
    times: Vec<(f64, f64)>,
    total: f64,
    /// Share of the weight on no growth at all.
    standing: f64,
    exponent: f64,
}

impl Weighed {
    fn quantile(&self, share: f64) -> f64 {
        let mut seen = 0.0;
        for (time, weight) in &self.times {
            seen += weight;
            if seen >= share * self.total {
                return *time;
            }
        }
        f64::INFINITY
    }
}

/// Sum of squared residuals of the best growth law, for choosing an axis; `None` where none fits or
/// an uncertainty is not above zero.
pub(crate) fn misfit_of(points: &[Point], law: Law) -> Option<f64> {
    let (first, last) = (points.first()?, points.last()?);
    let span = last.x - first.x;
    if points.len() < 4
        || span <= 0.0
        || span.is_nan()
        || points.iter().any(|p| p.u <= 0.0 || !p.u.is_finite())
    {
        return None;
    }
    let size = points.iter().map(|p| p.y.abs()).fold(0.0, f64::max);
    if !(size > 0.0 && size.is_finite()) {
        return None;
    }
    let scaled: Vec<Point> = points
        .iter()
        .filter(|p| law == Law::Line || p.y > 0.0)
        .map(|p| Point {
            x: (p.x - last.x) / span,
            y: p.y / size,
            u: p.u / size,
        })
        .collect();
    members(law, &CRACK)
        .into_iter()
        .filter_map(|member| fit(&scaled, member, law))
        .map(|fit| fit.chi2)
        .reduce(f64::min)
}

/// One growth law of the family.
#[derive(Clone, Copy)]
struct Member {
    exponent: f64,
    /// Prior weight.
    prior: f64,
    /// Mean and standard deviation of the exponent's change beyond the readings.
    steepening: (f64, f64),
}

/// The members with their prior weights: the powers, and the straight line as a law of its own.
fn members(law: Law, assumed: &Assumptions) -> Vec<Member> {
    let straight = Member {
        exponent: 0.0,
        prior: 1.0,
        steepening: (0.0, 0.0),
    };
    if law == Law::Line {
        return vec![straight];
    }
    let mut powers: Vec<Member> = (0..EXPONENTS)
        .map(|step| {
            let exponent = EXPONENT_LOW + EXPONENT_STEP * step as f64;
            let off = (exponent - assumed.exponent.0) / assumed.exponent.1;
            Member {
                exponent,
                prior: (-0.5 * off * off).exp(),
                steepening: assumed.steepening,
            }
        })
        .collect();
    let all: f64 = powers.iter().map(|member| member.prior).sum();
    powers.push(Member {
        prior: all * assumed.straight / (1.0 - assumed.straight),
        ..straight
    });
    powers
}

/// The best fit of one exponent.
struct Fit {
    member: Member,
    size: f64,
    rate: f64,
    chi2: f64,
    /// Lower triangle of the square root of the covariance of (size, rate).
    root: (f64, f64, f64),
}

fn weigh(points: &[Point], limit: f64, law: Law, assumed: &Assumptions) -> Option<Weighed> {
    let fits: Vec<Fit> = members(law, assumed)
        .into_iter()
        .filter_map(|member| fit(points, member, law))
        .collect();
    let best = fits.iter().map(|f| f.chi2).fold(f64::INFINITY, f64::min);
    // Readings that scatter more than their uncertainties say are taken at their scatter
    // (Birge's ratio, [from memory] Phys. Rev. 40:207, 1932); never the other way round.
    let degrees = points.len() as f64 - if law == Law::Crack { 3.0 } else { 2.0 };
    let birge = if degrees >= 1.0 {
        (best / degrees).max(1.0)
    } else {
        1.0
    };
    let mut times = Vec::new();
    let (mut total, mut standing, mut exponent) = (0.0, 0.0, 0.0);
    for fit in &fits {
        let (l11, l21, l22) = fit.root;
        let cell = fit.member.prior * l11 * l22;
        for i in -GRID_HALF..=GRID_HALF {
            for j in -GRID_HALF..=GRID_HALF {
                let z1 = f64::from(i) * GRID_STEP * birge.sqrt();
                let z2 = f64::from(j) * GRID_STEP * birge.sqrt();
                let size = fit.size + l11 * z1;
                let rate = fit.rate + l21 * z1 + l22 * z2;
                let chi2 = misfit(points, size, rate, fit.member.exponent, law);
                let weight = cell * (-0.5 * (chi2 - best) / birge).exp();
                if weight.is_nan() || weight <= 1e-12 * cell {
                    continue;
                }
                total += weight;
                exponent += weight * fit.member.exponent;
                if rate <= 0.0 {
                    standing += weight;
                    continue;
                }
                push_times(
                    &mut times,
                    weight,
                    (size, rate, fit.member),
                    limit,
                    law,
                    assumed,
                );
            }
        }
    }
    if !(total > 0.0 && total.is_finite()) {
        return None;
    }
    times.sort_by(|a, b| a.0.total_cmp(&b.0));
    Some(Weighed {
        times,
        total,
        standing: standing / total,
        exponent: exponent / total,
    })
}

/// Adds the remaining times of one (size, rate, exponent), spread over what may change beyond the
/// readings.
fn push_times(
    times: &mut Vec<(f64, f64)>,
    weight: f64,
    (size, rate, member): (f64, f64, Member),
    limit: f64,
    law: Law,
    assumed: &Assumptions,
) {
    if law == Law::Line || size >= limit {
        let time = (limit - size) / rate;
        for (z, share) in NORMAL_5 {
            times.push((time * (assumed.uneven * z).exp(), weight * share));
        }
        return;
    }
    for (z, share) in NORMAL_5 {
        let later = member.exponent + member.steepening.0 + member.steepening.1 * z;
        let time = size / rate * power_integral(limit / size, later);
        for (z, part) in NORMAL_5 {
            times.push((time * (assumed.uneven * z).exp(), weight * share * part));
        }
    }
}

/// ∫₁^ratio r^(−p) dr.
fn power_integral(ratio: f64, p: f64) -> f64 {
    let q = 1.0 - p;
    if q.abs() < 1e-9 {
        ratio.ln()
    } else {
        (q * ratio.ln()).exp_m1() / q
    }
}

/// Size at `x` (the last reading is at 0) of a path with `size` and `rate` there.
fn path(x: f64, size: f64, rate: f64, p: f64, law: Law) -> f64 {
    if law == Law::Line {
        return size + rate * x;
    }
    if size <= 0.0 {
        return f64::NAN;
    }
    let relative = rate / size * x;
    let q = 1.0 - p;
    if q.abs() < 1e-9 {
        return size * relative.exp();
    }
    let base = 1.0 + q * relative;
    if base > 0.0 {
        size * base.powf(1.0 / q)
    } else if q > 0.0 {
        0.0
    } else {
        f64::INFINITY
    }
}

fn misfit(points: &[Point], size: f64, rate: f64, p: f64, law: Law) -> f64 {
    points
        .iter()
        .map(|point| ((point.y - path(point.x, size, rate, p, law)) / point.u).powi(2))
        .sum()
}

/// Least squares for size and rate at the last reading by damped Gauss–Newton.
fn fit(points: &[Point], member: Member, law: Law) -> Option<Fit> {
    let p = member.exponent;
    let line =
        super::trend::weighted_line(&points.iter().map(|q| (q.x, q.y, q.u)).collect::<Vec<_>>())?;
    let mut size = line.intercept;
    if law == Law::Crack && size <= 0.0 {
        size = points.last()?.y;
    }
    let mut rate = line.slope;
    let mut chi2 = misfit(points, size, rate, p, law);
    if !chi2.is_finite() {
        rate = 0.0;
        chi2 = misfit(points, size, rate, p, law);
    }
    for _ in 0..40 {
        let (a, g) = normal_equations(points, size, rate, p, law)?;
        let (step_size, step_rate) = solve(a, g)?;
        let mut damp = 1.0;
        let mut moved = false;
        while damp > 1e-6 {
            let next = (size + damp * step_size, rate + damp * step_rate);
            let next_chi2 = misfit(points, next.0, next.1, p, law);
            if next_chi2 < chi2 {
                moved = chi2 - next_chi2 > 1e-9 * (1.0 + chi2);
                (size, rate, chi2) = (next.0, next.1, next_chi2);
                break;
            }
            damp /= 2.0;
        }
        if !moved {
            break;
        }
    }
    let (a, _) = normal_equations(points, size, rate, p, law)?;
    let det = a.0 * a.2 - a.1 * a.1;
    // Covariance is the inverse of ((a0 a1)(a1 a2)).
    let l11 = (a.2 / det).sqrt();
    let l21 = -a.1 / det / l11;
    let l22 = (a.0 / det - l21 * l21).max(0.0).sqrt();
    (chi2.is_finite() && l11.is_finite() && l21.is_finite() && l22 > 0.0 && l22.is_finite())
        .then_some(Fit {
            member,
            size,
            rate,
            chi2,
            root: (l11, l21, l22),
        })
}

type Symmetric = (f64, f64, f64);

/// JᵀJ and Jᵀr with derivatives by central differences.
fn normal_equations(
    points: &[Point],
    size: f64,
    rate: f64,
    p: f64,
    law: Law,
) -> Option<(Symmetric, (f64, f64))> {
    let h = 1e-6;
    let (mut a, mut g) = ((0.0, 0.0, 0.0), (0.0, 0.0));
    for point in points {
        let at = |s: f64, r: f64| path(point.x, s, r, p, law);
        let by_size = (at(size + h, rate) - at(size - h, rate)) / (2.0 * h) / point.u;
        let by_rate = (at(size, rate + h) - at(size, rate - h)) / (2.0 * h) / point.u;
        let rest = (point.y - at(size, rate)) / point.u;
        a.0 += by_size * by_size;
        a.1 += by_size * by_rate;
        a.2 += by_rate * by_rate;
        g.0 += by_size * rest;
        g.1 += by_rate * rest;
    }
    [a.0, a.1, a.2, g.0, g.1]
        .iter()
        .all(|v: &f64| v.is_finite())
        .then_some((a, g))
}

fn solve(a: Symmetric, g: (f64, f64)) -> Option<(f64, f64)> {
    let det = a.0 * a.2 - a.1 * a.1;
    (det > 0.0).then(|| ((a.2 * g.0 - a.1 * g.1) / det, (a.0 * g.1 - a.1 * g.0) / det))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Sizes of a path that obeys the law exactly: the truth is known by construction.
    fn exact(p: f64, u: f64, n: usize) -> Vec<Point> {
        (0..n)
            .map(|at| {
                let x = at as f64 * 10.0;
                let y = path(x, 1.0, 0.01, p, Law::Crack);
                Point { x, y, u }
            })
            .collect()
    }

    #[test]
    fn holds_the_truth_of_exact_paths() {
        for p in [0.0, 1.0, 1.5, 2.0, 3.0] {
            for n in [3, 4, 5] {
                let points = exact(p, 0.01, n);
                let limit = 1.25 * points[n - 1].y;
                let truth = 1.0 / 0.01 * power_integral(limit, p);
                let window = estimate(&points, limit, Law::Crack).unwrap();
                assert!(window.earliest < truth, "p {p}, n {n}: {window:?}, {truth}");
                assert!(
                    window.latest.is_none_or(|late| late > truth),
                    "p {p}, n {n}: {window:?}, {truth}"
                );
            }
        }
    }

    #[test]
    fn better_readings_give_a_narrower_window() {
        let width = |u| {
            let window = estimate(&exact(1.5, u, 5), 2.4, Law::Crack).unwrap();
            window.latest.unwrap() - window.earliest
        };
        assert!(width(0.005) < width(0.02) && width(0.02) < width(0.06));
    }

    #[test]
    fn refuses_with_the_reason() {
        let why = |points: &[Point], limit| estimate(points, limit, Law::Crack).unwrap_err();
        let points = exact(1.5, 0.01, 4);
        assert!(why(&points[..2], 3.0).contains("three"));
        assert!(why(&points, 1.2).contains("already"));
        assert!(why(&points, 60.0).contains("carry"));
        assert!(why(&points, f64::NAN).contains("not a number"));
        assert!(why(&[], 3.0).contains("no comparable"));
        let mut together = points.clone();
        together.iter_mut().for_each(|p| p.x = 5.0);
        assert!(why(&together, 3.0).contains("three"));
        let still: Vec<Point> = (0..5)
            .map(|at| Point {
                x: f64::from(at),
                y: 1.0,
                u: 0.1,
            })
            .collect();
        assert!(why(&still, 1.5).contains("do not show growth"));
    }

    proptest! {
        /// No scale of the user's enters: another unit and another meter give the same window.
        #[test]
        fn units_do_not_matter(u in 0.002..0.05f64, p in 0.0..3.0f64, by in 0.01..100.0f64, hours in 0.01..100.0f64) {
            let points = exact(p, u, 5);
            let limit = 1.3 * points[4].y;
            let other: Vec<Point> = points
                .iter()
                .map(|q| Point { x: q.x * hours, y: q.y * by, u: q.u * by })
                .collect();
            match (estimate(&points, limit, Law::Crack), estimate(&other, limit * by, Law::Crack)) {
                (Ok(a), Ok(b)) => prop_assert!((a.earliest * hours / b.earliest - 1.0).abs() < 1e-3),
                (a, b) => prop_assert_eq!(a.is_err(), b.is_err()),
            }
        }

        #[test]
        fn any_points_are_answered(points in prop::collection::vec((-1e6..1e6f64, -10.0..1e6f64, 0.0..1e4f64), 0..8), limit in -1e7..1e7f64, line: bool) {
            let mut points: Vec<Point> = points.into_iter().map(|(x, y, u)| Point { x, y, u }).collect();
            points.sort_by(|a, b| a.x.total_cmp(&b.x));
            let law = if line { Law::Line } else { Law::Crack };
            if let Ok(window) = estimate(&points, limit, law) {
                prop_assert!(window.earliest.is_finite());
                prop_assert!(window.latest.is_none_or(|late| late >= window.earliest));
            }
        }
    }
}
