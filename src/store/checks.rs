//! Points of a study without numbers, or with numbers that are not good enough.

use super::{FailureKind, Tally};
use crate::checks::{Check, Findings, Kind, Severity, Source};

impl Findings for Tally {
    /// Impossible geometry is an answer, told without more; numbers that are missing or short of accuracy are
    /// not reached.
    fn checks(&self) -> Vec<Check> {
        let mut checks = Vec::new();
        let short = self.short_of_accuracy;
        if short > 0 {
            checks.push(
                Check::new(Kind::Accuracy, Severity::Undecided, Source::Sweep).found(format!(
                    "not reached at {short} points; their rows of the table name what missed"
                )),
            );
        }
        let geometry = FailureKind::Geometry.word();
        for (kind, reason, count) in &self.reasons {
            let (about, severity) = match kind == geometry {
                true => (Kind::Points, Severity::Unusual),
                false => (Kind::NoAnswer, Severity::Undecided),
            };
            checks.push(
                Check::new(about, severity, Source::Sweep)
                    .found(format!("{count} points without numbers: {reason}")),
            );
        }
        checks
    }
}
