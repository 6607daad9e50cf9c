//! What every pad has, and what a touch adds.

use crate::note::facts::Facts;
use crate::panel::Model;
use crate::report::{Block, Cell};
use crate::response::report;
use crate::rounding::window_ratio as ratio;
use padfield_chart::ChartError;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let section = match facts.response.model {
        Model::Section => " A section is a cross-section in 2-D: a trend only.",
        Model::Volume | Model::Axisymmetric => "",
    };
    let mut blocks = vec![Block::paragraph(format!(
        "Computed field part, entered stray part and both at the pin. ± is the estimated error of the computed value; the \
         range in brackets is the tolerance of what was entered. The verdict is that of the threshold window, over all \
         users and supplies.{section}"
    ))];
    let mut taken = report(&facts.response).extract(&facts.solve_command());
    // Bases, then touches: the window's word on every pad stands beside what a touch of it is.
    if let Some(Block::Table(touches)) = taken.get_mut(1)
        && facts.response.pads.iter().any(|pad| pad.touch.is_some())
    {
        touches.add_column("verdict", |row| verdict(facts, &row[0].text));
    }
    blocks.append(&mut taken);
    Ok(blocks)
}

fn verdict(facts: &Facts<'_>, pad: &str) -> Cell {
    let Some(window) = facts.decided() else {
        return Cell::from("not decided".to_owned());
    };
    let of_pad = window.pads.iter().find(|one| {
        one.pad.is_some_and(|index| window.table.pads[index] == pad) && one.weakest_true.is_some()
    });
    match of_pad {
        None => Cell::from("no user aims at it".to_owned()),
        Some(one) => Cell {
            text: match one.ratio > 1.0 {
                true if one.ratio < facts.order.panel.usage.wanted_ratio.value => {
                    format!("narrow, W\u{a0}=\u{a0}{}", ratio(one.ratio))
                }
                true => format!("works, W\u{a0}=\u{a0}{}", ratio(one.ratio)),
                false => format!("no window, W\u{a0}=\u{a0}{}", ratio(one.ratio)),
            },
            strong: one.ratio <= 1.0,
        },
    }
}
