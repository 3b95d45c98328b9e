//! Which walkaround, zone and finding a line or a file belongs to, so that every row can say so.

use super::chains::Chain;
use super::{Report, Row};
use crate::record::kinds::{cites, zones};
use crate::record::{Body, Digest, Line};
use std::collections::{BTreeSet, HashMap};

/// Links of the whole record.
#[derive(Default)]
pub struct Context<'a> {
    chains: &'a [Chain],
    /// Line to the walkaround of its author that was open when it had been written.
    open: HashMap<Digest, Digest>,
    /// Walkaround to its label.
    walkarounds: HashMap<Digest, String>,
    /// Finding to its zone.
    findings: HashMap<Digest, String>,
    /// Capturing line to where it was hung: zone, finding.
    hung: HashMap<Digest, (Option<String>, Option<Digest>)>,
    /// Lines that a retraction cites.
    retracted: BTreeSet<Digest>,
}

/// What one line belongs to.
#[derive(Default, Clone)]
pub struct About {
    walkaround: Option<String>,
    zone: Option<String>,
    finding: Option<String>,
}

impl About {
    /// Puts it on a row.
    pub fn on(&self, mut row: Row) -> Row {
        row.walkaround.clone_from(&self.walkaround);
        row.zone.clone_from(&self.zone);
        row.finding.clone_from(&self.finding);
        row
    }
}

fn body_of(line: &Line) -> serde_json::Value {
    line.entry.body.to_value().unwrap_or_default()
}

fn member(body: &serde_json::Value, name: &str) -> Option<Digest> {
    body.get(name)?.as_str()?.parse().ok()
}

impl<'a> Context<'a> {
    /// Reads the links of all lines.
    pub fn of(chains: &'a [Chain]) -> Self {
        let mut context = Self {
            chains,
            ..Self::default()
        };
        for chain in chains {
            let mut open = None;
            for line in chain.lines() {
                match &line.entry.body {
                    Body::WalkaroundStarted(_) => open = Some(line.digest),
                    Body::WalkaroundFinished(_) => open = None,
                    _ => {}
                }
                if let Some(walkaround) = open {
                    context.open.insert(line.digest, walkaround);
                }
            }
        }
        for line in chains.iter().flat_map(Chain::lines) {
            match &line.entry.body {
                Body::WalkaroundStarted(started) => {
                    let purpose = started.purpose.as_deref().unwrap_or("walkaround");
                    let label = format!(
                        "{} {} {}",
                        line.digest.short(),
                        line.entry.seen.date(),
                        purpose.replace('_', " ")
                    );
                    context.walkarounds.insert(line.digest, label);
                }
                Body::FindingOpened(finding) => {
                    context.findings.insert(line.digest, finding.zone.clone());
                }
                Body::Retracted(retracted) => {
                    context.retracted.insert(retracted.entry);
                }
                _ => {}
            }
        }
        for line in chains.iter().flat_map(Chain::lines) {
            match &line.entry.body {
                Body::Placed(placed) => {
                    let at = context.hung.entry(placed.what).or_default();
                    if placed.zone.is_some() {
                        at.0.clone_from(&placed.zone);
                    }
                    if placed.finding.is_some() {
                        at.1 = placed.finding;
                    }
                    if placed.meant.is_some() && at.0.is_none() {
                        at.0 = Some(String::new());
                    }
                }
                Body::Sighted(sighted) => {
                    for evidence in &sighted.evidence {
                        context.hung.entry(*evidence).or_default().1 = Some(sighted.finding);
                    }
                }
                _ => {}
            }
        }
        context
    }

    /// What a line belongs to.
    pub fn about(&self, line: &Line) -> About {
        let body = body_of(line);
        let hung = self.hung.get(&line.digest);
        let finding = member(&body, "finding")
            .or_else(|| hung.and_then(|(_, finding)| *finding))
            .or_else(|| matches!(line.entry.body, Body::FindingOpened(_)).then_some(line.digest));
        let zone = zones(&body)
            .into_iter()
            .next()
            .or_else(|| hung.and_then(|(zone, _)| zone.clone()))
            .or_else(|| finding.and_then(|f| self.findings.get(&f).cloned()))
            .filter(|zone| !zone.is_empty());
        let walkaround = member(&body, "walkaround")
            .or_else(|| {
                matches!(line.entry.body, Body::WalkaroundStarted(_)).then_some(line.digest)
            })
            .map(|w| self.label(&w));
        About {
            walkaround,
            finding: finding.map(|f| self.finding_label(&f)),
            zone,
        }
    }

