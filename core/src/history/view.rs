//! What a person is shown: what deteriorated first, every finding's story, what nobody looked at.

use std::collections::{BTreeMap, HashMap};

use serde::Serialize;

use super::significance::{Change, ChangeKind, Reading, WorseWhen, compare};
use super::state::{Finding, Sighting, State};
use super::story::{self, Looks, NamedTrend, Started};
use crate::condition::{Condition, Conditions};
use crate::layout::Layout;
use crate::quantity::{Rational, Unit, show};
use crate::record::Digest;
use crate::record::kinds::Measure;

/// The history of one aircraft.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct HistoryView {
    /// Registration.
    pub registration: String,
    /// Type.
    #[serde(rename = "type")]
    pub kind: String,
    /// Serial.
    pub serial: Option<String>,
    /// Walkarounds by start.
    pub walkarounds: Vec<WalkaroundView>,
    /// Findings, deteriorated first.
    pub findings: Vec<FindingView>,
    /// Zones of the layout with every look.
    pub zones: Vec<ZoneView>,
    /// Evidence without a place.
    pub unplaced: usize,
    /// True if something was written by a newer version: this view may be incomplete.
    pub newer: bool,
}

/// One walkaround in a list.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WalkaroundView {
    /// Id.
    pub id: Digest,
    /// Date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// Purpose in words.
    pub purpose: String,
    /// Hours.
    pub hours: Option<String>,
    /// Finished.
    pub finished: bool,
    /// The clock was handed in by a person.
    pub given_clock: bool,
}

/// One finding's story.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FindingView {
    /// Whole id.
    pub id: Digest,
    /// Short form: zone code and five digits.
    pub short: String,
    /// Zone code.
    pub zone: String,
    /// Zone name.
    pub zone_name: String,
    /// Condition key.
    pub condition: String,
    /// Condition in words.
    pub title: String,
    /// Words for the place.
    pub part: Option<String>,
    /// What is honest not to know.
    pub unsure: Vec<String>,
    /// Open.
    pub open: bool,
    /// How it was closed.
    pub closed_how: Option<String>,
    /// Gravest concern of any author.
    pub concern: Option<String>,
    /// First recorded: date and by whom.
    pub first: (String, String),
    /// worse, same, less, not_comparable or first: the latest measure against the first of its series.
    pub change: String,
    /// The change in one sentence.
    pub says: String,
    /// Number of comparable measured sightings in the last series.
    pub measured: usize,
    /// Sightings in order.
    pub sightings: Vec<SightingView>,
    /// Steps: date, by whom, words.
    pub steps: Vec<(String, String, String)>,
    /// When it began: an interval between looks.
    pub started: Option<Started>,
    /// How often it came back after treatment, and how long that lasted.
    pub returned: Option<String>,
    /// Everything dressed off so far, where that adds up.
    pub dressed: Option<String>,
    /// Looks that said "nothing found" over it and were not asked about it: date, by whom.
    pub not_asked: Vec<(String, String)>,
    /// Under new paint since: date and by whom. Covered, not gone.
    pub covered: Option<(String, String)>,
    /// Trend of the last series, from three readings on.
    pub trend: Option<NamedTrend>,
    /// The user's limit: quantity, value, unit, source.
    pub limit: Option<(String, String, String, String)>,
    /// When to look again.
    pub again: Option<String>,
    #[serde(skip)]
    rank: (u8, f64, f64),
}

/// One sighting.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SightingView {
    /// The line.
    pub line: Digest,
    /// Date.
    pub date: String,
    /// By whom.
    pub by: String,
    /// Airframe total time.
    pub hours: Option<String>,
    /// present, not_found, could_not_check.
    pub result: String,
    /// Step, measures and words as one short text.
    pub says: String,
    /// Value of the first measure, for drawing.
    pub value: Option<f64>,
    /// Its standard uncertainty.
    pub u: Option<f64>,
    /// Its unit.
    pub unit: Option<String>,
    /// Against the one before.
    pub before: Option<Change>,
    /// Against the first since it was last treated.
    pub first: Option<Change>,
    /// Number of treatments before it.
    pub series: usize,
    /// Evidence entries.
    pub evidence: Vec<Digest>,
    /// Recognised later, on evidence from before.
    pub late: bool,
}

