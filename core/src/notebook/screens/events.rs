//! Events: what happened to the whole aircraft, and where to look after it.

use super::records::*;
use crate::condition::Event;
use crate::error::Result;
use crate::evidence::store;
use crate::notebook::Notebook;
use crate::record::{Body, Digest, kinds};

/// The kinds of event, by name.
pub fn event_list() -> Vec<EventLine> {
    Event::all()
        .iter()
        .map(|event| EventLine {
            key: event.name.clone(),
            title: event.title.clone(),
            words: event.words.clone(),
        })
        .collect()
}

impl Notebook {
    /// One kind of event, with where to look on this aircraft.
    ///
    /// # Errors
    /// `Unknown` with the nearest words.
    pub fn event_view(&self, aircraft: &Digest, event: &str) -> Result<EventView> {
        let event = Event::find(event)?;
        let layout = self.layout_of(&self.state(aircraft)?)?;
        Ok(EventView {
            key: event.name.clone(),
            title: event.title.clone(),
            cannot_clear: event.cannot_clear.clone(),
            asks: event.asks.clone(),
            cautions: event.cautions.clone(),
            places: event
                .where_to_look(&layout)
                .into_iter()
                .map(|(zone, look_for)| EventPlaceLine {
                    zone: zone.code.clone(),
                    name: zone.name.clone(),
                    look_for: look_for
                        .iter()
                        .map(|look| LookForLine {
                            text: look.text.clone(),
                            source: look.source.to_string(),
                        })
                        .collect(),
                })
                .collect(),
            hold: event.hold,
            source: event.source.to_string(),
        })
    }

    /// Writes an event down; its file is kept as evidence, so that a later list cannot change it.
    ///
    /// # Errors
    /// `Unknown` with the nearest words, and those of writing.
    pub fn write_event(
        &mut self,
        aircraft: &Digest,
        event: &str,
        text: Option<&str>,
    ) -> Result<Digest> {
        self.write_event_of(aircraft, event, text, &[], None)
    }

    /// As [`Self::write_event`], of some zones only (those that were painted), at an earlier time.
    ///
    /// # Errors
    /// `Unknown` with the nearest words, and those of writing.
    pub fn write_event_of(
        &mut self,
        aircraft: &Digest,
        event: &str,
        text: Option<&str>,
        zones: &[String],
        at: Option<crate::record::Seen>,
    ) -> Result<Digest> {
        let event = Event::find(event)?;
        let mut codes = Vec::new();
        if !zones.is_empty() {
            let layout = self.layout_of(&self.state(aircraft)?)?;
            for zone in zones {
                let code = self.zone_code(&layout, zone)?;
                if !codes.contains(&code) {
                    codes.push(code);
                }
            }
        }
        let file = match Event::built_in_text(&event.name) {
            None => None,
            Some(text) => {
                let incoming = store::receive(
                    &self.world,
                    &self.root,
                    &mut text.as_bytes(),
                    1 << 20,
                    &event.name,
                )?;
                store::settle(self.world.files.as_ref(), &self.root, &incoming, "toml")?;
                Some(incoming.digest)
            }
        };
        let body = kinds::Event {
            event: event.name.clone(),
            file,
            text: text.map(str::to_owned),
            hold: event.hold,
            zones: codes,
        };
        let seen = at.unwrap_or_else(|| self.now_seen());
        self.append(aircraft, seen, Body::from(body))
    }

    /// Ends the hold of an event: evidence may be removed again. Why, and on whose word, stays.
    ///
    /// # Errors
    /// `WrongState` for an event that holds nothing; those of writing.
    pub fn lift_hold(&mut self, aircraft: &Digest, event: &Digest, why: &str) -> Result<Digest> {
        let state = self.state(aircraft)?;
        let holds = state
            .happened
            .iter()
            .any(|known| known.told.line == *event && known.hold && known.lifted.is_none());
        if !holds || why.trim().is_empty() {
            return Err(crate::error::Error::new(
                crate::error::ErrorKind::WrongState,
                if holds {
                    "why may evidence be removed again?"
                } else {
                    "no hold of that event is in force"
                },
            )
            .at(event.short())
            .hint("name the event by the first digits of its entry, and say who released it"));
        }
        let body = kinds::HoldLifted {
            event: *event,
            why: why.trim().to_owned(),
        };
        let seen = self.now_seen();
        self.append(aircraft, seen, Body::from(body))
    }
}
