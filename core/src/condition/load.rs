//! Reads condition files and the shared list of methods.

use std::collections::{BTreeMap, BTreeSet};
use std::str::FromStr;
use std::sync::OnceLock;

use super::types::{Ask, Condition, Method, QuantitySpec, Step, Takes, WorseWhen};
use crate::datafile::{self, Fields, Marked, Mistake, Notes, did_you_mean, embedded, short};
use crate::layout::LookFor;
use crate::quantity::{Amount, Unit};
use crate::sources::Cited;

const WAYS: [&str; 3] = ["larger", "smaller", "neither"];

fn way(word: Option<&str>) -> Option<WorseWhen> {
    Some(match word? {
        "larger" => WorseWhen::Larger,
        "smaller" => WorseWhen::Smaller,
        _ => WorseWhen::Neither,
    })
}

/// The shared methods by name, and the mistakes in their file (none; a test holds that).
pub(crate) fn methods() -> &'static (BTreeMap<String, Method>, Vec<Mistake>) {
    static LIST: OnceLock<(BTreeMap<String, Method>, Vec<Mistake>)> = OnceLock::new();
    LIST.get_or_init(|| {
        let text = include_str!("../../conditions/_methods.toml");
        let (list, mistakes) = datafile::read(text, |notes, file| {
            file.tables("method", "a method")
                .iter()
                .map(|fields| {
                    let name = fields.need_text("name").value;
                    fields.call(format!("method {name}"));
                    let method = Method {
                        name: name.clone(),
                        title: fields.need_text("title").value,
                        spoken: fields.plain_texts("spoken"),
                        u: fields.text("u").and_then(|text| amount(notes, &text)),
                        u_share: fields.number("u_share"),
                        why: fields.need_text("why").value,
                    };
                    fields.done();
                    (name, method)
                })
                .collect()
        });
        (list.unwrap_or_default(), mistakes)
    })
}

fn amount(notes: &Notes, text: &Marked<String>) -> Option<Amount> {
    match Amount::from_str(&text.value) {
        Ok(amount) => Some(amount),
        Err(error) => {
            notes.wrong(text.line, error.what, error.remedy);
            None
        }
    }
}

fn unit(notes: &Notes, text: &Marked<String>) -> Option<Unit> {
    match Unit::from_str(&text.value) {
        Ok(unit) => Some(unit),
        Err(error) => {
            notes.wrong(text.line, error.what, error.remedy);
            None
        }
    }
}

/// Reads a condition file.
pub(crate) fn read(text: &str) -> (Option<Condition>, Vec<Mistake>) {
    datafile::read(text, condition)
}

