//! Thickness of copper, or its weight per square foot as boards are ordered.

use super::{FileQuantity, MAX_CHARACTERS, Misread, QuantityVisitor, read_toleranced, reading};
use padfield_engine::units::{Length, Toleranced};
use reading::Measure;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{Deserialize, Deserializer};
use std::borrow::Cow;

/// A thickness of copper: `"35 um"`, `"1 oz"`, `"0.5 oz ± 10 %"`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CopperThickness(pub Toleranced<Length>);

/// Unit of a weight per square foot.
const OUNCE: &str = "oz";

impl FileQuantity for CopperThickness {
    const NAME: &'static str = "CopperThickness";
    const EXPECTED: &'static str = "a thickness such as \"35 um\" or a weight such as \"1 oz\"";
    const MEASURE: Measure = Measure::Length;
    const PARTS: &'static [&'static str] = &["nominal", "tolerance"];
    fn pattern() -> String {
        let [length, weight] =
            [Measure::Length, Measure::CopperWeight].map(reading::pattern_toleranced);
        format!("{length}|{weight}")
    }
    fn read(text: &str) -> Result<Self, Misread> {
        let measure = match text.contains(OUNCE) {
            true => Measure::CopperWeight,
            false => Measure::Length,
        };
        let found = read_toleranced(text, measure)?;
        Ok(Self(Toleranced {
            nominal: Length::from_metres(found.nominal),
            least: Length::from_metres(found.least),
            most: Length::from_metres(found.most),
        }))
    }
}
file_quantity!(CopperThickness, false);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_ounce_per_square_foot_is_34_8_um_and_the_schema_says_so_too() {
        let schema = serde_json::json!({
            "type": "string", "pattern": CopperThickness::pattern(), "maxLength": MAX_CHARACTERS,
        });
        let validator = jsonschema::validator_for(&schema).expect("the pattern compiles");
        let um = |length: Length| (length.mm() * 1e6).round() / 1e3;
        for (text, expected) in [
            ("1 oz", Some([34.8, 34.8, 34.8])),
            ("0.5oz", Some([17.4, 17.4, 17.4])),
            ("2 oz ± 10 %", Some([69.6, 62.64, 76.56])),
            ("35 um", Some([35.0, 35.0, 35.0])),
            ("1.4 mil", Some([35.56, 35.56, 35.56])),
            ("1", None),
            ("1 oz ± 2 um", None),
            ("1 OZ", None),
            ("1 pF", None),
            ("1 oz 2", None),
        ] {
            let read = CopperThickness::read(text).ok();
            let read = read.map(|t| [t.0.nominal, t.0.least, t.0.most].map(um));
            assert_eq!(read, expected, "{text}");
            let is_valid = validator.is_valid(&serde_json::json!(text));
            assert_eq!(is_valid, expected.is_some(), "{text}");
        }
        // 1 oz is 28.3495 g, 1 ft2 is 0.09290304 m2 (both exact by definition), copper 8.96 g/cm3: 34.06 um.
        // Boards are specified with 34.8 um, which is what a file means by an ounce.
        let by_weight_um: f64 = 28.349_523 / 0.092_903_04 / 8.96;
        assert!((by_weight_um - 34.06).abs() < 0.01, "{by_weight_um}");
        assert!((34.8 / by_weight_um - 1.0).abs() < 0.03);
    }
}
