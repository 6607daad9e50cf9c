//! A question about resistor and gate that nothing answers.

use super::{Answer, Nearest};
use crate::checks::{Check, Findings, Kind, Severity, Source};
use crate::rounding::significant;

impl Findings for Answer {
    fn checks(&self) -> Vec<Check> {
        if self.best.is_some() {
            return Vec::new();
        }
        let nearest = |nearest: &Nearest| {
            format!(
                ", the nearest is {} kohm with a gate of {} ms, which breaks: {}",
                significant(nearest.point.resistor.kilohms(), 3),
                significant(nearest.point.gate.ms(), 2),
                nearest.broken.join(", ")
            )
        };
        let nearest = self.nearest.as_ref().map_or_else(String::new, nearest);
        vec![
            Check::new(Kind::Question, Severity::Failed, Source::Circuit)
                .at("resistor and gate")
                .found(format!(
                    "none of {} points keeps all limits{nearest}",
                    self.points
                )),
        ]
    }
}
