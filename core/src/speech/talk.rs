//! Where a saying is not about this aircraft's condition.

use super::lexicon::{Chunk, Flat};
use super::token::Token;
use super::vocabulary::Vocabulary;
use super::words::Cue;

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
