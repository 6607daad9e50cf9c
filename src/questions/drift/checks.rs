//! What of a drift is not kept, not known or not to be trusted.

use super::{Drift, LARGEST_LOSS};
use crate::accuracy::missed_words;
use crate::checks::{Check, Findings, Kind, Severity, Source, accuracy};
use crate::rounding::significant;

impl Findings for Drift {
    fn checks(&self) -> Vec<Check> {
        // What nobody asked for cannot fail: without a climate of its own the panel has a usual one.
        let severity = match self.climate.is_given {
            true => Severity::Failed,
            false => Severity::Unusual,
        };
        let losing = self.pads.iter().filter(|pad| !pad.loss_is_small());
        let mut checks: Vec<Check> = losing
            .map(|pad| {
                Check::new(Kind::HeldFinger, severity, Source::Drift)
                    .at(format!("pad \"{}\"", pad.name))
                    .found(format!(
                        "loses {} % of its shift to the tracking it needs",
                        significant(100.0 * pad.loss, 2)
                    ))
                    .keeps(format!(
                        "at most {} % (common practice, no source)",
                        100.0 * LARGEST_LOSS
                    ))
            })
            .collect();
        checks.extend(self.warnings.iter().map(|warning| {
            Check::new(Kind::Coefficients, Severity::Undecided, Source::Drift)
                .found(warning.trim_end_matches('.'))
        }));
        checks.extend(accuracy(
            self.accuracy_reached,
            &missed_words(&self.missed),
            None,
            Source::Drift,
        ));
        checks
    }
}
