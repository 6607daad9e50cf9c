//! Which tolerance hurts most, and what all of them do together.

use crate::note::facts::Facts;
use crate::questions::tolerance::{Output, Share, Spread, bars, histogram};
use crate::report::{Block, Figure, Table};
use crate::rounding::{counts, signed, significant};
use padfield_chart::{Chart, ChartError};

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
                true => format!("{} to {}", signed(low, 1), signed(high, 1)),
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
    totals.remark =
        "Root sum square after JCGM 100; worst case with every value at the end that hurts. Input \
                     tolerance: the numerical error is not in it. "
            .to_owned();
    if spread.units.is_none() {
        totals.remark += "The yield of a threshold: the same command without --units 0.";
    }
    let chart = bars(&facts.response.title, spread, Output::Ratio);
    // A ratio that is nothing has no bars.
    let drawn = match chart.svg() {
        Ok(svg) => Block::Figure(Figure {
            name: "tolerance-bars".to_owned(),
            caption: "What every tolerance does to the window ratio, largest first".to_owned(),
            alternative:
                "Bars of the change of the window ratio with every value at either end of its \
                          tolerance; its numbers are in the table above."
                    .to_owned(),
            svg,
            command: facts.tolerance_command(),
        }),
        Err(reason) => Block::paragraph(format!("No chart: {reason}.")),
    };
    let mut blocks = vec![
        Block::paragraph(format!(
            "Of pad \"{}\", whose window is narrowest.",
            spread.pad
        )),
        Block::Table(effects),
        drawn,
        Block::Table(totals),
    ];
    blocks.extend(of_units(facts, spread)?);
    Ok(blocks)
}

/// Units drawn at random, when they were asked for.
fn of_units(facts: &Facts<'_>, spread: &Spread) -> Result<Vec<Block>, ChartError> {
    let drawn = spread.units.as_ref();
    let Some((units, chart)) = drawn.zip(histogram(&facts.response.title, spread)) else {
        return Ok(Vec::new());
    };
    let mut table = Table::new(
        format!("Yield of {} units drawn at random", units.fixed.of),
        &["units that", "share, %", "95 % confidence interval, %"],
        1,
    );
    table.command = facts.tolerance_command();
    let mut row = |what: &str, share: &Share| {
        let percent = |part: f64| significant(100.0 * part, 4);
        table.row(vec![
            what.to_owned(),
            percent(share.passed as f64 / share.of as f64),
            share.interval.map(percent).join(" to "),
        ]);
    };
    row("work with one threshold for all", &units.fixed);
    row("miss a true event with it", &units.missed);
    row("take a false event for a touch with it", &units.triggered);
    row("have a threshold of their own", &units.own);
    row("have the wanted window ratio", &units.comfortable);
    table.remark = match spread.surrogate {
        Some(quality) if !quality.is_good() => {
            "What the units are drawn over does not stand for the panel well enough: no yield to build on."
                .to_owned()
        }
        _ => format!(
            "One threshold for all units: {} counts, {}.",
            counts(spread.threshold),
            spread.threshold_origin.words()
        ),
    };
    Ok(vec![
        Block::Table(table),
        Block::Figure(Figure {
            name: "units".to_owned(),
            caption: "Weakest true and strongest false event over all units drawn at random".to_owned(),
            alternative: "Two histograms of counts over the units: the weakest true touch and the strongest false \
                          event, with the threshold between; the yield is in the table above."
                .to_owned(),
            svg: chart.svg()?,
            command: facts.tolerance_command(),
        }),
    ])
}
