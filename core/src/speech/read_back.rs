//! The sentence that a machine voice reads back: every number twice where it could be misheard.

use super::draft::{Draft, Item, Kind, MeasureFound};
use super::vocabulary::Vocabulary;
use crate::quantity::Rational;

/// What is understood, as one unambiguous paragraph. "two and one quarter inches, nine quarters".
pub fn read_back(v: &Vocabulary, draft: &Draft) -> String {
    if let (Kind::Command, Some(command)) = (draft.kind, &draft.command) {
        return v.sentence("command", &[("what", command)]);
    }
    if draft.kind == Kind::Remark {
        return v.sentence("remark", &[]);
    }
    let mut out: Vec<String> = draft.items.iter().map(|item| sentence(v, item)).collect();
    for question in &draft.questions {
        let choices = question.choices.join(&v.sentence("or", &[]));
        out.push(format!("{} {choices}?", question.asked).replace("??", "?"));
    }
    out.join(" ")
}

fn sentence(v: &Vocabulary, item: &Item) -> String {
    let mut place: Vec<String> = Vec::new();
    if let Some(zone) = &item.zone {
        place.push(zone.name.clone());
    } else if item.side != "none" {
        place.push(item.side.clone());
    }
    if let Some(part) = &item.part {
        place.push(part.name.clone());
    }
    if let Some(at) = &item.at {
        let value = number(v, &at.value);
        let unit = at
            .unit
            .as_deref()
            .map(|u| unit(v, u, &at.value))
            .unwrap_or_default();
        let mut words = format!("{value} {unit}").trim().to_owned();
        if let Some(direction) = &at.direction {
            words = format!("{words} {direction}");
        }
        if let Some(feature) = &at.feature {
            words = format!("{words} {feature}");
        }
        place.push(words);
    }
    if place.is_empty() {
        place.push(v.sentence("no_place", &[]));
    }
    let mut what: Vec<String> = Vec::new();
    if let Some(condition) = &item.condition {
        let title = v
            .kinds
            .iter()
            .find(|k| k.name == condition.name)
            .map_or(condition.name.clone(), |k| k.title.to_lowercase());
        let title = match &item.or_else {
            Some(other) => format!(
                "{title}{}{}",
                v.sentence("or", &[]),
                other.replace('_', " ")
            ),
            None => title,
        };
        what.push(if item.negated {
            v.sentence("denied", &[("what", &title)])
        } else if item.unsure {
            v.sentence("perhaps", &[("what", &title)])
        } else {
            title
        });
    } else if let Some(look) = &item.look {
        what.push(v.sentence(look, &[]));
    }
    if let Some(why) = &item.why {
        what.push(why.clone());
    }
    if let Some(count) = &item.count {
        what.push(v.sentence("count", &[("n", &number(v, &count.value))]));
    }
    what.extend(item.measures.iter().map(|m| measure(v, m)));
    if let Some(compare) = &item.compare {
        what.push(v.sentence(compare, &[]));
    }
    if let Some(basis) = item.basis.as_deref().filter(|b| *b != "seen") {
        what.push(v.sentence(basis, &[]));
    }
    format!("{}: {}.", place.join(", "), what.join(", "))
}

fn measure(v: &Vocabulary, m: &MeasureFound) -> String {
    let unit_name = m.unit.as_deref().map_or_else(
        || v.sentence("no_unit", &[]),
        |u| unit(v, u, m.to.as_deref().unwrap_or(&m.value)),
    );
    let mut text = format!("{} {unit_name}", number(v, &m.value));
    if let Some(to) = &m.to {
        text = v.sentence(
            "range",
            &[
                ("a", &number(v, &m.value)),
                ("b", &number(v, to)),
                ("unit", &unit_name),
            ],
        );
    } else if let Some(again) = once_more(v, &m.value) {
        text = format!("{text}, {again}");
    }
    if m.vague {
        text = v.sentence("about", &[("what", &text)]);
    }
    if m.change {
        text = v.sentence("change", &[("what", &text)]);
    }
    if let Some(was) = &m.was {
        text = v.sentence("was", &[("what", &text), ("was", &number(v, was))]);
    }
    if !m.quantity.is_empty() {
        text = format!("{} {text}", m.quantity.replace('_', " "));
    }
    text
}

/// The other way of saying a mixed number or a number of the teens: "nine quarters", "one five".
fn once_more(v: &Vocabulary, value: &str) -> Option<String> {
    let (top, bottom) = as_said(value)?;
    if bottom != 1 && top > bottom && !ten(bottom) {
        return Some(format!(
            "{} {}",
            cardinal(v, top)?,
            bottoms(v, bottom, top)?
        ));
    }
    // fifteen and fifty sound alike: the digits settle it
    if bottom == 1 && (13..=99).contains(&top) && (top < 20 || top % 10 == 0) {
        let digits: Option<Vec<String>> = top
            .to_string()
            .bytes()
            .map(|d| cardinal(v, i128::from(d - b'0')))
            .collect();
        return digits.map(|d| d.join(" "));
    }
    None
}

fn as_said(value: &str) -> Option<(i128, i128)> {
    match value.split_once('/') {
        Some((top, bottom)) => Some((top.parse().ok()?, bottom.parse().ok()?)),
        None => Some((value.parse().ok()?, 1)),
    }
}

