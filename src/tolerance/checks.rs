//! What of a spread is undecided or not kept.

use super::{Output, Spread};
use crate::checks::{Check, Findings, Kind, Severity, Source, accuracy};
use crate::field::missed_words;
use crate::rounding::significant;

impl Findings for Spread {
    fn checks(&self) -> Vec<Check> {
        let place = format!("pad \"{}\"", self.pad);
        let mut checks = Vec::new();
        let ratio = self.totals[Output::Ratio as usize].nominal;
        if ratio <= 1.0 {
            checks.push(
                Check::new(Kind::Window, Severity::Failed, Source::Tolerance)
                    .at(&place)
                    .found(format!("W = {} as drawn", significant(ratio, 2)))
                    .keeps("above 1"),
            );
        }
        if let Some(quality) = self.surrogate.filter(|quality| !quality.is_good()) {
            checks.push(
                Check::new(Kind::Yield, Severity::Open, Source::Tolerance)
                    .at(&place)
                    .found(format!(
                        "the surrogate is off by {} % of the spread, too much for a yield",
                        significant(100.0 * quality.share_of_spread, 2)
                    )),
            );
        }
        checks.extend(accuracy(
            self.accuracy_reached,
            &missed_words(&self.missed),
            Some(self.accuracy_asked),
            Source::Tolerance,
        ));
        checks
    }
}
