//! Things that happen to an aircraft, each with its own list of where to look.
//!
//! One file each in `core/events`. Zone codes mean the same place in every built-in layout, so one list
//! serves them all; codes that a layout does not have are left out.

use std::sync::OnceLock;

use serde::Serialize;

use crate::datafile::{self, Fields, Mistake, Notes, embedded, short};
use crate::error::{Error, ErrorKind, Result};
use crate::layout::{Layout, LookFor, Zone};
use crate::sources::{Cited, Source};

/// A kind of event.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Event {
    /// Word that entries store: `hard_landing`.
    pub name: String,
    /// Words for people.
    pub title: String,
    /// Ways to say it, lower case.
    pub spoken: Vec<String>,
    /// What counts as one.
    pub words: String,
    /// What a look cannot settle; shown wherever the event is.
    pub cannot_clear: String,
    /// True where the evidence around it must not be removed until somebody lifts the hold
    /// (49 CFR 830.10 and local rules on accident evidence).
    pub hold: bool,
    /// True where it covers findings that lie on a surface (a repaint): they become *covered*, not gone.
    pub covers: bool,
    /// Questions to ask of the person who was there.
    pub asks: Vec<String>,
    /// Where to look, in this order.
    pub places: Vec<EventPlace>,
    /// What can hurt somebody, whole sentences.
    pub cautions: Vec<String>,
    /// Where the list comes from.
    pub source: Source,
}

/// Zones to look at together.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct EventPlace {
    /// Codes; a layout has some of them.
    pub zones: Vec<String>,
    /// What to look for there.
    pub look_for: Vec<LookFor>,
}

impl Event {
    /// Every built-in event, sorted by name. A test holds that each embedded file is one.
    pub fn all() -> &'static [Event] {
        static LIST: OnceLock<Vec<Event>> = OnceLock::new();
        LIST.get_or_init(|| {
            let read = |(_, text): &(&str, &str)| Event::parse(text).ok();
            embedded::EVENTS.iter().filter_map(read).collect()
        })
    }

    /// The event of a name.
    pub fn built_in(name: &str) -> Option<&'static Event> {
        Self::all().iter().find(|event| event.name == name)
    }

    /// The event that a person means by its name, title or spoken words.
    ///
    /// Errors: `Unknown` with the nearest words.
    pub fn find(text: &str) -> Result<&'static Event> {
        let wanted = text.trim().to_lowercase().replace('-', " ");
        let known = |event: &&Event| {
            event.name == wanted
                || event.name.replace('_', " ") == wanted
                || event.title.to_lowercase() == wanted
                || event.spoken.contains(&wanted)
        };
        Self::all().iter().find(known).ok_or_else(|| {
            let names = || Self::all().iter().map(|event| event.name.as_str());
            let all = names().collect::<Vec<_>>().join(", ");
            Error::new(
                ErrorKind::Unknown,
                format!("there is no event \"{}\"", short(text)),
            )
            .hint(datafile::did_you_mean(
                &wanted,
                names(),
                &format!("use one of {all}"),
            ))
        })
    }

    /// The text of a built-in event's file: what an entry that relies on it stores as evidence.
    pub fn built_in_text(name: &str) -> Option<&'static str> {
        embedded::EVENTS
            .iter()
            .find(|(file, _)| file.strip_suffix(".toml") == Some(name))
            .map(|(_, text)| *text)
    }

    /// Reads an event file. Errors as [`crate::layout::Layout::parse`].
    pub fn parse(text: &str) -> Result<Event> {
        datafile::settle(read(text), "the event file")
    }

    /// The zones of a layout to look at after this event, in order, each with what to look for.
    pub fn where_to_look<'a>(&'a self, layout: &'a Layout) -> Vec<(&'a Zone, &'a [LookFor])> {
        let mut list: Vec<(&Zone, &[LookFor])> = Vec::new();
        for place in &self.places {
            for zone in place.zones.iter().filter_map(|code| layout.zone(code)) {
                list.push((zone, &place.look_for));
            }
        }
        list
    }
}

fn read(text: &str) -> (Option<Event>, Vec<Mistake>) {
    datafile::read(text, event)
}

fn event(notes: &Notes, file: &Fields<'_, '_>) -> Event {
    let cited = Cited::of(file);
    let places = file
        .tables("place", "a place")
        .iter()
        .map(|fields| {
            let zones = fields.plain_texts("zones");
            let look_for = fields
                .tables("look_for", "a thing to look for")
                .iter()
                .map(|entry| {
                    let look = LookFor {
                        text: entry.need_text("text").value,
                        source: cited.source(notes, &entry.need_text("source")),
                    };
                    entry.done();
                    look
                })
                .collect();
            fields.done();
            EventPlace { zones, look_for }
        })
        .collect();
    Event {
        name: file.need_text("name").value,
        title: file.need_text("title").value,
        spoken: file.plain_texts("spoken"),
        words: file.need_text("words").value,
        cannot_clear: file.need_text("cannot_clear").value,
        hold: file.flag("hold", false),
        covers: file.flag("covers", false),
        asks: file.plain_texts("asks"),
        places,
        cautions: file
            .texts("cautions")
            .iter()
            .map(|key| cited.caution(notes, key))
            .collect(),
        source: cited.source(notes, &file.need_text("source")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_file_is_an_event_with_somewhere_to_look_in_every_layout() {
        for (file, text) in embedded::EVENTS {
            let (event, mistakes) = read(text);
            assert_eq!(mistakes, [], "{file}");
            let event = event.unwrap();
            assert_eq!(format!("{}.toml", event.name), *file);
            for layout in Layout::all() {
                assert!(
                    event.where_to_look(layout).len() >= 5,
                    "{file} {}",
                    layout.name
                );
            }
            // No code of a list is a slip of the pen: some layout has it, or it is of a kind not shipped.
            for code in event.places.iter().flat_map(|place| &place.zones) {
                let known = Layout::all()
                    .iter()
                    .any(|layout| layout.zone(code).is_some());
                assert!(
                    known || matches!(code.as_str(), "333" | "334"),
                    "{file} {code}"
                );
            }
        }
        assert_eq!(Event::all().len(), embedded::EVENTS.len());
    }

    /// A hard landing and a propeller strike are settled by the maker's conditional inspection (from
    /// memory of makers' manuals; ATA 100 chapter 05 has unscheduled checks).
    #[test]
    fn an_outside_look_clears_no_engine() {
        for event in Event::all() {
            assert!(
                event.cannot_clear.contains("conditional inspection")
                    && event.cannot_clear.contains("decide")
                    || event
                        .cannot_clear
                        .contains("settled by the maker's conditional inspection"),
                "{}: {}",
                event.name,
                event.cannot_clear
            );
            assert!(
                event.cannot_clear.contains("those who may"),
                "{}",
                event.name
            );
        }
        assert!(Event::built_in("propeller_strike").unwrap().hold);
        assert!(Event::built_in("repaint").unwrap().covers);
        assert_eq!(Event::find("Prop strike").unwrap().name, "propeller_strike");
        assert_eq!(
            Event::find("hial").unwrap_err().remedy,
            "did you mean \"hail\"?"
        );
    }
}
