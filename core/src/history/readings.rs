//! Readings that are no defect, as histories of their own: pressures, extensions, oil.

use std::collections::BTreeMap;

use serde::Serialize;

use super::finding_growth::{LeftOut, NamedTrend};
use super::growth::{self, Ask};
use super::meters;
use super::series::Row;
use super::significance::{self, Change, Reading as Sized, WorseWhen};
use super::state::{State, Value};
use crate::quantity::{Rational, Unit};
use crate::record::Digest;

/// One reading in a series.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Point {
    /// The line.
    pub entry: Digest,
    /// Date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// Hours then.
    pub hours: Option<String>,
    /// The meter that the hours are of.
    pub meter: Option<String>,
    /// As it was said.
    pub value: String,
    /// Unit.
    pub unit: Option<String>,
    /// Temperature, load …
    pub context: BTreeMap<String, String>,
    /// Against the first of the series.
    pub against_first: Option<Change>,
}

/// Readings of one kind at one place, on one component.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Series {
    /// oil_found, pressure …
    pub reading: String,
    /// Zone.
    pub zone: Option<String>,
    /// Serial or short name of the component that was fitted there: a new one starts a new series.
    pub component: Option<String>,
    /// In order.
    pub points: Vec<Point>,
    /// From three figures on.
    pub trend: Option<NamedTrend>,
    /// What is usual for this one, from its own history.
    pub usual: Option<Usual>,
}

/// What is usual for this one: the middle half of its own earlier figures, never a limit.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Usual {
    /// Median of the earlier figures.
    pub median: f64,
    /// A quarter lie below.
    pub low: f64,
    /// A quarter lie above.
    pub high: f64,
    /// How many there were.
    pub n: usize,
    /// Unit.
    pub unit: String,
    /// In one sentence.
    pub says: String,
}

/// What was used between two levels, additions counted in.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Used {
    /// Date of the level before.
    pub from: String,
    /// Date of the level after.
    pub to: String,
    /// Hours between, of `meter`.
    pub hours: f64,
    /// The meter.
    pub meter: String,
    /// Used in all.
    pub used: f64,
    /// Used per hour.
    pub per_hour: f64,
    /// Unit of `per_hour`.
    pub unit: String,
}

/// Use of one fluid.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Use {
    /// oil, hydraulic_fluid …
    pub what: String,
    /// Zone.
    pub zone: Option<String>,
    /// Between each two levels.
    pub between: Vec<Used>,
    /// What is usual for this one, the last left out.
    pub usual: Option<Usual>,
    /// In one sentence.
    pub says: String,
}

/// Everything read of one aircraft.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Readings {
    /// By kind and place.
    pub series: Vec<Series>,
    /// Use per hour of what is topped up.
    pub used: Vec<Use>,
}

/// Readings whose figure moves with temperature or load: compared only where the same was said.
const MOVED_BY: [(&str, &str); 5] = [
    ("pressure", "temperature"),
    ("extension", "load"),
    ("extension", "temperature"),
    ("oil_found", "waited"),
    ("battery", "charging"),
];

fn number(text: &str) -> Option<Rational> {
    text.parse().ok()
}

/// What makes one series: kind, zone, component.
type Kind = (String, Option<String>, Option<String>);

struct Timed<'a> {
    value: &'a Value,
    hours: Option<(String, String)>,
}

/// Works the readings out. `who` names authors.
pub fn build(state: &State, who: &dyn Fn(&Digest) -> String) -> Readings {
    let timed: Vec<Timed> = state
        .values
        .iter()
        .map(|value| Timed {
            value,
            hours: hours_of(state, value),
        })
        .collect();
    let mut groups: BTreeMap<Kind, Vec<&Timed>> = BTreeMap::new();
    for one in &timed {
        let component = component_at(state, one.value);
        groups
            .entry((one.value.reading.clone(), one.value.zone.clone(), component))
            .or_default()
            .push(one);
    }
    let series = groups
        .into_iter()
        .map(|((reading, zone, component), list)| series(reading, zone, component, &list, who))
        .collect();
    Readings {
        series,
        used: used(&timed),
    }
}

