//! Numbers as people say and type them, to exact rationals.
//!
//! Inch fractions are the reason this exists: `two and three thirty-seconds`, `2-1/4`, `thirty one
//! thou`, `3 16ths`, `point oh three oh`. General libraries turn "two thirty seconds" into 2 and 30.

use std::collections::HashMap;

use super::token::{Shape, Token};
use super::words::Words;
use crate::quantity::Rational;

/// An exact value with the denominator it was said with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Said {
    pub value: Rational,
    /// Denominator as said, for fractions; `None` for whole numbers and decimals.
    pub bottom: Option<i128>,
}

impl Said {
    pub fn whole(value: i64) -> Self {
        Self {
            value: Rational::whole(value),
            bottom: None,
        }
    }

    pub fn fraction(top: i128, bottom: i128) -> Option<Self> {
        Some(Self {
            value: Rational::new(top, bottom)?,
            bottom: Some(bottom),
        })
    }

    /// `self + other`, keeping a denominator that can show both.
    pub fn plus(&self, other: &Self) -> Option<Self> {
        Some(Self {
            value: self.value.add(&other.value)?,
            bottom: match (self.bottom, other.bottom) {
                (None, b) => b,
                (a, None) => a,
                (Some(a), Some(b)) if a % b == 0 => Some(a),
                (Some(a), Some(b)) if b % a == 0 => Some(b),
                _ => None,
            },
        })
    }

    /// `9/4`, or `2/32` where that is what was said.
    pub fn show(&self) -> String {
        if let Some(bottom) = self.bottom
            && bottom > 1
            && self.value.denominator() != 0
            && bottom % self.value.denominator() == 0
            && let Some(top) = self
                .value
                .numerator()
                .checked_mul(bottom / self.value.denominator())
        {
            return format!("{top}/{bottom}");
        }
        self.value.to_string()
    }
}

/// How a number was put.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    /// `two`, `31`.
    Whole,
    /// `2.25`.
    Decimal,
    /// `three eighths`, `half`.
    Fraction,
    /// `two and a quarter`.
    Mixed,
    /// `a`, `an`.
    Article,
    /// `second`, `3rd`: counts things off.
    Ordinal,
    /// A fraction word alone without an article (`third`, `eighth`): an ordinal unless a unit follows.
    BareFraction,
}

/// A number in a row of tokens.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Number {
    /// First token.
    pub first: usize,
    /// One past the last token.
    pub end: usize,
    pub said: Said,
    pub form: Form,
    /// `a couple of`.
    pub vague: bool,
    /// Another reading that takes more words: digit by digit, `one twenty-five` as 125.
    pub joined: Option<(usize, Said)>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Word {
    Digit(i64),
    Teen(i64),
    Tens(i64),
    Scale(i64),
    Point,
    And,
    Article,
    /// Denominator or ordinal.
    Nth(i64),
    /// Ends a compound ordinal only (`first`, `second`).
    NthEnd(i64),
    Vague(i64),
    Of,
}

/// Number words of a language, ready for look-up.
#[derive(Debug, Clone)]
pub(crate) struct Numbers {
    pub(super) words: HashMap<String, Vec<Word>>,
    pub(super) shop: Vec<i64>,
}

impl Numbers {
    pub fn new(words: &Words) -> Self {
        let mut map: HashMap<String, Vec<Word>> = HashMap::new();
        let n = &words.numbers;
        let mut add = |word: &str, what: Word| map.entry(word.to_owned()).or_default().push(what);
        for (word, value) in &n.cardinals {
            let what = match value {
                0..=9 => Word::Digit(*value),
                10..=19 => Word::Teen(*value),
                _ => Word::Tens(*value),
            };
            add(word, what);
        }
        for (word, value) in &n.scales {
            add(word, Word::Scale(*value));
        }
        for (word, value) in &n.ordinals {
            add(word, Word::Nth(*value));
        }
        for (word, value) in &n.ordinal_ends {
            add(word, Word::NthEnd(*value));
        }
        for word in &n.point {
            add(word, Word::Point);
        }
        for word in &n.and {
            add(word, Word::And);
        }
        for word in &n.article {
            add(word, Word::Article);
        }
        for (word, value) in &n.vague {
            add(word, Word::Vague(*value));
        }
        for word in &n.of {
            add(word, Word::Of);
        }
        Self {
            words: map,
            shop: n.shop_denominators.clone(),
        }
    }

