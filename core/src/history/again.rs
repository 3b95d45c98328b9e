//! When to look again: hours of a named meter, a date, or the next flight; and when that was done.
//!
//! One form is stored: `next_flight`, `2026-06-01`, `3150 h` of airframe total time, `812.5 h@tach`.
//! An amount of hours that lies below what the meter shows already cannot be a reading to come: it is
//! taken as so many hours more, and stored as the reading at which they are over.

use super::meters::{self, MeterReading, TOTAL_TIME};
use super::state::{State, Told};
use crate::error::{Error, ErrorKind, Result};
use crate::quantity::Rational;
use crate::record::{Digest, Seen};

/// A wish to look again, as said in the record.
#[derive(Debug, Clone)]
pub(super) struct Wish {
    pub told: Told,
    pub finding: Option<Digest>,
    pub zone: Option<String>,
    pub at: String,
}

/// When it is due.
#[derive(Debug, Clone, PartialEq)]
enum When {
    NextFlight,
    Date(String),
    Hours(Rational, String),
}

fn bad(text: &str, what: &str) -> Error {
    Error::new(ErrorKind::BadValue, what.to_owned())
        .at(format!("when to look again: \"{}\"", crate::datafile::short(text)))
        .hint("write \"next flight\", a date as 2026-06-01, hours as \"3150 h\" or \"3150 h@tach\", or \"25 h\" for 25 hours more")
}

fn hours(text: &str) -> Option<&str> {
    let text = text.trim();
    let plain = ["hours", "hour", "hrs", "h"]
        .iter()
        .find_map(|unit| text.strip_suffix(unit))?;
    Some(plain.trim())
}

/// Reads what a person said, to the stored form. `meter` is the axis of the meter named behind an `@`;
/// without one, hours are of the clock that was read last.
///
/// # Errors
/// `BadValue` for what is neither hours nor a date nor the next flight.
pub fn parse(text: &str, meter: Option<&str>, read: &[MeterReading]) -> Result<String> {
    let said = text.split_once('@').map_or(text, |(said, _)| said).trim();
    let lower = said.to_lowercase();
    if matches!(
        lower.replace(['_', '-'], " ").as_str(),
        "next flight" | "before next flight" | "before the next flight" | "next preflight"
    ) {
        return Ok("next_flight".to_owned());
    }
    if said.len() == 10 && said.as_bytes().get(4) == Some(&b'-') {
        let seen = Seen::given(said).map_err(|_| bad(text, "there is no such day"))?;
        return Ok(seen.date().to_owned());
    }
    let more = ["in ", "after ", "+"]
        .iter()
        .find_map(|word| lower.strip_prefix(word));
    let figure = more.unwrap_or(&lower);
    let figure = hours(figure)
        .or_else(|| figure.parse::<Rational>().is_ok().then_some(figure))
        .ok_or_else(|| bad(text, "that is neither hours nor a date nor the next flight"))?;
    let figure: Rational = figure
        .parse()
        .map_err(|_| bad(text, "the hours are no number"))?;
    if figure.is_negative() || figure.is_zero() {
        return Err(bad(text, "hours to come are more than zero"));
    }
    let axis = meter.map_or_else(
        || {
            read.iter()
                .rfind(|reading| reading.axis != meters::LANDINGS)
                .map_or_else(|| TOTAL_TIME.to_owned(), |reading| reading.axis.clone())
        },
        str::to_owned,
    );
    let stands = meters::last(read, &axis).and_then(|read| read.total.parse::<Rational>().ok());
    let at = match stands {
        Some(stands) if more.is_some() || figure <= stands => figure
            .add(&stands)
            .ok_or_else(|| bad(text, "too many hours"))?,
        None if more.is_some() => {
            return Err(bad(
                text,
                "no hours are recorded yet, so hours more cannot be counted",
            ));
        }
        _ => figure,
    };
    if at.to_f64() > 1_000_000.0 {
        return Err(bad(text, "no aeroplane has so many hours"));
    }
    let plain = meters::plain(&at);
    Ok(if axis == TOTAL_TIME {
        format!("{plain} h")
    } else {
        format!("{plain} h@{axis}")
    })
}

/// The stored form, read back; none for what an older version let pass.
fn read_back(at: &str) -> Option<When> {
    if at.replace('_', " ") == "next flight" {
        return Some(When::NextFlight);
    }
    if at.len() == 10 && Seen::given(at).is_ok() {
        return Some(When::Date(at.to_owned()));
    }
    let (figure, axis) = at.split_once('@').unwrap_or((at, TOTAL_TIME));
    Some(When::Hours(
        hours(figure).unwrap_or(figure).parse().ok()?,
        axis.to_owned(),
    ))
}

/// As people read it: `at 812.5 h on tach`.
pub fn words(at: &str) -> String {
    match read_back(at) {
        Some(When::NextFlight) => "before the next flight".to_owned(),
        Some(When::Date(date)) => date,
        Some(When::Hours(figure, axis)) => {
            format!("at {}", meters::hours_words(&meters::plain(&figure), &axis))
        }
        None => at.replace('_', " "),
    }
}

