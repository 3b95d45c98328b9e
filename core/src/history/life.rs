//! The life of findings: opened, sighted, treated, closed, joined, split.

use std::collections::{BTreeMap, HashMap};

use super::again::Wish;
use super::state::{Finding, Happened, Sighting, Step, Told, Walkaround};
use crate::record::kinds::{FindingOpened, Measure, Sighted};
use crate::record::{Body, Digest};

/// How a finding is closed whose component was removed.
pub(super) const LEFT: &str = "left with its component";

/// Gathers what is said of findings, in order, and works out each one's life at the end.
#[derive(Default)]
pub(super) struct Life {
    openings: Vec<(Told, FindingOpened)>,
    sightings: Vec<(Told, Sighted)>,
    steps: Vec<(Told, Digest, Step)>,
    concerns: Vec<(Told, Digest, String)>,
    limits: Vec<(Digest, (String, String, String, String))>,
    pub(super) wishes: Vec<Wish>,
    joins: Vec<(Digest, Digest, Digest)>,
    disputed: Vec<Digest>,
    /// Sighting line → finding that it was moved to.
    moved: HashMap<Digest, Digest>,
    gone: Vec<(Told, Digest)>,
}

impl Life {
    pub(super) fn sighted(&mut self, told: &Told, sighted: &Sighted) {
        self.sightings.push((told.clone(), sighted.clone()));
    }

    pub(super) fn component_removed(&mut self, told: &Told, component: &Digest) {
        self.gone.push((told.clone(), *component));
    }

    fn step(
        &mut self,
        told: &Told,
        finding: Digest,
        what: &str,
        words: Vec<Option<String>>,
        measures: &[Measure],
    ) {
        let words = words.into_iter().flatten().collect();
        let step = Step {
            told: told.clone(),
            what: what.into(),
            words,
            measures: measures.to_vec(),
        };
        self.steps.push((told.clone(), finding, step));
    }

    pub(super) fn take(&mut self, told: &Told, body: &Body) {
        match body {
            Body::FindingOpened(body) => self.openings.push((told.clone(), (**body).clone())),
            Body::Sighted(body) => self.sighted(told, body),
            Body::Treated(body) => self.step(
                told,
                body.finding,
                "treated",
                vec![Some(body.how.clone()), body.by.clone()],
                &body.measures,
            ),
            Body::FindingClosed(body) => {
                self.step(
                    told,
                    body.finding,
                    "closed",
                    vec![
                        Some(body.how.clone()),
                        body.by.clone(),
                        body.reference.clone(),
                    ],
                    &[],
                );
            }
            Body::FindingReopened(body) => {
                self.step(told, body.finding, "reopened", vec![body.why.clone()], &[])
            }
            Body::Told(body) => self.step(
                told,
                body.finding,
                "told",
                vec![Some(body.who.clone())],
                &[],
            ),
            Body::Deferred(body) => {
                self.step(
                    told,
                    body.finding,
                    "deferred",
                    vec![
                        Some(body.by.clone()),
                        Some(body.on.clone()),
                        Some(body.until.clone()),
                    ],
                    &[],
                );
            }
            Body::MaintenanceEntrySeen(body) => self.step(
                told,
                body.finding,
                "maintenance_entry",
                vec![Some(body.reference.clone())],
                &[],
            ),
            Body::ConcernSet(body) => {
                self.concerns
                    .push((told.clone(), body.finding, body.concern.clone()))
            }
            Body::LimitSet(body) => {
                let limit = (
                    body.quantity.clone(),
                    body.value.clone(),
                    body.unit.clone(),
                    body.source.clone(),
                );
                self.limits.push((body.finding, limit));
            }
            Body::LookAgainSet(body) => self.wishes.push(Wish {
                told: told.clone(),
                finding: body.finding,
                zone: body.zone.clone(),
                at: body.at.clone(),
            }),
            Body::FindingJoined(body) => self.joins.push((told.line, body.finding, body.other)),
            Body::FindingSplit(body) => {
                if let Some(join) = body.disputes {
                    self.disputed.push(join);
                    self.step(told, body.finding, "disputed", vec![], &[]);
                }
                if !body.sightings.is_empty() {
                    for sighting in &body.sightings {
                        self.moved.insert(*sighting, told.line);
                    }
                    if let Some((_, parent)) = self
                        .openings
                        .iter()
                        .find(|(opened, _)| opened.line == body.finding)
                    {
                        let mut opened = parent.clone();
                        opened.part.clone_from(&body.part);
                        self.openings.push((told.clone(), opened));
                    }
                }
            }
            _ => {}
        }
    }