    /// What a line belongs to, and where it says no walkaround itself, the one that was open.
    pub fn during(&self, line: &Line) -> About {
        let mut about = self.about(line);
        if about.walkaround.is_none() {
            about.walkaround = self.open.get(&line.digest).map(|w| self.label(w));
        }
        about
    }

    /// What a line of this digest belongs to: the line itself where it is here, else what other
    /// lines say of it.
    pub fn of_digest(&self, digest: Digest) -> About {
        match self.lines().find(|line| line.digest == digest) {
            Some(line) => self.during(line),
            None => self.lost(Some(digest), None, None),
        }
    }

    /// What a line that is gone belonged to, as far as others tell: those that cite it, and the
    /// lines on either side of where it stood.
    pub fn lost(
        &self,
        digest: Option<Digest>,
        before: Option<&Line>,
        after: Option<&Line>,
    ) -> About {
        let mut about = About::default();
        let mut walkaround = None;
        if let Some(digest) = digest.filter(|digest| *digest != Digest::ZERO) {
            let hung = self.hung.get(&digest);
            let mut finding = hung.and_then(|(_, finding)| *finding);
            about.zone = hung.and_then(|(zone, _)| zone.clone());
            for line in self.lines() {
                for (role, cited) in cites(&body_of(line)) {
                    match role.as_str() {
                        _ if cited != digest => {}
                        "finding" => finding = Some(digest),
                        "walkaround" => walkaround = Some(digest),
                        _ => {}
                    }
                }
            }
            if let Some(finding) = finding {
                about.zone = about.zone.or_else(|| self.findings.get(&finding).cloned());
                about.finding = Some(self.finding_label(&finding));
            }
            about.zone = about.zone.filter(|zone| !zone.is_empty());
        }
        about.walkaround = walkaround
            .or_else(|| self.open.get(&before?.digest).copied())
            .map(|w| self.label(&w))
            .or_else(|| {
                after
                    .filter(|line| !matches!(line.entry.body, Body::WalkaroundStarted(_)))
                    .and_then(|line| self.during(line).walkaround)
            });
        about
    }

    fn lines(&self) -> impl Iterator<Item = &'a Line> + use<'a> {
        self.chains.iter().flat_map(Chain::lines)
    }

    fn label(&self, walkaround: &Digest) -> String {
        self.walkarounds
            .get(walkaround)
            .cloned()
            .unwrap_or_else(|| walkaround.short())
    }

    fn finding_label(&self, finding: &Digest) -> String {
        match self.findings.get(finding) {
            Some(zone) => format!("{zone}-{}", finding.short()),
            None => finding.short(),
        }
    }

    /// True if its author took a line back.
    pub fn taken_back(&self, line: &Digest) -> bool {
        self.retracted.contains(line)
    }

    /// Hints for captures that hang nowhere.
    pub fn unplaced(&self, report: &mut Report) {
        for chain in self.chains {
            for (line, number) in chain.numbered() {
                let what = match &line.entry.body {
                    Body::PhotoTaken(_) => "a photo",
                    Body::VoiceTaken(_) => "a recording",
                    Body::Written(_) => "a note",
                    _ => continue,
                };
                if self.hung.contains_key(&line.digest) || self.retracted.contains(&line.digest) {
                    continue;
                }
                let row = Row::new(
                    "unplaced",
                    &format!("{}:{number}", chain.file),
                    if line.entry.seen.date().is_empty() {
                        format!("{what} without a date hangs on no zone yet")
                    } else {
                        format!("{what} of {} hangs on no zone yet", line.entry.seen.date())
                    },
                    "place it: witnessmark place EVIDENCE --zone ZONE",
                );
                report.push(self.about(line).on(row));
            }
        }
    }

    /// Every line digest that a body cites, for finding what a cut tail took.
    pub fn cited(line: &Line) -> Vec<(String, Digest)> {
        cites(&body_of(line))
    }
}
