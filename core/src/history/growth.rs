//! What a series from paper records shows: each reading against the one before and against the
//! first, the trend, and, when a limit is given, the window until it.

use serde::Serialize;

use super::series::{self, Axis, Row};
use super::significance::{self, Change, ChangeKind, Reading, WorseWhen};
use super::trend::{self, Line};
use super::window::{self, Law, Point};
use crate::error::{Error, ErrorKind, Result};
use crate::quantity::{Dimension, Rational, Unit};

/// What is asked of a series.
#[derive(Debug, Clone, Default)]
pub struct Ask {
    /// The user's own limit, `1.6 in`, or `1.6` in the last reading's unit; no limit, no window.
    pub limit: Option<String>,
    /// What to count against; `None`: the axis that the readings support best.
    pub against: Option<Axis>,
    /// Which way is worse.
    pub worse_when: WorseWhen,
}

/// One comparison, `from` and `to` data rows from 0.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Step {
    /// Earlier row.
    pub from: usize,
    /// Later row.
    pub to: usize,
    /// What it shows.
    #[serde(flatten)]
    pub change: Change,
}

/// Trend of the readings at the place of the last one, in its unit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Trend {
    /// Median slope per unit of `against`; `None` below three readings.
    pub theil_sen: Option<f64>,
    /// Its two-sided 95 % interval.
    pub ci: Option<[f64; 2]>,
    /// Two-sided p of Mann–Kendall, ties corrected.
    pub mann_kendall_p: Option<f64>,
    /// Readings used.
    pub n: usize,
    /// Unit of the value.
    pub unit: Option<String>,
    /// Axis; `None` where no row has one.
    pub against: Option<Axis>,
    /// Straight line by the stated uncertainties; `None` where they are missing or zero. With
    /// days, its zero is the first reading.
    pub weighted: Option<Line>,
}

/// A value on an axis: a number, or a date.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(untagged)]
pub enum At {
    /// Hours or landings.
    Number(f64),
    /// An ISO date.
    Date(String),
}

/// When the limit may be reached.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LimitWindow {
    /// The user's limit.
    pub limit: f64,
    /// Its unit.
    pub unit: Option<String>,
    /// Axis.
    pub against: Axis,
    /// 2 % of the probability lies before.
    pub earliest: At,
    /// 8 % lies after; `None` where the readings leave the late end open.
    pub latest: Option<At>,
    /// 0.9.
    pub coverage: f64,
    /// The growth law, in words.
    pub model: String,
    /// What to keep in mind, always shown with it.
    pub caution: String,
}

/// Everything [`growth`] says.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Growth {
    /// Each reading against the one before.
    pub steps: Vec<Step>,
    /// Each reading against the first: slow growth hides in small steps.
    pub against_first: Vec<Step>,
    /// The trend.
    pub trend: Trend,
    /// The window, only with a limit.
    pub window: Option<LimitWindow>,
    /// Why there is no window; `None` where there is one.
    pub no_window_because: Option<String>,
    /// Unit of each row, for the text.
    #[serde(skip)]
    units: Vec<Option<String>>,
}

/// Probability inside a window.
const COVERAGE: f64 = 0.9;

/// The sentence that stands beside every window.
pub const CAUTION: &str = "Growth can speed up at any time; this is no interval to fly on. \
Not for propeller, landing gear, mounts, controls, fittings or primary structure: \
show those to licensed people before further flight. The aircraft's manual comes first.";

/// Reads a table ([`series::read`]) and says what it shows. Errors: those of the table, and a limit
/// that is not a positive amount in a unit of the readings.
pub fn growth(table: &[u8], ask: &Ask) -> Result<Growth> {
    let rows = series::read(table)?;
    of_rows(&rows, ask)
}

