//! The drift in words: the worst pad and what follows, every pad, the parts, the ends, the coefficients.

use super::{CheckedEnd, Drift, LARGEST_LOSS, PadDrift, Spread, TRACKING_OVER_DRIFT};
use crate::cautions::cautions;
use crate::panel::Panel;
use crate::report::{Block, Report, Table};
use crate::rounding::{counts, rounded_with_error, significant};

/// The answer in blocks, with what was solved again at the ends.
pub fn report(panel: &Panel, drift: &Drift, checked: &[CheckedEnd]) -> Report {
    let mut report = Report::default();
    if let Some(worst) = drift.worst() {
        report.say(Block::paragraph(answer(drift, worst)));
        report.say(by_pad(drift));
        report.detail(compared(drift));
        report.detail(by_part(worst));
        report.detail(ends(drift));
    }
    report.detail(coefficients(drift));
    if !checked.is_empty() {
        report.detail(checks(checked));
    }
    report.assumptions(&drift.assumptions);
    report.detail(Block::cautions(cautions(panel)));
    report
}

fn two(value: f64) -> String {
    significant(value, 2)
}

fn ends_of(value: &Spread) -> String {
    format!("{} to {}", two(value.least), two(value.most))
}

/// Nominal value with its interval where there is one.
fn with_interval(value: &Spread, factor: f64) -> String {
    let value = value.scaled(factor);
    if value.least == value.most {
        return two(value.nominal);
    }
    format!("{} ({})", two(value.nominal), ends_of(&value))
}

fn answer(drift: &Drift, worst: &PadDrift) -> String {
    let climate = &drift.climate;
    let which = match drift.pads.len() {
        1 => "the only pad",
        _ => "the worst pad: its drift is the largest over its own threshold",
    };
    let mut text = format!(
        "Of \"{}\", {which}. From {} to {} degC its baseline drifts by {} counts ({} over the \
         coefficients; ± is numerical), at most {} times the threshold of {} counts. Drift rate: at {} K/min up \
         to {} counts/min; firmware has to follow at {} counts/min, at which a finger held for {} s loses {} % \
         of its shift ({}: at most {} %, common practice, no source).",
        worst.name,
        climate.lowest_celsius.value,
        climate.highest_celsius.value,
        rounded_with_error(worst.over_range.nominal, worst.numerical_error),
        ends_of(&worst.over_range),
        two(worst.over_threshold()),
        two(worst.threshold),
        two(60.0 * climate.fastest_change_k_per_s.value),
        two(60.0 * worst.rate),
        two(60.0 * worst.tracking()),
        drift.held().seconds(),
        two(100.0 * worst.loss),
        match worst.loss_is_small() {
            true => "it stays",
            false => "too much, tracking has to stop or slow down while touched",
        },
        100.0 * LARGEST_LOSS,
    );
    if worst.over_threshold() > 1.0 {
        text += " A drift beyond the threshold is what a baseline is for; at power-up with a finger or water \
                  on the panel it starts wrong.";
    }
    text += &match &worst.reference {
        Some(reference) => format!(
            " Against \"{}\" as a reference channel {} counts are left, {} % of the drift: {}.",
            reference.pad,
            with_interval(&reference.left, 1.0),
            two(100.0 * reference.share),
            match reference.is_worth_it() {
                true => "worth it, as it takes supply and circuit out as well",
                false => "not worth it",
            }
        ),
        None => " There is no second pad that could be a reference channel.".to_owned(),
    };
    text
}

fn by_pad(drift: &Drift) -> Table {
    let mut table = Table::new(
        "Drift of the baseline from cold to hot, towards a touch",
        &[
            "pad",
            "base at\npin, pF",
            "drift,\ncounts",
            "over the\ncoefficients",
            "over the\nthreshold",
            "dry to damp,\ncounts",
            "tracking,\ncounts/min",
            "held\nloses, %",
        ],
        1,
    );
    for pad in &drift.pads {
        let range = &pad.over_range;
        table.row(vec![
            pad.name.clone(),
            two(pad.base_at_pin.pf()),
            rounded_with_error(range.nominal, pad.numerical_error),
            format!("{} to {}", counts(range.least), counts(range.most)),
            two(pad.over_threshold()),
            pad.moisture
                .as_ref()
                .map_or("-".to_owned(), |rise| with_interval(rise, 1.0)),
            two(60.0 * pad.tracking()),
            two(100.0 * pad.loss),
        ]);
    }
    if !drift.climate.moisture.value {
        table.drop_column(5);
    }
    let climate = &drift.climate;
    table.remark = format!(
        "{} to {} degC about {} degC. ±: numerical, of rates and shares in proportion; over the coefficients and in \
         parentheses: their ends, input tolerance. Over the threshold: at most; tracking: \
         {TRACKING_OVER_DRIFT} times the fastest drift; a held \
         finger should lose at most {} % (common practice, no source).",
        climate.lowest_celsius.value,
        climate.highest_celsius.value,
        climate.reference_celsius.value,
        100.0 * LARGEST_LOSS
    );
    table
}

