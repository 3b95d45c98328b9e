//! Units of SI and of the trade, with exact conversion.
//!
//! Every factor is an exact rational by definition (international inch and pound 1959, standard
//! gravity of the 3rd CGPM 1901, US gallon of 231 cubic inches, imperial gallon of 4.54609 litres;
//! the figures are those of NIST SP 811 appendix B, from memory, checked against PyPI Pint by
//! `tests/outside/units.py`). Own table rather than a units crate: those compute in doubles, and a
//! length said in sixteenths must come back as it was said.

use std::fmt;
use std::str::FromStr;

use super::Rational;
use crate::datafile::{nearest, short};
use crate::error::{Error, ErrorKind, Result};

/// What a unit measures. Two values can be compared only within one dimension.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Dimension {
    /// Length, width, depth, diameter, gap, extension.
    Length,
    /// Area of a stain, a blister, a patch.
    Area,
    /// Volume: oil, fuel.
    Volume,
    /// Pressure: tyres, struts.
    Pressure,
    /// Temperature of air, tyre, oil.
    Temperature,
    /// Angle: play of a control, deflection.
    Angle,
    /// Time: hours of a meter, minutes since wiped.
    Time,
    /// Things that were counted.
    Count,
    /// Drops falling per time.
    DripRate,
    /// Volume per time: oil used per hour.
    Use,
    /// A share of a whole.
    Share,
    /// Mass: a weight, fuel in pounds.
    Mass,
    /// Force: a pull on a cable or tab.
    Force,
    /// Torque.
    Torque,
    /// Electric potential of a battery.
    Voltage,
}

impl Dimension {
    /// Plain word for messages.
    pub fn word(self) -> &'static str {
        match self {
            Self::Length => "length",
            Self::Area => "area",
            Self::Volume => "volume",
            Self::Pressure => "pressure",
            Self::Temperature => "temperature",
            Self::Angle => "angle",
            Self::Time => "time",
            Self::Count => "count",
            Self::DripRate => "drip rate",
            Self::Use => "use per hour",
            Self::Share => "share",
            Self::Mass => "mass",
            Self::Force => "force",
            Self::Torque => "torque",
            Self::Voltage => "voltage",
        }
    }
}

/// One row of the unit table.
struct Row {
    symbol: &'static str,
    /// Other ways to write or say it, lower case; US and UK.
    also: &'static [&'static str],
    dimension: Dimension,
    /// Size in the base unit of its dimension: numerator, denominator.
    factor: (i128, i128),
    /// Base value at zero of this unit (temperatures only).
    zero: (i128, i128),
}

