//! What the reader of a response should not overlook.

use super::answer::Response;
use super::counts::Counts;
use crate::accuracy::missed_words;
use crate::checks::{Check as Finding, Findings, Kind, Severity, Source, accuracy};
use crate::measuring_circuit::{CHECK_SOURCE, Check};
use crate::panel::Model;
use crate::rounding::significant;

impl Findings for Response {
    fn checks(&self) -> Vec<Finding> {
        let mut checks = Vec::new();
        if self.model != Model::Volume {
            let word = match self.model {
                Model::Section => "section: trend only, do not design with these values",
                _ => "axisymmetric: the pad on its own, without neighbours and traces",
            };
            checks.push(finding(Kind::Model, Severity::Undecided).found(word));
        }
        let numerics = &self.numerics;
        let estimated = significant(100.0 * numerics.accuracy_estimated, 2);
        let names = match missed_words(&numerics.missed) {
            names if names.is_empty() => format!("an estimated {estimated} %"),
            names => names,
        };
        checks.extend(accuracy(
            numerics.accuracy_reached,
            &names,
            Some(numerics.accuracy_asked),
            Source::Solve,
        ));
        for pad in &self.pads {
            let Some(touch) = &pad.touch else { continue };
            let place = format!("pad \"{}\"", pad.name);
            for estimate in touch.estimates.iter().filter(|e| e.is_far_off()) {
                checks.push(
                    finding(Kind::HandEstimate, Severity::Unusual)
                        .at(&place)
                        .found(format!(
                            "\"{}\" is {:.2} times the computed value: {}",
                            estimate.name, estimate.ratio, estimate.known_bias
                        )),
                );
            }
            if touch.shift.is_below_resolution() {
                checks.push(
                    finding(Kind::Resolution, Severity::Undecided)
                        .at(&place)
                        .found("the touch shift is below resolution"),
                );
            }
        }
        checks.extend(self.counts.checks());
        checks
    }
}

fn finding(kind: Kind, severity: Severity) -> Finding {
    Finding::new(kind, severity, Source::Solve)
}

impl Findings for Counts {
    /// Limits of the circuit that some pads do not keep.
    fn checks(&self) -> Vec<Finding> {
        let mut checks = Vec::new();
        let first = self.pads.first().map_or(&[][..], |pad| &pad.checks);
        for (number, check) in first.iter().enumerate() {
            let all = self.pads.iter().map(|pad| &pad.checks[number]);
            let values: Vec<f64> = all.filter(|c| !c.holds()).map(|c| c.value).collect();
            if !values.is_empty() {
                checks.push(broken(check, &values));
            }
        }
        if self.scan.is_some_and(|scan| scan.cycle_is_stretched) {
            checks.push(
                finding(Kind::Scan, Severity::Unusual)
                    .found("takes longer than the cycle asked for"),
            );
        }
        checks
    }
}

/// "circuit, base count: 890 to 895 counts; limit: 1000 to 20000 counts (common practice, ...)".
fn broken(check: &Check, values: &[f64]) -> Finding {
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let [low, high] = [least, most].map(three_digits);
    let range = if low == high {
        low
    } else {
        format!("{low} to {high}")
    };
    let limit = match (check.at_least, check.at_most) {
        (Some(least), Some(most)) => format!("{least} to {most} {}", check.unit),
        (Some(least), None) => format!("at least {least} {}", check.unit),
        (None, Some(most)) => format!("at most {most} {}", check.unit),
        (None, None) => String::new(),
    };
    finding(Kind::Circuit, Severity::Unusual)
        .at(check.name)
        .found(format!("{range} {}: {}", check.unit, check.because))
        .keeps(format!("{limit} ({CHECK_SOURCE})"))
}

/// Three significant digits, whole numbers whole.
fn three_digits(value: f64) -> String {
    let magnitude = value.abs().max(1e-9).log10().floor() as i32;
    format!("{value:.*}", (2 - magnitude).max(0) as usize)
}
