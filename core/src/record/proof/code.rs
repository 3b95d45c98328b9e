//! The proof code: a finish in a form that can be printed, read out and typed.
//!
//! The first 160 bits of the finish line's SHA-256 in RFC 4648 base32 (32 characters), then one
//! check character by ISO/IEC 7064 MOD 37,36, in fours. 160 bits and not fewer: the adversary holds
//! the key and could search for two chains with one short code.

use crate::error::{Error, ErrorKind, Result};
use data_encoding::BASE32_NOPAD;
use std::fmt;

/// Bytes of the digest that the code carries.
const BYTES: usize = 20;
/// Characters without the check character.
const BODY: usize = 32;
/// ISO/IEC 7064: modulus of the hybrid system MOD 37,36.
const M: u32 = 36;

/// A checked proof code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct ProofCode([u8; BYTES]);

impl ProofCode {
    /// The code of a finish line, from the line's SHA-256.
    pub fn of(digest: &[u8; 32]) -> Self {
        let mut head = [0; BYTES];
        for (to, from) in head.iter_mut().zip(digest) {
            *to = *from;
        }
        Self(head)
    }

    /// True if this is the code of the line with that SHA-256.
    pub fn fits(&self, digest: &[u8; 32]) -> bool {
        digest.starts_with(&self.0)
    }

    /// The 160 bits, first byte first.
    pub fn bytes(&self) -> &[u8; BYTES] {
        &self.0
    }

    /// Reads a code as people write it: any case, spaces and hyphens anywhere.
    ///
    /// # Errors
    /// `BadValue` naming the character or the length that is wrong; any single wrong character, and
    /// nearly every swap of two neighbours, is caught by the check character.
    pub fn parse(text: &str) -> Result<Self> {
        let mut characters = String::with_capacity(BODY + 1);
        for (position, c) in text.chars().enumerate() {
            if c.is_whitespace() || matches!(c, '-' | '\u{2010}'..='\u{2015}') {
                continue;
            }
            let c = c.to_ascii_uppercase();
            if !c.is_ascii_alphanumeric() {
                return Err(bad(format!(
                    "\"{c}\" (character {}) cannot stand in a proof code",
                    position + 1
                )));
            }
            let number = characters.len() + 1;
            if number <= BODY && matches!(c, '0' | '1' | '8' | '9') {
                let perhaps = match c {
                    '0' => "; perhaps the letter O",
                    '1' => "; perhaps the letter I",
                    '8' => "; perhaps the letter B",
                    _ => "",
                };
                return Err(bad(format!(
                    "the digit {c} (number {number}) cannot stand there{perhaps}"
                )));
            }
            if number > BODY + 1 {
                return Err(bad("it is longer than 33 letters and digits".to_owned()));
            }
            characters.push(c);
        }
        if characters.len() != BODY + 1 {
            return Err(bad(format!(
                "it has {} of 33 letters and digits",
                characters.len()
            )));
        }
        let (body, check) = characters.split_at(BODY);
        if check_character(body).is_none_or(|c| !check.starts_with(c)) {
            return Err(bad(
                "the last character does not fit the others: one or two were misread".to_owned(),
            ));
        }
        let mut head = [0; BYTES];
        match BASE32_NOPAD.decode(body.as_bytes()) {
            Ok(bytes) if bytes.len() == BYTES => head.copy_from_slice(&bytes),
            _ => return Err(bad("it is not base32".to_owned())),
        }
        Ok(Self(head))
    }

    /// The 33 characters without spaces.
    pub fn plain(&self) -> String {
        let mut text = BASE32_NOPAD.encode(&self.0);
        if let Some(check) = check_character(&text) {
            text.push(check);
        }
        text
    }
}

impl fmt::Display for ProofCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, c) in self.plain().chars().enumerate() {
            if i > 0 && i % 4 == 0 {
                f.write_str(" ")?;
            }
            write!(f, "{c}")?;
        }
        Ok(())
    }
}

