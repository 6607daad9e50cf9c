//! What of the figures of traces was not reached.

use super::TraceTable;
use crate::checks::{Check, Findings, Source, accuracy};

impl Findings for TraceTable {
    fn checks(&self) -> Vec<Check> {
        let missed = accuracy(self.accuracy_reached, "", None, Source::Solve);
        missed.map(|check| check.at("traces")).into_iter().collect()
    }
}