fn ten(bottom: i128) -> bool {
    matches!(
        bottom,
        10 | 20 | 25 | 40 | 50 | 100 | 200 | 250 | 500 | 1000 | 10000
    )
}

/// An exact rational in words: `9/4` is "two and one quarter", `3/100` "zero point zero three".
pub(crate) fn number(v: &Vocabulary, value: &str) -> String {
    words(v, value).unwrap_or_else(|| value.to_owned())
}

fn words(v: &Vocabulary, value: &str) -> Option<String> {
    let (top, bottom) = as_said(value)?;
    if bottom == 1 {
        return cardinal(v, top);
    }
    if ten(bottom)
        && let Some(decimal) = Rational::new(top, bottom)?.to_decimal()
    {
        let (whole, digits) = decimal.split_once('.').unwrap_or((decimal.as_str(), ""));
        let mut out = cardinal(v, whole.parse().ok()?)?;
        if !digits.is_empty() {
            out.push(' ');
            out.push_str(v.words.numbers.point.first()?);
            for digit in digits.bytes() {
                out.push(' ');
                out.push_str(&cardinal(v, i128::from(digit.saturating_sub(b'0')))?);
            }
        }
        return Some(out);
    }
    let (whole, rest) = (top / bottom, top % bottom);
    let fraction = format!("{} {}", cardinal(v, rest)?, bottoms(v, bottom, rest)?);
    if rest == 0 {
        return cardinal(v, whole);
    }
    if whole == 0 {
        return Some(fraction);
    }
    Some(format!(
        "{} {} {fraction}",
        cardinal(v, whole)?,
        v.words.numbers.and.first()?
    ))
}

/// "quarters", "thirty-seconds".
fn bottoms(v: &Vocabulary, bottom: i128, top: i128) -> Option<String> {
    let n = &v.words.numbers;
    let plural = top != 1;
    let find = |value: i128, plural: bool| {
        let mut fits: Vec<&String> = n
            .ordinals
            .iter()
            .chain(&n.ordinal_ends)
            .filter(|(w, b)| i128::from(**b) == value && (w.ends_with('s') == plural))
            .map(|(w, _)| w)
            .collect();
        // "quarter" sooner than "fourth": it sounds like nothing else
        fits.sort_by_key(|w| (!w.starts_with('q'), w.len()));
        // "thirty-seconds", not "thirty-halves"
        fits.sort_by_key(|w| u8::from(value == 2 && !n.ordinal_ends.contains_key(*w)));
        fits.first().map(|w| (*w).clone())
    };
    if bottom != 2
        && let Some(word) = find(bottom, plural)
    {
        return Some(word);
    }
    if bottom == 2 {
        return n
            .ordinals
            .iter()
            .filter(|(_, b)| **b == 2)
            .map(|(w, _)| w)
            .find(|w| w.ends_with('s') == plural)
            .cloned();
    }
    if (21..100).contains(&bottom) {
        return Some(format!(
            "{}-{}",
            cardinal(v, bottom / 10 * 10)?,
            find(bottom % 10, plural)?
        ));
    }
    None
}

/// A whole number below a million in words.
fn cardinal(v: &Vocabulary, value: i128) -> Option<String> {
    let n = &v.words.numbers;
    let plain = |value: i128| {
        n.cardinals
            .iter()
            .filter(|(w, c)| {
                i128::from(**c) == value
                    && !matches!(w.as_str(), "oh" | "tree" | "fife" | "niner" | "fourty")
            })
            .map(|(w, _)| w.clone())
            .max_by_key(|w| usize::from(w == "zero"))
    };
    let scale = |value: i64| {
        n.scales
            .iter()
            .find(|(_, s)| **s == value)
            .map(|(w, _)| w.clone())
    };
    match value {
        i128::MIN..0 => None,
        0..=20 => plain(value),
        21..=99 => {
            let tens = plain(value / 10 * 10)?;
            if value % 10 == 0 {
                Some(tens)
            } else {
                Some(format!("{tens}-{}", plain(value % 10)?))
            }
        }
        100..=999 => {
            let head = format!("{} {}", cardinal(v, value / 100)?, scale(100)?);
            if value % 100 == 0 {
                Some(head)
            } else {
                Some(format!(
                    "{head} {} {}",
                    n.and.first()?,
                    cardinal(v, value % 100)?
                ))
            }
        }
        1000..=999_999 => {
            let head = format!("{} {}", cardinal(v, value / 1000)?, scale(1000)?);
            match value % 1000 {
                0 => Some(head),
                rest if rest < 100 => {
                    Some(format!("{head} {} {}", n.and.first()?, cardinal(v, rest)?))
                }
                rest => Some(format!("{head} {}", cardinal(v, rest)?)),
            }
        }
        _ => None,
    }
}

fn unit(v: &Vocabulary, symbol: &str, value: &str) -> String {
    let one = as_said(value).is_some_and(|(top, bottom)| top <= bottom);
    v.words
        .units
        .iter()
        .find(|u| u.symbol == symbol)
        .and_then(|u| u.read.get(usize::from(!one)).or_else(|| u.read.first()))
        .cloned()
        .unwrap_or_else(|| symbol.to_owned())
}
