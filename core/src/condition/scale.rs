//! Published scales: a document's own classes, given only where the document's terms are met.
//!
//! Two fuel scales exist and are never mixed: one by the wetted size thirty minutes after wiping, one by
//! how soon a wiped leak comes back. Corrosion bands need a depth taken after cleaning.

use std::sync::OnceLock;

use serde::Serialize;

use crate::datafile::{self, Fields, Mistake, Notes, embedded, short};
use crate::quantity::{Amount, Rational, Unit};
use crate::sources::{Cited, Source};

/// A published scale.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Scale {
    /// Word that entries store: `fuel_wetted_30_min`.
    pub name: String,
    /// Words for people.
    pub title: String,
    /// Document, and how well it was read.
    pub source: Source,
    /// Edition as far as the copy shows one.
    pub edition: String,
    /// Paragraph or table.
    pub paragraph: String,
    /// What a class of it means, and what it does not.
    pub words: String,
    terms: Terms,
}

#[derive(Debug, Clone, PartialEq, Serialize)]
enum Terms {
    /// Greatest width of the wet patch, so many minutes after it was wiped dry.
    WettedSize {
        minutes: Rational,
        bands: Vec<Band>,
        flowing: String,
    },
    /// What the person saw after wiping: answer and class.
    Return(Vec<(String, String)>),
    /// Depth after cleaning.
    CleanedDepth(Vec<Band>),
}

#[derive(Debug, Clone, PartialEq, Serialize)]
struct Band {
    class: String,
    from: Amount,
    below: Option<Amount>,
}

/// What is known of a defect that is to be classed. Everything may be missing: then the scale refuses.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct ScaleFacts {
    /// Size of the wet patch (diameter), or depth of corrosion.
    pub size: Option<Amount>,
    /// Its standard uncertainty, in the unit of `size`.
    pub u: Option<Rational>,
    /// Minutes between wiping dry and looking.
    pub minutes_since_wiped: Option<Rational>,
    /// True where it runs, pools or drips, however wide it is.
    pub flowing: bool,
    /// What was seen after wiping, in the words of the condition's question `returns`.
    pub returns: Option<String>,
    /// True where the place was cleaned before the depth was taken.
    pub cleaned: bool,
}

/// A class, in the document's words.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Classed {
    /// Name of the scale, stored with the result.
    pub scale: String,
    /// Edition, stored with the result.
    pub edition: String,
    /// Paragraph, stored with the result.
    pub paragraph: String,
    /// The class; two where the uncertainty (k = 2) reaches over a boundary, mildest first.
    pub classes: Vec<String>,
    /// One sentence for people: class, document and what it is not.
    pub text: String,
}

/// Why a scale gives no class.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NotClassed {
    /// The reason, one sentence without a final stop.
    pub why: String,
    /// What would have to be done for a class.
    #[serde(rename = "do")]
    pub remedy: String,
}

fn refuse(why: impl Into<String>, remedy: impl Into<String>) -> NotClassed {
    NotClassed {
        why: why.into(),
        remedy: remedy.into(),
    }
}

