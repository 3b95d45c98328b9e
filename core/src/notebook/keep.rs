//! A draft of what was heard, written down once a person has accepted it.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{NewFinding, NewLook, NewSighting, Notebook, Place};
use crate::condition::Conditions;
use crate::error::{Error, ErrorKind, Result};
use crate::history::state::State;
use crate::quantity::{Rational, Unit};
use crate::record::Digest;
use crate::record::kinds::Measure;
use crate::speech::{Draft, Item, Kind, MeasureFound};

/// What a draft became.
#[derive(Debug, Clone, PartialEq, Default, Serialize)]
pub struct Kept {
    /// Findings opened.
    pub opened: Vec<Digest>,
    /// Findings sighted again.
    pub sighted: Vec<Digest>,
    /// Looks.
    pub looks: Vec<Digest>,
    /// Readings.
    pub readings: Vec<Digest>,
    /// Words kept as they were: remarks, and what has no zone yet.
    pub notes: Vec<Digest>,
}

impl Notebook {
    /// Writes a draft down. A finding of a zone and condition that has exactly one finding in the
    /// notebook is a sighting of that one, unless it was said to be new; without a zone the words
    /// are kept and wait to be placed.
    ///
    /// # Errors
    /// `OpenQuestions` while a question is open, `WrongState` for a command: nothing is written.
    pub fn keep_draft(
        &mut self,
        aircraft: &Digest,
        draft: &Draft,
        stop: Option<&str>,
    ) -> Result<Kept> {
        if let Some(question) = draft.questions.first() {
            return Err(Error::new(
                ErrorKind::OpenQuestions,
                format!("{} questions are open", draft.questions.len()),
            )
            .at(&draft.text)
            .hint(format!("answer: {}", question.asked)));
        }
        if draft.kind == Kind::Command {
            return Err(
                Error::new(ErrorKind::WrongState, "a command is done, not kept")
                    .at(&draft.text)
                    .hint("use the command of that name"),
            );
        }
        let mut kept = Kept::default();
        let here = Place {
            aircraft: Some(*aircraft),
            stop: stop.map(str::to_owned),
            ..Place::default()
        };
        let placed = |item: &Item| item.zone.is_some();
        let writes = |item: &Item| {
            item.condition.is_some() && (placed(item) || item.negated)
                || item.look.is_some() && placed(item)
                || item.reading.is_some() && !item.measures.is_empty()
        };
        // checked before anything is written
        for item in &draft.items {
            for found in item.measures.iter().filter(|m| !m.change) {
                measure(item, found)?;
            }
        }
        if draft.items.is_empty() || !draft.items.iter().all(writes) {
            kept.notes.push(self.write_note(&draft.text, &here)?.entry);
        }
        for item in draft.items.iter().filter(|item| writes(item)) {
            self.keep_item(aircraft, draft, item, &mut kept)?;
        }
        Ok(kept)
    }

    fn keep_item(
        &mut self,
        aircraft: &Digest,
        draft: &Draft,
        item: &Item,
        kept: &mut Kept,
    ) -> Result<()> {
        let zone = item.zone.as_ref().map(|z| z.code.clone());
        if item.reading.is_some() && item.condition.is_none() && item.look.is_none() {
            for found in &item.measures {
                let kind = item
                    .reading
                    .as_deref()
                    .unwrap_or("reading")
                    .replace(' ', "_");
                let context = BTreeMap::from([("as_said".to_owned(), found.as_said.clone())]);
                kept.readings.push(self.read_value(
                    aircraft,
                    &kind,
                    &found.value,
                    found.unit.as_deref(),
                    None,
                    zone.as_deref(),
                    context,
                )?);
            }
            return Ok(());
        }
        let Some(zone) = zone else { return Ok(()) };
        let name = item.condition.as_ref().map(|c| c.name.clone());
        if item.look.is_some() {
            let not_seen = (item.look.as_deref() == Some("not_seen"))
                .then(|| item.why.clone().unwrap_or_else(|| draft.text.clone()));
            let (line, _) = self.look(
                aircraft,
                &NewLook {
                    zones: vec![zone],
                    not_seen,
                    condition: name,
                    ..NewLook::default()
                },
            )?;
            kept.looks.push(line);
            return Ok(());
        }
        let Some(name) = name else { return Ok(()) };
        let gone = item.compare.as_deref() == Some("gone");
        let sighting = NewSighting {
            result: gone.then(|| "not_found".to_owned()),
            basis: item.basis.clone(),
            measures: item
                .measures
                .iter()
                .filter(|m| !m.change)
                .map(|m| measure(item, m))
                .collect::<Result<Vec<_>>>()?,
            text: Some(draft.text.clone()),
            ..NewSighting::default()
        };
        let state = self.state(aircraft)?;
        let known = known(&state, &zone, &name);
        if let (Some(id), false) = (known, item.compare.as_deref() == Some("new")) {
            self.sight(aircraft, &id, &sighting)?;
            kept.sighted.push(id);
            return Ok(());
        }
        let unsure = match (&item.or_else, item.unsure) {
            (Some(other), _) => vec![format!("{name} or {other}, unsure")],
            (None, true) => vec![format!("{name}, unsure")],
            _ => Vec::new(),
        };
        let new = NewFinding {
            zone,
            condition: name,
            part: item.part.as_ref().map(|p| p.name.clone()),
            unsure,
            text: Some(draft.text.clone()),
            component: None,
            system: None,
        };
        kept.opened
            .push(self.open_finding(aircraft, &new, &sighting)?);
        Ok(())
    }
}

/// The one finding of this zone and condition, if there is exactly one.
fn known(state: &State, zone: &str, condition: &str) -> Option<Digest> {
    let mut fits = state
        .findings
        .iter()
        .filter(|f| f.zone == zone && f.condition == condition);
    match (fits.next(), fits.next()) {
        (Some(one), None) => Some(one.id),
        _ => None,
    }
}

/// A measure as heard, with the method's own uncertainty: by eye unless something else was said.
fn measure(item: &Item, found: &MeasureFound) -> Result<Measure> {
    let number: Rational = found.value.parse()?;
    let unit: Unit = found
        .unit
        .as_deref()
        .ok_or_else(|| {
            Error::new(ErrorKind::OpenQuestions, "a size has no unit").at(&found.as_said)
        })?
        .parse()?;
    let method = match item.basis.as_deref() {
        Some("measured") => "ruler",
        Some("told" | "read") => "paper",
        _ => "eye",
    };
    let u = item
        .condition
        .as_ref()
        .and_then(|c| Conditions::built_in().get(&c.name))
        .and_then(|c| c.method(method))
        .and_then(|m| m.u_for(&number, unit).ok().flatten())
        .map(|u| u.to_decimal().unwrap_or_else(|| u.to_string()));
    Ok(Measure {
        quantity: found.quantity.clone(),
        value: found.value.clone(),
        to: found.to.clone(),
        unit: unit.symbol().to_owned(),
        u,
        method: method.to_owned(),
        as_said: Some(found.as_said.clone()),
        marks: None,
        scale: None,
        context: BTreeMap::new(),
        photo: None,
    })
}
