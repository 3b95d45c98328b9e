//! Words spoken or typed, to a draft that can be trusted.
//!
//! Pure: no files, no clock. [`Vocabulary`] holds the words of a language, the places of a layout
//! and the conditions; [`hear`] turns what was said into a [`Draft`]; [`answer`] settles one of its
//! questions; [`read_back`] makes the sentence for a machine voice. A number is never guessed: what
//! a careful listener would ask is a question of the draft.
//!
//! The way of a saying: `token` (characters to tokens), `number` (exact rationals), `lexicon`
//! (phrases to chunks), `measure` (sizes, positions, counts), `sentence` (events, and which parts
//! are no finding at all), `items` (what belongs together), `alternatives` (several transcripts).

mod alternatives;
mod answer;
pub mod audio;
mod command;
mod cue;
mod draft;
mod event;
mod items;
mod items_finish;
mod items_zone;
mod lexicon;
mod listeners;
mod making;
mod measure;
mod measure_growth;
mod measure_place;
mod measure_size;
mod number;
mod number_words;
mod pattern;
mod place;
mod read_back;
mod run;
mod sentence;
mod talk;
mod token;
mod typed;
mod vocabulary;
mod vocabulary_out;
mod words;

pub use answer::answer;
pub use draft::{
    At, ConditionFound, Count, Draft, Item, Kind, MeasureFound, PartFound, Question, Span,
    ZoneFound,
};
pub use listeners::{Agreement, agree};
pub use place::{Hand, Place};
pub use read_back::read_back;
pub use typed::completions;
pub use vocabulary::{KindOfDefect, StopWords, Vocabulary};
pub use vocabulary_out::{grammar, phrases, pronunciations};
pub use words::Words;

use crate::error::{Error, ErrorKind, Result};

/// Longest text taken, in bytes. A two-hour recording transcribed is about this long.
pub const LONGEST_TEXT: usize = 256 * 1024;

/// What was said or typed.
#[derive(Debug, Clone, Default, PartialEq, Eq, serde::Deserialize)]
pub struct Utterance {
    /// The text.
    pub text: String,
    /// Other transcripts of the same sound.
    #[serde(default)]
    pub alternatives: Vec<String>,
    /// Key of the stop where the person stands: makes its zones likelier, excludes none.
    #[serde(default)]
    pub stop: Option<String>,
}

/// Turns what was said into a draft.
///
/// # Errors
/// `TooLarge` for a text of more than [`LONGEST_TEXT`] bytes.
pub fn hear(vocabulary: &Vocabulary, utterance: &Utterance) -> Result<Draft> {
    if utterance.text.len() > LONGEST_TEXT {
        return Err(Error::new(
            ErrorKind::TooLarge,
            format!(
                "the text is {} bytes long, more than {LONGEST_TEXT}",
                utterance.text.len()
            ),
        )
        .hint("hand it over in pieces"));
    }
    let stop = utterance.stop.as_deref();
    let (mut draft, plain_talk) = understand(vocabulary, &utterance.text, stop);
    for other in alternatives::distinct(&utterance.text, &utterance.alternatives) {
        let (other, _) = understand(vocabulary, other, stop);
        alternatives::weigh(vocabulary, &mut draft, &other, plain_talk);
    }
    Ok(draft)
}