fn compared(drift: &Drift) -> Table {
    let mut table = Table::new(
        "What the drift is compared with, and what else is left of it",
        &[
            "pad",
            "base\ncount",
            "count\nshift",
            "ageing,\ncounts",
            "a reference\nleaves, %",
        ],
        1,
    );
    for pad in &drift.pads {
        let reference = pad.reference.as_ref();
        table.row(vec![
            pad.name.clone(),
            significant(pad.base_count, 4),
            rounded_with_error(pad.count_shift, pad.count_shift_error),
            with_interval(&pad.ageing, 1.0),
            reference.map_or_else(String::new, |reference| two(100.0 * reference.share)),
        ]);
    }
    if drift.layers.iter().all(|layer| layer.ageing.is_none()) {
        table.drop_column(3);
    }
    table
}

fn by_part(worst: &PadDrift) -> Table {
    let mut table = Table::new(
        format!("Parts of the drift of \"{}\"", worst.name),
        &["layer", "share of field\nenergy %", "cold to hot\ncounts"],
        1,
    );
    for part in &worst.parts {
        table.row(vec![
            part.name.clone(),
            part.share
                .map_or_else(String::new, |share| two(100.0 * share)),
            with_interval(&part.counts, 1.0),
        ]);
    }
    table
}

fn ends(drift: &Drift) -> Table {
    let mut table = Table::new(
        format!(
            "Changes against {} degC",
            drift.climate.reference_celsius.value
        ),
        &[
            "pad",
            "degC",
            "base\nfF",
            "touch shift\nfF",
            "neighbour's\nfF",
            "count shift\nthere",
        ],
        1,
    );
    for at in 0..2 {
        for pad in &drift.pads {
            let end = &pad.ends[at];
            let neighbour = end.neighbour.as_ref();
            table.row(vec![
                pad.name.clone(),
                end.celsius.to_string(),
                with_interval(&end.base, 1e15),
                with_interval(&end.shift, 1e15),
                neighbour.map_or_else(String::new, |change| with_interval(change, 1e15)),
                with_interval(&end.count_shift, 1.0),
            ]);
        }
    }
    table
}

fn coefficients(drift: &Drift) -> Table {
    let mut table = Table::new(
        "Coefficients of the permittivity",
        &["layer", "material", "ppm/K", "moisture %", "ageing %"],
        5,
    );
    let cell = |known: &Option<(Spread, String)>, factor: f64| {
        known.as_ref().map_or_else(
            || "no figure".to_owned(),
            |(value, source)| format!("{} [{source}]", with_interval(value, factor)),
        )
    };
    for layer in &drift.layers {
        table.row(vec![
            layer.name.clone(),
            layer.material.clone(),
            cell(&layer.per_k, 1e6),
            cell(&layer.moisture, 100.0),
            cell(&layer.ageing, 100.0),
        ]);
    }
    table
}

fn checks(checked: &[CheckedEnd]) -> Table {
    let mut table = Table::new(
        "Linear drift against solves at both ends, nominal coefficients",
        &[
            "pad",
            "degC",
            "base drift\nlinear fF",
            "base drift\nsolved fF",
            "difference\n%",
            "touch shift\nlinear fF",
            "touch shift\nsolved fF",
        ],
        1,
    );
    for end in checked {
        table.row(vec![
            end.pad.clone(),
            end.celsius.to_string(),
            significant(1e15 * end.base[0], 3),
            significant(1e15 * end.base[1], 3),
            two(100.0 * end.base_difference()),
            significant(1e15 * end.shift[0], 3),
            significant(1e15 * end.shift[1], 3),
        ]);
    }
    table
}
