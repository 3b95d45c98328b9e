//! What a person is shown: what deteriorated first, every finding's story, what nobody looked at.

mod deteriorated;
mod finding;
mod narrow;
mod shapes;
mod sighting;
mod text;
mod words;
mod zones;

use std::collections::{BTreeMap, HashMap};

use super::finding_growth;
use super::state::State;
use super::story::{self, Looks};
use super::{again, meters};
use crate::layout::Layout;
use crate::record::Digest;
use finding::finding_view;
use zones::{ZoneSeen, zone_view};

pub use shapes::*;
pub use words::{change_words, measure_text, said_words, trend_words};

/// Builds the view. `who` names authors.
pub fn build(state: &State, layout: &Layout, who: &dyn Fn(&Digest) -> String) -> HistoryView {
    view(state, layout, None, who)
}

/// Builds the view of one zone from a state that holds what bears on it.
pub fn of_zone(
    state: &State,
    layout: &Layout,
    zone: &str,
    who: &dyn Fn(&Digest) -> String,
) -> HistoryView {
    view(state, layout, Some(zone), who)
}

fn view(
    state: &State,
    layout: &Layout,
    only: Option<&str>,
    who: &dyn Fn(&Digest) -> String,
) -> HistoryView {
    // Names are asked for again and again: each author's slip is read once.
    let names: BTreeMap<Digest, String> = state
        .authors
        .keys()
        .map(|author| (*author, who(author)))
        .collect();
    let named = |author: &Digest| names.get(author).cloned().unwrap_or_else(|| who(author));
    let who: &dyn Fn(&Digest) -> String = &named;
    let wanted = |zone: &str| only.is_none_or(|only| only == zone);
    let looks = Looks::new(state);
    let walks: HashMap<Digest, usize> = state
        .walkarounds
        .iter()
        .enumerate()
        .map(|(at, walk)| (walk.id, at))
        .collect();
    let mut findings: Vec<FindingView> = state
        .findings
        .iter()
        .filter(|finding| wanted(&finding.zone))
        .map(|finding| {
            let mut view = finding_view(finding, layout, who);
            view.started = story::started(state, finding, &looks, &walks, who);
            view.returned = story::returned(finding, &state.meter_readings);
            view.dressed = story::dressed(finding);
            view.not_asked = story::not_asked(finding, &looks, who);
            view.covered = finding
                .covered
                .as_ref()
                .map(|told| (told.seen.date().to_owned(), who(&told.author)));
            view.limit.clone_from(&finding.limit);
            view.limit_reached = finding.limit.as_ref().is_some_and(|(of, value, unit, _)| {
                finding_growth::reached(finding, of, value, unit)
            });
            view.again = finding.again.as_deref().map(again::words);
            view
        })
        .collect();
    findings.sort_by(|a, b| {
        (!a.open)
            .cmp(&!b.open)
            .then(b.rank.0.cmp(&a.rank.0))
            .then(b.rank.1.total_cmp(&a.rank.1))
            .then(b.rank.2.total_cmp(&a.rank.2))
            .then(a.id.cmp(&b.id))
    });
    let walkarounds = state
        .walkarounds
        .iter()
        .map(|walkaround| WalkaroundView {
            id: walkaround.id,
            date: walkaround.told.seen.date().to_owned(),
            by: who(&walkaround.told.author),
            purpose: walkaround
                .purpose
                .as_deref()
                .unwrap_or("not said")
                .replace('_', " "),
            hours: walkaround.hours.clone(),
            meter: walkaround
                .hours
                .as_ref()
                .map(|_| meters::shown(&walkaround.axis).to_owned()),
            finished: walkaround.finished.is_some(),
            given_clock: walkaround.told.given_clock,
        })
        .collect();
    let seen = ZoneSeen::new(state, who);
    let zones = layout
        .zones
        .iter()
        .filter(|zone| wanted(&zone.code))
        .map(|zone| {
            let named = (zone.code.as_str(), zone.name.as_str());
            zone_view(state, &seen, looks.of(&zone.code), named, who)
        })
        .collect();
    HistoryView {
        registration: state.registration.clone(),
        kind: state.kind.clone(),
        serial: state.serial.clone(),
        walkarounds,
        findings,
        zones,
        backwards: meters::backwards_words(&state.meter_readings, who),
        unplaced: state.unplaced().count(),
        newer: state.newer,
    }
}

impl FindingView {
    /// What is said of it, each change as the reader wants it.
    pub fn says_with(
        &self,
        change_in: &dyn Fn(&super::significance::Change, &str) -> String,
    ) -> String {
        self.words
            .iter()
            .map(|said| said_words(said, change_in))
            .collect::<Vec<_>>()
            .join("; ")
    }
}
