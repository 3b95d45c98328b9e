//! The walk, the stop, *looked, nothing found, next*, what is left, look again.

use super::records::*;
use super::start::{choice, plain};
use super::{counted, keys_in_order, number, the_stop};
use crate::error::Result;
use crate::history::state::State;
use crate::layout::{Layout, Route, Stop, Zone};
use crate::notebook::{NewLook, NewWalkaround, Notebook};
use crate::record::Digest;

/// What a stop offers, by what the walkaround is for: a preflight wants *nothing found, next* under
/// the thumb; a prepurchase the camera, the overall views and the papers (common practice, no source).
fn actions(purpose: Option<&str>) -> Vec<Action> {
    const PHOTO: (&str, &str) = ("photo", "Photo");
    const VOICE: (&str, &str) = ("voice", "Speak");
    const WRITE: (&str, &str) = ("write", "Write");
    const NOTHING: (&str, &str) = ("nothing_found", "Looked, nothing found, next");
    const NOT_SEEN: (&str, &str) = ("not_seen", "Could not be seen");
    const PAPER: (&str, &str) = ("paper", "Papers");
    const READING: (&str, &str) = ("reading", "Reading");
    const MEASURE: (&str, &str) = ("measure", "Measure");
    const VIEW: (&str, &str) = ("view", "Overall view");
    type Row = ((&'static str, &'static str), &'static str);
    let rows: &[Row] = match purpose.unwrap_or("routine") {
        "preflight" | "postflight" => &[
            (NOTHING, "main"),
            (PHOTO, "main"),
            (VOICE, "usual"),
            (READING, "usual"),
            (NOT_SEEN, "small"),
            (WRITE, "small"),
        ],
        "before_maintenance" => &[
            (PHOTO, "main"),
            (MEASURE, "main"),
            (VOICE, "usual"),
            (NOTHING, "usual"),
            (NOT_SEEN, "usual"),
            (WRITE, "small"),
            (READING, "small"),
        ],
        "prepurchase" => &[
            (PHOTO, "main"),
            (VIEW, "main"),
            (NOT_SEEN, "usual"),
            (VOICE, "usual"),
            (PAPER, "usual"),
            (NOTHING, "usual"),
            (MEASURE, "small"),
            (WRITE, "small"),
        ],
        "handing_over" => &[
            (VIEW, "main"),
            (PHOTO, "main"),
            (NOTHING, "usual"),
            (VOICE, "usual"),
            (READING, "small"),
            (NOT_SEEN, "small"),
            (WRITE, "small"),
        ],
        "after_event" => &[
            (PHOTO, "main"),
            (VOICE, "main"),
            (NOT_SEEN, "usual"),
            (MEASURE, "usual"),
            (NOTHING, "usual"),
            (WRITE, "small"),
        ],
        _ => &[
            (PHOTO, "main"),
            (NOTHING, "main"),
            (VOICE, "usual"),
            (NOT_SEEN, "usual"),
            (READING, "small"),
            (MEASURE, "small"),
            (WRITE, "small"),
        ],
    };
    rows.iter()
        .map(|((key, title), size)| Action {
            key: (*key).into(),
            title: (*title).into(),
            size: (*size).into(),
        })
        .collect()
}

/// What this walkaround says of a zone; with none open, what looks outside any say of it since the
/// last walkaround began: those count as looks too (design section 3).
pub(super) fn look_of(state: &State, walkaround: Option<&Digest>, code: &str) -> &'static str {
    let since = state
        .walkarounds
        .iter()
        .map(|walk| walk.told.order_us)
        .max()
        .unwrap_or(i64::MIN);
    let counts = |of: Option<&Digest>, order_us: i64| match walkaround {
        Some(_) => of == walkaround,
        None => of.is_none() && order_us > since,
    };
    let found = state.findings.iter().any(|finding| {
        finding.zone == code
            && finding.sightings.iter().any(|sighting| {
                sighting.result == "present"
                    && !sighting.late
                    && counts(sighting.walkaround.as_ref(), sighting.told.order_us)
            })
    });
    if found {
        return "findings";
    }
    state
        .looks
        .iter()
        .rev()
        .find(|look| look.zone == code && counts(look.walkaround.as_ref(), look.told.order_us))
        .map_or("not_looked_at", |look| match look.result.as_str() {
            "not_seen" => "not_seen",
            _ => "nothing_found",
        })
}

