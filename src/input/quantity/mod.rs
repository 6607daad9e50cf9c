//! Quantities of the panel file: strings with a mandatory unit that know how they are read, which
//! pattern describes them in the JSON Schema, and which parts of them have dotted paths.

mod kinds;
pub mod measure;
mod pairs;
mod pattern;
pub mod reading;
mod suggestion;
#[cfg(test)]
mod tests;
mod whole;
mod word;

pub use kinds::{
    Angle, CopperThickness, Counts, Discharge, Earth, FieldStrength, Fraction, FractionPair,
    Number, Return, Share, Temperature, TemperatureCoefficient, TemperatureRate,
};
pub use pairs::{Position, Size, Spacing};
pub(super) use pairs::{part_of, with_part};
pub use whole::{Count, PlainValue, Whole, WholeNumber};
pub(crate) use word::words;
pub use word::{FileWord, Word};

use measure::Measure;
use padfield_engine::units::Toleranced;
use reading::{MAX_CHARACTERS, Misread, read_one, read_toleranced};
use schemars::{Schema, json_schema};
use serde::de::{self, Deserializer, Visitor};
use std::borrow::Cow;
use std::fmt;
use std::marker::PhantomData;

/// Key in the schema that lists the parts of a quantity with dotted paths of their own.
pub(super) const PARTS_KEY: &str = "x-parts";

/// A value written as one string.
pub trait FileQuantity: Sized {
    /// What to write, for messages and the schema: `a length such as "4 mm"`.
    const EXPECTED: &'static str;
    const MEASURE: Measure;
    /// Parts with dotted paths of their own.
    const PARTS: &'static [&'static str] = &[];

    /// Name in the schema.
    fn name() -> Cow<'static, str>;
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
        without_unit(Self::MEASURE, literal).and_then(|()| Self::read(literal))
    }
}

struct QuantityVisitor<Q>(PhantomData<Q>);

/// Message and hint travel through serde's error as two lines.
fn two_lines<E: de::Error>(misread: Misread) -> E {
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

fn read_any<'de, Q: FileQuantity, D: Deserializer<'de>>(deserializer: D) -> Result<Q, D::Error> {
    deserializer.deserialize_any(QuantityVisitor(PhantomData))
}

fn schema_of<Q: FileQuantity>() -> Schema {
    let text = json_schema!({
        "type": "string",
        "description": Q::EXPECTED,
        "pattern": Q::pattern(),
        "maxLength": MAX_CHARACTERS,
        "x-parts": Q::PARTS,
    });
    match Q::MEASURE {
        Measure::Number => json_schema!({
            "anyOf": [text, { "type": "number" }],
            "x-parts": Q::PARTS,
        }),
        _ => text,
    }
}

/// Serde and schema for [`FileQuantity`] types: the two traits cannot be implemented for all of them
/// at once outside their crates.
macro_rules! file_quantity {
    ($name:ident $(<$kind:ident: $bound:ident>)?) => {
        impl<'de $(, $kind: $bound)?> serde::Deserialize<'de> for $name $(<$kind>)? {
            fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
                $crate::input::quantity::read_any(deserializer)
            }
        }
        impl $(<$kind: $bound>)? schemars::JsonSchema for $name $(<$kind>)? {
            fn schema_name() -> std::borrow::Cow<'static, str> {
                <Self as $crate::input::quantity::FileQuantity>::name()
            }
            fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
                $crate::input::quantity::schema_of::<Self>()
            }
        }
    };
}
pub(crate) use file_quantity;

/// What a value of the file is a value of.
pub trait Quantity {
    /// Its type in SI.
    type Value: Copy + PartialEq + fmt::Debug;
    /// Name in the schema.
    const NAME: &'static str;
    /// What to write, for messages and the schema.
    const EXPECTED: &'static str;
    /// What to write where a tolerance may be.
    const WITH_TOLERANCE: &'static str = Self::EXPECTED;
    const MEASURE: Measure;
    /// From the base unit of its measure.
    fn of(base: f64) -> Self::Value;
}

/// One value: `"12.7 mm"`, `"0.5 in"`, `"35 um"`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct One<Q: Quantity>(pub Q::Value);

impl<Q: Quantity> FileQuantity for One<Q> {
    const EXPECTED: &'static str = Q::EXPECTED;
    const MEASURE: Measure = Q::MEASURE;
    fn name() -> Cow<'static, str> {
        Q::NAME.into()
    }
    fn pattern() -> String {
        pattern::one(Self::MEASURE)
    }
    fn read(text: &str) -> Result<Self, Misread> {
        read_one(text, Self::MEASURE).map(|base| Self(Q::of(base)))
    }
    fn read_number(value: f64, literal: &str) -> Result<Self, Misread> {
        without_unit(Q::MEASURE, literal).map(|()| Self(Q::of(value)))
    }
}
file_quantity!(One<Q: Quantity>);

/// A value with tolerance: `"4.0 mm ± 0.2 mm"`, `"4.0 mm ± 10 %"`, `"4.0 mm +0.3 -0.1 mm"`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WithTolerance<Q: Quantity>(pub Toleranced<Q::Value>);

impl<Q: Quantity> FileQuantity for WithTolerance<Q> {
    const EXPECTED: &'static str = Q::WITH_TOLERANCE;
    const MEASURE: Measure = Q::MEASURE;
    const PARTS: &'static [&'static str] = &["nominal", "tolerance"];
    fn name() -> Cow<'static, str> {
        format!("{}WithTolerance", Q::NAME).into()
    }
    fn pattern() -> String {
        pattern::toleranced(Self::MEASURE)
    }
    fn read(text: &str) -> Result<Self, Misread> {
        read_toleranced(text, Self::MEASURE).map(|interval| Self(interval.map(Q::of)))
    }
    fn read_number(value: f64, literal: &str) -> Result<Self, Misread> {
        without_unit(Q::MEASURE, literal).map(|()| Self(Toleranced::exact(Q::of(value))))
    }
}
file_quantity!(WithTolerance<Q: Quantity>);

/// Whether a bare number may stand for a quantity.
fn without_unit(measure: Measure, literal: &str) -> Result<(), Misread> {
    match measure {
        Measure::Number => Ok(()),
        _ => Err(Misread::new(
            format!("{literal} has no unit"),
            format!("did you mean \"{literal} {}\"?", measure.usual_unit()),
        )),
    }
}
