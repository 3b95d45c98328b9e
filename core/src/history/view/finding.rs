//! One finding's story, as shown.

use std::collections::HashMap;

use super::super::compare;
use super::super::state::Finding;
use super::deteriorated::{self, verdict};
use super::shapes::{FindingView, SightingView, StepChange};
use super::sighting::sighting_view;
use super::words::change_words;
use crate::condition::Conditions;
use crate::layout::Layout;
use crate::record::Digest;

pub(super) fn finding_view(
    finding: &Finding,
    layout: &Layout,
    who: &dyn Fn(&Digest) -> String,
) -> FindingView {
    let condition = Conditions::built_in().get(&finding.condition);
    let compared = compare::measures(finding);
    let mut stepped: HashMap<Digest, (Option<StepChange>, Option<StepChange>)> =
        deteriorated::steps(finding)
            .into_iter()
            .map(|(sighting, before, first)| (sighting.told.line, (before, first)))
            .collect();
    let mut at = 0;
    let sightings: Vec<SightingView> = finding
        .sightings
        .iter()
        .filter(|sighting| !sighting.overtaken)
        .map(|sighting| {
            // Measures come in the order of the sightings that count.
            let from = at;
            while compared
                .get(at)
                .is_some_and(|one| std::ptr::eq(one.sighting, sighting))
            {
                at += 1;
            }
            let own = compared.get(from..at).unwrap_or_default();
            let mut view = sighting_view(sighting, own, who);
            if let Some((before, first)) = stepped.remove(&sighting.told.line) {
                view.step_before = before;
                view.step_first = first;
            }
            view
        })
        .collect();
    let verdict = verdict(finding, &compared, who);
    let zone_name = layout.zone(&finding.zone).map_or_else(
        || {
            finding
                .system
                .clone()
                .unwrap_or_else(|| "zone not in this layout".to_owned())
        },
        |zone| zone.name.clone(),
    );
    let mut view = FindingView {
        id: finding.id,
        short: crate::notebook::short_name(&finding.zone, &finding.id),
        zone: finding.zone.clone(),
        zone_name,
        condition: finding.condition.clone(),
        title: condition.map_or_else(
            || finding.condition.replace('_', " "),
            |condition| condition.title.clone(),
        ),
        part: finding.part.clone(),
        unsure: finding.unsure.clone(),
        open: finding.open,
        closed_how: finding.closed_how.clone(),
        concern: gravest(finding),
        first: (
            finding.opened.seen.date().to_owned(),
            who(&finding.opened.author),
        ),
        change: verdict.change.to_owned(),
        says: String::new(),
        measured: verdict.series.first().map_or(0, |series| series.measured),
        trend: verdict
            .series
            .first()
            .and_then(|series| series.trend.clone()),
        series: verdict.series,
        words: verdict.words,
        rank: verdict.rank,
        sightings,
        steps: finding
            .steps
            .iter()
            .map(|step| {
                let words = format!(
                    "{}: {}",
                    step.what.replace('_', " "),
                    step.words.join(", ").replace('_', " ")
                );
                (
                    step.told.seen.date().to_owned(),
                    who(&step.told.author),
                    words.trim_end_matches(": ").to_owned(),
                )
            })
            .collect(),
        started: None,
        returned: None,
        dressed: None,
        not_asked: Vec::new(),
        covered: None,
        limit: None,
        limit_reached: false,
        again: None,
    };
    view.says = view.says_with(&change_words);
    view
}

fn gravest(finding: &Finding) -> Option<String> {
    let order = crate::notebook::CONCERNS;
    finding
        .concerns
        .values()
        .filter_map(|concern| order.iter().position(|known| known == concern))
        .max()
        .and_then(|at| order.get(at))
        .map(|word| (*word).to_owned())
}
