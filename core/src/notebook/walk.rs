//! Walkarounds, looks, readings.

use std::collections::BTreeMap;

use super::Notebook;
use crate::error::{Error, ErrorKind, Result};
use crate::quantity::Rational;
use crate::record::kinds::{
    Answer, Looked, Reading, Serviced, WalkaroundFinished, WalkaroundStarted,
};
use crate::record::{Body, Digest, Seen};

/// Purposes of a walkaround.
pub const PURPOSES: [&str; 7] = [
    "preflight",
    "postflight",
    "routine",
    "before_maintenance",
    "prepurchase",
    "handing_over",
    "after_event",
];

/// A walkaround to start.
#[derive(Debug, Clone, Default)]
pub struct NewWalkaround {
    /// One of [`PURPOSES`].
    pub purpose: Option<String>,
    /// Airframe total time, hours; `H@METER` for what a fitted meter reads.
    pub hours: Option<String>,
    /// Landings in all; `L@METER` for what a fitted counter reads.
    pub landings: Option<String>,
    /// When it was, for earlier paper logs.
    pub at: Option<Seen>,
    /// The event that it follows.
    pub event: Option<Digest>,
}

/// A look to write down.
#[derive(Debug, Clone, Default)]
pub struct NewLook {
    /// Zones said together.
    pub zones: Vec<String>,
    /// Why they could not be seen; none for "nothing found".
    pub not_seen: Option<String>,
    /// How: glance, close, touched, mirror, light.
    pub how: Option<String>,
    /// Access: panel, cowl, spat, cover, dirty, wet, dark.
    pub access: Option<String>,
    /// Condition that was looked for.
    pub condition: Option<String>,
    /// Answers for open findings: present, not_found, could_not_check.
    pub answers: Vec<(Digest, String)>,
    /// Stop that is looked at as a whole: its zones are added.
    pub stop: Option<String>,
    /// Fresh eyes: `before` the earlier findings were opened, or `after`.
    pub fresh: Option<String>,
}

pub(super) fn one_of(value: &str, allowed: &[&str], what: &str) -> Result<String> {
    let plain = value.trim().to_ascii_lowercase().replace([' ', '-'], "_");
    if allowed.contains(&plain.as_str()) {
        return Ok(plain);
    }
    Err(
        Error::new(ErrorKind::BadValue, format!("\"{value}\" is no {what}"))
            .at(what)
            .hint(format!("one of: {}", allowed.join(", ").replace('_', " "))),
    )
}

/// A decimal number of at least zero, kept as it was written.
pub(super) fn number(text: &str, what: &str) -> Result<String> {
    let value: Rational = text.parse().map_err(|error: Error| error.at(what))?;
    if value.is_negative() {
        return Err(
            Error::new(ErrorKind::BadValue, format!("\"{text}\" is below zero"))
                .at(what)
                .hint("check the meter"),
        );
    }
    if value.to_f64() > 1_000_000.0 {
        return Err(Error::new(
            ErrorKind::BadValue,
            format!("\"{text}\" is more than any aeroplane has"),
        )
        .at(what)
        .hint("check the meter"));
    }
    Ok(text.trim().to_owned())
}

/// What is left of an open walkaround.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct WalkaroundStatus {
    /// The walkaround.
    pub walkaround: Digest,
    /// Zones of the layout.
    pub zones: usize,
    /// Zones without a look or a finding in this walkaround.
    pub left: Vec<LeftZone>,
    /// Captures without a place, papers apart.
    pub unplaced: Vec<Unplaced>,
}

/// A zone that is left.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct LeftZone {
    /// Code.
    pub code: String,
    /// Name.
    pub name: String,
}

/// A capture without a place.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
pub struct Unplaced {
    /// Its entry.
    pub entry: Digest,
    /// photo, voice or note.
    pub kind: String,
    /// Name as it came.
    pub name: Option<String>,
}

