//! How every command ends: its checks, the cautions of the panel, the exit code.

use super::Exit;
use crate::cautions::cautions;
use crate::checks::{Check, CheckRecord, fails, is_not_reached};
use crate::panel::Panel;
use crate::record::all;
use crate::report::terminal::{wrap, wrap_indented};
use schemars::JsonSchema;
use serde::Serialize;

/// The exit code that a list of checks makes: numbers that are not good enough come before limits that are
/// not kept, because they decide nothing.
pub(super) fn exit_of(checks: &[Check]) -> Exit {
    if is_not_reached(checks) {
        Exit::NotReached
    } else if fails(checks) {
        Exit::CheckFailed
    } else {
        Exit::Success
    }
}

/// Everything that failed, is open, undecided or unusual, the worst first, with a blank line before; empty
/// when nothing is.
pub(super) fn checks_text(checks: &[Check]) -> String {
    if checks.is_empty() {
        return String::new();
    }
    let mut sorted: Vec<&Check> = checks.iter().collect();
    sorted.sort_by_key(|check| check.severity);
    let lines = sorted.into_iter().map(|check| {
        let text = format!("{}: {}", check.severity.word(), check.sentence());
        wrap_indented(&text, "  ", "    ")
    });
    format!("\nChecks\n{}\n", lines.collect::<Vec<_>>().join("\n"))
}

/// What the panel is part of, with a blank line before.
pub(super) fn cautions_text(panel: &Panel) -> String {
    let lines = cautions(panel);
    let lines: Vec<String> = lines
        .iter()
        .map(|line| wrap(&format!("Caution. {line}")))
        .collect();
    format!("\n{}\n", lines.join("\n"))
}

/// An answer for machines, with what every answer carries.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct Answered<T> {
    /// Its own keys.
    #[serde(flatten)]
    answer: T,
    /// Everything found failed, open, undecided or unusual, in the order it is told; the exit code follows
    /// from it.
    checks: Vec<CheckRecord>,
    /// What the panel is part of and who has to decide there.
    cautions: Vec<String>,
}

/// An answer about a panel for machines.
pub(super) fn with_ending<T>(answer: T, panel: &Panel, checks: &[Check]) -> Answered<T> {
    with_cautions(answer, checks, &cautions(panel))
}

/// The same with cautions of its own.
pub(super) fn with_cautions<T>(answer: T, checks: &[Check], cautions: &[String]) -> Answered<T> {
    Answered {
        answer,
        checks: all(checks, CheckRecord::of),
        cautions: cautions.to_vec(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::checks::{Kind, Severity, Source};

    #[test]
    fn the_exit_code_follows_from_the_checks_alone() {
        let check = |kind, severity| Check::new(kind, severity, Source::Window);
        let missed = check(Kind::Accuracy, Severity::Undecided);
        let open = check(Kind::Discharge, Severity::Open);
        let unusual = check(Kind::Circuit, Severity::Unusual);
        assert_eq!(exit_of(&[]), Exit::Success);
        assert_eq!(exit_of(std::slice::from_ref(&unusual)), Exit::Success);
        assert_eq!(exit_of(&[unusual.clone(), open.clone()]), Exit::CheckFailed);
        assert_eq!(exit_of(&[open.clone(), missed]), Exit::NotReached);
        let text = checks_text(&[unusual, open]);
        assert_eq!(text, "\nChecks\n  open: discharge\n  unusual: circuit\n");
    }
}
