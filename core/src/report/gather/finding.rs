//! One finding's part of the content.

use super::{Source, axis};
use crate::history::first_seen;
use crate::history::growth;
use crate::history::series::Axis;
use crate::history::state::{Capture, Finding, Sighting};
use crate::history::view::FindingView;
use crate::notebook::short_name;
use crate::photo::Marks;
use crate::quantity::{Rational, Unit};
use crate::record::kinds::Measure;
use crate::report::Against;
use crate::report::content::{Concern, Item, Photo, Point, Said, Series, Sight, Step};
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
    let last_series = present().next_back().map_or(0, |sighting| sighting.series);
    let measured: Vec<&Measure> = present()
        .filter(|sighting| sighting.series == last_series)
        .filter_map(|sighting| sighting.measures.first())
        .collect();
    let sized = |measure: &&Measure| words::size(measure, source.ask.units);
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
    let last_change = found
        .sightings
        .iter()
        .rev()
        .find(|sighting| sighting.result == "present" && !sighting.overtaken)
        .and_then(|sighting| {
            shown
                .sightings
                .iter()
                .find(|view| view.line == sighting.told.line)
        });
    let says = says_in_units(source, shown, last_change);
    let limit = found.limit.as_ref().map(|(quantity, value, unit, from)| {
        format!("{} {value} {unit}, from {from}", plain(quantity))
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
        size_then: measured.first().map(sized),
        size_now: measured.last().map(sized),
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
        returned: returned(found),
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
            })
            .collect(),
        closed: (!found.open).then(|| {
            found
                .closed_how
                .clone()
                .unwrap_or_else(|| "not said how".to_owned())
        }),
        limit,
        again: found.again.as_deref().map(plain),
        window: source.ask.windows.then(|| window(source, found)).flatten(),
        series: series(source, found),
        photos,
        code,
    }
}

/// The summary of the history, in the reader's units where those differ from what was measured.
fn says_in_units(
    source: &Source<'_>,
    shown: &FindingView,
    last: Option<&crate::history::view::SightingView>,
) -> String {
    let Some((change, unit)) =
        last.and_then(|view| Some((view.first.as_ref()?, view.unit.as_deref()?)))
    else {
        return shown.says.clone();
    };
    let own = crate::history::view::change_words(change, unit);
    let theirs = words::change(change, unit, source.ask.units);
    shown.says.replacen(&own, &theirs, 1)
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
    let unit = view.and_then(|view| view.unit.clone()).unwrap_or_default();
    let worded = |change: &crate::history::significance::Change| {
        words::change(change, &unit, source.ask.units)
    };
    Sight {
        line: sighting.told.line,
        date: sighting.told.seen.date().to_owned(),
        by: source.who(&sighting.told.author),
        hours: sighting.hours.clone(),
        landings: sighting.landings.clone(),
        result: sighting.result.clone(),
        basis: sighting.basis.clone(),
        says: says.join("; "),
        before: view.and_then(|view| view.before.as_ref()).map(worded),
        first: view.and_then(|view| view.first.as_ref()).map(worded),
        series: sighting.series,
        late: sighting.late,
        overtaken: sighting.overtaken,
    }
}

/// `came back 2 times after treatment; the last time after 38 h`.
fn returned(found: &Finding) -> Option<String> {
    let present: Vec<&Sighting> = found
        .sightings
        .iter()
        .filter(|sighting| sighting.result == "present" && !sighting.overtaken)
        .collect();
    let mut times = 0_usize;
    let mut lasted = None;
    for (before, after) in present.iter().zip(present.iter().skip(1)) {
        if after.series > before.series {
            times += 1;
            let hours = |sighting: &Sighting| {
                sighting
                    .hours
                    .as_deref()
                    .and_then(|hours| hours.parse::<Rational>().ok())
                    .map(|hours| hours.to_f64())
            };
            lasted = hours(after)
                .zip(hours(before))
                .map(|(after, before)| after - before);
        }
    }
    (times > 0).then(|| {
        let lasted = lasted
            .filter(|hours| *hours >= 0.0)
            .map(|hours| format!("; seen again within {hours:.1} h"))
            .unwrap_or_default();
        format!(
            "came back after it was treated, {}{lasted}",
            words::count(times, "time")
        )
    })
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
    Photo {
        entry: capture.told.line,
        file: capture.file,
        name: capture.name.clone(),
        date: capture.told.seen.date().to_owned(),
        by: source.who(&capture.told.author),
        hours: source
            .state
            .walkarounds
            .iter()
            .find(|walk| Some(walk.id) == capture.walkaround)
            .and_then(|walk| walk.hours.clone()),
        cut_short: capture.complete == Some(false),
        series,
        measured,
        marks,
    }
}