/// Hours and their meter: of the walkaround, else what was last read before.
fn hours_of(state: &State, value: &Value) -> Option<(String, String)> {
    if let Some(walk) = value
        .walkaround
        .and_then(|id| state.walkarounds.iter().find(|walk| walk.id == id))
        && let Some(hours) = &walk.hours
    {
        return Some((hours.clone(), walk.axis.clone()));
    }
    state
        .meter_readings
        .iter()
        .rfind(|read| {
            read.told.order_us <= value.told.order_us
                && read.axis != meters::LANDINGS
                && read.told.seen.date() == value.told.seen.date()
        })
        .map(|read| (read.total.clone(), read.axis.clone()))
}

/// The component that was fitted in the zone then, if it was just one.
fn component_at(state: &State, value: &Value) -> Option<String> {
    let zone = value.zone.as_ref()?;
    let mut there = state.components.iter().filter(|part| {
        part.zone == *zone
            && part.told.order_us <= value.told.order_us
            && part
                .removed
                .as_ref()
                .is_none_or(|(told, _)| told.order_us > value.told.order_us)
    });
    let one = there.next()?;
    there
        .next()
        .is_none()
        .then(|| one.serial.clone().unwrap_or_else(|| one.id.short()))
}

fn sized(value: &Value) -> Option<Sized> {
    Some(Sized {
        value: number(value.value.as_deref()?)?,
        unit: value.unit.clone(),
        u: value.u.as_deref().and_then(number).map(|u| u.to_f64()),
        worse_when: WorseWhen::Smaller,
        ..Sized::default()
    })
}

/// Why two readings are not comparable: what moves the figure was not said, or was another.
fn moved(earlier: &Value, later: &Value) -> Option<String> {
    MOVED_BY
        .iter()
        .filter(|(reading, _)| *reading == later.reading)
        .find_map(
            |(_, key)| match (earlier.context.get(*key), later.context.get(*key)) {
                (Some(a), Some(b)) if a == b => None,
                (None, _) | (_, None) => Some(format!("{key} was not said")),
                (Some(a), Some(b)) => Some(format!("{key} {a} then {b}")),
            },
        )
}

/// Against the first: refused where what moves the figure was not said, or was another.
fn against(first: &Value, now: &Value) -> Option<Change> {
    let (a, b) = (sized(first)?, sized(now)?);
    Some(match moved(first, now) {
        Some(why) => Change {
            change: significance::ChangeKind::NotComparable,
            difference: None,
            big_u: None,
            could_hide: None,
            why,
        },
        None => significance::compare(&a, &b),
    })
}

