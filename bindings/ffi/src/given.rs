//! What a shell hands in.

use std::collections::HashMap;

use witnessmark_core::layout::{Route, Turn};
use witnessmark_core::notebook::screens::digest;
use witnessmark_core::notebook::{NewSighting, Place};
use witnessmark_core::record::Seen;
use witnessmark_core::record::kinds::Measure;
use witnessmark_core::{Error, ErrorKind, Result};

/// The author: who writes, and with which key.
#[derive(Debug, Clone, uniffi::Record)]
pub struct Author {
    /// The name others know them by.
    pub name: String,
    /// What they are to the aircraft.
    pub role: String,
}

/// The way round.
#[derive(Debug, Clone, Default, uniffi::Record)]
pub struct RouteGiven {
    /// The other way round than published (a right-hand door).
    pub clockwise: bool,
    /// Stop to start at.
    pub start: Option<String>,
    /// A person's own order of stops; overrides the rest.
    pub order: Vec<String>,
}

impl RouteGiven {
    pub(crate) fn route(&self) -> Route {
        Route {
            turn: if self.clockwise {
                Turn::Clockwise
            } else {
                Turn::CounterClockwise
            },
            start: self.start.clone(),
            order: self.order.clone(),
        }
    }
}

/// A walkaround to start; everything may be left open.
#[derive(Debug, Clone, Default, uniffi::Record)]
pub struct WalkaroundGiven {
    /// One of `purposes()`.
    pub purpose: Option<String>,
    /// Airframe total time, hours, decimal text.
    pub hours: Option<String>,
    /// Landings, whole number as text.
    pub landings: Option<String>,
}

/// Where a capture belongs, as far as it is known.
#[derive(Debug, Clone, Default, uniffi::Record)]
pub struct PlaceGiven {
    /// Aircraft; none keeps it loose.
    pub aircraft: Option<String>,
    /// Stop where the person stands.
    pub stop: Option<String>,
    /// Zone, by code or name.
    pub zone: Option<String>,
    /// Finding.
    pub finding: Option<String>,
    /// Overall view that it is.
    pub view: Option<String>,
    /// Taken with the app's own camera; false for imported.
    pub taken: bool,
}

impl PlaceGiven {
    pub(crate) fn place(&self, notebook: &witnessmark_core::notebook::Notebook) -> Result<Place> {
        let aircraft = self
            .aircraft
            .as_deref()
            .map(|text| digest(text, "aircraft"))
            .transpose()?;
        let mut place = Place {
            aircraft,
            zone: None,
            stop: self.stop.clone(),
            finding: self
                .finding
                .as_deref()
                .map(|text| digest(text, "finding"))
                .transpose()?,
            view: self.view.clone(),
            taken: self.taken,
        };
        if let Some(zone) = &self.zone {
            let Some(aircraft) = aircraft else {
                return Err(Error::new(ErrorKind::BadValue, "a zone needs its aircraft")
                    .at("zone")
                    .hint("hand in the aircraft, or keep it without a place"));
            };
            let layout = notebook.layout_of(&notebook.state(&aircraft)?)?;
            place.zone = Some(notebook.zone_code(&layout, zone)?);
        }
        Ok(place)
    }
}

/// A file of a place that only the shell can reach.
#[derive(Debug, Clone, Default, PartialEq, uniffi::Record)]
pub struct FileGiven {
    /// Name below the place, with `/`.
    pub name: String,
    /// Its length.
    pub bytes: u64,
}

/// A look that is not *nothing found, next*.
#[derive(Debug, Clone, Default, uniffi::Record)]
pub struct LookGiven {
    /// Zones said together, codes or names.
    pub zones: Vec<String>,
    /// Why they could not be seen; none for nothing found.
    pub not_seen: Option<String>,
    /// glance, close, touched, mirror, light.
    pub how: Option<String>,
    /// panel, cowl, spat, cover, dirty, wet, dark.
    pub access: Option<String>,
    /// Open findings with `present`, `not_found` or `could_not_check`.
    pub answers: HashMap<String, String>,
}

/// A measure, typed or made on a photo.
#[derive(Debug, Clone, Default, PartialEq, uniffi::Record)]
pub struct MeasureGiven {
    /// length, depth, area …
    pub quantity: String,
    /// Exact: "2.25", "2 1/4".
    pub value: String,
    /// Unit symbol.
    pub unit: String,
    /// Standard uncertainty in the same unit; none takes the method's own.
    pub u: Option<String>,
    /// ruler, card, eye …
    pub method: String,
    /// Marks on a photo as JSON, as a photo at work gave them.
    pub marks: Option<String>,
    /// Entry of the photo that it was made on.
    pub photo: Option<String>,
    /// Answers to the condition's questions.
    pub context: HashMap<String, String>,
}

impl MeasureGiven {
    pub(crate) fn measure(&self, condition: &str) -> Result<Measure> {
        let said = match &self.u {
            Some(u) => format!(
                "{} {} {} +-{u} by {}",
                self.quantity, self.value, self.unit, self.method
            ),
            None => format!(
                "{} {} {} by {}",
                self.quantity, self.value, self.unit, self.method
            ),
        };
        let mut measure = Measure::typed(condition, &said)?;
        if let Some(marks) = &self.marks {
            measure.marks = Some(serde_json::from_str(marks).map_err(|_| {
                Error::new(ErrorKind::BadFormat, "these marks cannot be read")
                    .at("marks")
                    .hint("hand back the marks of the photo at work, unchanged")
            })?);
            // What was measured on a picture was not said.
            measure.as_said = None;
        }
        measure.photo = self
            .photo
            .as_deref()
            .map(|text| digest(text, "photo"))
            .transpose()?;
        measure.context = self
            .context
            .iter()
            .map(|(key, value)| (key.clone(), value.clone()))
            .collect();
        Ok(measure)
    }
}

/// A sighting.
#[derive(Debug, Clone, Default, uniffi::Record)]
pub struct SightingGiven {
    /// present (none), not_found, could_not_check.
    pub result: Option<String>,
    /// Why it could not be checked.
    pub why: Option<String>,
    /// seen, felt, measured, told, read.
    pub basis: Option<String>,
    /// Step of the condition.
    pub step: Option<String>,
    /// Measures.
    pub measures: Vec<MeasureGiven>,
    /// Entries of photos, recordings, notes.
    pub evidence: Vec<String>,
    /// Words.
    pub text: Option<String>,
    /// When it was seen, if not now: an older photo recognised later (`2026-05-03` or with time).
    pub seen: Option<String>,
}

impl SightingGiven {
    pub(crate) fn sighting(&self, condition: &str) -> Result<NewSighting> {
        let seen = self.seen.as_deref().map(Seen::given).transpose()?;
        Ok(NewSighting {
            result: self.result.clone(),
            why: self.why.clone(),
            basis: self.basis.clone(),
            step: self.step.clone(),
            measures: self
                .measures
                .iter()
                .map(|measure| measure.measure(condition))
                .collect::<Result<_>>()?,
            evidence: self
                .evidence
                .iter()
                .map(|text| digest(text, "evidence"))
                .collect::<Result<_>>()?,
            text: self.text.clone(),
            late: seen.is_some(),
            seen,
        })
    }
}

/// A finding to open.
#[derive(Debug, Clone, Default, uniffi::Record)]
pub struct FindingGiven {
    /// Zone, by code or name.
    pub zone: String,
    /// Condition, by key or spoken name.
    pub condition: String,
    /// Words for the place.
    pub part: Option<String>,
    /// What is honest not to know.
    pub unsure: Vec<String>,
}
