//! Which tolerance hurts most, and what all of them do together.

use crate::note::facts::Facts;
use crate::questions::tolerance::{Output, Spread, bars, histogram, report};
use crate::report::{Block, Figure};
use padfield_chart::{Chart, ChartError};

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    match &facts.spread {
        None => Ok(vec![Block::paragraph("Left out of this note.")]),
        Some(Err(reason)) => Ok(vec![Block::paragraph(format!("Not computed: {reason}."))]),
        Some(Ok(spread)) => of_spread(facts, spread),
    }
}

fn of_spread(facts: &Facts<'_>, spread: &Spread) -> Result<Vec<Block>, ChartError> {
    let command = facts.tolerance_command();
    let mut blocks = vec![Block::paragraph(format!(
        "Of pad \"{}\", whose window is narrowest.",
        spread.pad
    ))];
    blocks.extend(report(facts.order.panel, spread).extract(&command));
    // A ratio that is nothing has no bars.
    blocks.push(
        match bars(&facts.response.title, spread, Output::Ratio).svg() {
            Ok(svg) => Block::Figure(Figure {
                name: "tolerance-bars".to_owned(),
                caption: "What every tolerance does to the window ratio, largest first".to_owned(),
                alternative:
                    "Bars of the change of the window ratio with every value at either end of its \
                              tolerance; its numbers are in the table above."
                        .to_owned(),
                svg,
                command: command.clone(),
            }),
            Err(reason) => Block::paragraph(format!("No chart: {reason}.")),
        },
    );
    if let Some(chart) = histogram(&facts.response.title, spread) {
        blocks.push(Block::Figure(Figure {
            name: "units".to_owned(),
            caption: "Weakest true and strongest false event over all units drawn at random".to_owned(),
            alternative: "Two histograms of counts over the units: the weakest true touch and the strongest false \
                          event, with the threshold between; the yield is in the table above."
                .to_owned(),
            svg: chart.svg()?,
            command,
        }));
    }
    Ok(blocks)
}
