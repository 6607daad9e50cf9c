//! Whole numbers, and values of any kind that are read later.

use super::reading::Misread;
use super::two_lines;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{self, Deserialize, Deserializer, Visitor};
use std::borrow::Cow;
use std::fmt;

/// Largest number of columns or rows in one pad group.
const MAX_COUNT: u32 = 100;

/// A whole number within a range, ends included.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Whole<const LEAST: u32, const MOST: u32>(pub u32);

/// Number of columns, rows, segments or teeth.
pub type Count = Whole<1, MAX_COUNT>;
/// A whole number from 0 to four milliards.
pub type WholeNumber = Whole<0, { u32::MAX }>;

impl<'de, const LEAST: u32, const MOST: u32> Deserialize<'de> for Whole<LEAST, MOST> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(WholeVisitor::<LEAST, MOST>)
    }
}

struct WholeVisitor<const LEAST: u32, const MOST: u32>;

impl<const LEAST: u32, const MOST: u32> Visitor<'_> for WholeVisitor<LEAST, MOST> {
    type Value = Whole<LEAST, MOST>;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        match MOST {
            u32::MAX => write!(formatter, "a whole number such as 20"),
            _ => write!(formatter, "a whole number from {LEAST} to {MOST}"),
        }
    }
    fn visit_i64<E: de::Error>(self, value: i64) -> Result<Self::Value, E> {
        let number = u32::try_from(value).ok();
        let number = number.filter(|number| (LEAST..=MOST).contains(number));
        number.map(Whole).ok_or_else(|| {
            two_lines(Misread::new(
                format!("{value} is out of range"),
                format!("write a whole number from {LEAST} to {MOST}"),
            ))
        })
    }
}

impl<const LEAST: u32, const MOST: u32> JsonSchema for Whole<LEAST, MOST> {
    fn schema_name() -> Cow<'static, str> {
        match MOST {
            u32::MAX => "WholeNumber".into(),
            _ => "Count".into(),
        }
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "integer", "minimum": LEAST, "maximum": MOST })
    }
}

/// A value as it may stand in the file: text, or a number without unit.
#[derive(Clone, Debug, PartialEq)]
pub enum PlainValue {
    /// Between quotes.
    Text(String),
    /// A whole number.
    Whole(i64),
    /// Any other number.
    Number(f64),
}

impl PlainValue {
    /// As the text of an override.
    pub fn text(&self) -> String {
        match self {
            Self::Text(text) => text.clone(),
            Self::Whole(number) => number.to_string(),
            Self::Number(number) => number.to_string(),
        }
    }
}

impl<'de> Deserialize<'de> for PlainValue {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(PlainVisitor)
    }
}

struct PlainVisitor;

impl Visitor<'_> for PlainVisitor {
    type Value = PlainValue;

    fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str("one value such as \"4 mm\", \"acrylic\" or 2.8")
    }
    fn visit_str<E: de::Error>(self, text: &str) -> Result<PlainValue, E> {
        Ok(PlainValue::Text(text.to_owned()))
    }
    fn visit_i64<E: de::Error>(self, value: i64) -> Result<PlainValue, E> {
        Ok(PlainValue::Whole(value))
    }
    fn visit_f64<E: de::Error>(self, value: f64) -> Result<PlainValue, E> {
        if value.is_finite() {
            return Ok(PlainValue::Number(value));
        }
        Err(two_lines(Misread::new(
            format!("{value} is not a finite number").to_lowercase(),
            "write one value such as \"4 mm\", \"acrylic\" or 2.8",
        )))
    }
}

impl JsonSchema for PlainValue {
    fn schema_name() -> Cow<'static, str> {
        "PlainValue".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": ["string", "number"] })
    }
}
