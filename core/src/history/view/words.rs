//! Measures, changes and trends in words, no more digits than their uncertainty carries.

use super::super::finding_growth::{NamedTrend, left_out_words};
use super::super::meters;
use super::super::series::Axis;
use super::super::significance::{Change, ChangeKind};
use super::shapes::Said;
use crate::quantity::{Rational, Unit, show, show_said};
use crate::record::kinds::Measure;

/// A measure in words: value with its uncertainty (k = 2), unit, method.
pub fn measure_text(measure: &Measure) -> String {
    // An answer that is no size: what was said, and the class that a document gives it.
    if measure.quantity == "answers" {
        let said: Vec<String> = measure
            .context
            .iter()
            .map(|(key, value)| format!("{} {value}", key.replace('_', " ")))
            .chain(measure.scale.clone())
            .collect();
        return said.join("; ");
    }
    let value = measure.value.parse::<Rational>();
    let unit = measure.unit.parse::<Unit>();
    let (Ok(value), Ok(unit)) = (value, unit) else {
        return format!("{} {} {}", measure.quantity, measure.value, measure.unit);
    };
    let u = measure
        .u
        .as_deref()
        .and_then(|u| u.parse::<Rational>().ok());
    let shown = show_said(&value, u.as_ref(), unit, measure.as_said.as_deref()).text;
    let to = measure
        .to
        .as_deref()
        .map(|to| format!(" to {to}"))
        .unwrap_or_default();
    let scale = measure
        .scale
        .as_deref()
        .map(|scale| format!("; {scale}"))
        .unwrap_or_default();
    format!(
        "{} {shown}{to} ({}){scale}",
        measure.quantity.replace('_', " "),
        measure.method.replace('_', " ")
    )
}

/// A change in words, no more digits than its uncertainty carries.
pub fn change_words(change: &Change, unit: &str) -> String {
    let difference = change.difference.unwrap_or(0.0).abs();
    let exact = |value: f64| format!("{value:.6}").parse::<Rational>().ok();
    let shown = |value: f64, u: Option<f64>| match (exact(value), unit.parse::<Unit>()) {
        (Some(value), Ok(unit)) => show(&value, u.and_then(exact).as_ref(), unit).text,
        _ => format!("{value:.2} {unit}"),
    };
    let with_u = || shown(difference, change.big_u.map(|big_u| big_u / 2.0));
    let note = if change.why.is_empty() {
        String::new()
    } else {
        format!(" ({})", change.why)
    };
    match change.change {
        ChangeKind::Worse => format!("worse by {}{note}", with_u()),
        ChangeKind::Less => format!("less by {}{note}", with_u()),
        ChangeKind::Same => {
            // An upper bound: two significant digits, rounded up.
            let hide = change.could_hide.unwrap_or(0.0).max(0.0);
            let place = 10f64.powf(hide.max(1e-9).log10().floor() - 1.0);
            let digits = usize::try_from((-place.log10().round()) as i64).unwrap_or(0);
            format!(
                "no change shown; up to {:.digits$} {unit} possible{note}",
                (hide / place - 1e-9).ceil() * place
            )
        }
        ChangeKind::NotComparable => format!("not comparable: {}", change.why),
    }
}

/// A part of a sentence in words; `change_in` writes the change itself, in whatever units.
pub fn said_words(said: &Said, change_in: &dyn Fn(&Change, &str) -> String) -> String {
    match said {
        Said::Text(text) => text.clone(),
        Said::Change {
            quantity,
            change,
            unit,
            over,
        } => {
            let named = quantity
                .as_ref()
                .map(|quantity| format!("{quantity}: "))
                .unwrap_or_default();
            format!("{named}{}{over}", change_in(change, unit))
        }
    }
}

/// A trend in one line, with what was measured, the meter that it is against and what it leaves out.
pub fn trend_words(trend: &NamedTrend) -> Option<String> {
    let slope = trend.trend.theil_sen?;
    let unit = trend.trend.unit.as_deref().unwrap_or("");
    let per = match (&trend.meter, trend.trend.against?) {
        (Some(meter), _) => format!("hour of {}", meters::shown(meter)),
        (None, Axis::Days) => "day".into(),
        (None, Axis::Landings) => "landing".into(),
        (None, Axis::Hours) => "hour".into(),
    };
    let interval = trend
        .trend
        .ci
        .map(|[low, high]| format!(", 95 % {low:.3} to {high:.3}"))
        .unwrap_or_default();
    let left_out = left_out_words(&trend.left_out)
        .map(|left_out| format!("; {left_out}"))
        .unwrap_or_default();
    Some(format!(
        "trend of {}: {slope:.3} {unit} per {per} (median slope of {} readings{interval}{left_out})",
        trend.quantity.replace('_', " "),
        trend.trend.n
    ))
}