impl Scale {
    /// The built-in scales, sorted by name.
    pub fn all() -> &'static [Scale] {
        static LIST: OnceLock<Vec<Scale>> = OnceLock::new();
        LIST.get_or_init(|| {
            embedded::SCALES
                .iter()
                .filter_map(|(_, text)| datafile::settle(read(text), "the scale file").ok())
                .collect()
        })
    }

    /// The scale of a name.
    pub fn built_in(name: &str) -> Option<&'static Scale> {
        Self::all().iter().find(|scale| scale.name == name)
    }

    /// The text of a built-in scale's file, for the entry that relies on it.
    pub fn built_in_text(name: &str) -> Option<&'static str> {
        embedded::SCALES
            .iter()
            .find(|(file, _)| file.strip_suffix(".toml") == Some(name))
            .map(|(_, text)| *text)
    }

    /// The document's class for what is known, or why there is none.
    ///
    /// A size on a boundary takes the graver class; one whose expanded uncertainty (k = 2) reaches over a
    /// boundary takes both. The time since wiping counts as the scale's own within a tenth.
    pub fn classify(&self, facts: &ScaleFacts) -> Result<Classed, NotClassed> {
        let classes = match &self.terms {
            Terms::WettedSize {
                minutes,
                bands,
                flowing,
            } => {
                if facts.flowing {
                    vec![flowing.clone()]
                } else {
                    let again = format!(
                        "wipe it dry, look again after {minutes} min and measure its greatest width"
                    );
                    let Some(size) = &facts.size else {
                        return Err(refuse(
                            "this scale goes by the width of the wet patch, which was not measured",
                            again,
                        ));
                    };
                    let Some(waited) = &facts.minutes_since_wiped else {
                        return Err(refuse(
                            "nobody knows when it was wiped dry, and the size means nothing without that",
                            again,
                        ));
                    };
                    let off = waited
                        .sub(minutes)
                        .and_then(|off| off.mul(&Rational::whole(10)));
                    let near = off.is_some_and(|off| {
                        off <= *minutes
                            && Rational::zero()
                                .sub(&off)
                                .is_some_and(|off| off <= *minutes)
                    });
                    if !near {
                        return Err(refuse(
                            format!(
                                "it was looked at {waited} min after wiping; this scale is for {minutes} min"
                            ),
                            again,
                        ));
                    }
                    self.banded(bands, size, facts.u.as_ref())?
                }
            }
            Terms::Return(answers) => {
                let remedy = "wipe it dry and watch: does it come back at once, within the hour, or not soon?";
                let Some(seen) = &facts.returns else {
                    return Err(refuse(
                        "this scale goes by how soon it comes back after wiping, which nobody watched",
                        remedy,
                    ));
                };
                match answers.iter().find(|(answer, _)| answer == seen) {
                    Some((_, class)) => vec![class.clone()],
                    None => {
                        return Err(refuse(
                            format!(
                                "\"{}\" is none of the answers that this scale has a class for",
                                short(seen)
                            ),
                            remedy,
                        ));
                    }
                }
            }
            Terms::CleanedDepth(bands) => {
                let remedy = "have it cleaned by somebody who may, then measure the depth; photograph it before";
                if !facts.cleaned {
                    return Err(refuse(
                        "this scale is for a depth after cleaning; a look does not give one",
                        remedy,
                    ));
                }
                let Some(size) = &facts.size else {
                    return Err(refuse("the depth was not measured", remedy));
                };
                self.banded(bands, size, facts.u.as_ref())?
            }
        };
        Ok(Classed {
            scale: self.name.clone(),
            edition: self.edition.clone(),
            paragraph: self.paragraph.clone(),
            text: format!(
                "\"{}\" by {} ({}, {}). {}",
                classes.join("\" or \""),
                self.title,
                self.source,
                self.paragraph,
                self.words
            ),
            classes,
        })
    }

    fn banded(
        &self,
        bands: &[Band],
        size: &Amount,
        u: Option<&Rational>,
    ) -> Result<Vec<String>, NotClassed> {
        let inches = |value: &Rational, difference: bool| {
            let unit = Unit::Inch;
            let converted = if difference {
                size.unit.convert_difference(value, unit)
            } else {
                size.unit.convert(value, unit)
            };
            converted.map_err(|error| refuse(error.what, error.remedy))
        };
        let value = inches(&size.value, false)?;
        if value.is_negative() {
            return Err(refuse(
                "a negative size cannot be classed",
                "check the number",
            ));
        }
        let spread = match u {
            Some(u) => inches(u, true)?.mul(&Rational::whole(2)),
            None => Some(Rational::zero()),
        };
        let too_long = || refuse("the number has too many digits", "check the number");
        let spread = spread.ok_or_else(too_long)?;
        let low = value.sub(&spread).ok_or_else(too_long)?;
        let high = value.add(&spread).ok_or_else(too_long)?;
        let mut classes = Vec::new();
        for band in bands {
            let from = band
                .from
                .to(Unit::Inch)
                .map_err(|e| refuse(e.what, e.remedy))?
                .value;
            let below = match &band.below {
                Some(below) => Some(
                    below
                        .to(Unit::Inch)
                        .map_err(|e| refuse(e.what, e.remedy))?
                        .value,
                ),
                None => None,
            };
            if high >= from && below.is_none_or(|below| low < below) {
                classes.push(band.class.clone());
            }
        }
        let last = bands.last().and_then(|band| band.below);
        if let Some(last) = last
            && classes.is_empty()
        {
            return Err(refuse(
                format!("the document names no class for a still patch of {last} and more"),
                "show it to a licensed mechanic now",
            ));
        }
        Ok(classes)
    }
}

fn read(text: &str) -> (Option<Scale>, Vec<Mistake>) {
    datafile::read(text, scale)
}

