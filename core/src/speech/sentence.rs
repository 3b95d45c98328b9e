//! Chunks to events: what each piece of a saying does, in the order it was said.

use super::event::{Denied, Event};
use super::lexicon::Flat;
use super::measure::{Fact, Placed, Reader};
use super::number::Form;
use super::place::Hand;
use super::run::{self, corrects, fine_alone, run, why};
use super::vocabulary::Vocabulary;
use super::words::Cue;

/// The events of a saying; dead chunks give none.
pub(crate) fn events(
    v: &Vocabulary,
    reader: &Reader<'_>,
    flat: &[Flat],
    dead: &[bool],
    facts: &[Placed],
) -> Vec<Event> {
    let chunks = reader.chunks;
    let mut out: Vec<Event> = Vec::new();
    let entry = |i: usize| {
        chunks
            .get(i)
            .and_then(|c| c.node)
            .and_then(|n| v.lexicon.tree.get(n))
    };
    let has = |i: usize, cue: Cue| chunks.get(i).is_some_and(|c| c.cues.has(cue));
    let condition = |i: usize| entry(i).is_some_and(|e| !e.conditions.is_empty());
    let place = |i: usize| entry(i).is_some_and(|e| e.place_word || !e.places.is_empty());
    let number = |i: usize| chunks.get(i).is_some_and(|c| c.number.is_some());
    let mark = |i: usize| chunks.get(i).and_then(|c| c.mark);
    let words_of = |i: usize| -> Vec<u32> {
        let Some(c) = chunks.get(i) else {
            return Vec::new();
        };
        let from = flat.partition_point(|f| f.token < c.tokens.0);
        let to = flat.partition_point(|f| f.token < c.tokens.1);
        flat.get(from..to)
            .unwrap_or(&[])
            .iter()
            .map(|f| f.word)
            .filter(|w| *w != 0)
            .collect()
    };
    let mut denied = Denied::No;
    let mut no_longer = false;
    let mut i = 0;
    let mut fact = 0;
    while i < chunks.len() {
        let Some(chunk) = chunks.get(i) else { break };
        while facts.get(fact).is_some_and(|f| f.end <= i) {
            fact += 1;
        }
        if dead.get(i) == Some(&true) {
            if !matches!(out.last(), Some(Event::Sentence)) {
                out.push(Event::Sentence);
            }
            denied = Denied::No;
            i += 1;
            continue;
        }
        if let Some(placed) = facts.get(fact)
            && placed.first <= i
            && i < placed.end
        {
            match &placed.fact {
                Fact::Measure {
                    found,
                    family,
                    named,
                    across,
                    doubts,
                } => out.push(Event::Measure {
                    found: found.clone(),
                    family: family.clone(),
                    named: *named,
                    across: across.clone(),
                    doubts: doubts.clone(),
                }),
                Fact::At(at) => out.push(Event::At(at.clone())),
                Fact::Count(count) => out.push(Event::Count(count.clone())),
                Fact::Meter(found) => out.push(Event::Meter(found.clone())),
                Fact::Designator | Fact::Time => {}
            }
            i = placed.end;
            continue;
        }
        let c = chunk.cues;
        if let Some(m) = chunk.mark {
            match m {
                '.' | '!' | '?' | ';' => {
                    out.push(Event::Sentence);
                    denied = Denied::No;
                    no_longer = false;
                }
                ',' | ':' | '-' | '(' | ')' | '/' => {
                    out.push(Event::Comma);
                    // a list of denied conditions goes on: "no cracks, dents or leaks"
                    let list = condition(i + 1)
                        && (has(i + 2, Cue::Or)
                            || has(i + 2, Cue::And)
                            || mark(i + 2) == Some(',') && condition(i + 3) && has(i + 4, Cue::Or))
                        && matches!(out.iter().rev().nth(1), Some(Event::Condition { .. }));
                    let or_list = has(i + 1, Cue::Or) && condition(i + 2);
                    let instead = denied != Denied::No
                        && matches!(out.iter().rev().nth(1), Some(Event::Instead));
                    if !(list || or_list || instead) {
                        denied = Denied::No;
                        no_longer = false;
                    }
                }
                '&' | '+' => out.push(Event::And),
                '"' | '\'' => {}
                _ => {}
            }
            i += 1;
            continue;
        }
        // a correction: "left, no, right", "two, sorry, three"
        if c.has(Cue::Correction) && !(c.has(Cue::HedgeBefore) && number(i + 1)) && !condition(i) {
            out.push(Event::Correction);
            denied = Denied::No;
            i += 1;
            if mark(i) == Some(',') {
                i += 1;
            }
            continue;
        }
        if c.has(Cue::CorrectionNo) && corrects(&out, i, chunks, &condition, &place) {
            out.push(Event::Correction);
            denied = Denied::No;
            i += 1;
            if mark(i) == Some(',') {
                i += 1;
            }
            continue;
        }
        if c.has(Cue::Idiom) && !condition(i) {
            out.push(Event::Other(chunk.span));
            i += 1;
            continue;
        }
        // sides, places, parts: one run
        let adverb = c.has(Cue::Right)
            && !c.has(Cue::Both)
            && has(i + 1, Cue::Preposition)
            && !(i > 0 && has(i - 1, Cue::Determiner))
            && chunk.tokens.1 == chunk.tokens.0 + 1
            && !place(i)
            && {
                let word = reader
                    .tokens
                    .get(chunk.tokens.0)
                    .map_or("", |t| t.text.as_str());
                word == "right" && !matches!(out.last(), Some(Event::Side(..)))
            }
            && chunks.get(i + 1).is_some_and(|n| {
                !matches!(
                    reader.slice(n.span[0], n.span[1]).to_lowercase().as_str(),
                    "of" | "in the" | "on the"
                )
            });
        let opening = c.has(Cue::Right)
            && out.is_empty()
            && (mark(i + 1) == Some(',') && !place(i + 1))
            && (i + 2..chunks.len())
                .any(|j| has(j, Cue::Left) || place(j) && has(j - 1, Cue::Right));
        let left_over = c.has(Cue::Left)
            && (i > 0
                && facts
                    .iter()
                    .any(|f| f.end == i && matches!(f.fact, Fact::Measure { .. })));
        if (c.has(Cue::Both) || c.has(Cue::Left) || c.has(Cue::Right))
            && !adverb
            && !opening
            && !left_over
            && !(place(i) && entry(i).is_some_and(|e| !e.places.is_empty()))
        {
            if c.has(Cue::Both) {
                out.push(Event::Both(chunk.span));
            } else {
                out.push(Event::Side(
                    if c.has(Cue::Left) {
                        Hand::Left
                    } else {
                        Hand::Right
                    },
                    chunk.span,
                ));
            }
            i += 1;
            continue;
        }
        if adverb || opening || left_over {
            i += 1;
            continue;
        }
        // "the third screw": an ordinal begins the words for a part.
        let counted_off = chunk
            .number
            .as_ref()
            .is_some_and(|n| matches!(n.form, Form::Ordinal | Form::BareFraction))
            && chunks
                .get(i + 1)
                .is_some_and(|next| next.cues.has(Cue::Part))
            && !facts.iter().any(|f| f.first <= i && i < f.end);
        let part =
            c.has(Cue::Part) || c.has(Cue::PartModifier) || c.has(Cue::Designator) || counted_off;
        if (place(i) || part) && !condition(i) {
            i = run(v, reader, &mut out, i, facts, &words_of);
            continue;
        }
        if c.has(Cue::NotNegation) && !c.has(Cue::HedgeBefore) && !condition(i) {
            if c.has(Cue::Unsure) {
                out.push(Event::Unsure);
            }
            i += 1;
            continue;
        }
        // comparisons stand before denials: "hasn't grown" is no denial
        if c.has(Cue::NoLonger) && (!c.has(Cue::Gone) || condition(i + 1)) {
            no_longer = true;
            if let Some(Event::Condition { denied: d, .. }) = out
                .iter_mut()
                .rev()
                .find(|e| matches!(e, Event::Condition { .. }))
            {
                if *d != Denied::No || !condition(i + 1) {
                    let span = chunk.span;
                    if *d == Denied::No && !c.has(Cue::Gone) {
                        *d = Denied::NotThis;
                    }
                    if c.has(Cue::Gone) && *d == Denied::NotThis {
                        *d = Denied::NotThis;
                    }
                    out.push(Event::Gone(span));
                    no_longer = false;
                }
            } else {
                denied = Denied::NotThis;
            }
            i += 1;
            continue;
        }
        let compare = [
            (Cue::Gone, "gone"),
            (Cue::New, "new"),
            (Cue::Same, "same"),
            (Cue::Less, "less"),
            (Cue::Worse, "worse"),
        ]
        .into_iter()
        .find(|(cue, _)| c.has(*cue));
        if let Some((cue, word)) = compare {
            let single = chunk.tokens.1 == chunk.tokens.0 + 1;
            let skip = match cue {
                // "new tyre" is no news, "gone from two to three" is growth
                Cue::New if single => place(i + 1) || has(i + 1, Cue::Part),
                Cue::Gone if single || c.has(Cue::Grown) => {
                    has(i + 1, Cue::From)
                        || number(i + 1)
                        || has(i + 1, Cue::HedgeBefore)
                        || has(i + 1, Cue::Preposition)
                        // "gone hard", "gone milky": how it is now
                        || condition(i + 1)
                        || chunks
                            .get(i + 1)
                            .is_some_and(|c| c.node.is_none() && c.mark.is_none())
                }
                // "still leaking", but not "cover still on"
                Cue::Same if single && c.has(Cue::Filler) => {
                    !(i + 1..i + 4).any(&condition)
                        && !out
                            .iter()
                            .rev()
                            .take(4)
                            .any(|e| matches!(e, Event::Condition { .. }))
                }
                Cue::Same if single => has(i + 1, Cue::Part) || place(i + 1),
                Cue::Less => has(i + 1, Cue::HedgeBefore) || number(i + 1),
                _ => false,
            };
            // "the split pin's gone": no defect that went away, but a thing that is not there
            let lost = word == "gone"
                && !skip
                && !(0..chunks.len()).any(|j| condition(j) && dead.get(j) == Some(&false))
                && (0..i).any(|j| place(j) || has(j, Cue::Part));
            if lost && let Some(missing) = v.kinds.iter().position(|k| k.name == "missing") {
                let from = flat.partition_point(|f| f.token < chunk.tokens.0);
                let to = flat.partition_point(|f| f.token < chunk.tokens.1);
                out.push(Event::Condition {
                    index: v.finer(missing, flat, (from, to)),
                    span: chunk.span,
                    denied: Denied::No,
                });
            } else if !skip {
                out.push(Event::Compare(word, chunk.span));
            }
            i += 1;
            continue;
        }
        if c.has(Cue::Grown) && facts.iter().any(|f| f.first >= i && f.first <= i + 4 && matches!(&f.fact, Fact::Measure { found, .. } if found.change || found.was.is_some())) {
            let word = if c.has(Cue::Shrunk) { "less" } else { "worse" };
            out.push(Event::Compare(word, chunk.span));
            i += 1;
            continue;
        }
        let soon = (i + 1..i + 4)
            .take_while(|j| mark(*j).is_none() && chunks.get(*j).is_some())
            .find(|j| condition(*j));
        if c.has(Cue::NothingFound) && (soon.is_none() || !c.has(Cue::Negation)) && !condition(i) {
            out.push(Event::Look("nothing_found", chunk.span));
            i += 1;
            continue;
        }
        if c.has(Cue::NotSeen) && !condition(i) {
            let so = (i.saturating_sub(2)..i).rev().find(|j| {
                chunks.get(*j).is_some_and(|c| {
                    reader
                        .slice(c.span[0], c.span[1])
                        .eq_ignore_ascii_case("so")
                })
            });
            if let Some(so) = so
                && so > 0
            {
                let start = (0..so)
                    .rev()
                    .find(|j| matches!(mark(*j), Some('.' | ';' | '!' | '?')))
                    .map_or(0, |j| j + 1);
                let end = if mark(so - 1).is_some() { so - 1 } else { so };
                if start < end {
                    let from = chunks.get(start).map_or(0, |c| c.span[0]);
                    let to = chunks.get(end - 1).map_or(0, |c| c.span[1]);
                    out.push(Event::Therefore(reader.slice(from, to)));
                }
            }
            out.push(Event::Look("not_seen", chunk.span));
            i += 1;
            i = why(reader, &mut out, i, &condition, dead);
            continue;
        }
        if c.has(Cue::Negation) {
            let text = reader.slice(chunk.span[0], chunk.span[1]).to_lowercase();
            denied =
                if text.starts_with("not") && !text.contains("any") && !text.starts_with("nothing")
                    || text.contains("isn")
                    || text.contains("wasn")
                    || text.contains("think it")
                    || text.contains("wouldn")
                    || text.contains("ruled out")
                    || text.contains("is not")
                {
                    Denied::NotThis
                } else {
                    Denied::Absent
                };
            i += 1;
            continue;
        }
        if condition(i) {
            // "blocked with mud"
            let filled = (1..=2).any(|back| i >= back && has(i - back, Cue::Filled))
                && matches!(out.iter().rev().find(|e| !matches!(e, Event::And | Event::Other(_))),
                    Some(Event::Condition { index, .. })
                        if v.kinds.get(*index).is_some_and(|k| k.name == "obstructed"));
            if filled {
                out.push(Event::Other(chunk.span));
                i += 1;
                continue;
            }
            if let Some(part) = run::part_within(v, reader, flat, i, &out) {
                out.push(Event::Part(part));
            }
            let index = entry(i)
                .and_then(|e| e.conditions.first().copied())
                .unwrap_or(0);
            let from = flat.partition_point(|f| f.token < chunk.tokens.0);
            let to = flat.partition_point(|f| f.token < chunk.tokens.1);
            let index = v.finer(index, flat, (from, to));
            let mut how = denied;
            let mut next = i + 1;
            if has(next, Cue::NegationAfter) && !has(next, Cue::Negation) {
                how = Denied::Absent;
                next += 1;
            }
            if no_longer && how == Denied::No {
                how = Denied::NotThis;
            }
            out.push(Event::Condition {
                index,
                span: chunk.span,
                denied: how,
            });
            if no_longer {
                out.push(Event::Gone(chunk.span));
                no_longer = false;
            }
            i = next;
            continue;
        }
        if c.has(Cue::FineHere) && (!c.has(Cue::Filler) || fine_alone(reader, i)) {
            out.push(Event::Look("fine", chunk.span));
            i += 1;
            continue;
        }
        // "not a crack but a scratch" replaces; "no cracks but a scratch" are two things
        if c.has(Cue::But) && !(c.has(Cue::Instead) && denied == Denied::NotThis) {
            out.push(Event::But);
            denied = Denied::No;
            i += 1;
            continue;
        }
        if c.has(Cue::Instead) && denied != Denied::No {
            out.push(Event::Instead);
            denied = Denied::No;
            i += 1;
            continue;
        }
        if c.has(Cue::Or) {
            out.push(Event::Or);
            if c.has(Cue::Unsure) {
                out.push(Event::Unsure);
            }
            i += 1;
            continue;
        }
        if c.has(Cue::And) {
            out.push(Event::And);
            // "no cracks and a dent": the denial ends, "no cracks and dents" goes on
            if has(i + 1, Cue::Determiner) || number(i + 1) || !condition(i + 1) {
                denied = Denied::No;
            }
            i += 1;
            continue;
        }
        let basis = [
            (Cue::Told, "told"),
            (Cue::Read, "read"),
            (Cue::Felt, "felt"),
            (Cue::Measured, "measured"),
        ]
        .into_iter()
        .find(|(cue, _)| c.has(*cue));
        if let Some((_, word)) = basis {
            out.push(Event::Basis(word));
            i += 1;
            continue;
        }
        if c.has(Cue::Seen) && !c.has(Cue::Filler) {
            out.push(Event::Basis("seen"));
            i += 1;
            continue;
        }
        let reading = [
            (Cue::OilAdded, "oil added"),
            (Cue::OilFound, "oil found"),
            (Cue::Pressure, "pressure"),
            (Cue::Fuel, "fuel found"),
            (Cue::Sample, "fuel sample"),
            (Cue::Extension, "extension"),
            (Cue::Hours, "hours"),
            (Cue::Landings, "landings"),
        ]
        .into_iter()
        .find(|(cue, _)| c.has(*cue));
        if let Some((_, word)) = reading {
            out.push(Event::Reading(word));
            i += 1;
            continue;
        }
        if c.has(Cue::Unsure) {
            out.push(Event::Unsure);
            i += 1;
            continue;
        }
        if c.has(Cue::Another) {
            out.push(Event::Another);
            i += 1;
            continue;
        }
        if c.has(Cue::Date) {
            let from = i;
            while i < chunks.len()
                && mark(i).is_none()
                && !has(i, Cue::And)
                && !has(i, Cue::But)
                && !condition(i)
                && !place(i)
                && (i == from
                    || !(has(i, Cue::Preposition) || has(i, Cue::Left) || has(i, Cue::Right)))
                && i < from + 4
            {
                i += 1;
            }
            i = i.max(from + 1);
            let end = chunks.get(i - 1).map_or(chunk.span[1], |c| c.span[1]);
            out.push(Event::Since(reader.slice(chunk.span[0], end)));
            continue;
        }
        if chunk.node.is_none() {
            out.push(Event::Other(chunk.span));
        }
        i += 1;
    }
    out
}
