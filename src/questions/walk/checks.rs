//! What of a walk was not reached, and of a slider is beyond what is usual.

use super::{Slide, TouchMap, Walk, Work};
use crate::accuracy::missed_words;
use crate::checks::{Check, Findings, Kind, Severity, Source, accuracy};
use crate::measuring_circuit::CHECK_SOURCE;
use crate::panel::{Origin, SliderLimits};
use crate::rounding::significant;
use padfield_engine::units::Length;

impl Findings for Work {
    fn checks(&self) -> Vec<Check> {
        accuracy(
            self.accuracy_reached,
            &missed_words(&self.missed),
            self.missed.first().map(|one| one.asked),
            Source::Walk,
        )
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

impl Slide {
    /// Where deviation, ripple and dead zones are beyond their limits: failed where the file sets the limit,
    /// unusual where common practice does.
    pub fn limit_checks(&self, source: Source) -> Vec<Check> {
        let beyond = |what: &str, value: f64, most: f64, origin: Origin, unit: &str| {
            let (severity, whose) = match origin {
                Origin::Given => (Severity::Failed, "limit of the panel file"),
                Origin::Default => (Severity::Unusual, CHECK_SOURCE),
            };
            // Without counts there is no position: not a number is beyond every limit.
            (value.is_nan() || value > most).then(|| {
                Check::new(Kind::Slider, severity, source)
                    .at(format!(
                        "{what} of \"{}\" under \"{}\"",
                        self.group, self.finger
                    ))
                    .found(format!("{} {unit}", significant(value, 2)))
                    .keeps(format!("at most {} {unit} ({whose})", significant(most, 2)))
            })
        };
        let SliderLimits {
            deviation,
            ripple,
            dead_zone,
        } = self.limits;
        let longest = self.dead_zones().map(Length::mm);
        [
            beyond(
                "deviation",
                self.linearity().mm(),
                deviation.value.mm(),
                deviation.origin,
                "mm",
            ),
            beyond(
                "ripple",
                100.0 * self.ripple(),
                100.0 * ripple.value,
                ripple.origin,
                "%",
            ),
            beyond(
                "dead zone",
                longest[0].max(longest[1]),
                dead_zone.value.mm(),
                dead_zone.origin,
                "mm",
            ),
        ]
        .into_iter()
        .flatten()
        .collect()
    }
}

impl Findings for Slide {
    fn checks(&self) -> Vec<Check> {
        let mut checks = self.limit_checks(Source::Walk);
        checks.extend(self.work.checks());
        checks
    }
}
