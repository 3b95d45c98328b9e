//! The order of the stops: as published, turned, started elsewhere, or a person's own.

use std::collections::BTreeSet;

use super::types::{Layout, Side, Stop};
use crate::datafile::{did_you_mean, short};
use crate::error::{Error, ErrorKind, Result};

/// Which way round, seen from above.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Turn {
    /// As published (FAA-H-8083-3C ch. 2): from a left-hand door by the tail to the right wing.
    CounterClockwise,
    /// The other way: for a right-hand door.
    Clockwise,
}

/// How a person walks round. The type's own flight manual comes first: where its sequence differs,
/// give it as `order`.
#[derive(Debug, Clone, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub struct Route {
    /// Which way round.
    pub turn: Turn,
    /// Key of the stop to start at; the layout's first if none.
    pub start: Option<String>,
    /// A person's own order by stop keys; overrides the rest. Stops left out come last, in published order.
    pub order: Vec<String>,
}

impl Route {
    /// The published order: counter-clockwise from the cabin door.
    pub fn published() -> Self {
        Self {
            turn: Turn::CounterClockwise,
            start: None,
            order: Vec::new(),
        }
    }

    /// The published order mirrored, for a door on the other side.
    pub fn turned() -> Self {
        Self {
            turn: Turn::Clockwise,
            ..Self::published()
        }
    }

    /// The direction that fits a door: a left-hand one is walked counter-clockwise.
    pub fn for_door(door: Side) -> Self {
        if door == Side::Right {
            Self::turned()
        } else {
            Self::published()
        }
    }
}

impl Layout {
    /// The stops in the order of `route`. Every stop comes exactly once.
    ///
    /// Turned, the cabin stops that open the published route stay in front (approach, cabin), and the walk
    /// outside is reversed.
    ///
    /// Errors: `Unknown` for a stop that does not exist, `BadValue` for one named twice.
    pub fn route(&self, route: &Route) -> Result<Vec<&Stop>> {
        let find = |key: &str| {
            self.stop(key).ok_or_else(|| {
                Error::new(
                    ErrorKind::Unknown,
                    format!("there is no stop \"{}\" in {}", short(key), self.name),
                )
                .at(short(key))
                .hint(did_you_mean(
                    key,
                    self.stops.iter().map(|stop| stop.key.as_str()),
                    "the layout lists its stops: witnessmark layout show",
                ))
            })
        };
        if !route.order.is_empty() {
            let mut seen = BTreeSet::new();
            let mut list = Vec::new();
            for key in &route.order {
                let stop = find(key)?;
                if !seen.insert(key.as_str()) {
                    return Err(Error::new(
                        ErrorKind::BadValue,
                        format!("stop {} is in the order twice", short(key)),
                    )
                    .at(short(key))
                    .hint("name each stop once"));
                }
                list.push(stop);
            }
            list.extend(
                self.stops
                    .iter()
                    .filter(|stop| !seen.contains(stop.key.as_str())),
            );
            return Ok(list);
        }
        let fixed = self
            .stops
            .iter()
            .take_while(|stop| !is_outside(stop))
            .count();
        let mut list: Vec<&Stop> = self.stops.iter().collect();
        if route.turn == Turn::Clockwise
            && let Some(outside) = list.get_mut(fixed..)
        {
            outside.reverse();
        }
        if let Some(start) = &route.start {
            let stop = find(start)?;
            if let Some(at) = list.iter().position(|other| other.key == stop.key) {
                list.rotate_left(at);
            }
        }
        Ok(list)
    }
}

/// Approach and cabin come before the walk: their zones are none of tail, engine, wings and gear.
fn is_outside(stop: &Stop) -> bool {
    !matches!(stop.key.as_str(), "approach" | "cabin" | "cabin_door")
}
