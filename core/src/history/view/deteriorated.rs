//! What got worse, and how much: each quantity by itself, the condition's steps, people's concern.
//!
//! A finding is as bad as the worst that is said of it. Among those that deteriorated the order is:
//! stepped up; difference over its uncertainty against the first since treatment; relative growth per
//! hour; id (design section 8).

use std::cmp::Ordering;

use super::super::compare::{Compared, counts};
use super::super::finding_growth::{self, running};
use super::super::meters::hours_words;
use super::super::significance::ChangeKind;
use super::super::state::{Finding, Sighting};
use super::super::story;
use super::shapes::{Said, SeriesView, StepChange};
use super::words::{change_words, said_words};
use crate::condition::{Condition, Conditions};
use crate::quantity::Rational;
use crate::record::Digest;

/// What a finding's readings come to.
pub(super) struct Verdict {
    pub change: &'static str,
    pub words: Vec<Said>,
    pub series: Vec<SeriesView>,
    pub rank: (u8, f64, f64),
}

/// Grave first; what is not comparable comes before what shows no change, since it may hide one.
const GRAVITY: [&str; 5] = ["first", "same", "less", "not_comparable", "worse"];

pub(super) fn word(kind: ChangeKind) -> &'static str {
    match kind {
        ChangeKind::Worse => "worse",
        ChangeKind::Same => "same",
        ChangeKind::Less => "less",
        ChangeKind::NotComparable => "not_comparable",
    }
}

fn gravity(word: &str) -> usize {
    GRAVITY.iter().position(|known| *known == word).unwrap_or(0)
}

struct OneSeries {
    view: SeriesView,
    said: Option<Said>,
    rank: (f64, f64),
}

pub(super) fn verdict(
    finding: &Finding,
    compared: &[Compared<'_>],
    who: &dyn Fn(&Digest) -> String,
) -> Verdict {
    let quantities = finding_growth::quantities(finding);
    let several = quantities.len() > 1;
    let mut all: Vec<OneSeries> = quantities
        .iter()
        .map(|quantity| one_series(finding, compared, quantity, several))
        .collect();
    all.sort_by(|a, b| {
        gravity(&b.view.change)
            .cmp(&gravity(&a.view.change))
            .then(b.rank.0.total_cmp(&a.rank.0))
            .then(b.rank.1.total_cmp(&a.rank.1))
            .then_with(|| Ordering::Equal)
    });
    let condition = Conditions::built_in().get(&finding.condition);
    let stepped = steps_said(finding, condition);
    let mut words: Vec<Said> = Vec::new();
    let mut change = "first";
    let mut rank = (0, 0.0, 0.0);
    if let Some((kind, text)) = &stepped {
        change = kind;
        rank = (if *kind == "worse" { 4 } else { 1 }, 0.0, 0.0);
        words.push(Said::Text(text.clone()));
    }
    for one in &all {
        let said = GRAVITY
            .iter()
            .find(|known| **known == one.view.change)
            .copied()
            .unwrap_or("first");
        if gravity(said) > gravity(change) {
            change = said;
        }
        let kind = match said {
            "worse" => 3,
            "first" => 0,
            _ => 1,
        };
        let own = (kind, one.rank.0, one.rank.1);
        if kind > rank.0 {
            rank = own;
        } else if rank.0 == 4 && kind == 3 && rank.1 == 0.0 {
            // Stepped up and measured: among stepped ones the greater growth stands first.
            rank = (4, own.1, own.2);
        }
        words.extend(one.said.clone());
    }
    if words.is_empty() {
        // Looks, not lines: two sightings in one walkaround are one look.
        let mut looks: Vec<_> = Vec::new();
        for sighting in finding.sightings.iter().filter(|s| counts(s)) {
            let look = (sighting.walkaround, sighting.told.author);
            if sighting.walkaround.is_none() || !looks.contains(&look) {
                looks.push(look);
            }
        }
        let seen = looks.len();
        words.push(Said::Text(
            match (seen, quantities.is_empty()) {
                (0, _) => "never seen present",
                (1, _) => "seen once",
                _ => "seen again; not measured twice",
            }
            .to_owned(),
        ));
    }
    if let Some((from, to, author)) = story::concern_raised(finding) {
        let text = format!(
            "concern raised from {} to {} by {}",
            from.replace('_', " "),
            to.replace('_', " "),
            who(&author)
        );
        if change == "worse" {
            words.push(Said::Text(text));
        } else {
            change = "worse";
            rank = (2, 0.0, 0.0);
            words.insert(0, Said::Text(text));
        }
    }
    Verdict {
        change,
        words,
        series: all.into_iter().map(|one| one.view).collect(),
        rank,
    }
}

fn one_series(
    finding: &Finding,
    compared: &[Compared<'_>],
    quantity: &str,
    several: bool,
) -> OneSeries {
    let own: Vec<&Compared<'_>> = compared
        .iter()
        .filter(|one| {
            one.measure.quantity == quantity && Some(one.sighting.series) == running(finding)
        })
        .collect();
    let last = own
        .iter()
        .rev()
        .find(|one| one.first.is_some())
        .or(own.last());
    let unit = last.map_or_else(String::new, |one| one.measure.unit.clone());
    let named = several.then(|| quantity.replace('_', " "));
    let mut rank = (0.0, 0.0);
    let mut kind = "first";
    let mut said = None;
    if let Some(one) = last
        && let Some(change) = &one.first
    {
        kind = word(change.change);
        let hours = one
            .since
            .and_then(|since| hours_between(since, one.sighting));
        if change.change == ChangeKind::Worse {
            let difference = change.difference.unwrap_or(0.0).abs();
            let u = change.big_u.unwrap_or(f64::INFINITY) / 2.0;
            let relative = match (one.from, &hours) {
                (Some(from), Some((hours, _))) if from.abs() > 0.0 => {
                    difference / from.abs() / hours
                }
                _ => 0.0,
            };
            rank = (difference / u.max(1e-9), relative);
        }
        let over = hours
            .map(|(hours, axis)| format!(" over {}", hours_words(&format!("{hours:.1}"), &axis)))
            .unwrap_or_default();
        said = Some(Said::Change {
            quantity: named.clone(),
            change: change.clone(),
            unit: unit.clone(),
            over: match change.change {
                ChangeKind::Worse => format!(" since first measured{over}"),
                ChangeKind::Same => over,
                _ => String::new(),
            },
        });
    } else if several {
        said = Some(Said::Text(format!(
            "{}: measured once",
            quantity.replace('_', " ")
        )));
    }
    OneSeries {
        view: SeriesView {
            quantity: quantity.to_owned(),
            change: kind.to_owned(),
            says: said.as_ref().map_or_else(
                || "measured once".to_owned(),
                |said| said_words(said, &change_words),
            ),
            measured: own.len(),
            unit,
            trend: finding_growth::trend(finding, quantity),
        },
        said,
        rank,
    }
}

/// Hours of one meter between two sightings; an hour of one meter is no hour of another.
fn hours_between(from: &Sighting, to: &Sighting) -> Option<(f64, String)> {
    let number = |text: &Option<String>| text.as_deref()?.parse::<Rational>().ok();
    if from.axis != to.axis {
        return None;
    }
    let hours = number(&to.hours)?.sub(&number(&from.hours)?)?.to_f64();
    (hours > 0.0).then(|| (hours, to.axis.clone()))
}

fn step_change(condition: &Condition, from: &str, to: &str) -> Option<StepChange> {
    let change = match condition.step_rank(to)?.cmp(&condition.step_rank(from)?) {
        Ordering::Greater => "worse",
        Ordering::Equal => "same",
        Ordering::Less => "less",
    };
    Some(StepChange {
        from: from.to_owned(),
        to: to.to_owned(),
        change: change.to_owned(),
    })
}

/// A sighting's step against the one before and against the first of its series.
pub(super) type Stepped<'a> = (&'a Sighting, Option<StepChange>, Option<StepChange>);

/// Every step of a finding in order: each against the one before and against the first of its series.
pub(super) fn steps(finding: &Finding) -> Vec<Stepped<'_>> {
    let Some(condition) = Conditions::built_in().get(&finding.condition) else {
        return Vec::new();
    };
    let mut out: Vec<Stepped<'_>> = Vec::new();
    for sighting in finding.sightings.iter().filter(|s| counts(s)) {
        let Some(step) = sighting.step.as_deref().filter(|_| !sighting.step_anew) else {
            continue;
        };
        let same_series = || {
            out.iter()
                .map(|(earlier, _, _)| *earlier)
                .filter(|earlier| earlier.series == sighting.series)
        };
        let against =
            |earlier: Option<&Sighting>| step_change(condition, earlier?.step.as_deref()?, step);
        let (before, first) = (
            against(same_series().next_back()),
            against(same_series().next()),
        );
        out.push((sighting, before, first));
    }
    out
}