/// Was this look the one that was wished for? Any later one before a flight; on or after the day; at or
/// after the hours, as far as they are known.
fn answers(wish: &Wish, told: &Told, hours: Option<(&str, &str)>) -> bool {
    if told.order() <= wish.told.order() {
        return false;
    }
    match read_back(&wish.at) {
        Some(When::NextFlight) | None => true,
        Some(When::Date(date)) => told.seen.date() >= date.as_str(),
        Some(When::Hours(figure, axis)) => hours.is_some_and(|(total, of)| {
            of == axis && total.parse::<Rational>().is_ok_and(|total| total >= figure)
        }),
    }
}

/// Hours at an instant: of the walkaround, else what was last read before on any clock.
fn hours_then<'a>(
    state: &'a State,
    walkaround: Option<Digest>,
    told: &Told,
) -> Option<(&'a str, &'a str)> {
    let walk = walkaround.and_then(|id| state.walkarounds.iter().find(|walk| walk.id == id));
    if let Some(walk) = walk
        && let Some(hours) = &walk.hours
    {
        return Some((hours, &walk.axis));
    }
    state
        .meter_readings
        .iter()
        .rfind(|read| read.told.order_us <= told.order_us && read.axis != meters::LANDINGS)
        .map(|read| (read.total.as_str(), read.axis.as_str()))
}

/// Puts the latest wish on each finding and zone, unless a look or a sighting has answered it since,
/// inside a walkaround or outside.
pub(super) fn settle(state: &mut State, wishes: &[Wish]) {
    for wish in wishes {
        if let Some(id) = wish.finding {
            let Some(at) = state
                .findings
                .iter()
                .position(|finding| finding.ids.contains(&id))
            else {
                continue;
            };
            let done = state.findings.get(at).is_some_and(|finding| {
                finding.sightings.iter().any(|sighting| {
                    let own = sighting
                        .hours
                        .as_deref()
                        .map(|hours| (hours, sighting.axis.as_str()));
                    sighting.result != "could_not_check"
                        && !sighting.late
                        && answers(
                            wish,
                            &sighting.told,
                            own.or_else(|| hours_then(state, None, &sighting.told)),
                        )
                })
            });
            if let Some(finding) = state.findings.get_mut(at) {
                finding.again = (!done).then(|| wish.at.clone());
            }
        } else if let Some(zone) = &wish.zone {
            let looked = state.looks.iter().any(|look| {
                look.zone == *zone
                    && look.result == "nothing_found"
                    && answers(
                        wish,
                        &look.told,
                        hours_then(state, look.walkaround, &look.told),
                    )
            });
            let found = state
                .findings
                .iter()
                .filter(|finding| finding.zone == *zone)
                .flat_map(|finding| &finding.sightings)
                .any(|sighting| {
                    sighting.result == "present"
                        && !sighting.late
                        && answers(
                            wish,
                            &sighting.told,
                            hours_then(state, sighting.walkaround, &sighting.told),
                        )
                });
            if looked || found {
                state.again.remove(zone);
            } else {
                state.again.insert(zone.clone(), wish.at.clone());
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(axis: &str, total: &str) -> MeterReading {
        let digest = Digest::of(axis.as_bytes());
        MeterReading {
            told: Told {
                line: digest,
                author: digest,
                seq: 1,
                seen: Seen::given("2026-05-01").unwrap(),
                order_us: 0,
                at: "2026-05-01T09:00:00+00:00".into(),
                given_clock: true,
            },
            meter: None,
            axis: axis.into(),
            reading: total.into(),
            total: total.into(),
            walkaround: None,
            backwards: false,
        }
    }

    /// Truth by construction: 161 h stand on the clock.
    #[test]
    fn hours_dates_and_the_next_flight_are_read_and_a_banana_is_not() {
        let total = [read(TOTAL_TIME, "161")];
        for (said, stored) in [
            ("25 h", "186 h"),
            ("25", "186 h"),
            ("in 25 hours", "186 h"),
            ("200 h", "200 h"),
            ("in 200 h", "361 h"),
            ("2026-06-01", "2026-06-01"),
            ("Next flight", "next_flight"),
            ("next-flight", "next_flight"),
            ("0.5 h", "161.5 h"),
        ] {
            assert_eq!(parse(said, None, &total).unwrap(), stored, "{said}");
        }
        for said in [
            "banana",
            "",
            "-3 h",
            "0 h",
            "2026-13-40",
            "h",
            "9999999 h",
            "25 psi",
        ] {
            let error = parse(said, None, &total).unwrap_err();
            assert!(error.place.contains("look again"), "{said}: {error}");
            assert!(error.remedy.contains("next flight"), "{said}");
        }
        assert!(parse("in 25 h", None, &[]).is_err());
        assert_eq!(parse("25 h", None, &[]).unwrap(), "25 h");
        let tach = [read(TOTAL_TIME, "161"), read("tach", "80")];
        assert_eq!(parse("25 h", None, &tach).unwrap(), "105 h@tach");
        assert_eq!(
            parse("200 h@total", Some(TOTAL_TIME), &tach).unwrap(),
            "200 h"
        );
        assert_eq!(words("105 h@tach"), "at 105 h on tach");
        assert_eq!(words("186 h"), "at 186 h");
        assert_eq!(words("next_flight"), "before the next flight");
    }
}
