//! What is open: everything any command on this panel registered, with what would settle it.

use crate::checks::Findings;
use crate::note::facts::Facts;
use crate::report::{Block, Table};
use padfield_chart::ChartError;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let mut checks = facts.checks();
    if checks.is_empty() {
        return Ok(vec![Block::paragraph(
            "Nothing that padfield knows of; what it does not compute is in the cautions.",
        )]);
    }
    checks.sort_by_key(|check| check.severity);
    let mut table = Table::new(
        "Open risks",
        &[
            "state",
            "risk",
            "what is known",
            "limit",
            "what would settle it",
            "shown by",
            "owner",
        ],
        7,
    );
    for check in &checks {
        table.row(vec![
            check.severity.word().to_owned(),
            check.subject(),
            check.value.clone(),
            check.limit.clone(),
            check.kind.settles().to_owned(),
            format!("padfield {}", check.source.command()),
            String::new(),
        ]);
    }
    table.command = facts.note_command();
    Ok(vec![Block::Table(table)])
}