/// What the steps of the running series come to.
fn steps_said(finding: &Finding, condition: Option<&Condition>) -> Option<(&'static str, String)> {
    let condition = condition?;
    let series = running(finding)?;
    let all: Vec<Stepped<'_>> = steps(finding)
        .into_iter()
        .filter(|(sighting, _, _)| sighting.series == series)
        .collect();
    let (last, before, first) = all.last()?;
    let (before, first) = (before.as_ref()?, first.as_ref()?);
    let plain = |word: &str| word.replace('_', " ");
    // A step between that was graver than what is there now stays in sight.
    let peak = all
        .iter()
        .filter(|(sighting, _, _)| {
            let rank = |sighting: &Sighting| condition.step_rank(sighting.step.as_deref()?);
            rank(sighting) > rank(last)
        })
        .max_by_key(|(sighting, _, _)| {
            sighting
                .step
                .as_deref()
                .and_then(|step| condition.step_rank(step))
        })
        .map(|(sighting, _, _)| {
            format!(
                "; it was {} on {}",
                plain(sighting.step.as_deref().unwrap_or_default()),
                sighting.told.seen.date()
            )
        })
        .unwrap_or_default();
    Some(match (first.change.as_str(), before.change.as_str()) {
        ("worse", _) => (
            "worse",
            format!(
                "went from {} to {}{peak}",
                plain(&first.from),
                plain(&first.to)
            ),
        ),
        (_, "worse") => (
            "worse",
            format!(
                "went up again from {} to {}{peak}",
                plain(&before.from),
                plain(&before.to)
            ),
        ),
        ("less", _) => (
            "less",
            format!(
                "went from {} to {}{peak}",
                plain(&first.from),
                plain(&first.to)
            ),
        ),
        (_, "less") => (
            "less",
            format!(
                "went back from {} to {}",
                plain(&before.from),
                plain(&before.to)
            ),
        ),
        _ => ("same", format!("{} as before{peak}", plain(&first.to))),
    })
}
