//! Several transcripts of one sound: agreement makes surer, disagreement becomes a question.

use std::collections::BTreeSet;

use super::draft::{Draft, Item, Kind, Question};
use super::vocabulary::Vocabulary;

/// Transcripts read beside the first; a recogniser's list is sorted, what comes later is noise.
pub(crate) const MOST: usize = 12;

/// The letters and digits of a text: two transcripts that differ in punctuation only are one.
fn bare(text: &str) -> String {
    text.chars()
        .filter(|c| c.is_alphanumeric() || matches!(c, '/' | '.'))
        .flat_map(char::to_lowercase)
        .collect::<String>()
        .trim_end_matches('.')
        .to_owned()
}

/// The transcripts worth reading: distinct, none the first over again.
pub(crate) fn distinct<'a>(first: &str, others: &'a [String]) -> Vec<&'a str> {
    let mut seen = BTreeSet::from([bare(first)]);
    others
        .iter()
        .filter(|text| text.len() <= 4096)
        .take(4 * MOST)
        .filter(|text| seen.insert(bare(text)))
        .take(MOST)
        .map(String::as_str)
        .collect()
}

/// Brings another transcript's draft into the first one's.
pub(crate) fn weigh(v: &Vocabulary, draft: &mut Draft, other: &Draft, plain_talk: bool) {
    if draft.kind == Kind::Remark && !plain_talk {
        // misheard trade words, perhaps: taken only as a question
        let sound = |i: &Item| i.zone.is_some() && i.condition.is_some();
        if other.kind == Kind::Finding && other.items.iter().any(sound) {
            let end = draft.text.chars().count();
            draft.kind = other.kind;
            draft.items = other.items.clone();
            for item in &mut draft.items {
                whole(item, end);
            }
            draft.questions = other.questions.clone();
            draft.left_over = String::new();
            for (index, item) in other.items.iter().enumerate() {
                if let Some(condition) = &item.condition {
                    let none = v.sentence("nothing_said", &[]);
                    ask(
                        v,
                        draft,
                        "condition",
                        index,
                        None,
                        &[title(v, &condition.name), none],
                    );
                }
            }
        }
        return;
    }
    if draft.items.is_empty() || other.items.is_empty() {
        return;
    }
    fill_holes(draft, other);
    for index in 0..draft.items.len() {
        let (Some(mine), Some(theirs)) = (draft.items.get(index).cloned(), other.items.get(index))
        else {
            break;
        };
        compare(v, draft, index, &mine, theirs);
    }
}

/// "left flat has a dent" beside "left flap has a dent": a transcript of one whole item with the
/// same sizes stands for one of several items with holes.
fn fill_holes(draft: &mut Draft, other: &Draft) {
    let [theirs] = other.items.as_slice() else {
        return;
    };
    let complete =
        theirs.zone.is_some() && theirs.condition.is_some() && other.questions.is_empty();
    let holes = draft.items.len() > 1 && draft.items.iter().all(|i| i.zone.is_none());
    let sizes: Vec<_> = draft.items.iter().flat_map(|i| &i.measures).collect();
    let alike = sizes.len() == theirs.measures.len()
        && sizes.iter().zip(&theirs.measures).all(|(a, b)| same(a, b));
    let kept = draft.items.iter().any(|i| {
        i.condition.as_ref().map(|c| &c.name) == theirs.condition.as_ref().map(|c| &c.name)
    });
    if complete && holes && alike && kept {
        let end = draft.text.chars().count();
        let mut item = theirs.clone();
        whole(&mut item, end);
        draft.items = vec![item];
        draft.questions.clear();
    }
}