pub(super) fn look_words(look: &str) -> String {
    match look {
        "not_looked_at" => "not looked at".into(),
        "nothing_found" => "looked, nothing found".into(),
        "findings" => "findings".into(),
        "not_seen" => "could not be seen".into(),
        other => plain(other),
    }
}

/// Findings that were open here before this walkaround began to see them.
fn earlier(state: &State, walkaround: Option<&Digest>, zones: &[String]) -> usize {
    state
        .findings
        .iter()
        .filter(|finding| {
            finding.open
                && zones.contains(&finding.zone)
                && finding.sightings.iter().any(|sighting| {
                    sighting.walkaround.as_ref() != walkaround || walkaround.is_none()
                })
        })
        .count()
}

fn zone_line(state: &State, walkaround: Option<&Digest>, zone: &Zone) -> ZoneLine {
    let look = look_of(state, walkaround, &zone.code);
    ZoneLine {
        code: zone.code.clone(),
        name: zone.name.clone(),
        look: look.into(),
        look_says: look_words(look),
        open_findings: number(
            state
                .findings
                .iter()
                .filter(|finding| finding.open && finding.zone == zone.code)
                .count(),
        ),
    }
}

fn left_of<'a>(
    state: &'a State,
    walkaround: Option<&'a Digest>,
    layout: &'a Layout,
    stop: &'a Stop,
) -> impl Iterator<Item = &'a Zone> {
    stop.zones
        .iter()
        .filter_map(|code| layout.zone(code))
        .filter(move |zone| look_of(state, walkaround, &zone.code) == "not_looked_at")
}

impl Notebook {
    pub(super) fn open_id(&self, state: &State) -> Option<Digest> {
        self.open_walkaround(state).map(|walkaround| walkaround.id)
    }

    /// The walk in the order of a route.
    ///
    /// # Errors
    /// `Unknown` for a stop that the layout does not have.
    pub fn walk_view(&self, aircraft: &Digest, route: &Route) -> Result<WalkView> {
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        let open = self.open_walkaround(&state);
        let id = open.map(|walkaround| walkaround.id);
        let mut stops = Vec::new();
        let mut next_stop = None;
        for stop in layout.route(route)? {
            let zones = stop
                .zones
                .iter()
                .filter(|code| layout.zone(code).is_some())
                .count();
            let left = left_of(&state, id.as_ref(), &layout, stop).count();
            if left > 0 && next_stop.is_none() {
                next_stop = Some(stop.key.clone());
            }
            stops.push(StopLine {
                key: stop.key.clone(),
                name: stop.name.clone(),
                looked: number(zones - left),
                zones: number(zones),
                earlier_findings: number(earlier(&state, id.as_ref(), &stop.zones)),
                says: format!("{} of {zones} looked at", zones - left),
            });
        }
        let purpose = open.and_then(|walkaround| walkaround.purpose.clone());
        Ok(WalkView {
            aircraft: aircraft.hex(),
            registration: state.registration.clone(),
            walkaround: id.map(|id| id.hex()),
            purpose_says: match (&id, &purpose) {
                (None, _) => "no walkaround is open".into(),
                (_, None) => "purpose not said".into(),
                (_, Some(purpose)) => plain(purpose),
            },
            purpose,
            stops,
            next_stop,
            unplaced: number(state.unplaced().count()),
            notices: self.notices(&state),
        })
    }

