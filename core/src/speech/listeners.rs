//! Two listeners for one sound: what both heard may be believed, the rest is asked or left out.

use serde::Serialize;

use super::draft::{Draft, Item, Kind};

/// What two listeners agree on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Agreement {
    /// Every slot of both drafts is the same, at least one is filled, and neither has a question.
    pub whole: bool,
    /// Slots of the first item that agree: `zone`, `side`, `condition`, `measures`, `negated`, `look`, `compare`.
    pub agreed: Vec<String>,
    /// Slots that both filled differently.
    pub differ: Vec<String>,
    /// Slots that only one filled.
    pub one_sided: Vec<String>,
}

/// Compares the drafts of two listeners. A grammar-bound listener hears findings in plain talk, a
/// general one misses trade words; where both fill every slot alike they are rarely wrong.
pub fn agree(one: &Draft, other: &Draft) -> Agreement {
    let mut out = Agreement {
        whole: false,
        agreed: Vec::new(),
        differ: Vec::new(),
        one_sided: Vec::new(),
    };
    if one.kind != other.kind
        || one.command != other.command
        || one.items.len() != other.items.len()
    {
        out.differ.push("kind".into());
    }
    for (a, b) in one.items.iter().zip(&other.items) {
        slots(a)
            .into_iter()
            .zip(slots(b))
            .for_each(|((name, x), (_, y))| {
                let list = match (x.is_empty(), y.is_empty()) {
                    (true, true) => return,
                    (false, false) if x == y => &mut out.agreed,
                    (false, false) => &mut out.differ,
                    _ => &mut out.one_sided,
                };
                if !list.iter().any(|n| n == name) {
                    list.push(name.into());
                }
            });
    }
    if one.kind == Kind::Command && one.command == other.command {
        out.agreed.push("command".into());
    }
    // two listeners that both made nothing of it agree on nothing
    out.whole = !out.agreed.is_empty()
        && out.differ.is_empty()
        && out.one_sided.is_empty()
        && one.questions.is_empty()
        && other.questions.is_empty();
    out
}

fn slots(item: &Item) -> [(&'static str, String); 7] {
    let measures: Vec<String> = item
        .measures
        .iter()
        .map(|m| {
            let exact = |t: &str| {
                t.parse::<crate::quantity::Rational>()
                    .map_or_else(|_| t.to_owned(), |r| r.to_string())
            };
            format!(
                "{} {:?} {:?} {}",
                exact(&m.value),
                m.to.as_deref().map(exact),
                m.unit,
                m.change
            )
        })
        .collect();
    [
        (
            "zone",
            item.zone.as_ref().map_or(String::new(), |z| z.code.clone()),
        ),
        (
            "side",
            if item.side == "none" {
                String::new()
            } else {
                item.side.clone()
            },
        ),
        (
            "condition",
            item.condition
                .as_ref()
                .map_or(String::new(), |c| c.name.clone()),
        ),
        ("measures", measures.join("; ")),
        (
            "negated",
            if item.negated {
                "true".into()
            } else {
                String::new()
            },
        ),
        ("look", item.look.clone().unwrap_or_default()),
        ("compare", item.compare.clone().unwrap_or_default()),
    ]
}
