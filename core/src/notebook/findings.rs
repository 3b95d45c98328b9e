//! Findings: opened, sighted, treated, closed, joined; concerns, limits, people told.

use super::Notebook;
use super::sizes;
use super::walk::one_of;
use crate::error::{Error, ErrorKind, Result};
use crate::record::kinds::{
    ConcernSet, Deferred, FindingClosed, FindingJoined, FindingOpened, FindingReopened,
    FindingSplit, MaintenanceEntrySeen, Measure, Sighted, Told, Treated,
};
use crate::record::{Digest, Seen};

/// A finding to open.
#[derive(Debug, Clone, Default)]
pub struct NewFinding {
    /// Zone code or name.
    pub zone: String,
    /// Condition key or spoken name.
    pub condition: String,
    /// Words for the place.
    pub part: Option<String>,
    /// What is honest not to know.
    pub unsure: Vec<String>,
    /// Words.
    pub text: Option<String>,
    /// Component it is on; with none, the one wheel, tire or propeller of the zone, if it is just one.
    pub component: Option<Digest>,
    /// System, for a condition that takes one and no zone.
    pub system: Option<String>,
}

/// A sighting to write down.
#[derive(Debug, Clone, Default)]
pub struct NewSighting {
    /// present (default), not_found, could_not_check.
    pub result: Option<String>,
    /// Why it could not be checked.
    pub why: Option<String>,
    /// seen, felt, measured, told, read.
    pub basis: Option<String>,
    /// Step of the condition.
    pub step: Option<String>,
    /// Measures.
    pub measures: Vec<Measure>,
    /// Entries of evidence.
    pub evidence: Vec<Digest>,
    /// Words.
    pub text: Option<String>,
    /// When it was, if not now (an older photo recognised later).
    pub seen: Option<Seen>,
    /// Recognised later.
    pub late: bool,
}

/// Concerns, mildest first.
pub const CONCERNS: [&str; 4] = ["aware", "watch", "ask", "before_flight"];

impl Notebook {
    /// Opens a finding and writes its first sighting.
    pub fn open_finding(
        &mut self,
        aircraft: &Digest,
        new: &NewFinding,
        sighting: &NewSighting,
    ) -> Result<Digest> {
        let state = self.state(aircraft)?;
        let layout = self.layout_of(&state)?;
        let condition = crate::condition::Conditions::built_in().find(&new.condition)?;
        let system = condition.takes == crate::condition::Takes::System;
        let zone = if new.zone.trim().is_empty() {
            if !system {
                return Err(Error::new(
                    ErrorKind::BadValue,
                    format!("where is the {}?", condition.title.to_lowercase()),
                )
                .at("zone")
                .hint("name a zone"));
            }
            if new
                .system
                .as_deref()
                .is_none_or(|text| text.trim().is_empty())
            {
                return Err(Error::new(ErrorKind::BadValue, "what did not work?")
                    .at("system")
                    .hint("name the system: radio, landing light, flap drive …"));
            }
            String::new()
        } else {
            self.zone_code(&layout, &new.zone)?
        };
        let condition = condition.name.clone();
        // The measures are checked before anything is written.
        let place = if zone.is_empty() {
            String::new()
        } else {
            format!("zone {zone}")
        };
        sizes::check(&condition, &place, &sighting.measures)?;
        // In the zone of a wheel, tire or propeller a finding is on that part; an engine's zone holds
        // much that does not leave with the engine, so there a person says so.
        let own = ["wheel", "tire", "tyre", "propeller", "blade"];
        let mut fitted = state.components.iter().filter(|part| {
            part.removed.is_none()
                && !zone.is_empty()
                && part.zone == zone
                && own.contains(&part.component.as_str())
        });
        let only = fitted.next().filter(|_| fitted.next().is_none());
        let body = FindingOpened {
            zone,
            condition,
            part: new.part.clone(),
            component: new.component.or(only.map(|part| part.id)),
            unsure: new.unsure.clone(),
            system: new.system.clone(),
            text: new.text.clone(),
        };
        let seen = sighting.seen.clone().unwrap_or_else(|| self.now_seen());
        let id = self.append(aircraft, seen, body.into())?;
        self.sight_unchecked(aircraft, &id, sighting)?;
        Ok(id)
    }

    /// Writes a sighting of a finding.
    pub fn sight(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        sighting: &NewSighting,
    ) -> Result<Digest> {
        self.check_sizes(aircraft, finding, &sighting.measures)?;
        if sighting.result.as_deref().unwrap_or("present") == "present" && !sighting.late {
            self.still_fitted(aircraft, finding)?;
        }
        self.sight_unchecked(aircraft, finding, sighting)
    }

