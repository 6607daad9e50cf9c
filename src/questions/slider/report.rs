//! The decisions in words: totals, positions, and what decides.

use super::{STROKE_HEADER, SliderDecision, TOTAL_HEADER, sentences, stroke_row, total_row};
use crate::report::{Block, Report, Table};

/// The answer in blocks; none without sliders.
pub fn report(decisions: &[SliderDecision]) -> Report {
    let mut report = Report::default();
    if decisions.is_empty() {
        return report;
    }
    let mut totals = Table::new(
        "Sliders and wheels: thresholds, total of all segments in counts",
        &TOTAL_HEADER,
        1,
    );
    let mut strokes = Table::new(
        "Positions that sliders and wheels report, first supply",
        &STROKE_HEADER,
        2,
    );
    for decision in decisions {
        totals.row(total_row(decision));
        for (stroke, reports) in decision.strokes.iter().zip(&decision.reports) {
            strokes.row(stroke_row(stroke, reports));
        }
    }
    strokes.remark = "A position is reported while the total is at or above its threshold; from where to where, at the \
                      lowest bound of the total on any supply. Segments are measured one after the other: their noise \
                      adds up as squares. padfield walk --slider draws the position."
        .to_owned();
    report.say(totals);
    report.say(strokes);
    for line in decisions.iter().flat_map(sentences) {
        report.say(Block::paragraph(line));
    }
    report
}
