//! The measures of one finding: each quantity is a series of its own, and each of its readings is set
//! against the one before and against the first since the finding was last treated.
//!
//! Length, depth and width of one defect say three things; a depth never stands against a length, and
//! a length that holds still hides no depth that grows. What is compared, and how, is the one rule of
//! [`super::significance`]; this file adds what a condition's own file says: answers that must agree,
//! answers without which a size says nothing, and that some things do not shrink by themselves.
//!
//! **Shared error.** The error of a scale's own size (how far a card or a print is off its nominal
//! size) has the same sign in every photo that is measured by the same piece. Two measures share it
//! only if one author measured both and both name the same piece: by the answer `scale_item`, or by a
//! print of the project's sheet whose check bar was laid on a rule and read the same. Two cards are
//! not taken for one because both are cards. The shared part is the row *size* of the measure's
//! uncertainty budget, worked out again from the stored marks; it enters the difference only by what
//! does not cancel.

use std::collections::{BTreeMap, HashMap};

use super::significance::{Change, ChangeKind, Reading, Shared, WorseWhen, compare};
use super::state::{Finding, Sighting};
use crate::condition::{Ask, Condition, Conditions};
use crate::photo::Marks;
use crate::photo::marks::Measured;
use crate::quantity::{Rational, Unit};
use crate::record::Digest;
use crate::record::kinds::Measure;

/// The answer that names the piece a photo was scaled by.
pub const SCALE_ITEM: &str = "scale_item";

/// One measure of one sighting, compared within its own series.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared<'a> {
    /// The sighting.
    pub sighting: &'a Sighting,
    /// The measure.
    pub measure: &'a Measure,
    /// Against the one before.
    pub before: Option<Change>,
    /// Against the first since it was last treated.
    pub first: Option<Change>,
    /// The value that `first` was taken against, in the unit of this measure.
    pub from: Option<f64>,
    /// The sighting that `first` was taken against.
    pub since: Option<&'a Sighting>,
}

/// Which way a finding's quantity gets worse; none where its figure describes and does not judge.
pub fn worse_when(condition: &str, quantity: &str) -> Option<WorseWhen> {
    let condition = Conditions::built_in().get(condition);
    let way = condition
        .and_then(|condition| condition.quantity(quantity))
        .map(|quantity| quantity.worse_when)
        .or(condition.map(|condition| condition.worse_when));
    match way {
        Some(crate::condition::WorseWhen::Smaller) => Some(WorseWhen::Smaller),
        Some(crate::condition::WorseWhen::Neither) => None,
        _ => Some(WorseWhen::Larger),
    }
}

/// A measure as far as comparing needs it; none for an answer that is no size and for a figure that
/// does not judge.
pub fn reading(condition: &str, author: &Digest, measure: &Measure) -> Option<Reading> {
    if measure.quantity == "answers" {
        return None;
    }
    let worse_when = worse_when(condition, &measure.quantity)?;
    Some(Reading {
        value: measure.value.parse().ok()?,
        unit: Some(measure.unit.clone()),
        u: measure
            .u
            .as_deref()
            .and_then(|u| u.parse::<Rational>().ok())
            .map(|u| u.to_f64()),
        method: Some(measure.method.clone()),
        place: None,
        quantity: Some(measure.quantity.clone()),
        shared: shared(author, measure),
        worse_when,
        never_shrinks: Conditions::built_in()
            .get(condition)
            .is_some_and(|condition| condition.never_shrinks),
    })
}

/// The error that this measure shares with others made by the same piece; see the rule above.
fn shared(author: &Digest, measure: &Measure) -> Option<Shared> {
    let marks: Marks = serde_json::from_value(measure.marks.clone()?).ok()?;
    let piece = match (measure.context.get(SCALE_ITEM), &marks.scale) {
        (Some(named), _) => named.trim().to_lowercase(),
        (
            None,
            crate::photo::marks::ScaleMarks::Sheet {
                bar_um,
                bar_checked: true,
                ..
            },
        ) => format!("print with a check bar of {bar_um} µm"),
        _ => return None,
    };
    let size = crate::photo::measurement::from_marks(&marks)
        .ok()?
        .budget
        .size;
    let of_marks = match marks.quantity {
        Measured::Length => "mm",
        Measured::Area => "mm2",
    };
    let factor = of_marks
        .parse::<Unit>()
        .ok()?
        .convert_difference(&Rational::whole(1), measure.unit.parse().ok()?)
        .ok()?;
    Some(Shared {
        id: format!("{author} {piece}"),
        u: size * factor.to_f64(),
    })
}

/// Two answers to a question that must agree: the same words, or numbers within a tenth of the larger
/// (ours, the tolerance that the fuel scale's thirty minutes are read with; no source).
fn agree(ask: &Ask, then: &str, now: &str) -> bool {
    let figure = |text: &str| {
        let text = text.trim();
        let end = text
            .find(|c: char| !(c.is_ascii_digit() || matches!(c, '.' | '/' | ' ')))
            .unwrap_or(text.len());
        text.get(..end)?.trim().parse::<Rational>().ok()
    };
    if ask.unit.is_some()
        && let (Some(then), Some(now)) = (figure(then), figure(now))
    {
        let (then, now) = (then.to_f64(), now.to_f64());
        return (then - now).abs() <= then.max(now) / 10.0;
    }
    then.trim().to_lowercase() == now.trim().to_lowercase()
}

