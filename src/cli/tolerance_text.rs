//! A spread as text for a terminal.

use crate::accuracy::reached_words;
use crate::cautions::cautions;
use crate::panel::Panel;
use crate::questions::tolerance::{MonteCarlo, Output, Row, Share, Spread, Way};
use crate::report::terminal::{table, wrap};
use crate::rounding::{fixed, percent_of, rounded_with_error, signed, significant};
use crate::sensitivity::Parameter;
use crate::spread::Shape;

/// Effects below this share of an output are not listed \[%\].
const SMALLEST_PERCENT: f64 = 0.05;

/// Everything, most important first.
pub(super) fn to_text(panel: &Panel, spread: &Spread) -> String {
    let mut text = format!("{}\n\n{}\n\n", panel.title, wrap(&verdict(spread)));
    text += &format!(
        "Sensitivities of pad \"{}\"\n{}\n\n",
        spread.pad,
        sensitivities(spread)
    );
    text += &format!(
        "{}\n\n",
        wrap(
            "True: counts of the weakest true touch; false: of the strongest false event; W: window ratio. Sensitivity: \
             percent of the quantity per percent of the value, to first order. Found by \
             \"derivative\": from the solution of the nominal panel; \"difference\": solved again at 1 % to \
             either side; \"circuit\": without the field."
        )
    );
    text += &format!(
        "Effects within tolerance, % of the quantity\n{}\n\n",
        effects(spread)
    );
    text += &format!("All tolerances together\n{}\n\n", totals(spread));
    text += &format!(
        "{}\n\n",
        wrap(
            "Standard uncertainty: root sum square (JCGM 100). Worst case: every value at the end that \
             hurts, on the fitted response. Input tolerance; the numerical error is not in it."
        )
    );
    if let Some(units) = &spread.units {
        text += &units_text(spread, units);
    }
    text += "Watched events\n";
    for watched in &spread.watch.events {
        text += &format!(
            "  {:12}  {:7} counts  {}\n",
            watched.event.group.words(),
            counts(watched.event.mean),
            watched.event.words()
        );
    }
    text += "\nCautions\n";
    for line in cautions(panel) {
        text += &format!(
            "{}\n",
            crate::report::terminal::wrap_indented(&line, "  ", "  ")
        );
    }
    text += &format!(
        "\n{}\n",
        wrap(&format!(
            "Assumptions. {} Pad by pad: other pads of the same unit may fail as well. Noise counts on the \
             unfavourable side of every bound ({} standard deviations). padfield {}.",
            shapes(spread),
            panel.usage.noise_margin.value,
            env!("CARGO_PKG_VERSION")
        ))
    );
    text += &format!(
        "\n{} field problems, up to {} cells, {:.1} s; accuracy asked {} %: {}.\n",
        spread.field_problems,
        spread.cells,
        spread.seconds,
        significant(100.0 * spread.accuracy_asked, 2),
        reached_words(spread.accuracy_reached, &spread.missed)
    );
    text
}

fn counts(value: f64) -> String {
    significant(value, if value.abs() < 10.0 { 2 } else { 3 })
}

fn percent(share: &Share) -> String {
    let one = |value: f64| significant(100.0 * value, 4);
    format!(
        "{} % ({} to {})",
        one(share.value()),
        one(share.interval[0]),
        one(share.interval[1])
    )
}

fn verdict(spread: &Spread) -> String {
    let ratio = Output::Ratio as usize;
    let hurts = spread
        .rows
        .iter()
        .find(|row| spread.parameters[row.parameter].spread.is_some());
    let most = match hurts {
        Some(row) => {
            let [low, high] = row.effects[ratio].map(|e| 100.0 * e / spread.totals[ratio].nominal);
            format!(
                "{} hurts most: the window ratio moves by {} and {} % between the ends of its tolerance.",
                spread.parameters[row.parameter].path,
                signed(low, 0),
                signed(high, 0)
            )
        }
        None => "No value of this panel has a tolerance.".to_owned(),
    };
    let yields = spread.units.as_ref().map_or_else(String::new, |units| {
        format!(
            " One threshold of {} counts for all units ({}): yield {}; a threshold set for each unit: {}.",
            counts(spread.threshold),
            spread.threshold_origin.words(),
            percent(&units.fixed),
            percent(&units.own)
        )
    });
    format!("{most}{yields}")
}

fn value_text(parameter: &Parameter) -> String {
    let value = parameter.value / parameter.unit_si;
    format!("{} {}", significant(value, 3), parameter.unit)
        .trim_end()
        .to_owned()
}

fn tolerance_text(parameter: &Parameter) -> String {
    let Some(spread) = parameter.spread else {
        return "-".to_owned();
    };
    let [down, up] = [
        parameter.value - spread.least,
        spread.most - parameter.value,
    ]
    .map(|end| end / parameter.unit_si);
    let size = match (down - up).abs() <= 1e-6 * up.abs() {
        true => format!("± {}", significant(up, 2)),
        false => format!("+{} -{}", significant(up, 2), significant(down, 2)),
    };
    let shape = match spread.shape {
        Shape::Rectangular => "",
        Shape::Triangular => " triangular",
        Shape::Normal { .. } => " normal",
    };
    format!("{size}{shape}")
}

fn sensitivities(spread: &Spread) -> String {
    let matters = |row: &&Row| {
        row.log_sensitivity
            .iter()
            .any(|e| e.is_finite() && e.abs() >= 0.005)
    };
    let rows = spread.rows.iter().filter(matters).map(|row| {
        let parameter = &spread.parameters[row.parameter];
        let mut cells = vec![
            parameter.path.clone(),
            match row.way {
                Way::Derivative => "derivative",
                Way::Difference => "difference",
                Way::Circuit => "circuit",
            }
            .to_owned(),
            value_text(parameter),
        ];
        cells.extend(row.log_sensitivity.map(|share| signed(share, 2)));
        cells
    });
    let header = [
        "value",
        "found by",
        "nominal",
        "base",
        "touch",
        "neighbour",
        "true",
        "false",
        "W",
    ];
    named(table(&header, 2, rows.collect()))
}

