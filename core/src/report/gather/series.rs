//! A finding's measures as series to draw: each quantity by itself, in one unit, against one axis.

use super::Source;
use crate::history::compare;
use crate::history::meters;
use crate::history::state::{Finding, Sighting};
use crate::quantity::{Rational, Unit};
use crate::record::kinds::Measure;
use crate::report::Against;
use crate::report::content::{Point, Series};
use crate::report::words::{self, plain};

fn number(text: &str) -> Option<Rational> {
    text.parse().ok()
}

fn figure(text: &Option<String>) -> Option<f64> {
    text.as_deref().and_then(number).map(|n| n.to_f64())
}

/// The axis to draw against, and why it is not the one asked for. Hours only where all are of one
/// meter: an hour on a tachometer is no hour on an hour meter.
fn axis(asked: Option<Against>, rows: &[(&Sighting, &Measure)]) -> (Against, Option<String>) {
    let meter = rows.last().map_or("", |(s, _)| s.axis.as_str());
    let without = |has: &dyn Fn(&Sighting) -> bool| rows.iter().filter(|(s, _)| !has(s)).count();
    let timed = |s: &Sighting| figure(&s.hours).is_some();
    let no_hours = without(&timed);
    let other_meter = rows
        .iter()
        .filter(|(s, _)| timed(s) && s.axis != meter)
        .count();
    let no_landings = without(&|s: &Sighting| figure(&s.landings).is_some());
    let hours = no_hours == 0 && other_meter == 0;
    let fallback = |what: &str| {
        (
            Against::Days,
            Some(format!("not drawn against {what}, so against days")),
        )
    };
    let of_all = |missing: usize| format!("{missing} of {} readings", rows.len());
    match asked {
        Some(Against::Hours) if !hours && no_hours > 0 => {
            fallback(&format!("hours: {} carry none", of_all(no_hours)))
        }
        Some(Against::Hours) if !hours => fallback(&format!(
            "hours: {} are of another meter than the last",
            of_all(other_meter)
        )),
        Some(Against::Landings) if no_landings > 0 => {
            fallback(&format!("landings: {} carry none", of_all(no_landings)))
        }
        Some(asked) => (asked, None),
        None if hours => (Against::Hours, None),
        None if no_landings == 0 => (Against::Landings, None),
        None => (Against::Days, None),
    }
}

/// Measures by quantity, in one unit each: the one of the last reading, or the reader's.
pub(super) fn of(source: &Source<'_>, found: &Finding) -> Vec<Series> {
    let counted = || {
        found
            .sightings
            .iter()
            .filter(|sighting| compare::counts(sighting))
    };
    let mut quantities: Vec<&str> = Vec::new();
    for measure in counted().flat_map(Sighting::standing) {
        if !quantities.contains(&measure.quantity.as_str()) {
            quantities.push(&measure.quantity);
        }
    }
    quantities
        .into_iter()
        .filter_map(|quantity| {
            let rows: Vec<(&Sighting, &Measure)> = counted()
                .filter_map(|sighting| Some((sighting, sighting.standing_of(quantity)?)))
                .collect();
            one(source, found, quantity, &rows)
        })
        .collect()
}

fn one(
    source: &Source<'_>,
    found: &Finding,
    quantity: &str,
    rows: &[(&Sighting, &Measure)],
) -> Option<Series> {
    let (last, measure) = rows.last()?;
    let unit = measure.unit.parse::<Unit>().ok()?;
    let unit = words::other_unit(unit, source.ask.units).unwrap_or(unit);
    let (against, note) = axis(source.ask.against, rows);
    let start = rows.first().map_or(0, |(s, _)| s.told.order_us);
    let points: Vec<Point> = rows
        .iter()
        .filter_map(|(sighting, measure)| {
            let own = measure.unit.parse::<Unit>().ok()?;
            let value = own.convert(&number(&measure.value)?, unit).ok()?;
            let spread = measure
                .u
                .as_deref()
                .and_then(number)
                .and_then(|u| own.convert_difference(&u, unit).ok())
                .map(|u| 2.0 * u.to_f64());
            Some(Point {
                x: match against {
                    Against::Hours => figure(&sighting.hours)?,
                    Against::Landings => figure(&sighting.landings)?,
                    Against::Days => (sighting.told.order_us - start) as f64 / 86_400e6,
                },
                date: sighting.told.seen.date().to_owned(),
                value: value.to_f64(),
                spread,
                series: sighting.series,
                says: words::size(measure, source.ask.units),
            })
        })
        .collect();
    if points.is_empty() {
        return None;
    }
    let limit = found.limit.as_ref().and_then(|(of, value, own, _)| {
        let own: Unit = own.parse().ok()?;
        (of == quantity)
            .then(|| own.convert(&number(value)?, unit).ok())
            .flatten()
            .map(|limit| limit.to_f64())
    });
    Some(Series {
        quantity: plain(quantity),
        unit: unit.shown().to_owned(),
        against,
        meter: (against == Against::Hours).then(|| meters::shown(&last.axis).to_owned()),
        note,
        points,
        limit,
    })
}