fn not_comparable(why: String) -> Change {
    Change {
        change: ChangeKind::NotComparable,
        difference: None,
        big_u: None,
        could_hide: None,
        why,
    }
}

/// What a condition's questions say against comparing two measures.
fn answers_differ(
    condition: &Condition,
    quantity: &str,
    then: &BTreeMap<String, String>,
    now: &BTreeMap<String, String>,
) -> Option<String> {
    condition.asks.iter().find_map(|ask| {
        let needed = ask.needed_for.iter().any(|of| of == quantity);
        match (then.get(&ask.key), now.get(&ask.key)) {
            (Some(then), Some(now)) => (ask.must_agree && !agree(ask, then, now))
                .then(|| format!("{}: {then}, then {now}", ask.key.replace('_', " "))),
            (None, None) if needed => Some(format!("nobody said: {}", ask.asked)),
            (None, Some(_)) if needed => {
                Some(format!("the earlier one does not say: {}", ask.asked))
            }
            (Some(_), None) if needed => Some(format!("the later one does not say: {}", ask.asked)),
            _ => None,
        }
    })
}

/// A measure with its author and its reading.
type Taken<'a> = (&'a Measure, Reading);

fn against(condition: Option<&Condition>, earlier: &Taken<'_>, later: &Taken<'_>) -> Change {
    let differ = condition.and_then(|condition| {
        answers_differ(
            condition,
            &later.0.quantity,
            &earlier.0.context,
            &later.0.context,
        )
    });
    match differ {
        Some(why) => not_comparable(why),
        None => compare(&earlier.1, &later.1),
    }
}

/// Sets a later measure of a finding against an earlier one; none where the figure does not judge.
pub fn pair(
    condition: &str,
    earlier: (&Sighting, &Measure),
    later: (&Sighting, &Measure),
) -> Option<Change> {
    let taken = |of: (&Sighting, &'_ Measure)| reading(condition, &of.0.told.author, of.1);
    let (a, b) = (taken(earlier)?, taken(later)?);
    Some(against(
        Conditions::built_in().get(condition),
        &(earlier.1, a),
        &(later.1, b),
    ))
}

/// Does this sighting count for a series? Present, and not wholly overtaken in its own walkaround; of its
/// measures those count that [`Sighting::standing`] gives.
pub fn counts(sighting: &Sighting) -> bool {
    sighting.result == "present" && !sighting.overtaken
}

/// Every measure of a finding in order, compared within its own quantity and series. Of two measures
/// of one quantity in one sighting the first is the series' own; the other stands uncompared.
pub fn measures(finding: &Finding) -> Vec<Compared<'_>> {
    let condition = Conditions::built_in().get(&finding.condition);
    let mut latest: HashMap<&str, (usize, Taken<'_>)> = HashMap::new();
    let mut firsts: HashMap<(usize, &str), (Taken<'_>, &Sighting)> = HashMap::new();
    let mut out = Vec::new();
    for sighting in finding.sightings.iter().filter(|s| counts(s)) {
        let mut met: Vec<&str> = Vec::new();
        for measure in &sighting.measures {
            let quantity = measure.quantity.as_str();
            let mut compared = Compared {
                sighting,
                measure,
                before: None,
                first: None,
                from: None,
                since: None,
            };
            if !met.contains(&quantity)
                && !sighting.measured_anew.contains(&measure.quantity)
                && let Some(reading) = reading(&finding.condition, &sighting.told.author, measure)
            {
                met.push(quantity);
                let now = (measure, reading);
                compared.before = latest
                    .get(quantity)
                    .filter(|(series, _)| *series == sighting.series)
                    .map(|(_, before)| against(condition, before, &now));
                match firsts.get(&(sighting.series, quantity)) {
                    Some((first, since)) => {
                        compared.first = Some(against(condition, first, &now));
                        compared.since = Some(*since);
                        compared.from = super::significance::convert(
                            &first.1.value,
                            first.1.unit.as_deref(),
                            now.1.unit.as_deref(),
                            false,
                        )
                        .map(|value| value.to_f64());
                    }
                    None => {
                        firsts.insert((sighting.series, quantity), (now.clone(), sighting));
                    }
                }
                latest.insert(quantity, (sighting.series, now));
            }
            out.push(compared);
        }
    }
    out
}

/// The questions of a condition whose answers these measures need and do not carry: the sighting is
/// kept, but its size is compared with no other until they are answered.
pub fn unanswered<'a>(condition: &'a Condition, measures: &[Measure]) -> Vec<&'a Ask> {
    condition
        .asks
        .iter()
        .filter(|ask| {
            measures.iter().any(|measure| {
                ask.needed_for.contains(&measure.quantity)
                    && !measure.context.contains_key(&ask.key)
            })
        })
        .collect()
}
