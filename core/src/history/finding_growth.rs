//! How a finding grows: the rows of one quantity's last series, its trend, and the window until the
//! user's own limit. What cannot be compared with the latest reading is left out, and said.

use serde::Serialize;

use super::compare;
use super::growth::{self, Ask, Growth};
use super::series::{Axis, Row};
use super::significance::{ChangeKind, WorseWhen};
use super::state::{Finding, Sighting};
use crate::layout::Layout;
use crate::quantity::{Rational, Unit};
use crate::record::kinds::Measure;

/// A reading that does not count, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LeftOut {
    /// Date.
    pub date: String,
    /// Why it is not set beside the latest.
    pub why: String,
}

/// The readings of one quantity that may be set beside one another.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Rows {
    /// In order of time.
    pub rows: Vec<Row>,
    /// The sightings that they are from, in the same order.
    pub dates: Vec<String>,
    /// The meter that their hours are of.
    pub axis: String,
    /// Readings that are not comparable with the latest, in order of time.
    pub left_out: Vec<LeftOut>,
}

fn number(text: &str) -> Option<Rational> {
    text.parse().ok()
}

/// The series that is running: that of the last sighting that found it there.
pub fn running(finding: &Finding) -> Option<usize> {
    finding
        .sightings
        .iter()
        .rev()
        .find(|sighting| compare::counts(sighting))
        .map(|sighting| sighting.series)
}

/// The quantities of the running series, in the order in which they were first measured.
pub fn quantities(finding: &Finding) -> Vec<&str> {
    let series = running(finding);
    let mut all: Vec<&str> = Vec::new();
    for measure in finding
        .sightings
        .iter()
        .filter(|sighting| compare::counts(sighting) && Some(sighting.series) == series)
        .flat_map(Sighting::standing)
    {
        if measure.quantity != "answers" && !all.contains(&measure.quantity.as_str()) {
            all.push(&measure.quantity);
        }
    }
    all
}

/// The rows of the running series of one quantity. Only readings that are comparable with the latest
/// of them count (the one rule of [`compare`]); hours of another meter are left out of a row: they do
/// not count the same hours.
pub fn rows(finding: &Finding, quantity: &str) -> Rows {
    let series = running(finding);
    let measured: Vec<(&Sighting, &Measure)> = finding
        .sightings
        .iter()
        .filter(|sighting| compare::counts(sighting) && Some(sighting.series) == series)
        .filter_map(|sighting| Some((sighting, sighting.standing_of(quantity)?)))
        .collect();
    let Some(latest) = measured
        .iter()
        .rev()
        .find(|(_, measure)| measure.u.is_some())
        .or(measured.last())
        .copied()
    else {
        return Rows::default();
    };
    let mut out = Rows {
        axis: latest.0.axis.clone(),
        ..Rows::default()
    };
    for (sighting, measure) in measured {
        let date = sighting.told.seen.date().to_owned();
        let change = compare::pair(&finding.condition, (sighting, measure), latest);
        if let Some(change) = change
            && change.change == ChangeKind::NotComparable
        {
            out.left_out.push(LeftOut {
                date,
                why: change.why,
            });
            continue;
        }
        out.dates.push(date);
        out.rows.push(Row {
            days: Some(sighting.told.order_us as f64 / 86_400e6),
            hours: sighting
                .hours
                .as_deref()
                .filter(|_| sighting.axis == latest.0.axis)
                .and_then(number),
            landings: sighting.landings.as_deref().and_then(number),
            value: number(&measure.value),
            unit: Some(measure.unit.clone()),
            u: measure.u.as_deref().and_then(number).map(|u| u.to_f64()),
            method: Some(measure.method.clone()),
            place: None,
        });
    }
    out
}

/// `2 readings are left out: 2026-01-02 (another ...)`; none where all count.
pub fn left_out_words(left_out: &[LeftOut]) -> Option<String> {
    let (count, be) = match left_out.len() {
        0 => return None,
        1 => ("1 reading".to_owned(), "is"),
        n => (format!("{n} readings"), "are"),
    };
    let each: Vec<String> = left_out
        .iter()
        .map(|one| format!("{} ({})", one.date, one.why))
        .collect();
    Some(format!(
        "{count} {be} left out, not comparable with the latest: {}",
        each.join("; ")
    ))
}

