//! Decisions on sliders and wheels as text for a terminal.

use crate::questions::slider::{
    STROKE_HEADER, SliderDecision, TOTAL_HEADER, sentences, stroke_row, total_row,
};
use crate::report::terminal::{table, wrap};

/// The table of totals, that of strokes, and what decides; nothing without sliders.
pub(super) fn sliders_text(decisions: &[SliderDecision]) -> String {
    if decisions.is_empty() {
        return String::new();
    }
    let totals = decisions.iter().map(total_row).collect();
    let strokes = decisions.iter().flat_map(|decision| {
        let each = decision.strokes.iter().zip(&decision.reports);
        each.map(|(stroke, reports)| stroke_row(stroke, reports))
    });
    let mut text = format!(
        "\nSliders and wheels: total of all segments in counts\n{}\n\nPosition told, first supply\n{}\n\n",
        table(&TOTAL_HEADER, 1, totals),
        table(&STROKE_HEADER, 2, strokes.collect()),
    );
    for line in decisions.iter().flat_map(sentences) {
        text += &format!("{}\n", wrap(&line));
    }
    text += &format!(
        "{}\n",
        wrap(
            "A position is reported while the total is at or above its threshold; from where to where, at the \
             lowest bound of the total on any supply. Segments are measured one after the other: their noise adds \
             up as squares. padfield walk --slider draws the position."
        )
    );
    text
}
