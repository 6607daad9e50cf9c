//! Every point as a design: scatter charts of samples, the trade-off of touch and neighbour.

use super::caption::assumption;
use super::names::variable_axis;
use super::names::{capital, file_name, in_title, limit_lines, of_path, of_value, quantity_axis};
use super::sheet::{Entry, MOST_SERIES, Sheet};
use super::{Figure, Figures, Picture};
use crate::study::{QuantityKind, Study};
use padfield_chart::{Axis, Better, Cloud, LimitLine, Sample, Scatter, TradeOff};
use std::collections::HashSet;

/// Most markers in one picture; of more designs every so many-th is drawn.
const MOST_DESIGNS: usize = 4000;

/// A quantity or variable along an axis.
#[derive(Clone, Copy, Debug)]
enum Along {
    /// By its number in the report.
    Quantity(usize),
    /// By its number in the study.
    Variable(usize),
}

/// The trade-off of every pair of touch and neighbour quantities that is reported of the same pad.
pub(super) fn trade_offs(sheet: &Sheet<'_>, into: &mut Figures) {
    for (touch, neighbour) in pairs(sheet.study()) {
        let report = &sheet.study().report;
        let name = match &report[touch].pad {
            Some(pad) => file_name(&format!("trade-off of {pad}")),
            None => "trade-off".to_owned(),
        };
        let pads = sheet.most_pads > 1;
        let title = format!(
            "{} against {}",
            in_title(&report[neighbour], pads),
            lower(&in_title(&report[touch], pads))
        );
        let axes = [Along::Quantity(touch), Along::Quantity(neighbour)];
        let Some(scatter) = scatter(sheet, title, axes, true) else {
            into.left_out.push(format!("{name}: no point has a number"));
            continue;
        };
        let mut trade_off = TradeOff {
            scatter,
            x_better: Better::Higher,
            y_better: Better::Lower,
        };
        let front: HashSet<String> = trade_off.front().iter().map(|s| s.label.clone()).collect();
        thin(sheet, &mut trade_off.scatter, &front);
        into.figures.push(Figure {
            name,
            picture: Picture::TradeOff(trade_off),
            notes: Vec::new(),
        });
    }
}

/// Every reported quantity against every variable that is a number.
pub(super) fn against_variables(sheet: &Sheet<'_>, into: &mut Figures) {
    let study = sheet.study();
    for (number, quantity) in study.report.iter().enumerate() {
        for (at, variable) in study.variables.iter().enumerate() {
            if !variable.is_numeric() {
                continue;
            }
            let against = of_path(&variable.path);
            let title = format!(
                "{} against {against}",
                in_title(quantity, sheet.most_pads > 1)
            );
            let axes = [Along::Variable(at), Along::Quantity(number)];
            let name = file_name(&format!("{quantity} against {against}"));
            push_scatter(sheet, name, title, axes, into);
        }
    }
}

/// The first two quantities against each other, where no trade-off shows two already.
pub(super) fn against_each_other(sheet: &Sheet<'_>, into: &mut Figures) {
    let study = sheet.study();
    if !pairs(study).is_empty() || study.report.len() < 2 {
        return;
    }
    let [first, second] = [&study.report[0], &study.report[1]];
    let pads = sheet.most_pads > 1;
    let title = format!(
        "{} against {}",
        in_title(second, pads),
        lower(&in_title(first, pads))
    );
    let axes = [Along::Quantity(0), Along::Quantity(1)];
    let name = file_name(&format!("{second} against {first}"));
    push_scatter(sheet, name, title, axes, into);
}

fn push_scatter(
    sheet: &Sheet<'_>,
    name: String,
    title: String,
    axes: [Along; 2],
    into: &mut Figures,
) {
    match scatter(sheet, title, axes, false) {
        Some(mut scatter) => {
            thin(sheet, &mut scatter, &HashSet::new());
            into.figures.push(Figure {
                name,
                picture: Picture::Scatter(scatter),
                notes: Vec::new(),
            });
        }
        None => into.left_out.push(format!("{name}: no point has a number")),
    }
}

/// Touch and neighbour quantities that go together, by their numbers in the report: of every pad one
/// pair, the shift before the relative shift before counts, the ratio before the shift before counts.
fn pairs(study: &Study) -> Vec<(usize, usize)> {
    let report = &study.report;
    let find = |kinds: [QuantityKind; 3], pad: &Option<String>| {
        kinds.into_iter().find_map(|kind| {
            let fits = |q: &crate::study::Quantity| q.kind == kind && &q.pad == pad;
            report.iter().position(fits)
        })
    };
    let mut pads: Vec<&Option<String>> = Vec::new();
    for quantity in report {
        if !pads.contains(&&quantity.pad) {
            pads.push(&quantity.pad);
        }
    }
    pads.into_iter()
        .filter_map(|pad| {
            let touch = find(
                [
                    QuantityKind::TouchShift,
                    QuantityKind::RelativeTouchShift,
                    QuantityKind::CountShift,
                ],
                pad,
            )?;
            let neighbour = find(
                [
                    QuantityKind::NeighbourRatio,
                    QuantityKind::NeighbourShift,
                    QuantityKind::NeighbourCountShift,
                ],
                pad,
            )?;
            Some((touch, neighbour))
        })
        .collect()
}

fn lower(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_lowercase().chain(letters).collect(),
        None => String::new(),
    }
}

