//! Findings: opened, sighted, treated, closed, and what people said about them.

use witnessmark_core::Result;
use witnessmark_core::condition::Conditions;
use witnessmark_core::notebook::NewFinding;
use witnessmark_core::notebook::Notebook as Core;
use witnessmark_core::notebook::screens::*;
use witnessmark_core::record::Digest;

use crate::given::*;
use crate::notebook::Notebook;
use crate::trouble::Answer;

impl Notebook {
    /// One entry about one finding.
    fn about(
        &self,
        aircraft: &str,
        finding: &str,
        write: impl FnOnce(&mut Core, &Digest, &Digest) -> Result<Digest>,
    ) -> Answer<String> {
        self.core(|core| {
            let aircraft = digest(aircraft, "aircraft")?;
            let finding = digest(finding, "finding")?;
            // A finding that is not here cannot be written about.
            core.finding_screen(&aircraft, &finding)?;
            write(core, &aircraft, &finding).map(|id| id.hex())
        })
    }
}

#[uniffi::export]
impl Notebook {
    /// Findings, deteriorated first, closed ones last.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft.
    pub fn findings(&self, aircraft: String) -> Answer<Vec<FindingLine>> {
        self.core(|core| core.finding_lines(&digest(&aircraft, "aircraft")?))
    }

    /// One finding.
    ///
    /// # Errors
    /// `Input` where it is not here.
    pub fn finding(&self, aircraft: String, finding: String) -> Answer<FindingScreen> {
        self.core(|core| {
            core.finding_screen(
                &digest(&aircraft, "aircraft")?,
                &digest(&finding, "finding")?,
            )
        })
    }

    /// Opens a finding with its first sighting; gives its id.
    ///
    /// # Errors
    /// `Input` for an unknown zone, condition, unit or word.
    pub fn open_finding(
        &self,
        aircraft: String,
        finding: FindingGiven,
        sighting: SightingGiven,
    ) -> Answer<String> {
        self.core(|core| {
            let condition = Conditions::built_in()
                .find(&finding.condition)?
                .name
                .clone();
            let sighting = sighting.sighting(&condition)?;
            let new = NewFinding {
                zone: finding.zone,
                condition,
                part: finding.part,
                unsure: finding.unsure,
                text: sighting.text.clone(),
                component: None,
                system: None,
            };
            core.open_finding(&digest(&aircraft, "aircraft")?, &new, &sighting)
                .map(|id| id.hex())
        })
    }

    /// Writes a sighting.
    ///
    /// # Errors
    /// `Input` where the finding is not here, or a word or unit is unknown.
    pub fn sight(
        &self,
        aircraft: String,
        finding: String,
        sighting: SightingGiven,
    ) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            let condition = core.finding_screen(aircraft, finding)?.condition;
            core.sight(aircraft, finding, &sighting.sighting(&condition)?)
        })
    }

    /// Something was done about it, claimed by whom.
    ///
    /// # Errors
    /// `Input` where the finding is not here.
    pub fn treat(
        &self,
        aircraft: String,
        finding: String,
        how: String,
        by: Option<String>,
    ) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            core.treat(aircraft, finding, &how, by.as_deref(), Vec::new())
        })
    }

    /// Closes it: how, by whom, with what reference.
    ///
    /// # Errors
    /// `Input` where the finding is not here.
    pub fn close_finding(
        &self,
        aircraft: String,
        finding: String,
        how: String,
        by: Option<String>,
        reference: Option<String>,
    ) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            core.close_finding(
                aircraft,
                finding,
                &how,
                by.as_deref(),
                reference.as_deref(),
                None,
            )
        })
    }

    /// Opens it again.
    ///
    /// # Errors
    /// `Input` where the finding is not here.
    pub fn reopen(&self, aircraft: String, finding: String, why: Option<String>) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            core.reopen(aircraft, finding, why.as_deref())
        })
    }

    /// Two findings are one.
    ///
    /// # Errors
    /// `Input` where one is not here.
    pub fn join_findings(
        &self,
        aircraft: String,
        finding: String,
        other: String,
    ) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            core.join_findings(aircraft, finding, &digest(&other, "finding")?)
        })
    }

    /// Takes sightings out into a finding of their own; gives its id.
    ///
    /// # Errors
    /// `Input` where the finding is not here or no sighting is named.
    pub fn split_finding(
        &self,
        aircraft: String,
        finding: String,
        sightings: Vec<String>,
        part: Option<String>,
    ) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            let sightings = sightings
                .iter()
                .map(|text| digest(text, "sighting"))
                .collect::<Result<_>>()?;
            core.split(aircraft, finding, sightings, part.as_deref())
        })
    }

    /// Somebody was told.
    ///
    /// # Errors
    /// `Input` where the finding is not here.
    pub fn told(&self, aircraft: String, finding: String, who: String) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            core.told(aircraft, finding, &who)
        })
    }

    /// Deferred by whom, on what basis, until when: whether it may be is settled by the rules of the
    /// place, not here.
    ///
    /// # Errors
    /// `Input` where the finding is not here.
    pub fn defer(
        &self,
        aircraft: String,
        finding: String,
        by: String,
        on: String,
        until: String,
    ) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            core.defer(aircraft, finding, &by, &on, &until)
        })
    }

    /// This author's concern: aware, watch, ask or before_flight.
    ///
    /// # Errors
    /// `Input` for another word.
    pub fn concern(&self, aircraft: String, finding: String, concern: String) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            core.concern(aircraft, finding, &concern)
        })
    }

    /// A limit of the person's own, with the manual and paragraph it came from.
    ///
    /// # Errors
    /// `Input` without a source.
    pub fn limit(
        &self,
        aircraft: String,
        finding: String,
        quantity: String,
        value: String,
        unit: String,
        source: String,
    ) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            core.limit(aircraft, finding, &quantity, &value, &unit, &source)
        })
    }

    /// When to look again: `25 h`, a date, `next flight`.
    ///
    /// # Errors
    /// `Input` where the finding is not here.
    pub fn look_again(&self, aircraft: String, finding: String, at: String) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            core.look_again(aircraft, Some(finding), None, &at)
        })
    }

    /// A signed maintenance entry was seen.
    ///
    /// # Errors
    /// `Input` where the finding is not here.
    pub fn maintenance_entry(
        &self,
        aircraft: String,
        finding: String,
        reference: String,
    ) -> Answer<String> {
        self.about(&aircraft, &finding, |core, aircraft, finding| {
            core.maintenance_entry(aircraft, finding, &reference, None)
        })
    }
}
