//! Quantities of the panel file: strings with a mandatory unit that know how they are read, which
//! pattern describes them in the JSON Schema, and which parts of them have dotted paths.

use super::reading::{
    self, Interval, MAX_CHARACTERS, Measure, Misread, read_one, read_pair, read_toleranced,
};
use crate::panel::{EarthPath, ReturnPath};
use padfield_engine::units::{
    Capacitance, Charge, Conductivity, Current, Frequency, Length, LineCapacitance, Permittivity,
    Resistance, Time, Toleranced, Voltage,
};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{self, Deserialize, Deserializer, Visitor};
use std::borrow::Cow;
use std::fmt;

/// Key in the schema that lists the parts of a quantity with dotted paths of their own.
pub(super) const PARTS_KEY: &str = "x-parts";

/// A value written as one string.
pub trait FileQuantity: Sized {
    /// Name in the schema.
    const NAME: &'static str;
    /// What to write, for messages and the schema: `a length such as "4 mm"`.
    const EXPECTED: &'static str;
    /// What it measures.
    const MEASURE: Measure;
    /// Parts with dotted paths of their own.
    const PARTS: &'static [&'static str] = &[];

    /// Regular expression of what [`FileQuantity::read`] accepts.
    fn pattern() -> String;
    /// Reads the string.
    ///
    /// # Errors
    /// [`Misread`] with what is wrong and what to write instead.
    fn read(text: &str) -> Result<Self, Misread>;
    /// Reads a bare TOML number (`literal` as written): an error unless the quantity has no unit.
    ///
    /// # Errors
    /// [`Misread`] for a value that needs a unit.
    fn read_number(_value: f64, literal: &str) -> Result<Self, Misread> {
        Err(Misread::new(
            format!("{literal} has no unit"),
            format!("did you mean \"{literal} {}\"?", Self::MEASURE.usual_unit()),
        ))
    }
}

/// Serde and schema for [`FileQuantity`] types: the two traits cannot be implemented for all of them
/// at once outside their crates.
macro_rules! file_quantity {
    ($name:ident, $also_number:expr) => {
        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                deserializer.deserialize_any(QuantityVisitor(std::marker::PhantomData))
            }
        }

        impl JsonSchema for $name {
            fn schema_name() -> Cow<'static, str> {
                Self::NAME.into()
            }
            fn json_schema(_: &mut SchemaGenerator) -> Schema {
                let text = json_schema!({
                    "type": "string",
                    "description": Self::EXPECTED,
                    "pattern": Self::pattern(),
                    "maxLength": MAX_CHARACTERS,
                    "x-parts": Self::PARTS,
                });
                if $also_number {
                    json_schema!({
                        "anyOf": [text, { "type": "number" }],
                        "x-parts": Self::PARTS,
                    })
                } else {
                    text
                }
            }
        }
    };
}

struct QuantityVisitor<Q>(std::marker::PhantomData<Q>);

/// Message and hint travel through serde's error as two lines.
pub(super) fn two_lines<E: de::Error>(misread: Misread) -> E {
    E::custom(format!("{}\n{}", misread.message, misread.hint))
}

impl<Q: FileQuantity> Visitor<'_> for QuantityVisitor<Q> {
    type Value = Q;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(Q::EXPECTED)
    }
    fn visit_str<E: de::Error>(self, text: &str) -> Result<Q, E> {
        Q::read(text).map_err(two_lines)
    }
    fn visit_i64<E: de::Error>(self, value: i64) -> Result<Q, E> {
        Q::read_number(value as f64, &value.to_string()).map_err(two_lines)
    }
    fn visit_f64<E: de::Error>(self, value: f64) -> Result<Q, E> {
        if !value.is_finite() {
            return Err(two_lines(Misread::new(
                format!("{value} is not a finite number").to_lowercase(),
                format!("write {}", Q::EXPECTED),
            )));
        }
        Q::read_number(value, &format!("{value:?}")).map_err(two_lines)
    }
}