/// What rows show; errors as [`growth`], for the limit alone.
pub fn of_rows(rows: &[Row], ask: &Ask) -> Result<Growth> {
    let readings: Vec<(usize, Reading)> = rows
        .iter()
        .enumerate()
        .filter_map(|(at, row)| Some((at, reading(row, ask.worse_when)?)))
        .collect();
    let step = |a: &(usize, Reading), b: &(usize, Reading)| Step {
        from: a.0,
        to: b.0,
        change: significance::compare(&a.1, &b.1),
    };
    let steps = readings
        .iter()
        .zip(readings.iter().skip(1))
        .map(|(a, b)| step(a, b))
        .collect();
    let against_first = readings
        .first()
        .map(|first| readings.iter().skip(1).map(|b| step(first, b)).collect())
        .unwrap_or_default();
    let Some((_, last)) = readings.last() else {
        return Err(Error::new(ErrorKind::BadValue, "no row holds a value")
            .hint("write the measured sizes into the column \"value\""));
    };
    let comparable = Comparable::new(rows, &readings, last);
    let law = law(last, ask.worse_when);
    let axis = ask
        .against
        .or_else(|| comparable.best_axis(law, ask.worse_when));
    let trend = comparable.trend(axis);
    let (window, no_window_because) = match &ask.limit {
        None => (None, Some("no limit was given".to_owned())),
        Some(text) => {
            let (limit, unit) = limit(text, last)?;
            match comparable.window(limit, unit, axis, law, ask.worse_when) {
                Ok(window) => (Some(window), None),
                Err(why) => (None, Some(why)),
            }
        }
    };
    Ok(Growth {
        steps,
        against_first,
        trend,
        window,
        no_window_because,
        units: rows.iter().map(|row| row.unit.clone()).collect(),
    })
}

fn reading(row: &Row, worse_when: WorseWhen) -> Option<Reading> {
    Some(Reading {
        value: row.value?,
        unit: row.unit.clone(),
        u: row.u,
        method: row.method.clone(),
        place: row.place.clone(),
        quantity: None,
        shared: None,
        worse_when,
        // A table names no condition: a length that grows is taken for a crack's, as in `law`.
        never_shrinks: worse_when == WorseWhen::Larger
            && row
                .unit
                .as_deref()
                .and_then(|unit| unit.parse::<Unit>().ok())
                .is_none_or(|unit| unit.dimension() == Dimension::Length),
    })
}

/// A length that gets worse by growing is taken for a crack's: its rate rises with its size.
fn law(last: &Reading, worse_when: WorseWhen) -> Law {
    let length = last.unit.as_deref().is_none_or(|unit| {
        unit.parse::<Unit>()
            .is_ok_and(|unit| unit.dimension() == Dimension::Length)
    });
    if length && worse_when == WorseWhen::Larger {
        Law::Crack
    } else {
        Law::Line
    }
}

/// The limit in its own unit, which converts to the readings'.
fn limit(text: &str, last: &Reading) -> Result<(Rational, Option<String>)> {
    let trimmed = text.trim();
    let end = trimmed
        .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '/' | '-' | ' ')))
        .unwrap_or(trimmed.len());
    let (figure, unit) = trimmed.split_at(end);
    let value = series::number(figure.trim()).map_err(|error| error.at("limit"))?;
    let unit = if unit.trim().is_empty() {
        last.unit.clone()
    } else {
        let unit: Unit = unit.parse().map_err(|error: Error| error.at("limit"))?;
        Some(unit.symbol().to_owned())
    };
    if value.is_negative() {
        return Err(Error::new(ErrorKind::BadValue, "a limit is not below zero").at("limit"));
    }
    let (from, to) = (unit.as_deref(), last.unit.as_deref());
    if significance::convert(&value, from, to, false).is_none() {
        return Err(Error::new(
            ErrorKind::BadValue,
            format!(
                "a limit in {} does not fit readings in {}",
                from.unwrap_or("no unit"),
                to.unwrap_or("no unit")
            ),
        )
        .at("limit")
        .hint("give the limit in a unit of the readings"));
    }
    Ok((value, unit))
}

/// The readings that may be set against the last one: same place, a unit that converts.
struct Comparable<'a> {
    rows: Vec<(&'a Row, f64, Option<f64>)>,
    last: &'a Reading,
}