/// A table whose first column keeps its paths in one piece.
fn named(mut table: comfy_table::Table) -> String {
    if let Some(paths) = table.column_mut(0) {
        paths.set_constraint(comfy_table::ColumnConstraint::ContentWidth);
    }
    table.to_string()
}

/// A change in percent with its sign; nothing is 0.
fn change(percent: f64) -> String {
    match percent.abs() < 0.05 {
        true => "0".to_owned(),
        false => signed(percent, 1),
    }
}

fn effects(spread: &Spread) -> String {
    let shown = [
        Output::Base,
        Output::TouchShift,
        Output::TrueCounts,
        Output::FalseCounts,
        Output::Ratio,
    ];
    let share = |row: &Row, output: Output| {
        let o = output as usize;
        row.effects[o].map(|effect| 100.0 * effect / spread.totals[o].nominal)
    };
    let matters = |row: &&Row| {
        let large = |output: &Output| {
            share(row, *output)
                .iter()
                .any(|e| e.abs() >= SMALLEST_PERCENT)
        };
        spread.parameters[row.parameter].spread.is_some() && shown.iter().any(large)
    };
    let rows = spread.rows.iter().filter(matters).map(|row| {
        let parameter = &spread.parameters[row.parameter];
        let mut cells = vec![parameter.path.clone(), tolerance_text(parameter)];
        cells.extend(shown.map(|output| {
            let [low, high] = share(row, output);
            match low.is_finite() && high.is_finite() {
                true => format!("{} {}", change(low), change(high)),
                false => "-".to_owned(),
            }
        }));
        cells
    });
    let header = ["value", "tolerance", "base", "touch", "true", "false", "W"];
    named(table(&header, 1, rows.collect()))
}

fn totals(spread: &Spread) -> String {
    let rows = Output::ALL.map(|output| {
        let total = &spread.totals[output as usize];
        let unit = |value: f64| format!("{} {}", significant(value, 3), output.unit());
        vec![
            output.name().to_owned(),
            unit(total.nominal).trim_end().to_owned(),
            significant(total.mean, 3),
            format!(
                "{} ({} %)",
                significant(total.standard_uncertainty, 2),
                percent_of(total.standard_uncertainty, total.nominal.abs(), 2)
            ),
            format!(
                "{} to {}",
                significant(total.worst[0], 3),
                significant(total.worst[1], 3)
            ),
        ]
    });
    table(
        &[
            "quantity",
            "nominal",
            "mean",
            "standard\nuncertainty",
            "worst case",
        ],
        1,
        rows.to_vec(),
    )
    .to_string()
}

fn units_text(spread: &Spread, units: &MonteCarlo) -> String {
    let rows = Output::ALL.map(|output| {
        let summary = &units.summaries[output as usize];
        let [low, middle, high] = summary.percentiles.map(|p| significant(p, 3));
        vec![
            output.name().to_owned(),
            rounded_with_error(summary.mean[0], summary.mean[1]),
            significant(summary.deviation, 3),
            low,
            middle,
            high,
        ]
    });
    let header = [
        "quantity",
        "mean",
        "standard deviation",
        "5th percentile",
        "median",
        "95th percentile",
    ];
    let mut text = format!(
        "{} units drawn at random\n{}\n\n",
        units.outcomes.len(),
        table(&header, 1, rows.to_vec())
    );
    text += &format!(
        "Yield, with its 95 % confidence interval\n{}\n\n",
        table(
            &["what has to hold", "share of units"],
            1,
            vec![
                vec![
                    format!(
                        "one threshold of {} counts for all units",
                        counts(spread.threshold)
                    ),
                    percent(&units.fixed),
                ],
                vec![
                    "  lost to a true event below it".to_owned(),
                    percent(&units.missed)
                ],
                vec![
                    "  lost to a false event above it".to_owned(),
                    percent(&units.triggered)
                ],
                vec![
                    "a threshold set for each unit (W above 1)".to_owned(),
                    percent(&units.own)
                ],
                vec![
                    format!(
                        "W of at least {} on each unit",
                        significant(spread.wanted_ratio, 2)
                    ),
                    percent(&units.comfortable),
                ],
            ],
        )
    );
    if let Some(quality) = &spread.surrogate {
        text += &format!(
            "{}\n\n",
            wrap(&format!(
                "Surrogate: quadratic in {} parameters over {} field problems; at {} others it errs by {} % \
                 of the spread and at most {} % of a value: {}.",
                quality.active,
                quality.solves,
                quality.held_out,
                fixed(100.0 * quality.share_of_spread, 1),
                fixed(100.0 * quality.largest_error, 2),
                match quality.is_good() {
                    true => "small beside the spread",
                    false => "NOT small beside the spread, take the yield as a hint only",
                }
            ))
        );
    }
    text
}

fn shapes(spread: &Spread) -> String {
    let varying = spread
        .parameters
        .iter()
        .filter_map(|parameter| parameter.spread);
    let rectangular = varying
        .clone()
        .filter(|s| s.shape == Shape::Rectangular)
        .count();
    let correlated = spread
        .parameters
        .iter()
        .filter(|p| p.with.is_some())
        .count();
    format!(
        "{} values spread, {rectangular} of them as bare tolerances, which count as rectangular (JCGM 100, \
         4.3.7); {correlated} are correlated with another; all others are independent.",
        varying.count()
    )
}
