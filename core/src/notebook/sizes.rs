//! Refuses what cannot be a size on an aeroplane, before anything is written.

use crate::condition::{Condition, Conditions};
use crate::error::{Error, ErrorKind, Result};
use crate::history::compare::worse_when;
use crate::history::significance::WorseWhen;
use crate::quantity::{Amount, Dimension, Rational, Unit};
use crate::record::kinds::Measure;

/// The most that is believed of each kind of quantity. No light aircraft is 50 m long, holds 5,000 L,
/// weighs 20 t or has a system above 400 bar; wide on purpose, to catch a slip of unit or point and
/// nothing else (ours, no source).
const MOST: [(Dimension, &str); 13] = [
    (Dimension::Length, "50000 mm"),
    (Dimension::Area, "200000000 mm2"),
    (Dimension::Volume, "5000 L"),
    (Dimension::Pressure, "400 bar"),
    (Dimension::Temperature, "1500 degC"),
    (Dimension::Angle, "360 deg"),
    (Dimension::Time, "200000 h"),
    (Dimension::Count, "100000 count"),
    (Dimension::DripRate, "10000 drips/min"),
    (Dimension::Share, "100 %"),
    (Dimension::Mass, "20000 kg"),
    (Dimension::Force, "100000 N"),
    (Dimension::Voltage, "1000 V"),
];

/// The dimension that a quantity has for this condition, else where every condition that knows the
/// word agrees: `dressed_depth` is a depth.
fn known_dimension(condition: &str, quantity: &str) -> Option<(Dimension, String)> {
    let plain = quantity.rsplit('_').next().unwrap_or(quantity);
    let of = |known: &Condition| {
        let spec = known.quantity(quantity).or_else(|| known.quantity(plain))?;
        let units: Vec<&str> = spec.units.iter().map(|unit| unit.symbol()).collect();
        Some((spec.units.first()?.dimension(), units.join(", ")))
    };
    if let Some(own) = Conditions::built_in().get(condition).and_then(of) {
        return Some(own);
    }
    let mut others = Conditions::built_in().list.iter().filter_map(of);
    let first = others.next()?;
    others.all(|other| other.0 == first.0).then_some(first)
}

/// Checks the measures of one finding. `place` names the finding or its zone.
///
/// # Errors
/// `BadValue`, naming finding or zone and quantity, with what to do.
pub(super) fn check(condition: &str, place: &str, measures: &[Measure]) -> Result<()> {
    measures
        .iter()
        .filter(|measure| measure.quantity != "answers")
        .try_for_each(|measure| {
            one(condition, measure).map_err(|error| named(error, place, measure))
        })
}

fn named(error: Error, place: &str, measure: &Measure) -> Error {
    let quantity = measure.quantity.replace('_', " ");
    error.at(if place.is_empty() {
        quantity
    } else {
        format!("{place}, {quantity}")
    })
}

fn bad(what: String, remedy: &str) -> Error {
    Error::new(ErrorKind::BadValue, what).hint(remedy)
}

fn one(condition: &str, measure: &Measure) -> Result<()> {
    let said = format!("{} {}", measure.value, measure.unit);
    let value: Rational = measure.value.parse()?;
    let unit: Unit = measure.unit.parse()?;
    if let Some((dimension, units)) = known_dimension(condition, &measure.quantity)
        && dimension != unit.dimension()
    {
        return Err(bad(
            format!(
                "a {} is not measured in {}",
                measure.quantity.replace('_', " "),
                unit.symbol()
            ),
            &format!("give it in one of: {units}"),
        ));
    }
    if value.is_negative() && unit.dimension() != Dimension::Temperature {
        return Err(bad(
            format!("{said} is below zero"),
            "measure it again, and write the size without a sign",
        ));
    }
    // What is not there has no size: a look that did not find it says so.
    let must_have_size = worse_when(condition, &measure.quantity) == Some(WorseWhen::Larger)
        && matches!(
            unit.dimension(),
            Dimension::Length | Dimension::Area | Dimension::Count
        );
    if value.is_zero() && must_have_size {
        return Err(bad(
            format!("{said} is no size"),
            "if it was looked for and is not there, write a sighting \"not found\"; if it was not measured, leave the measure out",
        ));
    }
    if let Some(most) = most(unit)?
        && value > most
    {
        return Err(bad(
            format!("{said} is more than any aeroplane of this kind has"),
            "check the number, its decimal point and its unit",
        ));
    }
    if let Some(to) = &measure.to {
        let to: Rational = to.parse()?;
        if to < value {
            return Err(bad(
                format!("the range ends at {to}, below where it starts"),
                "give the smaller end first",
            ));
        }
    }
    if let Some(u) = &measure.u {
        let u: Rational = u.parse()?;
        if u.is_negative() {
            return Err(bad(
                "an uncertainty below zero".to_owned(),
                "give it as plus or minus",
            ));
        }
    }
    Ok(())
}

fn most(unit: Unit) -> Result<Option<Rational>> {
    MOST.iter()
        .find(|(dimension, _)| *dimension == unit.dimension())
        .map(|(_, most)| most.parse::<Amount>()?.to(unit).map(|amount| amount.value))
        .transpose()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_bound_is_of_its_own_dimension() {
        for (dimension, text) in MOST {
            let amount: Amount = text.parse().unwrap();
            assert_eq!(amount.unit.dimension(), dimension, "{text}");
            assert_eq!(most(amount.unit).unwrap(), Some(amount.value), "{text}");
        }
    }

    fn checked(condition: &str, text: &str) -> std::result::Result<(), String> {
        let measure = Measure::typed(condition, text).unwrap();
        check(condition, "721-ab", &[measure]).map_err(|error| {
            assert!(!error.remedy.is_empty(), "{text}");
            assert!(error.place.starts_with("721-ab, "), "{}", error.place);
            error.what
        })
    }

    /// Truth by construction: each line breaks one rule and no other.
    #[test]
    fn what_cannot_be_a_size_is_refused_by_name() {
        for (condition, text, said) in [
            ("crack", "length -3 mm by ruler", "below zero"),
            ("crack", "length 0 mm by ruler", "no size"),
            ("crack", "length 60000 mm by ruler", "any aeroplane"),
            ("crack", "length 3 psi by ruler", "not measured in"),
            (
                "nick",
                "dressed_depth 3 L by depth gauge",
                "not measured in",
            ),
            ("fuel_leak", "area 3 mm by eye", "not measured in"),
            ("crack", "cracks 0 count by counted", "no size"),
            ("play", "play 1 in +--1 by gauge", "below zero"),
        ] {
            let error = checked(condition, text).unwrap_err();
            assert!(error.contains(said), "{text}: {error}");
        }
        for (condition, text) in [
            ("crack", "length 9/4 in by ruler"),
            ("tire_wear", "groove_depth 0 mm by depth gauge"),
            ("nick", "station 0 in by tape"),
            ("nick", "dressed_depth 10 thou by depth gauge"),
        ] {
            assert_eq!(checked(condition, text), Ok(()), "{text}");
        }
    }
}
