//! Which tolerance hurts most, and what all of them do together.

use crate::chart::ChartError;
use crate::note::document::{Block, Figure, Table};
use crate::note::facts::Facts;
use crate::rounding::significant;
use crate::tolerance::{Output, Spread, bars};

/// Effects below this share of every output are left out \[%\].
const SMALLEST_PERCENT: f64 = 0.1;

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    match &facts.spread {
        None => Ok(vec![Block::paragraph("Left out of this note.")]),
        Some(Err(reason)) => Ok(vec![Block::paragraph(format!("Not computed: {reason}."))]),
        Some(Ok(spread)) => of_spread(facts, spread),
    }
}

fn of_spread(facts: &Facts<'_>, spread: &Spread) -> Result<Vec<Block>, ChartError> {
    let shown = [
        Output::Base,
        Output::TouchShift,
        Output::TrueCounts,
        Output::FalseCounts,
        Output::Ratio,
    ];
    let mut effects = Table::new(
        "Change between the ends of each tolerance, % of the quantity, to first order",
        &[
            "value",
            "base",
            "touch shift",
            "weakest true touch",
            "strongest false event",
            "window ratio",
        ],
        1,
    );
    for row in &spread.rows {
        let parameter = &spread.parameters[row.parameter];
        let share = |output: Output| {
            let nominal = spread.totals[output as usize].nominal;
            row.effects[output as usize].map(|effect| 100.0 * effect / nominal)
        };
        let is_large = |output: &Output| share(*output).iter().any(|e| e.abs() > SMALLEST_PERCENT);
        if parameter.spread.is_none() || !shown.iter().any(is_large) {
            continue;
        }
        let mut cells = vec![parameter.path.clone()];
        cells.extend(shown.map(|output| {
            let [low, high] = share(output);
            match low.is_finite() && high.is_finite() {
                true => format!("{low:+.1} to {high:+.1}"),
                false => "-".to_owned(),
            }
        }));
        effects.row(cells);
    }
    effects.command = facts.tolerance_command();
    let mut totals = Table::new(
        "All tolerances together",
        &[
            "quantity",
            "nominal",
            "mean",
            "standard uncertainty",
            "worst case",
        ],
        1,
    );
    for output in Output::ALL {
        let total = &spread.totals[output as usize];
        let name = match output.unit() {
            "" => output.name().to_owned(),
            unit => format!("{}, {unit}", output.name()),
        };
        totals.row(vec![
            name,
            significant(total.nominal, 3),
            significant(total.mean, 3),
            significant(total.standard_uncertainty, 2),
            format!(
                "{} to {}",
                significant(total.worst[0], 3),
                significant(total.worst[1], 3)
            ),
        ]);
    }
    totals.command = facts.tolerance_command();
    totals.remark = "Root sum square after JCGM 100; worst case with every value at the end that hurts. Input \
                     tolerance: the numerical error is not in it. The yield of a threshold: the same command \
                     without --units 0."
        .to_owned();
    let chart = bars(&facts.response.title, spread, Output::Ratio);
    Ok(vec![
        Block::paragraph(format!(
            "Of pad \"{}\", whose window is narrowest.",
            spread.pad
        )),
        Block::Table(effects),
        Block::Figure(Figure {
            name: "tolerance-bars".to_owned(),
            caption: "What every tolerance does to the window ratio, largest first".to_owned(),
            alternative:
                "Bars of the change of the window ratio with every value at either end of its \
                          tolerance; its numbers are in the table above."
                    .to_owned(),
            svg: chart.svg()?,
            command: facts.tolerance_command(),
        }),
        Block::Table(totals),
    ])
}