fn compare(v: &Vocabulary, draft: &mut Draft, index: usize, mine: &Item, theirs: &Item) {
    // a place that only the other transcript has: taken, and its question with it
    if mine.zone.is_none()
        && let Some(found) = &theirs.zone
        && (mine.side == "none" || mine.side == theirs.side || theirs.side == "none")
    {
        let end = draft.text.chars().count();
        if let Some(item) = draft.items.get_mut(index) {
            let mut zone = found.clone();
            zone.from = [0, end];
            zone.sure = zone.sure.min(0.7);
            item.zone = Some(zone);
            if item.side == "none" {
                item.side.clone_from(&theirs.side);
            }
        }
        draft
            .questions
            .retain(|q| q.item != index || !matches!(q.about.as_str(), "zone" | "side"));
    }
    match (&mine.condition, &theirs.condition) {
        // "flat" for "flap": a word that says nothing much gives way
        (Some(a), Some(b)) if a.name == "odd" && b.name != "odd" && mine.zone.is_none() => {
            let end = draft.text.chars().count();
            let mut condition = b.clone();
            condition.from = [0, end];
            condition.sure = 0.6;
            if let Some(item) = draft.items.get_mut(index) {
                item.condition = Some(condition);
            }
        }
        (Some(a), Some(b)) if a.name != b.name => {
            ask(
                v,
                draft,
                "condition",
                index,
                None,
                &[title(v, &a.name), title(v, &b.name)],
            );
        }
        (None, Some(b)) if mine.kind == Kind::Finding => {
            ask(v, draft, "condition", index, None, &[title(v, &b.name)]);
        }
        (Some(_), Some(_)) => {
            if let Some(c) = draft
                .items
                .get_mut(index)
                .and_then(|i| i.condition.as_mut())
            {
                c.sure = c.sure.max(0.99);
            }
        }
        _ => {}
    }
    if mine.condition.is_some() && theirs.condition.is_some() && mine.negated != theirs.negated {
        let choices = [v.sentence("is_there", &[]), v.sentence("is_not_there", &[])];
        ask(v, draft, "negation", index, None, &choices);
    }
    match (&mine.zone, &theirs.zone) {
        (Some(a), Some(b)) if a.code != b.code => {
            let about = if mine.side != theirs.side && v.pair(&a.code, &b.code) {
                "side"
            } else {
                "zone"
            };
            let choices = if about == "side" {
                [mine.side.clone(), theirs.side.clone()]
            } else {
                [a.name.clone(), b.name.clone()]
            };
            ask(v, draft, about, index, None, &choices);
            if let Some(question) = draft
                .questions
                .iter_mut()
                .find(|q| q.about == about && q.item == index)
            {
                let codes = [a.code.clone(), b.code.clone()];
                question
                    .codes
                    .extend(codes.into_iter().filter(|_| question.choices.len() == 2));
            }
        }
        (Some(_), Some(_)) => {
            if let Some(zone) = draft.items.get_mut(index).and_then(|i| i.zone.as_mut()) {
                zone.sure = zone.sure.max(0.99);
            }
        }
        _ => {}
    }
    let shown = |m: &super::draft::MeasureFound| {
        let to = m.to.as_ref().map_or(String::new(), |t| format!(" to {t}"));
        format!("{}{to} {}", m.value, m.unit.as_deref().unwrap_or_default())
            .trim()
            .to_owned()
    };
    for place in 0..mine.measures.len().max(theirs.measures.len()) {
        match (mine.measures.get(place), theirs.measures.get(place)) {
            (Some(a), Some(b)) if !same(a, b) => {
                ask(
                    v,
                    draft,
                    "number",
                    index,
                    Some(place),
                    &[shown(a), shown(b)],
                );
            }
            (None, Some(b)) => {
                let end = draft.text.chars().count();
                let mut found = b.clone();
                found.from = [0, end];
                if let Some(item) = draft.items.get_mut(index) {
                    item.measures.push(found);
                }
                ask(
                    v,
                    draft,
                    "number",
                    index,
                    Some(place),
                    &[shown(b), v.sentence("no_size", &[])],
                );
            }
            _ => {}
        }
    }
}

fn same(a: &super::draft::MeasureFound, b: &super::draft::MeasureFound) -> bool {
    let number = |text: &str| text.parse::<crate::quantity::Rational>().ok();
    number(&a.value) == number(&b.value)
        && a.to.as_deref().and_then(number) == b.to.as_deref().and_then(number)
        && (a.unit == b.unit || a.unit.is_none() || b.unit.is_none())
        && a.change == b.change
}

fn title(v: &Vocabulary, name: &str) -> String {
    v.kinds
        .iter()
        .find(|k| k.name == name)
        .map_or_else(|| name.to_owned(), |k| k.title.clone())
}

fn whole(item: &mut Item, end: usize) {
    if let Some(zone) = &mut item.zone {
        zone.from = [0, end];
        zone.sure = 0.5;
    }
    if let Some(condition) = &mut item.condition {
        condition.from = [0, end];
        condition.sure = 0.5;
    }
    if let Some(part) = &mut item.part {
        part.from = [0, end];
    }
    if let Some(at) = &mut item.at {
        at.from = [0, end];
    }
    for measure in &mut item.measures {
        measure.from = [0, end];
    }
}

/// Asks once about one thing; further readings become further choices.
fn ask(
    v: &Vocabulary,
    draft: &mut Draft,
    about: &str,
    item: usize,
    measure: Option<usize>,
    choices: &[String],
) {
    let words = measure
        .and_then(|m| draft.items.get(item)?.measures.get(m))
        .map(|m| m.as_said.clone())
        .unwrap_or_default();
    let place = draft
        .questions
        .iter()
        .position(|q| q.about == about && q.item == item && q.measure == measure);
    let question = match place.and_then(|p| draft.questions.get_mut(p)) {
        Some(question) => question,
        None => {
            draft.questions.push(Question {
                about: about.to_owned(),
                asked: v.sentence(&format!("ask_{about}"), &[("words", &words)]),
                choices: Vec::new(),
                item,
                measure,
                codes: Vec::new(),
            });
            let last = draft.questions.len() - 1;
            match draft.questions.get_mut(last) {
                Some(question) => question,
                None => return,
            }
        }
    };
    for choice in choices {
        if !question.choices.contains(choice) {
            question.choices.push(choice.clone());
        }
    }
}
