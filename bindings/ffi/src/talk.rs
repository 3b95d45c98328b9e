//! What was heard or typed: drafts, questions, keeping, words for recognisers.

use witnessmark_core::notebook::screens::*;
use witnessmark_core::speech::{self, Utterance};

use crate::notebook::Notebook;
use crate::trouble::Answer;

#[uniffi::export]
impl Notebook {
    /// Turns what was heard or typed into a draft. `alternatives`: other transcripts of the same sound.
    ///
    /// # Errors
    /// `Input` for a text past 256 KiB.
    pub fn hear(
        &self,
        aircraft: String,
        text: String,
        alternatives: Vec<String>,
        stop: Option<String>,
    ) -> Answer<DraftView> {
        self.with(|open| {
            let words = open.vocabulary(&digest(&aircraft, "aircraft")?)?;
            heard(
                &words,
                &Utterance {
                    text,
                    alternatives,
                    stop,
                },
            )
        })
    }

    /// Answers one question of a draft by one tap or one word.
    ///
    /// # Errors
    /// `Input` where it was not understood: the draft stays as it was.
    pub fn answer(
        &self,
        aircraft: String,
        draft: String,
        question: u32,
        answer: String,
    ) -> Answer<DraftView> {
        self.with(|open| {
            let words = open.vocabulary(&digest(&aircraft, "aircraft")?)?;
            let next = speech::answer(&words, &draft_of(&draft)?, question as usize, &answer)?;
            draft_view(&words, &next)
        })
    }

    /// Keeps a draft that a person has accepted.
    ///
    /// # Errors
    /// `Input` while a question is open or for a command: nothing is written.
    pub fn keep(&self, aircraft: String, draft: String, stop: Option<String>) -> Answer<KeptView> {
        self.core(|core| {
            core.keep_draft(
                &digest(&aircraft, "aircraft")?,
                &draft_of(&draft)?,
                stop.as_deref(),
            )
            .map(|kept| (&kept).into())
        })
    }

    /// Biasing phrases for a recogniser, the likeliest at the stop first, at most `most`.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft.
    pub fn phrases(
        &self,
        aircraft: String,
        stop: Option<String>,
        most: u32,
    ) -> Answer<Vec<String>> {
        self.with(|open| {
            let words = open.vocabulary(&digest(&aircraft, "aircraft")?)?;
            Ok(speech::phrases(&words, stop.as_deref(), most as usize))
        })
    }

    /// How a text that is being typed may go on.
    ///
    /// # Errors
    /// `Input` for an unknown aircraft.
    pub fn completions(
        &self,
        aircraft: String,
        text: String,
        stop: Option<String>,
        most: u32,
    ) -> Answer<Vec<String>> {
        self.with(|open| {
            let words = open.vocabulary(&digest(&aircraft, "aircraft")?)?;
            Ok(speech::completions(
                &words,
                &text,
                stop.as_deref(),
                most as usize,
            ))
        })
    }
}