/// One length: `"12.7 mm"`, `"0.5 in"`, `"35 um"`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OneLength(pub Length);

impl FileQuantity for OneLength {
    const NAME: &'static str = "Length";
    const EXPECTED: &'static str = "a length such as \"4 mm\"";
    const MEASURE: Measure = Measure::Length;
    fn pattern() -> String {
        reading::pattern_one(Self::MEASURE)
    }
    fn read(text: &str) -> Result<Self, Misread> {
        read_one(text, Self::MEASURE).map(|m| Self(Length::from_metres(m)))
    }
}
file_quantity!(OneLength, false);

macro_rules! plain {
    ($(#[$doc:meta])* $name:ident, $schema:literal, $expected:literal, $measure:ident, $quantity:ty, $from:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub struct $name(pub $quantity);

        impl FileQuantity for $name {
            const NAME: &'static str = $schema;
            const EXPECTED: &'static str = $expected;
            const MEASURE: Measure = Measure::$measure;
            fn pattern() -> String {
                reading::pattern_one(Self::MEASURE)
            }
            fn read(text: &str) -> Result<Self, Misread> {
                read_one(text, Self::MEASURE).map(|value| Self($from(value)))
            }
        }
        file_quantity!($name, false);
    };
}

plain!(
    /// One time: `"8 ms"`.
    OneTime, "Time", "a time such as \"8 ms\"", Time, Time, Time::from_seconds
);
plain!(
    /// One resistance: `"1 kohm"`.
    OneResistance, "Resistance", "a resistance such as \"1 kohm\"", Resistance, Resistance, Resistance::from_ohms
);
plain!(
    /// One voltage: `"3.3 V"`.
    OneVoltage, "Voltage", "a voltage such as \"3.3 V\"", Voltage, Voltage, Voltage::from_volts
);
plain!(
    /// One frequency: `"16 MHz"`.
    OneFrequency, "Frequency", "a frequency such as \"16 MHz\"", Frequency, Frequency, Frequency::from_hertz
);
plain!(
    /// One current: `"0.6 mA"`.
    OneCurrent, "Current", "a current such as \"0.6 mA\"", Current, Current, Current::from_amperes
);
plain!(
    /// One conductivity: `"0.05 S/m"`.
    OneConductivity, "Conductivity", "a conductivity such as \"0.05 S/m\"", Conductivity, Conductivity, Conductivity::from_siemens_per_metre
);
plain!(
    /// One charge: `"2000 mAh"`.
    OneCharge, "Charge", "a charge such as \"2000 mAh\"", Charge, Charge, Charge::from_coulombs
);
plain!(
    /// Counts: `"1.5 counts"`.
    OneCount, "Counts", "a number of counts such as \"1.5 counts\"", Counts, f64, std::convert::identity
);
plain!(
    /// One share: `"0.03 %"`, `"300 ppm"`.
    OneShare, "Share", "a share such as \"0.03 %\"", Share, f64, std::convert::identity
);

plain!(
    /// One temperature: `"-10 degC"`.
    OneTemperature, "Temperature", "a temperature such as \"-10 degC\"", Temperature, f64, std::convert::identity
);
plain!(
    /// One change of temperature in time: `"2 K/min"`.
    OneTemperatureRate, "TemperatureRate", "a change of temperature such as \"2 K/min\"", TemperatureRate, f64, std::convert::identity
);

macro_rules! fractions {
    ($(#[$doc:meta])* $name:ident($inner:ty), $schema:literal, $expected:literal, $two:literal, $read:path) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub struct $name(pub $inner);

        impl FileQuantity for $name {
            const NAME: &'static str = $schema;
            const EXPECTED: &'static str = $expected;
            const MEASURE: Measure = Measure::Share;
            fn pattern() -> String {
                reading::pattern_fractions($two)
            }
            fn read(text: &str) -> Result<Self, Misread> {
                $read(text).map(Self)
            }
        }
        file_quantity!($name, false);
    };
}

fractions!(
    /// A share of the supply: `"1/2"`, `"50 %"`.
    Fraction(f64), "Fraction", "a share such as \"1/2\" or \"50 %\"", false, reading::read_one_fraction
);
fractions!(
    /// Two shares of the supply: `"1/3, 2/3"`.
    FractionPair([f64; 2]), "FractionPair", "two shares such as \"1/3, 2/3\"", true, reading::read_two_fractions
);

/// One angle: `"45 deg"`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Angle {
    /// Counter-clockwise, degrees.
    pub degrees: f64,
}

impl FileQuantity for Angle {
    const NAME: &'static str = "Angle";
    const EXPECTED: &'static str = "an angle such as \"45 deg\"";
    const MEASURE: Measure = Measure::Angle;
    fn pattern() -> String {
        reading::pattern_one(Self::MEASURE)
    }
    fn read(text: &str) -> Result<Self, Misread> {
        read_one(text, Self::MEASURE).map(|degrees| Self { degrees })
    }
}
file_quantity!(Angle, false);

macro_rules! toleranced {
    ($(#[$doc:meta])* $name:ident, $schema:literal, $expected:literal, $measure:ident, $quantity:ident::$from:ident, $also_number:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub struct $name(pub Toleranced<$quantity>);

        impl FileQuantity for $name {
            const NAME: &'static str = $schema;
            const EXPECTED: &'static str = $expected;
            const MEASURE: Measure = Measure::$measure;
            const PARTS: &'static [&'static str] = &["nominal", "tolerance"];
            fn pattern() -> String {
                reading::pattern_toleranced(Self::MEASURE)
            }
            fn read(text: &str) -> Result<Self, Misread> {
                let Interval { nominal, least, most } = read_toleranced(text, Self::MEASURE)?;
                Ok(Self(Toleranced {
                    nominal: $quantity::$from(nominal),
                    least: $quantity::$from(least),
                    most: $quantity::$from(most),
                }))
            }
            fn read_number(value: f64, literal: &str) -> Result<Self, Misread> {
                if $also_number {
                    return Ok(Self(Toleranced::exact($quantity::$from(value))));
                }
                Err(Misread::new(
                    format!("{literal} has no unit"),
                    format!("did you mean \"{literal} {}\"?", Self::MEASURE.usual_unit()),
                ))
            }
        }
        file_quantity!($name, $also_number);
    };
}

toleranced!(
    /// A length with tolerance: `"4.0 mm ± 0.2 mm"`, `"4.0 mm ± 10 %"`, `"4.0 mm +0.3 -0.1 mm"`.
    TolerancedLength, "LengthWithTolerance", "a length such as \"4 mm\" or \"4.0 mm ± 0.2 mm\"",
    Length, Length::from_metres, false
);
toleranced!(
    /// A permittivity relative to vacuum, a plain number: `"2.8 ± 0.2"`, or the TOML number 2.8.
    TolerancedPermittivity, "PermittivityWithTolerance", "a permittivity such as \"2.8\" or \"2.8 ± 0.2\"",
    Number, Permittivity::from_relative, true
);
toleranced!(
    /// A capacitance with tolerance: `"6.0 pF ± 20 %"`.
    TolerancedCapacitance, "CapacitanceWithTolerance", "a capacitance such as \"6 pF\" or \"6.0 pF ± 20 %\"",
    Capacitance, Capacitance::from_farads, false
);
toleranced!(
    /// A capacitance per length with tolerance: `"0.45 pF/cm"`.
    TolerancedLineCapacitance, "LineCapacitanceWithTolerance", "a capacitance per length such as \"0.45 pF/cm\"",
    LineCapacitance, LineCapacitance::from_farads_per_metre, false
);

toleranced!(
    /// A resistance with tolerance: `"100 kohm ± 1 %"`.
    TolerancedResistance, "ResistanceWithTolerance", "a resistance such as \"100 kohm ± 1 %\"",
    Resistance, Resistance::from_ohms, false
);
toleranced!(
    /// A current with tolerance: `"5 uA ± 10 %"`.
    TolerancedCurrent, "CurrentWithTolerance", "a current such as \"5 uA ± 10 %\"",
    Current, Current::from_amperes, false
);

toleranced!(
    /// A relative change with temperature: `"300 ppm/K ± 100 ppm/K"`.
    TolerancedTemperatureCoefficient, "TemperatureCoefficientWithTolerance",
    "a temperature coefficient such as \"300 ppm/K\" or \"300 ppm/K ± 100 ppm/K\"",
    TemperatureCoefficient, f64::from, false
);
toleranced!(
    /// A share with tolerance, which in % is a share of the value: `"3 % ± 50 %"` is 1.5 to 4.5 %.
    TolerancedShare, "ShareWithTolerance", "a share such as \"3 %\" or \"3 % ± 50 %\" (1.5 to 4.5 %)",
    Share, f64::from, false
);
toleranced!(
    /// A dielectric strength with tolerance: `"18 kV/mm ± 10 %"`.
    TolerancedFieldStrength, "FieldStrengthWithTolerance", "a dielectric strength such as \"18 kV/mm\"",
    FieldStrength, f64::from, false
);

macro_rules! length_pair {
    ($(#[$doc:meta])* $name:ident, $schema:literal, $expected:literal, $parts:expr, $separators:expr, $pattern:literal, $one_is_enough:literal) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq)]
        pub struct $name(pub [Length; 2]);

        impl FileQuantity for $name {
            const NAME: &'static str = $schema;
            const EXPECTED: &'static str = $expected;
            const MEASURE: Measure = Measure::Length;
            const PARTS: &'static [&'static str] = &$parts;
            fn pattern() -> String {
                reading::pattern_pair($pattern, $one_is_enough, Self::MEASURE)
            }
            fn read(text: &str) -> Result<Self, Misread> {
                read_pair(text, &$separators, $one_is_enough, Self::MEASURE)
                    .map(|pair| Self(pair.map(Length::from_metres)))
            }
        }
        file_quantity!($name, false);
    };
}

length_pair!(
    /// Width by height: `"15 mm x 12 mm"`, `"15 x 12 mm"`; one value makes a square.
    Size, "Size", "a size such as \"15 mm x 12 mm\"", ["width", "height"], SIZE_SEPARATORS, "[x×]", true
);
length_pair!(
    /// Distances along x and y: `"8 mm"` for both, `"8 mm, 6 mm"` for each.
    Spacing, "Spacing", "a distance such as \"8 mm\" (or \"8 mm, 6 mm\" for x and y)", ["x", "y"], [','], ",", true
);
length_pair!(
    /// Point x, y: `"0 mm, 4 mm"`.
    Position, "Position", "a point x, y such as \"0 mm, 4 mm\"", ["x", "y"], [','], ",", false
);

const SIZE_SEPARATORS: [char; 2] = ['x', '×'];

/// Return path of a finger: `"earthed"` or a capacitance such as `"120 pF"`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Return(pub ReturnPath);

impl FileQuantity for Return {
    const NAME: &'static str = "ReturnPath";
    const EXPECTED: &'static str = "\"earthed\" or a capacitance such as \"120 pF\"";
    const MEASURE: Measure = Measure::Capacitance;
    fn pattern() -> String {
        let capacitance = reading::pattern_one(Self::MEASURE);
        format!("^earthed$|{capacitance}")
    }
    fn read(text: &str) -> Result<Self, Misread> {
        if text == "earthed" {
            return Ok(Self(ReturnPath::Earthed));
        }
        read_one(text, Self::MEASURE)
            .map(|farads| Self(ReturnPath::Through(Capacitance::from_farads(farads))))
            .map_err(|misread| Misread::new(misread.message, format!("write {}", Self::EXPECTED)))
    }
}
file_quantity!(Return, false);

/// Device ground to earth: `"earthed"`, or a capacitance such as `"60 pF ± 40 pF"`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Earth(pub EarthPath);

impl FileQuantity for Earth {
    const NAME: &'static str = "EarthPath";
    const EXPECTED: &'static str = "\"earthed\" or a capacitance such as \"60 pF ± 40 pF\"";
    const MEASURE: Measure = Measure::Capacitance;
    fn pattern() -> String {
        let capacitance = reading::pattern_toleranced(Self::MEASURE);
        format!("^earthed$|{capacitance}")
    }
    fn read(text: &str) -> Result<Self, Misread> {
        if text == "earthed" {
            return Ok(Self(EarthPath::Earthed));
        }
        TolerancedCapacitance::read(text)
            .map(|given| Self(EarthPath::Capacitance(given.0)))
            .map_err(|misread| Misread::new(misread.message, format!("write {}", Self::EXPECTED)))
    }
}
file_quantity!(Earth, false);

/// A plain number: `2`, `"0.75"`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlainNumber(pub f64);

impl FileQuantity for PlainNumber {
    const NAME: &'static str = "PlainNumber";
    const EXPECTED: &'static str = "a plain number such as 2";
    const MEASURE: Measure = Measure::Number;
    fn pattern() -> String {
        reading::pattern_one(Self::MEASURE)
    }
    fn read(text: &str) -> Result<Self, Misread> {
        read_one(text, Self::MEASURE).map(Self)
    }
    fn read_number(value: f64, _literal: &str) -> Result<Self, Misread> {
        Ok(Self(value))
    }
}
file_quantity!(PlainNumber, true);

/// `text` with one of its parts (see [`FileQuantity::PARTS`]) replaced by `part_text`; `text` is
/// `None` when the key is not written, and then the other part is zero.
pub(super) fn with_part(text: Option<&str>, part: &str, part_text: &str) -> String {
    let pair = |separators: &[char], joint: &str, index: usize| {
        let mut both = reading::split_pair(text.unwrap_or("0 mm"), separators, Measure::Length);
        both[index] = part_text.to_owned();
        both.join(joint)
    };
    match part {
        "width" => pair(&SIZE_SEPARATORS, " x ", 0),
        "height" => pair(&SIZE_SEPARATORS, " x ", 1),
        "x" => pair(&[','], ", ", 0),
        "y" => pair(&[','], ", ", 1),
        "nominal" => match text.map(reading::split_tolerance) {
            Some((_, Some(tolerance))) => format!("{part_text} {tolerance}"),
            _ => part_text.to_owned(),
        },
        "tolerance" => {
            let (nominal, _) = reading::split_tolerance(text.unwrap_or_default());
            match part_text.trim_start().starts_with(['±', '+']) {
                true => format!("{nominal} {part_text}"),
                false => format!("{nominal} ± {part_text}"),
            }
        }
        _ => part_text.to_owned(),
    }
}

/// The text of one part; the tolerance is empty when there is none.
pub(super) fn part_of(text: &str, part: &str) -> String {
    let pair = |separators: &[char], index: usize| {
        reading::split_pair(text, separators, Measure::Length)[index].clone()
    };
    match part {
        "width" => pair(&SIZE_SEPARATORS, 0),
        "height" => pair(&SIZE_SEPARATORS, 1),
        "x" => pair(&[','], 0),
        "y" => pair(&[','], 1),
        "nominal" => reading::split_tolerance(text).0,
        "tolerance" => reading::split_tolerance(text).1.unwrap_or_default(),
        _ => text.to_owned(),
    }
}

mod copper;
mod discharge;
#[cfg(test)]
mod tests;

pub use copper::CopperThickness;
pub use discharge::Discharge;
