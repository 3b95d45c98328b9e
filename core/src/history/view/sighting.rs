//! One sighting, as shown.

use super::super::compare::Compared;
use super::super::meters;
use super::super::significance::{Change, ChangeKind};
use super::super::state::Sighting;
use super::shapes::{MeasureView, SightingView};
use super::words::measure_text;
use crate::quantity::Rational;
use crate::record::Digest;
use crate::record::kinds::Measure;

fn number(text: &str) -> Option<f64> {
    text.parse::<Rational>().ok().map(|value| value.to_f64())
}

fn measure_view(measure: &Measure, compared: Option<&Compared<'_>>) -> MeasureView {
    MeasureView {
        quantity: measure.quantity.clone(),
        says: measure_text(measure),
        value: number(&measure.value),
        u: measure.u.as_deref().and_then(number),
        unit: measure.unit.clone(),
        before: compared.and_then(|one| one.before.clone()),
        first: compared.and_then(|one| one.first.clone()),
    }
}

/// How far a change went towards worse, in uncertainties; what cannot be compared says least.
fn weight(change: Option<&Change>) -> f64 {
    change.map_or(f64::NEG_INFINITY, |change| match change.change {
        ChangeKind::NotComparable => -1.0,
        ChangeKind::Worse => {
            change.difference.unwrap_or(0.0).abs()
                / (change.big_u.unwrap_or(f64::INFINITY) / 2.0).max(1e-9)
        }
        _ => 0.0,
    })
}

/// `compared` holds the measures of this sighting in their order, where it counts.
pub(super) fn sighting_view(
    sighting: &Sighting,
    compared: &[Compared<'_>],
    who: &dyn Fn(&Digest) -> String,
) -> SightingView {
    let mut words: Vec<String> = Vec::new();
    if let Some(step) = &sighting.step {
        words.push(step.replace('_', " "));
    }
    words.extend(sighting.measures.iter().map(measure_text));
    if let Some(why) = &sighting.why {
        words.push(why.clone());
    }
    if let Some(text) = &sighting.text {
        words.push(format!("“{text}”"));
    }
    let measures: Vec<MeasureView> = sighting
        .measures
        .iter()
        .enumerate()
        .map(|(at, measure)| measure_view(measure, compared.get(at)))
        .collect();
    let mut lead = measures.first();
    for one in &measures {
        if lead.is_none_or(|lead| weight(one.first.as_ref()) > weight(lead.first.as_ref())) {
            lead = Some(one);
        }
    }
    let by = who(&sighting.told.author);
    SightingView {
        line: sighting.told.line,
        date: sighting.told.seen.date().to_owned(),
        hours: sighting.hours.clone(),
        meter: sighting
            .hours
            .as_ref()
            .map(|_| meters::shown(&sighting.axis).to_owned()),
        result: sighting.result.clone(),
        says: words.join("; "),
        quantity: lead.map(|one| one.quantity.clone()),
        value: lead.and_then(|one| one.value),
        u: lead.and_then(|one| one.u),
        unit: lead.map(|one| one.unit.clone()),
        before: lead.and_then(|one| one.before.clone()),
        first: lead.and_then(|one| one.first.clone()),
        measures,
        step_before: None,
        step_first: None,
        series: sighting.series,
        evidence: sighting.evidence.clone(),
        late: sighting.late,
        recognised: sighting.late.then(|| {
            (
                sighting.told.at.get(..10).unwrap_or("").to_owned(),
                by.clone(),
            )
        }),
        by,
    }
}