fn series(
    reading: String,
    zone: Option<String>,
    component: Option<String>,
    list: &[&Timed],
    who: &dyn Fn(&Digest) -> String,
) -> Series {
    let first = list.first().map(|one| one.value);
    let points: Vec<Point> = list
        .iter()
        .enumerate()
        .map(|(at, one)| Point {
            entry: one.value.told.line,
            date: one.value.told.seen.date().to_owned(),
            by: who(&one.value.told.author),
            hours: one.hours.as_ref().map(|(hours, _)| hours.clone()),
            meter: one.hours.as_ref().map(|(_, axis)| axis.clone()),
            value: one.value.value.clone().unwrap_or_default(),
            unit: one.value.unit.clone(),
            context: one.value.context.clone(),
            against_first: (at > 0)
                .then(|| first.and_then(|first| against(first, one.value)))
                .flatten(),
        })
        .collect();
    let axis = list
        .iter()
        .rev()
        .find_map(|one| one.hours.as_ref().map(|(_, axis)| axis.clone()));
    // Only what may be set beside the latest feeds the trend; what is left out is said.
    let latest = list.last().map(|one| one.value);
    let not_beside = |one: &Timed| latest.and_then(|latest| moved(one.value, latest));
    let left_out: Vec<LeftOut> = list
        .iter()
        .filter_map(|one| {
            Some(LeftOut {
                date: one.value.told.seen.date().to_owned(),
                why: not_beside(one)?,
            })
        })
        .collect();
    let rows: Vec<Row> = list
        .iter()
        .filter(|one| not_beside(one).is_none())
        .filter_map(|one| {
            Some(Row {
                days: Some(one.value.told.order_us as f64 / 86_400e6),
                hours: one
                    .hours
                    .as_ref()
                    .filter(|(_, of)| Some(of) == axis.as_ref())
                    .and_then(|(hours, _)| number(hours)),
                value: Some(number(one.value.value.as_deref()?)?),
                unit: one.value.unit.clone(),
                u: one.value.u.as_deref().and_then(number).map(|u| u.to_f64()),
                ..Row::default()
            })
        })
        .collect();
    let trend = (rows.len() >= 3)
        .then(|| growth::of_rows(&rows, &Ask::default()).ok())
        .flatten()
        .map(|grown| {
            let hours = grown.trend.against == Some(super::series::Axis::Hours);
            NamedTrend {
                trend: grown.trend,
                quantity: reading.clone(),
                meter: axis.filter(|_| hours),
                left_out,
            }
        });
    let unit = list.last().and_then(|one| one.value.unit.clone());
    let figures: Vec<f64> = list
        .iter()
        .take(list.len().saturating_sub(1))
        .filter_map(|one| in_unit(one.value, unit.as_deref()))
        .collect();
    Series {
        reading,
        zone,
        component,
        points,
        trend,
        usual: usual(&figures, unit.as_deref().unwrap_or("")),
    }
}

fn in_unit(value: &Value, unit: Option<&str>) -> Option<f64> {
    let figure = number(value.value.as_deref()?)?;
    match (value.unit.as_deref(), unit) {
        (Some(from), Some(to)) => {
            let (from, to) = (from.parse::<Unit>().ok()?, to.parse::<Unit>().ok()?);
            from.convert(&figure, to).ok().map(|figure| figure.to_f64())
        }
        (None, None) => Some(figure.to_f64()),
        _ => None,
    }
}

/// Quartiles by linear interpolation between order statistics; none below three figures.
fn usual(figures: &[f64], unit: &str) -> Option<Usual> {
    if figures.len() < 3 {
        return None;
    }
    let mut sorted = figures.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| {
        let place = share * (sorted.len() - 1) as f64;
        let low = place.floor();
        let a = sorted.get(low as usize).copied().unwrap_or(0.0);
        let b = sorted.get(low as usize + 1).copied().unwrap_or(a);
        a + (b - a) * (place - low)
    };
    let (low, median, high) = (at(0.25), at(0.5), at(0.75));
    let n = figures.len();
    let says = format!(
        "usual for this one: {} {unit} (middle half of {n} earlier: {} to {})",
        digits(median),
        digits(low),
        digits(high)
    );
    Some(Usual {
        median,
        low,
        high,
        n,
        unit: unit.to_owned(),
        says,
    })
}

/// Two digits and a bit: such figures carry no more (common practice, no source).
fn digits(figure: f64) -> String {
    let size = figure.abs();
    if size >= 10.0 {
        format!("{figure:.0}")
    } else if size >= 1.0 {
        format!("{figure:.1}")
    } else {
        format!("{figure:.3}")
    }
}

