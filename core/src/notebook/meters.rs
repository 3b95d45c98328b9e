//! Meters fitted and read, components fitted and removed.

use super::Notebook;
use super::walk::{number, one_of};
use crate::error::{Error, ErrorKind, Result};
use crate::history::meters::{self, LANDINGS, Meter, TOTAL_TIME};
use crate::history::state::{Component, State};
use crate::quantity::Rational;
use crate::record::kinds::{ComponentFitted, ComponentRemoved, MeterFitted, MeterRead};
use crate::record::{Digest, Seen};

/// Kinds of meter.
pub const METERS: [&str; 4] = ["tachometer", "hour_meter", "total_time", "landings"];

/// A meter to fit, or to take over as it is.
#[derive(Debug, Clone, Default)]
pub struct NewMeter {
    /// Name that people will use: "tach".
    pub name: String,
    /// One of [`METERS`].
    pub meter: String,
    /// What it reads.
    pub reading: String,
    /// The total it stands for; with none, the total of the meter it replaces, else its own reading.
    pub total: Option<String>,
    /// Name of the meter it replaces.
    pub replaces: Option<String>,
    /// When, if not now.
    pub at: Option<Seen>,
}

/// A component to fit.
#[derive(Debug, Clone, Default)]
pub struct NewComponent {
    /// engine, propeller, blade, wheel, tire …
    pub component: String,
    /// Serial or stamp.
    pub serial: Option<String>,
    /// Zone code or name.
    pub zone: String,
    /// Which of several in that zone.
    pub position: Option<String>,
    /// How the position is counted where no stamp tells.
    pub convention: Option<String>,
    /// The component that leaves: serial, position or first digits of its line.
    pub replaces: Option<String>,
    /// Hours it had run before.
    pub run_before: Option<String>,
    /// Airframe total time.
    pub hours: Option<String>,
    /// When, if not now.
    pub at: Option<Seen>,
}

impl Notebook {
    /// Fits a meter. One that replaces another goes on from its total.
    ///
    /// # Errors
    /// `BadValue` for a figure that no meter shows; `AlreadyThere` for a name in use; `Unknown` for a
    /// meter to replace that is not there; those of writing.
    pub fn fit_meter(&mut self, aircraft: &Digest, new: &NewMeter) -> Result<Digest> {
        let meter = one_of(&new.meter, &METERS, "kind of meter")?;
        let name = new.name.trim().to_owned();
        if name.is_empty() || name.contains('@') {
            return Err(
                Error::new(ErrorKind::BadValue, "a meter needs a name of its own")
                    .at("name")
                    .hint("name it as people do, without @: tach, hour meter"),
            );
        }
        let state = self.state(aircraft)?;
        let old = match &new.replaces {
            Some(text) => Some(the_meter(&state, text)?.clone()),
            None => None,
        };
        let in_use = state.meters.iter().any(|known| {
            known.replaced_by.is_none()
                && super::folded(&known.name) == super::folded(&name)
                && old.as_ref().is_none_or(|old| old.id != known.id)
        });
        if in_use {
            return Err(Error::new(
                ErrorKind::AlreadyThere,
                format!("a meter \"{name}\" is fitted already"),
            )
            .at(&state.registration)
            .hint("give it another name, or say that this one takes its place: --replaces"));
        }
        if let Some(old) = &old
            && old.meter != meter
        {
            return Err(Error::new(
                ErrorKind::BadValue,
                format!(
                    "a {} does not continue a {}",
                    meter.replace('_', " "),
                    old.meter.replace('_', " ")
                ),
            )
            .at(&old.name)
            .hint("fit it as a meter of its own: their hours are not the same hours"));
        }
        let reading = number(&new.reading, "reading")?;
        let seen = new.at.clone().unwrap_or_else(|| self.now_seen());
        let total = match (&new.total, &old) {
            (Some(total), _) => number(total, "total")?,
            (None, Some(old)) => state
                .meter_readings
                .iter()
                .rfind(|read| read.axis == old.axis)
                .map_or_else(
                    || meters::total(&old.reading, &old.offset),
                    |read| read.total.clone(),
                ),
            (None, None) => reading.clone(),
        };
        let offset = total
            .parse::<Rational>()?
            .sub(&reading.parse::<Rational>()?)
            .map(|offset| meters::plain(&offset))
            .ok_or_else(|| Error::new(ErrorKind::BadValue, "the total cannot be worked out"))?;
        let body = MeterFitted {
            name,
            meter,
            reading,
            offset,
            replaces: old.map(|old| old.id),
        };
        self.append(aircraft, seen, body.into())
    }