fn scale(notes: &Notes, file: &Fields<'_, '_>) -> Scale {
    let cited = Cited::of(file);
    let amount = |fields: &Fields<'_, '_>, key: &'static str| -> Option<Amount> {
        let text = fields.text(key)?;
        match text.value.parse() {
            Ok(amount) => Some(amount),
            Err(error) => {
                let error: crate::Error = error;
                notes.wrong(text.line, error.what, error.remedy);
                None
            }
        }
    };
    let zero = Amount {
        value: Rational::zero(),
        unit: Unit::Inch,
    };
    let bands = || -> Vec<Band> {
        file.tables("band", "a band")
            .iter()
            .map(|fields| {
                let band = Band {
                    class: fields.need_text("class").value,
                    from: amount(fields, "from").unwrap_or(zero),
                    below: amount(fields, "below"),
                };
                fields.done();
                band
            })
            .collect()
    };
    let terms = match file.one_of("measure", &["wetted_size", "return", "cleaned_depth"]) {
        Some("wetted_size") => Terms::WettedSize {
            minutes: file.number("minutes").unwrap_or_else(Rational::zero),
            bands: bands(),
            flowing: file.need_text("flowing").value,
        },
        Some("return") => Terms::Return(
            file.tables("answer", "an answer")
                .iter()
                .map(|fields| {
                    let pair = (
                        fields.need_text("returns").value,
                        fields.need_text("class").value,
                    );
                    fields.done();
                    pair
                })
                .collect(),
        ),
        _ => Terms::CleanedDepth(bands()),
    };
    Scale {
        name: file.need_text("name").value,
        title: file.need_text("title").value,
        source: cited.source(notes, &file.need_text("source")),
        edition: file.need_text("edition").value,
        paragraph: file.need_text("paragraph").value,
        words: file.need_text("words").value,
        terms,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wet(size: &str, u: Option<&str>, minutes: Option<&str>) -> Result<Vec<String>, String> {
        let facts = ScaleFacts {
            size: Some(size.parse().unwrap()),
            u: u.map(|u| u.parse().unwrap()),
            minutes_since_wiped: minutes.map(|m| m.parse().unwrap()),
            ..ScaleFacts::default()
        };
        Scale::built_in("fuel_wetted_30_min")
            .unwrap()
            .classify(&facts)
            .map(|c| c.classes)
            .map_err(|n| n.why)
    }

    #[test]
    fn every_file_is_a_scale() {
        for (file, text) in embedded::SCALES {
            let (scale, mistakes) = read(text);
            assert_eq!(mistakes, [], "{file}");
            assert_eq!(format!("{}.toml", scale.unwrap().name), *file);
        }
        assert_eq!(Scale::all().len(), embedded::SCALES.len());
    }

    /// Aviation maintenance technician handbook, airframe, fuel chapter (text copy without edition):
    /// under 3/4 in stain, to 1 1/2 in seep, to 4 in heavy seep, running leak when it pools or drips.
    #[test]
    fn wetted_size_after_thirty_minutes() {
        for (size, class) in [
            ("1/2 in", "stain"),
            ("18 mm", "stain"),
            ("3/4 in", "seep"),
            ("20 mm", "seep"),
            ("3/2 in", "heavy seep"),
            ("100 mm", "heavy seep"),
        ] {
            assert_eq!(
                wet(size, None, Some("30")),
                Ok(vec![class.to_owned()]),
                "{size}"
            );
        }
        assert_eq!(
            wet("0.7 in", Some("0.05"), Some("30")),
            Ok(vec!["stain".into(), "seep".into()])
        );
        assert_eq!(
            wet("1 in", None, None).unwrap_err(),
            "nobody knows when it was wiped dry, and the size means nothing without that"
        );
        assert_eq!(
            wet("1 in", None, Some("5")).unwrap_err(),
            "it was looked at 5 min after wiping; this scale is for 30 min"
        );
        assert!(wet("1 in", None, Some("28")).is_ok());
        assert_eq!(
            wet("5 in", None, Some("30")).unwrap_err(),
            "the document names no class for a still patch of 4 in and more"
        );
        assert!(wet("1 psi", None, Some("30")).is_err());
        assert!(wet("-1 in", None, Some("30")).is_err());
    }

    /// Naval airframe manual (copy read): slow seep, seep, heavy seep, running leak by return after wiping.
    #[test]
    fn return_after_wiping() {
        let scale = Scale::built_in("fuel_return_after_wiping").unwrap();
        let class = |returns: Option<&str>| {
            scale.classify(&ScaleFacts {
                returns: returns.map(str::to_owned),
                size: Some("1 in".parse().unwrap()),
                minutes_since_wiped: Some(Rational::whole(30)),
                ..ScaleFacts::default()
            })
        };
        assert_eq!(class(Some("at once")).unwrap().classes, ["heavy seep"]);
        assert_eq!(class(Some("not soon")).unwrap().classes, ["slow seep"]);
        assert!(class(None).is_err());
        assert!(class(Some("not wiped")).is_err());
        // The condition offers exactly the answers that the scale knows, and "not wiped".
        let leak = super::super::Conditions::built_in()
            .get("fuel_leak")
            .unwrap();
        let ask = leak.asks.iter().find(|ask| ask.key == "returns").unwrap();
        for choice in &ask.choices {
            assert_eq!(
                class(Some(choice)).is_ok(),
                choice != "not wiped",
                "{choice}"
            );
        }
    }

    /// Army TM 1-1520-238-23 para 1.49.14 (secondary text): 0.001 and 0.010 in, cleaned depth only.
    #[test]
    fn corrosion_needs_a_cleaned_depth() {
        let scale = Scale::built_in("corrosion_depth_cleaned").unwrap();
        let class = |depth: &str, cleaned: bool| {
            scale.classify(&ScaleFacts {
                size: Some(depth.parse().unwrap()),
                cleaned,
                ..ScaleFacts::default()
            })
        };
        assert_eq!(class("0.02 mm", true).unwrap().classes, ["light"]);
        assert_eq!(class("5 thou", true).unwrap().classes, ["moderate"]);
        assert_eq!(class("0.3 mm", true).unwrap().classes, ["severe"]);
        assert_eq!(
            class("0.3 mm", false).unwrap_err().why,
            "this scale is for a depth after cleaning; a look does not give one"
        );
    }
}