impl Notebook {
    /// What is left to look at in this author's open walkaround, and what is unplaced.
    pub fn walkaround_status(&self, aircraft: &Digest) -> Result<WalkaroundStatus> {
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        let Some(id) = self.open_walkaround(&state).map(|walkaround| walkaround.id) else {
            return Err(
                Error::new(ErrorKind::WrongState, "no walkaround of yours is open")
                    .at(&state.registration)
                    .hint("start one: witnessmark walkaround start"),
            );
        };
        let looked = |code: &str| {
            state
                .looks
                .iter()
                .any(|look| look.walkaround == Some(id) && look.zone == code)
                || state.findings.iter().any(|finding| {
                    finding.zone == code
                        && finding.sightings.iter().any(|sighting| {
                            sighting.walkaround == Some(id) && sighting.result == "present"
                        })
                })
        };
        let left = layout
            .zones
            .iter()
            .filter(|zone| !looked(&zone.code))
            .map(|zone| LeftZone {
                code: zone.code.clone(),
                name: zone.name.clone(),
            })
            .collect();
        let unplaced = state
            .unplaced()
            .map(|capture| Unplaced {
                entry: capture.told.line,
                kind: capture.kind.clone(),
                name: capture.name.clone(),
            })
            .collect();
        Ok(WalkaroundStatus {
            walkaround: id,
            zones: layout.zones.len(),
            left,
            unplaced,
        })
    }

    /// Starts a walkaround.
    pub fn start_walkaround(&mut self, aircraft: &Digest, new: &NewWalkaround) -> Result<Digest> {
        if let Some(open) = self.current_walkaround(aircraft)? {
            return Err(Error::new(
                ErrorKind::WrongState,
                "a walkaround of this aircraft is open already",
            )
            .at(open.short())
            .hint("finish it first: witnessmark walkaround finish"));
        }
        let purpose = new
            .purpose
            .as_deref()
            .map(|text| one_of(text, &PURPOSES, "purpose"))
            .transpose()?;
        let seen = new.at.clone().unwrap_or_else(|| self.now_seen());
        let (mut hours, mut meter) = (None, None);
        let (mut landings, mut landings_meter) = (None, None);
        if new.hours.is_some() || new.landings.is_some() {
            let state = self.state(aircraft)?;
            if let Some(text) = new.hours.as_deref() {
                let (figure, name) = match text.split_once('@') {
                    Some((figure, name)) => (figure, Some(name)),
                    None => (text, None),
                };
                if let Some(name) = name {
                    let fitted = super::meters::the_meter(&state, name)?;
                    if fitted.meter == "landings" {
                        return Err(Error::new(
                            ErrorKind::BadValue,
                            format!("\"{name}\" counts landings, not hours"),
                        )
                        .at("hours")
                        .hint("give it as landings: --landings"));
                    }
                    meter = Some(fitted.id);
                }
                let figure = number(figure, "hours")?;
                let (axis, total) = state.axis_of(meter, "total_time", &figure);
                self.check_forward(&state, &axis, &total, &seen, "hours")?;
                hours = Some(figure);
            }
            if let Some(text) = new.landings.as_deref() {
                let (figure, name) = match text.split_once('@') {
                    Some((figure, name)) => (figure, Some(name)),
                    None => (text, None),
                };
                if let Some(name) = name {
                    let fitted = super::meters::the_meter(&state, name)?;
                    if fitted.meter != "landings" {
                        return Err(Error::new(
                            ErrorKind::BadValue,
                            format!("\"{name}\" counts hours, not landings"),
                        )
                        .at("landings")
                        .hint("read it among the hours: witnessmark walkaround start --hours METER=READING"));
                    }
                    landings_meter = Some(fitted.id);
                }
                let figure = number(figure, "landings")?;
                if figure.parse::<Rational>()?.denominator() != 1 {
                    return Err(Error::new(
                        ErrorKind::BadValue,
                        format!("\"{text}\" is no whole number of landings"),
                    )
                    .at("landings")
                    .hint("count whole landings"));
                }
                let (axis, total) = state.axis_of(landings_meter, "landings", &figure);
                self.check_forward(&state, &axis, &total, &seen, "landings")?;
                landings = Some(figure);
            }
        }
        let body = WalkaroundStarted {
            purpose,
            hours,
            meter,
            landings,
            landings_meter,
            event: new.event,
        };
        self.append(aircraft, seen, body.into())
    }

