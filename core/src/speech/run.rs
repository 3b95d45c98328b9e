//! Runs of words that need their surroundings: places and parts, reasons, corrections.

use super::draft::PartFound;
use super::event::{Event, Mention};
use super::lexicon::{Chunk, Flat};
use super::measure::{Fact, Placed, Reader};
use super::number::Form;
use super::vocabulary::Vocabulary;
use super::words::Cue;

/// "fine", "good" with nothing behind that they would describe ("a good two inches").
pub(super) fn fine_alone(reader: &Reader<'_>, i: usize) -> bool {
    reader.chunks.get(i + 1).is_none_or(|next| {
        next.mark.is_some() || next.cues.has(Cue::And) || next.cues.has(Cue::But)
    })
}

/// A bare `no` or `actually` corrects when the same kind of thing stands on both sides.
pub(super) fn corrects(
    out: &[Event],
    i: usize,
    chunks: &[Chunk],
    condition: &dyn Fn(usize) -> bool,
    place: &dyn Fn(usize) -> bool,
) -> bool {
    let has = |i: usize, cue: Cue| chunks.get(i).is_some_and(|c| c.cues.has(cue));
    let comma_before = matches!(out.last(), Some(Event::Comma));
    let mut next = i + 1;
    let comma_after = chunks.get(next).is_some_and(|c| c.mark == Some(','));
    if comma_after {
        next += 1;
    }
    while has(next, Cue::Determiner) || has(next, Cue::HedgeBefore) && !condition(next) {
        next += 1;
    }
    // "a crack, actually it's just a scratch"
    if comma_before && !has(i, Cue::Negation) {
        let mut other = next;
        while !condition(other)
            && [Cue::Instead, Cue::Pronoun, Cue::Filler, Cue::Determiner]
                .into_iter()
                .any(|cue| has(other, cue))
        {
            other += 1;
        }
        let said = out
            .iter()
            .rev()
            .take_while(|e| !matches!(e, Event::Sentence))
            .any(|e| matches!(e, Event::Condition { .. }));
        if said && other > next && condition(other) {
            return true;
        }
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
pub(super) fn why(
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
pub(super) fn run(
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
            .is_some_and(|j| {
                // "didn't look under the left wing"
                has(j, Cue::Under)
                    || chunks.get(j).is_some_and(|c| {
                        reader
                            .slice(c.span[0], c.span[1])
                            .to_lowercase()
                            .ends_with("under")
                    })
            })
    };
    let landmark = |place: usize| {
        (0..place)
            .rev()
            .find(|j| !has(*j, Cue::Left) && !has(*j, Cue::Right) && !has(*j, Cue::Determiner))
            .is_some_and(|j| has(j, Cue::Landmark))
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
                        landmark: landmark(back),
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
                landmark: landmark(back),
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
                    landmark: false,
                }));
            }
        }
        i = stop.max(i + 1);
    }
    end
}

/// "bolt loose", "missing rivet": a phrase for a defect that names the part as well, with the words right before
/// it that belong to the part ("hinge").
pub(super) fn part_within(
    v: &Vocabulary,
    reader: &Reader<'_>,
    flat: &[Flat],
    i: usize,
    out: &[Event],
) -> Option<PartFound> {
    let chunk = reader.chunks.get(i)?;
    let from = flat.partition_point(|f| f.token < chunk.tokens.0);
    let to = flat.partition_point(|f| f.token < chunk.tokens.1);
    if to - from < 2 {
        return None;
    }
    let inside = flat.get(from..to)?;
    let noun = |at: usize, end: usize| {
        let words = inside.get(at..end)?;
        let (count, node) = v.lexicon.tree.longest(words, 0)?;
        let part = v.lexicon.tree.get(node)?.cues.has(Cue::Part);
        let mut left: Vec<Flat> = inside.get(..at)?.to_vec();
        left.extend(inside.get(end..)?);
        let (rest, node) = v.lexicon.tree.longest(&left, 0)?;
        let defect = rest == left.len() && !v.lexicon.tree.get(node)?.conditions.is_empty();
        (part && count == words.len() && defect).then(|| (words.first(), words.last()))
    };
    let (first, last) = (0..inside.len())
        .flat_map(|at| (at + 1..=inside.len()).rev().map(move |end| (at, end)))
        .find_map(|(at, end)| noun(at, end))?;
    let mut span = [
        reader.tokens.get(first?.token)?.start,
        reader.tokens.get(last?.token)?.end,
    ];
    match out.last() {
        Some(Event::Part(before)) if before.from[1] + 1 == span[0] => span[0] = before.from[0],
        Some(Event::Place(m)) if m.noun && !m.full && m.span[1] + 1 == span[0] => {
            span[0] = m.span[0];
        }
        Some(Event::Part(_)) => return None,
        _ => {}
    }
    Some(PartFound {
        name: reader.slice(span[0], span[1]).to_lowercase(),
        from: span,
    })
}
