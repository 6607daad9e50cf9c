//! `[study.NAME]` of the panel file as typed.

use super::quantity::two_lines;
use super::reading::Misread;
use super::words::{CombineWord, ScaleWord, SequenceWord};
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{self, Deserialize, Deserializer, Visitor};
use std::borrow::Cow;
use std::fmt;

/// One `[study.NAME]`: what varies, how it is combined, what is reported.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StudyEntry {
    /// What varies: one entry per path.
    pub vary: Vec<VaryEntry>,
    /// How the values are combined; default all.
    pub combine: Option<CombineWord>,
    /// Number of samples; for combine = "sample".
    pub samples: Option<WholeNumber>,
    /// How samples are drawn; default sobol.
    pub sequence: Option<SequenceWord>,
    /// Another seed gives other samples; default 1.
    pub seed: Option<WholeNumber>,
    /// Quantities by name; default base capacitance, touch shift and neighbour ratio.
    pub report: Option<Vec<String>>,
    /// Limits drawn into the charts.
    #[serde(default)]
    pub limits: Vec<LimitEntry>,
    /// Wanted estimated error of every base and touch shift; default 1 %.
    pub accuracy: Option<String>,
    /// Finger that touches; default the first of the file.
    pub finger: Option<String>,
}

/// One entry of `vary`: a path with a list of values or a range.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct VaryEntry {
    /// Dotted path of the value that varies.
    pub path: String,
    /// The values, one by one.
    pub values: Option<Vec<PlainValue>>,
    /// First value of a range.
    pub from: Option<PlainValue>,
    /// Last value of a range.
    pub to: Option<PlainValue>,
    /// Exact decimal step of a range.
    pub step: Option<PlainValue>,
    /// Number of values of a range, both ends included.
    pub points: Option<WholeNumber>,
    /// Distances of the values of a range; default linear.
    pub scale: Option<ScaleWord>,
}

/// One entry of `limits`.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LimitEntry {
    /// Quantity by name.
    pub quantity: String,
    /// Upper limit.
    pub at_most: Option<String>,
    /// Lower limit.
    pub at_least: Option<String>,
    /// Where the limit comes from: house rule, requirement, standard.
    pub because: Option<String>,
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
        deserializer.deserialize_any(PlainVisitor)
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

/// A whole number from 0 to four milliards.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WholeNumber(pub u32);

impl<'de> Deserialize<'de> for WholeNumber {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct WholeVisitor;
        impl Visitor<'_> for WholeVisitor {
            type Value = WholeNumber;
            fn expecting(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
                formatter.write_str("a whole number such as 20")
            }
            fn visit_i64<E: de::Error>(self, value: i64) -> Result<WholeNumber, E> {
                u32::try_from(value).map(WholeNumber).map_err(|_| {
                    two_lines(Misread::new(
                        format!("{value} is out of range"),
                        format!("write a whole number from 0 to {}", u32::MAX),
                    ))
                })
            }
        }
        deserializer.deserialize_any(WholeVisitor)
    }
}

impl JsonSchema for WholeNumber {
    fn schema_name() -> Cow<'static, str> {
        "WholeNumber".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "integer", "minimum": 0, "maximum": u32::MAX })
    }
}