    /// The sizes of a finding that is there already, refused by its own name.
    fn check_sizes(&self, aircraft: &Digest, finding: &Digest, measures: &[Measure]) -> Result<()> {
        if measures.is_empty() {
            return Ok(());
        }
        let known = self.condition_and_zone(aircraft, finding)?;
        let (condition, zone) = known.unwrap_or_default();
        sizes::check(&condition, &super::short_name(&zone, finding), measures)
    }

    /// Condition and zone of a finding by any of its ids.
    pub(super) fn condition_and_zone(
        &self,
        aircraft: &Digest,
        finding: &Digest,
    ) -> Result<Option<(String, String)>> {
        // The opening line has both; a finding that was split off, or lives on without its opening,
        // is looked up in the state.
        if let Some(crate::record::Body::FindingOpened(opened)) =
            self.index.line(finding)?.map(|row| row.body)
        {
            return Ok(Some((opened.condition, opened.zone)));
        }
        let state = self.state(aircraft)?;
        Ok(state
            .findings
            .iter()
            .find(|known| known.ids.contains(finding))
            .map(|known| (known.condition.clone(), known.zone.clone())))
    }

    /// A finding that left with its component is not seen again on the next one: that is a finding,
    /// and a series, of its own.
    fn still_fitted(&self, aircraft: &Digest, finding: &Digest) -> Result<()> {
        let Some(crate::record::Body::FindingOpened(opened)) =
            self.index.line(finding)?.map(|row| row.body)
        else {
            return Ok(());
        };
        let Some(component) = opened.component else {
            return Ok(());
        };
        let state = self.state(aircraft)?;
        let Some(part) = state.components.iter().find(|part| part.id == component) else {
            return Ok(());
        };
        let Some((told, _)) = &part.removed else {
            return Ok(());
        };
        Err(Error::new(
            ErrorKind::WrongState,
            format!(
                "it left with its {}{} on {}",
                part.component.replace('_', " "),
                part.serial
                    .as_deref()
                    .map(|serial| format!(" {serial}"))
                    .unwrap_or_default(),
                told.seen.date()
            ),
        )
        .at(super::short_name(&opened.zone, finding))
        .hint("open a new finding for what is fitted now: a new part starts a new series"))
    }

    fn sight_unchecked(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        new: &NewSighting,
    ) -> Result<Digest> {
        let result = one_of(
            new.result.as_deref().unwrap_or("present"),
            &["present", "not_found", "could_not_check"],
            "result",
        )?;
        if result == "could_not_check" && new.why.is_none() {
            return Err(
                Error::new(ErrorKind::BadValue, "why could it not be checked?")
                    .at(finding.short())
                    .hint("say why: cowl on, wet, dark …"),
            );
        }
        let body = Sighted {
            finding: *finding,
            walkaround: if new.late {
                None
            } else {
                self.current_walkaround(aircraft)?
            },
            result,
            why: new.why.clone(),
            basis: new
                .basis
                .as_deref()
                .map(|basis| {
                    one_of(
                        basis,
                        &["seen", "felt", "measured", "told", "read"],
                        "basis",
                    )
                })
                .transpose()?,
            step: new.step.clone(),
            measures: new.measures.clone(),
            evidence: new.evidence.clone(),
            text: new.text.clone(),
            fresh: None,
            late: new.late,
        };
        let seen = new.seen.clone().unwrap_or_else(|| self.now_seen());
        self.append(aircraft, seen, body.into())
    }

    /// Something was done about it, claimed by whom.
    pub fn treat(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        how: &str,
        by: Option<&str>,
        measures: Vec<Measure>,
    ) -> Result<Digest> {
        if how.trim().is_empty() {
            return Err(
                Error::new(ErrorKind::BadValue, "how it was treated is not said")
                    .at("how")
                    .hint("say what was done: cleaned, tightened, stop-drilled …"),
            );
        }
        self.check_sizes(aircraft, finding, &measures)?;
        let walkaround = self.current_walkaround(aircraft)?;
        let body = Treated {
            finding: *finding,
            how: how.trim().to_owned(),
            by: by.map(str::to_owned),
            measures,
            walkaround,
        };
        self.now(aircraft, body.into())
    }

