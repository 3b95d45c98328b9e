//! What a finding's life says beside its measures: since when, how often it came back, what was
//! dressed off, which looks went over it without asking.

use std::collections::HashMap;

use serde::Serialize;

use super::censor;
use super::meters::{self, MeterReading, hours_words};
use super::state::{Finding, Look, State};
use crate::condition::Conditions;
use crate::quantity::{Rational, Unit, show, show_said};
use crate::record::Digest;

/// Looks by zone, in order: made once for all findings.
pub struct Looks<'a>(HashMap<&'a str, Vec<&'a Look>>);

impl<'a> Looks<'a> {
    /// Sorts the looks of a state by zone.
    pub fn new(state: &'a State) -> Self {
        let mut by_zone: HashMap<&str, Vec<&Look>> = HashMap::new();
        for look in &state.looks {
            by_zone.entry(look.zone.as_str()).or_default().push(look);
        }
        Self(by_zone)
    }

    /// Those of one zone.
    pub fn of(&self, zone: &str) -> &[&'a Look] {
        self.0.get(zone).map_or(&[], Vec::as_slice)
    }
}

/// When it began: between the last look that could have seen it and the first sighting.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Started {
    /// Date of the last look that could have seen it and did not; none if nobody had looked so.
    pub after: Option<String>,
    /// Who looked then.
    pub after_by: Option<String>,
    /// Hours then, where both ends are of one meter.
    pub after_hours: Option<String>,
    /// Date of the earliest sighting, late ones included.
    pub by: String,
    /// Hours then.
    pub by_hours: Option<String>,
    /// In one sentence.
    pub says: String,
    /// Sightings that were recognised later: seen on, recognised on, by whom.
    pub late: Vec<(String, String, String)>,
}

/// Ways in which a place can be hidden from a look.
const HIDES: [&str; 12] = [
    "cover", "dirty", "wet", "dark", "snow", "ice", "frost", "mud", "panel", "cowl", "spat",
    "fairing",
];

/// Could this look have seen a defect of that condition? Only one that says "nothing found" of it,
/// closer than a glance, with nothing in the way.
pub fn could_have_seen(look: &Look, condition: &str) -> bool {
    let access = look.access.as_deref().unwrap_or("").to_lowercase();
    let opened = ["off", "open", "removed"]
        .iter()
        .any(|word| access.contains(word));
    look.result == "nothing_found"
        && look.how.as_deref() != Some("glance")
        && look
            .condition
            .as_deref()
            .is_none_or(|named| named == condition)
        && (opened || !HIDES.iter().any(|word| access.contains(word)))
}

/// The start of a finding; none for one that was never seen present.
pub fn started(
    state: &State,
    finding: &Finding,
    looks: &Looks<'_>,
    walks: &HashMap<Digest, usize>,
    who: &dyn Fn(&Digest) -> String,
) -> Option<Started> {
    let mut seen: Vec<(f64, bool)> = Vec::new();
    // Microseconds since 1970 are whole numbers below 2^53: exact as doubles.
    for sighting in &finding.sightings {
        match sighting.result.as_str() {
            "present" => seen.push((sighting.told.order_us as f64, true)),
            "not_found" => seen.push((sighting.told.order_us as f64, false)),
            _ => {}
        }
    }
    let able: Vec<&&Look> = looks
        .of(&finding.zone)
        .iter()
        .filter(|look| could_have_seen(look, &finding.condition))
        .collect();
    seen.extend(able.iter().map(|look| (look.told.order_us as f64, false)));
    let interval = censor::start(&seen)?;
    let first = finding.sightings.iter().find(|sighting| {
        sighting.result == "present" && sighting.told.order_us as f64 == interval.by
    })?;
    let hours_of = |walk: Option<Digest>| {
        walk.and_then(|id| walks.get(&id))
            .and_then(|at| state.walkarounds.get(*at))
            .and_then(|walk| Some((walk.hours.clone()?, walk.axis.clone())))
    };
    let mut after = None;
    if let Some(at) = interval.after {
        after = able
            .iter()
            .find(|look| look.told.order_us as f64 == at)
            .map(|look| (look.told.clone(), look.walkaround))
            .or_else(|| {
                finding
                    .sightings
                    .iter()
                    .find(|sighting| {
                        sighting.result == "not_found" && sighting.told.order_us as f64 == at
                    })
                    .map(|sighting| (sighting.told.clone(), sighting.walkaround))
            });
    }
    let by_hours = first.hours.clone();
    let after_hours = after
        .as_ref()
        .and_then(|(_, walk)| hours_of(*walk))
        .filter(|(_, axis)| by_hours.is_some() && *axis == first.axis)
        .map(|(hours, _)| hours);
    let by = first.told.seen.date().to_owned();
    let says = match &after {
        Some((told, _)) => {
            let hours = match (&after_hours, &by_hours) {
                (Some(from), Some(to)) => {
                    format!(" ({from} to {})", hours_words(to, &first.axis))
                }
                _ => String::new(),
            };
            format!("began between {} and {by}{hours}", told.seen.date())
        }
        None => {
            format!("there on {by}; nobody had looked before in a way that could have shown it")
        }
    };
    Some(Started {
        after: after.as_ref().map(|(told, _)| told.seen.date().to_owned()),
        after_by: after.as_ref().map(|(told, _)| who(&told.author)),
        after_hours,
        by,
        by_hours,
        says,
        late: finding
            .sightings
            .iter()
            .filter(|sighting| sighting.late)
            .map(|sighting| {
                (
                    sighting.told.seen.date().to_owned(),
                    sighting.told.at.get(..10).unwrap_or("").to_owned(),
                    who(&sighting.told.author),
                )
            })
            .collect(),
    })
}

