//! One unit a dimension, so that a column holds numbers that can be compared.

use witnessmark_core::quantity::{Dimension, Unit};

/// The unit that the table uses for what is measured in `unit`: of the International System where
/// people use it for such sizes (mm rather than m), else the one that the trade counts in.
pub fn unit(unit: Unit) -> Unit {
    match unit.dimension() {
        Dimension::Length => Unit::Millimetre,
        Dimension::Area => Unit::SquareMillimetre,
        Dimension::Volume => Unit::Millilitre,
        Dimension::Pressure => Unit::Pascal,
        Dimension::Temperature => Unit::Kelvin,
        Dimension::Angle => Unit::Degree,
        Dimension::Time => Unit::Second,
        Dimension::Count => Unit::Count,
        Dimension::DripRate => Unit::DripsPerMinute,
        Dimension::Use => Unit::LitrePerHour,
        Dimension::Share => Unit::Percent,
        Dimension::Mass => Unit::Gram,
        Dimension::Force => Unit::Newton,
        Dimension::Torque => Unit::NewtonMetre,
        Dimension::Voltage => Unit::Volt,
        // A dimension that came later keeps its own unit until it is named here.
        _ => unit,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fleet::SightingRow;
    use std::collections::BTreeMap;

    /// Two units of one dimension never share a column's unit with those of another, and what is in it
    /// already stays as it is.
    #[test]
    fn one_unit_a_dimension() {
        let mut seen: BTreeMap<&str, Dimension> = BTreeMap::new();
        for one in Unit::ALL {
            let to = unit(*one);
            assert_eq!(to.dimension(), one.dimension());
            assert_eq!(unit(to), to);
            assert_eq!(
                *seen.entry(to.symbol()).or_insert(one.dimension()),
                one.dimension()
            );
        }
    }

    /// Exact by definition: an inch is 25.4 mm, 0 degC is 273.15 K, a psi is 6894.757293 Pa (NIST
    /// SP 811, appendix B.8).
    #[test]
    fn what_was_written_stays_beside_what_can_be_compared() {
        let of = |value: &str, u: &str, unit: &str| {
            let mut row = SightingRow::default();
            let number = |text: &str| text.parse().unwrap();
            row.measured(
                "length",
                "ruler",
                &number(value),
                Some(&number(u)),
                unit.parse().unwrap(),
            );
            row
        };
        let inch = of("9/4", "1/20", "in");
        assert_eq!(
            (inch.value, inch.u, inch.unit.as_deref()),
            (Some(57.15), Some(1.27), Some("mm"))
        );
        assert_eq!(
            (inch.value_written, inch.unit_written.as_deref()),
            (Some(2.25), Some("in"))
        );
        let cold = of("0", "1", "degC");
        assert_eq!(
            (cold.value, cold.u, cold.unit.as_deref()),
            (Some(273.15), Some(1.0), Some("K"))
        );
        let tyre = of("30", "1", "psi");
        assert!((tyre.value.unwrap() - 30.0 * 6894.757293).abs() < 0.001);
    }
}