/// One zone.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ZoneView {
    /// Code.
    pub code: String,
    /// Name.
    pub name: String,
    /// By walkaround id: findings, nothing_found, not_seen or not_looked_at, with words.
    pub looks: Vec<(Digest, String, String)>,
    /// Date of the last look of any kind; none if nobody ever looked.
    pub last: Option<String>,
    /// Open findings.
    pub open: usize,
}

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
    let shown = show(&value, u.as_ref(), unit).text;
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

fn reading(measure: &Measure, worse: WorseWhen) -> Option<Reading> {
    Some(Reading {
        value: measure.value.parse().ok()?,
        unit: Some(measure.unit.clone()),
        u: measure
            .u
            .as_deref()
            .and_then(|u| u.parse::<Rational>().ok())
            .map(|u| u.to_f64()),
        method: Some(measure.method.clone()),
        quantity: Some(measure.quantity.clone()),
        worse_when: worse,
        ..Reading::default()
    })
}

/// Builds the view. `who` names authors.
pub fn build(state: &State, layout: &Layout, who: &dyn Fn(&Digest) -> String) -> HistoryView {
    view(state, layout, None, who)
}

/// Builds the view of one zone from a state that holds what bears on it.
pub fn of_zone(
    state: &State,
    layout: &Layout,
    zone: &str,
    who: &dyn Fn(&Digest) -> String,
) -> HistoryView {
    view(state, layout, Some(zone), who)
}

fn view(
    state: &State,
    layout: &Layout,
    only: Option<&str>,
    who: &dyn Fn(&Digest) -> String,
) -> HistoryView {
    // Names are asked for again and again: each author's slip is read once.
    let names: BTreeMap<Digest, String> = state
        .authors
        .keys()
        .map(|author| (*author, who(author)))
        .collect();
    let named = |author: &Digest| names.get(author).cloned().unwrap_or_else(|| who(author));
    let who: &dyn Fn(&Digest) -> String = &named;
    let wanted = |zone: &str| only.is_none_or(|only| only == zone);
    let looks = Looks::new(state);
    let walks: HashMap<Digest, usize> = state
        .walkarounds
        .iter()
        .enumerate()
        .map(|(at, walk)| (walk.id, at))
        .collect();
    let mut findings: Vec<FindingView> = state
        .findings
        .iter()
        .filter(|finding| wanted(&finding.zone))
        .map(|finding| {
            let mut view = finding_view(finding, layout, who);
            view.started = story::started(state, finding, &looks, &walks, who);
            view.returned = story::returned(finding, &state.meter_readings);
            view.dressed = story::dressed(finding);
            view.not_asked = story::not_asked(finding, &looks, who);
            view.covered = finding
                .covered
                .as_ref()
                .map(|told| (told.seen.date().to_owned(), who(&told.author)));
            view.trend = story::trend(finding);
            view.limit.clone_from(&finding.limit);
            view.again.clone_from(&finding.again);
            view
        })
        .collect();
    findings.sort_by(|a, b| {
        (!a.open)
            .cmp(&!b.open)
            .then(b.rank.0.cmp(&a.rank.0))
            .then(b.rank.1.total_cmp(&a.rank.1))
            .then(b.rank.2.total_cmp(&a.rank.2))
            .then(a.id.cmp(&b.id))
    });
    let walkarounds = state
        .walkarounds
        .iter()
        .map(|walkaround| WalkaroundView {
            id: walkaround.id,
            date: walkaround.told.seen.date().to_owned(),
            by: who(&walkaround.told.author),
            purpose: walkaround
                .purpose
                .as_deref()
                .unwrap_or("not said")
                .replace('_', " "),
            hours: walkaround.hours.clone(),
            finished: walkaround.finished.is_some(),
            given_clock: walkaround.told.given_clock,
        })
        .collect();
    let seen = ZoneSeen::new(state);
    let zones = layout
        .zones
        .iter()
        .filter(|zone| wanted(&zone.code))
        .map(|zone| zone_view(state, &seen, looks.of(&zone.code), &zone.code, &zone.name))
        .collect();
    HistoryView {
        registration: state.registration.clone(),
        kind: state.kind.clone(),
        serial: state.serial.clone(),
        walkarounds,
        findings,
        zones,
        unplaced: state.unplaced().count(),
        newer: state.newer,
    }
}

