//! The response on a terminal: tables of at most 100 columns, then what the numbers hang on.
//!
//! A value with an error ends where its error does ([`crate::rounding`]); what has none is printed with 3
//! significant digits where it is a base capacitance, with 2 where it is a shift or a share. JSON has
//! them all.

use crate::report::terminal::{table, wrap};
use crate::rounding::{percent_of, percent_with_error, rounded_up_to, significant};
use comfy_table::CellAlignment;

use super::counts_text::counts_text;
use crate::accuracy::reached_words;
use crate::panel::Model;
use crate::response::{HandEstimate, Neighbour, PadResponse, Response, StrayPart, Subject, Touch};
use padfield_engine::units::{Capacitance, Toleranced};

const BASE_DIGITS: i32 = 3;
pub(super) const SHIFT_DIGITS: i32 = 2;

/// The whole answer as text, with a newline at the end.
pub(super) fn to_text(response: &Response) -> String {
    let mut parts = vec![heading(response), bases(response)];
    if response.pads.iter().any(|pad| pad.touch.is_some()) {
        parts.push(touches(response));
    }
    if response.pads.iter().any(|pad| !pad.driver_loads.is_empty()) {
        parts.push(driver_loads(response));
    }
    if !response.steps.is_empty() {
        parts.push(steps(response));
    }
    if !response.counts.pads.is_empty() {
        parts.push(counts_text(&response.counts));
    }
    if response.pads.iter().any(|pad| pad.touch.is_some()) {
        parts.push(estimates(response));
    }
    for caution in &response.cautions {
        parts.push(wrap(&format!("Caution. {caution}")));
    }
    parts.push(wrap(&format!(
        "Assumptions. {}",
        response.assumptions.join(" ")
    )));
    parts.push(numerics(response));
    parts.join("\n\n") + "\n"
}

fn heading(response: &Response) -> String {
    let trend = match response.model {
        Model::Volume => "",
        Model::Axisymmetric => " (axisymmetric)",
        Model::Section => " (section, a cross-section in 2-D: trend only)",
    };
    wrap(&format!("{}{trend}", response.title))
}

fn bases(response: &Response) -> String {
    let guaranteed = response
        .pads
        .iter()
        .filter_map(|pad| pad.base)
        .all(|base| base.bounds_are_guaranteed);
    let bounds = if guaranteed {
        "bounds"
    } else {
        "estimated bounds"
    };
    let rows = response
        .pads
        .iter()
        .map(|pad| match (pad.base, pad.base_at_pin) {
            (Some(base), Some(at_pin)) => vec![
                pad.name.clone(),
                base.computed.shown(),
                range(base.bounds, BASE_DIGITS + 1),
                stray(&pad.trace),
                stray(&pad.pin),
                toleranced(&at_pin),
            ],
            _ => vec![
                pad.name.clone(),
                response.why_no_base().to_owned(),
                String::new(),
                stray(&pad.trace),
                stray(&pad.pin),
                String::new(),
            ],
        })
        .collect();
    let header = ["pad", "computed", bounds, "trace", "pin", "at the pin"];
    format!(
        "Base capacitance, untouched, pF\n{}",
        table(&header, 1, rows)
    )
}

/// What shields and guards cost their drivers.
fn driver_loads(response: &Response) -> String {
    let rows = response.pads.iter().flat_map(|pad| {
        pad.driver_loads
            .iter()
            .map(|(name, load)| vec![pad.name.clone(), name.clone(), load.shown()])
    });
    let header = ["while this pad is measured", "the driver of", "charges, pF"];
    format!(
        "Load of drivers, field part\n{}",
        table(&header, 2, rows.collect())
    )
}

/// Every change of the surroundings on its own; the bases and touches above are of the panel as drawn.
fn steps(response: &Response) -> String {
    let rows = response
        .steps
        .iter()
        .map(|one| {
            vec![
                format!("{}: {}", one.kind.words(), one.name),
                one.pad.clone(),
                one.before.shown(),
                one.change.shown(),
                percent_of(
                    one.change.value.farads(),
                    one.before.value.farads(),
                    SHIFT_DIGITS,
                ),
            ]
        })
        .collect();
    let header = [
        "change",
        "pad",
        "before",
        "after minus before",
        "% of before",
    ];
    format!(
        "Base capacitance when the surroundings change, untouched, pF\n{}",
        table(&header, 2, rows)
    )
}

fn touches(response: &Response) -> String {
    let rows = touched(response)
        .map(|(pad, touch)| {
            let mut row = vec![
                pad.name.clone(),
                touch.shift.shown(),
                percent_with_error(touch.relative.value, touch.relative.error),
                touch
                    .relative
                    .stray_tolerance_range
                    .map(|share| significant(100.0 * share, SHIFT_DIGITS))
                    .join(" to "),
            ];
            row.extend(neighbour_cells(touch.worst_neighbour()));
            row.push(first_shift_ratio(touch));
            row
        })
        .collect();
    let header = [
        "pad",
        "touch\nshift, pF",
        "%\nat pin",
        "tolerance\nrange, %",
        "worst\nneighbour",
        "its shift\npF",
        "ratio\n%",
        "estimate /\ncomputed",
    ];
    let legend = wrap(&format!(
        "Touch by finger \"{}\". Touch shift: change of capacitance by a touch; ratio: neighbour ratio \
         (crosstalk), the neighbour's shift over that of the touched pad, both in pF; tolerance: of the stray parts; estimate: \
         by hand, from the contact area",
        response.finger
    ));
    format!("{legend}\n{}", table(&header, 1, rows))
}

