//! Checks of the catalogue that do not hold.

use super::{Check, Findings, Kind, Severity, Source};
use crate::rounding::significant;
use padfield_engine::verify::Outcome;

impl Findings for Outcome {
    fn checks(&self) -> Vec<Check> {
        if self.passed() {
            return Vec::new();
        }
        let found = match self.relative_error() {
            Some(error) => format!("off by {} %", significant(100.0 * error, 2)),
            None => "no answer".to_owned(),
        };
        vec![
            Check::new(Kind::Reference, Severity::Failed, Source::Verify)
                .at(self.check.reference.id.clone())
                .found(found)
                .keeps(self.check.reference.source.to_string()),
        ]
    }
}
