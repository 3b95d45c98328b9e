//! One finding's part of the content.

use super::{Source, series};
use crate::history::series::Axis;
use crate::history::significance::Change;
use crate::history::state::{Capture, Finding, Sighting};
use crate::history::view::{FindingView, MeasureView, StepChange, trend_words};
use crate::history::{again, compare, finding_growth, first_seen, growth, meters};
use crate::notebook::short_name;
use crate::photo::Marks;
use crate::report::Cut;
use crate::report::content::{Concern, Item, Photo, Said, Sight, Step};
use crate::report::words::{self, plain};

pub(super) fn item(source: &Source<'_>, found: &Finding, shown: &FindingView) -> Item {
    let zone_name = source.layout.zone(&found.zone).map_or_else(
        || "zone not in this layout".to_owned(),
        |zone| zone.name.clone(),
    );
    let place = match &found.part {
        Some(part) => format!("{zone_name}, {part}"),
        None => zone_name,
    };
    let sightings: Vec<Sight> = found
        .sightings
        .iter()
        .map(|sighting| sight(source, sighting, shown))
        .collect();
    let present = || {
        found
            .sightings
            .iter()
            .filter(|sighting| sighting.result == "present")
    };
    let first_us = first_seen(found);
    let earliest = present()
        .map(|sighting| &sighting.told)
        .chain([&found.opened])
        .find(|told| told.order_us == first_us)
        .unwrap_or(&found.opened);
    let sizes = |last: bool| sizes(source, found, last);
    let mut seen_by: Vec<String> = present()
        .map(|sighting| source.who(&sighting.told.author))
        .collect();
    seen_by.dedup();
    seen_by.sort();
    seen_by.dedup();
    let photos: Vec<Photo> = source
        .state
        .captures
        .iter()
        .filter(|capture| capture.kind == "photo" && !capture.removed)
        .filter(|capture| {
            capture.finding == Some(found.id)
                || found
                    .sightings
                    .iter()
                    .any(|sighting| sighting.evidence.contains(&capture.told.line))
        })
        .map(|capture| photo(source, capture, Some(found)))
        .collect();
    let last_walk = source.state.walkarounds.last().map(|walk| walk.id);
    let code = present()
        .rev()
        .find_map(|sighting| source.codes.get(&sighting.walkaround?).cloned());
    let in_units = |change: &Change, unit: &str| words::change(change, unit, source.ask.units);
    let says = shown.says_with(&in_units);
    let said = |(date, by): &(String, String)| Said {
        date: date.clone(),
        by: by.clone(),
    };
    let limit = found.limit.as_ref().map(|(quantity, value, unit, from)| {
        let reached = if finding_growth::reached(found, quantity, value, unit) {
            "; the last size seen has reached it: show it to a licensed mechanic or inspector"
        } else {
            ""
        };
        format!("{} {value} {unit}, from {from}{reached}", plain(quantity))
    });
    Item {
        id: found.id,
        short: short_name(&found.zone, &found.id),
        number: None,
        zone: found.zone.clone(),
        place,
        chapters: source.chapters(&found.zone),
        condition: found.condition.clone(),
        title: shown.title.to_lowercase(),
        text: found.text.clone(),
        unsure: found.unsure.clone(),
        open: found.open,
        new: last_walk.is_some()
            && found.sightings.first().and_then(|first| first.walkaround) == last_walk,
        change: shown.change.clone(),
        says,
        first_recorded: Said {
            date: found.opened.seen.date().to_owned(),
            by: source.who(&found.opened.author),
        },
        earliest: Said {
            date: earliest.seen.date().to_owned(),
            by: source.who(&earliest.author),
        },
        last_seen: present().next_back().map(|sighting| Said {
            date: sighting.told.seen.date().to_owned(),
            by: source.who(&sighting.told.author),
        }),
        size_then: sizes(false),
        size_now: sizes(true),
        concern: shown.concern.clone(),
        concerns: found
            .concerns
            .iter()
            .map(|(author, concern)| Concern {
                by: source
                    .state
                    .authors
                    .keys()
                    .find(|known| known.hex() == *author)
                    .map_or_else(|| author.clone(), |known| source.who(known)),
                concern: concern.clone(),
            })
            .collect(),
        seen_by,
        returned: shown.returned.clone(),
        sightings,
        steps: found
            .steps
            .iter()
            .map(|step| Step {
                date: step.told.seen.date().to_owned(),
                by: source.who(&step.told.author),
                kind: step.what.clone(),
                says: step_words(&step.what, &step.words),
                shown_by: source
                    .cited
                    .get(&step.told.line)
                    .and_then(|line| source.capture_name(line)),
                order: step.told.order_us,
            })
            .collect(),
        closed: (!found.open).then(|| {
            found
                .closed_how
                .clone()
                .unwrap_or_else(|| "not said how".to_owned())
        }),
        limit,
        again: found.again.as_deref().map(again::words),
        window: (source.ask.windows && source.ask.cut != Cut::Sheet)
            .then(|| window(source, found))
            .flatten(),
        covered: shown.covered.as_ref().map(said),
        began: shown.started.as_ref().map(|started| started.says.clone()),
        dressed: shown.dressed.clone(),
        not_asked: shown.not_asked.iter().map(said).collect(),
        trends: shown
            .series
            .iter()
            .filter_map(|series| trend_words(series.trend.as_ref()?))
            .collect(),
        series: series::of(source, found),
        photos,
        code,
    }
}