/// A trend with the quantity, the meter that it is against, and what it leaves out.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct NamedTrend {
    /// The figures.
    #[serde(flatten)]
    pub trend: growth::Trend,
    /// What was measured.
    pub quantity: String,
    /// The meter, where it is against hours.
    pub meter: Option<String>,
    /// Readings that are not comparable with the latest.
    pub left_out: Vec<LeftOut>,
}

/// The trend of a quantity's running series, from three comparable readings on.
pub fn trend(finding: &Finding, quantity: &str) -> Option<NamedTrend> {
    let rows = rows(finding, quantity);
    if rows.rows.len() < 3 {
        return None;
    }
    let ask = Ask {
        worse_when: compare::worse_when(&finding.condition, quantity)?,
        ..Ask::default()
    };
    let trend = growth::of_rows(&rows.rows, &ask).ok()?.trend;
    let meter = (trend.against == Some(Axis::Hours)).then_some(rows.axis);
    Some(NamedTrend {
        trend,
        quantity: quantity.to_owned(),
        meter,
        left_out: rows.left_out,
    })
}

/// A window with what it rests on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FindingWindow {
    /// The figures.
    #[serde(flatten)]
    pub window: growth::LimitWindow,
    /// The meter, where it is against hours.
    pub meter: Option<String>,
    /// Readings that are not comparable with the latest.
    pub left_out: Vec<LeftOut>,
}

/// The window until the user's own limit, only when asked for.
///
/// # Errors
/// In words, why there is none: no limit set; a place where none is given; what the readings lack.
pub fn window(finding: &Finding, layout: &Layout) -> Result<FindingWindow, String> {
    let Some((quantity, value, unit, _)) = &finding.limit else {
        return Err("no limit of yours is set: witnessmark limit".into());
    };
    if layout.zone(&finding.zone).is_none_or(|zone| zone.no_window) {
        return Err(
            "no growth window is given for this place: show it to licensed people before further flight"
                .into(),
        );
    }
    let rows = rows(finding, quantity);
    if rows.rows.is_empty() {
        return Err(format!(
            "no {} was measured since it was last treated",
            quantity.replace('_', " ")
        ));
    }
    let ask = Ask {
        limit: Some(format!("{value} {unit}")),
        worse_when: compare::worse_when(&finding.condition, quantity).unwrap_or(WorseWhen::Larger),
        ..Ask::default()
    };
    let left_out = left_out_words(&rows.left_out);
    let said = |why: String| match &left_out {
        Some(left_out) => format!("{why}; {left_out}"),
        None => why,
    };
    let Growth {
        window,
        no_window_because,
        ..
    } = growth::of_rows(&rows.rows, &ask).map_err(|error| said(error.to_string()))?;
    let window = window.ok_or_else(|| said(no_window_because.unwrap_or_default()))?;
    let meter = (window.against == Axis::Hours).then_some(rows.axis);
    Ok(FindingWindow {
        window,
        meter,
        left_out: rows.left_out,
    })
}

impl FindingWindow {
    /// For people, at a terminal.
    pub fn to_text(&self) -> String {
        let mut text = self.window.to_text();
        if let Some(meter) = &self.meter {
            text.push_str(&format!("Hours are of {}.\n", super::meters::shown(meter)));
        }
        if let Some(left_out) = left_out_words(&self.left_out) {
            text.push_str(&format!("{left_out}.\n"));
        }
        text
    }
}

/// Has the last size of a quantity in the running series reached a limit already?
pub fn reached(finding: &Finding, quantity: &str, value: &str, unit: &str) -> bool {
    let running = running(finding);
    let seen = || -> Option<bool> {
        let measure = finding
            .sightings
            .iter()
            .rev()
            .filter(|sighting| compare::counts(sighting) && Some(sighting.series) == running)
            .find_map(|sighting| sighting.standing_of(quantity))?;
        let from: Unit = measure.unit.parse().ok()?;
        let seen = from
            .convert(&number(&measure.value)?, unit.parse().ok()?)
            .ok()?
            .to_f64();
        let limit = number(value)?.to_f64();
        let worse = compare::worse_when(&finding.condition, quantity)?;
        Some(worse.towards_worse(seen) >= worse.towards_worse(limit))
    };
    seen().unwrap_or(false)
}