    /// The number that starts at token `at`.
    pub fn parse(&self, tokens: &[Token], at: usize) -> Option<Number> {
        let token = tokens.get(at)?;
        let done = |end: usize, said: Said, form: Form| {
            Some(Number {
                first: at,
                end,
                said,
                form,
                vague: false,
                joined: None,
            })
        };
        match token.shape {
            Shape::Fraction(top, bottom) => {
                return done(at + 1, Said::fraction(top, bottom)?, Form::Fraction);
            }
            Shape::Ordinal => {
                let value: i64 = token.text.parse().ok()?;
                return done(at + 1, Said::fraction(1, value.into())?, Form::Ordinal);
            }
            Shape::Mark(_) => return None,
            Shape::Digits | Shape::Word => {}
        }
        // "point oh three oh"
        if self.point(tokens, at) {
            let (digits, end) = self.decimals(tokens, at + 1)?;
            return done(end, decimal("0", &digits)?, Form::Decimal);
        }
        // "a couple", "couple of"
        let vague_at = if self.article(tokens, at) { at + 1 } else { at };
        if let Some(value) = self.is(tokens, vague_at, |w| match w {
            Word::Vague(n) => Some(n),
            _ => None,
        }) {
            let end = if self.of(tokens, vague_at + 1) {
                vague_at + 2
            } else {
                vague_at + 1
            };
            let mut number = done(end, Said::whole(value), Form::Whole)?;
            number.vague = value == 2;
            return Some(number);
        }
        let (whole, next, form) = if token.shape == Shape::Digits {
            if self.compound_nth(tokens, at).is_some() && token.text == "30" {
                // "30 seconds" alone is a time, never a size: the caller asks.
                return done(at + 1, Said::whole(30), Form::Whole);
            }
            let value: Rational = token.text.parse().ok()?;
            if token.text.contains('.') {
                return done(
                    at + 1,
                    Said {
                        value,
                        bottom: None,
                    },
                    Form::Decimal,
                );
            }
            (i64::try_from(value.numerator()).ok()?, at + 1, Form::Whole)
        } else if let Some((value, next)) = self.cardinal(tokens, at) {
            (value, next, Form::Whole)
        } else if self.article(tokens, at) {
            (1, at + 1, Form::Article)
        } else if let Some((bottom, end)) = self.bottom(tokens, at, false) {
            // "half", "quarter", "sixteenth": without an article
            let said = Said::fraction(1, bottom.into())?;
            let form = if bottom == 2
                || bottom == 4 && tokens.get(at).is_some_and(|t| t.text.starts_with('q'))
            {
                Form::Fraction
            } else {
                Form::BareFraction
            };
            return done(end, said, form);
        } else {
            return None;
        };
        // "two point five"
        if form == Form::Whole
            && self.point(tokens, next)
            && let Some((digits, end)) = self.decimals(tokens, next + 1)
        {
            return done(end, decimal(&whole.to_string(), &digits)?, Form::Decimal);
        }
        let (tail, glued) = Self::glue(tokens, next);
        // "2 1/4", "2-1/4"
        if form == Form::Whole
            && let Some(Shape::Fraction(top, bottom)) = tokens.get(tail).map(|t| t.shape)
            && top < bottom
        {
            let said = Said::whole(whole).plus(&Said::fraction(top, bottom)?)?;
            return done(tail + 1, said, Form::Mixed);
        }
        // "three eighths", "a sixteenth", "3 16ths", "three-quarter"
        if let Some((bottom, end)) = self.bottom(tokens, tail, true)
            && !(form == Form::Whole && glued && whole >= 20 && bottom < 10)
        {
            let said = Said::fraction(whole.into(), bottom.into())?;
            return done(end, said, Form::Fraction);
        }
        if form == Form::Article {
            return done(next, Said::whole(1), Form::Article);
        }
        // "two and a quarter", "2 and 1/4", "two and three eighths", "one-and-a-half"
        let and_at = tail;
        if self.and(tokens, and_at) {
            let (start, _) = Self::glue(tokens, and_at + 1);
            if let Some((said, end)) = self.proper(tokens, start) {
                return done(end, Said::whole(whole).plus(&said)?, Form::Mixed);
            }
        }
        // "one half" was read above; "two half" is not a number.
        let mut number = done(next, Said::whole(whole), form)?;
        number.joined = self.joined(tokens, at, whole, next);
        Some(number)
    }

    /// A fraction below one: `a quarter`, `three eighths`, `half`, `1/4`.
    pub fn proper(&self, tokens: &[Token], at: usize) -> Option<(Said, usize)> {
        let token = tokens.get(at)?;
        if let Shape::Fraction(top, bottom) = token.shape {
            return (top < bottom)
                .then(|| Said::fraction(top, bottom))
                .flatten()
                .map(|said| (said, at + 1));
        }
        let (top, next) = if self.article(tokens, at) {
            (1, at + 1)
        } else if token.shape == Shape::Digits {
            (token.text.parse::<i64>().ok()?, at + 1)
        } else if let Some((top, next)) = self.below_thousand(tokens, at, false) {
            (top, next)
        } else {
            (1, at)
        };
        let (next, _) = Self::glue(tokens, next);
        let (bottom, end) = self.bottom(tokens, next, next > at)?;
        (top < bottom)
            .then(|| Said::fraction(top.into(), bottom.into()))
            .flatten()
            .map(|said| (said, end))
    }

