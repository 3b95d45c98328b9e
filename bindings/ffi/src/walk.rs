//! The walk: stops, looks, what is left, look again, readings, events.

use witnessmark_core::notebook::screens::*;
use witnessmark_core::notebook::{NewLook, NewWalkaround};

use crate::given::*;
use crate::notebook::Notebook;
use crate::trouble::Answer;

#[uniffi::export]
impl Notebook {
    /// The walk in the order of a route.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft or stop.
    pub fn walk(&self, aircraft: String, route: RouteGiven) -> Answer<WalkView> {
        self.core(|core| core.walk_view(&digest(&aircraft, "aircraft")?, &route.route()))
    }

    /// One stop.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft or stop.
    pub fn stop(&self, aircraft: String, stop: String, route: RouteGiven) -> Answer<StopView> {
        self.core(|core| core.stop_view(&digest(&aircraft, "aircraft")?, &stop, &route.route()))
    }

    /// Starts a walkaround and gives its id.
    ///
    /// # Errors
    /// `Input` where one is open.
    pub fn start_walkaround(&self, aircraft: String, given: WalkaroundGiven) -> Answer<String> {
        self.core(|core| {
            let new = NewWalkaround {
                purpose: given.purpose,
                hours: given.hours,
                landings: given.landings,
                at: None,
                event: None,
            };
            core.start_walkaround(&digest(&aircraft, "aircraft")?, &new)
                .map(|id| id.hex())
        })
    }

    /// Finishes the open walkaround.
    ///
    /// # Errors
    /// `Input` where none is open.
    pub fn finish_walkaround(&self, aircraft: String) -> Answer<FinishView> {
        self.core(|core| core.finish_view(&digest(&aircraft, "aircraft")?))
    }

    /// *Looked, nothing found, next*.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft or stop.
    pub fn nothing_found_next(
        &self,
        aircraft: String,
        stop: String,
        route: RouteGiven,
    ) -> Answer<NextView> {
        self.core(|core| {
            core.nothing_found_next(&digest(&aircraft, "aircraft")?, &stop, &route.route())
        })
    }

    /// Writes a look; gives its entry.
    ///
    /// # Errors
    /// `Input` for an unknown zone or word.
    pub fn look(&self, aircraft: String, given: LookGiven) -> Answer<String> {
        self.core(|core| {
            let mut answers = Vec::new();
            for (finding, answer) in &given.answers {
                answers.push((digest(finding, "finding")?, answer.clone()));
            }
            let new = NewLook {
                zones: given.zones,
                not_seen: given.not_seen,
                how: given.how,
                access: given.access,
                condition: None,
                answers,
                stop: None,
                fresh: None,
            };
            core.look(&digest(&aircraft, "aircraft")?, &new)
                .map(|(entry, _)| entry.hex())
        })
    }

    /// What is left to look at.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft or stop.
    pub fn left(&self, aircraft: String, route: RouteGiven) -> Answer<LeftView> {
        self.core(|core| core.left_view(&digest(&aircraft, "aircraft")?, &route.route()))
    }

    /// Look again: how many and which tools; places only after the look.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft.
    pub fn again(&self, aircraft: String) -> Answer<AgainView> {
        self.core(|core| core.again_view(&digest(&aircraft, "aircraft")?))
    }

    /// Sets when to look at a zone again: a date, hours of the airframe (`1250 h`), `next flight`, or words.
    ///
    /// # Errors
    /// `Input` for an unknown zone.
    pub fn look_again_zone(&self, aircraft: String, zone: String, at: String) -> Answer<String> {
        self.core(|core| {
            let aircraft = digest(&aircraft, "aircraft")?;
            let layout = core.layout_of(&core.state(&aircraft)?)?;
            let zone = core.zone_code(&layout, &zone)?;
            core.look_again(&aircraft, None, Some(&zone), &at)
                .map(|id| id.hex())
        })
    }

    /// A zone's history.
    ///
    /// # Errors
    /// `Input` for an unknown zone.
    pub fn zone(&self, aircraft: String, zone: String) -> Answer<ZoneScreen> {
        self.core(|core| core.zone_screen(&digest(&aircraft, "aircraft")?, &zone))
    }

    /// Readings: what can be read and what was.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft.
    pub fn readings(&self, aircraft: String) -> Answer<ReadingsView> {
        self.core(|core| core.readings_view(&digest(&aircraft, "aircraft")?))
    }

    /// Writes a reading: a key of the readings' view, value, unit, answers to its question.
    ///
    /// # Errors
    /// `Input` for a value below zero or an unknown zone.
    pub fn write_reading(
        &self,
        aircraft: String,
        kind: String,
        value: String,
        unit: Option<String>,
        zone: Option<String>,
        context: std::collections::HashMap<String, String>,
    ) -> Answer<String> {
        self.core(|core| {
            let aircraft = digest(&aircraft, "aircraft")?;
            let zone = match zone {
                None => None,
                Some(zone) => {
                    let layout = core.layout_of(&core.state(&aircraft)?)?;
                    Some(core.zone_code(&layout, &zone)?)
                }
            };
            core.read_value(
                &aircraft,
                &kind,
                &value,
                unit.as_deref(),
                None,
                zone.as_deref(),
                context.into_iter().collect(),
            )
            .map(|id| id.hex())
        })
    }

    /// One kind of event, with where to look on this aircraft.
    ///
    /// # Errors
    /// `Input` for an unknown event.
    pub fn event(&self, aircraft: String, event: String) -> Answer<EventView> {
        self.core(|core| core.event_view(&digest(&aircraft, "aircraft")?, &event))
    }

    /// Writes an event down.
    ///
    /// # Errors
    /// `Input` for an unknown event.
    pub fn write_event(
        &self,
        aircraft: String,
        event: String,
        text: Option<String>,
    ) -> Answer<String> {
        self.core(|core| {
            core.write_event(&digest(&aircraft, "aircraft")?, &event, text.as_deref())
                .map(|id| id.hex())
        })
    }
}
