//! The desk view of whoever keeps several aircraft: worst first.

use super::due::{Due, When};
use serde::Serialize;
use std::collections::BTreeMap;
use witnessmark_core::Result;
use witnessmark_core::history::state::State;
use witnessmark_core::index::Row;
use witnessmark_core::notebook::{CONCERNS, Notebook};
use witnessmark_core::record::Body;
use witnessmark_core::record::kinds::LookAgainSet;
use witnessmark_core::report::words;

/// An open finding that became worse.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Worse {
    /// Zone code and five digits, as everywhere else.
    pub finding: String,
    /// Where and what.
    pub place: String,
    /// By how much.
    pub says: String,
    /// The gravest concern that anybody set.
    pub concern: Option<String>,
}

/// The last time somebody walked round.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct LastWalk {
    /// Date, ISO 8601.
    pub date: String,
    /// Why.
    pub purpose: String,
    /// By whom.
    pub by: String,
}

/// One aircraft.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct AircraftStatus {
    /// Id.
    pub aircraft: String,
    /// Registration.
    pub registration: String,
    /// Type.
    #[serde(rename = "type")]
    pub kind: String,
    /// The last walkaround; none if nobody ever walked round.
    pub last_walkaround: Option<LastWalk>,
    /// Airframe total time as last read.
    pub hours: Option<String>,
    /// Open findings by concern; `none` for those without one.
    pub open: BTreeMap<String, usize>,
    /// Open findings that became worse, worst first.
    pub deteriorated: Vec<Worse>,
    /// What is to be looked at again, what is past first.
    pub look_again: Vec<Due>,
    /// Zones that nobody has ever looked at.
    pub never_looked_at: usize,
}

/// All of them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FleetStatus {
    /// The day it was asked, `YYYY-MM-DD`.
    pub day: String,
    /// Worst first: gravest open concern, then how many became worse, then looks that are past or
    /// due now, then registration.
    pub aircraft: Vec<AircraftStatus>,
    /// What this is and is not.
    pub says: &'static str,
}

/// Looks over every aircraft of a notebook.
///
/// # Errors
/// Those of the notebook.
pub fn status(notebook: &Notebook) -> Result<FleetStatus> {
    let today = notebook.world().clock.now().format("%Y-%m-%d").to_string();
    let mut aircraft = Vec::new();
    for row in notebook.aircraft_list()? {
        let history = notebook.history(&row.id)?;
        let state = notebook.state(&row.id)?;
        let mut asked = notebook.index().kind_lines(&row.id, "look again set")?;
        for other in &state.joined {
            asked.extend(notebook.index().kind_lines(other, "look again set")?);
        }
        asked.sort_by_key(|row| row.order_us);
        let hours = history
            .walkarounds
            .iter()
            .rev()
            .find_map(|walk| walk.hours.clone());
        let number = super::rows::number(hours.as_deref());
        let zone_name = |code: &str| {
            let zone = history.zones.iter().find(|zone| zone.code == code);
            zone.map_or(code.to_owned(), |zone| zone.name.clone())
        };
        let mut open: BTreeMap<String, usize> = BTreeMap::new();
        let mut deteriorated = Vec::new();
        let mut look_again = Vec::new();
        for finding in history.findings.iter().filter(|finding| finding.open) {
            let concern = finding.concern.clone().unwrap_or_else(|| "none".to_owned());
            *open.entry(concern).or_default() += 1;
            let place = format!("{}: {}", finding.zone_name, finding.title);
            let known = state.findings.iter().find(|known| known.id == finding.id);
            if let Some(at) = known.and_then(|known| known.again.as_deref()) {
                let ids = known.map_or(&[][..], |known| &known.ids);
                let then = hours_when(&state, &asked, |one| {
                    one.at == at && one.finding.is_some_and(|id| ids.contains(&id))
                });
                look_again.push(Due::new(place.clone(), at, &today, number, then));
            }
            if finding.change == "worse" {
                deteriorated.push(Worse {
                    finding: finding.short.clone(),
                    place,
                    says: finding.says.clone(),
                    concern: finding.concern.clone(),
                });
            }
        }
        for (zone, at) in &state.again {
            let then = hours_when(&state, &asked, |one| {
                one.at == *at && one.zone.as_ref() == Some(zone)
            });
            look_again.push(Due::new(zone_name(zone), at, &today, number, then));
        }
        look_again.sort_by_key(|due| due.when);
        aircraft.push(AircraftStatus {
            aircraft: row.id.hex(),
            registration: history.registration.clone(),
            kind: history.kind.clone(),
            last_walkaround: history.walkarounds.last().map(|walk| LastWalk {
                date: walk.date.clone(),
                purpose: walk.purpose.clone(),
                by: walk.by.clone(),
            }),
            hours,
            open,
            deteriorated,
            look_again,
            never_looked_at: history
                .zones
                .iter()
                .filter(|zone| zone.last.is_none())
                .count(),
        });
    }
    aircraft.sort_by_key(AircraftStatus::weight);
    Ok(FleetStatus {
        day: today,
        aircraft,
        says: "This shows what people recorded. It is not a maintenance record, release or approval: what is open is for the aircraft's own manual and licensed people.",
    })
}

