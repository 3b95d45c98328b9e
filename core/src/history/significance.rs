//! When one measure differs from another: only beyond the expanded uncertainty of the difference.
//!
//! The one rule, used everywhere. Two readings are compared only if quantity and place agree and
//! both carry a value, a unit and a standard uncertainty; another method is compared through the
//! uncertainties and named. The difference d = later − earlier, in the later reading's unit, counts
//! as a change only if |d| > U with U = 2·√(u₁² + u₂²) (JCGM 100:2008, 5.1.2 for the combination of
//! independent inputs, 6.2.1 with k = 2). An error that both readings share, such as one ruler's
//! scale, enters the difference only by what does not cancel (JCGM 100, 5.2.2, correlation +1):
//! U = 2·√((u₁² − s₁²) + (u₂² − s₂²) + (s₁ − s₂)²).

use serde::Serialize;

use crate::quantity::{Rational, Unit};

/// Coverage factor of every comparison (about 95 % for a normal error).
pub const COVERAGE_FACTOR: f64 = 2.0;

/// Relative slack for |d| against U: a decimal such as 0.2 is not exact as a double, and a
/// difference that equals U on paper must not become a change by the last bit.
const LAST_BIT: f64 = 1e-12;

/// Which way a quantity gets worse.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WorseWhen {
    /// A crack's length, a stain's area, play.
    #[default]
    Larger,
    /// Tread depth, pressure, cable tension.
    Smaller,
}

impl WorseWhen {
    /// `difference` counted positive towards worse.
    pub fn towards_worse(self, difference: f64) -> f64 {
        match self {
            Self::Larger => difference,
            Self::Smaller => -difference,
        }
    }
}

/// The part of an uncertainty that comes from one thing used for several readings (a ruler, a
/// gauge, a printed scale), with the same sign in each.
#[derive(Debug, Clone, PartialEq)]
pub struct Shared {
    /// What is shared: readings with the same id share the error.
    pub id: String,
    /// Its standard uncertainty in this reading, in the reading's unit; part of `u`, not beside it.
    pub u: f64,
}

/// One measured value as far as comparing needs it.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// The value, exact as it was said.
    pub value: Rational,
    /// Unit by its name (`mm`, `in`, `psi`); `None` where none was written.
    pub unit: Option<String>,
    /// Standard uncertainty in the same unit, shared part included; `None` where nobody stated one.
    pub u: Option<f64>,
    /// How it was measured (`ruler`, `card`, `estimate`).
    pub method: Option<String>,
    /// Where on the aircraft, in the words or the code used; `None` where not said.
    pub place: Option<String>,
    /// What was measured (`length`, `depth`); `None` where the series is known to be of one.
    pub quantity: Option<String>,
    /// The error it shares with other readings, if any.
    pub shared: Option<Shared>,
    /// Which way is worse.
    pub worse_when: WorseWhen,
    /// True of what does not shrink by itself, as its condition's file says of a crack: a smaller
    /// reading is then said to need explaining.
    pub never_shrinks: bool,
}

impl Default for Reading {
    /// Zero of nothing: a start for `..Reading::default()`.
    fn default() -> Self {
        Self {
            value: Rational::zero(),
            unit: None,
            u: None,
            method: None,
            place: None,
            quantity: None,
            shared: None,
            worse_when: WorseWhen::Larger,
            never_shrinks: false,
        }
    }
}

/// What a comparison shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum ChangeKind {
    /// Changed towards worse by more than U.
    Worse,
    /// No change shown; up to `could_hide` possible.
    Same,
    /// Changed the other way by more than U.
    Less,
    /// The two must not be compared; `why` says so.
    NotComparable,
}

