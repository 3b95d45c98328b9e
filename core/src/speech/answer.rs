//! Answers to a draft's questions, spoken, typed or tapped.

use super::draft::{ConditionFound, Draft, Kind, MeasureFound, Question, ZoneFound};
use super::measure::Fact;
use super::vocabulary::Vocabulary;
use super::words::Cue;
use crate::error::{Error, ErrorKind, Result};

/// Settles question `index` of `draft` with the words of an answer; the draft that comes back has
/// one question less, or another one if the answer left something open (a number without a unit).
///
/// # Errors
/// `Unknown` for a question that is not there, `BadValue` for an answer that was not understood:
/// the draft stays as it was.
pub fn answer(v: &Vocabulary, draft: &Draft, index: usize, text: &str) -> Result<Draft> {
    let question = draft
        .questions
        .get(index)
        .ok_or_else(|| Error::new(ErrorKind::Unknown, format!("there is no question {index}")))?;
    let mut next = draft.clone();
    next.questions.remove(index);
    let text = text.trim();
    let chosen = choice(question, text);
    let understood = match question.about.as_str() {
        "unit" => unit(v, &mut next, question, text),
        "number" => number(v, &mut next, question, text),
        "side" => side(v, &mut next, question, text, chosen),
        "zone" => zone(v, &mut next, question, text, chosen),
        "condition" => condition(v, &mut next, question, text, chosen),
        "negation" => negation(v, &mut next, question, text, chosen),
        _ => None,
    };
    understood.ok_or_else(|| {
        Error::new(
            ErrorKind::BadValue,
            format!(
                "\"{}\" does not answer it",
                text.chars().take(60).collect::<String>()
            ),
        )
        .at(&question.asked)
        .hint(format!("say one of: {}", question.choices.join(", ")))
    })?;
    if next.items.iter().all(|i| i.kind == Kind::Look) && !next.items.is_empty() {
        next.kind = Kind::Look;
    } else if next.items.is_empty() {
        next.kind = Kind::Remark;
    }
    Ok(next)
}

/// The choice that the words name, if they name one.
fn choice(question: &Question, text: &str) -> Option<usize> {
    let text = text.to_lowercase();
    let same = |c: &String| c.to_lowercase() == text;
    question.choices.iter().position(same).or_else(|| {
        let fits: Vec<usize> = question
            .choices
            .iter()
            .enumerate()
            .filter(|(_, c)| !text.is_empty() && c.to_lowercase().split(' ').any(|w| w == text))
            .map(|(i, _)| i)
            .collect();
        match fits.as_slice() {
            [one] => Some(*one),
            _ => None,
        }
    })
}

fn unit(v: &Vocabulary, draft: &mut Draft, question: &Question, text: &str) -> Option<()> {
    let measure = draft
        .items
        .get_mut(question.item)?
        .measures
        .get_mut(question.measure?)?;
    if let Some(unit) = v.words.units.iter().find(|u| {
        u.of != "unsure"
            && (u.symbol == text || u.said.iter().any(|s| s.eq_ignore_ascii_case(text)))
    }) {
        measure.unit = Some(unit.symbol.clone());
        return Some(());
    }
    // "thousandths of an inch", "two inches"
    let found = sizes(v, &format!("1 {text}"))
        .pop()
        .or_else(|| sizes(v, text).pop())?;
    measure.unit = Some(found.unit?);
    Some(())
}

fn number(v: &Vocabulary, draft: &mut Draft, question: &Question, text: &str) -> Option<()> {
    let place = question.measure?;
    let item = draft.items.get_mut(question.item)?;
    let none = v.sentence("no_size", &[]);
    let lower = text.to_lowercase();
    if lower == none.to_lowercase()
        || lower.starts_with(&none.to_lowercase())
        || has(v, text, Cue::Negation) && sizes(v, text).is_empty()
    {
        item.measures.remove_checked(place)?;
        draft
            .questions
            .retain(|q| !(q.item == question.item && q.measure == Some(place)));
        for q in &mut draft.questions {
            if q.item == question.item {
                q.measure = q.measure.map(|m| if m > place { m - 1 } else { m });
            }
        }
        return Some(());
    }
    let found = sizes(v, text).pop()?;
    let measure = item.measures.get_mut(place)?;
    measure.value = found.value;
    measure.to = found.to;
    if found.unit.is_some() {
        measure.unit = found.unit;
    }
    measure.vague |= found.vague;
    let open = measure.unit.is_none();
    if open
        && !draft
            .questions
            .iter()
            .any(|q| q.about == "unit" && q.item == question.item && q.measure == Some(place))
    {
        let asked = v.sentence("ask_unit", &[("words", text)]);
        draft.questions.push(Question {
            about: "unit".into(),
            asked,
            choices: vec!["in".into(), "mm".into(), "thou".into(), "cm".into()],
            item: question.item,
            measure: Some(place),
            codes: Vec::new(),
        });
    } else if !open {
        draft.questions.retain(|q| {
            !(q.about == "unit" && q.item == question.item && q.measure == Some(place))
        });
    }
    Some(())
}

trait RemoveChecked {
    fn remove_checked(&mut self, at: usize) -> Option<MeasureFound>;
}

impl RemoveChecked for Vec<MeasureFound> {
    fn remove_checked(&mut self, at: usize) -> Option<MeasureFound> {
        (at < self.len()).then(|| self.remove(at))
    }
}

