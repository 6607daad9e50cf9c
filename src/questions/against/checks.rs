//! What of a comparison is undecided.

use super::{Comparison, Verdict};
use crate::checks::{Check, Findings, Kind, Severity, Source};

impl Findings for Comparison {
    /// Those of the panel as written first, then what each variant has besides.
    fn checks(&self) -> Vec<Check> {
        let mut checks = self.as_written.checks();
        for variant in &self.variants {
            let words = variant.changes.join("; ");
            for check in variant.response.checks() {
                if !checks.contains(&check) {
                    let place = format!("{} {words}", check.place);
                    checks.push(check.at(place.trim_start()));
                }
            }
            let undecided = variant.pads.iter();
            let undecided = undecided.filter(|pad| pad.verdict == Some(Verdict::CannotTell));
            checks.extend(undecided.map(|pad| {
                Check::new(Kind::Comparison, Severity::Undecided, Source::Solve)
                    .at(format!("pad \"{}\" {words}", pad.pad))
                    .found("an error bar holds a limit")
            }));
        }
        checks
    }
}