impl<'a> Comparable<'a> {
    fn new(rows: &'a [Row], readings: &[(usize, Reading)], last: &'a Reading) -> Self {
        let rows = readings
            .iter()
            .filter_map(|(at, reading)| {
                if significance::differ(reading.place.as_deref(), last.place.as_deref()) {
                    return None;
                }
                let (from, to) = (reading.unit.as_deref(), last.unit.as_deref());
                let value = significance::convert(&reading.value, from, to, false)?.to_f64();
                let scale = significance::convert(&Rational::whole(1), from, to, true)?.to_f64();
                Some((rows.get(*at)?, value, reading.u.map(|u| u * scale)))
            })
            .collect();
        Self { rows, last }
    }

    /// Readings with an uncertainty on `axis`, larger is worse.
    fn points(&self, axis: Axis, worse_when: WorseWhen) -> Vec<Point> {
        self.rows
            .iter()
            .filter_map(|(row, value, u)| {
                Some(Point {
                    x: row.on(axis)?,
                    y: worse_when.towards_worse(*value),
                    u: (*u)?,
                })
            })
            .collect()
    }

    /// The axis with the most readings; among equals, another than hours only if the growth law
    /// fits clearly better on it.
    fn best_axis(&self, law: Law, worse_when: WorseWhen) -> Option<Axis> {
        let count = |axis| self.rows.iter().filter(|r| r.0.on(axis).is_some()).count();
        let axes = [Axis::Hours, Axis::Landings, Axis::Days];
        let most = axes.into_iter().map(count).max().filter(|most| *most > 0)?;
        let mut best: Option<(Axis, Option<f64>)> = None;
        for axis in axes.into_iter().filter(|axis| count(*axis) == most) {
            let misfit = window::misfit_of(&self.points(axis, worse_when), law);
            let better = match &best {
                None => true,
                // A likelihood ratio of e: less is chance.
                Some((_, Some(before))) => misfit.is_some_and(|now| now + 2.0 < *before),
                Some((_, None)) => misfit.is_some(),
            };
            if better {
                best = Some((axis, misfit));
            }
        }
        best.map(|b| b.0)
    }

    fn trend(&self, axis: Option<Axis>) -> Trend {
        let points: Vec<(f64, f64, Option<f64>)> = axis
            .map(|axis| {
                self.rows
                    .iter()
                    .filter_map(|(row, value, u)| Some((row.on(axis)?, *value, *u)))
                    .collect()
            })
            .unwrap_or_default();
        let pairs: Vec<(f64, f64)> = points.iter().map(|p| (p.0, p.1)).collect();
        let values: Vec<f64> = points.iter().map(|p| p.1).collect();
        let enough = points.len() >= 3;
        let slope = enough.then(|| trend::theil_sen(&pairs)).flatten();
        let zero = match axis {
            // Dates have no natural zero; the first reading keeps the digits.
            Some(Axis::Days) => pairs.first().map_or(0.0, |p| p.0),
            _ => 0.0,
        };
        let weighed: Vec<(f64, f64, f64)> = points
            .iter()
            .filter_map(|p| Some((p.0 - zero, p.1, p.2?)))
            .collect();
        Trend {
            theil_sen: slope.map(|s| s.slope),
            ci: slope
                .and_then(|s| s.interval)
                .map(|(low, high)| [low, high]),
            mann_kendall_p: enough.then(|| trend::mann_kendall_p(&values)).flatten(),
            n: points.len(),
            unit: self.last.unit.clone(),
            against: axis,
            weighted: (weighed.len() >= 3)
                .then(|| trend::weighted_line(&weighed))
                .flatten(),
        }
    }

