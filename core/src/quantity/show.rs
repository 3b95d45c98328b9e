//! How many digits a value may show: no more than its uncertainty carries.
//!
//! JCGM 100:2008 (GUM) 7.2.6, from memory: an uncertainty is quoted to at most two significant
//! digits, the value is rounded to the same place, and it may be fitting to round an uncertainty up
//! rather than to the nearest digit (10.47 to 11, but 28.05 to 28).

use serde::Serialize;

use super::{Rational, Unit};
use crate::error::Result;

/// A value as people read it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Shown {
    /// The value's digits.
    pub value: String,
    /// The expanded uncertainty's digits (k = 2), same place; `None` where none is known.
    pub spread: Option<String>,
    /// Unit as people write it.
    pub unit: String,
    /// True where the digits are a guess from how the number was written, since no uncertainty is known.
    pub about: bool,
    /// All of it in one line: `57.2 mm ± 1.0 mm`, `about 57 mm`.
    pub text: String,
}

/// `value ± U` with U = 2 `u`, rounded together by JCGM 100. Without `u` the value stands as it was
/// said: decimal where that ends, else a fraction.
///
/// A negative or zero `u` counts as none.
pub fn show(value: &Rational, u: Option<&Rational>, unit: Unit) -> Shown {
    let spread = u
        .filter(|u| !u.is_negative() && !u.is_zero())
        .and_then(|u| u.mul(&Rational::whole(2)));
    match spread.and_then(|spread| rounded_pair(value, &spread)) {
        Some((value, spread)) => {
            let text = format!("{} ± {}", joined(&value, unit), joined(&spread, unit));
            Shown {
                value,
                spread: Some(spread),
                unit: unit.shown().to_owned(),
                about: false,
                text,
            }
        }
        None => {
            let value = value.to_decimal().unwrap_or_else(|| mixed(value));
            let text = joined(&value, unit);
            Shown {
                value,
                spread: None,
                unit: unit.shown().to_owned(),
                about: false,
                text,
            }
        }
    }
}

/// The same, but what was said as a fraction stands as one: `2 1/4 in`, not 2.25. `as_said` is what
/// the person typed or spoke; a figure that was said with a decimal point keeps its point.
pub fn show_said(
    value: &Rational,
    u: Option<&Rational>,
    unit: Unit,
    as_said: Option<&str>,
) -> Shown {
    let shown = show(value, u, unit);
    if value.denominator() == 1 || !as_said.is_some_and(said_as_fraction) {
        return shown;
    }
    let fraction = mixed(value);
    let text = match &shown.spread {
        Some(spread) => format!("{} ± {}", joined(&fraction, unit), joined(spread, unit)),
        None => joined(&fraction, unit),
    };
    Shown {
        value: fraction,
        text,
        ..shown
    }
}

/// `2 1/4`, `2¼`, `two and a quarter`: yes; `2.25`, `two point two five`: no.
fn said_as_fraction(text: &str) -> bool {
    const WORDS: [&str; 8] = [
        "half",
        "quarter",
        "eighth",
        "sixteenth",
        "thirty-second",
        "thirtysecond",
        "sixty-fourth",
        "third",
    ];
    // The uncertainty behind the figure may be a decimal: it is not the figure.
    let figure = text
        .split("+-")
        .next()
        .unwrap_or(text)
        .split('±')
        .next()
        .unwrap_or("");
    let figure = figure.to_lowercase();
    let bytes = figure.as_bytes();
    let slash = bytes
        .windows(3)
        .any(|three| matches!(three, [a, b'/', c] if a.is_ascii_digit() && c.is_ascii_digit()));
    let point = figure.contains(" point ")
        || bytes
            .windows(2)
            .any(|two| matches!(two, [b'.', c] if c.is_ascii_digit()));
    !point
        && (slash
            || figure.contains(['½', '¼', '¾', '⅛', '⅜', '⅝', '⅞', '⅓', '⅔'])
            || WORDS.iter().any(|word| figure.contains(word)))
}

/// The same value shown in another unit on request. Without `u` the converted figure carries no more
/// than the number did as it was written (`9/4 in` is good to a quarter), and says *about*.
///
/// Errors as [`Unit::convert`].
pub fn show_as(value: &Rational, u: Option<&Rational>, unit: Unit, to: Unit) -> Result<Shown> {
    if unit == to {
        return Ok(show(value, u, unit));
    }
    let converted = unit.convert(value, to)?;
    if let Some(u) = u {
        return Ok(show(&converted, Some(&unit.convert_difference(u, to)?), to));
    }
    let step = step_of(value);
    let step = unit.convert_difference(&step, to)?;
    // The last digit kept is the largest power of ten that is not coarser than the written step.
    let mut place = exponent(&step).unwrap_or(0);
    if place > 30 {
        place = 30;
    }
    let digits = at_place(&converted, place).unwrap_or_else(|| mixed(&converted));
    let text = format!("about {}", joined(&digits, to));
    Ok(Shown {
        value: digits,
        spread: None,
        unit: to.shown().to_owned(),
        about: true,
        text,
    })
}