fn condition(notes: &Notes, file: &Fields<'_, '_>) -> Condition {
    let cited = Cited::of(file);
    let name = file.need_text("name");
    file.call(format!("condition {}", short(&name.value)));
    let takes = match file.one_of("takes", &["zone", "system"]) {
        Some("system") => Takes::System,
        _ => Takes::Zone,
    };
    let worse_when = way(file.one_of("worse_when", &WAYS)).unwrap_or(WorseWhen::Larger);
    let mut seen = BTreeSet::new();
    let quantities: Vec<QuantitySpec> = file
        .tables("quantity", "a quantity")
        .iter()
        .map(|fields| {
            let spec = quantity(notes, fields, worse_when);
            if !seen.insert(spec.name.clone()) {
                notes.wrong(
                    fields.line,
                    format!("quantity {} is there twice", short(&spec.name)),
                    "leave one out",
                );
            }
            spec
        })
        .collect();
    let steps = file
        .tables("step", "a step")
        .iter()
        .map(|fields| {
            let step = Step {
                name: fields.need_text("name").value,
                title: fields.need_text("title").value,
                spoken: fields.plain_texts("spoken"),
            };
            fields.done();
            step
        })
        .collect();
    let asks = file
        .tables("ask", "a question")
        .iter()
        .map(|fields| {
            let ask = Ask {
                key: fields.need_text("key").value,
                asked: fields.need_text("asked").value,
                choices: fields.plain_texts("choices"),
                unit: fields.text("unit").and_then(|text| unit(notes, &text)),
                must_agree: fields.flag("must_agree", false),
                needed_for: fields
                    .texts("needed_for")
                    .into_iter()
                    .filter_map(|of| {
                        if quantities.iter().any(|known| known.name == of.value) {
                            return Some(of.value);
                        }
                        let names = quantities.iter().map(|known| known.name.as_str());
                        notes.wrong(
                            of.line,
                            format!("no quantity is called \"{}\"", short(&of.value)),
                            did_you_mean(&of.value, names, "name a quantity of this file"),
                        );
                        None
                    })
                    .collect(),
            };
            fields.done();
            ask
        })
        .collect();
    let how: Vec<LookFor> = file
        .tables("how", "a way to look")
        .iter()
        .map(|fields| {
            let look = LookFor {
                text: fields.need_text("text").value,
                source: cited.source(notes, &fields.need_text("source")),
            };
            fields.done();
            look
        })
        .collect();
    let mut sources: Vec<_> = file
        .texts("source")
        .iter()
        .map(|key| cited.source(notes, key))
        .collect();
    for look in &how {
        if !sources.contains(&look.source) {
            sources.push(look.source.clone());
        }
    }
    let scales = file.texts("scales");
    for scale in &scales {
        let known = || {
            embedded::SCALES
                .iter()
                .filter_map(|(file, _)| file.strip_suffix(".toml"))
        };
        if !known().any(|name| name == scale.value) {
            notes.wrong(
                scale.line,
                format!("there is no scale \"{}\"", short(&scale.value)),
                did_you_mean(&scale.value, known(), "leave it out"),
            );
        }
    }
    Condition {
        name: name.value,
        title: file.need_text("title").value,
        spoken: file.plain_texts("spoken"),
        meaning: file.need_text("meaning").value,
        takes,
        quantities,
        steps,
        worse_when,
        surface: file.flag("surface", false),
        never_shrinks: file.flag("never_shrinks", false),
        adds_up: file.flag("adds_up", false),
        asks,
        honest: file.plain_texts("honest"),
        not_comparable: file.plain_texts("not_comparable"),
        scales: scales.into_iter().map(|scale| scale.value).collect(),
        how,
        cautions: file
            .texts("cautions")
            .iter()
            .map(|key| cited.caution(notes, key))
            .collect(),
        sources,
    }
}

fn quantity(notes: &Notes, fields: &Fields<'_, '_>, worse_when: WorseWhen) -> QuantitySpec {
    let name = fields.need_text("name");
    fields.call(format!("quantity {}", short(&name.value)));
    let units: Vec<Unit> = fields
        .texts("units")
        .iter()
        .filter_map(|text| unit(notes, text))
        .collect();
    match units.split_first() {
        None => notes.wrong(
            name.line,
            format!("quantity {} has no unit", short(&name.value)),
            "add units = [\"mm\", \"in\"]",
        ),
        Some((first, rest)) => {
            if let Some(odd) = rest
                .iter()
                .find(|unit| unit.dimension() != first.dimension())
            {
                notes.wrong(
                    name.line,
                    format!("quantity {} has both {first} and {odd}", short(&name.value)),
                    "units of one quantity measure the same thing",
                );
            }
        }
    }
    let known = &methods().0;
    let methods = fields
        .texts("methods")
        .iter()
        .filter_map(|text| match known.get(&text.value) {
            Some(method) => {
                if let (Some(u), Some(first)) = (&method.u, units.first())
                    && u.unit.dimension() != first.dimension()
                {
                    notes.wrong(
                        text.line,
                        format!(
                            "method {} does not measure a {}",
                            text.value,
                            first.dimension().word()
                        ),
                        "choose another method",
                    );
                }
                Some(method.clone())
            }
            None => {
                notes.wrong(
                    text.line,
                    format!("there is no method \"{}\"", short(&text.value)),
                    did_you_mean(
                        &text.value,
                        known.keys().map(String::as_str),
                        "leave it out",
                    ),
                );
                None
            }
        })
        .collect();
    let worse_when = way(fields.one_of("worse_when", &WAYS)).unwrap_or(worse_when);
    fields.done();
    QuantitySpec {
        name: name.value,
        units,
        methods,
        worse_when,
    }
}
