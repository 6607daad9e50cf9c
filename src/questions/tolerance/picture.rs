//! The charts of a spread: effects as bars, units as histograms.

use super::{Output, Spread};
use padfield_chart::{Axis, Bar, BarChart, Histogram, LimitLine, ValueGroup};

/// Effects below this share of the output are left out of the chart, in percent.
const SMALLEST_PERCENT: f64 = 0.05;

/// Effects of all tolerances on one output, largest first, with root sum square and worst case; none where the output
/// is nothing as drawn.
pub fn bars(title: &str, spread: &Spread, output: Output) -> Option<BarChart> {
    let o = output as usize;
    let nominal = spread.totals[o].nominal;
    if nominal == 0.0 {
        return None;
    }
    let percent = |change: f64| 100.0 * change / nominal;
    let mut rows: Vec<(f64, Bar)> = spread
        .rows
        .iter()
        .filter_map(|row| {
            let parameter = &spread.parameters[row.parameter];
            let tolerance = parameter.spread?;
            let [low, high] = row.effects[o].map(percent);
            let size = low.abs().max(high.abs());
            let by = |end: f64| {
                let change = (end - parameter.value) / parameter.unit_si;
                format!(
                    "{}{} {}",
                    if change < 0.0 { "-" } else { "+" },
                    short(change.abs()),
                    parameter.unit
                )
            };
            let bar = Bar {
                name: format!("{} {}", parameter.path, by(tolerance.most).trim_end()),
                value: high,
                error: 0.0,
                opposite: Some(low),
            };
            (size >= SMALLEST_PERCENT).then_some((size, bar))
        })
        .collect();
    rows.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut bars: Vec<Bar> = rows.into_iter().map(|(_, bar)| bar).collect();
    let total = &spread.totals[o];
    let twice = percent(2.0 * total.standard_uncertainty);
    bars.push(Bar {
        name: "root sum square, two standard uncertainties".to_owned(),
        value: twice,
        error: 0.0,
        opposite: Some(-twice),
    });
    bars.push(Bar {
        name: "worst case, everything at its end".to_owned(),
        value: percent(total.worst[1] - nominal),
        error: 0.0,
        opposite: Some(percent(total.worst[0] - nominal)),
    });
    Some(BarChart {
        title: format!(
            "What tolerances do to the {} of pad \"{}\": {title}",
            output.name(),
            spread.pad
        ),
        value: Axis::linear(format!("change of the {}", output.name()), "%"),
        bars,
        limits: Vec::new(),
        name: "value at the upper end of its tolerance".to_owned(),
        opposite_name: "at the lower end".to_owned(),
        assumption: format!(
            "To first order about {}; computed from one solution of {} cells, accuracy asked {} %.",
            with_unit(nominal, output),
            spread.cells,
            100.0 * spread.accuracy_asked
        ),
    })
}

fn with_unit(value: f64, output: Output) -> String {
    format!("{} {}", short(value), output.unit())
        .trim_end()
        .to_owned()
}

fn short(value: f64) -> String {
    padfield_chart::number_text(value, 3)
}

/// Weakest true and strongest false events of all units; none without units.
pub fn histogram(title: &str, spread: &Spread) -> Option<Histogram> {
    let units = spread.units.as_ref()?;
    let values = |of: &dyn Fn(&super::Outcome) -> f64| units.outcomes.iter().map(of).collect();
    let share = units.fixed;
    Some(Histogram {
        title: format!(
            "Units of pad \"{}\" and one threshold for all: {title}",
            spread.pad
        ),
        x: Axis::linear("count shift, noise on the unfavourable side", "counts"),
        counted: "units".to_owned(),
        groups: vec![
            ValueGroup {
                name: "strongest false event".to_owned(),
                values: values(&|outcome| outcome.strongest_false),
            },
            ValueGroup {
                name: "weakest true touch".to_owned(),
                values: values(&|outcome| outcome.weakest_true),
            },
        ],
        limits: Vec::from_iter(spread.one_threshold().map(|threshold| {
            LimitLine::at_least(
                threshold,
                format!(
                    "threshold for all units: yield {:.1} % ({:.1} to {:.1})",
                    100.0 * share.value(),
                    100.0 * share.interval[0],
                    100.0 * share.interval[1]
                ),
            )
        })),
        assumption: format!(
            "{} units drawn from the tolerances of the panel file over a quadratic surrogate of the field; \
             numerical error not included.",
            units.outcomes.len()
        ),
    })
}