    /// Finishes this author's open walkaround: the RFC 6962 tree over the chain so far.
    pub fn finish_walkaround(&mut self, aircraft: &Digest) -> Result<Digest> {
        let Some(walkaround) = self.current_walkaround(aircraft)? else {
            return Err(Error::new(
                ErrorKind::WrongState,
                "no walkaround of this aircraft is open",
            )
            .at(aircraft.short())
            .hint("start one: witnessmark walkaround start"));
        };
        let file = self.chain_file(aircraft);
        let path = super::below(&self.root, &["record"]).join(&file);
        let stretch = crate::record::chain::read(self.world.files.as_ref(), &path, 0)?;
        let leaves: Vec<&[u8]> = stretch
            .lines
            .iter()
            .map(|(_, line)| line.bytes.as_slice())
            .collect();
        let root = crate::record::proof::merkle::tree_hash(&leaves);
        let body = WalkaroundFinished {
            walkaround,
            size: leaves.len() as u64,
            root,
        };
        let seen = self.now_seen();
        self.append(aircraft, seen, body.into())
    }

    /// Writes a look. "Nothing found" over open findings asks of each; those without an answer get
    /// no sighting and are returned, to be shown as not asked.
    pub fn look(&mut self, aircraft: &Digest, new: &NewLook) -> Result<(Digest, Vec<Digest>)> {
        if new.zones.is_empty() && new.stop.is_none() {
            return Err(Error::new(ErrorKind::BadValue, "a look needs a zone")
                .hint("name one or more zones"));
        }
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        let mut zones = Vec::new();
        for zone in &new.zones {
            let code = self.zone_code(&layout, zone)?;
            if !zones.contains(&code) {
                zones.push(code);
            }
        }
        if let Some(key) = &new.stop {
            let stop = layout.find_stop(key)?;
            for code in &stop.zones {
                if !zones.contains(code) {
                    zones.push(code.clone());
                }
            }
        }
        let mut answers = Vec::new();
        for (finding, answer) in &new.answers {
            answers.push(Answer {
                finding: *finding,
                answer: one_of(
                    answer,
                    &["present", "not_found", "could_not_check"],
                    "answer",
                )?,
            });
        }
        let walkaround = self.current_walkaround(aircraft)?;
        let mut unasked: Vec<Digest> = Vec::new();
        // Findings that were there before this walkaround: said as a number, whoever looks first.
        let earlier = state
            .findings
            .iter()
            .filter(|finding| finding.open && zones.contains(&finding.zone))
            .filter(|finding| {
                walkaround.is_none_or(|id| {
                    finding
                        .sightings
                        .first()
                        .is_none_or(|first| first.walkaround != Some(id))
                })
            })
            .count() as u64;
        if new.not_seen.is_none() {
            for finding in state
                .findings
                .iter()
                .filter(|finding| finding.open && zones.contains(&finding.zone))
            {
                let answered = answers
                    .iter()
                    .any(|answer| finding.ids.contains(&answer.finding));
                let sighted = walkaround.is_some()
                    && finding
                        .sightings
                        .iter()
                        .any(|sighting| sighting.walkaround == walkaround);
                if !answered && !sighted {
                    unasked.push(finding.id);
                }
            }
        }
        let body = Looked {
            walkaround,
            zones,
            result: if new.not_seen.is_some() {
                "not_seen"
            } else {
                "nothing_found"
            }
            .into(),
            why: new.not_seen.clone(),
            how: new
                .how
                .as_deref()
                .map(|how| {
                    one_of(
                        how,
                        &["glance", "close", "touched", "mirror", "light"],
                        "way of looking",
                    )
                })
                .transpose()?,
            access: new.access.clone(),
            condition: new.condition.clone(),
            stop: new.stop.clone(),
            fresh: new
                .fresh
                .as_deref()
                .map(|fresh| one_of(fresh, &["before", "after"], "moment"))
                .transpose()?,
            earlier: new.fresh.is_some().then_some(earlier),
            answers,
        };
        let seen = self.now_seen();
        let digest = self.append(aircraft, seen, body.into())?;
        Ok((digest, unasked))
    }

