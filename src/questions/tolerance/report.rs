//! The spread in words: what hurts most, sensitivities, effects, totals, the yield.

use super::{MonteCarlo, Output, Row, Share, Spread, Way};
use crate::accuracy::reached_words;
use crate::cautions::cautions;
use crate::panel::Panel;
use crate::report::{Block, Report, Table};
use crate::rounding::{fixed, percent_of, rounded_with_error, signed, significant};
use crate::sensitivity::Parameter;
use crate::spread::Shape;

/// Effects below this share of an output are not listed \[%\].
const SMALLEST_PERCENT: f64 = 0.05;
/// Quantities whose effects are listed, with their headings.
const LISTED: [(Output, &str); 5] = [
    (Output::Base, "base"),
    (Output::TouchShift, "touch"),
    (Output::TrueCounts, "true"),
    (Output::FalseCounts, "false"),
    (Output::Ratio, "W"),
];

pub fn report(panel: &Panel, spread: &Spread) -> Report {
    let mut report = Report::default();
    report.say(Block::paragraph(verdict(spread)));
    report.detail(sensitivities(spread));
    report.say(effects(spread));
    report.say(totals(spread));
    if let Some(units) = &spread.units {
        report.detail(drawn(units));
        report.say(yields(spread, units));
        if let Some(words) = surrogate(spread) {
            report.say(Block::paragraph(words));
        }
    }
    report.detail(watched(spread));
    report.detail(Block::cautions(cautions(panel)));
    report.assumptions(&[
        shapes(spread),
        format!(
            "Pad by pad: other pads of the same unit may fail as well. Noise counts on the unfavourable side of \
             every bound ({} standard deviations). padfield {}.",
            panel.usage.noise_margin.value,
            env!("CARGO_PKG_VERSION")
        ),
    ]);
    report.detail(Block::paragraph(format!(
        "{} field problems, up to {} cells, {:.1} s; accuracy asked {} %: {}.",
        spread.field_problems,
        spread.cells,
        spread.seconds,
        significant(100.0 * spread.accuracy_asked, 2),
        reached_words(spread.accuracy_reached, &spread.missed)
    )));
    report
}

fn counts(value: f64) -> String {
    significant(value, if value.abs() < 10.0 { 2 } else { 3 })
}

fn verdict(spread: &Spread) -> String {
    let hurts = spread
        .rows
        .iter()
        .find(|row| spread.parameters[row.parameter].spread.is_some());
    let most = match hurts {
        Some(row) => {
            let governing = spread.governing();
            let [low, high] = shares(spread, row, governing);
            format!(
                "{} hurts most: the {} moves by {} and {} % between the ends of its tolerance.",
                spread.parameters[row.parameter].path,
                governing.name(),
                signed(low, 0),
                signed(high, 0)
            )
        }
        None => "No value of this panel has a tolerance.".to_owned(),
    };
    let yields = spread.units.as_ref().map_or_else(String::new, |units| {
        let own = format!("a threshold set for each unit: {}.", percent(&units.own));
        match spread.one_threshold() {
            Some(threshold) => format!(
                " One threshold of {} counts for all units ({}): yield {}; {own}",
                counts(threshold),
                spread.threshold_origin.words(),
                percent(&units.fixed),
            ),
            None => format!(" There is no threshold for all units; {own}"),
        }
    });
    let none = match spread.governing() {
        Output::Ratio => "",
        _ => "No threshold suits the panel as drawn: W = 0. ",
    };
    format!("{none}{most}{yields}")
}

fn percent(share: &Share) -> String {
    let one = |value: f64| significant(100.0 * value, 4);
    let interval = share.interval.map(one).join(" to ");
    format!("{} % ({interval})", one(share.value()))
}

/// Effects of both ends of a tolerance, % of the quantity.
fn shares(spread: &Spread, row: &Row, output: Output) -> [f64; 2] {
    let o = output as usize;
    row.effects[o].map(|effect| 100.0 * effect / spread.totals[o].nominal)
}

