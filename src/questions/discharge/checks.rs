//! Paths that do not hold the level asked for, or leave it open.

use super::{Discharge, DischargePath, PathKind, Verdict, level_text};
use crate::checks::{Check, Findings, Kind, Severity, Source};
use crate::rounding::significant;

impl Discharge {
    fn path_check(&self, path: &DischargePath) -> Option<Check> {
        let level = self.demand.level?;
        let severity = match self.verdict(path)? {
            Verdict::Holds => return None,
            Verdict::Open => Severity::Open,
            Verdict::Fails => Severity::Failed,
        };
        let [least, most] = path
            .holds
            .map(|voltage| significant(voltage.volts() / 1e3, 2));
        let margin = match path.kind {
            PathKind::Puncture => format!(", margin {}", self.demand.margin.value),
            PathKind::Surface => String::new(),
        };
        Some(
            Check::new(Kind::Discharge, severity, Source::Discharge)
                .at(path.name.clone())
                .found(format!("holds {least} to {most} kV (estimate)"))
                .keeps(format!("{}{margin}", level_text(&level))),
        )
    }
}

impl Findings for Discharge {
    fn checks(&self) -> Vec<Check> {
        let paths = self.paths.iter();
        paths.filter_map(|path| self.path_check(path)).collect()
    }
}
