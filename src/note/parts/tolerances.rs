//! Which tolerance hurts most, and what all of them do together.

use super::{figure, left_out, not_computed};
use crate::note::facts::Facts;
use crate::questions::tolerance::{Spread, bars, histogram, report};
use crate::report::Block;
use padfield_chart::ChartError;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    match &facts.spread {
        None => Ok(left_out()),
        Some(Err(reason)) => Ok(vec![not_computed(reason)]),
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
    let weighed = spread.governing();
    if let Some(chart) = bars(&facts.response.title, spread, weighed) {
        let name = weighed.name();
        let words = [
            "tolerance-bars",
            &format!("What every tolerance does to the {name}, largest first"),
            &format!(
                "Bars of the change of the {name} with every value at either end of its tolerance; its numbers are in \
                 the table above."
            ),
        ];
        blocks.push(figure(&chart, words, &command)?);
    }
    if let Some(chart) = histogram(&facts.response.title, spread) {
        let words = [
            "units",
            "Weakest true and strongest false event over all units drawn at random",
            "Two histograms of counts over the units: the weakest true touch and the strongest false event, with the \
             threshold between; the yield is in the table above.",
        ];
        blocks.push(figure(&chart, words, &command)?);
    }
    Ok(blocks)
}