    fn notices(&self, state: &State) -> Vec<String> {
        let mut notices = Vec::new();
        if state.newer {
            notices.push("Written by a newer version; this view may be incomplete.".to_owned());
        }
        if !self.world.clock.is_system() {
            notices.push("The clock was given by hand; entries say so.".to_owned());
        }
        let last = state
            .walkarounds
            .iter()
            .map(|walkaround| walkaround.told.order_us)
            .max();
        if last.is_some_and(|last| last > self.world.clock.now().timestamp_micros()) {
            notices.push(
                "This device's clock is behind the last walkaround: check date and time."
                    .to_owned(),
            );
        }
        notices.extend(self.oddity_words());
        notices
    }

    /// One stop.
    ///
    /// # Errors
    /// `Unknown` for a stop that the layout does not have.
    pub fn stop_view(&self, aircraft: &Digest, stop: &str, route: &Route) -> Result<StopView> {
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        let stop = the_stop(&layout, stop)?;
        let keys = keys_in_order(&layout, route)?;
        let at = keys.iter().position(|key| *key == stop.key).unwrap_or(0);
        let open = self.open_walkaround(&state);
        let id = open.map(|walkaround| walkaround.id);
        let purpose = open.and_then(|walkaround| walkaround.purpose.as_deref());
        let before = earlier(&state, id.as_ref(), &stop.zones);
        let next = keys.get(at + 1).cloned();
        let views = layout
            .views
            .iter()
            .filter(|view| match purpose {
                Some("prepurchase") => view.baseline,
                Some("handing_over") => view.handing_over,
                _ => false,
            })
            .filter(|view| view.zones.iter().any(|zone| stop.zones.contains(zone)))
            .map(|view| choice(&view.key, &format!("{}: {}", view.name, view.stand)))
            .collect();
        Ok(StopView {
            aircraft: aircraft.hex(),
            registration: state.registration.clone(),
            key: stop.key.clone(),
            name: stop.name.clone(),
            position: format!("Stop {} of {}", at + 1, keys.len()),
            zones: stop
                .zones
                .iter()
                .filter_map(|code| layout.zone(code))
                .map(|zone| zone_line(&state, id.as_ref(), zone))
                .collect(),
            look_for: stop
                .look_for
                .iter()
                .map(|look| LookForLine {
                    text: look.text.clone(),
                    source: look.source.to_string(),
                })
                .collect(),
            cautions: stop.cautions.clone(),
            earlier_findings: number(before),
            earlier_says: if before == 0 {
                String::new()
            } else {
                format!(
                    "{} here from before: look first, then open",
                    counted(before, "finding")
                )
            },
            actions: actions(purpose),
            views,
            next_name: next
                .as_deref()
                .and_then(|key| layout.stop(key))
                .map(|stop| stop.name.clone()),
            next_stop: next,
            previous_stop: at.checked_sub(1).and_then(|at| keys.get(at)).cloned(),
        })
    }

    /// *Looked, nothing found, next*: one look over every zone of the stop that this walkaround has
    /// not looked at yet. A walkaround without a purpose is started where none is open, since a look
    /// without one would not count.
    ///
    /// # Errors
    /// `Unknown` for a stop that the layout does not have, and those of writing.
    pub fn nothing_found_next(
        &mut self,
        aircraft: &Digest,
        stop: &str,
        route: &Route,
    ) -> Result<NextView> {
        let mut state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        let stop = the_stop(&layout, stop)?;
        let keys = keys_in_order(&layout, route)?;
        let mut started = None;
        if self.open_id(&state).is_none() {
            let id = self.start_walkaround(aircraft, &NewWalkaround::default())?;
            started = Some(id.hex());
            state = self.state(aircraft)?;
        }
        let id = self.open_id(&state);
        let zones: Vec<String> = left_of(&state, id.as_ref(), &layout, stop)
            .map(|zone| zone.code.clone())
            .collect();
        let (entry, not_asked) = if zones.is_empty() {
            (None, Vec::new())
        } else {
            let look = NewLook {
                zones,
                ..NewLook::default()
            };
            let (entry, unasked) = self.look(aircraft, &look)?;
            let mut rows = Vec::new();
            if !unasked.is_empty() {
                rows = self.finding_lines(aircraft)?;
                rows.retain(|row| unasked.iter().any(|id| id.hex() == row.id));
            }
            (Some(entry.hex()), rows)
        };
        let at = keys.iter().position(|key| *key == stop.key).unwrap_or(0);
        let next = keys.get(at + 1).cloned();
        let mut says = if entry.is_some() {
            format!("{}: looked, nothing found. Saved.", stop.name)
        } else {
            format!("{}: everything here was looked at already.", stop.name)
        };
        if !not_asked.is_empty() {
            says.push_str(&format!(
                " {} open here from before: say of each whether it is still there.",
                counted(not_asked.len(), "finding")
            ));
        }
        Ok(NextView {
            entry,
            started,
            not_asked,
            stop: next,
            says,
        })
    }

