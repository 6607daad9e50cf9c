//! What of the figures of traces was not reached.

use super::TraceTable;
use crate::accuracy::missed_words;
use crate::checks::{Check, Findings, Source, accuracy};

impl Findings for TraceTable {
    fn checks(&self) -> Vec<Check> {
        let missed = accuracy(
            self.accuracy_reached,
            &missed_words(&self.missed),
            self.missed.first().map(|one| one.asked),
            Source::Solve,
        );
        missed.map(|check| check.at("traces")).into_iter().collect()
    }
}
