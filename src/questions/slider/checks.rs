//! What of a slider failed, or is beyond what is usual.

use super::SliderDecision;
use crate::accuracy::missed_words;
use crate::checks::{Check, Findings, Kind, Severity, Source, accuracy};
use crate::rounding::significant;

impl Findings for SliderDecision {
    fn checks(&self) -> Vec<Check> {
        let mut checks = Vec::new();
        let check = |severity: Severity| {
            Check::new(Kind::Slider, severity, Source::Window)
                .at(format!("total of \"{}\"", self.group))
        };
        let found = format!("W = {}", significant(self.ratio, 2));
        if self.threshold.is_none() {
            let missing = check(Severity::Failed).found(format!("{found}: no threshold"));
            checks.push(missing.keeps("above 1"));
        } else {
            if self.ratio < self.wanted_ratio {
                let narrow = check(Severity::Unusual).found(found);
                checks.push(narrow.keeps(format!("wanted at least {}", self.wanted_ratio)));
            }
            if !self.reports_everywhere() {
                let gaps = check(Severity::Failed).found("no position on parts of the stroke");
                checks.push(gaps.keeps("a position along the whole stroke"));
            }
        }
        for what in &self.not_judged {
            let undecided = Check::new(Kind::NotDescribed, Severity::Undecided, Source::Window);
            let place = format!("{what}, on the total of \"{}\"", self.group);
            checks.push(undecided.at(place).found("not judged"));
        }
        let strokes = self
            .strokes
            .iter()
            .flat_map(|stroke| stroke.limit_checks(Source::Window));
        checks.extend(strokes);
        checks.extend(accuracy(
            self.accuracy_reached,
            &missed_words(&self.missed),
            Some(self.accuracy_asked),
            Source::Window,
        ));
        checks
    }
}
