//! What of a walk was not reached, and of a slider is beyond what is usual.

use super::{LARGEST_DEVIATION_MM, LARGEST_RIPPLE, Slide, TouchMap, Walk, Work};
use crate::checks::{Check, Findings, Kind, Severity, Source, accuracy};
use crate::measuring_circuit::CHECK_SOURCE;
use crate::rounding::significant;

impl Findings for Work {
    fn checks(&self) -> Vec<Check> {
        accuracy(self.accuracy_reached, None, Source::Walk)
            .into_iter()
            .collect()
    }
}

impl Findings for Walk {
    fn checks(&self) -> Vec<Check> {
        self.work.checks()
    }
}

impl Findings for TouchMap {
    fn checks(&self) -> Vec<Check> {
        self.work.checks()
    }
}

impl Findings for Slide {
    fn checks(&self) -> Vec<Check> {
        let beyond = |what: &str, value: f64, most: f64, unit: &str| {
            // Without counts there is no position: not a number is beyond every limit.
            (value.is_nan() || value > most).then(|| {
                Check::new(Kind::Slider, Severity::Unusual, Source::Walk)
                    .at(format!(
                        "{what} of \"{}\" under \"{}\"",
                        self.group, self.finger
                    ))
                    .found(format!("{} {unit}", significant(value, 2)))
                    .keeps(format!("at most {most} {unit} ({CHECK_SOURCE})"))
            })
        };
        let linearity = beyond(
            "deviation",
            self.linearity().mm(),
            LARGEST_DEVIATION_MM,
            "mm",
        );
        let ripple = beyond("ripple", 100.0 * self.ripple(), 100.0 * LARGEST_RIPPLE, "%");
        let own = linearity.into_iter().chain(ripple);
        own.chain(self.work.checks()).collect()
    }
}
