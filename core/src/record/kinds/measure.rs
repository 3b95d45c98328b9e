//! A measured or estimated size.

use serde::{Deserialize, Serialize};

use crate::condition::{Conditions, Scale, ScaleFacts};
use crate::error::{Error, ErrorKind, Result};
use crate::quantity::{Amount, Rational, Unit};
use crate::record::Digest;

/// Quantity, value, unit, standard uncertainty, method.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Measure {
    /// length, depth, width, area, play, drips …
    pub quantity: String,
    /// Exact rational or decimal text.
    pub value: String,
    /// Upper end of a range.
    pub to: Option<String>,
    /// Unit symbol.
    pub unit: String,
    /// Standard uncertainty in the same unit, decimal text; absent where nothing can be said.
    pub u: Option<String>,
    /// ruler, card, trace, calliper, gauge, eye, told …
    pub method: String,
    /// The words it came from.
    pub as_said: Option<String>,
    /// Marks on a photograph, so that the measure can be repeated.
    pub marks: Option<serde_json::Value>,
    /// Published scale and class, where its terms were met.
    pub scale: Option<String>,
    /// Context asked for by the condition: minutes since wiped, engine running since cleaned …
    #[serde(default)]
    pub context: std::collections::BTreeMap<String, String>,
    /// Photo that it was measured on.
    pub photo: Option<Digest>,
}

impl Measure {
    /// Reads "length 2 1/4 in by ruler", with an optional "+-0.05" before "by". The uncertainty is the
    /// method's own for this condition where none is given.
    pub fn typed(condition: &str, text: &str) -> Result<Self> {
        let bad = |what: &str| {
            Error::new(ErrorKind::BadValue, what.to_owned())
                .at(text)
                .hint("write it as: length 2 1/4 in by ruler")
        };
        let (size, method) = text
            .rsplit_once(" by ")
            .ok_or_else(|| bad("it does not say how it was measured"))?;
        let mut words: Vec<&str> = size.split_whitespace().collect();
        let given_u = words
            .iter()
            .position(|word| word.starts_with("+-") || word.starts_with('±'))
            .map(|at| {
                words
                    .remove(at)
                    .trim_start_matches("+-")
                    .trim_start_matches('±')
                    .to_owned()
            });
        let (Some(quantity), Some(unit)) = (words.first().copied(), words.last().copied()) else {
            return Err(bad("it has no quantity"));
        };
        if words.len() < 3 {
            return Err(bad("it needs a quantity, a number and a unit"));
        }
        let value = words.get(1..words.len() - 1).unwrap_or(&[]).join(" ");
        let number: Rational = value.parse().map_err(|error: Error| error.at(text))?;
        let unit: Unit = unit.parse()?;
        let method = method.trim().replace([' ', '-'], "_");
        let u = match given_u {
            Some(u) => {
                u.parse::<Rational>()
                    .map_err(|error: Error| error.at(text))?;
                Some(u)
            }
            None => Conditions::built_in()
                .get(condition)
                .and_then(|condition| condition.method(&method))
                .and_then(|method| method.u_for(&number, unit).ok().flatten())
                .map(|u| u.to_decimal().unwrap_or_else(|| u.to_string())),
        };
        Ok(Self {
            quantity: quantity.to_owned(),
            value: number.to_string(),
            to: None,
            unit: unit.symbol().to_owned(),
            u,
            method,
            as_said: Some(text.to_owned()),
            marks: None,
            scale: None,
            context: std::collections::BTreeMap::new(),
            photo: None,
        })
    }

    /// Classes it by a published scale of its condition, in the document's words with its edition and
    /// paragraph, from the answers in its context.
    ///
    /// # Errors
    /// `Unknown` for a scale that the condition does not have; `Refused`, with what would have to be
    /// done, where the scale's terms are not met.
    pub fn classed(mut self, condition: &str, scale: &str) -> Result<Self> {
        let wanted = scale.trim().to_ascii_lowercase().replace([' ', '-'], "_");
        let offered: &[String] = Conditions::built_in()
            .get(condition)
            .map_or(&[], |condition| &condition.scales);
        let known = Scale::built_in(&wanted).filter(|known| offered.contains(&known.name));
        let Some(known) = known else {
            return Err(Error::new(
                ErrorKind::Unknown,
                format!(
                    "no published scale \"{scale}\" classes a {}",
                    condition.replace('_', " ")
                ),
            )
            .at("--scale")
            .hint(if offered.is_empty() {
                "leave it out: this condition has no published scale".to_owned()
            } else {
                format!("one of: {}", offered.join(", "))
            }));
        };
        let answer = |key: &str| self.context.get(key).map(String::as_str);
        let minutes = answer("minutes_since_wiped")
            .map(|text| text.trim_end_matches("min").trim().parse::<Rational>())
            .transpose()
            .map_err(|error| error.at("minutes_since_wiped"))?;
        let unit: Unit = self.unit.parse()?;
        let facts = ScaleFacts {
            size: Some(Amount {
                value: self.value.parse()?,
                unit,
            }),
            u: self.u.as_deref().and_then(|u| u.parse().ok()),
            minutes_since_wiped: minutes,
            flowing: answer("flowing") == Some("yes"),
            returns: answer("returns").map(str::to_owned),
            cleaned: answer("cleaned").is_some_and(|text| text.starts_with("yes")),
        };
        let classed = known.classify(&facts).map_err(|not| {
            Error::new(ErrorKind::Refused, not.why)
                .at(&known.name)
                .hint(not.remedy)
        })?;
        self.scale = Some(format!(
            "{} ({}, {}): {}",
            classed.scale,
            classed.edition,
            classed.paragraph,
            classed.classes.join(" or ")
        ));
        Ok(self)
    }

    /// An answer that is no size, to be classed: how soon a wiped leak came back.
    pub fn answer_only(quantity: &str) -> Self {
        Self {
            quantity: quantity.to_owned(),
            value: "1".into(),
            to: None,
            unit: "count".into(),
            u: None,
            method: "eye".into(),
            as_said: None,
            marks: None,
            scale: None,
            context: std::collections::BTreeMap::new(),
            photo: None,
        }
    }
}