    /// Reads a meter, or total time or landings without one. Returns the line and the total.
    ///
    /// # Errors
    /// `Unknown` for a meter that is not there; `BadValue` for a figure that runs backwards; those of
    /// writing.
    pub fn read_meter(
        &mut self,
        aircraft: &Digest,
        name: &str,
        reading: &str,
        at: Option<Seen>,
    ) -> Result<(Digest, String, String)> {
        let state = self.state(aircraft)?;
        let reading = number(reading, name)?;
        let (meter, quantity) = match the_meter(&state, name) {
            Ok(meter) => (Some(meter.id), None),
            Err(error) => match super::folded(name).as_str() {
                "totaltime" | "airframe" | "total_time" | "hours" => (None, Some("total_time")),
                "landings" | "landing" => (None, Some("landings")),
                _ => return Err(error),
            },
        };
        let seen = at.clone().unwrap_or_else(|| self.now_seen());
        let (axis, total) = state.axis_of(meter, quantity.unwrap_or(""), &reading);
        self.check_forward(&state, &axis, &total, &seen, name)?;
        let walkaround = if at.is_some() {
            None
        } else {
            self.current_walkaround(aircraft)?
        };
        let body = MeterRead {
            meter,
            quantity: quantity.map(str::to_owned),
            reading,
            walkaround,
        };
        let line = self.append(aircraft, seen, body.into())?;
        Ok((line, axis, total))
    }

    /// Hours and landings never run backwards: refused against what this author wrote himself;
    /// what others wrote is shown beside it, since either may be wrong.
    pub(super) fn check_forward(
        &self,
        state: &State,
        axis: &str,
        total: &str,
        seen: &Seen,
        place: &str,
    ) -> Result<()> {
        let Ok(now) = total.parse::<Rational>() else {
            return Ok(());
        };
        let at = crate::record::At::from_clock(self.world.clock.now());
        let order_us = seen.instant_us(&at);
        let own: Vec<_> = state
            .meter_readings
            .iter()
            .filter(|read| read.told.author == self.author)
            .cloned()
            .collect();
        let (before, after) = meters::around(&own, axis, order_us);
        let figure = |read: &meters::MeterReading| read.total.parse::<Rational>().ok();
        if let Some(read) = before
            && figure(read).is_some_and(|before| before > now)
        {
            return Err(Error::new(
                ErrorKind::BadValue,
                format!(
                    "{axis} runs backwards: {} on {}, {total} now",
                    read.total,
                    read.told.seen.date()
                ),
            )
            .at(place)
            .hint("read it again; a new meter is fitted in its place: witnessmark meter fit … --replaces; an earlier mistake is amended"));
        }
        if let Some(read) = after
            && figure(read).is_some_and(|after| after < now)
        {
            return Err(Error::new(
                ErrorKind::BadValue,
                format!(
                    "{axis} runs backwards: {total} now, {} later on {}",
                    read.total,
                    read.told.seen.date()
                ),
            )
            .at(place)
            .hint("check the figure and the date"));
        }
        Ok(())
    }

    /// Fits a component; the one it replaces leaves, and open findings on that leave with it.
    ///
    /// # Errors
    /// `AlreadyThere` where the same serial is fitted already or the place is taken; `Unknown` for a
    /// component to replace that is not there; those of writing.
    pub fn fit_component(&mut self, aircraft: &Digest, new: &NewComponent) -> Result<Digest> {
        let component = new
            .component
            .trim()
            .to_ascii_lowercase()
            .replace([' ', '-'], "_");
        if component.is_empty() {
            return Err(Error::new(ErrorKind::BadValue, "what is fitted?")
                .hint("engine, propeller, blade, wheel, tire …"));
        }
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        let zone = self.zone_code(&layout, &new.zone)?;
        let old = match &new.replaces {
            Some(text) => Some(self.the_component(&state, text)?.id),
            None => None,
        };
        let trimmed = |text: &Option<String>| {
            text.as_deref()
                .map(str::trim)
                .filter(|text| !text.is_empty())
                .map(str::to_owned)
        };
        let (serial, position) = (trimmed(&new.serial), trimmed(&new.position));
        let here = |known: &&Component| known.removed.is_none() && Some(known.id) != old;
        if let Some(serial) = &serial
            && let Some(known) =
                state.components.iter().filter(here).find(|known| {
                    known.component == component && known.serial.as_ref() == Some(serial)
                })
        {
            return Err(Error::new(
                ErrorKind::AlreadyThere,
                format!("{} {serial} is fitted already", component.replace('_', " ")),
            )
            .at(format!("zone {}", known.zone))
            .hint("remove it there first: witnessmark component remove"));
        }
        if let Some(known) = state.components.iter().filter(here).find(|known| {
            known.zone == zone && known.component == component && known.position == position
        }) {
            return Err(Error::new(
                ErrorKind::AlreadyThere,
                format!("a {} is fitted there already", component.replace('_', " ")),
            )
            .at(format!("zone {zone}"))
            .hint(format!(
                "say that it replaces {0}, or give positions to tell several apart: --replaces {0}, --position",
                known.serial.clone().unwrap_or_else(|| known.id.short())
            )));
        }
        if component == "blade" && serial.is_none() && new.convention.is_none() {
            return Err(Error::new(
                ErrorKind::BadValue,
                "blades are told apart by serial or stamp, or by a convention that is stated",
            )
            .at(format!("zone {zone}"))
            .hint("give its serial, or its position and how positions are counted (--serial, --position with --convention): blade 1 is the one beside the spinner's mark"));
        }
        let hours = |text: &Option<String>, what: &str| {
            text.as_deref().map(|text| number(text, what)).transpose()
        };
        let body = ComponentFitted {
            component,
            serial,
            zone,
            position,
            convention: trimmed(&new.convention),
            replaces: old,
            run_before: hours(&new.run_before, "hours run before")?,
            hours: hours(&new.hours, "hours")?,
        };
        let seen = new.at.clone().unwrap_or_else(|| self.now_seen());
        self.append(aircraft, seen, body.into())
    }

