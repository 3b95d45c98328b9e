//! A person's own limit on a finding, and when to look again.

use super::Notebook;
use crate::error::{Error, ErrorKind, Result};
use crate::history::again;
use crate::record::Digest;
use crate::record::kinds::{LimitSet, LookAgainSet, Measure};

impl Notebook {
    /// A limit of the user's, with the manual and paragraph it came from.
    pub fn limit(
        &mut self,
        aircraft: &Digest,
        finding: &Digest,
        quantity: &str,
        value: &str,
        unit: &str,
        source: &str,
    ) -> Result<Digest> {
        if source.trim().is_empty() {
            return Err(Error::new(ErrorKind::BadValue, "a limit needs its source")
                .at("--source")
                .hint("name the manual and paragraph it came from"));
        }
        let number: crate::quantity::Rational =
            value.parse().map_err(|error: Error| error.at("limit"))?;
        let of: crate::quantity::Unit = unit.parse().map_err(|error: Error| error.at("limit"))?;
        if number.is_negative() || number.is_zero() {
            return Err(Error::new(ErrorKind::BadValue, "a limit is more than zero")
                .at("limit")
                .hint("give the figure as the manual has it"));
        }
        if let Some(seen) = self.last_unit(aircraft, finding, quantity)?
            && seen.dimension() != of.dimension()
        {
            return Err(Error::new(
                ErrorKind::BadValue,
                format!(
                    "a limit in {} does not fit a {} measured in {}",
                    of.symbol(),
                    quantity.replace('_', " "),
                    seen.symbol()
                ),
            )
            .at("limit")
            .hint("give it in a unit of the measure, or name the quantity it is for"));
        }
        let body = LimitSet {
            finding: *finding,
            quantity: quantity.to_owned(),
            value: value.to_owned(),
            unit: unit.to_owned(),
            source: source.to_owned(),
            words: None,
        };
        self.now(aircraft, body.into())
    }

    fn last_measure(
        &self,
        aircraft: &Digest,
        finding: &Digest,
        quantity: &str,
    ) -> Result<Option<Measure>> {
        let state = self.state(aircraft)?;
        Ok(state
            .findings
            .iter()
            .find(|known| known.ids.contains(finding))
            .and_then(|known| {
                let measure = known
                    .sightings
                    .iter()
                    .rev()
                    .filter(|sighting| sighting.result == "present")
                    .flat_map(|sighting| &sighting.measures)
                    .find(|measure| measure.quantity == quantity)?;
                Some(measure.clone())
            }))
    }

    fn last_unit(
        &self,
        aircraft: &Digest,
        finding: &Digest,
        quantity: &str,
    ) -> Result<Option<crate::quantity::Unit>> {
        Ok(self
            .last_measure(aircraft, finding, quantity)?
            .and_then(|measure| measure.unit.parse().ok()))
    }

    /// Has the last size seen reached a limit already? Then it is said, and no window is given.
    ///
    /// # Errors
    /// Those of the index.
    pub fn past_limit(
        &self,
        aircraft: &Digest,
        finding: &Digest,
        quantity: &str,
        value: &str,
        unit: &str,
    ) -> Result<bool> {
        let state = self.state(aircraft)?;
        Ok(state
            .findings
            .iter()
            .find(|known| known.ids.contains(finding))
            .is_some_and(|known| {
                crate::history::finding_growth::reached(known, quantity, value, unit)
            }))
    }

    /// When a "look again" is due, in words.
    ///
    /// # Errors
    /// Those of the index.
    pub fn again_words(&self, line: &Digest) -> Result<String> {
        Ok(match self.index.line(line)?.map(|row| row.body) {
            Some(crate::record::Body::LookAgainSet(body)) => again::words(&body.at),
            _ => String::new(),
        })
    }

    /// When to look again: hours, a date or the next flight.
    ///
    /// # Errors
    /// `BadValue` for what is none of these; those of writing.
    pub fn look_again(
        &mut self,
        aircraft: &Digest,
        finding: Option<&Digest>,
        zone: Option<&str>,
        at: &str,
    ) -> Result<Digest> {
        let state = self.state(aircraft)?;
        let meter = match at.split_once('@') {
            Some((_, name)) => {
                let fitted = super::meters::the_meter(&state, name)?;
                if fitted.meter == "landings" {
                    return Err(Error::new(
                        ErrorKind::BadValue,
                        format!("\"{name}\" counts landings, not hours"),
                    )
                    .at("when to look again")
                    .hint("name a meter of hours, a date or \"next flight\""));
                }
                Some(fitted.axis.clone())
            }
            None => None,
        };
        let when = again::parse(at, meter.as_deref(), &state.meter_readings)?;
        self.now(
            aircraft,
            LookAgainSet {
                finding: finding.copied(),
                zone: zone.map(str::to_owned),
                at: when,
            }
            .into(),
        )
    }
}