impl serde::Serialize for ProofCode {
    fn serialize<S: serde::Serializer>(&self, to: S) -> std::result::Result<S::Ok, S::Error> {
        to.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for ProofCode {
    fn deserialize<D: serde::Deserializer<'de>>(from: D) -> std::result::Result<Self, D::Error> {
        let text = <std::borrow::Cow<'de, str>>::deserialize(from)?;
        Self::parse(&text).map_err(serde::de::Error::custom)
    }
}

fn bad(what: String) -> Error {
    Error::new(
        ErrorKind::BadValue,
        format!("this is not a proof code: {what}"),
    )
    .hint("compare it with the printed code, four characters at a time")
}

/// ISO/IEC 7064 hybrid system MOD 37,36: catches every single wrong character and all but one in
/// several hundred swaps of neighbours. `None` if a character is not 0-9 or A-Z.
pub fn check_character(text: &str) -> Option<char> {
    let mut p = M;
    for c in text.chars() {
        let s = (p + c.to_digit(36)?) % M;
        p = 2 * if s == 0 { M } else { s } % (M + 1);
    }
    char::from_digit((M + 1 - p) % M, 36).map(|c| c.to_ascii_uppercase())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Published identifiers that carry a MOD 37,36 character: the example of the GRid standard
    /// (A1-2425G-ABC1234002-M) and that of the ISAN user guide (0000-0001-8947-0000-8-…), both as
    /// quoted by PyPI `python-stdnum`; `tests/outside/merkle.py` compares many more.
    #[test]
    fn check_character_fits_published_identifiers() {
        assert_eq!(check_character("A12425GABC1234002"), Some('M'));
        assert_eq!(check_character("0000000189470000"), Some('8'));
        assert_eq!(check_character("a-"), None);
    }

    /// RFC 4648 section 10 gives base32 of "foobar" as MZXW6YTBOI======.
    #[test]
    fn body_is_rfc_4648_base32_of_the_first_160_bits() {
        let mut digest = [0xAA; 32];
        digest[..18].copy_from_slice(b"foobarfoobarfoobar");
        let code = ProofCode::of(&digest);
        assert!(code.plain().starts_with("MZXW6YTBOJ"));
        assert_eq!(code.plain().len(), 33);
        assert_eq!(ProofCode::parse(&code.to_string()).unwrap(), code);
        assert!(code.fits(&digest));
        digest[31] ^= 1; // beyond the 160 bits
        assert!(code.fits(&digest));
        digest[19] ^= 1;
        assert!(!code.fits(&digest));
    }

    #[test]
    fn shown_in_fours_and_read_in_any_dress() {
        let code = ProofCode::of(&[7; 32]);
        let shown = code.to_string();
        assert_eq!(shown.split(' ').count(), 9);
        assert!(shown.split(' ').take(8).all(|four| four.len() == 4));
        for dressed in [
            shown.to_lowercase(),
            shown.replace(' ', "-"),
            shown.replace(' ', ""),
            format!("  {}\n", shown.replace(' ', " \u{2013} ")),
        ] {
            assert_eq!(ProofCode::parse(&dressed).unwrap(), code, "{dressed}");
        }
    }

    #[test]
    fn mistakes_are_named() {
        let shown = ProofCode::of(&[7; 32]).plain();
        let message = |text: &str| ProofCode::parse(text).unwrap_err().what;
        assert!(message(&shown[..30]).contains("30 of 33"));
        assert!(message(&format!("{shown}A")).contains("longer"));
        assert!(message(&format!("0{}", &shown[1..])).contains("letter O"));
        assert!(message("ABC\u{e9}").contains("cannot stand"));
        assert!(message("").contains("0 of 33"));
    }

    #[test]
    fn swapped_neighbours_are_nearly_always_caught() {
        let (mut missed, mut all) = (0, 0);
        for n in 0..1000u32 {
            let code = ProofCode::of(&crate::record::Digest::of(&n.to_le_bytes()).0);
            let good: Vec<char> = code.plain().chars().collect();
            for at in 0..32 {
                let mut swapped = good.clone();
                swapped.swap(at, at + 1);
                if swapped != good {
                    all += 1;
                    missed +=
                        u32::from(ProofCode::parse(&swapped.iter().collect::<String>()).is_ok());
                }
            }
        }
        assert!(missed * 300 < all, "{missed} of {all}");
    }

    proptest::proptest! {
        #[test]
        fn one_wrong_character_is_always_caught(
            digest in proptest::array::uniform32(0u8..),
            at in 0usize..33,
            other in 0usize..36,
        ) {
            let code = ProofCode::of(&digest);
            let good: Vec<char> = code.plain().chars().collect();
            let replacement = char::from_digit(other as u32, 36).unwrap().to_ascii_uppercase();
            let mut wrong = good.clone();
            wrong[at] = replacement;
            let read = ProofCode::parse(&wrong.iter().collect::<String>());
            proptest::prop_assert_eq!(read.is_ok(), wrong == good);
        }

        #[test]
        fn any_text_is_read_or_refused(text in "\\PC{0,80}") {
            if let Ok(code) = ProofCode::parse(&text) {
                proptest::prop_assert_eq!(ProofCode::parse(&code.to_string()).unwrap(), code);
            }
        }
    }
}