    /// Writes a reading: oil found, pressure, extension, sample …
    #[allow(clippy::too_many_arguments)]
    pub fn read_value(
        &mut self,
        aircraft: &Digest,
        kind: &str,
        value: &str,
        unit: Option<&str>,
        u: Option<&str>,
        zone: Option<&str>,
        context: BTreeMap<String, String>,
    ) -> Result<Digest> {
        let plain = kind.trim().to_ascii_lowercase().replace([' ', '-'], "_");
        if value.trim().is_empty() {
            return Err(Error::new(ErrorKind::BadValue, "the value is empty")
                .at(kind)
                .hint("say what was read"));
        }
        if let Some(unit) = unit {
            unit.parse::<crate::quantity::Unit>()
                .map_err(|error| error.at(kind))?;
        }
        let number = value.parse::<Rational>();
        // Words have no unit ("clear"); what has one is a number, or nothing could be made of it later.
        if let (Err(error), true) = (&number, unit.is_some()) {
            return Err(error.clone().at(kind));
        }
        let figure = number.ok();
        if figure.is_some_and(|figure| figure.to_f64() > 1_000_000.0) {
            return Err(
                Error::new(ErrorKind::BadValue, format!("\"{value}\" cannot be right"))
                    .at(kind)
                    .hint("check the figure and its unit"),
            );
        }
        if let Some(u) = u {
            let u: Rational = u.parse().map_err(|error: Error| error.at("--u"))?;
            if u.is_negative() {
                return Err(Error::new(ErrorKind::BadValue, "an uncertainty below zero")
                    .at("--u")
                    .hint("give it as plus or minus"));
            }
        }
        if figure.is_some_and(|figure| figure.is_negative()) && !plain.contains("temperature") {
            return Err(
                Error::new(ErrorKind::BadValue, format!("\"{value}\" is below zero"))
                    .at(kind)
                    .hint("read it again"),
            );
        }
        let walkaround = self.current_walkaround(aircraft)?;
        let body: Body = if let Some(what) = plain.strip_suffix("_added") {
            Serviced {
                what: what.to_owned(),
                value: Some(value.to_owned()),
                unit: unit.map(str::to_owned),
                zone: zone.map(str::to_owned),
                context,
                walkaround,
            }
            .into()
        } else {
            Reading {
                reading: plain,
                value: value.to_owned(),
                unit: unit.map(str::to_owned),
                u: u.map(str::to_owned),
                zone: zone.map(str::to_owned),
                context,
                walkaround,
            }
            .into()
        };
        let seen = self.now_seen();
        self.append(aircraft, seen, body)
    }

    /// How many open findings from before this author's walkaround a stop has, and which: the number
    /// is shown at once, what they are after the look or on request.
    ///
    /// # Errors
    /// `Unknown` for a stop that the layout does not have.
    pub fn earlier_at_stop(&self, aircraft: &Digest, stop: &str) -> Result<(String, Vec<Digest>)> {
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        let stop = layout.find_stop(stop)?;
        let walk = self.open_walkaround(&state).map(|walkaround| walkaround.id);
        let list = state
            .findings
            .iter()
            .filter(|finding| finding.open && stop.zones.contains(&finding.zone))
            .filter(|finding| {
                walk.is_none()
                    || finding.sightings.first().and_then(|first| first.walkaround) != walk
            })
            .map(|finding| finding.id)
            .collect();
        Ok((stop.name.clone(), list))
    }
}