    /// Closes it.
    pub fn close_finding(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        how: &str,
        by: Option<&str>,
        reference: Option<&str>,
        evidence: Option<Digest>,
    ) -> Result<Digest> {
        if how.trim().is_empty() {
            return Err(
                Error::new(ErrorKind::BadValue, "why it is closed is not said")
                    .at("how")
                    .hint("say what was done, or what showed that it is none"),
            );
        }
        let body = FindingClosed {
            finding: *finding,
            how: how.trim().to_owned(),
            by: by.map(str::to_owned),
            reference: reference.map(str::to_owned),
            evidence,
        };
        self.now(aircraft, body.into())
    }

    /// Opens it again.
    pub fn reopen(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        why: Option<&str>,
    ) -> Result<Digest> {
        self.now(
            aircraft,
            FindingReopened {
                finding: *finding,
                why: why.map(str::to_owned),
            }
            .into(),
        )
    }

    /// Two findings are one.
    pub fn join_findings(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        other: &Digest,
    ) -> Result<Digest> {
        if finding == other {
            return Err(Error::new(
                ErrorKind::BadValue,
                "a finding cannot be joined with itself",
            )
            .at(finding.short())
            .hint("name two that differ"));
        }
        self.now(
            aircraft,
            FindingJoined {
                finding: *finding,
                other: *other,
            }
            .into(),
        )
    }

    /// Named sightings belong to another finding, which the returned line names.
    pub fn split(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        sightings: Vec<Digest>,
        part: Option<&str>,
    ) -> Result<Digest> {
        if sightings.is_empty() {
            return Err(
                Error::new(ErrorKind::BadValue, "which sightings belong elsewhere?")
                    .at(finding.short())
                    .hint("name one or more sightings"),
            );
        }
        self.now(
            aircraft,
            FindingSplit {
                finding: *finding,
                sightings,
                disputes: None,
                part: part.map(str::to_owned),
            }
            .into(),
        )
    }

    /// Disputes a joining: the findings stand apart again and the dispute is shown. Without `join`,
    /// the only joining there is.
    ///
    /// # Errors
    /// `Unknown` where nothing was joined with it, `Ambiguous` where several joinings were.
    pub fn dispute_join(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        join: Option<&Digest>,
    ) -> Result<Digest> {
        let state = self.state(aircraft)?;
        let found = state
            .findings
            .iter()
            .find(|known| known.ids.contains(finding));
        let joins: &[Digest] = found.map_or(&[], |known| &known.joins);
        let line = match (join, joins) {
            (Some(join), joins) if joins.contains(join) => *join,
            (None, [only]) => *only,
            (None, [_, _, ..]) => {
                let lines: Vec<String> = joins.iter().map(Digest::short).collect();
                return Err(Error::new(
                    ErrorKind::Ambiguous,
                    format!("{} joinings hold it together", joins.len()),
                )
                .at(finding.short())
                .hint(format!("name one: {}", lines.join(", "))));
            }
            _ => {
                return Err(
                    Error::new(ErrorKind::Unknown, "it is not joined with another so")
                        .at(finding.short())
                        .hint("a single sighting is taken out by naming it: witnessmark finding show FINDING lists them"),
                );
            }
        };
        self.now(
            aircraft,
            FindingSplit {
                finding: *finding,
                sightings: Vec::new(),
                disputes: Some(line),
                part: None,
            }
            .into(),
        )
    }

    /// Somebody was told.
    pub fn told(&mut self, aircraft: &Digest, finding: &Digest, who: &str) -> Result<Digest> {
        self.now(
            aircraft,
            Told {
                finding: *finding,
                who: who.to_owned(),
            }
            .into(),
        )
    }

    /// Deferred by whom, on what basis, until when.
    pub fn defer(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        by: &str,
        on: &str,
        until: &str,
    ) -> Result<Digest> {
        self.now(
            aircraft,
            Deferred {
                finding: *finding,
                by: by.to_owned(),
                on: on.to_owned(),
                until: until.to_owned(),
            }
            .into(),
        )
    }

    /// A signed maintenance entry was seen.
    pub fn maintenance_entry(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        reference: &str,
        evidence: Option<Digest>,
    ) -> Result<Digest> {
        self.now(
            aircraft,
            MaintenanceEntrySeen {
                finding: *finding,
                reference: reference.to_owned(),
                evidence,
            }
            .into(),
        )
    }

    /// The author's own call.
    pub fn concern(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        concern: &str,
    ) -> Result<Digest> {
        let concern = one_of(concern, &CONCERNS, "concern")?;
        self.now(
            aircraft,
            ConcernSet {
                finding: *finding,
                concern,
            }
            .into(),
        )
    }

    pub(super) fn now(&mut self, aircraft: &Digest, body: crate::record::Body) -> Result<Digest> {
        let seen = self.now_seen();
        self.append(aircraft, seen, body)
    }
}
