//! When sliders and wheels report a position, and how good it is.

use crate::note::facts::Facts;
use crate::questions::slider::{
    STROKE_HEADER, SliderDecision, TOTAL_HEADER, sentences, stroke_row, total_row,
};
use crate::report::{Block, Table};

/// Nothing without sliders.
pub(super) fn blocks(facts: &Facts<'_>) -> Vec<Block> {
    match &facts.sliders {
        Some(Ok(decisions)) if !decisions.is_empty() => decided(facts, decisions),
        Some(Err(reason)) => vec![Block::paragraph(format!("Sliders: not decided: {reason}."))],
        _ => Vec::new(),
    }
}

fn decided(facts: &Facts<'_>, decisions: &[SliderDecision]) -> Vec<Block> {
    let mut totals = Table::new(
        "Thresholds of sliders and wheels, total of all segments in counts",
        &TOTAL_HEADER,
        1,
    );
    let mut strokes = Table::new(
        "Positions that sliders and wheels report",
        &STROKE_HEADER,
        2,
    );
    for decision in decisions {
        totals.row(total_row(decision));
        for (stroke, reports) in decision.strokes.iter().zip(&decision.reports) {
            strokes.row(stroke_row(stroke, reports));
        }
    }
    totals.remark = decisions
        .iter()
        .flat_map(sentences)
        .collect::<Vec<_>>()
        .join(" ");
    strokes.remark =
        "A position is reported while the total is at or above its threshold, here at its lowest \
                      bound on any supply."
            .to_owned();
    totals.command = facts.window_command();
    strokes.command = facts.window_command();
    vec![Block::Table(totals), Block::Table(strokes)]
}
