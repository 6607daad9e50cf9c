//! What of a spread is undecided or not kept.

use super::{Output, Spread};
use crate::accuracy::missed_words;
use crate::checks::{Check, Findings, Kind, Severity, Source, accuracy};
use crate::rounding::significant;

/// Share of units that one threshold should suit: common practice, no source.
pub const LEAST_YIELD: f64 = 0.99;

impl Findings for Spread {
    fn checks(&self) -> Vec<Check> {
        let place = format!("pad \"{}\"", self.pad);
        let mut checks = Vec::new();
        // One question, one answer: where the window says that no threshold holds for everything that may be
        // built, so does this.
        let as_drawn = self.totals[Output::Ratio as usize].nominal;
        for (ratio, of) in [
            (as_drawn, "as drawn"),
            (
                self.window_ratio,
                "over everything that may be built and used",
            ),
        ] {
            if ratio <= 1.0 {
                checks.push(
                    Check::new(Kind::Window, Severity::Failed, Source::Tolerance)
                        .at(&place)
                        .found(format!("W = {} {of}", significant(ratio, 2)))
                        .keeps("above 1"),
                );
            }
        }
        let lost = self
            .units
            .as_ref()
            .filter(|units| units.fixed.value() < LEAST_YIELD);
        if let Some(units) = lost {
            checks.push(
                Check::new(Kind::Yield, Severity::Failed, Source::Tolerance)
                    .at(&place)
                    .found(match self.one_threshold() {
                        Some(threshold) => format!(
                            "one threshold of {} counts suits {} % of the units",
                            significant(threshold, 3),
                            significant(100.0 * units.fixed.value(), 3)
                        ),
                        None => "there is no threshold for all units".to_owned(),
                    })
                    .keeps(format!(
                        "at least {} % (common practice, no source)",
                        100.0 * LEAST_YIELD
                    )),
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