impl Along {
    fn of(self, entry: &Entry) -> Option<(f64, f64)> {
        match self {
            Self::Quantity(number) => entry.values[number].map(|r| (r.value, r.error)),
            Self::Variable(number) => entry.coordinates[number].number().map(|x| (x, 0.0)),
        }
    }

    fn axis(self, sheet: &Sheet<'_>, values: &[f64]) -> Axis {
        match self {
            Self::Quantity(number) => quantity_axis(&sheet.study().report[number], values),
            Self::Variable(number) => variable_axis(sheet.variable(number), values),
        }
    }

    fn limits(self, sheet: &Sheet<'_>) -> Vec<LimitLine> {
        match self {
            Self::Quantity(number) => limit_lines(sheet.study(), &sheet.study().report[number]),
            Self::Variable(_) => Vec::new(),
        }
    }
}

/// How many different values a variable has, counted no further than is of interest.
fn count_values(sheet: &Sheet<'_>, variable: usize) -> usize {
    let mut seen = HashSet::new();
    for entry in &sheet.entries {
        seen.insert(entry.coordinates[variable].to_string());
        if seen.len() > MOST_SERIES {
            break;
        }
    }
    seen.len()
}

/// The variable whose values make the clouds: words first, else the number with the fewest values,
/// as long as another variable is left.
fn cloud_variable(sheet: &Sheet<'_>, counts: &[usize], axes: [Along; 2]) -> Option<usize> {
    let varying = counts.iter().filter(|count| **count > 1).count();
    let on_axis = |v: usize| {
        axes.iter()
            .any(|a| matches!(a, Along::Variable(n) if *n == v))
    };
    let fits = |v: &usize| (2..=MOST_SERIES).contains(&counts[*v]) && !on_axis(*v);
    let words = |v: &usize| !sheet.variable(*v).is_numeric();
    let all = || (0..counts.len()).filter(fits);
    let by_number = || all().min_by_key(|v| counts[*v]);
    all().find(words).or_else(by_number).filter(|_| varying > 1)
}

fn scatter(sheet: &Sheet<'_>, title: String, axes: [Along; 2], labelled: bool) -> Option<Scatter> {
    let variables = sheet.study().variables.len();
    let counts: Vec<usize> = (0..variables).map(|v| count_values(sheet, v)).collect();
    let grouping = cloud_variable(sheet, &counts, axes);
    let mut clouds: Vec<Cloud> = Vec::new();
    for entry in &sheet.entries {
        let [Some((x, x_error)), Some((y, y_error))] = axes.map(|along| along.of(entry)) else {
            continue;
        };
        let word = |v: usize| of_value(sheet.variable(v), &entry.coordinates[v]);
        let label = match labelled {
            true => {
                let told = (0..variables).filter(|v| counts[*v] > 1 && Some(*v) != grouping);
                told.map(word).collect::<Vec<_>>().join(", ")
            }
            false => String::new(),
        };
        let sample = Sample {
            x,
            y,
            x_error,
            y_error,
            label,
        };
        let name = grouping.map_or_else(String::new, word);
        match clouds.iter_mut().find(|cloud| cloud.name == name) {
            Some(cloud) => cloud.samples.push(sample),
            None => clouds.push(Cloud {
                name,
                samples: vec![sample],
            }),
        }
    }
    if clouds.is_empty() {
        return None;
    }
    if let Some(variable) = grouping {
        let order = |cloud: &Cloud| place_of(sheet, variable, &cloud.name);
        clouds.sort_by(|a, b| order(a).total_cmp(&order(b)));
    }
    let along = |part: fn(&Sample) -> f64| -> Vec<f64> {
        clouds.iter().flat_map(|c| &c.samples).map(part).collect()
    };
    let (xs, ys) = (along(|s| s.x), along(|s| s.y));
    Some(Scatter {
        title: capital(&title),
        x: axes[0].axis(sheet, &xs),
        y: axes[1].axis(sheet, &ys),
        clouds,
        x_limits: axes[0].limits(sheet),
        y_limits: axes[1].limits(sheet),
        assumption: assumption(sheet, ""),
    })
}

/// Where a value, said in words, stands among those of its variable.
fn place_of(sheet: &Sheet<'_>, variable: usize, name: &str) -> f64 {
    let definition = sheet.variable(variable);
    let mut entries = sheet.entries.iter();
    let found = entries.find(|e| of_value(definition, &e.coordinates[variable]) == name);
    let Some(coordinate) = found.map(|entry| &entry.coordinates[variable]) else {
        return f64::INFINITY;
    };
    match &definition.values {
        crate::study::Values::Words(words) => words
            .iter()
            .position(|word| *word == coordinate.to_string())
            .map_or(f64::INFINITY, |place| place as f64),
        _ => coordinate.number().unwrap_or(f64::INFINITY),
    }
}

/// Leaves out designs where there are more than can be told apart, but none of the front.
fn thin(sheet: &Sheet<'_>, scatter: &mut Scatter, front: &HashSet<String>) {
    let count: usize = scatter.clouds.iter().map(|c| c.samples.len()).sum();
    if count <= MOST_DESIGNS {
        return;
    }
    let every = count.div_ceil(MOST_DESIGNS);
    let mut number = 0;
    for cloud in &mut scatter.clouds {
        cloud.samples.retain(|s| {
            number += 1;
            number % every == 1 || front.contains(&s.label)
        });
    }
    let remark = format!("One of {every} designs drawn, of {count}");
    scatter.assumption = assumption(sheet, &remark);
}