    /// Removes a component.
    ///
    /// # Errors
    /// `Unknown` or `Ambiguous` for what is not fitted; those of writing.
    pub fn remove_component(
        &mut self,
        aircraft: &Digest,
        text: &str,
        hours: Option<&str>,
        why: Option<&str>,
        at: Option<Seen>,
    ) -> Result<Digest> {
        let state = self.state(aircraft)?;
        let component = self.the_component(&state, text)?.id;
        let body = ComponentRemoved {
            component,
            hours: hours.map(|text| number(text, "hours")).transpose()?,
            why: why.map(str::to_owned),
        };
        let seen = at.unwrap_or_else(|| self.now_seen());
        self.append(aircraft, seen, body.into())
    }

    /// A component that is fitted, by serial, position, kind where only one fits, or first digits.
    ///
    /// # Errors
    /// `Unknown` or `Ambiguous`.
    pub fn the_component<'a>(&self, state: &'a State, text: &str) -> Result<&'a Component> {
        let wanted = super::folded(text);
        let same = |value: &Option<String>| {
            value
                .as_deref()
                .is_some_and(|value| super::folded(value) == wanted)
        };
        let fitted = || {
            state
                .components
                .iter()
                .filter(|part| part.removed.is_none())
        };
        let by_serial: Vec<&Component> = fitted()
            .filter(|part| {
                same(&part.serial) || (wanted.len() >= 4 && part.id.hex().starts_with(&wanted))
            })
            .collect();
        let fits = if by_serial.is_empty() {
            fitted()
                .filter(|part| {
                    same(&part.position)
                        || super::folded(&part.component) == wanted
                        || part.zone == wanted
                })
                .collect()
        } else {
            by_serial
        };
        match fits.as_slice() {
            [one] => Ok(one),
            [] => Err(Error::new(
                ErrorKind::Unknown,
                format!("no component \"{text}\" is fitted"),
            )
            .at(&state.registration)
            .hint("choose one that is fitted: witnessmark component list")),
            several => Err(Error::new(
                ErrorKind::Ambiguous,
                format!("\"{text}\" fits {} components", several.len()),
            )
            .hint(format!(
                "name it by serial or first digits: {}",
                several
                    .iter()
                    .map(|part| part.serial.clone().unwrap_or_else(|| part.id.short()))
                    .collect::<Vec<_>>()
                    .join(", ")
            ))),
        }
    }
}

/// The meter of a name that is fitted now.
pub(super) fn the_meter<'a>(state: &'a State, name: &str) -> Result<&'a Meter> {
    let wanted = super::folded(name);
    let fitted = || {
        state
            .meters
            .iter()
            .filter(|meter| meter.replaced_by.is_none())
    };
    fitted()
        .find(|meter| super::folded(&meter.name) == wanted)
        // "total time" and "landings" are the totals themselves, not a meter that counts towards them.
        .or_else(|| {
            fitted().find(|meter| {
                super::folded(&meter.axis) == wanted
                    && meter.axis != TOTAL_TIME
                    && meter.axis != LANDINGS
            })
        })
        .ok_or_else(|| {
            let names: Vec<&str> = fitted().map(|meter| meter.name.as_str()).collect();
            Error::new(ErrorKind::Unknown, format!("no meter \"{name}\" is fitted"))
                .at(&state.registration)
                .hint(if names.is_empty() {
                    format!("fit it: witnessmark meter fit; \"{TOTAL_TIME}\" and \"{LANDINGS}\" need none")
                } else {
                    format!("fitted: {}; \"{TOTAL_TIME}\" and \"{LANDINGS}\" need none", names.join(", "))
                })
        })
}