    /// Joined findings are one connected set, named by the earliest opened; a disputed joining is
    /// not followed.
    fn groups(&self) -> HashMap<Digest, Digest> {
        let order: HashMap<Digest, usize> = self
            .openings
            .iter()
            .enumerate()
            .map(|(at, (told, _))| (told.line, at))
            .collect();
        let rank = |id: &Digest| order.get(id).copied().unwrap_or(usize::MAX);
        let mut root: HashMap<Digest, Digest> = HashMap::new();
        for id in order.keys() {
            root.insert(*id, *id);
        }
        for (_, sighted) in &self.sightings {
            root.entry(sighted.finding).or_insert(sighted.finding);
        }
        for (line, a, b) in &self.joins {
            if self.disputed.contains(line) {
                continue;
            }
            let (Some(a), Some(b)) = (root.get(a).copied(), root.get(b).copied()) else {
                continue;
            };
            let keep = if (rank(&a), a) <= (rank(&b), b) { a } else { b };
            for target in root.values_mut() {
                if *target == a || *target == b {
                    *target = keep;
                }
            }
        }
        root
    }

    pub(super) fn finish(
        self,
        walkarounds: &[Walkaround],
        walk_at: &HashMap<Digest, usize>,
    ) -> Vec<Finding> {
        let root = self.groups();
        let resolve = |id: &Digest| root.get(id).copied().unwrap_or(*id);
        let mut found: BTreeMap<Digest, Finding> = BTreeMap::new();
        for (told, opened) in &self.openings {
            let id = resolve(&told.line);
            let entry = found.entry(id).or_insert_with(|| begin(id, told, opened));
            if !entry.ids.contains(&told.line) {
                entry.ids.push(told.line);
            }
        }
        for (told, sighted) in &self.sightings {
            let id = resolve(self.moved.get(&told.line).unwrap_or(&sighted.finding));
            // With its opening retracted or not received, a finding lives on by its sightings.
            let finding = found.entry(id).or_insert_with(|| {
                let opened = FindingOpened {
                    zone: String::new(),
                    condition: "odd".into(),
                    part: None,
                    component: None,
                    unsure: Vec::new(),
                    system: None,
                    text: None,
                };
                begin(id, told, &opened)
            });
            let walkaround = sighted
                .walkaround
                .and_then(|id| walk_at.get(&id))
                .and_then(|at| walkarounds.get(*at));
            finding.sightings.push(Sighting {
                told: told.clone(),
                walkaround: sighted.walkaround,
                result: sighted.result.clone(),
                why: sighted.why.clone(),
                basis: sighted.basis.clone(),
                step: sighted.step.clone(),
                measures: sighted.measures.clone(),
                evidence: sighted.evidence.clone(),
                text: sighted.text.clone(),
                late: sighted.late,
                hours: walkaround.and_then(|w| w.hours.clone()),
                axis: walkaround.map(|w| w.axis.clone()).unwrap_or_default(),
                landings: walkaround.and_then(|w| w.landings.clone()),
                series: 0,
                overtaken: false,
                measured_anew: Vec::new(),
                step_anew: false,
            });
        }
        for (_, finding, step) in self.steps {
            if let Some(finding) = found.get_mut(&resolve(&finding)) {
                finding.steps.push(step);
            }
        }
        for (told, finding, concern) in self.concerns {
            if let Some(finding) = found.get_mut(&resolve(&finding)) {
                finding.concerns.insert(told.author.hex(), concern.clone());
                finding.concern_log.push((told, concern));
            }
        }
        for (finding, limit) in self.limits {
            if let Some(finding) = found.get_mut(&resolve(&finding)) {
                finding.limit = Some(limit);
            }
        }
        for (line, a, b) in &self.joins {
            for id in [a, b] {
                if let Some(finding) = found.get_mut(&resolve(id))
                    && !self.disputed.contains(line)
                    && !finding.joins.contains(line)
                {
                    finding.joins.push(*line);
                }
            }
        }
        let mut findings: Vec<Finding> = found.into_values().collect();
        for finding in &mut findings {
            settle(finding, &self.gone);
        }
        findings.sort_by_key(|finding| (first_seen(finding), finding.id));
        findings
    }
}

/// Order key of the earliest evidence of a finding.
pub fn first_seen(finding: &Finding) -> i64 {
    finding
        .sightings
        .iter()
        .filter(|sighting| sighting.result == "present")
        .map(|sighting| sighting.told.order_us)
        .chain([finding.opened.order_us])
        .min()
        .unwrap_or(finding.opened.order_us)
}