/// Use per hour from levels found and amounts added.
fn used(timed: &[Timed]) -> Vec<Use> {
    let mut places: BTreeMap<(String, Option<String>), Vec<&Timed>> = BTreeMap::new();
    for one in timed {
        let what = one
            .value
            .reading
            .strip_suffix("_found")
            .or_else(|| one.value.reading.strip_suffix(" added"))
            .map(|what| what.replace(' ', "_"));
        // Fuel is burnt, not used up by wear: its levels say nothing here.
        if let Some(what) = what.filter(|what| what != "fuel") {
            places
                .entry((what, one.value.zone.clone()))
                .or_default()
                .push(one);
        }
    }
    places
        .into_iter()
        .filter_map(|((what, zone), list)| {
            let between = between(&list);
            let last = between.last()?.clone();
            let earlier: Vec<f64> = between
                .iter()
                .take(between.len() - 1)
                .filter(|one| one.unit == last.unit && one.meter == last.meter)
                .map(|one| one.per_hour)
                .collect();
            let usual = usual(&earlier, &last.unit);
            let says = format!(
                "{} used {} {} over the last {:.1} h of {}; {}",
                what.replace('_', " "),
                digits(last.per_hour),
                last.unit,
                last.hours,
                last.meter,
                usual.as_ref().map_or_else(
                    || "too few earlier figures to say what is usual for this one".to_owned(),
                    |usual| usual.says.clone()
                )
            );
            Some(Use {
                what,
                zone,
                between,
                usual,
                says,
            })
        })
        .collect()
}

fn between(list: &[&Timed]) -> Vec<Used> {
    let mut out = Vec::new();
    let mut before: Option<&Timed> = None;
    let mut added: Vec<&Timed> = Vec::new();
    for one in list {
        if !one.value.reading.ends_with("_found") {
            added.push(one);
            continue;
        }
        if let Some(from) = before
            && let Some(used) = between_two(from, one, &added)
        {
            out.push(used);
        }
        before = Some(one);
        added.clear();
    }
    out
}

fn between_two(from: &Timed, to: &Timed, added: &[&Timed]) -> Option<Used> {
    let unit = to.value.unit.as_deref()?;
    let (start, axis) = from.hours.as_ref()?;
    let (end, other) = to.hours.as_ref()?;
    if axis != other {
        return None;
    }
    let hours = number(end)?.sub(&number(start)?)?.to_f64();
    if hours <= 0.0 {
        return None;
    }
    let mut used = in_unit(from.value, Some(unit))? - in_unit(to.value, Some(unit))?;
    for one in added {
        // An addition whose amount nobody wrote down makes the whole stretch unknown.
        used += in_unit(one.value, Some(unit))?;
    }
    Some(Used {
        from: from.value.told.seen.date().to_owned(),
        to: to.value.told.seen.date().to_owned(),
        hours,
        meter: axis.clone(),
        used,
        per_hour: used / hours,
        unit: format!("{unit}/h"),
    })
}

impl Readings {
    /// For a terminal.
    pub fn to_text(&self) -> String {
        let mut out = String::new();
        for one in &self.used {
            out.push_str(&format!("{}\n", one.says));
        }
        for series in &self.series {
            let zone = series
                .zone
                .as_deref()
                .map(|zone| format!(", zone {zone}"))
                .unwrap_or_default();
            let part = series
                .component
                .as_deref()
                .map(|part| format!(", on {part}"))
                .unwrap_or_default();
            out.push_str(&format!(
                "\n{}{zone}{part}\n",
                series.reading.replace('_', " ")
            ));
            for point in &series.points {
                let hours = point
                    .hours
                    .as_deref()
                    .map(|hours| format!(" {hours} h"))
                    .unwrap_or_default();
                let context: Vec<String> = point
                    .context
                    .iter()
                    .map(|(key, said)| format!("{} {said}", key.replace('_', " ")))
                    .collect();
                let context = if context.is_empty() {
                    String::new()
                } else {
                    format!(" ({})", context.join(", "))
                };
                let change = point
                    .against_first
                    .as_ref()
                    .map(|change| {
                        format!(
                            "; against the first: {}",
                            growth::said(change, point.unit.as_deref())
                        )
                    })
                    .unwrap_or_default();
                out.push_str(&format!(
                    "  {}{hours}  {} {}{context}  {}{change}\n",
                    point.date,
                    point.value,
                    point.unit.as_deref().unwrap_or(""),
                    point.by
                ));
            }
            if let Some(usual) = &series.usual {
                out.push_str(&format!("  {}\n", usual.says));
            }
        }
        if out.is_empty() {
            out.push_str("Nothing was read yet: witnessmark reading\n");
        }
        out
    }
}
