//! The response in words: bases, touches, counts, hand estimates, what the numbers hang on.
//!
//! A value with an error ends where its error does ([`crate::rounding`]); what has none is printed with 3
//! significant digits where it is a base capacitance, with 2 where it is a shift or a share. JSON has
//! them all.

use super::{HandEstimate, Neighbour, PadResponse, Response, StrayPart, Subject, Touch};
use crate::accuracy::reached_words;
use crate::panel::Model;
use crate::report::{Block, Report, Table};
use crate::rounding::{percent_of, percent_with_error, rounded_up_to, significant};
use padfield_engine::units::{Capacitance, Toleranced};

const BASE_DIGITS: i32 = 3;
pub(super) const SHIFT_DIGITS: i32 = 2;

/// The answer in blocks.
pub fn report(response: &Response) -> Report {
    let mut report = Report::default();
    let is_touched = touched(response).next().is_some();
    report.say(bases(response));
    if is_touched {
        report.say(touches(response));
    }
    if response.pads.iter().any(|pad| !pad.driver_loads.is_empty()) {
        report.detail(driver_loads(response));
    }
    if !response.steps.is_empty() {
        report.detail(steps(response));
    }
    if !response.counts.pads.is_empty() {
        super::counts_report::add(&response.counts, &mut report);
    }
    if is_touched {
        report.detail(estimates(response));
    }
    report.detail(Block::cautions(response.cautions.clone()));
    report.assumptions(&response.assumptions);
    report.detail(Block::paragraph(numerics(response)));
    report
}

/// The title of the panel, with what kind of model tells trends only.
pub fn heading(response: &Response) -> String {
    let trend = match response.model {
        Model::Volume => "",
        Model::Axisymmetric => " (axisymmetric)",
        Model::Section => " (section, a cross-section in 2-D: trend only)",
    };
    format!("{}{trend}", response.title)
}

fn bases(response: &Response) -> Table {
    let mut bases = response.pads.iter().filter_map(|pad| pad.base);
    let bounds = match bases.all(|base| base.bounds_are_guaranteed) {
        true => "bounds",
        false => "estimated bounds",
    };
    let mut table = Table::new(
        "Base capacitance, untouched, pF",
        &["pad", "computed", bounds, "trace", "pin", "at the pin"],
        1,
    )
    .with_details_in(&[2]);
    for pad in &response.pads {
        let [computed, bounds, at_pin] = match (pad.base, pad.base_at_pin) {
            (Some(base), Some(at_pin)) => [
                base.computed.shown(),
                range(base.bounds, BASE_DIGITS + 1),
                toleranced(&at_pin),
            ],
            _ => [
                response.why_no_base().to_owned(),
                String::new(),
                String::new(),
            ],
        };
        table.row(vec![
            pad.name.clone(),
            computed,
            bounds,
            stray(&pad.trace),
            stray(&pad.pin),
            at_pin,
        ]);
    }
    table
}

/// What shields and guards cost their drivers.
fn driver_loads(response: &Response) -> Table {
    let mut table = Table::new(
        "Load of drivers, field part",
        &["while this pad is measured", "the driver of", "charges, pF"],
        2,
    );
    for pad in &response.pads {
        for (name, load) in &pad.driver_loads {
            table.row(vec![pad.name.clone(), name.clone(), load.shown()]);
        }
    }
    table
}

/// Every change of the surroundings on its own; the bases and touches above are of the panel as drawn.
fn steps(response: &Response) -> Table {
    let mut table = Table::new(
        "Base capacitance when the surroundings change, untouched, pF",
        &[
            "change",
            "pad",
            "before",
            "after minus before",
            "% of before",
        ],
        2,
    );
    for one in &response.steps {
        table.row(vec![
            format!("{}: {}", one.kind.words(), one.name),
            one.pad.clone(),
            one.before.shown(),
            one.change.shown(),
            percent_of(
                one.change.value.farads(),
                one.before.value.farads(),
                SHIFT_DIGITS,
            ),
        ]);
    }
    table
}

fn touches(response: &Response) -> Table {
    let mut table = Table::new(
        format!("Touch by finger \"{}\"", response.finger),
        &[
            "pad",
            "touch\nshift, pF",
            "%\nat pin",
            "tolerance\nrange, %",
            "worst\nneighbour",
            "its shift\npF",
            "ratio\n%",
            "estimate /\ncomputed",
        ],
        1,
    );
    for (pad, touch) in touched(response) {
        let relative = &touch.relative;
        let range = relative.stray_tolerance_range;
        let mut row = vec![
            pad.name.clone(),
            touch.shift.shown(),
            percent_with_error(relative.value, relative.error),
            range
                .map(|share| significant(100.0 * share, SHIFT_DIGITS))
                .join(" to "),
        ];
        row.extend(neighbour_cells(touch.worst_neighbour()));
        row.push(first_shift_ratio(touch));
        table.row(row);
    }
    table.remark = "Touch shift: change of capacitance by a touch; ratio: neighbour ratio (crosstalk), the neighbour's \
                    shift over that of the touched pad, both in pF; tolerance: of the stray parts; estimate: by hand, \
                    from the contact area."
        .to_owned();
    table
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
fn estimates(response: &Response) -> Table {
    let mut table = Table::new(
        "Hand estimates",
        &[
            "hand estimate",
            "of",
            "pF",
            "estimate /\ncomputed",
            "known bias",
        ],
        2,
    )
    .with_words_in(&[4]);
    let estimates = || touched(response).flat_map(|(_, touch)| &touch.estimates);
    let mut names: Vec<&'static str> = Vec::new();
    for estimate in estimates() {
        if !names.contains(&estimate.name) {
            names.push(estimate.name);
        }
    }
    for name in names {
        let all: Vec<&HandEstimate> = estimates().filter(|one| one.name == name).collect();
        let (subject, digits) = match all[0].subject {
            Subject::Base => ("base", BASE_DIGITS),
            Subject::TouchShift => ("shift", SHIFT_DIGITS),
        };
        let values = all.iter().map(|estimate| estimate.value.pf());
        let ratios = all.iter().map(|estimate| estimate.ratio);
        table.row(vec![
            name.to_owned(),
            subject.to_owned(),
            spread(values, digits),
            spread(ratios, SHIFT_DIGITS),
            all[0].known_bias.to_owned(),
        ]);
    }
    table
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
    format!(
        "Solved {problems}, untouched and touched, in {} s: {} cells, at most {} iterations, residual \
         {:.0e}. Accuracy asked {} %, estimated {} %: {reached}.",
        significant(numerics.seconds, 2),
        numerics.cells,
        numerics.iterations,
        numerics.residual,
        significant(100.0 * numerics.accuracy_asked, 2),
        rounded_up_to(100.0 * numerics.accuracy_estimated, 2),
    )
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
    fn values_below_resolution_say_so() {
        let estimated = |value: f64, error: f64| Estimated {
            value: Capacitance::from_pf(value),
            error: Capacitance::from_pf(error),
        };
        assert_eq!(estimated(0.6412, 0.0031).shown(), "0.641 ± 0.004");
        assert_eq!(estimated(1e-4, 0.002).shown(), "below resolution (0.002)");
    }
}
