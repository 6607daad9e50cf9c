//! What the numbers hang on, how they were found, what they do not decide.

use crate::cautions::cautions as cautions_of;
use crate::note::facts::Facts;
use crate::report::{Block, Table};
use crate::rounding::significant;
use padfield_chart::ChartError;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let mut blocks = vec![
        Block::heading("Of bases and touches"),
        Block::list(facts.response.assumptions.clone()),
    ];
    if let Some(window) = facts.decided() {
        blocks.push(Block::heading("Of the threshold window"));
        blocks.push(Block::list(window.assumptions.clone()));
    }
    blocks.push(Block::heading("Solver record"));
    blocks.push(Block::Table(record(facts)));
    Ok(blocks)
}

fn record(facts: &Facts<'_>) -> Table {
    let numerics = &facts.response.numerics;
    let mut table = Table::new("Solver record of bases and touches", &["what", "value"], 2);
    let percent = |share: f64| format!("{} %", significant(100.0 * share, 2));
    let yes = |yes: bool| if yes { "yes" } else { "no" }.to_owned();
    let mut row = |what: &str, value: String| table.row(vec![what.to_owned(), value]);
    row("inputs, hash", facts.key.clone());
    row("engine", format!("padfield {}", facts.engine()));
    row(
        "field problems, each untouched and touched",
        numerics.solves.to_string(),
    );
    row(
        "cells of the largest grid, after symmetry",
        numerics.cells.to_string(),
    );
    row("fineness", significant(numerics.fineness, 3));
    row("most iterations", numerics.iterations.to_string());
    row(
        "largest relative residual",
        format!("{:.0e}", numerics.residual),
    );
    row("accuracy asked", percent(numerics.accuracy_asked));
    row("accuracy estimated", percent(numerics.accuracy_estimated));
    row("accuracy reached", yes(numerics.accuracy_reached));
    if let Some(window) = facts.decided() {
        row("window: field problems", window.field_problems.to_string());
        row("window: accuracy asked", percent(window.accuracy_asked));
        row("window: accuracy reached", yes(window.accuracy_reached));
    }
    if let Some(judgement) = &facts.judgement {
        row(
            "guidelines: field problems",
            judgement.field_problems.to_string(),
        );
        row(
            "guidelines: accuracy reached",
            yes(judgement.accuracy_reached),
        );
    }
    table.command = facts.solve_command();
    table
}

pub(super) fn cautions(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    Ok(vec![Block::cautions(cautions_of(facts.order.panel))])
}
