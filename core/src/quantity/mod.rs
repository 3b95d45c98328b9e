//! Exact quantities: rationals, units, and how many digits an uncertainty allows.

mod rational;
mod show;
mod unit;

pub use rational::Rational;
pub use show::{Shown, show, show_as, show_said};
pub use unit::{Dimension, Unit};

use std::str::FromStr;

use crate::error::{Error, ErrorKind, Result};

/// A value with its unit, exact: `9/4 in`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
pub struct Amount {
    /// The number.
    pub value: Rational,
    /// Its unit.
    pub unit: Unit,
}

impl Amount {
    /// The same amount in another unit, exact. Errors as [`Unit::convert`].
    pub fn to(&self, unit: Unit) -> Result<Amount> {
        Ok(Amount {
            value: self.unit.convert(&self.value, unit)?,
            unit,
        })
    }
}

impl std::fmt::Display for Amount {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{} {}", self.value, self.unit)
    }
}

impl FromStr for Amount {
    type Err = Error;

    /// Reads `2 1/4 in`, `1.6 in`, `3 drips/min`, `15 %`, `2.25in`. A number without a unit is refused.
    fn from_str(text: &str) -> Result<Self> {
        let trimmed = text.trim();
        let end = trimmed
            .char_indices()
            .find(|(_, c)| !(c.is_ascii_digit() || matches!(c, '.' | '/' | '-' | ' ')))
            .map_or(trimmed.len(), |(index, _)| index);
        let (number, unit) = trimmed.split_at(end);
        if unit.trim().is_empty() {
            return Err(Error::new(
                ErrorKind::BadValue,
                format!("\"{}\" has no unit", crate::datafile::short(trimmed)),
            )
            .hint("write the unit too: 2 1/4 in, 57 mm, 3 drips/min"));
        }
        Ok(Self {
            value: number.parse()?,
            unit: unit.parse()?,
        })
    }
}
