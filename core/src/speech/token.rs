//! Text to tokens with character positions. Nothing here knows a language.

/// What a token is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shape {
    /// Letters, apostrophes inside included (`wasn't`); a final `'s` is a token of its own.
    Word,
    /// Digits with an optional decimal part: `2`, `0.030`, `.5`, `1,200`.
    Digits,
    /// A typed fraction: `3/16`, `¼`.
    Fraction(i128, i128),
    /// Digits with an ordinal ending: `16th`, `16ths`, `2nd`.
    Ordinal,
    /// One other visible character.
    Mark(char),
}

/// A token and where it stands.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Token {
    /// First character.
    pub start: usize,
    /// One past the last character.
    pub end: usize,
    /// Lower case, plain apostrophes; for digits without thousands separators.
    pub text: String,
    /// What it is made of.
    pub shape: Shape,
    /// White space stands before it.
    pub spaced: bool,
}

impl Token {
    /// True for this punctuation mark.
    pub fn is_mark(&self, mark: char) -> bool {
        self.shape == Shape::Mark(mark)
    }

    /// A hyphen between two tokens without spaces, as in `thirty-second`.
    pub fn is_word(&self) -> bool {
        self.shape == Shape::Word
    }
}

/// The written single-character fractions of Unicode (Number Forms and Latin-1).
fn vulgar(c: char) -> Option<(i128, i128)> {
    Some(match c {
        '¼' => (1, 4),
        '½' => (1, 2),
        '¾' => (3, 4),
        '⅐' => (1, 7),
        '⅑' => (1, 9),
        '⅒' => (1, 10),
        '⅓' => (1, 3),
        '⅔' => (2, 3),
        '⅕' => (1, 5),
        '⅖' => (2, 5),
        '⅗' => (3, 5),
        '⅘' => (4, 5),
        '⅙' => (1, 6),
        '⅚' => (5, 6),
        '⅛' => (1, 8),
        '⅜' => (3, 8),
        '⅝' => (5, 8),
        '⅞' => (7, 8),
        _ => return None,
    })
}

fn apostrophe(c: char) -> bool {
    matches!(c, '\'' | '\u{2019}' | '\u{2018}' | '\u{02bc}')
}

/// Marks that mean one of ours: primes and dashes that keyboards and recognisers produce.
fn plain(c: char) -> char {
    match c {
        '\u{2032}' | '\u{2019}' | '\u{2018}' | '\u{02bc}' => '\'',
        '\u{2033}' | '\u{201c}' | '\u{201d}' => '"',
        '\u{2013}' | '\u{2014}' | '\u{2012}' | '\u{2010}' | '\u{2011}' | '\u{2212}' => '-',
        '\u{2044}' => '/',
        other => other,
    }
}

/// A letter, or a mark that belongs to the letter before it.
fn letter(c: char) -> bool {
    c.is_alphabetic() || ('\u{0300}'..='\u{036f}').contains(&c)
}

/// Longest run of digits taken as a number; longer ones are somebody's serial number.
const LONGEST_NUMBER: usize = 12;

/// Splits `text`; one pass, linear in its length.
pub(crate) fn tokens(text: &str) -> Vec<Token> {
    let chars: Vec<char> = text.chars().collect();
    let mut out: Vec<Token> = Vec::new();
    let mut at = 0;
    let mut spaced = true;
    let peek = |i: usize| chars.get(i).copied().unwrap_or(' ');
    let digit = |i: usize| peek(i).is_ascii_digit();
    while at < chars.len() {
        let c = peek(at);
        if c.is_whitespace() || c.is_control() {
            spaced = true;
            at += 1;
            continue;
        }
        let start = at;
        if c.is_ascii_digit() || (c == '.' && digit(at + 1) && (at == 0 || !letter(peek(at - 1)))) {
            at = number(&chars, at, &mut out, spaced);
        } else if letter(c) {
            while at < chars.len()
                && (letter(peek(at)) || (apostrophe(peek(at)) && letter(peek(at + 1))))
            {
                at += 1;
            }
            word(&chars, start, at, &mut out, spaced);
        } else {
            at += 1;
            let shape = match vulgar(c) {
                Some((top, bottom)) => Shape::Fraction(top, bottom),
                None => Shape::Mark(plain(c)),
            };
            // Two single quotes after a number are how some people type inches.
            if shape == Shape::Mark('\'') && plain(peek(at)) == '\'' {
                at += 1;
                out.push(Token {
                    start,
                    end: at,
                    text: "\"".into(),
                    shape: Shape::Mark('"'),
                    spaced,
                });
            } else {
                out.push(Token {
                    start,
                    end: at,
                    text: plain(c).to_string(),
                    shape,
                    spaced,
                });
            }
        }
        spaced = false;
    }
    out
}