fn joined(digits: &str, unit: Unit) -> String {
    match unit.shown() {
        "" => digits.to_owned(),
        "°" => format!("{digits}°"),
        symbol => format!("{digits} {symbol}"),
    }
}

/// `2 1/4` for 9/4: how the trade writes a fraction.
fn mixed(value: &Rational) -> String {
    let (top, bottom) = (value.numerator(), value.denominator());
    let (whole, rest) = (top / bottom, (top % bottom).abs());
    match (whole, rest) {
        (whole, 0) => whole.to_string(),
        (0, _) => value.to_string(),
        (whole, rest) => format!("{whole} {rest}/{bottom}"),
    }
}

/// The finest step of the number as written: 1/4 for 9/4, 0.05 → 1/100, 30 → 1.
fn step_of(value: &Rational) -> Rational {
    let places = value
        .to_decimal()
        .and_then(|text| text.split_once('.').map(|(_, fraction)| fraction.len()));
    let power_of_two = value.denominator() & (value.denominator() - 1) == 0;
    let step = match places {
        // Fractions of the trade are halves down to sixty-fourths; a decimal ends at its last place.
        Some(_) if power_of_two && value.denominator() <= 64 => {
            Rational::new(1, value.denominator())
        }
        Some(places) => u32::try_from(places)
            .ok()
            .and_then(|places| 10i128.checked_pow(places))
            .and_then(|bottom| Rational::new(1, bottom)),
        None => Rational::new(1, value.denominator()),
    };
    step.unwrap_or_else(|| Rational::whole(1))
}

/// Exponent of the leading digit: 0.04 → −2, 57 → 1. `None` for zero or out of range.
fn exponent(value: &Rational) -> Option<i32> {
    let magnitude = if value.is_negative() {
        Rational::zero().sub(value)?
    } else {
        *value
    };
    if magnitude.is_zero() {
        return None;
    }
    let mut power = 0i32;
    let ten = Rational::whole(10);
    let one = Rational::whole(1);
    let mut rest = magnitude;
    while rest >= ten && power < 36 {
        rest = rest.div(&ten)?;
        power += 1;
    }
    while rest < one && power > -36 {
        rest = rest.mul(&ten)?;
        power -= 1;
    }
    Some(power)
}

fn power_of_ten(place: i32) -> Option<Rational> {
    let size = 10i128.checked_pow(place.unsigned_abs())?;
    if place >= 0 {
        Rational::new(size, 1)
    } else {
        Rational::new(1, size)
    }
}

/// Whole number of steps of `10^place` nearest to `value`, halves to even.
fn steps(value: &Rational, place: i32) -> Option<i128> {
    let scaled = value.div(&power_of_ten(place)?)?;
    let (top, bottom) = (scaled.numerator(), scaled.denominator());
    let whole = top.div_euclid(bottom);
    let rest = top.rem_euclid(bottom);
    Some(match rest.checked_mul(2)?.cmp(&bottom) {
        std::cmp::Ordering::Less => whole,
        std::cmp::Ordering::Greater => whole + 1,
        std::cmp::Ordering::Equal => whole + (whole & 1),
    })
}

fn at_place(value: &Rational, place: i32) -> Option<String> {
    write_steps(steps(value, place)?, place)
}

fn write_steps(steps: i128, place: i32) -> Option<String> {
    if place >= 0 {
        return Some(
            steps
                .checked_mul(10i128.checked_pow(place.unsigned_abs())?)?
                .to_string(),
        );
    }
    let places = place.unsigned_abs() as usize;
    let digits = format!("{:0width$}", steps.unsigned_abs(), width = places + 1);
    let (whole, fraction) = digits.split_at(digits.len() - places);
    let sign = if steps < 0 { "-" } else { "" };
    Some(format!("{sign}{whole}.{fraction}"))
}

/// Value and spread at the place that the spread's digits allow.
fn rounded_pair(value: &Rational, spread: &Rational) -> Option<(String, String)> {
    let mut place = exponent(spread)? - 1;
    let mut kept = round_up_where_it_matters(spread, place)?;
    if kept >= 100 {
        place += 1;
        kept = round_up_where_it_matters(spread, place)?;
    }
    // 0.040 that is exactly 0.04 carries one digit, not two.
    if kept % 10 == 0 && power_of_ten(place)?.mul(&Rational::new(kept, 1)?)? == *spread {
        place += 1;
        kept /= 10;
    }
    Some((at_place(value, place)?, write_steps(kept, place)?))
}