fn number(text: &str) -> Option<Rational> {
    text.parse().ok()
}

/// "third time; the last treatment held 38 h at most": how often it came back, how long it lasted.
pub fn returned(finding: &Finding, read: &[MeterReading]) -> Option<String> {
    const TIMES: [&str; 6] = ["second", "third", "fourth", "fifth", "sixth", "seventh"];
    let treatments: Vec<_> = finding
        .steps
        .iter()
        .filter(|step| step.what == "treated")
        .collect();
    let present = || {
        finding
            .sightings
            .iter()
            .filter(|sighting| sighting.result == "present" && !sighting.overtaken)
    };
    let mut times = 0;
    let mut lasted = String::new();
    let mut series = present().next()?.series;
    for sighting in present() {
        if sighting.series <= series {
            continue;
        }
        series = sighting.series;
        times += 1;
        let Some(treated) = series.checked_sub(1).and_then(|at| treatments.get(at)) else {
            continue;
        };
        let then = meters::around(read, &sighting.axis, treated.told.order_us)
            .0
            .and_then(|read| number(&read.total));
        let now = sighting.hours.as_deref().and_then(number);
        lasted = match now.zip(then).and_then(|(now, then)| now.sub(&then)) {
            Some(hours) if !hours.is_negative() => format!(
                "{} at most",
                hours_words(&meters::plain(&hours), &sighting.axis)
            ),
            _ => format!(
                "from {} to {} at most",
                treated.told.seen.date(),
                sighting.told.seen.date()
            ),
        };
    }
    let word = match times {
        0 => return None,
        n => TIMES
            .get(n - 1)
            .map_or_else(|| format!("{}th", n + 1), |word| (*word).to_owned()),
    };
    Some(format!("{word} time; the last treatment lasted {lasted}"))
}