fn begin(id: Digest, told: &Told, opened: &FindingOpened) -> Finding {
    Finding {
        id,
        ids: vec![id],
        opened: told.clone(),
        zone: opened.zone.clone(),
        condition: opened.condition.clone(),
        part: opened.part.clone(),
        unsure: opened.unsure.clone(),
        text: opened.text.clone(),
        component: opened.component,
        system: opened.system.clone(),
        covered: None,
        concern_log: Vec::new(),
        sightings: Vec::new(),
        steps: Vec::new(),
        joins: Vec::new(),
        concerns: BTreeMap::new(),
        limit: None,
        again: None,
        open: true,
        closed_how: None,
    }
}

/// Orders a finding's life, numbers its series, and finds whether it is open: the last of closed,
/// reopened and present sighting decides.
fn settle(finding: &mut Finding, gone: &[(Told, Digest)]) {
    finding
        .sightings
        .sort_by_key(|sighting| sighting.told.order());
    finding.steps.sort_by_key(|step| step.told.order());
    let treatments: Vec<_> = finding
        .steps
        .iter()
        .filter(|step| step.what == "treated")
        .map(|step| step.told.order())
        .collect();
    for sighting in &mut finding.sightings {
        let order = sighting.told.order();
        sighting.series = treatments.iter().filter(|at| **at <= order).count();
    }
    overtake(&mut finding.sightings);
    // The last of closed, reopened and present sighting decides.
    let mut moments: Vec<(_, bool, Option<String>)> = Vec::new();
    for sighting in &finding.sightings {
        if sighting.result == "present" {
            moments.push((sighting.told.order(), true, None));
        }
    }
    for step in &finding.steps {
        match step.what.as_str() {
            "closed" => moments.push((step.told.order(), false, Some(step.words.join(", ")))),
            "reopened" => moments.push((step.told.order(), true, None)),
            _ => {}
        }
    }
    for (told, component) in gone {
        if finding.component == Some(*component) {
            let how = LEFT.to_owned();
            moments.push((told.order(), false, Some(how)));
        }
    }
    if let Some((_, open, how)) = moments.into_iter().max_by_key(|(order, _, _)| *order) {
        finding.open = open;
        finding.closed_how = how;
    }
}

/// What somebody says twice in one walkaround counts as said last, each thing for itself: a size by a
/// later size of the same quantity, a step by a later step, *not found* and *present* by each other. A
/// second look that says nothing of a size leaves the first one's size standing.
fn overtake(sightings: &mut [Sighting]) {
    for i in 0..sightings.len() {
        let Some((this, later)) = sightings.get_mut(i..).and_then(<[_]>::split_first_mut) else {
            continue;
        };
        let same: Vec<&Sighting> = later
            .iter()
            .filter(|later| {
                this.walkaround.is_some()
                    && later.walkaround == this.walkaround
                    && later.told.author == this.told.author
                    && later.series == this.series
            })
            .collect();
        let other = same
            .iter()
            .any(|later| later.result != this.result && later.result != "could_not_check");
        let again = || same.iter().filter(|later| later.result == this.result);
        let anew: Vec<String> = this
            .measures
            .iter()
            .map(|measure| measure.quantity.clone())
            .filter(|quantity| {
                again().any(|later| later.measures.iter().any(|one| one.quantity == *quantity))
            })
            .collect();
        this.step_anew = this.step.is_some() && again().any(|later| later.step.is_some());
        let all_anew = again().next().is_some()
            && (this.step.is_none() || this.step_anew)
            && this.measures.iter().all(|one| anew.contains(&one.quantity));
        this.overtaken = other || all_anew;
        this.measured_anew = anew;
    }
}

/// New paint covers what lay on a surface: such findings are *covered*, not gone, until they are seen
/// again or closed.
pub(super) fn cover(findings: &mut [Finding], happened: &[Happened]) {
    let paints: Vec<&Happened> = happened
        .iter()
        .filter(|event| crate::condition::Event::built_in(&event.event).is_some_and(|e| e.covers))
        .collect();
    if paints.is_empty() {
        return;
    }
    for finding in findings.iter_mut().filter(|finding| finding.open) {
        let surface = crate::condition::Conditions::built_in()
            .get(&finding.condition)
            .is_some_and(|condition| condition.surface);
        if !surface {
            continue;
        }
        let seen = finding
            .sightings
            .iter()
            .filter(|sighting| sighting.result == "present")
            .map(|sighting| sighting.told.order())
            .max()
            .unwrap_or_else(|| finding.opened.order());
        finding.covered = paints
            .iter()
            .filter(|event| event.zones.is_empty() || event.zones.contains(&finding.zone))
            .find(|event| event.told.order() > seen)
            .map(|event| event.told.clone());
    }
}
