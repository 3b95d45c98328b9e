//! Number words one by one: digits, tens, denominators, cardinals, decimals.

use super::number::{Numbers, Word};
use super::token::{Shape, Token};

impl Numbers {
    pub(super) fn is(
        &self,
        tokens: &[Token],
        at: usize,
        test: impl Fn(Word) -> Option<i64>,
    ) -> Option<i64> {
        let token = tokens.get(at)?;
        if !token.is_word() {
            return None;
        }
        self.words
            .get(&token.text)?
            .iter()
            .find_map(|word| test(*word))
    }

    pub(super) fn digit(&self, tokens: &[Token], at: usize) -> Option<i64> {
        self.is(tokens, at, |w| match w {
            Word::Digit(n) => Some(n),
            _ => None,
        })
    }

    pub(super) fn teen(&self, tokens: &[Token], at: usize) -> Option<i64> {
        self.is(tokens, at, |w| match w {
            Word::Teen(n) => Some(n),
            _ => None,
        })
    }

    pub(super) fn tens(&self, tokens: &[Token], at: usize) -> Option<i64> {
        self.is(tokens, at, |w| match w {
            Word::Tens(n) => Some(n),
            _ => None,
        })
    }

    pub(super) fn scale(&self, tokens: &[Token], at: usize) -> Option<i64> {
        self.is(tokens, at, |w| match w {
            Word::Scale(n) => Some(n),
            _ => None,
        })
    }

    pub(super) fn nth(&self, tokens: &[Token], at: usize) -> Option<i64> {
        self.is(tokens, at, |w| match w {
            // thousandths are a unit of the trade; they end a denominator only ("ten-thousandth")
            Word::Nth(n) if n != 1000 => Some(n),
            _ => None,
        })
    }

    pub(super) fn nth_any(&self, tokens: &[Token], at: usize) -> Option<i64> {
        self.is(tokens, at, |w| match w {
            Word::Nth(n) | Word::NthEnd(n) => Some(n),
            _ => None,
        })
    }

    pub fn article(&self, tokens: &[Token], at: usize) -> bool {
        self.is(tokens, at, |w| (w == Word::Article).then_some(1))
            .is_some()
    }

    pub fn and(&self, tokens: &[Token], at: usize) -> bool {
        self.is(tokens, at, |w| (w == Word::And).then_some(1))
            .is_some()
    }

    pub fn of(&self, tokens: &[Token], at: usize) -> bool {
        self.is(tokens, at, |w| (w == Word::Of).then_some(1))
            .is_some()
    }

    pub(super) fn point(&self, tokens: &[Token], at: usize) -> bool {
        self.is(tokens, at, |w| (w == Word::Point).then_some(1))
            .is_some()
    }

    /// Skips a hyphen without spaces; says whether there was one.
    pub(super) fn glue(tokens: &[Token], at: usize) -> (usize, bool) {
        let hyphen = tokens.get(at).is_some_and(|t| t.is_mark('-') && !t.spaced)
            && tokens.get(at + 1).is_some_and(|t| !t.spaced);
        if hyphen { (at + 1, true) } else { (at, false) }
    }

    /// `thirty-second`, `sixty fourths`: a two-word denominator that starts at `at`.
    pub(super) fn compound_nth(&self, tokens: &[Token], at: usize) -> Option<(i64, usize)> {
        let tens = match self.tens(tokens, at) {
            Some(tens) => tens,
            None => {
                let token = tokens.get(at)?;
                match (token.shape, token.text.as_str()) {
                    // A recogniser that writes digits: "3 30 seconds", "5 60 fourths".
                    (Shape::Digits, "30") => 30,
                    (Shape::Digits, "60") => 60,
                    _ => return None,
                }
            }
        };
        let (next, glued) = Self::glue(tokens, at + 1);
        let last = self.nth_any(tokens, next)?;
        let shop = self.shop.contains(&(tens + last));
        ((1..=9).contains(&last) && (glued || shop)).then_some((tens + last, next + 1))
    }

    /// A denominator at `at`: value and the token after it.
    pub(super) fn bottom(
        &self,
        tokens: &[Token],
        at: usize,
        counted: bool,
    ) -> Option<(i64, usize)> {
        let token = tokens.get(at)?;
        if token.shape == Shape::Ordinal {
            let value: i64 = token.text.parse().ok()?;
            return (value > 2).then_some((value, at + 1));
        }
        if let Some(found) = self.compound_nth(tokens, at) {
            return Some(found);
        }
        if let Some(value) = self.nth(tokens, at) {
            return Some((value, at + 1));
        }
        if !counted {
            return None;
        }
        // "three twenty fourths", "five ten-thousandths", "a hundred and twenty-eighth".
        let (head, next) = self.below_thousand(tokens, at, true)?;
        let (next, _) = Self::glue(tokens, next);
        if let Some((tail, end)) = self.compound_nth(tokens, next)
            && head % 100 == 0
        {
            return Some((head + tail, end));
        }
        let after_and = if self.and(tokens, next) {
            next + 1
        } else {
            next
        };
        if head % 100 == 0
            && let Some((tail, end)) = self
                .compound_nth(tokens, after_and)
                .or_else(|| self.nth_any(tokens, after_and).map(|n| (n, after_and + 1)))
            && tail < 100
        {
            return Some((head + tail, end));
        }
        let last = self.nth_any(tokens, next)?;
        match last {
            100 | 1000 => Some((head.checked_mul(last)?, next + 1)),
            1..=9 if (20..100).contains(&head) && head % 10 == 0 => Some((head + last, next + 1)),
            _ => None,
        }
    }