/// Measures by quantity, in one unit each: the one of the last reading, or the reader's.
fn series(source: &Source<'_>, found: &Finding) -> Vec<Series> {
    let number = |text: &str| text.parse::<Rational>().ok();
    let mut quantities: Vec<&str> = Vec::new();
    let counted = || {
        found
            .sightings
            .iter()
            .filter(|sighting| sighting.result == "present" && !sighting.overtaken)
    };
    for measure in counted().flat_map(|sighting| &sighting.measures) {
        if !quantities.contains(&measure.quantity.as_str()) {
            quantities.push(&measure.quantity);
        }
    }
    let mut all = Vec::new();
    for quantity in quantities {
        let rows: Vec<(&Sighting, &Measure)> = counted()
            .filter_map(|sighting| {
                let measure = sighting.measures.iter().find(|m| m.quantity == quantity)?;
                Some((sighting, measure))
            })
            .collect();
        let Some(unit) = rows
            .last()
            .and_then(|(_, measure)| measure.unit.parse::<Unit>().ok())
        else {
            continue;
        };
        let unit = words::other_unit(unit, source.ask.units).unwrap_or(unit);
        let parsed = |text: &Option<String>| text.as_deref().and_then(number).map(|n| n.to_f64());
        let against = axis(
            source.ask.against,
            rows.iter().all(|(s, _)| parsed(&s.hours).is_some()),
            rows.iter().all(|(s, _)| parsed(&s.landings).is_some()),
        );
        let start = rows.first().map_or(0, |(s, _)| s.told.order_us);
        let points: Vec<Point> = rows
            .iter()
            .filter_map(|(sighting, measure)| {
                let own = measure.unit.parse::<Unit>().ok()?;
                let value = own.convert(&number(&measure.value)?, unit).ok()?;
                let spread = measure
                    .u
                    .as_deref()
                    .and_then(number)
                    .and_then(|u| own.convert_difference(&u, unit).ok())
                    .map(|u| 2.0 * u.to_f64());
                Some(Point {
                    x: match against {
                        Against::Hours => parsed(&sighting.hours)?,
                        Against::Landings => parsed(&sighting.landings)?,
                        Against::Days => (sighting.told.order_us - start) as f64 / 86_400e6,
                    },
                    date: sighting.told.seen.date().to_owned(),
                    value: value.to_f64(),
                    spread,
                    series: sighting.series,
                })
            })
            .collect();
        if points.is_empty() {
            continue;
        }
        let limit = found.limit.as_ref().and_then(|(of, value, own, _)| {
            let own: Unit = own.parse().ok()?;
            (of == quantity)
                .then(|| own.convert(&number(value)?, unit).ok())
                .flatten()
                .map(|limit| limit.to_f64())
        });
        all.push(Series {
            quantity: plain(quantity),
            unit: unit.shown().to_owned(),
            against,
            points,
            limit,
        });
    }
    all
}

/// The growth window until the user's own limit, in words, or why there is none.
fn window(source: &Source<'_>, found: &Finding) -> Option<String> {
    let (quantity, value, unit, from) = found.limit.as_ref()?;
    if source
        .layout
        .zone(&found.zone)
        .is_none_or(|zone| zone.no_window)
    {
        return Some(
            "No growth window is given for this place: show it to licensed people before further flight."
                .to_owned(),
        );
    }
    let last = found
        .sightings
        .iter()
        .rev()
        .find(|s| s.result == "present")?
        .series;
    let mut table = "date,hours,landings,value,unit,u,method\n".to_owned();
    for sighting in found
        .sightings
        .iter()
        .filter(|s| s.series == last && s.result == "present" && !s.overtaken)
    {
        let Some(measure) = sighting.measures.iter().find(|m| m.quantity == *quantity) else {
            continue;
        };
        let cell = |text: &str| text.replace([',', '"', '\n', '\r'], " ");
        table.push_str(&format!(
            "{},{},{},{},{},{},{}\n",
            sighting.told.seen.date(),
            cell(sighting.hours.as_deref().unwrap_or("")),
            cell(sighting.landings.as_deref().unwrap_or("")),
            cell(&measure.value),
            cell(&measure.unit),
            cell(measure.u.as_deref().unwrap_or("")),
            cell(&measure.method)
        ));
    }
    let asked = growth::Ask {
        limit: Some(format!("{value} {unit}")),
        ..growth::Ask::default()
    };
    let grown = match growth::growth(table.as_bytes(), &asked) {
        Ok(grown) => grown,
        Err(error) => return Some(format!("No growth window: {}.", error.what)),
    };
    Some(match grown.window {
        Some(window) => {
            let against = match window.against {
                Axis::Hours => " h airframe total time",
                Axis::Landings => " landings",
                Axis::Days => "",
            };
            let at = |at: &growth::At| match at {
                growth::At::Number(number) => format!("{number:.0}{against}"),
                growth::At::Date(date) => words::day(date),
            };
            let latest = window
                .latest
                .as_ref()
                .map_or_else(|| "no latest end".to_owned(), at);
            format!(
                "Growth window: the limit of {value} {unit} from {from} may be reached between {} and {latest} ({}; nine times in ten). {}",
                at(&window.earliest),
                window.model,
                window.caution
            )
        }
        None => format!(
            "No growth window: {}. {}",
            grown.no_window_because.unwrap_or_default(),
            growth::CAUTION
        ),
    })
}