/// The result of comparing a later reading with an earlier one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Change {
    /// What it shows.
    pub change: ChangeKind,
    /// Later minus earlier, in the later reading's unit; `None` if not comparable.
    pub difference: Option<f64>,
    /// Expanded uncertainty of the difference (k = 2), same unit.
    #[serde(rename = "U")]
    pub big_u: Option<f64>,
    /// For `same` only: change towards worse plus U, the growth that could still hide.
    pub could_hide: Option<f64>,
    /// In words: why not comparable, which methods differ, that cracks do not shrink. May be empty.
    pub why: String,
}

impl Change {
    fn not_comparable(why: impl Into<String>) -> Self {
        Self {
            change: ChangeKind::NotComparable,
            difference: None,
            big_u: None,
            could_hide: None,
            why: why.into(),
        }
    }
}

/// Compares the later reading `b` with the earlier `a`. Never fails: what cannot be compared says
/// why. Figures are in `b`'s unit.
pub fn compare(a: &Reading, b: &Reading) -> Change {
    if differ(a.quantity.as_deref(), b.quantity.as_deref()) {
        return Change::not_comparable(format!(
            "another quantity: {} then {}",
            said(&a.quantity),
            said(&b.quantity)
        ));
    }
    if differ(a.place.as_deref(), b.place.as_deref()) {
        return Change::not_comparable(format!(
            "another place: {} then {}",
            said(&a.place),
            said(&b.place)
        ));
    }
    let (u_a, u_b) = match (a.u, b.u) {
        (Some(u_a), Some(u_b)) if usable(u_a) && usable(u_b) => (u_a, u_b),
        (None, None) => return Change::not_comparable("neither reading has an uncertainty"),
        (None, _) => return Change::not_comparable("the earlier reading has no uncertainty"),
        (_, None) => return Change::not_comparable("the later reading has no uncertainty"),
        _ => return Change::not_comparable("an uncertainty is not a number from 0 up"),
    };
    let convert = |value: &Rational, difference| {
        convert(value, a.unit.as_deref(), b.unit.as_deref(), difference)
    };
    let (Some(earlier), Some(factor)) =
        (convert(&a.value, false), convert(&Rational::whole(1), true))
    else {
        return Change::not_comparable(format!(
            "units do not convert: {} then {}",
            said(&a.unit),
            said(&b.unit)
        ));
    };
    let Some(difference) = b.value.sub(&earlier) else {
        return Change::not_comparable("the values are too large to subtract exactly");
    };
    let difference = difference.to_f64();
    let scale = factor.to_f64();
    let big_u = COVERAGE_FACTOR * difference_u(a, b, u_a, u_b, scale);
    if !difference.is_finite() || !big_u.is_finite() {
        return Change::not_comparable("the values are too large to compare");
    }
    let towards_worse = b.worse_when.towards_worse(difference);
    let changed = difference.abs() > big_u * (1.0 + LAST_BIT);
    let change = match (changed, towards_worse > 0.0) {
        (false, _) => ChangeKind::Same,
        (true, true) => ChangeKind::Worse,
        (true, false) => ChangeKind::Less,
    };
    Change {
        change,
        difference: Some(difference),
        big_u: Some(big_u),
        could_hide: (change == ChangeKind::Same).then(|| (towards_worse + big_u).max(0.0)),
        why: remarks(a, b, change).join("; "),
    }
}

/// Standard uncertainty of `b − a` in `b`'s unit.
fn difference_u(a: &Reading, b: &Reading, u_a: f64, u_b: f64, scale: f64) -> f64 {
    let u_a = u_a * scale;
    match (&a.shared, &b.shared) {
        (Some(s_a), Some(s_b)) if s_a.id == s_b.id && usable(s_a.u) && usable(s_b.u) => {
            // A shared part larger than the whole is a slip of the pen: it is held to the whole.
            let common_a = (s_a.u * scale).min(u_a);
            let common_b = s_b.u.min(u_b);
            let own_a = (u_a - common_a) * (u_a + common_a);
            let own_b = (u_b - common_b) * (u_b + common_b);
            (own_a + own_b + (common_a - common_b).powi(2)).sqrt()
        }
        _ => u_a.hypot(u_b),
    }
}

