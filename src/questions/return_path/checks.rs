//! Counts that are not kept over the return path.

use super::ReturnStudy;
use crate::accuracy::missed_words;
use crate::checks::{Check, Findings, Kind, Severity, Source, accuracy};
use crate::rounding::significant;

impl Findings for ReturnStudy {
    fn checks(&self) -> Vec<Check> {
        let mut checks = Vec::new();
        if self.pads.is_empty() {
            checks.push(
                Check::new(Kind::NotComputed, Severity::Undecided, Source::ReturnPath)
                    .at("segments of sliders and wheels")
                    .found("not judged"),
            );
        }
        if let Some(wanted) = self.counts {
            for pad in &self.pads {
                for supply in pad.supplies.iter().filter(|one| one.counts[1] < wanted) {
                    checks.push(
                        Check::new(Kind::ReturnPath, Severity::Failed, Source::ReturnPath)
                            .at(format!("pad \"{}\" on \"{}\"", pad.name, supply.supply))
                            .found(format!(
                                "{} counts at the weakest return",
                                significant(supply.counts[1], 3)
                            ))
                            .keeps(format!("at least {wanted} counts")),
                    );
                }
            }
        }
        checks.extend(accuracy(
            self.accuracy_reached,
            &missed_words(&self.missed),
            None,
            Source::ReturnPath,
        ));
        checks
    }
}
