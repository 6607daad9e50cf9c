//! What of a window failed, is undecided or less than wanted.

use super::{PadWindow, Window};
use crate::accuracy::missed_words;
use crate::checks::{Check, Findings, Kind, Severity, Source, accuracy};
use crate::rounding::significant;

impl Window {
    fn ratio_check(&self, window: &PadWindow) -> Option<Check> {
        let (severity, limit) = if window.ratio <= 1.0 {
            (Severity::Failed, 1.0)
        } else if window.ratio < self.wanted_ratio {
            (Severity::Unusual, self.wanted_ratio)
        } else {
            return None;
        };
        let place = match window.pad {
            Some(pad) => format!("pad \"{}\"", self.table.pads[pad]),
            None => String::new(),
        };
        let relation = match severity {
            Severity::Failed => "above",
            _ => "wanted at least",
        };
        Some(
            Check::new(Kind::Window, severity, Source::Window)
                .at(place)
                .found(format!("W = {}", significant(window.ratio, 2)))
                .keeps(format!("{relation} {limit}")),
        )
    }
}

impl Findings for Window {
    fn checks(&self) -> Vec<Check> {
        let touched = self.pads.iter().filter(|pad| pad.weakest_true.is_some());
        let mut judged: Vec<&PadWindow> = touched.collect();
        if judged.is_empty() {
            judged.push(&self.common);
        }
        let mut checks: Vec<Check> = judged
            .into_iter()
            .filter_map(|pad| self.ratio_check(pad))
            .collect();
        let missing = self.table.not_described.iter();
        checks.extend(missing.map(|what| {
            Check::new(Kind::NotDescribed, Severity::Undecided, Source::Window)
                .at(what.clone())
                .found("not judged")
        }));
        checks.extend(accuracy(
            self.accuracy_reached,
            &missed_words(&self.missed),
            Some(self.accuracy_asked),
            Source::Window,
        ));
        checks
    }
}