macro_rules! units {
    ($($variant:ident $doc:literal $symbol:literal [$($also:literal),*] $dimension:ident $top:literal / $bottom:literal $(+ $ztop:literal / $zbottom:literal)?;)*) => {
        /// A unit. Written by its symbol ([`Unit::symbol`]), read from many forms ([`Unit::from_str`]).
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
        #[non_exhaustive]
        pub enum Unit { $(#[doc = $doc] $variant,)* }

        impl Unit {
            /// Every unit, in the order of the table.
            pub const ALL: &'static [Unit] = &[$(Unit::$variant,)*];

            fn row(self) -> Row {
                match self { $(Unit::$variant => Row {
                    symbol: $symbol, also: &[$($also),*], dimension: Dimension::$dimension,
                    factor: ($top, $bottom), zero: units!(@zero $($ztop / $zbottom)?),
                },)* }
            }
        }
    };
    (@zero) => { (0, 1) };
    (@zero $top:literal / $bottom:literal) => { ($top, $bottom) };
}

// Base units: mm, mm2, mL, Pa, K, deg, s, 1, drips/min, mL/h, %, g, N, N m, V.
units! {
    Millimetre "Millimetre." "mm" ["millimetre", "millimetres", "millimeter", "millimeters", "mil metres"] Length 1 / 1;
    Centimetre "Centimetre." "cm" ["centimetre", "centimetres", "centimeter", "centimeters"] Length 10 / 1;
    Metre "Metre." "m" ["metre", "metres", "meter", "meters"] Length 1000 / 1;
    Micrometre "Micrometre." "um" ["µm", "μm", "micron", "microns", "micrometre", "micrometres"] Length 1 / 1000;
    Inch "Inch, 25.4 mm exactly." "in" ["inch", "inches", "\"", "″", "in."] Length 254 / 10;
    Thou "Thousandth of an inch (US also mil)." "thou" ["thous", "mil", "mils", "thousandth", "thousandths", "thousandth of an inch", "thousandths of an inch"] Length 254 / 10000;
    Foot "Foot, 12 in." "ft" ["foot", "feet", "'", "′", "ft."] Length 3048 / 10;
    SquareMillimetre "Square millimetre." "mm2" ["mm²", "sq mm", "square millimetre", "square millimetres", "square millimeters"] Area 1 / 1;
    SquareCentimetre "Square centimetre." "cm2" ["cm²", "sq cm", "square centimetre", "square centimetres", "square centimeters"] Area 100 / 1;
    SquareInch "Square inch." "in2" ["in²", "sq in", "square inch", "square inches"] Area 64516 / 100;
    Litre "Litre." "L" ["l", "litre", "litres", "liter", "liters"] Volume 1000 / 1;
    Millilitre "Millilitre." "mL" ["ml", "millilitre", "millilitres", "milliliter", "milliliters"] Volume 1 / 1;
    UsQuart "US liquid quart, a quarter of a US gallon." "US qt" ["qt", "us quart", "us quarts", "quart", "quarts", "qts"] Volume 946352946 / 1000000;
    UsGallon "US gallon, 231 cubic inches." "US gal" ["us gallon", "us gallons"] Volume 3785411784 / 1000000;
    ImperialPint "Imperial pint, an eighth of an imperial gallon." "imp pt" ["imperial pint", "imperial pints"] Volume 56826125 / 100000;
    ImperialQuart "Imperial quart." "imp qt" ["imperial quart", "imperial quarts"] Volume 11365225 / 10000;
    ImperialGallon "Imperial gallon, 4.54609 L." "imp gal" ["imperial gallon", "imperial gallons"] Volume 454609 / 100;
    Pascal "Pascal." "Pa" ["pascal", "pascals"] Pressure 1 / 1;
    Kilopascal "Kilopascal." "kPa" ["kilopascal", "kilopascals"] Pressure 1000 / 1;
    Bar "Bar." "bar" ["bars"] Pressure 100000 / 1;
    // 0.45359237 kg × 9.80665 m/s² over (0.0254 m)²
    Psi "Pound-force per square inch." "psi" ["pounds per square inch", "lb/in2", "lbf/in2"] Pressure 44482216152605 / 6451600000;
    Celsius "Degree Celsius." "degC" ["°c", "deg c", "c", "celsius", "degrees celsius", "centigrade"] Temperature 1 / 1 + 27315 / 100;
    Fahrenheit "Degree Fahrenheit." "degF" ["°f", "deg f", "f", "fahrenheit", "degrees fahrenheit"] Temperature 5 / 9 + 45967 / 180;
    Kelvin "Kelvin." "K" ["kelvin"] Temperature 1 / 1;
    Degree "Degree of angle." "deg" ["°", "degree", "degrees"] Angle 1 / 1;
    Second "Second." "s" ["sec", "second", "seconds"] Time 1 / 1;
    Minute "Minute." "min" ["mins", "minute", "minutes"] Time 60 / 1;
    Hour "Hour." "h" ["hr", "hrs", "hour", "hours"] Time 3600 / 1;
    Day "Day of 24 h." "d" ["day", "days"] Time 86400 / 1;
    Count "A number of things: rivets, cracks, landings, strands." "count" ["1", "pieces", "off"] Count 1 / 1;
    DripsPerMinute "Drops a minute." "drips/min" ["drips per minute", "drops per minute", "drops/min", "drips a minute", "drops a minute", "dpm"] DripRate 1 / 1;
    DripsPerHour "Drops an hour." "drips/h" ["drips per hour", "drops per hour", "drips an hour"] DripRate 1 / 60;
    LitrePerHour "Litre an hour." "L/h" ["litres per hour", "liters per hour", "l/h"] Use 1000 / 1;
    UsQuartPerHour "US quart an hour." "US qt/h" ["qt/h", "quarts per hour", "quarts an hour"] Use 946352946 / 1000000;
    Percent "Per cent." "%" ["percent", "per cent"] Share 1 / 1;
    Gram "Gram." "g" ["gram", "grams", "gramme", "grammes"] Mass 1 / 1;
    Kilogram "Kilogram." "kg" ["kilogram", "kilograms", "kilo", "kilos"] Mass 1000 / 1;
    Pound "Pound avoirdupois, 0.45359237 kg." "lb" ["lbs", "pound", "pounds"] Mass 45359237 / 100000;
    Ounce "Ounce avoirdupois." "oz" ["ounce", "ounces"] Mass 45359237 / 1600000;
    Newton "Newton." "N" ["newton", "newtons"] Force 1 / 1;
    PoundForce "Pound-force." "lbf" ["pounds force", "pound force"] Force 44482216152605 / 10000000000000;
    NewtonMetre "Newton metre." "N m" ["nm", "newton metre", "newton metres", "newton meters"] Torque 1 / 1;
    // lbf × 0.0254 m
    PoundInch "Inch-pound of torque." "in-lb" ["in lb", "inch pounds", "inch pound", "lbf in"] Torque 1129848290276167 / 10000000000000000;
    PoundFoot "Foot-pound of torque." "ft-lb" ["ft lb", "foot pounds", "foot pound", "lbf ft"] Torque 13558179483314004 / 10000000000000000;
    Volt "Volt." "V" ["volt", "volts"] Voltage 1 / 1;
}

impl Unit {
    /// The form that entries store and programs read: `mm`, `in`, `US qt`, `degC`.
    pub fn symbol(self) -> &'static str {
        self.row().symbol
    }

    /// Other forms that are read, lower case, written and spoken, US and UK.
    pub fn other_forms(self) -> &'static [&'static str] {
        self.row().also
    }

    /// What it measures.
    pub fn dimension(self) -> Dimension {
        self.row().dimension
    }

    /// The form for people: `°C` for `degC`, `mm²` for `mm2`, else the symbol. Counts show none.
    pub fn shown(self) -> &'static str {
        match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
            Self::Degree => "°",
            Self::SquareMillimetre => "mm²",
            Self::SquareCentimetre => "cm²",
            Self::SquareInch => "in²",
            Self::Micrometre => "µm",
            Self::Count => "",
            other => other.symbol(),
        }
    }

    fn factor(self) -> Option<Rational> {
        let (top, bottom) = self.row().factor;
        Rational::new(top, bottom)
    }

    /// `value` of this unit in `to`, exact. Temperatures move their zero.
    ///
    /// Errors: [`ErrorKind::BadValue`] where the dimensions differ or the result has more digits than fit.
    pub fn convert(self, value: &Rational, to: Unit) -> Result<Rational> {
        self.change(value, to, true)
    }

    /// A difference or an uncertainty of this unit in `to`, exact: as [`Unit::convert`] but without
    /// the zero of a temperature.
    pub fn convert_difference(self, value: &Rational, to: Unit) -> Result<Rational> {
        self.change(value, to, false)
    }

    fn change(self, value: &Rational, to: Unit, with_zero: bool) -> Result<Rational> {
        if self == to {
            return Ok(*value);
        }
        if self.dimension() != to.dimension() {
            return Err(Error::new(
                ErrorKind::BadValue,
                format!(
                    "{} is a {}, {} is a {}: one cannot be shown as the other",
                    self.symbol(),
                    self.dimension().word(),
                    to.symbol(),
                    to.dimension().word()
                ),
            )
            .hint(format!(
                "ask for one of {}",
                Self::ALL
                    .iter()
                    .filter(|unit| unit.dimension() == self.dimension())
                    .map(|unit| unit.symbol())
                    .collect::<Vec<_>>()
                    .join(", ")
            )));
        }
        let exact = || -> Option<Rational> {
            let (from_zero, to_zero) = (self.row().zero, to.row().zero);
            // One ratio first: psi to bar then keeps small numbers.
            let ratio = self.factor()?.div(&to.factor()?)?;
            if with_zero && from_zero != to_zero {
                let shift = Rational::new(from_zero.0, from_zero.1)?
                    .sub(&Rational::new(to_zero.0, to_zero.1)?)?
                    .div(&to.factor()?)?;
                value.mul(&ratio)?.add(&shift)
            } else {
                value.mul(&ratio)
            }
        };
        exact().ok_or_else(|| {
            Error::new(
                ErrorKind::BadValue,
                format!(
                    "{value} {} has too many digits to convert exactly",
                    self.symbol()
                ),
            )
            .hint("check the number")
        })
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}