/// One transcript, to a draft; and whether something in it says that it is talk.
pub(crate) fn understand(v: &Vocabulary, text: &str, stop: Option<&str>) -> (Draft, bool) {
    let chars: Vec<char> = text.chars().collect();
    let tokens = token::tokens(text);
    let flat = v.lexicon.flat(&v.words, &tokens);
    let mut draft = Draft {
        kind: Kind::Remark,
        items: Vec::new(),
        command: None,
        questions: Vec::new(),
        left_over: String::new(),
        text: text.to_owned(),
    };
    let spoken: Vec<lexicon::Flat> = flat
        .iter()
        .copied()
        .filter(|f| {
            tokens
                .get(f.token)
                .is_some_and(|t| !matches!(t.shape, token::Shape::Mark(_)))
        })
        .collect();
    if let Some(cue) = v.lexicon.spoken_command(&tokens, &flat, &spoken) {
        draft.kind = Kind::Command;
        draft.command = cue.command().map(str::to_owned);
        return (draft, false);
    }
    let chunks = v.lexicon.chunks(&tokens, &flat);
    let mut dead = talk::dead(v, &tokens, &flat, &chunks);
    // "nothing found, next": a command after the last pause
    let pause = tokens.iter().rposition(|t| {
        matches!(t.shape, token::Shape::Mark(',' | '.' | ';' | '!')) && t.end < chars.len()
    });
    if let Some(pause) = pause {
        let tail: Vec<lexicon::Flat> = spoken.iter().copied().filter(|f| f.token > pause).collect();
        let cue = if tail.is_empty() || tail.len() == spoken.len() {
            None
        } else {
            v.lexicon.tail_command(&tail)
        };
        // "…, yes", "…, okay", "…, flag that" after a remark is talk; the yes-words never end a saying
        if let Some(cue) = cue.filter(|c| {
            !matches!(
                c,
                words::Cue::Keep | words::Cue::Repeat | words::Cue::Discard | words::Cue::Stop
            )
        }) {
            draft.command = cue.command().map(str::to_owned);
            let from = chunks.partition_point(|c| c.tokens.0 <= pause);
            for slot in dead.iter_mut().skip(from) {
                *slot = true;
            }
        }
    }
    let plain_talk = dead.contains(&true) && draft.command.is_none();
    let alive = |i: usize| dead.get(i) == Some(&false);
    let has_condition = chunks.iter().enumerate().any(|(i, c)| {
        alive(i)
            && c.node
                .and_then(|n| v.lexicon.tree.get(n))
                .is_some_and(|e| !e.conditions.is_empty())
    });
    let reader = measure::Reader {
        words: &v.words,
        lexicon: &v.lexicon,
        tokens: &tokens,
        chunks: &chunks,
        chars: &chars,
    };
    let facts = reader.facts(has_condition);
    let events = sentence::events(v, &reader, &flat, &dead, &facts);
    let others: Vec<Span> = events
        .iter()
        .filter_map(|e| match e {
            event::Event::Other(span) => Some(*span),
            _ => None,
        })
        .collect();
    let mut maker = items::Maker::new(v, stop, &chars);
    maker.take(events);
    let (items, questions) = maker.finish();
    // "you've got a loose shoelace": a condition of a thing that no list has, and of no place
    let elsewhere = stop.is_none()
        && questions.is_empty()
        && !others.is_empty()
        && !items.is_empty()
        && items.iter().all(|i| {
            i.kind == Kind::Finding
                && i.zone.is_none()
                && i.part.is_none()
                && i.at.is_none()
                && i.side == "none"
                && i.measures.is_empty()
                && i.compare.is_none()
                && i.basis.is_none()
        });
    let (items, questions) = if elsewhere {
        (Vec::new(), Vec::new())
    } else {
        (items, questions)
    };
    draft.items = items;
    draft.questions = questions;
    draft.kind = if draft.items.iter().any(|i| i.kind == Kind::Finding) {
        Kind::Finding
    } else if draft.items.is_empty() {
        Kind::Remark
    } else {
        Kind::Look
    };
    if draft.kind == Kind::Remark {
        draft.command = None;
    }
    draft.left_over = if draft.kind == Kind::Remark {
        text.trim().to_owned()
    } else {
        others
            .iter()
            .map(|span| {
                chars
                    .get(span[0]..span[1])
                    .unwrap_or(&[])
                    .iter()
                    .collect::<String>()
            })
            .collect::<Vec<_>>()
            .join(" ")
    };
    (draft, plain_talk)
}

#[cfg(test)]
mod tests;
