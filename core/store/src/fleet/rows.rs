//! Rows from notebooks.

use witnessmark_core::Result;
use witnessmark_core::notebook::Notebook;

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
    pub value: Option<f64>,
    pub u: Option<f64>,
    pub unit: Option<String>,
    pub series: i32,
    pub open: bool,
    pub concern: Option<String>,
    pub late: bool,
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
        for finding in &history.findings {
            for sighting in &finding.sightings {
                sightings.push(SightingRow {
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
                    value: sighting.value,
                    u: sighting.u,
                    unit: sighting.unit.clone(),
                    series: i32::try_from(sighting.series).unwrap_or(i32::MAX),
                    open: finding.open,
                    concern: finding.concern.clone(),
                    late: sighting.late,
                });
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
