//! Measured values that a panel file does not predict, pads that do not keep their constants.

use super::Correlation;
use super::revision::{Decision, PadDecision};
use crate::accuracy::missed_words;
use crate::checks::{Check, Findings, Kind, Severity, Source, accuracy};
use crate::rounding::significant;

impl Findings for Correlation {
    fn checks(&self) -> Vec<Check> {
        let mut checks = Vec::new();
        if !self.agrees() {
            let words: Vec<&str> = self.enough().map(|one| one.words.as_str()).collect();
            let explained = match words.as_slice() {
                [] => "no single assumption explains them".to_owned(),
                words => format!("explained by: {}", words.join("; ")),
            };
            checks.push(
                Check::new(Kind::Measured, Severity::Failed, Source::Compare)
                    .found(format!("differ from the computed ones; {explained}")),
            );
        }
        checks.extend(accuracy(
            self.accuracy_reached,
            &missed_words(&self.missed),
            self.missed.first().map(|one| one.asked),
            Source::Compare,
        ));
        checks
    }
}

impl Findings for PadDecision {
    fn checks(&self) -> Vec<Check> {
        let severity = match self.decision {
            Decision::Keep => return Vec::new(),
            Decision::Retune | Decision::Reject => Severity::Failed,
            Decision::CannotTell => Severity::Open,
        };
        let ratio = self.window_ratio.filter(|ratio| ratio.is_finite());
        let ratio = ratio.map_or_else(String::new, |ratio| {
            format!(", W = {}", significant(ratio, 2))
        });
        vec![
            Check::new(Kind::Revision, severity, Source::Compare)
                .at(format!("pad \"{}\"", self.pad))
                .found(format!("{}{ratio}", self.decision.words()))
                .keeps("the constants of the firmware"),
        ]
    }
}