impl FromStr for Unit {
    type Err = Error;

    /// Reads the symbol or any other form, whatever the case (`inches`, `PSI`, `°C`).
    fn from_str(text: &str) -> Result<Self> {
        let trimmed = text.trim();
        if let Some(unit) = Self::ALL.iter().find(|unit| unit.symbol() == trimmed) {
            return Ok(*unit);
        }
        let lower = trimmed.to_lowercase();
        let found = Self::ALL.iter().find(|unit| {
            unit.symbol().to_lowercase() == lower || unit.other_forms().contains(&lower.as_str())
        });
        found.copied().ok_or_else(|| {
            let near = nearest(&lower, Self::ALL.iter().map(|unit| unit.symbol()));
            Error::new(
                ErrorKind::BadValue,
                format!("\"{}\" is not a unit known here", short(trimmed)),
            )
            .hint(match near {
                Some(near) => format!("did you mean {near}?"),
                None => {
                    "use one of mm, in, thou, psi, bar, kPa, US qt, L, degC, h, count …".to_owned()
                }
            })
        })
    }
}

impl serde::Serialize for Unit {
    fn serialize<S: serde::Serializer>(
        &self,
        serializer: S,
    ) -> std::result::Result<S::Ok, S::Error> {
        serializer.serialize_str(self.symbol())
    }
}

