//! Exact rational numbers, written `9/4` or `2.25` and never rounded.

use std::fmt;
use std::str::FromStr;

use num_rational::Ratio;
use num_traits::{CheckedAdd, CheckedDiv, CheckedMul, CheckedSub, Signed, Zero};

use crate::error::{Error, ErrorKind, Result};

/// An exact rational in lowest terms. Arithmetic is checked: overflow is `None`, never a wrap.
///
/// Uses `num-rational` over `i128` (rival: big integers, refused: nothing on an aeroplane needs
/// more than 38 digits, and a bound keeps hostile input cheap).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Rational(Ratio<i128>);

impl Rational {
    /// Zero.
    pub fn zero() -> Self {
        Self(Ratio::zero())
    }

    /// `numerator / denominator`, reduced; `None` for a denominator of zero.
    pub fn new(numerator: i128, denominator: i128) -> Option<Self> {
        if denominator == 0 || denominator == i128::MIN || numerator == i128::MIN {
            return None;
        }
        Some(Self(Ratio::new(numerator, denominator)))
    }

    /// A whole number.
    pub fn whole(value: i64) -> Self {
        Self(Ratio::from_integer(i128::from(value)))
    }

    /// Numerator in lowest terms.
    pub fn numerator(&self) -> i128 {
        *self.0.numer()
    }

    /// Denominator in lowest terms, positive.
    pub fn denominator(&self) -> i128 {
        *self.0.denom()
    }

    /// Sum, `None` on overflow.
    pub fn add(&self, other: &Self) -> Option<Self> {
        self.0.checked_add(&other.0).map(Self)
    }

    /// Difference, `None` on overflow.
    pub fn sub(&self, other: &Self) -> Option<Self> {
        self.0.checked_sub(&other.0).map(Self)
    }

    /// Product, `None` on overflow.
    pub fn mul(&self, other: &Self) -> Option<Self> {
        self.0.checked_mul(&other.0).map(Self)
    }

    /// Quotient, `None` on overflow or division by zero.
    pub fn div(&self, other: &Self) -> Option<Self> {
        if other.0.is_zero() {
            return None;
        }
        self.0.checked_div(&other.0).map(Self)
    }

    /// True below zero.
    pub fn is_negative(&self) -> bool {
        self.0.is_negative()
    }

    /// True at zero.
    pub fn is_zero(&self) -> bool {
        self.0.is_zero()
    }

    /// Nearest double, for statistics and drawing only.
    pub fn to_f64(&self) -> f64 {
        self.numerator() as f64 / self.denominator() as f64
    }

    /// The decimal form if it ends (`9/4` → `2.25`), else `None`.
    pub fn to_decimal(&self) -> Option<String> {
        let mut rest = self.denominator();
        let mut twos = 0u32;
        let mut fives = 0u32;
        while rest % 2 == 0 {
            rest /= 2;
            twos += 1;
        }
        while rest % 5 == 0 {
            rest /= 5;
            fives += 1;
        }
        if rest != 1 {
            return None;
        }
        let places = twos.max(fives);
        let scale = 10i128.checked_pow(places)?;
        let scaled = self.numerator().checked_mul(scale / self.denominator())?;
        let digits = format!(
            "{:0width$}",
            scaled.unsigned_abs(),
            width = places as usize + 1
        );
        let (whole, fraction) = digits.split_at(digits.len() - places as usize);
        let sign = if scaled < 0 { "-" } else { "" };
        Some(if fraction.is_empty() {
            format!("{sign}{whole}")
        } else {
            format!("{sign}{whole}.{fraction}")
        })
    }
}

impl fmt::Display for Rational {
    /// `9/4`, or `3` for whole numbers.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.denominator() == 1 {
            write!(f, "{}", self.numerator())
        } else {
            write!(f, "{}/{}", self.numerator(), self.denominator())
        }
    }
}

impl FromStr for Rational {
    type Err = Error;

    /// Reads `3`, `-3`, `2.25`, `9/4`, `2 1/4`. At most 40 characters.
    fn from_str(text: &str) -> Result<Self> {
        let bad = || {
            Error::new(
                ErrorKind::BadValue,
                format!(
                    "\"{}\" is not a number",
                    text.chars().take(40).collect::<String>()
                ),
            )
            .hint("write it as 3, 2.25, 9/4 or 2 1/4")
        };
        let trimmed = text.trim();
        if trimmed.is_empty() || trimmed.len() > 40 {
            return Err(bad());
        }
        let (negative, body) = match trimmed.strip_prefix('-') {
            Some(rest) => (true, rest.trim_start()),
            None => (false, trimmed),
        };
        let value = match body.split_once(' ') {
            Some((whole, fraction)) => {
                let whole = Self(Ratio::from_integer(digits(whole).ok_or_else(bad)?));
                let part = simple(fraction.trim()).ok_or_else(bad)?;
                if !fraction.contains('/') {
                    return Err(bad());
                }
                whole.add(&part).ok_or_else(bad)?
            }
            None => simple(body).ok_or_else(bad)?,
        };
        if negative {
            Self::zero().sub(&value).ok_or_else(bad)
        } else {
            Ok(value)
        }
    }
}

fn digits(text: &str) -> Option<i128> {
    if text.is_empty() || !text.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    text.parse().ok()
}

fn simple(text: &str) -> Option<Rational> {
    if let Some((top, bottom)) = text.split_once('/') {
        return Rational::new(digits(top)?, digits(bottom)?);
    }
    if let Some((whole, fraction)) = text.split_once('.') {
        let scale = 10i128.checked_pow(u32::try_from(fraction.len()).ok()?)?;
        let whole = if whole.is_empty() { 0 } else { digits(whole)? };
        let part = digits(fraction)?;
        return Rational::new(whole.checked_mul(scale)?.checked_add(part)?, scale);
    }
    Rational::new(digits(text)?, 1)
}

impl serde::Serialize for Rational {
    fn serialize<S: serde::Serializer>(
        &self,
        serializer: S,
    ) -> std::result::Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> serde::Deserialize<'de> for Rational {
    fn deserialize<D: serde::Deserializer<'de>>(
        deserializer: D,
    ) -> std::result::Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_every_written_form() {
        for (text, shown) in [
            ("3", "3"),
            ("2.25", "9/4"),
            ("9/4", "9/4"),
            ("2 1/4", "9/4"),
            ("-2 1/4", "-9/4"),
            (".5", "1/2"),
        ] {
            assert_eq!(text.parse::<Rational>().unwrap().to_string(), shown);
        }
        for text in ["", "1/0", "2 3", "1e5", "--1", "1/2/3", "inf", "2 .5"] {
            assert!(text.parse::<Rational>().is_err(), "{text}");
        }
    }

    #[test]
    fn decimal_only_where_it_ends() {
        assert_eq!(
            "9/4".parse::<Rational>().unwrap().to_decimal().as_deref(),
            Some("2.25")
        );
        assert_eq!(
            "-1/40".parse::<Rational>().unwrap().to_decimal().as_deref(),
            Some("-0.025")
        );
        assert_eq!("1/3".parse::<Rational>().unwrap().to_decimal(), None);
    }
}