fn word(chars: &[char], start: usize, end: usize, out: &mut Vec<Token>, spaced: bool) {
    let part = |from: usize, to: usize| -> String {
        chars
            .get(from..to)
            .unwrap_or(&[])
            .iter()
            .flat_map(|c| c.to_lowercase())
            .map(plain)
            .collect()
    };
    let whole = part(start, end);
    let split = end.saturating_sub(2);
    if whole.ends_with("'s") && split > start {
        let mut push = |from: usize, to: usize, spaced: bool| {
            out.push(Token {
                start: from,
                end: to,
                text: part(from, to),
                shape: Shape::Word,
                spaced,
            });
        };
        push(start, split, spaced);
        push(split, end, false);
        return;
    }
    out.push(Token {
        start,
        end,
        text: whole,
        shape: Shape::Word,
        spaced,
    });
}

/// Reads a number that starts at `at` and returns where it ends.
fn number(chars: &[char], start: usize, out: &mut Vec<Token>, spaced: bool) -> usize {
    let peek = |i: usize| chars.get(i).copied().unwrap_or(' ');
    let digit = |i: usize| peek(i).is_ascii_digit();
    let run = |from: usize| {
        let mut i = from;
        while digit(i) {
            i += 1;
        }
        i
    };
    let text = |from: usize, to: usize| -> String {
        chars
            .get(from..to)
            .unwrap_or(&[])
            .iter()
            .filter(|c| **c != ',')
            .collect()
    };
    let mut push = |to: usize, text: String, shape: Shape| {
        out.push(Token {
            start,
            end: to,
            text,
            shape,
            spaced,
        });
    };
    let mut end = run(start);
    // 3/16 and 3⁄16
    if plain(peek(end)) == '/' && digit(end + 1) && end > start {
        let bottom_end = run(end + 1);
        let long = end - start > LONGEST_NUMBER || bottom_end - end > LONGEST_NUMBER;
        let top = text(start, end).parse::<i128>();
        let bottom = text(end + 1, bottom_end).parse::<i128>();
        if let (false, Ok(top), Ok(bottom)) = (long, top, bottom)
            && bottom != 0
            && plain(peek(bottom_end)) != '/'
        {
            let mut stop = bottom_end;
            // 3/16ths, 1/8th, 5/8s
            for ending in ["ths", "th", "nds", "nd", "rds", "rd", "s"] {
                let n = ending.len();
                let tail: String = text(stop, stop + n).to_lowercase();
                if tail == ending && !letter(peek(stop + n)) {
                    stop += n;
                    break;
                }
            }
            push(stop, text(start, stop), Shape::Fraction(top, bottom));
            return stop;
        }
    }
    // 1,200 but not 1,2
    while peek(end) == ','
        && digit(end + 1)
        && digit(end + 2)
        && digit(end + 3)
        && !digit(end + 4)
        && end - start <= 9
    {
        end += 4;
    }
    if peek(end) == '.' && digit(end + 1) {
        end = run(end + 1);
    }
    for ending in ["ths", "th", "nds", "nd", "rds", "rd", "st"] {
        let n = ending.len();
        let tail: String = text(end, end + n).to_lowercase();
        if tail == ending && !letter(peek(end + n)) {
            push(end + n, text(start, end), Shape::Ordinal);
            return end + n;
        }
    }
    if end - start > LONGEST_NUMBER {
        push(end, text(start, end), Shape::Mark('#'));
    } else {
        push(end, text(start, end), Shape::Digits);
    }
    end
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shapes(text: &str) -> Vec<(String, Shape)> {
        tokens(text)
            .into_iter()
            .map(|t| (t.text, t.shape))
            .collect()
    }

    #[test]
    fn positions_are_characters_not_bytes() {
        let found = tokens("é ½ spat");
        assert_eq!((found[2].start, found[2].end), (4, 8));
        assert_eq!(found[1].shape, Shape::Fraction(1, 2));
    }

    #[test]
    fn typed_numbers() {
        assert_eq!(
            shapes("2 1/4\" 3/16ths 1,200 .030in 16ths 2mm"),
            vec![
                ("2".into(), Shape::Digits),
                ("1/4".into(), Shape::Fraction(1, 4)),
                ("\"".into(), Shape::Mark('"')),
                ("3/16ths".into(), Shape::Fraction(3, 16)),
                ("1200".into(), Shape::Digits),
                (".030".into(), Shape::Digits),
                ("in".into(), Shape::Word),
                ("16".into(), Shape::Ordinal),
                ("2".into(), Shape::Digits),
                ("mm".into(), Shape::Word),
            ]
        );
    }

    #[test]
    fn possessives_split_and_contractions_do_not() {
        assert_eq!(
            shapes("cowl’s isn't"),
            vec![
                ("cowl".into(), Shape::Word),
                ("'s".into(), Shape::Word),
                ("isn't".into(), Shape::Word),
            ]
        );
    }

    #[test]
    fn dates_with_two_slashes_are_not_fractions() {
        assert!(
            !tokens("12/5/2024")
                .iter()
                .any(|t| matches!(t.shape, Shape::Fraction(12, 5)))
        );
    }
}
