//! Sayings that are commands: by list, by pattern, and by one key phrase among words that add nothing.

use super::lexicon::{Flat, Lexicon};
use super::number::Form;
use super::token::{Shape, Token};
use super::words::Cue;

/// Where two commands are named in one saying, the first of these is meant: "show me the last photo"
/// shows, "don't save that" discards.
const SOONER: [Cue; 12] = [
    Cue::Discard,
    Cue::Undo,
    Cue::Show,
    Cue::Concern,
    Cue::Finish,
    Cue::Measure,
    Cue::Photo,
    Cue::Repeat,
    Cue::Back,
    Cue::Next,
    Cue::Stop,
    Cue::Keep,
];

/// Longest saying taken as a command by its key phrase, in words.
const LONGEST: usize = 14;

impl Lexicon {
    /// The command that a whole saying is. `flat` has its marks, `spoken` has not.
    pub fn spoken_command(&self, tokens: &[Token], flat: &[Flat], spoken: &[Flat]) -> Option<Cue> {
        self.command(spoken)
            .or_else(|| self.command_head(tokens, spoken))
            .or_else(|| self.in_pieces(tokens, flat))
            .or_else(|| self.by_key(spoken))
    }

    /// "yeah that's right, keep it": every piece is a command or courtesy; the last command counts.
    fn in_pieces(&self, tokens: &[Token], flat: &[Flat]) -> Option<Cue> {
        if flat.len() > 2 * LONGEST {
            return None;
        }
        let mark = |f: &Flat| {
            tokens
                .get(f.token)
                .is_some_and(|t| matches!(t.shape, Shape::Mark(_)))
        };
        let mut found: Vec<Cue> = Vec::new();
        let mut pieces = 0;
        for piece in flat.split(mark).filter(|piece| !piece.is_empty()) {
            pieces += 1;
            if let Some(cue) = self.command(piece).or_else(|| self.by_key(piece)) {
                found.push(cue);
            } else if !self.adds_nothing(piece) {
                return None;
            }
        }
        if pieces < 2 {
            return None;
        }
        let refused = found.iter().find(|c| matches!(c, Cue::Discard | Cue::Undo));
        refused.or(found.last()).copied()
    }

    fn adds_nothing(&self, flat: &[Flat]) -> bool {
        let mut at = 0;
        while at < flat.len() {
            let polite = self.polite.longest(flat, at).map_or(0, |(count, _)| count);
            let neutral = flat.get(at).is_some_and(|f| self.neutral.contains(&f.word));
            if polite == 0 && !neutral {
                return false;
            }
            at += polite.max(1);
        }
        true
    }

    /// One key phrase, and beside it only words that add nothing.
    fn by_key(&self, flat: &[Flat]) -> Option<Cue> {
        if flat.len() > LONGEST {
            return None;
        }
        let mut found: Vec<Cue> = Vec::new();
        let mut things = false;
        let mut at = 0;
        while let Some(here) = flat.get(at) {
            if let Some((count, node)) = self.keys.longest(flat, at)
                && let Some(entry) = self.keys.get(node)
            {
                let cue = SOONER.into_iter().find(|cue| entry.cues.has(*cue))?;
                if !found.contains(&cue) {
                    found.push(cue);
                }
                at += count;
                continue;
            }
            let polite = self.polite.longest(flat, at).map_or(0, |(count, _)| count);
            let thing = self.neutral_things.contains(&here.word);
            // "the dent is the same as last time": what is talked about comes before, so it is told
            if thing && found.is_empty() {
                return None;
            }
            things |= thing;
            if polite == 0 && !thing && !self.neutral.contains(&here.word) {
                return None;
            }
            at += polite.max(1);
        }
        if found.len() > 2 {
            return None;
        }
        let cue = SOONER.into_iter().find(|cue| found.contains(cue))?;
        let about_things = matches!(cue, Cue::Photo | Cue::Measure | Cue::Show | Cue::Concern);
        (about_things || !things).then_some(cue)
    }

    /// The command that a piece after the last pause is.
    pub fn tail_command(&self, flat: &[Flat]) -> Option<Cue> {
        self.command(flat)
    }

    /// The command that a whole saying is, courtesy left away at both ends.
    fn command(&self, flat: &[Flat]) -> Option<Cue> {
        let words: Vec<u32> = flat.iter().map(|f| f.word).collect();
        if let Some(cue) = self.commands.get(&words) {
            return Some(*cue);
        }
        if words.len() > 16 {
            return None;
        }
        // Courtesy at the front may be long ("can you please"), at the end short ("please").
        let mut fronts = vec![0];
        let mut at = 0;
        while at < fronts.len() {
            let from = fronts.get(at).copied().unwrap_or(0);
            let mut count = 1;
            while from + count <= words.len() {
                if self.is_polite(words.get(from..from + count).unwrap_or(&[]))
                    && !fronts.contains(&(from + count))
                {
                    fronts.push(from + count);
                }
                count += 1;
                if count > 5 {
                    break;
                }
            }
            at += 1;
        }
        let mut ends = vec![words.len()];
        let mut at = 0;
        while at < ends.len() {
            let to = ends.get(at).copied().unwrap_or(0);
            for count in 1..=3 {
                if to >= count
                    && self.is_polite(words.get(to - count..to).unwrap_or(&[]))
                    && !ends.contains(&(to - count))
                {
                    ends.push(to - count);
                }
            }
            at += 1;
        }
        let mut best: Option<(usize, Cue)> = None;
        for from in &fronts {
            for to in &ends {
                if from < to
                    && let Some(cue) = self.commands.get(words.get(*from..*to).unwrap_or(&[]))
                    && best.is_none_or(|(length, _)| to - from > length)
                {
                    best = Some((to - from, *cue));
                }
            }
        }
        best.map(|(_, cue)| cue)
    }

    /// The command that the beginning of a saying is, with up to eight words of anything behind it
    /// but numbers: "measure the crack on the left flap".
    fn command_head(&self, tokens: &[Token], flat: &[Flat]) -> Option<Cue> {
        let words: Vec<u32> = flat.iter().map(|f| f.word).collect();
        if words.len() > 16 {
            return None;
        }
        let mut from = 0;
        while from < words.len() {
            for count in (1..=6).rev() {
                let tail = words.len().saturating_sub(from + count);
                if (1..=8).contains(&tail)
                    && let Some(cue) = self
                        .command_heads
                        .get(words.get(from..from + count).unwrap_or(&[]))
                {
                    let counted = flat.iter().skip(from + count).any(|f| {
                        self.numbers.parse(tokens, f.token).is_some_and(|n| {
                            !matches!(n.form, Form::Article | Form::Ordinal | Form::BareFraction)
                        })
                    });
                    return (!counted).then_some(*cue);
                }
            }
            let courtesy = (1..=5)
                .rev()
                .find(|n| self.is_polite(words.get(from..from + n).unwrap_or(&[])))?;
            from += courtesy;
        }
        None
    }

    fn is_polite(&self, words: &[u32]) -> bool {
        let flat: Vec<Flat> = words.iter().map(|w| Flat { word: *w, token: 0 }).collect();
        self.polite
            .longest(&flat, 0)
            .is_some_and(|(count, _)| count == words.len())
    }
}