/// Everything dressed off so far, for a condition where it adds up: each time, and the sum.
pub fn dressed(finding: &Finding) -> Option<String> {
    if !Conditions::built_in().get(&finding.condition)?.adds_up {
        return None;
    }
    let mut each: Vec<String> = Vec::new();
    let mut sum: Option<(Rational, Unit)> = None;
    for step in finding.steps.iter().filter(|step| step.what == "treated") {
        // What was taken off in depth, where a treatment carries several measures.
        let depth = step
            .measures
            .iter()
            .find(|measure| measure.quantity.contains("depth"))
            .or(step.measures.first());
        let Some(measure) = depth else {
            each.push(format!("{}: amount not said", step.told.seen.date()));
            continue;
        };
        each.push(format!(
            "{}: {}",
            step.told.seen.date(),
            match (number(&measure.value), measure.unit.parse::<Unit>()) {
                (Some(value), Ok(unit)) =>
                    show_said(&value, None, unit, measure.as_said.as_deref()).text,
                _ => format!("{} {}", measure.value, measure.unit),
            }
        ));
        if let (Some(value), Ok(unit)) = (number(&measure.value), measure.unit.parse::<Unit>()) {
            sum = match sum {
                None => Some((value, unit)),
                Some((so_far, first)) => unit
                    .convert(&value, first)
                    .ok()
                    .and_then(|value| so_far.add(&value))
                    .map(|sum| (sum, first))
                    .or(Some((so_far, first))),
            };
        }
    }
    if each.is_empty() {
        return None;
    }
    let total = sum
        .map(|(value, unit)| format!("; {} in all", show(&value, None, unit).text))
        .unwrap_or_default();
    let times = each.len();
    Some(format!(
        "dressed {times} {}{total} ({})",
        if times == 1 { "time" } else { "times" },
        each.join("; ")
    ))
}

/// Was it open just before an instant?
fn open_before(finding: &Finding, order_us: i64) -> bool {
    let mut last: Option<(i64, bool)> = None;
    let moments = finding
        .sightings
        .iter()
        .filter(|sighting| sighting.result == "present")
        .map(|sighting| (sighting.told.order_us, true))
        .chain(
            finding
                .steps
                .iter()
                .filter_map(|step| match step.what.as_str() {
                    "closed" => Some((step.told.order_us, false)),
                    "reopened" => Some((step.told.order_us, true)),
                    _ => None,
                }),
        );
    for (at, open) in moments {
        if at < order_us && last.is_none_or(|(before, _)| before <= at) {
            last = Some((at, open));
        }
    }
    last.is_some_and(|(_, open)| open)
}

/// Looks that said "nothing found" over it while it was open, and said nothing of it: date, by whom.
pub fn not_asked(
    finding: &Finding,
    looks: &Looks<'_>,
    who: &dyn Fn(&Digest) -> String,
) -> Vec<(String, String)> {
    looks
        .of(&finding.zone)
        .iter()
        .filter(|look| look.result == "nothing_found")
        .filter(|look| {
            look.condition
                .as_deref()
                .is_none_or(|named| named == finding.condition)
        })
        // A sighting found later moves the start back; nobody could have been asked before the opening.
        .filter(|look| look.told.order_us >= finding.opened.order_us)
        .filter(|look| open_before(finding, look.told.order_us))
        .filter(|look| {
            !finding.sightings.iter().any(|sighting| {
                sighting.told.line == look.told.line
                    || (sighting.walkaround.is_some() && sighting.walkaround == look.walkaround)
            })
        })
        .map(|look| (look.told.seen.date().to_owned(), who(&look.told.author)))
        .collect()
}

/// A person's concern that rose, against that person's one before or against the first: from, to, by
/// whom. Of several people's the steepest rise.
pub fn concern_raised(finding: &Finding) -> Option<(String, String, Digest)> {
    let rank = |word: &str| {
        crate::notebook::CONCERNS
            .iter()
            .position(|known| *known == word)
    };
    let mut authors: Vec<Digest> = Vec::new();
    for (told, _) in &finding.concern_log {
        if !authors.contains(&told.author) {
            authors.push(told.author);
        }
    }
    let mut raised: Option<(usize, String, String, Digest)> = None;
    for author in authors {
        let own: Vec<&String> = finding
            .concern_log
            .iter()
            .filter(|(told, _)| told.author == author)
            .map(|(_, concern)| concern)
            .collect();
        let (Some(first), Some(now)) = (own.first(), own.last()) else {
            continue;
        };
        let before = own.len().checked_sub(2).and_then(|at| own.get(at));
        for from in [Some(first), before].into_iter().flatten() {
            let Some(rise) = rank(now)
                .zip(rank(from))
                .and_then(|(now, from)| now.checked_sub(from))
                .filter(|rise| *rise > 0)
            else {
                continue;
            };
            if raised.as_ref().is_none_or(|(most, ..)| rise > *most) {
                raised = Some((rise, (*from).clone(), (*now).clone(), author));
            }
        }
    }
    raised.map(|(_, from, to, author)| (from, to, author))
}