impl<'de> serde::Deserialize<'de> for Unit {
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

    fn exact(text: &str, from: &str, to: &str) -> String {
        let value: Rational = text.parse().unwrap();
        let (from, to): (Unit, Unit) = (from.parse().unwrap(), to.parse().unwrap());
        from.convert(&value, to).unwrap().to_string()
    }

    /// International inch: 25.4 mm exactly (NIST SP 811, from memory; Pint agrees, tests/outside/units.py).
    #[test]
    fn conversions_are_exact() {
        assert_eq!(exact("9/4", "in", "mm"), "1143/20"); // 57.15
        assert_eq!(exact("1/32", "in", "mm"), "127/160"); // 0.79375
        assert_eq!(exact("30", "thou", "in"), "3/100");
        assert_eq!(exact("212", "degF", "degC"), "100");
        assert_eq!(exact("-40", "degC", "degF"), "-40");
        assert_eq!(exact("1", "US gal", "US qt"), "4");
        assert_eq!(exact("1", "imp gal", "imp pt"), "8");
        assert_eq!(exact("1", "in2", "mm2"), "16129/25");
        assert_eq!(exact("1", "ft-lb", "in-lb"), "12");
        assert_eq!(exact("90", "min", "h"), "3/2");
    }

    #[test]
    fn there_and_back_is_the_same_for_every_pair() {
        let value: Rational = "17/32".parse().unwrap();
        for from in Unit::ALL {
            for to in Unit::ALL {
                match from.convert(&value, *to) {
                    Ok(there) => {
                        assert_eq!(from.dimension(), to.dimension());
                        assert_eq!(to.convert(&there, *from).unwrap(), value, "{from} {to}");
                    }
                    Err(error) => {
                        assert_ne!(from.dimension(), to.dimension(), "{from} {to} {error}");
                    }
                }
            }
        }
    }

    #[test]
    fn no_form_means_two_units() {
        let mut seen = std::collections::BTreeMap::new();
        for unit in Unit::ALL {
            for form in unit.other_forms() {
                assert_eq!(*form, form.to_lowercase(), "{form}");
                assert_eq!(form.parse::<Unit>().unwrap(), *unit, "{form}");
                if let Some(other) = seen.insert(*form, *unit) {
                    panic!("{form}: {unit} and {other}");
                }
            }
            assert_eq!(unit.symbol().parse::<Unit>().unwrap(), *unit);
        }
    }

    #[test]
    fn wrong_units_are_told() {
        let error = Unit::Inch
            .convert(&Rational::whole(1), Unit::Psi)
            .unwrap_err();
        assert_eq!(
            error.what,
            "in is a length, psi is a pressure: one cannot be shown as the other"
        );
        let error = "inchs".parse::<Unit>().unwrap_err();
        assert_eq!(error.what, "\"inchs\" is not a unit known here");
    }
}
