//! A level of discharge out of one string.

use super::{FileQuantity, MAX_CHARACTERS, Misread, QuantityVisitor, read_one, reading};
use crate::panel::{DischargeKind, DischargeLevel};
use padfield_engine::units::Voltage;
use reading::Measure;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{Deserialize, Deserializer};
use std::borrow::Cow;

/// A level of discharge: `"air 8 kV"`, `"contact 4 kV"`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Discharge(pub DischargeLevel);

const DISCHARGE_KINDS: [(&str, DischargeKind); 2] = [
    ("air", DischargeKind::Air),
    ("contact", DischargeKind::Contact),
];

impl FileQuantity for Discharge {
    const NAME: &'static str = "DischargeLevel";
    const EXPECTED: &'static str = "\"air 8 kV\" or \"contact 4 kV\"";
    const MEASURE: Measure = Measure::Voltage;
    fn pattern() -> String {
        let voltage = reading::pattern_one(Self::MEASURE);
        format!("^(?:air|contact) {}", voltage.trim_start_matches('^'))
    }
    fn read(text: &str) -> Result<Self, Misread> {
        let hint = || format!("write {}", Self::EXPECTED);
        let (word, voltage) = text.split_once(' ').unwrap_or((text, ""));
        let Some((_, kind)) = DISCHARGE_KINDS.iter().find(|known| known.0 == word) else {
            let message = format!("\"{text}\" does not start with \"air\" or \"contact\"");
            return Err(Misread::new(message, hint()));
        };
        let volts = read_one(voltage, Self::MEASURE)
            .and_then(|volts| match text.chars().count() > MAX_CHARACTERS {
                true => read_one(text, Self::MEASURE),
                false => Ok(volts),
            })
            .map_err(|misread| Misread::new(misread.message, hint()))?;
        Ok(Self(DischargeLevel {
            kind: *kind,
            voltage: Voltage::from_volts(volts),
        }))
    }
}
file_quantity!(Discharge, false);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn schema_and_parser_accept_the_same_levels() {
        let schema = serde_json::json!({
            "type": "string", "pattern": Discharge::pattern(), "maxLength": MAX_CHARACTERS,
        });
        let validator = jsonschema::validator_for(&schema).expect("the pattern compiles");
        let texts = [
            "air 8 kV",
            "contact 4kV",
            "air  15 kV",
            "air 8000 V ",
            "air 8",
            "air",
            "8 kV",
            "air8 kV",
            " air 8 kV",
            "spark 8 kV",
            "contact 8 mm",
            "air 8 kV ± 1 kV",
            "",
            "air ",
            "Air 8 kV",
        ];
        let mut accepted = 0;
        for text in texts {
            let reads = Discharge::read(text).is_ok();
            assert_eq!(
                reads,
                validator.is_valid(&serde_json::json!(text)),
                "{text:?}"
            );
            accepted += usize::from(reads);
        }
        assert_eq!(accepted, 4);
        let level = Discharge::read("air 8 kV").expect("a level").0;
        assert_eq!(
            (level.kind, level.voltage.volts()),
            (DischargeKind::Air, 8000.0)
        );
    }
}
