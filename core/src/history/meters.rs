//! Clocks and counters: what each read when, and the total that it continues.
//!
//! A meter's total is its reading plus its offset. One that replaces another carries an offset, so
//! that the total runs on; both belong to one *axis*, named by the meter that was first. Readings
//! without a meter are the airframe's own total time and landings. Figures of two axes are never
//! set against one another: an hour on a tachometer is not an hour on an hour meter (trade-facts 9).
//! A meter of total time, and one of landings, gives through its offset what is said without a meter:
//! both are one axis.

use serde::Serialize;

use super::state::Told;
use crate::quantity::Rational;
use crate::record::Digest;
use crate::record::kinds::{MeterFitted, MeterRead};

/// The axis of hours for which no meter is named.
pub const TOTAL_TIME: &str = "total time";
/// The axis of landings for which no meter is named.
pub const LANDINGS: &str = "landings";

/// The name of an axis as people read it: airframe total time only where that is what was read, or
/// what a meter of total time gives through its offset; else the meter's own name.
pub fn shown(axis: &str) -> &str {
    match axis {
        "" | TOTAL_TIME => "airframe total time",
        other => other,
    }
}

/// `3120.4 h` of total time; `812.3 h on tach` of another meter.
pub fn hours_words(hours: &str, axis: &str) -> String {
    match axis {
        "" | TOTAL_TIME => format!("{hours} h"),
        meter => format!("{hours} h on {meter}"),
    }
}

/// A meter.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Meter {
    /// The line that fitted it.
    pub id: Digest,
    /// Name that people use.
    pub name: String,
    /// tachometer, hour_meter, total_time, landings.
    pub meter: String,
    /// What it read when it was fitted.
    pub reading: String,
    /// Added to its readings to give the total.
    pub offset: String,
    /// The meter it replaces.
    pub replaces: Option<Digest>,
    /// The meter that replaced it.
    pub replaced_by: Option<Digest>,
    /// The axis: the name of the first meter of those that replaced one another.
    pub axis: String,
    /// Who and when.
    pub told: Told,
}

/// A meter read.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct MeterReading {
    /// Who and when.
    pub told: Told,
    /// The meter; none for total time or landings without one.
    pub meter: Option<Digest>,
    /// The axis that it counts on.
    pub axis: String,
    /// As it was read.
    pub reading: String,
    /// Reading and offset together, decimal.
    pub total: String,
    /// Walkaround it belongs to.
    pub walkaround: Option<Digest>,
    /// True if an earlier reading on the same axis was higher.
    pub backwards: bool,
}

/// All meters and their readings, in order.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Meters {
    pub(super) fitted: Vec<Meter>,
    pub(super) read: Vec<MeterReading>,
}

/// A figure as decimal text, exact.
pub(crate) fn plain(figure: &Rational) -> String {
    figure.to_decimal().unwrap_or_else(|| figure.to_string())
}

/// Reading and offset together; the reading itself where either is no number.
pub fn total(reading: &str, offset: &str) -> String {
    let sum = || -> Option<Rational> {
        reading
            .parse::<Rational>()
            .ok()?
            .add(&offset.parse::<Rational>().ok()?)
    };
    sum().map_or_else(|| reading.to_owned(), |sum| plain(&sum))
}

impl Meters {
    pub(super) fn fit(&mut self, told: &Told, body: &MeterFitted) {
        let before = body
            .replaces
            .and_then(|id| self.fitted.iter().position(|meter| meter.id == id));
        let axis = before.and_then(|at| self.fitted.get(at)).map_or_else(
            // A meter of total time or of landings counts what is counted without a meter too.
            || match body.meter.as_str() {
                "total_time" => TOTAL_TIME.to_owned(),
                "landings" => LANDINGS.to_owned(),
                _ => body.name.clone(),
            },
            |meter| meter.axis.clone(),
        );
        if let Some(old) = before.and_then(|at| self.fitted.get_mut(at)) {
            old.replaced_by = Some(told.line);
        }
        let meter = Meter {
            id: told.line,
            name: body.name.clone(),
            meter: body.meter.clone(),
            reading: body.reading.clone(),
            offset: body.offset.clone(),
            replaces: body.replaces,
            replaced_by: None,
            axis: axis.clone(),
            told: told.clone(),
        };
        self.note(told, Some(&meter), axis, &body.reading, None);
        self.fitted.push(meter);
    }

