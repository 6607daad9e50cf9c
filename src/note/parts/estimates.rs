//! Hand estimates beside what was computed.

use crate::note::facts::Facts;
use crate::note::words::SHIFT_DIGITS;
use crate::report::{Block, Table};
use crate::response::{RATIO_LIMITS, Subject};
use crate::rounding::significant;
use padfield_chart::ChartError;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let mut table = Table::new(
        "Estimates by hand, beside the computed value",
        &[
            "pad",
            "estimate",
            "of",
            "estimate, pF",
            "computed, pF",
            "estimate / computed",
            "known bias",
        ],
        3,
    )
    .with_words_in(&[6]);
    table.command = facts.solve_command();
    for pad in &facts.response.pads {
        let Some(touch) = pad
            .touch
            .as_ref()
            .filter(|touch| touch.mirrored_from.is_none())
        else {
            continue;
        };
        for estimate in &touch.estimates {
            let computed = match (estimate.subject, pad.base) {
                (Subject::Base, Some(base)) => base.computed.shown(),
                (Subject::Base, None) => String::new(),
                (Subject::TouchShift, _) => touch.shift.shown(),
            };
            table.row(vec![
                pad.name.clone(),
                format!("estimate: {}", estimate.name),
                match estimate.subject {
                    Subject::Base => "base",
                    Subject::TouchShift => "touch shift",
                }
                .to_owned(),
                significant(estimate.value.pf(), SHIFT_DIGITS),
                computed,
                significant(estimate.ratio, SHIFT_DIGITS),
                estimate.known_bias.to_owned(),
            ]);
        }
    }
    if table.rows.is_empty() {
        return Ok(Vec::new());
    }
    table.remark = "Pads that are mirror images of another one are left out.".to_owned();
    Ok(vec![
        Block::paragraph(format!(
            "Formulas for a first guess, never used for a number of this note. A ratio outside {} to {} means \
             that the formula is about another arrangement; a floor may be as far below as it is.",
            RATIO_LIMITS[0], RATIO_LIMITS[1]
        )),
        Block::Table(table),
    ])
}