fn remarks(a: &Reading, b: &Reading, change: ChangeKind) -> Vec<String> {
    let mut why = Vec::new();
    if differ(a.method.as_deref(), b.method.as_deref()) {
        why.push(format!(
            "another method: {} then {}, compared through the uncertainties",
            said(&a.method),
            said(&b.method)
        ));
    } else if a.method.is_some() != b.method.is_some() {
        why.push("the method of one is not said, compared through the uncertainties".to_owned());
    }
    if a.place.is_some() != b.place.is_some() {
        why.push("the place of one is not said, taken as the same".to_owned());
    }
    if change == ChangeKind::Less && b.never_shrinks {
        // Common sense of the trade, no source. What may well shrink (oil, a stain) is not told so.
        why.push(
            "it reads smaller and does not shrink by itself: measure it again, look at place, ends and method"
                .to_owned(),
        );
    }
    why
}

fn usable(u: f64) -> bool {
    u.is_finite() && u >= 0.0
}

/// True if both are said and are not the same words (case and outer blanks aside).
pub(crate) fn differ(a: Option<&str>, b: Option<&str>) -> bool {
    use unicode_normalization::UnicodeNormalization;
    let folded = |text: &str| text.trim().nfc().collect::<String>().to_lowercase();
    match (a, b) {
        (Some(a), Some(b)) => folded(a) != folded(b),
        _ => false,
    }
}

fn said(text: &Option<String>) -> &str {
    text.as_deref().unwrap_or("not said")
}