fn side(
    v: &Vocabulary,
    draft: &mut Draft,
    question: &Question,
    text: &str,
    chosen: Option<usize>,
) -> Option<()> {
    let word = match chosen {
        Some(c) => question.choices.get(c)?.clone(),
        None if has(v, text, Cue::Left) && !has(v, text, Cue::Right) => "left".into(),
        None if has(v, text, Cue::Right) && !has(v, text, Cue::Left) => "right".into(),
        None => return None,
    };
    let place = question.choices.iter().position(|c| *c == word);
    let code = place.and_then(|p| question.codes.get(p)).cloned();
    let zone = code.and_then(|code| v.zone(&code));
    let item = draft.items.get_mut(question.item)?;
    item.side = word;
    if let Some((code, name)) = zone {
        let from = item.part.as_ref().map_or([0, 0], |p| p.from);
        // the words were kept as a part while the side was open
        if item.part.as_ref().is_some_and(|p| v.names(&code, &p.name)) {
            item.part = None;
        }
        item.zone = Some(ZoneFound {
            code,
            name,
            from,
            sure: 1.0,
        });
    }
    Some(())
}

fn zone(
    v: &Vocabulary,
    draft: &mut Draft,
    question: &Question,
    text: &str,
    chosen: Option<usize>,
) -> Option<()> {
    let (code, name) = match chosen.and_then(|c| question.codes.get(c)) {
        Some(code) => v.zone(code)?,
        None => {
            let found = super::understand(v, text, None)
                .0
                .items
                .into_iter()
                .find_map(|i| i.zone);
            let found = found.or_else(|| {
                super::understand(v, &format!("{text} crack"), None)
                    .0
                    .items
                    .into_iter()
                    .find_map(|i| i.zone)
            })?;
            (found.code, found.name)
        }
    };
    let side = v.side(&code);
    let item = draft.items.get_mut(question.item)?;
    let from = item.zone.as_ref().map_or([0, 0], |z| z.from);
    item.zone = Some(ZoneFound {
        code,
        name,
        from,
        sure: 1.0,
    });
    item.side = side.to_owned();
    Some(())
}

fn condition(
    v: &Vocabulary,
    draft: &mut Draft,
    question: &Question,
    text: &str,
    chosen: Option<usize>,
) -> Option<()> {
    let none = v.sentence("nothing_said", &[]).to_lowercase();
    if text.to_lowercase() == none {
        (question.item < draft.items.len()).then_some(())?;
        draft.items.remove(question.item);
        draft.questions.retain(|q| q.item != question.item);
        for q in &mut draft.questions {
            if q.item > question.item {
                q.item -= 1;
            }
        }
        return Some(());
    }
    let titled = chosen.and_then(|c| question.choices.get(c));
    let name = v
        .kinds
        .iter()
        .find(|k| Some(&k.title) == titled || k.name == text)
        .map(|k| k.name.clone())
        .or_else(|| {
            super::understand(v, text, None)
                .0
                .items
                .into_iter()
                .find_map(|i| i.condition)
                .map(|c| c.name)
        })?;
    let item = draft.items.get_mut(question.item)?;
    let from = item.condition.as_ref().map_or([0, 0], |c| c.from);
    item.condition = Some(ConditionFound {
        name,
        from,
        sure: 1.0,
    });
    item.or_else = None;
    item.unsure = false;
    Some(())
}

fn negation(
    v: &Vocabulary,
    draft: &mut Draft,
    question: &Question,
    text: &str,
    chosen: Option<usize>,
) -> Option<()> {
    let there = match chosen {
        Some(choice) => choice == 0,
        None if has(v, text, Cue::Negation) => false,
        None if super::understand(v, text, None).0.command.as_deref() == Some("keep") => true,
        None => return None,
    };
    let item = draft.items.get_mut(question.item)?;
    item.negated = !there;
    if there {
        item.look = None;
        item.kind = Kind::Finding;
    } else {
        item.look = Some("nothing_found".into());
        item.kind = Kind::Look;
    }
    Some(())
}

/// Does the text say this?
fn has(v: &Vocabulary, text: &str, cue: Cue) -> bool {
    let tokens = super::token::tokens(text);
    let flat = v.lexicon.flat(&v.words, &tokens);
    v.lexicon
        .chunks(&tokens, &flat)
        .iter()
        .any(|c| c.cues.has(cue))
}

/// Sizes in an answer; a bare number is one.
fn sizes(v: &Vocabulary, text: &str) -> Vec<MeasureFound> {
    let chars: Vec<char> = text.chars().collect();
    let tokens = super::token::tokens(text);
    let flat = v.lexicon.flat(&v.words, &tokens);
    let chunks = v.lexicon.chunks(&tokens, &flat);
    let reader = super::measure::Reader {
        words: &v.words,
        lexicon: &v.lexicon,
        tokens: &tokens,
        chunks: &chunks,
        chars: &chars,
    };
    let mut found: Vec<MeasureFound> = reader
        .facts(true)
        .into_iter()
        .filter_map(|p| match p.fact {
            Fact::Measure { found, .. } | Fact::Meter(found) => Some(found),
            _ => None,
        })
        .collect();
    if found.is_empty()
        && let Some(number) = chunks.iter().find_map(|c| c.number.as_ref())
    {
        found.push(MeasureFound {
            quantity: String::new(),
            value: number.said.show(),
            to: None,
            unit: None,
            as_said: text.to_owned(),
            vague: number.vague,
            was: None,
            change: false,
            from: [0, chars.len()],
        });
    }
    found
}