fn finding_view(
    finding: &Finding,
    layout: &Layout,
    who: &dyn Fn(&Digest) -> String,
) -> FindingView {
    let condition = Conditions::built_in().get(&finding.condition);
    let mut sightings: Vec<SightingView> = Vec::new();
    // The latest and the first comparable measure of each series, by quantity.
    let mut latest: BTreeMap<String, (usize, InContext<'_>)> = BTreeMap::new();
    let mut firsts: BTreeMap<(usize, String), InContext<'_>> = BTreeMap::new();
    let mut last_change: Option<Change> = None;
    let mut measured = 0;
    let mut span_hours = (None, None);
    for sighting in finding
        .sightings
        .iter()
        .filter(|sighting| !sighting.overtaken)
    {
        let mut view = sighting_view(sighting, who);
        if let Some(measure) = sighting.measures.first()
            && measure.quantity != "answers"
            && sighting.result == "present"
            && let Some(now) = reading(
                measure,
                story::worse_when(&finding.condition, &measure.quantity),
            )
        {
            let now = (now, &measure.context);
            let key = measure.quantity.clone();
            view.before = latest
                .get(&key)
                .filter(|(series, _)| *series == sighting.series)
                .map(|(_, before)| compared(condition, before, &now));
            if let Some(change) = &mut view.before {
                shrunk(change, condition);
            }
            view.first = firsts
                .get(&(sighting.series, key.clone()))
                .map(|first| compared(condition, first, &now));
            if let Some(change) = &mut view.first {
                shrunk(change, condition);
            }
            firsts
                .entry((sighting.series, key.clone()))
                .or_insert_with(|| now.clone());
            if latest
                .get(&key)
                .is_none_or(|(series, _)| *series != sighting.series)
            {
                measured = 0;
                span_hours.0 = hours(sighting).map(|h| (h, sighting.axis.clone()));
            }
            measured += 1;
            span_hours.1 = hours(sighting).map(|h| (h, sighting.axis.clone()));
            last_change = view.first.clone();
            latest.insert(key, (sighting.series, now));
        }
        sightings.push(view);
    }
    let stepped = stepped_up(finding, condition);
    // An hour of one meter is no hour of another.
    let span_hours = match span_hours {
        (Some((from, a)), Some((to, b))) if a == b => (Some(from), Some(to)),
        _ => (None, None),
    };
    let (mut change, mut says, mut rank) = summary(
        stepped.as_deref(),
        last_change.as_ref(),
        &sightings,
        span_hours,
    );
    if change != "worse"
        && let Some((from, to, author)) = story::concern_raised(finding)
    {
        change = "worse".into();
        says = format!(
            "concern raised from {} to {} by {}; {says}",
            from.replace('_', " "),
            to.replace('_', " "),
            who(&author)
        );
        rank = (2, 0.0, 0.0);
    }
    let zone_name = layout.zone(&finding.zone).map_or_else(
        || {
            finding
                .system
                .clone()
                .unwrap_or_else(|| "zone not in this layout".to_owned())
        },
        |zone| zone.name.clone(),
    );
    FindingView {
        id: finding.id,
        short: crate::notebook::short_name(&finding.zone, &finding.id),
        zone: finding.zone.clone(),
        zone_name,
        condition: finding.condition.clone(),
        title: condition.map_or_else(
            || finding.condition.replace('_', " "),
            |condition| condition.title.clone(),
        ),
        part: finding.part.clone(),
        unsure: finding.unsure.clone(),
        open: finding.open,
        closed_how: finding.closed_how.clone(),
        concern: gravest(finding),
        first: (
            finding.opened.seen.date().to_owned(),
            who(&finding.opened.author),
        ),
        change,
        says,
        measured,
        sightings,
        steps: finding
            .steps
            .iter()
            .map(|step| {
                let words = format!(
                    "{}: {}",
                    step.what.replace('_', " "),
                    step.words.join(", ").replace('_', " ")
                );
                (
                    step.told.seen.date().to_owned(),
                    who(&step.told.author),
                    words.trim_end_matches(": ").to_owned(),
                )
            })
            .collect(),
        started: None,
        returned: None,
        dressed: None,
        not_asked: Vec::new(),
        covered: None,
        trend: None,
        limit: None,
        again: None,
        rank,
    }
}

/// A reading with what was said around it.
type InContext<'a> = (Reading, &'a BTreeMap<String, String>);