fn sensitivities(spread: &Spread) -> Table {
    let mut table = Table::new(
        format!("Sensitivities of pad \"{}\"", spread.pad),
        &[
            "value",
            "found by",
            "nominal",
            "base",
            "touch",
            "neighbour",
            "true",
            "false",
            "W",
        ],
        2,
    )
    .with_whole(0);
    let matters = |row: &&Row| {
        let mut shares = row.log_sensitivity.iter();
        shares.any(|e| e.is_finite() && e.abs() >= 0.005)
    };
    for row in spread.rows.iter().filter(matters) {
        let parameter = &spread.parameters[row.parameter];
        let value = significant(parameter.value / parameter.unit_si, 3);
        let mut cells = vec![
            parameter.path.clone(),
            match row.way {
                Way::Derivative => "derivative",
                Way::Difference => "difference",
                Way::Circuit => "circuit",
            }
            .to_owned(),
            format!("{value} {}", parameter.unit).trim_end().to_owned(),
        ];
        cells.extend(row.log_sensitivity.map(|share| signed(share, 2)));
        table.row(cells);
    }
    table.remark = "Percent of the quantity per percent of the value, to first order. Found by \"derivative\": from \
                    the solution of the nominal panel; \"difference\": solved again beside it, many of a kind \
                    together where that hardly moves anything; \"circuit\": without the field."
        .to_owned();
    table
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

/// A change in percent with its sign; nothing is 0.
fn change(percent: f64) -> String {
    match percent.abs() < SMALLEST_PERCENT {
        true => "0".to_owned(),
        false => signed(percent, 1),
    }
}

fn effects(spread: &Spread) -> Table {
    let headings = ["value", "tolerance"];
    let headings: Vec<&str> = headings
        .into_iter()
        .chain(LISTED.map(|(_, word)| word))
        .collect();
    let mut table = Table::new(
        "Change at the low and the high end of each tolerance, % of the quantity, to first order",
        &headings,
        1,
    )
    .with_whole(0);
    for row in &spread.rows {
        let parameter = &spread.parameters[row.parameter];
        let effects = LISTED.map(|(output, _)| shares(spread, row, output));
        let mut all = effects.iter().flatten();
        if parameter.spread.is_none() || !all.any(|e| e.abs() >= SMALLEST_PERCENT) {
            continue;
        }
        let mut cells = vec![parameter.path.clone(), tolerance_text(parameter)];
        cells.extend(
            effects.map(|[low, high]| match low.is_finite() && high.is_finite() {
                true => format!("{} {}", change(low), change(high)),
                false => "-".to_owned(),
            }),
        );
        table.row(cells);
    }
    table.remark = "True: counts of the weakest true touch; false: of the strongest false event; W: window ratio."
        .to_owned();
    table
}

fn totals(spread: &Spread) -> Table {
    let mut table = Table::new(
        "All tolerances together",
        &[
            "quantity",
            "nominal",
            "mean",
            "standard\nuncertainty",
            "worst case",
        ],
        1,
    );
    for output in Output::ALL {
        let total = &spread.totals[output as usize];
        let nominal = format!("{} {}", significant(total.nominal, 3), output.unit());
        table.row(vec![
            output.name().to_owned(),
            nominal.trim_end().to_owned(),
            significant(total.mean, 3),
            format!(
                "{} ({} %)",
                significant(total.standard_uncertainty, 2),
                percent_of(total.standard_uncertainty, total.nominal.abs(), 2)
            ),
            total.worst.map(|end| significant(end, 3)).join(" to "),
        ]);
    }
    table.remark = "Standard uncertainty: root sum square (JCGM 100). Worst case: every value at the end that \
                    hurts, on the fitted response. Input tolerance; the numerical error is not in it."
        .to_owned();
    if spread.units.is_none() {
        table.remark += " The yield of a threshold: the same command without --units 0.";
    }
    table
}

fn drawn(units: &MonteCarlo) -> Table {
    let mut table = Table::new(
        format!("{} units drawn at random", units.outcomes.len()),
        &[
            "quantity",
            "mean",
            "standard deviation",
            "5th percentile",
            "median",
            "95th percentile",
        ],
        1,
    );
    for output in Output::ALL {
        let summary = &units.summaries[output as usize];
        let [low, middle, high] = summary.percentiles.map(|p| significant(p, 3));
        table.row(vec![
            output.name().to_owned(),
            rounded_with_error(summary.mean[0], summary.mean[1]),
            significant(summary.deviation, 3),
            low,
            middle,
            high,
        ]);
    }
    table
}

fn yields(spread: &Spread, units: &MonteCarlo) -> Table {
    let mut table = Table::new(
        "Yield, with its 95 % confidence interval",
        &["what has to hold", "share of units"],
        1,
    );
    let of_one = spread.one_threshold().map(|threshold| {
        [
            (
                format!(
                    "one threshold of {} counts for all units",
                    counts(threshold)
                ),
                &units.fixed,
            ),
            ("  lost to a true event below it".to_owned(), &units.missed),
            (
                "  lost to a false event above it".to_owned(),
                &units.triggered,
            ),
        ]
    });
    let of_each = [
        (
            "a threshold set for each unit (W above 1)".to_owned(),
            &units.own,
        ),
        (
            format!(
                "W of at least {} on each unit",
                significant(spread.wanted_ratio, 2)
            ),
            &units.comfortable,
        ),
    ];
    for (what, share) in of_one.into_iter().flatten().chain(of_each) {
        table.row(vec![what, percent(share)]);
    }
    table.remark = format!("{} units drawn at random.", units.fixed.of);
    table
}

fn surrogate(spread: &Spread) -> Option<String> {
    let quality = spread.surrogate.as_ref()?;
    Some(format!(
        "Surrogate: quadratic in {} parameters over {} field problems; at {} others it errs by {} % of the spread \
         and at most {} % of a value: {}.",
        quality.active,
        quality.solves,
        quality.held_out,
        fixed(100.0 * quality.share_of_spread, 1),
        fixed(100.0 * quality.largest_error, 2),
        match quality.is_good() {
            true => "small beside the spread",
            false => "NOT small beside the spread, no yield to build on: a hint only",
        }
    ))
}

fn watched(spread: &Spread) -> Table {
    let mut table =
        Table::new("Watched events", &["group", "counts", "event"], 1).with_words_in(&[2]);
    for watched in &spread.watch.events {
        table.row(vec![
            watched.event.group.words().to_owned(),
            counts(watched.event.mean),
            watched.event.words(),
        ]);
    }
    table
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
