//! Chunks to events: what each piece of a saying does, in the order it was said.

use super::draft::{At, Count, MeasureFound, PartFound, Span};
use super::lexicon::{Chunk, Flat};
use super::measure::{Doubt, Fact, Placed, Reader};
use super::number::Form;
use super::place::Hand;
use super::token::Token;
use super::vocabulary::Vocabulary;
use super::words::Cue;

/// A place as mentioned.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Mention {
    pub words: Vec<u32>,
    pub span: Span,
    /// It may as well be a part.
    pub partish: bool,
    /// It is a noun for parts.
    pub noun: bool,
    /// A whole phrase of some zone.
    pub full: bool,
    /// "under the" stands before it.
    pub under: bool,
}

/// How a condition was denied.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Denied {
    No,
    /// `no`, `without`: a look.
    Absent,
    /// `not a`, `isn't`: this is something else.
    NotThis,
}

#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Event {
    /// `.`, `;`, `?`.
    Sentence,
    Comma,
    And,
    Or,
    But,
    Place(Mention),
    /// "main", "nose" with no noun behind it.
    Lone(Mention),
    Side(Hand, Span),
    Both(Span),
    Part(PartFound),
    Condition {
        index: usize,
        span: Span,
        denied: Denied,
    },
    /// Verb or noun of a look.
    Look(&'static str, Span),
    Compare(&'static str, Span),
    Gone(Span),
    Basis(&'static str),
    Measure {
        found: MeasureFound,
        family: String,
        named: bool,
        across: Option<String>,
        doubts: Vec<Doubt>,
    },
    At(At),
    Count(Count),
    Meter(MeasureFound),
    Reading(&'static str),
    Correction,
    Another,
    Unsure,
    Since(String),
    Why(String),
    Instead,
    /// "so" before "I couldn't look at …": the place before it is why. The words of the reason.
    Therefore(String),
    /// A word that no list has.
    Other(Span),
}

/// Where a saying or a part of it is not about this aircraft's condition.
pub(crate) fn dead(v: &Vocabulary, tokens: &[Token], flat: &[Flat], chunks: &[Chunk]) -> Vec<bool> {
    let mut dead = vec![false; chunks.len()];
    let entry = |i: usize| {
        chunks
            .get(i)
            .and_then(|c| c.node)
            .and_then(|n| v.lexicon.tree.get(n))
    };
    let is_place = |i: usize| entry(i).is_some_and(|e| e.place_word || !e.places.is_empty());
    let is_condition = |i: usize| entry(i).is_some_and(|e| !e.conditions.is_empty());
    let full_stop = |i: usize| {
        chunks
            .get(i)
            .is_some_and(|c| matches!(c.mark, Some('.' | '!' | '?' | ';')))
    };
    let break_at = |i: usize| {
        full_stop(i)
            || chunks.get(i).is_some_and(|c| {
                c.mark == Some(',')
                    || c.mark == Some('-')
                    || c.cues.has(Cue::But) && !c.cues.has(Cue::Instead)
            })
    };
    let sentence = |i: usize| {
        let start = (0..i).rev().find(|j| full_stop(*j)).map_or(0, |j| j + 1);
        let end = (i..chunks.len())
            .find(|j| full_stop(*j))
            .unwrap_or(chunks.len());
        (start, end)
    };
    let clause = |i: usize| {
        let start = (0..i).rev().find(|j| break_at(*j)).map_or(0, |j| j + 1);
        let end = (i..chunks.len())
            .find(|j| break_at(*j))
            .unwrap_or(chunks.len());
        (start, end)
    };
    let whole = |from: usize, to: usize| {
        (from..to).any(is_condition)
            && (from..to)
                .any(|i| is_place(i) || chunks.get(i).is_some_and(|c| c.cues.has(Cue::Part)))
    };
    let mut radio = 0;
    let mut kill = |from: usize, to: usize| {
        for slot in dead.get_mut(from..to).unwrap_or(&mut []) {
            *slot = true;
        }
    };
    let mut hits: Vec<(usize, usize, super::lexicon::Cues)> = Vec::new();
    for (first, end, cues) in v.lexicon.remark_hits(flat) {
        let at = chunks.partition_point(|c| c.tokens.1 <= first);
        let covered = chunks.get(at).is_some_and(|c| {
            c.tokens.0 <= first
                && (c.tokens.1 >= end || c.tokens.0 < first)
                && (entry(at).is_some_and(|e| !e.places.is_empty() || !e.conditions.is_empty())
                    || [
                        Cue::Same,
                        Cue::New,
                        Cue::Gone,
                        Cue::Worse,
                        Cue::Less,
                        Cue::NothingFound,
                        Cue::NotSeen,
                        Cue::Told,
                        Cue::Read,
                        Cue::Unsure,
                        Cue::Part,
                        Cue::Correction,
                        Cue::NotNegation,
                        Cue::Felt,
                        Cue::Measured,
                    ]
                    .into_iter()
                    .any(|cue| c.cues.has(cue)))
        });
        if !covered {
            hits.push((at, end, cues));
        }
    }
    // "Dave's windscreen", "his spinner"
    for i in 1..chunks.len() {
        if !is_place(i) {
            continue;
        }
        let mut owner = i - 1;
        while owner > 0
            && chunks.get(owner).is_some_and(|c| {
                c.cues.has(Cue::Left) || c.cues.has(Cue::Right) || c.cues.has(Cue::PartModifier)
            })
        {
            owner -= 1;
        }
        let Some(c) = chunks.get(owner) else { continue };
        let possessive = tokens.get(c.tokens.1).is_some_and(|t| t.text == "'s")
            || tokens
                .get(c.tokens.1.saturating_sub(1))
                .is_some_and(|t| t.text == "'s");
        let word = tokens.get(c.tokens.0).map_or("", |t| t.text.as_str());
        let possessive = possessive && owner + 1 == i;
        if c.node.is_none() && possessive && c.mark.is_none()
            || matches!(word, "his" | "her" | "their") && c.tokens.1 == c.tokens.0 + 1
        {
            let mut cues = super::lexicon::Cues::default();
            cues.add(Cue::OtherAircraft);
            hits.push((owner, c.tokens.1, cues));
        }
    }
    for (i, hit_end, cues) in hits {
        let (s0, s1) = sentence(i);
        let (c0, c1) = clause(i);
        let before_whole = whole(s0, c0);
        if cues.has(Cue::Teaching) {
            kill(c0, if whole(s0, c0) { c1 } else { s1 });
        }
        if cues.has(Cue::Limit) {
            if before_whole || whole(c1, s1) {
                kill(c0, c1);
            } else {
                kill(s0, s1);
            }
        }
        if cues.has(Cue::OtherAircraft) {
            let but = (i..s1).find(|j| chunks.get(*j).is_some_and(|c| c.cues.has(Cue::But)));
            kill(if before_whole { c0 } else { s0 }, but.unwrap_or(s1));
        }
        if cues.has(Cue::OtherThings) && !whole(s0, s1) {
            kill(c0, c1);
        }
        if cues.has(Cue::OtherThings)
            && is_place(i + 1)
            && chunks
                .get(i + 1)
                .is_some_and(|c| !c.cues.has(Cue::Left) && !c.cues.has(Cue::Right))
        {
            kill(s0, s1);
        }
        // "the tug has a flat tire": what the sentence is about
        let subject = (s0..i).all(|j| {
            chunks
                .get(j)
                .is_some_and(|c| c.cues.has(Cue::Determiner) || c.cues.has(Cue::Filler))
                && !is_place(j)
                && !is_condition(j)
        });
        let after = chunks.partition_point(|c| c.tokens.0 < hit_end);
        let verb = is_condition(after)
            || tokens.get(hit_end).is_some_and(|t| t.text == "'s")
            || chunks.get(after).is_some_and(|c| c.cues.has(Cue::Verb));
        if cues.has(Cue::OtherThings) && subject && verb {
            kill(s0, s1);
        }
        if cues.has(Cue::Talk) {
            if i <= s0 + 1 {
                kill(s0, s1);
            } else if !whole(c0, c1) {
                kill(c0, c1);
            } else if !whole(s0, i) {
                kill(c0, s1);
            }
        }
        if cues.has(Cue::Asking) && i <= c0 + 1 && !before_whole {
            kill(s0, s1);
        }
        if cues.has(Cue::Past) {
            kill(if before_whole { c0 } else { s0 }, s1);
            if before_whole {
                kill(s0, s1);
            }
        }
        if cues.has(Cue::Radio) {
            radio += 1;
        }
    }
    if radio > 1 || radio == 1 && !whole(0, chunks.len()) {
        kill(0, chunks.len());
    }
    dead
}

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
        if c.has(Cue::NotNegation) && !c.has(Cue::HedgeBefore) {
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
            if !skip {
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

/// "fine", "good" with nothing behind that they would describe ("a good two inches").
fn fine_alone(reader: &Reader<'_>, i: usize) -> bool {
    reader.chunks.get(i + 1).is_none_or(|next| {
        next.mark.is_some() || next.cues.has(Cue::And) || next.cues.has(Cue::But)
    })
}

/// A bare `no` or `actually` corrects when the same kind of thing stands on both sides.
fn corrects(
    out: &[Event],
    i: usize,
    chunks: &[Chunk],
    condition: &dyn Fn(usize) -> bool,
    place: &dyn Fn(usize) -> bool,
) -> bool {
    let has = |i: usize, cue: Cue| chunks.get(i).is_some_and(|c| c.cues.has(cue));
    let _comma_before = matches!(out.last(), Some(Event::Comma));
    let mut next = i + 1;
    let comma_after = chunks.get(next).is_some_and(|c| c.mark == Some(','));
    if comma_after {
        next += 1;
    }
    while has(next, Cue::Determiner) || has(next, Cue::HedgeBefore) && !condition(next) {
        next += 1;
    }
    let before = out
        .iter()
        .rev()
        .find(|e| !matches!(e, Event::Comma | Event::Other(_)));
    match before {
        Some(Event::Side(..)) => has(next, Cue::Left) || has(next, Cue::Right),
        Some(Event::Measure { .. }) => chunks.get(next).is_some_and(|c| c.number.is_some()),
        Some(Event::Place(_) | Event::Part(_)) => {
            let side = has(next, Cue::Left) || has(next, Cue::Right);
            (side || comma_after && place(next)) && !has(next, Cue::Negation)
        }
        Some(Event::Condition { .. }) => condition(next) && comma_after,
        _ => false,
    }
}

/// Why something could not be seen: the words after it in the sentence.
fn why(
    reader: &Reader<'_>,
    out: &mut Vec<Event>,
    at: usize,
    condition: &dyn Fn(usize) -> bool,
    dead: &[bool],
) -> usize {
    let chunks = reader.chunks;
    let full_stop = |i: usize| {
        chunks
            .get(i)
            .is_none_or(|c| matches!(c.mark, Some('.' | '!' | '?' | ';')))
    };
    let because = |i: usize| {
        chunks.get(i).is_some_and(|c| {
            let word = reader.slice(c.span[0], c.span[1]).to_lowercase();
            c.mark == Some(',')
                || c.mark == Some('-')
                || matches!(
                    word.as_str(),
                    "because"
                        | "as"
                        | "since"
                        | "due to"
                        | "cause"
                        | "'cause"
                        | "cos"
                        | "with"
                        | "for"
                        | "due"
                )
        })
    };
    let Some(start) = (at..chunks.len())
        .take_while(|i| !full_stop(*i))
        .find(|i| because(*i))
    else {
        return at;
    };
    let end = (start..chunks.len())
        .find(|i| full_stop(*i))
        .unwrap_or(chunks.len());
    if (start..end).any(|i| condition(i) && !chunks.get(i).is_some_and(|c| c.cues.has(Cue::Filler)))
        && chunks.get(start).is_some_and(|c| c.mark.is_some())
        || dead.get(start) == Some(&true)
        || start + 1 >= end
    {
        return at;
    }
    let looks = (start..end).any(|i| {
        chunks
            .get(i)
            .is_some_and(|c| c.cues.has(Cue::NothingFound) || c.cues.has(Cue::FineHere))
    });
    if looks && chunks.get(start).is_some_and(|c| c.mark.is_some()) {
        return at;
    }
    let (a, b) = (
        chunks.get(start + 1).map_or(0, |c| c.span[0]),
        chunks.get(end - 1).map_or(0, |c| c.span[1]),
    );
    // the words between belong to the place that could not be seen
    let text = reader.slice(a, b);
    out.push(Event::Why(text));
    if start == at {
        end
    } else {
        at.max(start.min(at))
    }
}

/// A run of sides, modifiers, places and parts from chunk `at`; returns where it ends.
fn run(
    v: &Vocabulary,
    reader: &Reader<'_>,
    out: &mut Vec<Event>,
    at: usize,
    facts: &[Placed],
    words_of: &dyn Fn(usize) -> Vec<u32>,
) -> usize {
    let chunks = reader.chunks;
    let entry = |i: usize| {
        chunks
            .get(i)
            .and_then(|c| c.node)
            .and_then(|n| v.lexicon.tree.get(n))
    };
    let place = |i: usize| entry(i).is_some_and(|e| e.place_word || !e.places.is_empty());
    let full = |i: usize| entry(i).is_some_and(|e| !e.places.is_empty());
    let condition = |i: usize| entry(i).is_some_and(|e| !e.conditions.is_empty());
    let has = |i: usize, cue: Cue| chunks.get(i).is_some_and(|c| c.cues.has(cue));
    let designator_number = |i: usize| {
        facts
            .iter()
            .find(|f| f.first == i && f.fact == Fact::Designator)
    };
    let mut end = at;
    while end < chunks.len() {
        if let Some(f) = designator_number(end)
            && end > at
        {
            end = f.end;
            continue;
        }
        if facts.iter().any(|f| f.first <= end && end < f.end) {
            break;
        }
        let ordinal = chunks
            .get(end)
            .and_then(|c| c.number.as_ref())
            .is_some_and(|n| matches!(n.form, Form::Ordinal | Form::BareFraction));
        let belongs = (place(end)
            || has(end, Cue::Part)
            || has(end, Cue::PartModifier)
            || has(end, Cue::Designator)
            || ordinal)
            && !condition(end)
            && (end == at || !(has(end, Cue::Left) || has(end, Cue::Right)));
        if !belongs {
            break;
        }
        end += 1;
    }
    let end = end.max(at + 1);
    let mut i = at;
    let under = |place: usize| {
        (0..place)
            .rev()
            .find(|j| !has(*j, Cue::Left) && !has(*j, Cue::Right) && !has(*j, Cue::Determiner))
            .is_some_and(|j| has(j, Cue::Under))
    };
    // "hinge bolt": a noun for a part before another one goes with it
    let with_next = |i: usize| {
        !full(i) && has(i, Cue::Part) && i + 1 < end && has(i + 1, Cue::Part) && !full(i + 1)
    };
    while i < end {
        if place(i) && !with_next(i) {
            let Some(c) = chunks.get(i) else { break };
            let mut words = words_of(i);
            let mut from = c.span[0];
            // modifiers right before a place sharpen it ("nose", "main", "lower")
            let mut back = i;
            while back > at && has(back - 1, Cue::PartModifier) && !place(back - 1) {
                back -= 1;
                words.extend(words_of(back));
                from = chunks.get(back).map_or(from, |c| c.span[0]);
            }
            let mut to = c.span[1];
            // "blade 2", "number two tank"
            if let Some(f) = designator_number(i + 1) {
                let last = chunks.get(f.end - 1);
                to = last.map_or(to, |c| c.span[1]);
                if has(i, Cue::Part) {
                    let name = reader.slice(from, to);
                    out.push(Event::Place(Mention {
                        words,
                        span: [from, c.span[1]],
                        partish: true,
                        noun: true,
                        full: full(i),
                        under: false,
                    }));
                    out.push(Event::Part(PartFound {
                        name: name.to_lowercase(),
                        from: [from, to],
                    }));
                    i = f.end;
                    continue;
                }
            }
            out.push(Event::Place(Mention {
                words,
                span: [from, c.span[1]],
                partish: has(i, Cue::Part) || !full(i),
                noun: has(i, Cue::Part),
                full: full(i),
                under: under(back),
            }));
            i += 1;
            continue;
        }
        // a part: modifiers, then nouns, then a number
        let mut stop = i;
        let mut noun = false;
        while stop < end && (!place(stop) || with_next(stop) || stop > i && with_next(stop - 1)) {
            noun |= has(stop, Cue::Part);
            stop += 1;
        }
        let numbered = designator_number(stop.saturating_sub(1)).is_some()
            || (i..stop).any(|j| designator_number(j).is_some());
        if noun || numbered {
            let (a, b) = (
                chunks.get(i).map_or(0, |c| c.span[0]),
                chunks.get(stop - 1).map_or(0, |c| c.span[1]),
            );
            // modifiers before a place belong to the place
            let last_noun = (i..stop)
                .rev()
                .find(|j| has(*j, Cue::Part) || designator_number(*j).is_some())
                .unwrap_or(stop - 1);
            let b = if stop < end {
                chunks.get(last_noun).map_or(b, |c| c.span[1])
            } else {
                b
            };
            out.push(Event::Part(PartFound {
                name: reader.slice(a, b).to_lowercase(),
                from: [a, b],
            }));
        }
        // "the right main": what it is of goes without saying, or has to be asked
        if !noun && !numbered && stop == end && at == i {
            let words: Vec<u32> = (i..stop)
                .filter(|j| has(*j, Cue::Lone))
                .flat_map(words_of)
                .collect();
            if let (false, Some(c)) = (words.is_empty(), chunks.get(i)) {
                out.push(Event::Lone(Mention {
                    words,
                    span: c.span,
                    partish: true,
                    noun: false,
                    full: false,
                    under: false,
                }));
            }
        }
        i = stop.max(i + 1);
    }
    end
}