/// The sizes of the running series, first or last of each quantity: `54 mm ± 1 mm`, and with several
/// quantities `length 54 mm ± 1 mm, depth 0.3 mm`.
fn sizes(source: &Source<'_>, found: &Finding, last: bool) -> Option<String> {
    let running = finding_growth::running(found);
    let quantities = finding_growth::quantities(found);
    let each: Vec<String> = quantities
        .iter()
        .filter_map(|quantity| {
            let mut measures = found
                .sightings
                .iter()
                .filter(|sighting| compare::counts(sighting) && Some(sighting.series) == running)
                .filter_map(|sighting| sighting.standing_of(quantity));
            let measure = if last {
                measures.next_back()
            } else {
                measures.next()
            }?;
            let size = words::size(measure, source.ask.units);
            Some(if quantities.len() > 1 {
                format!("{} {size}", plain(quantity))
            } else {
                size
            })
        })
        .collect();
    (!each.is_empty()).then(|| each.join(", "))
}

fn step_words(what: &str, said: &[String]) -> String {
    let at = |index: usize| said.get(index).map_or("", String::as_str);
    match what {
        "treated" if said.len() > 1 => format!("{} by {}, as claimed", plain(at(0)), at(1)),
        "treated" => plain(at(0)),
        "told" => format!("told {}", at(0)),
        "deferred" => format!("deferred by {}, on {}, until {}", at(0), at(1), at(2)),
        "maintenance_entry" => format!("a signed maintenance entry was seen: {}", at(0)),
        "closed" => format!("closed: {}", said.join(", ")),
        "reopened" if said.is_empty() => "opened again".to_owned(),
        "reopened" => format!("opened again: {}", said.join(", ")),
        "disputed" => "a joining is disputed".to_owned(),
        other => format!("{}: {}", plain(other), said.join(", ")),
    }
}