/// A value of unit `from` in unit `to`, exact; `difference` leaves out the zero of a temperature.
/// `None` where they do not convert or only one is said.
pub(crate) fn convert(
    value: &Rational,
    from: Option<&str>,
    to: Option<&str>,
    difference: bool,
) -> Option<Rational> {
    match (from, to) {
        (None, None) => Some(*value),
        (Some(from), Some(to)) if from == to => Some(*value),
        (Some(from), Some(to)) => {
            let (from, to) = (from.parse::<Unit>().ok()?, to.parse::<Unit>().ok()?);
            if difference {
                from.convert_difference(value, to).ok()
            } else {
                from.convert(value, to).ok()
            }
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn reading(value: &str, unit: &str, u: f64) -> Reading {
        Reading {
            value: value.parse().unwrap(),
            unit: Some(unit.to_owned()),
            u: Some(u),
            ..Reading::default()
        }
    }

    #[test]
    fn only_beyond_u_is_a_change() {
        // 3-4-5 triangle by construction: U = 2·0.5 = 1.
        let first = reading("50", "mm", 0.3);
        for (value, expected) in [
            ("51", ChangeKind::Same),
            ("51.01", ChangeKind::Worse),
            ("49", ChangeKind::Same),
            ("48.99", ChangeKind::Less),
        ] {
            let change = compare(&first, &reading(value, "mm", 0.4));
            assert_eq!(change.change, expected, "{value}");
            assert_eq!(change.big_u, Some(1.0));
        }
        let same = compare(&first, &reading("50.4", "mm", 0.4));
        assert!((same.could_hide.unwrap() - 1.4).abs() < 1e-12);
        // Only of what its condition says so: oil that was wiped away may well be less.
        let mut crack = reading("40", "mm", 0.4);
        let less = compare(&first, &crack);
        assert_eq!((less.change, less.why.as_str()), (ChangeKind::Less, ""));
        assert_eq!(less.could_hide, None);
        crack.never_shrinks = true;
        let less = compare(&first, &crack);
        assert!(less.why.contains("does not shrink"), "{}", less.why);
    }

    #[test]
    fn inches_and_millimetres_are_exact() {
        let change = compare(&reading("9/4", "in", 0.0), &reading("57.15", "mm", 0.0));
        assert_eq!(change.change, ChangeKind::Same);
        assert_eq!(change.difference, Some(0.0));
        assert_eq!(change.big_u, Some(0.0));
        let back = compare(&reading("25.4", "mm", 2.54), &reading("2", "in", 0.0));
        assert_eq!(back.difference, Some(1.0));
        assert!((back.big_u.unwrap() - 0.2).abs() < 1e-15);
    }

    #[test]
    fn what_must_not_be_compared_says_why() {
        let base = reading("10", "mm", 0.1);
        let with = |change: fn(&mut Reading)| {
            let mut other = base.clone();
            change(&mut other);
            compare(&base, &other)
        };
        for (result, word) in [
            (with(|r| r.u = None), "uncertainty"),
            (with(|r| r.unit = Some("psi".into())), "units"),
            (with(|r| r.unit = None), "units"),
            (with(|r| r.u = Some(f64::NAN)), "number"),
        ] {
            assert_eq!(result.change, ChangeKind::NotComparable);
            assert!(result.why.contains(word), "{}", result.why);
        }
        let mut a = base.clone();
        let mut b = base.clone();
        a.place = Some("Lower aft screw".into());
        b.place = Some("upper aft screw".into());
        assert_eq!(compare(&a, &b).change, ChangeKind::NotComparable);
        b.place = Some(" lower aft screw".into());
        assert_eq!(compare(&a, &b).change, ChangeKind::Same);
        b.method = Some("ruler".into());
        a.method = Some("estimate".into());
        let methods = compare(&a, &b);
        assert_eq!(methods.change, ChangeKind::Same);
        assert!(methods.why.contains("estimate then ruler"));
    }

    #[test]
    fn smaller_can_be_worse() {
        let mut new = reading("6", "mm", 0.1);
        let mut worn = reading("4", "mm", 0.1);
        new.worse_when = WorseWhen::Smaller;
        worn.worse_when = WorseWhen::Smaller;
        let change = compare(&new, &worn);
        assert_eq!(change.change, ChangeKind::Worse);
        assert_eq!(change.difference, Some(-2.0));
    }

    #[test]
    fn a_shared_error_is_not_counted_twice() {
        let shared = |u| {
            Some(Shared {
                id: "ruler 1".into(),
                u,
            })
        };
        let mut a = reading("50", "mm", 0.5);
        let mut b = reading("51", "mm", 0.5);
        a.shared = shared(0.4);
        b.shared = shared(0.4);
        // 0.5² − 0.4² = 0.3² each: U = 2·0.3·√2.
        let change = compare(&a, &b);
        assert!((change.big_u.unwrap() - 0.6 * 2f64.sqrt()).abs() < 1e-12);
        assert_eq!(change.change, ChangeKind::Worse);
        b.shared = Some(Shared {
            id: "ruler 2".into(),
            u: 0.4,
        });
        assert!((compare(&a, &b).big_u.unwrap() - 2f64.sqrt()).abs() < 1e-12);
    }

    proptest! {
        #[test]
        fn turning_time_round_turns_the_sign(a in 0i64..100_000, b in 0i64..100_000, u in 0.0..50f64, v in 0.0..50f64) {
            let first = Reading { value: Rational::whole(a), u: Some(u), ..Reading::default() };
            let second = Reading { value: Rational::whole(b), u: Some(v), ..Reading::default() };
            let there = compare(&first, &second);
            let back = compare(&second, &first);
            prop_assert_eq!(there.difference.unwrap(), -back.difference.unwrap());
            prop_assert_eq!(there.big_u, back.big_u);
            prop_assert_eq!(there.change == ChangeKind::Worse, back.change == ChangeKind::Less);
            prop_assert_eq!(there.change == ChangeKind::Same, back.change == ChangeKind::Same);
            if let Some(hidden) = there.could_hide {
                prop_assert!(hidden >= 0.0 && hidden <= 2.0 * there.big_u.unwrap() * (1.0 + 1e-9));
            }
        }
    }
}