    /// Axis and total of a reading.
    pub(super) fn of(
        &self,
        meter: Option<Digest>,
        quantity: &str,
        reading: &str,
    ) -> (String, String) {
        match meter.and_then(|id| self.fitted.iter().find(|meter| meter.id == id)) {
            Some(meter) => (meter.axis.clone(), total(reading, &meter.offset)),
            None if quantity == "landings" => (LANDINGS.to_owned(), reading.to_owned()),
            None => (TOTAL_TIME.to_owned(), reading.to_owned()),
        }
    }

    pub(super) fn take(&mut self, told: &Told, body: &MeterRead) {
        let meter = body
            .meter
            .and_then(|id| self.fitted.iter().find(|meter| meter.id == id))
            .cloned();
        let (axis, _) = self.of(body.meter, body.quantity.as_deref().unwrap_or(""), "0");
        self.note(told, meter.as_ref(), axis, &body.reading, body.walkaround);
    }

    pub(super) fn note(
        &mut self,
        told: &Told,
        meter: Option<&Meter>,
        axis: String,
        reading: &str,
        walkaround: Option<Digest>,
    ) {
        let total = meter.map_or_else(|| reading.to_owned(), |meter| total(reading, &meter.offset));
        let number = |text: &str| text.parse::<Rational>().ok();
        let backwards = number(&total).is_some_and(|now| {
            self.read
                .iter()
                .rev()
                .filter(|earlier| earlier.axis == axis)
                .filter_map(|earlier| number(&earlier.total))
                .take(1)
                .any(|before| before > now)
        });
        self.read.push(MeterReading {
            told: told.clone(),
            meter: meter.map(|meter| meter.id),
            axis,
            reading: reading.to_owned(),
            total,
            walkaround,
            backwards,
        });
    }
}

/// The last total on an axis at or before an instant, and the first after it.
pub fn around<'a>(
    read: &'a [MeterReading],
    axis: &str,
    order_us: i64,
) -> (Option<&'a MeterReading>, Option<&'a MeterReading>) {
    let on_axis = || read.iter().filter(|reading| reading.axis == axis);
    (
        on_axis().rfind(|reading| reading.told.order_us <= order_us),
        on_axis().find(|reading| reading.told.order_us > order_us),
    )
}

/// The last total on an axis.
pub fn last<'a>(read: &'a [MeterReading], axis: &str) -> Option<&'a MeterReading> {
    read.iter().rfind(|reading| reading.axis == axis)
}

/// The last total of every axis, in the order in which they were first read.
pub fn totals(read: &[MeterReading]) -> Vec<&MeterReading> {
    let mut axes: Vec<&str> = Vec::new();
    for reading in read {
        if !axes.contains(&reading.axis.as_str()) {
            axes.push(&reading.axis);
        }
    }
    axes.iter().filter_map(|axis| last(read, axis)).collect()
}

/// Readings that stand below an earlier one of their axis, in words: said, since either may be wrong.
pub fn backwards_words(read: &[MeterReading], who: &dyn Fn(&Digest) -> String) -> Vec<String> {
    read.iter()
        .filter(|reading| reading.backwards)
        .map(|reading| {
            format!(
                "{} runs backwards: {} on {} ({}), more before; one of the two is wrong",
                shown(&reading.axis),
                reading.total,
                reading.told.seen.date(),
                who(&reading.told.author)
            )
        })
        .collect()
}

/// The last total of every meter of hours that is not airframe total time, in order of fitting.
pub fn others<'a>(fitted: &[Meter], read: &'a [MeterReading]) -> Vec<&'a MeterReading> {
    let mut axes: Vec<&str> = Vec::new();
    for meter in fitted {
        let axis = meter.axis.as_str();
        if axis != TOTAL_TIME && axis != LANDINGS && !axes.contains(&axis) {
            axes.push(axis);
        }
    }
    axes.iter().filter_map(|axis| last(read, axis)).collect()
}