    fn window(
        &self,
        limit: Rational,
        unit: Option<String>,
        axis: Option<Axis>,
        law: Law,
        worse_when: WorseWhen,
    ) -> std::result::Result<LimitWindow, String> {
        let to = self.last.unit.as_deref();
        let target = significance::convert(&limit, unit.as_deref(), to, false)
            .map(|limit| worse_when.towards_worse(limit.to_f64()))
            .ok_or("the limit does not convert to the readings' unit")?;
        if self
            .rows
            .iter()
            .any(|r| worse_when.towards_worse(r.1) >= target)
        {
            return Err("a reading has already reached the limit".to_owned());
        }
        let axis = axis.ok_or("no row says when, in hours, landings or days")?;
        let points = self.points(axis, worse_when);
        if points.len() < 3 {
            return Err(format!(
                "a window needs at least three comparable readings with an uncertainty and with {}; there {} {}",
                axis.word(),
                if points.len() == 1 { "is" } else { "are" },
                points.len()
            ));
        }
        let window = window::estimate(&points, target, law)?;
        let at = |x: f64, late: bool| match axis {
            Axis::Days => At::Date(series::iso_date(if late { x.ceil() } else { x.floor() })),
            _ => At::Number(x),
        };
        Ok(LimitWindow {
            limit: limit.to_f64(),
            unit,
            against: axis,
            earliest: at(window.earliest, false),
            latest: window.latest.map(|x| at(x, true)),
            coverage: COVERAGE,
            model: match law {
                Law::Crack => format!(
                    "growth rate rises with size to a power; every power from -1 to 6 weighed by the readings (mean {:.1})",
                    window.exponent
                ),
                Law::Line => "weighted straight line".to_owned(),
            },
            caution: CAUTION.to_owned(),
        })
    }
}

impl Growth {
    /// For people, at a terminal.
    pub fn to_text(&self) -> String {
        let mut text = String::new();
        if let [only] = self.units.as_slice() {
            text.push_str("one reading");
            if let Some(unit) = only {
                text.push_str(&format!(" in {unit}"));
            }
            text.push_str(": nothing to compare\n");
        }
        for (title, steps) in [
            ("Against the one before", &self.steps),
            ("Against the first", &self.against_first),
        ] {
            if steps.is_empty() || (title == "Against the first" && steps.len() == 1) {
                continue;
            }
            text.push_str(title);
            text.push('\n');
            for step in steps {
                let unit = self.units.get(step.to).and_then(|u| u.as_deref());
                text.push_str(&format!(
                    "  row {} to {}: {}\n",
                    step.from,
                    step.to,
                    said(&step.change, unit)
                ));
            }
        }
        text.push_str(&self.trend.to_text());
        match (&self.window, &self.no_window_because) {
            (Some(window), _) => text.push_str(&window.to_text()),
            (None, Some(why)) => text.push_str(&format!("No window: {why}.\n")),
            (None, None) => {}
        }
        text
    }
}

/// A change in words: `worse by 3.2 mm (U 0.6)`, `no change shown; up to 1.2 mm possible`.
pub fn said(change: &Change, unit: Option<&str>) -> String {
    let unit = unit.map(|unit| format!(" {unit}")).unwrap_or_default();
    let big_u = change.big_u.unwrap_or(0.0);
    let figure = |value: f64| figure(value, big_u);
    let difference = figure(change.difference.unwrap_or(0.0).abs());
    let mut words = match change.change {
        ChangeKind::Worse => format!("worse by {difference}{unit} (U {})", figure(big_u)),
        ChangeKind::Less => format!("less by {difference}{unit} (U {})", figure(big_u)),
        ChangeKind::Same => format!(
            "no change shown; up to {}{unit} possible",
            figure(change.could_hide.unwrap_or(big_u))
        ),
        ChangeKind::NotComparable => "not comparable".to_owned(),
    };
    if !change.why.is_empty() {
        words.push_str(&format!(" ({})", change.why));
    }
    words
}

/// A figure with no more digits than two of its uncertainty (JCGM 100:2008, 7.2.6).
fn figure(value: f64, u: f64) -> String {
    let of = if u > 0.0 { u } else { value.abs() };
    let places = if of > 0.0 {
        (1.0 - of.log10().floor()).clamp(0.0, 9.0) as usize
    } else {
        0
    };
    format!("{value:.places$}")
}