    /// `two eight` as 28, `one twenty-five` as 125, `twenty three forty five` as 2345.
    pub(super) fn joined(
        &self,
        tokens: &[Token],
        at: usize,
        whole: i64,
        next: usize,
    ) -> Option<(usize, Said)> {
        if tokens.get(at).is_some_and(|t| t.shape == Shape::Digits) {
            return None;
        }
        let mut end = at;
        let mut value = 0i64;
        let mut count = 0;
        while let Some(digit) = self.digit(tokens, end) {
            value = value.checked_mul(10)?.checked_add(digit)?;
            end += 1;
            count += 1;
            if count > 6 {
                return None;
            }
        }
        if count >= 2 {
            // "two three four five point six"
            if self.point(tokens, end)
                && let Some((digits, after)) = self.decimals(tokens, end + 1)
            {
                return Some((after, decimal(&value.to_string(), &digits)?));
            }
            return Some((end, Said::whole(value)));
        }
        if !(1..100).contains(&whole) || next - at > 3 {
            return None;
        }
        let mut value = whole;
        let mut end = next;
        let mut groups = 1;
        while groups < 3 {
            if self.digit(tokens, end) == Some(0)
                && let Some(digit) = self.digit(tokens, end + 1)
            {
                value = value * 100 + digit;
                end += 2;
            } else if let Some((two, after)) = self.below_hundred(tokens, end, false)
                && two >= 10
            {
                value = value * 100 + two;
                end = after;
            } else {
                break;
            }
            groups += 1;
        }
        if groups == 1 {
            return None;
        }
        // "eighteen ninety four point two": an hour meter is read so.
        if self.point(tokens, end)
            && let Some((digits, after)) = self.decimals(tokens, end + 1)
        {
            return Some((after, decimal(&value.to_string(), &digits)?));
        }
        Some((end, Said::whole(value)))
    }
}

fn decimal(whole: &str, digits: &str) -> Option<Said> {
    Some(Said {
        value: format!("{whole}.{digits}").parse().ok()?,
        bottom: None,
    })
}

#[cfg(test)]
mod tests {
    use super::super::token::tokens;
    use super::*;

    fn read(text: &str) -> (String, usize) {
        let words = Words::built_in("en").unwrap();
        let numbers = Numbers::new(&words);
        let tokens = tokens(text);
        let number = numbers
            .parse(&tokens, 0)
            .unwrap_or_else(|| panic!("{text}"));
        (number.said.show(), tokens.len() - number.end)
    }

    #[test]
    fn every_way_of_saying_a_fraction() {
        for (text, value) in [
            ("two and a quarter", "9/4"),
            ("2 1/4", "9/4"),
            ("2-1/4", "9/4"),
            ("2¼", "9/4"),
            ("2 and 1/4", "9/4"),
            ("two thirty-seconds", "2/32"),
            ("two thirty seconds", "2/32"),
            ("3 30 seconds", "3/32"),
            ("three sixty-fourths", "3/64"),
            ("seven sixty fourths", "7/64"),
            ("a sixteenth", "1/16"),
            ("one sixteenth", "1/16"),
            ("1 16th", "1/16"),
            ("3 16ths", "3/16"),
            ("3/16ths", "3/16"),
            ("a thirty-second", "1/32"),
            ("five and three thirty-seconds", "163/32"),
            ("three-quarter", "3/4"),
            ("three quarters", "3/4"),
            ("one-and-a-half", "3/2"),
            ("one and one half", "3/2"),
            ("half", "1/2"),
            ("a half", "1/2"),
            ("three twenty fourths", "3/24"),
            ("five ten-thousandths", "5/10000"),
            // 200 and 5/32: "and" before a fraction adds, as it does in "two and a quarter"
            ("two hundred and five thirty-seconds", "6405/32"),
            ("one hundred thirty-seconds", "100/32"),
            ("fifteen hundredths", "15/100"),
            ("sixty two and a half", "125/2"),
        ] {
            assert_eq!(read(text), (value.to_owned(), 0), "{text}");
        }
    }

    #[test]
    fn an_hour_meter_is_read_in_pairs() {
        let words = Words::built_in("en").unwrap();
        let numbers = Numbers::new(&words);
        for (text, value) in [
            ("eighteen ninety four point two", "9471/5"),
            ("twenty three oh five point six", "11528/5"),
            ("twenty three forty five", "2345"),
        ] {
            let tokens = tokens(text);
            let (end, said) = numbers.parse(&tokens, 0).unwrap().joined.unwrap();
            assert_eq!((said.show().as_str(), end), (value, tokens.len()), "{text}");
        }
    }

    #[test]
    fn cardinals_and_decimals() {
        for (text, value) in [
            ("nine thousand, nine hundred and ninety-nine", "9999"),
            ("nine thousand nine hundred ninety-nine", "9999"),
            ("a hundred and twenty five", "125"),
            ("twelve hundred", "1200"),
            ("point oh three oh", "3/100"),
            ("zero point two five", "1/4"),
            ("two point five", "5/2"),
            ("1.125", "9/8"),
            (".030", "3/100"),
            ("one thousand and one", "1001"),
            ("ten thousand", "10000"),
            ("zero", "0"),
        ] {
            assert_eq!(read(text), (value.to_owned(), 0), "{text}");
        }
    }
}
