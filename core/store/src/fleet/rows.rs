//! Rows from notebooks.

use super::si;
use witnessmark_core::Result;
use witnessmark_core::notebook::Notebook;
use witnessmark_core::quantity::{Rational, Unit};
use witnessmark_core::record::kinds::Measure;

/// One sighting of one finding.
#[derive(Debug, Clone, PartialEq, Default)]
#[allow(missing_docs)] // the table in the module's documentation says what each column holds
pub struct SightingRow {
    pub aircraft: String,
    pub registration: String,
    pub kind: String,
    pub zone: String,
    pub zone_name: String,
    pub condition: String,
    pub finding: String,
    /// `YYYY-MM-DD`.
    pub date: String,
    pub hours: Option<f64>,
    pub result: String,
    pub quantity: Option<String>,
    pub method: Option<String>,
    pub value: Option<f64>,
    pub u: Option<f64>,
    pub unit: Option<String>,
    pub value_written: Option<f64>,
    pub unit_written: Option<String>,
    pub series: i32,
    pub open: bool,
    pub concern: Option<String>,
    pub late: bool,
}

impl SightingRow {
    /// Fills the columns of the measure: as it was written, and in the one unit of its dimension, so
    /// that a column can be compared. What cannot be converted has no `value`.
    pub fn measured(
        &mut self,
        quantity: &str,
        method: &str,
        value: &Rational,
        u: Option<&Rational>,
        unit: Unit,
    ) {
        let to = si::unit(unit);
        self.quantity = Some(quantity.to_owned());
        self.method = Some(method.to_owned());
        self.value_written = Some(value.to_f64());
        self.unit_written = Some(unit.symbol().to_owned());
        self.value = unit.convert(value, to).ok().map(|value| value.to_f64());
        self.u = u
            .and_then(|u| unit.convert_difference(u, to).ok())
            .map(|u| u.to_f64());
        self.unit = Some(to.symbol().to_owned());
    }

    fn of(&mut self, measure: &Measure) {
        let number = |text: &str| text.parse::<Rational>().ok();
        match (number(&measure.value), measure.unit.parse::<Unit>()) {
            (Some(value), Ok(unit)) => {
                let u = measure.u.as_deref().and_then(number);
                self.measured(&measure.quantity, &measure.method, &value, u.as_ref(), unit);
            }
            // Answers in words, and what a newer version measures in: named, not numbered.
            _ => {
                self.quantity = Some(measure.quantity.clone());
                self.method = Some(measure.method.clone());
            }
        }
    }
}

/// What one walkaround says of one zone.
#[derive(Debug, Clone, PartialEq, Default)]
#[allow(missing_docs)] // as above
pub struct LookRow {
    pub aircraft: String,
    pub registration: String,
    pub kind: String,
    pub walkaround: String,
    pub purpose: String,
    /// `YYYY-MM-DD`.
    pub date: String,
    pub hours: Option<f64>,
    pub zone: String,
    pub zone_name: String,
    pub looked: String,
}

/// Every row of every aircraft of a notebook, in the order of its history.
///
/// # Errors
/// Those of the notebook.
pub fn gather(notebook: &Notebook) -> Result<(Vec<SightingRow>, Vec<LookRow>)> {
    let (mut sightings, mut looks) = (Vec::new(), Vec::new());
    for aircraft in notebook.aircraft_list()? {
        let history = notebook.history(&aircraft.id)?;
        let state = notebook.state(&aircraft.id)?;
        for finding in &history.findings {
            // The history tells in words what was measured; the entries hold quantity and method.
            let told = state.findings.iter().find(|known| known.id == finding.id);
            for sighting in &finding.sightings {
                let mut row = SightingRow {
                    aircraft: aircraft.id.hex(),
                    registration: history.registration.clone(),
                    kind: history.kind.clone(),
                    zone: finding.zone.clone(),
                    zone_name: finding.zone_name.clone(),
                    condition: finding.condition.clone(),
                    finding: finding.id.hex(),
                    date: sighting.date.chars().take(10).collect(),
                    hours: number(sighting.hours.as_deref()),
                    result: sighting.result.clone(),
                    series: i32::try_from(sighting.series).unwrap_or(i32::MAX),
                    open: finding.open,
                    concern: finding.concern.clone(),
                    late: sighting.late,
                    ..SightingRow::default()
                };
                let measure = told
                    .and_then(|known| {
                        known
                            .sightings
                            .iter()
                            .find(|s| s.told.line == sighting.line)
                    })
                    .and_then(|known| known.measures.first());
                if let Some(measure) = measure {
                    row.of(measure);
                }
                sightings.push(row);
            }
        }
        for zone in &history.zones {
            for (walkaround, looked, _) in &zone.looks {
                let Some(about) = history.walkarounds.iter().find(|w| w.id == *walkaround) else {
                    continue;
                };
                looks.push(LookRow {
                    aircraft: aircraft.id.hex(),
                    registration: history.registration.clone(),
                    kind: history.kind.clone(),
                    walkaround: walkaround.hex(),
                    purpose: about.purpose.clone(),
                    date: about.date.chars().take(10).collect(),
                    hours: number(about.hours.as_deref()),
                    zone: zone.code.clone(),
                    zone_name: zone.name.clone(),
                    looked: looked.clone(),
                });
            }
        }
    }
    Ok((sightings, looks))
}

/// Hours as they are kept: a decimal, or an exact fraction.
pub(super) fn number(text: Option<&str>) -> Option<f64> {
    let text = text?.split_whitespace().next()?;
    match text.split_once('/') {
        Some((over, under)) => Some(over.parse::<f64>().ok()? / under.parse::<f64>().ok()?),
        None => text.parse().ok(),
    }
}