/// Compares, unless an answer that must agree (the layer a crack lies in, the groove of a tire) was
/// another then.
fn compared(condition: Option<&Condition>, a: &InContext<'_>, b: &InContext<'_>) -> Change {
    let differs = condition
        .iter()
        .flat_map(|condition| &condition.asks)
        .filter(|ask| ask.must_agree)
        .find_map(|ask| {
            let (then, now) = (a.1.get(&ask.key)?, b.1.get(&ask.key)?);
            (then != now).then(|| format!("{}: {then}, then {now}", ask.key.replace('_', " ")))
        });
    match differs {
        Some(why) => Change {
            change: ChangeKind::NotComparable,
            difference: None,
            big_u: None,
            could_hide: None,
            why,
        },
        None => compare(&a.0, &b.0),
    }
}

/// What does not shrink by itself is said to read shorter, not hidden.
fn shrunk(change: &mut Change, condition: Option<&Condition>) {
    if change.change == ChangeKind::Less
        && condition.is_some_and(|condition| condition.never_shrinks)
    {
        if !change.why.is_empty() {
            change.why.push_str("; ");
        }
        change
            .why
            .push_str("it does not shrink by itself: measure it again");
    }
}

fn hours(sighting: &Sighting) -> Option<f64> {
    sighting
        .hours
        .as_deref()?
        .parse::<Rational>()
        .ok()
        .map(|hours| hours.to_f64())
}

fn gravest(finding: &Finding) -> Option<String> {
    let order = crate::notebook::CONCERNS;
    finding
        .concerns
        .values()
        .filter_map(|concern| order.iter().position(|known| known == concern))
        .max()
        .and_then(|at| order.get(at))
        .map(|word| (*word).to_owned())
}

fn stepped_up(finding: &Finding, condition: Option<&Condition>) -> Option<String> {
    let condition = condition?;
    let series = finding.sightings.last()?.series;
    let steps: Vec<&str> = finding
        .sightings
        .iter()
        .filter(|sighting| sighting.series == series && sighting.result == "present")
        .filter_map(|sighting| sighting.step.as_deref())
        .collect();
    let (first, last) = (steps.first()?, steps.last()?);
    (condition.step_rank(last)? > condition.step_rank(first)?).then(|| {
        format!(
            "went from {} to {}",
            first.replace('_', " "),
            last.replace('_', " ")
        )
    })
}