impl Trend {
    fn to_text(&self) -> String {
        let (Some(slope), Some(axis)) = (self.theil_sen, self.against) else {
            return match self.against {
                None => "Trend: no row says when, in hours, landings or days.\n".to_owned(),
                Some(axis) => format!(
                    "Trend: {} comparable with {}; it takes three.\n",
                    if self.n == 1 {
                        "one reading is".to_owned()
                    } else {
                        format!("{} readings are", self.n)
                    },
                    axis.word()
                ),
            };
        };
        let per = match axis {
            Axis::Hours => "hour",
            Axis::Landings => "landing",
            Axis::Days => "day",
        };
        let unit = self
            .unit
            .as_deref()
            .map(|u| format!(" {u}"))
            .unwrap_or_default();
        let mut text = match self.ci {
            Some([low, high]) => {
                let spread = (high - low) / 2.0;
                format!(
                    "Trend over {} readings: {}{unit} per {per} (95 %: {} to {})",
                    self.n,
                    figure(slope, spread),
                    figure(low, spread),
                    figure(high, spread)
                )
            }
            None => format!(
                "Trend over {} readings: {}{unit} per {per}",
                self.n,
                figure(slope, 0.0)
            ),
        };
        if let Some(p) = self.mann_kendall_p {
            text.push_str(&format!(", Mann–Kendall p = {}", figure(p, 0.0)));
        }
        text.push('\n');
        text
    }
}

