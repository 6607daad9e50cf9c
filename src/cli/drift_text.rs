//! What `drift` tells: the drift and what follows, the parts, the ends, the coefficients.

use super::paragraph::wrap;
use super::table::{significant, table};
use crate::cautions::cautions;
use crate::panel::Panel;
use crate::questions::drift::{CheckedEnd, Drift, LARGEST_LOSS, PadDrift, Spread};
use crate::rounding::rounded_with_error;

pub(super) fn to_text(panel: &Panel, drift: &Drift, checked: &[CheckedEnd]) -> String {
    let mut parts = vec![wrap(&panel.title)];
    if let Some(worst) = drift.worst() {
        parts.push(wrap(&answer(drift, worst)));
        parts.push(by_pad(drift));
        parts.push(by_part(worst));
        parts.push(ends(drift));
    }
    parts.push(coefficients(drift));
    if !checked.is_empty() {
        parts.push(checks(checked));
    }
    parts.push(wrap(&format!(
        "Assumptions. {}",
        drift.assumptions.join(" ")
    )));
    let lines: Vec<String> = cautions(panel).iter().map(|line| wrap(line)).collect();
    parts.push(lines.join("\n"));
    parts.join("\n\n") + "\n"
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
    format!(
        "{} ({} to {})",
        two(value.nominal),
        two(value.least),
        two(value.most)
    )
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

fn by_pad(drift: &Drift) -> String {
    let is_damp = drift.climate.moisture.value;
    let ages = drift.layers.iter().any(|layer| layer.ageing.is_some());
    let rows = drift
        .pads
        .iter()
        .map(|pad| {
            let mut row = vec![
                pad.name.clone(),
                significant(pad.base_count, 4),
                rounded_with_error(pad.count_shift, pad.count_shift_error),
                format!(
                    "{} ({})",
                    rounded_with_error(pad.over_range.nominal, pad.numerical_error),
                    ends_of(&pad.over_range)
                ),
                two(pad.over_threshold()),
            ];
            row.extend(pad.moisture.as_ref().map(|rise| with_interval(rise, 1.0)));
            if ages {
                row.push(with_interval(&pad.ageing, 1.0));
            }
            row.push(two(60.0 * pad.tracking()));
            row.push(two(100.0 * pad.loss));
            row.push(
                pad.reference
                    .as_ref()
                    .map_or_else(String::new, |reference| two(100.0 * reference.share)),
            );
            row
        })
        .collect();
    let mut header = vec![
        "pad",
        "base\ncount",
        "count\nshift",
        "drift, cold to hot\ncounts",
        "over\nthreshold",
    ];
    if is_damp {
        header.push("dry to damp\ncounts");
    }
    if ages {
        header.push("ageing\ncounts");
    }
    header.extend([
        "tracking\ncounts/min",
        "held\nloses %",
        "reference\nleaves %",
    ]);
    format!(
        "{}\n{}",
        wrap(
            "Drift of the baseline, counts towards a touch. ±: numerical, of rates and shares in proportion; in \
             brackets over the coefficients"
        ),
        table(&header, 1, rows)
    )
}

fn by_part(worst: &PadDrift) -> String {
    let rows = worst
        .parts
        .iter()
        .map(|part| {
            vec![
                part.name.clone(),
                part.share
                    .map_or_else(String::new, |share| two(100.0 * share)),
                with_interval(&part.counts, 1.0),
            ]
        })
        .collect();
    format!(
        "Parts of the drift of \"{}\"\n{}",
        worst.name,
        table(
            &["layer", "share of field\nenergy %", "cold to hot\ncounts"],
            1,
            rows
        )
    )
}

fn ends(drift: &Drift) -> String {
    let both = |end: usize| {
        drift
            .pads
            .iter()
            .map(move |pad| (pad, &pad.ends[end]))
            .map(|(pad, end)| {
                let neighbour = end
                    .neighbour
                    .as_ref()
                    .map(|change| with_interval(change, 1e15));
                vec![
                    pad.name.clone(),
                    end.celsius.to_string(),
                    with_interval(&end.base, 1e15),
                    with_interval(&end.shift, 1e15),
                    neighbour.unwrap_or_default(),
                    with_interval(&end.count_shift, 1.0),
                ]
            })
    };
    let rows = both(0).chain(both(1)).collect();
    let header = [
        "pad",
        "degC",
        "base\nfF",
        "touch shift\nfF",
        "neighbour's\nfF",
        "count shift\nthere",
    ];
    format!(
        "Changes against {} degC\n{}",
        drift.climate.reference_celsius.value,
        table(&header, 1, rows)
    )
}

fn coefficients(drift: &Drift) -> String {
    let cell = |known: &Option<(Spread, String)>, factor: f64| {
        known.as_ref().map_or_else(
            || "no figure".to_owned(),
            |(value, source)| format!("{} [{source}]", with_interval(value, factor)),
        )
    };
    let rows = drift
        .layers
        .iter()
        .map(|layer| {
            vec![
                layer.name.clone(),
                layer.material.clone(),
                cell(&layer.per_k, 1e6),
                cell(&layer.moisture, 100.0),
                cell(&layer.ageing, 100.0),
            ]
        })
        .collect();
    format!(
        "Coefficients of the permittivity\n{}",
        table(
            &["layer", "material", "ppm/K", "moisture %", "ageing %"],
            5,
            rows
        )
    )
}

fn checks(checked: &[CheckedEnd]) -> String {
    let rows = checked
        .iter()
        .map(|end| {
            vec![
                end.pad.clone(),
                end.celsius.to_string(),
                significant(1e15 * end.base[0], 3),
                significant(1e15 * end.base[1], 3),
                two(100.0 * end.base_difference()),
                significant(1e15 * end.shift[0], 3),
                significant(1e15 * end.shift[1], 3),
            ]
        })
        .collect();
    let header = [
        "pad",
        "degC",
        "base drift\nlinear fF",
        "base drift\nsolved fF",
        "difference\n%",
        "touch shift\nlinear fF",
        "touch shift\nsolved fF",
    ];
    format!(
        "Linear drift against solves at both ends, nominal coefficients\n{}",
        table(&header, 1, rows)
    )
}