    /// What is left to look at, by stops of the route.
    ///
    /// # Errors
    /// `Unknown` for a stop that the layout does not have.
    pub fn left_view(&self, aircraft: &Digest, route: &Route) -> Result<LeftView> {
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        let id = self.open_id(&state);
        let mut stops = Vec::new();
        let mut listed: Vec<&str> = Vec::new();
        for stop in layout.route(route)? {
            let zones: Vec<&Zone> = left_of(&state, id.as_ref(), &layout, stop)
                .filter(|zone| !listed.contains(&zone.code.as_str()))
                .collect();
            listed.extend(zones.iter().map(|zone| zone.code.as_str()));
            if !zones.is_empty() {
                stops.push(LeftStop {
                    key: stop.key.clone(),
                    name: stop.name.clone(),
                    zones: zones
                        .iter()
                        .map(|zone| choice(&zone.code, &zone.name))
                        .collect(),
                });
            }
        }
        let zones = listed.len();
        let unplaced = state.unplaced().count();
        Ok(LeftView {
            stops,
            zones: number(zones),
            unplaced: number(unplaced),
            says: if zones == 0 {
                "Every zone was looked at.".into()
            } else {
                format!(
                    "{} of {} not looked at",
                    counted(zones, "zone"),
                    layout.zones.len()
                )
            },
            caution: "\"Not looked at\" is not \"nothing found\".".into(),
        })
    }

    /// Look again: how many places and which tools; a place only once its zone was looked at, so
    /// that the look is not led by what is expected.
    ///
    /// # Errors
    /// Those of the index.
    pub fn again_view(&self, aircraft: &Digest) -> Result<AgainView> {
        let state = self.state(aircraft)?;
        let id = self.open_id(&state);
        let due: Vec<_> = state
            .findings
            .iter()
            .filter(|finding| finding.open)
            .collect();
        let mut tools: Vec<String> = Vec::new();
        for finding in &due {
            let method = finding
                .sightings
                .iter()
                .rev()
                .flat_map(|sighting| sighting.measures.first())
                .map(|measure| measure.method.as_str())
                .next();
            let tool = match method {
                Some("card" | "trace" | "outline") => {
                    "a plain card of the ID-1 size (never a payment or identity card)"
                }
                Some("sheet") => "the printed scale sheet",
                Some("ruler") => "a ruler",
                Some("calliper" | "caliper") => "a calliper",
                Some("gauge") => "the gauge that was used before",
                _ => continue,
            };
            if !tools.iter().any(|known| known == tool) {
                tools.push(tool.into());
            }
        }
        tools.sort();
        let mut shown = self.finding_lines(aircraft)?;
        shown.retain(|row| {
            due.iter().any(|finding| finding.id.hex() == row.id)
                && look_of(&state, id.as_ref(), &row.zone) != "not_looked_at"
        });
        let zones_again = state.again.len();
        let count = due.len() + zones_again;
        let with = if tools.is_empty() {
            String::new()
        } else {
            format!("; take along {}", tools.join(", "))
        };
        Ok(AgainView {
            count: number(count),
            says: format!("{} to look at again{with}", counted(count, "place")),
            covered: number(due.len() - shown.len()),
            tools,
            shown,
        })
    }
}