impl LimitWindow {
    /// For people, at a terminal.
    pub fn to_text(&self) -> String {
        let unit = self
            .unit
            .as_deref()
            .map(|u| format!(" {u}"))
            .unwrap_or_default();
        let width = match (&self.earliest, &self.latest) {
            (At::Number(a), Some(At::Number(b))) => b - a,
            (At::Number(a), _) => a.abs() / 10.0,
            _ => 0.0,
        };
        let show = |at: &At| match at {
            At::Date(date) => date.clone(),
            At::Number(x) => format!("{} {}", figure(*x, width), self.against.word()),
        };
        let end = match &self.latest {
            Some(latest) => format!("and {}", show(latest)),
            None => "and an end that these readings leave open".to_owned(),
        };
        format!(
            "Your limit of {}{unit} may be reached between {} {end} (90 %; {}).\n{}\n",
            self.limit,
            show(&self.earliest),
            self.model,
            self.caution
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn ask(limit: Option<&str>) -> Ask {
        Ask {
            limit: limit.map(str::to_owned),
            ..Ask::default()
        }
    }

    /// Invented, so that the answer is known: 1 mm in 10 h, measured to 0.1 mm.
    const SERIES: &str = "date,hours,value,unit,u,method,place\n\
        2026-01-01,100,10,mm,0.1,ruler,a\n2026-02-01,110,11,mm,0.1,ruler,a\n\
        2026-03-01,120,12.0,mm,0.1,card,a\n2026-04-01,130,13.05,mm,0.1,card,a\n";

    #[test]
    fn a_growing_series() {
        let shown = growth(SERIES.as_bytes(), &ask(Some("0.6 in"))).unwrap();
        assert_eq!(shown.steps.len(), 3);
        assert!(
            shown
                .steps
                .iter()
                .all(|s| s.change.change == ChangeKind::Worse)
        );
        assert!(shown.steps[1].change.why.contains("ruler then card"));
        assert_eq!(shown.against_first[2].from, 0);
        assert_eq!(shown.trend.n, 4);
        assert!((shown.trend.theil_sen.unwrap() - 0.1).abs() < 0.002);
        let window = shown.window.clone().unwrap();
        assert_eq!((window.limit, window.unit.as_deref()), (0.6, Some("in")));
        // 15.24 mm on the straight line: near 151 h.
        let (At::Number(early), Some(At::Number(late))) = (window.earliest, window.latest) else {
            panic!("a window in hours with both ends");
        };
        assert!(
            early > 130.0 && early < 151.0 && late > 145.0,
            "{early} {late}"
        );
        assert!(shown.to_text().contains("Growth can speed up"));
    }

    #[test]
    fn no_window_says_why() {
        let why = |table: &str, limit: Option<&str>| {
            let shown = growth(table.as_bytes(), &ask(limit)).unwrap();
            assert!(shown.window.is_none(), "{table}");
            shown.no_window_because.unwrap()
        };
        assert!(why(SERIES, None).contains("no limit"));
        assert!(why(SERIES, Some("12 mm")).contains("already"));
        assert!(why(SERIES, Some("9 m")).contains("further ahead"));
        assert!(
            why("hours,value,unit,u\n1,2,mm,0.1\n2,3,mm,0.1\n", Some("5 mm")).contains("three")
        );
        assert!(
            why("hours,value,unit\n1,2,mm\n2,3,mm\n3,4,mm\n", Some("5 mm")).contains("uncertainty")
        );
        assert!(why("value,u\n1,1\n2,1\n3,1\n", Some("50")).contains("says when"));
        assert!(
            why(
                "hours,value,unit,u\n1,2,mm,1\n2,2,mm,1\n3,2.1,mm,1\n",
                Some("5 mm")
            )
            .contains("do not show growth")
        );
    }

    #[test]
    fn a_limit_that_cannot_be_is_an_error() {
        for limit in ["12 psi", "-3 mm", "mm", "", "3 furlong"] {
            let error = growth(SERIES.as_bytes(), &ask(Some(limit))).unwrap_err();
            assert_eq!(error.place, "limit", "{limit}");
        }
    }

    #[test]
    fn rows_without_a_value_are_stepped_over() {
        let shown = growth(b"hours,value,u\n1,2,0.1\n2,,\n3,4,0.1\n4,5,\n", &ask(None)).unwrap();
        let pairs: Vec<_> = shown
            .steps
            .iter()
            .map(|s| (s.from, s.to, s.change.change))
            .collect();
        assert_eq!(
            pairs,
            [(0, 2, ChangeKind::Worse), (2, 3, ChangeKind::NotComparable)]
        );
        assert_eq!(shown.trend.n, 3);
    }

    #[test]
    fn days_come_back_as_dates() {
        let mut days = ask(Some("15 mm"));
        days.against = Some(Axis::Days);
        let shown = growth(SERIES.as_bytes(), &days).unwrap();
        let window = shown.window.unwrap();
        assert!(matches!(window.earliest, At::Date(ref date) if date.starts_with("2026-0")));
    }

    #[test]
    fn worn_down_to_a_limit() {
        let mut worn = ask(Some("1.6 mm"));
        worn.worse_when = WorseWhen::Smaller;
        let table = b"landings,value,unit,u\n0,6,mm,0.1\n50,5,mm,0.1\n100,4,mm,0.1\n150,3,mm,0.1\n";
        let shown = growth(table, &worn).unwrap();
        let window = shown.window.unwrap();
        let (At::Number(early), Some(At::Number(late))) = (window.earliest, window.latest) else {
            panic!("both ends");
        };
        // The line reaches 1.6 mm at 220 landings.
        assert!(
            early < 220.0 && late > 220.0 && late - early < 60.0,
            "{early} {late}"
        );
        assert_eq!(window.model, "weighted straight line");
    }

    proptest! {
        #[test]
        fn any_series_is_answered(rows in prop::collection::vec((0u32..40, 1u32..5000, 0u32..200), 1..12), limit in 1u32..10_000) {
            let mut hours = 0;
            let mut table = String::from("hours,value,unit,u\n");
            for (step, value, u) in rows {
                hours += step;
                table.push_str(&format!("{hours},{}.{:02},mm,0.{u:03}\n", value / 100, value % 100));
            }
            let shown = growth(table.as_bytes(), &ask(Some(&format!("{}.{} mm", limit / 10, limit % 10)))).unwrap();
            prop_assert_eq!(shown.window.is_none(), shown.no_window_because.is_some());
            if let Some(LimitWindow { earliest: At::Number(early), latest: Some(At::Number(late)), .. }) = &shown.window {
                prop_assert!(early.is_finite() && late >= early);
            }
            prop_assert!(!shown.to_text().contains("NaN"));
        }
    }
}