fn summary(
    stepped: Option<&str>,
    change: Option<&Change>,
    sightings: &[SightingView],
    span: (Option<f64>, Option<f64>),
) -> (String, String, (u8, f64, f64)) {
    if let Some(stepped) = stepped {
        return ("worse".into(), stepped.to_owned(), (4, 0.0, 0.0));
    }
    let last = sightings
        .iter()
        .rev()
        .find(|sighting| sighting.result == "present");
    let unit = last
        .and_then(|sighting| sighting.unit.clone())
        .unwrap_or_default();
    let Some(change) = change else {
        let text = if sightings
            .iter()
            .filter(|sighting| sighting.result == "present")
            .count()
            > 1
        {
            "seen again; not measured twice"
        } else {
            "seen once"
        };
        return ("first".into(), text.into(), (0, 0.0, 0.0));
    };
    let difference = change.difference.unwrap_or(0.0);
    let u = change.big_u.unwrap_or(f64::INFINITY) / 2.0;
    let per_hour = match span {
        (Some(from), Some(to)) if to > from => difference.abs() / (to - from),
        _ => 0.0,
    };
    let hours = match span {
        (Some(from), Some(to)) if to > from => format!(" over {:.1} h", to - from),
        _ => String::new(),
    };
    let hours = format!(
        "{}{hours}",
        if change.change == ChangeKind::Worse {
            " since first measured"
        } else {
            ""
        }
    );
    let says = change_words(change, &unit);
    match change.change {
        ChangeKind::Worse => (
            "worse".into(),
            format!("{says}{hours}"),
            (3, difference.abs() / u.max(1e-9), per_hour),
        ),
        ChangeKind::Same => ("same".into(), format!("{says}{hours}"), (1, 0.0, 0.0)),
        ChangeKind::Less => ("less".into(), says, (1, 0.0, 0.0)),
        ChangeKind::NotComparable => ("not_comparable".into(), says, (1, 0.0, 0.0)),
    }
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

fn sighting_view(sighting: &Sighting, who: &dyn Fn(&Digest) -> String) -> SightingView {
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
    let first = sighting.measures.first();
    let number = |text: &str| text.parse::<Rational>().ok().map(|value| value.to_f64());
    SightingView {
        line: sighting.told.line,
        date: sighting.told.seen.date().to_owned(),
        by: who(&sighting.told.author),
        hours: sighting.hours.clone(),
        result: sighting.result.clone(),
        says: words.join("; "),
        value: first.and_then(|measure| number(&measure.value)),
        u: first
            .and_then(|measure| measure.u.as_deref())
            .and_then(number),
        unit: first.map(|measure| measure.unit.clone()),
        before: None,
        first: None,
        series: sighting.series,
        evidence: sighting.evidence.clone(),
        late: sighting.late,
    }
}

/// Present sightings by zone and walkaround, and open findings by zone.
struct ZoneSeen<'a> {
    present: HashMap<(&'a str, Digest), (i64, String)>,
    open: HashMap<&'a str, usize>,
}

impl<'a> ZoneSeen<'a> {
    fn new(state: &'a State) -> Self {
        let mut present: HashMap<(&str, Digest), (i64, String)> = HashMap::new();
        let mut open: HashMap<&str, usize> = HashMap::new();
        for finding in &state.findings {
            if finding.open {
                *open.entry(finding.zone.as_str()).or_default() += 1;
            }
            for sighting in finding.sightings.iter().filter(|s| s.result == "present") {
                if let Some(walk) = sighting.walkaround {
                    let now = (sighting.told.order_us, sighting.told.seen.date().to_owned());
                    let known = present
                        .entry((finding.zone.as_str(), walk))
                        .or_insert_with(|| now.clone());
                    if *known < now {
                        *known = now;
                    }
                }
            }
        }
        Self { present, open }
    }
}

fn zone_view(
    state: &State,
    seen: &ZoneSeen<'_>,
    all: &[&super::state::Look],
    code: &str,
    name: &str,
) -> ZoneView {
    let mut last: Option<(i64, String)> = None;
    let mut said: HashMap<Digest, (String, String)> = HashMap::new();
    for look in all {
        let Some(walk) = look.walkaround else {
            continue;
        };
        let mut words: Vec<String> = Vec::new();
        words.extend(look.why.clone());
        words.extend(look.how.clone());
        words.extend(look.access.clone());
        if look.together > 1 {
            words.push(format!("said together with {} others", look.together - 1));
        }
        said.insert(walk, (look.result.clone(), words.join(", ")));
        last = last.max(Some((look.told.order_us, look.told.seen.date().to_owned())));
    }
    let looks = state
        .walkarounds
        .iter()
        .map(|walkaround| {
            if let Some(found) = seen.present.get(&(code, walkaround.id)) {
                last = last.take().max(Some(found.clone()));
                return (walkaround.id, "findings".to_owned(), String::new());
            }
            let (result, words) = said
                .remove(&walkaround.id)
                .unwrap_or_else(|| ("not_looked_at".to_owned(), String::new()));
            (walkaround.id, result, words)
        })
        .collect();
    ZoneView {
        code: code.to_owned(),
        name: name.to_owned(),
        looks,
        last: last.map(|(_, date)| date),
        open: seen.open.get(code).copied().unwrap_or(0),
    }
}

impl HistoryView {
    /// For a terminal.
    pub fn to_text(&self) -> String {
        let mut out = format!("{}  {}\n", self.registration, self.kind);
        if self.newer {
            out.push_str("Written by a newer version; this view may be incomplete.\n");
        }
        for walkaround in &self.walkarounds {
            let hours = walkaround
                .hours
                .as_deref()
                .map(|hours| format!("{hours} h"))
                .unwrap_or_default();
            let clock = if walkaround.given_clock {
                "  (clock given by hand)"
            } else {
                ""
            };
            let open = if walkaround.finished {
                ""
            } else {
                "  (not finished)"
            };
            out.push_str(&format!(
                "  {}  {:<10}  {:<18}  {}{open}{clock}\n",
                walkaround.date, hours, walkaround.purpose, walkaround.by
            ));
        }
        for (title, open) in [
            ("\nOpen, deteriorated first\n", true),
            ("\nClosed\n", false),
        ] {
            if !self.findings.iter().any(|finding| finding.open == open) {
                continue;
            }
            out.push_str(title);
            for finding in self.findings.iter().filter(|finding| finding.open == open) {
                let part = finding
                    .part
                    .as_deref()
                    .map(|part| format!(", {part}"))
                    .unwrap_or_default();
                let concern = finding
                    .concern
                    .as_deref()
                    .map(|concern| format!("  [{}]", concern.replace('_', " ")))
                    .unwrap_or_default();
                out.push_str(&format!(
                    "  {}  {}: {}{part}{concern}\n",
                    finding.short,
                    finding.zone_name,
                    finding.title.to_lowercase()
                ));
                let closed = finding
                    .closed_how
                    .as_deref()
                    .map(|how| format!("; closed: {how}"))
                    .unwrap_or_default();
                out.push_str(&format!("             {}{closed}\n", finding.says));
                for sighting in &finding.sightings {
                    let hours = sighting
                        .hours
                        .as_deref()
                        .map(|hours| format!(" {hours} h"))
                        .unwrap_or_default();
                    let result = if sighting.result == "present" {
                        String::new()
                    } else {
                        format!("{} ", sighting.result.replace('_', " "))
                    };
                    let late = if sighting.late {
                        " (recognised later)"
                    } else {
                        ""
                    };
                    out.push_str(&format!(
                        "             {}{hours}  {}: {result}{}{late}\n",
                        sighting.date, sighting.by, sighting.says
                    ));
                }
                for line in [
                    finding.started.as_ref().map(|started| started.says.clone()),
                    finding.returned.clone(),
                    finding.dressed.clone(),
                    finding.covered.as_ref().map(|(date, by)| {
                        format!("covered by new paint since {date} ({by}), not gone")
                    }),
                    finding.trend.as_ref().and_then(trend_words),
                    (!finding.not_asked.is_empty()).then(|| {
                        let looks: Vec<String> = finding
                            .not_asked
                            .iter()
                            .map(|(date, by)| format!("{date} {by}"))
                            .collect();
                        format!(
                            "not asked when nothing was found there: {}",
                            looks.join(", ")
                        )
                    }),
                ]
                .into_iter()
                .flatten()
                {
                    out.push_str(&format!("             {line}\n"));
                }
                for (date, by, words) in &finding.steps {
                    out.push_str(&format!("             {date}  {by}: {words}\n"));
                }
            }
        }
        let never: Vec<String> = self
            .zones
            .iter()
            .filter(|zone| zone.last.is_none())
            .map(|zone| format!("{} {}", zone.code, zone.name))
            .collect();
        if !never.is_empty() {
            out.push_str(&format!(
                "\nNobody has looked at ({}):\n  {}\n",
                never.len(),
                never.join("; ")
            ));
        }
        if self.unplaced > 0 {
            out.push_str(&format!("\n{} captures are unplaced.\n", self.unplaced));
        }
        out.push_str("\n\"Not looked at\" is not \"nothing found\". This is not a maintenance record, release or approval:\nshow what is open to a licensed mechanic or inspector; the aircraft's own manual comes first.\n");
        out
    }
}

/// A trend in one line, with the meter that it is against.
pub fn trend_words(trend: &NamedTrend) -> Option<String> {
    let slope = trend.trend.theil_sen?;
    let unit = trend.trend.unit.as_deref().unwrap_or("");
    let per = match (&trend.meter, trend.trend.against?) {
        (Some(meter), _) => format!("hour of {meter}"),
        (None, super::series::Axis::Days) => "day".into(),
        (None, super::series::Axis::Landings) => "landing".into(),
        (None, super::series::Axis::Hours) => "hour".into(),
    };
    let interval = trend
        .trend
        .ci
        .map(|[low, high]| format!(", 95 % {low:.3} to {high:.3}"))
        .unwrap_or_default();
    Some(format!(
        "trend {slope:.3} {unit} per {per} (median slope of {} readings{interval})",
        trend.trend.n
    ))
}