fn neighbour_cells(worst: Option<&Neighbour>) -> [String; 3] {
    match worst {
        None => ["none".to_owned(), String::new(), String::new()],
        Some(neighbour) if neighbour.shift.is_below_resolution() => [
            neighbour.pad.clone(),
            neighbour.shift.shown(),
            String::new(),
        ],
        Some(neighbour) => [
            neighbour.pad.clone(),
            neighbour.shift.shown(),
            percent_with_error(neighbour.ratio, neighbour.ratio_error),
        ],
    }
}

/// The first hand estimate of the shift over the computed one; its value is in the table of hand estimates.
fn first_shift_ratio(touch: &Touch) -> String {
    let mut shifts = touch.estimates.iter();
    let first = shifts.find(|estimate| estimate.subject == Subject::TouchShift);
    first.map_or_else(String::new, |estimate| {
        significant(estimate.ratio, SHIFT_DIGITS)
    })
}

/// One row per formula over all touched pads: from the smallest to the largest value.
fn estimates(response: &Response) -> String {
    let mut names: Vec<&'static str> = Vec::new();
    for estimate in touched(response).flat_map(|(_, touch)| &touch.estimates) {
        if !names.contains(&estimate.name) {
            names.push(estimate.name);
        }
    }
    let rows = names
        .into_iter()
        .filter_map(|name| {
            let all: Vec<&HandEstimate> = touched(response)
                .flat_map(|(_, touch)| &touch.estimates)
                .filter(|estimate| estimate.name == name)
                .collect();
            let first = all.first()?;
            let (subject, digits) = match first.subject {
                Subject::Base => ("base", BASE_DIGITS),
                Subject::TouchShift => ("shift", SHIFT_DIGITS),
            };
            let values = all.iter().map(|estimate| estimate.value.pf());
            let ratios = all.iter().map(|estimate| estimate.ratio);
            Some(vec![
                name.to_owned(),
                subject.to_owned(),
                spread(values, digits),
                spread(ratios, SHIFT_DIGITS),
                first.known_bias.to_owned(),
            ])
        })
        .collect();
    let header = [
        "hand estimate",
        "of",
        "pF",
        "estimate /\ncomputed",
        "known bias",
    ];
    let mut table = table(&header, header.len(), rows);
    for column in [2, 3] {
        if let Some(column) = table.column_mut(column) {
            column.set_cell_alignment(CellAlignment::Right);
        }
    }
    format!("Hand estimates\n{table}")
}

/// `"0.48"`, or `"0.48 to 0.52"` when the values differ in what is printed.
fn spread(values: impl Iterator<Item = f64>, digits: i32) -> String {
    let (least, most) = values.fold(
        (f64::INFINITY, f64::NEG_INFINITY),
        |(least, most), value| (least.min(value), most.max(value)),
    );
    let [least, most] = [least, most].map(|value| significant(value, digits));
    if least == most {
        least
    } else {
        format!("{least} to {most}")
    }
}

fn numerics(response: &Response) -> String {
    let numerics = &response.numerics;
    let problems = if numerics.solves == 1 {
        "1 field problem".to_owned()
    } else {
        format!("{} field problems", numerics.solves)
    };
    let reached = reached_words(numerics.accuracy_reached, &numerics.missed);
    wrap(&format!(
        "Solved {problems}, untouched and touched, in {} s: {} cells, at most {} iterations, residual \
         {:.0e}. Accuracy asked {} %, estimated {} %: {reached}.",
        significant(numerics.seconds, 2),
        numerics.cells,
        numerics.iterations,
        numerics.residual,
        significant(100.0 * numerics.accuracy_asked, 2),
        rounded_up_to(100.0 * numerics.accuracy_estimated, 2),
    ))
}

fn touched(response: &Response) -> impl Iterator<Item = (&PadResponse, &Touch)> {
    let pads = response.pads.iter();
    pads.filter_map(|pad| pad.touch.as_ref().map(|touch| (pad, touch)))
}

fn range(ends: [Capacitance; 2], digits: i32) -> String {
    ends.map(|end| significant(end.pf(), digits)).join(" to ")
}

fn toleranced(value: &Toleranced<Capacitance>) -> String {
    let nominal = significant(value.nominal.pf(), BASE_DIGITS);
    if value.least == value.most {
        nominal
    } else {
        format!(
            "{nominal} ({})",
            range([value.least, value.most], BASE_DIGITS)
        )
    }
}

fn stray(part: &StrayPart) -> String {
    let [nominal, least, most] =
        [part.value.nominal, part.value.least, part.value.most].map(|c| significant(c.pf(), 2));
    if least == most {
        nominal
    } else {
        format!("{nominal} ({least} to {most})")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::response::Estimated;

    #[test]
    fn lines_are_wrapped_at_spaces() {
        let text = "word ".repeat(60);
        let wrapped = wrap(&text);
        assert!(wrapped.lines().all(|line| line.len() <= 100));
        assert_eq!(wrapped.split_whitespace().count(), 60);
        assert_eq!(wrapped.lines().count(), 3);
    }

    #[test]
    fn values_below_resolution_say_so() {
        let estimated = |value: f64, error: f64| Estimated {
            value: Capacitance::from_pf(value),
            error: Capacitance::from_pf(error),
        };
        assert_eq!(estimated(0.6412, 0.0031).shown(), "0.641 ± 0.004");
        assert_eq!(estimated(1e-4, 0.002).shown(), "below resolution (0.002)");
    }
}
