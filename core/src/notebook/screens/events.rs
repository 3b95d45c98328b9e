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
        let event = Event::find(event)?;
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
            zones: Vec::new(),
        };
        let seen = self.now_seen();
        self.append(aircraft, seen, Body::from(body))
    }
}
