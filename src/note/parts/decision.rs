//! The first page: the verdict, what binds it, what is open, what it stands on, a line to sign.

use crate::checks::{Check, Findings, Severity};
use crate::note::facts::Facts;
use crate::note::words::counts;
use crate::questions::window::{self, PadWindow, Window};
use crate::report::Block;
use padfield_chart::ChartError;

/// Checks that are told in full; the others are among the open risks.
const MOST_TOLD: usize = 12;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let checks = facts.checks();
    let mut blocks = vec![
        Block::verdict(verdict(facts, &checks)),
        Block::heading("What binds it"),
        Block::list(binds(facts)),
        Block::heading("What is open"),
        Block::list(open(&checks)),
        Block::heading("What it stands on"),
        Block::list(stands_on(facts)),
    ];
    blocks.push(Block::paragraph(
        "Released by: ______________________________   Date: ______________   Signature: \
         ______________________________",
    ));
    Ok(blocks)
}

fn number(checks: &[Check], severity: Severity) -> usize {
    checks.iter().filter(|c| c.severity == severity).count()
}

fn verdict(facts: &Facts<'_>, checks: &[Check]) -> String {
    let window = match &facts.window {
        None => "The threshold window was left out: nothing is decided.".to_owned(),
        Some(Err(reason)) => format!("The threshold window is not decided: {reason}."),
        Some(Ok(window)) => window::verdict(facts.order.panel, window),
    };
    let [failed, open, undecided, unusual] = Severity::ALL.map(|one| number(checks, one));
    format!(
        "{window} Checks: {failed} failed, {open} open, {undecided} undecided, {unusual} unusual or less than \
         wanted."
    )
}

/// The pair of events that binds, and everything that failed.
fn binds(facts: &Facts<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    if let Some(window) = facts.decided() {
        let binding = window.binding();
        let pad = window::pad_name(window, binding);
        for (index, what) in pair(binding) {
            if let Some(index) = index {
                let event = &window.table.events[index];
                lines.push(format!(
                    "{what} of \"{pad}\": {}, {} counts (mean {}).",
                    event.words(),
                    counts(event.bound),
                    counts(event.mean)
                ));
            }
        }
        lines.push(threshold_line(window, binding));
    }
    let failed = facts.checks().into_iter();
    let failed = failed.filter(|check| check.severity == Severity::Failed);
    lines.extend(failed.map(|check| format!("Failed: {}.", check.sentence())));
    shortened(lines)
}

fn pair(binding: &PadWindow) -> [(Option<usize>, &'static str); 2] {
    [
        (binding.weakest_true, "Weakest true event"),
        (binding.strongest_false, "Strongest false event"),
    ]
}

fn threshold_line(window: &Window, binding: &PadWindow) -> String {
    match (binding.choice, window.exists()) {
        (Some(choice), true) => format!(
            "Threshold {} counts, release {}.",
            counts(choice.threshold),
            counts(choice.release)
        ),
        _ => "No threshold separates the two.".to_owned(),
    }
}

fn open(checks: &[Check]) -> Vec<String> {
    let mut lines = Vec::new();
    for severity in [Severity::Open, Severity::Undecided] {
        let of = checks.iter().filter(|check| check.severity == severity);
        lines.extend(of.map(|check| format!("{}: {}.", severity.word(), check.sentence())));
    }
    if lines.is_empty() {
        lines.push(
            "Nothing that padfield knows of; what it does not compute is in the cautions."
                .to_owned(),
        );
    }
    shortened(lines)
}

fn shortened(mut lines: Vec<String>) -> Vec<String> {
    if lines.len() > MOST_TOLD {
        let more = lines.len() - MOST_TOLD;
        lines.truncate(MOST_TOLD);
        lines.push(format!("{more} more: see the open risks."));
    }
    lines
}

fn stands_on(facts: &Facts<'_>) -> Vec<String> {
    let order = &facts.order;
    let revision = order.panel.revision.as_deref().unwrap_or("not given");
    let mut lines = vec![
        format!("Panel file: {}.", order.file),
        format!("Revision: {revision}."),
        format!("Date: {}.", order.date),
        format!("Hash of the inputs: {}.", facts.inputs),
        format!("Written by padfield {}.", facts.engine()),
    ];
    if !order.set.is_empty() {
        let set: Vec<&str> = order.set.iter().map(String::as_str).collect();
        lines.push(format!("Set beside the panel file: {}.", set.join("; ")));
    }
    lines.push(format!("Written again by: {}", facts.note_command()));
    lines.push("Computed, not measured: a prototype must confirm it.".to_owned());
    lines
}