fn sight(source: &Source<'_>, sighting: &Sighting, shown: &FindingView) -> Sight {
    let mut says: Vec<String> = Vec::new();
    says.extend(sighting.step.as_deref().map(plain));
    says.extend(
        sighting
            .measures
            .iter()
            .map(|measure| words::measure(measure, source.ask.units)),
    );
    for measure in &sighting.measures {
        says.extend(measure.scale.clone());
    }
    says.extend(sighting.why.clone());
    says.extend(sighting.text.as_ref().map(|text| format!("“{text}”")));
    let view = shown
        .sightings
        .iter()
        .find(|view| view.line == sighting.told.line);
    let against = |change_of: fn(&MeasureView) -> Option<&Change>| -> Option<String> {
        let view = view?;
        let several = view.measures.len() > 1;
        let each: Vec<String> = view
            .measures
            .iter()
            .filter_map(|measure| {
                let change = change_of(measure)?;
                let words = words::change(change, &measure.unit, source.ask.units);
                Some(if several {
                    format!("{}: {words}", plain(&measure.quantity))
                } else {
                    words
                })
            })
            .collect();
        (!each.is_empty()).then(|| each.join("; "))
    };
    let stepped = |step: Option<&StepChange>| {
        step.map(|step| match step.change.as_str() {
            "same" => format!("{} as before", plain(&step.to)),
            _ => format!("from {} to {}", plain(&step.from), plain(&step.to)),
        })
    };
    let joined = |step: Option<String>, change: Option<String>| {
        let both: Vec<String> = [step, change].into_iter().flatten().collect();
        (!both.is_empty()).then(|| both.join("; "))
    };
    Sight {
        line: sighting.told.line,
        date: sighting.told.seen.date().to_owned(),
        by: source.who(&sighting.told.author),
        hours: sighting.hours.clone(),
        meter: sighting
            .hours
            .as_ref()
            .map(|_| meters::shown(&sighting.axis).to_owned()),
        landings: sighting.landings.clone(),
        result: sighting.result.clone(),
        basis: sighting.basis.clone(),
        says: says.join("; "),
        before: joined(
            stepped(view.and_then(|view| view.step_before.as_ref())),
            against(|measure| measure.before.as_ref()),
        ),
        first: joined(
            stepped(view.and_then(|view| view.step_first.as_ref())),
            against(|measure| measure.first.as_ref()),
        ),
        series: sighting.series,
        late: sighting.late,
        recognised: view
            .and_then(|view| view.recognised.as_ref())
            .map(|(date, by)| Said {
                date: date.clone(),
                by: by.clone(),
            }),
        overtaken: sighting.overtaken,
        order: sighting.told.order_us,
    }
}

/// A photo with the marks that were made on it for this finding.
pub(super) fn photo(source: &Source<'_>, capture: &Capture, found: Option<&Finding>) -> Photo {
    let mut marks = Vec::new();
    let mut measured = Vec::new();
    let sightings = found.map_or(&[][..], |found| &found.sightings[..]);
    for measure in sightings
        .iter()
        .flat_map(|sighting| &sighting.measures)
        .filter(|measure| measure.photo == Some(capture.told.line))
    {
        measured.push(words::measure(measure, source.ask.units));
        let read = measure
            .marks
            .clone()
            .and_then(|value| serde_json::from_value::<Marks>(value).ok())
            .filter(|marks| marks.check().is_ok());
        marks.extend(read);
    }
    let series = sightings
        .iter()
        .find(|sighting| sighting.evidence.contains(&capture.told.line))
        .map_or(0, |sighting| sighting.series);
    let walk = source
        .state
        .walkarounds
        .iter()
        .find(|walk| Some(walk.id) == capture.walkaround);
    Photo {
        entry: capture.told.line,
        file: capture.file,
        name: capture.name.clone(),
        date: capture.told.seen.date().to_owned(),
        by: source.who(&capture.told.author),
        hours: walk.and_then(|walk| walk.hours.clone()),
        meter: walk
            .filter(|walk| walk.hours.is_some())
            .map(|walk| meters::shown(&walk.axis).to_owned()),
        cut_short: capture.complete == Some(false),
        series,
        measured,
        marks,
    }
}

/// The growth window until the user's own limit, in words, or why there is none.
fn window(source: &Source<'_>, found: &Finding) -> Option<String> {
    let (_, value, unit, from) = found.limit.as_ref()?;
    let window = match finding_growth::window(found, source.layout) {
        Ok(window) => window,
        Err(why) => return Some(format!("No growth window: {why}. {}", growth::CAUTION)),
    };
    let against = match window.window.against {
        Axis::Hours => format!(
            " h ({})",
            meters::shown(window.meter.as_deref().unwrap_or_default())
        ),
        Axis::Landings => " landings".to_owned(),
        Axis::Days => String::new(),
    };
    let at = |at: &growth::At| match at {
        growth::At::Number(number) => format!("{number:.0}{against}"),
        growth::At::Date(date) => words::day(date),
    };
    let latest = window
        .window
        .latest
        .as_ref()
        .map_or_else(|| "no latest end".to_owned(), at);
    let left_out = finding_growth::left_out_words(&window.left_out)
        .map(|left_out| format!(" {}.", words::sentence(&left_out)))
        .unwrap_or_default();
    Some(format!(
        "Growth window: the limit of {value} {unit} from {from} may be reached between {} and {latest} ({}; nine times in ten).{left_out} {}",
        at(&window.window.earliest),
        window.window.model,
        window.window.caution
    ))
}