    /// A cardinal below 1,000. With `whole_words` it does not stop before a compound denominator.
    pub(super) fn below_thousand(
        &self,
        tokens: &[Token],
        at: usize,
        whole_words: bool,
    ) -> Option<(i64, usize)> {
        let (mut value, mut next) = self.below_hundred(tokens, at, whole_words)?;
        let (hundred_at, _) = Self::glue(tokens, next);
        if self.scale(tokens, hundred_at) == Some(100) && (1..100).contains(&value) {
            value *= 100;
            next = hundred_at + 1;
            let (mut tail_at, _) = Self::glue(tokens, next);
            if self.and(tokens, tail_at) {
                tail_at += 1;
                // "a hundred and a half" is not 100 and something below 100.
            }
            let (tail_at, _) = Self::glue(tokens, tail_at);
            if let Some((tail, end)) = self.below_hundred(tokens, tail_at, false)
                && tail > 0
                && (tail_at == next || !self.starts_fraction(tokens, tail_at, end))
            {
                value += tail;
                next = end;
            }
        }
        Some((value, next))
    }

    /// After `and`: does the number at `at` (ending at `end`) belong to a fraction (`three eighths`)?
    pub(super) fn starts_fraction(&self, tokens: &[Token], at: usize, end: usize) -> bool {
        let (next, _) = Self::glue(tokens, end);
        self.bottom(tokens, next, false).is_some() || self.compound_nth(tokens, at).is_some()
    }

    pub(super) fn below_hundred(
        &self,
        tokens: &[Token],
        at: usize,
        whole_words: bool,
    ) -> Option<(i64, usize)> {
        if let Some(digit) = self.digit(tokens, at) {
            return Some((digit, at + 1));
        }
        if let Some(teen) = self.teen(tokens, at) {
            return Some((teen, at + 1));
        }
        if !whole_words && self.compound_nth(tokens, at).is_some() {
            return None;
        }
        let tens = self.tens(tokens, at)?;
        let (next, _) = Self::glue(tokens, at + 1);
        match self.digit(tokens, next) {
            Some(digit) if digit > 0 => Some((tens + digit, next + 1)),
            _ => Some((tens, at + 1)),
        }
    }

    /// A cardinal in words: `nine thousand, nine hundred and ninety-nine`.
    pub(super) fn cardinal(&self, tokens: &[Token], at: usize) -> Option<(i64, usize)> {
        let article = self.article(tokens, at);
        let (mut value, mut next) = if article {
            let scale = self.scale(tokens, at + 1)?;
            let mut value = scale;
            let mut next = at + 2;
            if scale == 100 {
                let tail_at = if self.and(tokens, next) {
                    next + 1
                } else {
                    next
                };
                if let Some((tail, end)) = self.below_hundred(tokens, tail_at, false)
                    && !self.starts_fraction(tokens, tail_at, end)
                {
                    value += tail;
                    next = end;
                }
            }
            (value, next)
        } else {
            match self.scale(tokens, at) {
                // "hundred and ten"
                Some(scale) if self.digit(tokens, at.wrapping_sub(1)).is_none() => (scale, at + 1),
                _ => self.below_thousand(tokens, at, false)?,
            }
        };
        while let Some(scale) = self.scale(tokens, Self::glue(tokens, next).0) {
            if scale < 1000 || value >= 1000 {
                break;
            }
            value = value.checked_mul(scale)?;
            next = Self::glue(tokens, next).0 + 1;
            let mut tail_at = next;
            if tokens.get(tail_at).is_some_and(|t| t.is_mark(',')) {
                tail_at += 1;
            }
            let (glued, _) = Self::glue(tokens, tail_at);
            tail_at = glued;
            if self.and(tokens, tail_at) {
                tail_at += 1;
            }
            if let Some((tail, end)) = self.below_thousand(tokens, tail_at, false)
                && tail < 1000
                && tail > 0
                && (tail_at == next || !self.starts_fraction(tokens, tail_at, end))
            {
                value = value.checked_add(tail)?;
                next = end;
            }
        }
        Some((value, next))
    }

    /// `point two five` after `at` = the token after "point": the digits and the end.
    pub(super) fn decimals(&self, tokens: &[Token], at: usize) -> Option<(String, usize)> {
        let mut digits = String::new();
        let mut next = at;
        while digits.len() < 9 {
            if let Some(digit) = self.digit(tokens, next) {
                digits.push_str(&digit.to_string());
                next += 1;
            } else if let Some((two, end)) =
                self.teen(tokens, next).map(|n| (n, next + 1)).or_else(|| {
                    self.tens(tokens, next)
                        .and_then(|_| self.below_hundred(tokens, next, true))
                })
            {
                digits.push_str(&two.to_string());
                next = end;
            } else if let Some(token) = tokens.get(next)
                && token.shape == Shape::Digits
                && !token.text.contains('.')
                && digits.is_empty()
            {
                digits.push_str(&token.text);
                next += 1;
                break;
            } else {
                break;
            }
        }
        (!digits.is_empty()).then_some((digits, next))
    }
}