/// The airframe's hours as they stood when this other look was asked for, the last of several.
fn hours_when(state: &State, asked: &[Row], is: impl Fn(&LookAgainSet) -> bool) -> Option<f64> {
    let row = asked
        .iter()
        .rev()
        .find(|row| matches!(&row.body, Body::LookAgainSet(one) if is(one)))?;
    state
        .walkarounds
        .iter()
        .rev()
        .filter(|walk| walk.told.order_us <= row.order_us)
        .find_map(|walk| super::rows::number(walk.hours.as_deref()))
}

impl AircraftStatus {
    /// The gravest concern of any open finding.
    pub fn gravest(&self) -> Option<&'static str> {
        CONCERNS
            .into_iter()
            .rev()
            .find(|concern| self.open.contains_key(*concern))
    }

    /// Looks that are past or due now.
    pub fn pressing(&self) -> usize {
        self.look_again
            .iter()
            .filter(|due| matches!(due.when, When::Past | When::Now))
            .count()
    }

    fn weight(
        &self,
    ) -> (
        usize,
        std::cmp::Reverse<usize>,
        std::cmp::Reverse<usize>,
        String,
    ) {
        let gravest = CONCERNS
            .iter()
            .rev()
            .position(|concern| self.open.contains_key(*concern));
        (
            gravest.unwrap_or(CONCERNS.len()),
            std::cmp::Reverse(self.deteriorated.len()),
            std::cmp::Reverse(self.pressing()),
            self.registration.clone(),
        )
    }

    /// Open findings in words, gravest concern first.
    pub fn open_words(&self) -> String {
        let parts: Vec<String> = CONCERNS
            .into_iter()
            .rev()
            .chain(["none"])
            .filter_map(|concern| {
                let count = self.open.get(concern)?;
                let word = match concern {
                    "none" => "without a concern set",
                    set => words::concern(set),
                };
                Some(format!("{count} {word}"))
            })
            .collect();
        if parts.is_empty() {
            "none recorded".to_owned()
        } else {
            parts.join(", ")
        }
    }

    /// The last walkaround in words.
    pub fn last_words(&self) -> String {
        self.last_walkaround.as_ref().map_or_else(
            || "nobody has walked round it".to_owned(),
            |walk| {
                format!(
                    "{}, {}, by {}",
                    words::day(&walk.date),
                    walk.purpose,
                    walk.by
                )
            },
        )
    }
}

impl FleetStatus {
    /// For a terminal.
    pub fn to_text(&self) -> String {
        let mut out = String::new();
        for one in &self.aircraft {
            out.push_str(&format!("{}  {}\n", one.registration, one.kind));
            out.push_str(&format!("  last walkaround: {}\n", one.last_words()));
            out.push_str(&format!("  open findings: {}\n", one.open_words()));
            for worse in &one.deteriorated {
                out.push_str(&format!("  worse: {}: {}\n", worse.place, worse.says));
            }
            for due in &one.look_again {
                out.push_str(&format!("  look again: {}\n", due.words()));
            }
            if one.never_looked_at > 0 {
                out.push_str(&format!(
                    "  never looked at: {}\n",
                    words::count(one.never_looked_at, "zone")
                ));
            }
        }
        out.push('\n');
        out.push_str(self.says);
        out.push('\n');
        out
    }
}