/// Up, unless what is dropped is less than a tenth of the last digit (JCGM 100 7.2.6: 10.47 to 11, 28.05 to 28).
fn round_up_where_it_matters(spread: &Rational, place: i32) -> Option<i128> {
    let scaled = spread.div(&power_of_ten(place)?)?;
    let whole = scaled.numerator().div_euclid(scaled.denominator());
    let dropped = scaled.sub(&Rational::new(whole, 1)?)?;
    Some(if dropped >= Rational::new(1, 10)? {
        whole + 1
    } else {
        whole
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn r(text: &str) -> Rational {
        text.parse().unwrap()
    }

    /// JCGM 100:2008 7.2.6 (examples from memory): 10.47 mΩ may go to 11, 28.05 kHz to 28,
    /// and 10.057 62 Ω with u = 27 mΩ becomes 10.058 Ω.
    #[test]
    fn the_guides_own_examples() {
        assert_eq!(round_up_where_it_matters(&r("10.47"), 0), Some(11));
        assert_eq!(round_up_where_it_matters(&r("28.05"), 0), Some(28));
        let (value, spread) = rounded_pair(&r("10.05762"), &r("0.027")).unwrap();
        assert_eq!((value.as_str(), spread.as_str()), ("10.058", "0.027"));
    }

    /// JCGM 100:2008 example H.1 (from memory): l = 50.000 838 mm, u = 32 nm, so U(k=2) = 64 nm.
    #[test]
    fn end_gauge() {
        let shown = show(&r("50.0008381"), Some(&r("0.0000320")), Unit::Millimetre);
        assert_eq!(shown.text, "50.000838 mm ± 0.000064 mm");
    }

    #[test]
    fn digits_follow_the_uncertainty() {
        for (value, u, text) in [
            ("57.15", Some("0.508"), "57.2 mm ± 1.1 mm"),
            ("57.15", Some("0.02"), "57.15 mm ± 0.04 mm"),
            ("50.13", Some("0.21"), "50.13 mm ± 0.42 mm"),
            ("1234", Some("60"), "1230 mm ± 120 mm"),
            ("1234", Some("497"), "1200 mm ± 1000 mm"),
            ("-0.4", Some("3"), "0 mm ± 6 mm"),
            ("9/4", None, "2.25 mm"),
            ("7/3", None, "2 1/3 mm"),
            ("9/4", Some("0"), "2.25 mm"),
        ] {
            let u = u.map(r);
            assert_eq!(
                show(&r(value), u.as_ref(), Unit::Millimetre).text,
                text,
                "{value} {u:?}"
            );
        }
    }

    #[test]
    fn conversion_adds_no_digits() {
        let text = |v, u: Option<&str>, from, to| {
            show_as(&r(v), u.map(r).as_ref(), from, to).unwrap().text
        };
        // A quarter of an inch is a step of 6.35 mm: no tenths of a millimetre come out of it.
        assert_eq!(
            text("9/4", None, Unit::Inch, Unit::Millimetre),
            "about 57 mm"
        );
        assert_eq!(
            text("9/4", Some("0.02"), Unit::Inch, Unit::Millimetre),
            "57.2 mm ± 1.1 mm"
        );
        assert_eq!(
            text("0.031", None, Unit::Inch, Unit::Millimetre),
            "about 0.79 mm"
        );
        assert_eq!(
            text("32", Some("1"), Unit::Psi, Unit::Kilopascal),
            "221 kPa ± 14 kPa"
        );
        assert_eq!(
            text("20", Some("1"), Unit::Celsius, Unit::Fahrenheit),
            "68.0 °F ± 3.6 °F"
        );
    }

    proptest::proptest! {
        /// Whatever the numbers, the shown value lies within half a last digit of the true one.
        #[test]
        fn rounding_stays_near(top in -1_000_000i128..1_000_000, bottom in 1i128..10_000, utop in 1i128..10_000, ubottom in 1i128..10_000) {
            let (value, u) = (Rational::new(top, bottom).unwrap(), Rational::new(utop, ubottom).unwrap());
            let shown = show(&value, Some(&u), Unit::Millimetre);
            let spread: f64 = shown.spread.unwrap().parse().unwrap();
            let near: f64 = shown.value.parse().unwrap();
            proptest::prop_assert!((near - value.to_f64()).abs() <= spread * 0.51 + 1e-12);
            proptest::prop_assert!(spread >= 2.0 * u.to_f64() * 0.989);
        }
    }
}
