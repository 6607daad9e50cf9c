//! What `return-path` tells: the least return, every supply, the curve.

use super::paragraph::wrap;
use super::table::{significant, table};
use crate::cautions::{CAPACITORS_TO_EARTH, cautions};
use crate::panel::Panel;
use crate::questions::return_path::{Least, OnSupply, PadReturn, ReturnStudy};
use crate::rounding::{percent_of, rounded_with_error};

/// Return capacitances of the table \[pF\].
const SHOWN_PF: [f64; 8] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 150.0, 500.0];

pub(super) fn to_text(panel: &Panel, study: &ReturnStudy) -> String {
    let mut parts = vec![
        wrap(&panel.title),
        wrap(&answer(study)),
        needs(study),
        supplies(study),
        curve(study),
        wrap(&format!("Assumptions. {}", study.assumptions.join(" "))),
    ];
    let lines: Vec<String> = caution_lines(panel).iter().map(|line| wrap(line)).collect();
    parts.push(lines.join("\n"));
    parts.join("\n\n") + "\n"
}

/// Cautions of the panel, and that of capacitors to earth: advice about returns leads to them on every panel.
fn caution_lines(panel: &Panel) -> Vec<String> {
    let mut lines = cautions(panel);
    if !lines.iter().any(|line| line == CAPACITORS_TO_EARTH) {
        lines.insert(0, CAPACITORS_TO_EARTH.to_owned());
    }
    lines
}

fn two(value: f64) -> String {
    significant(value, 2)
}

fn weakest(study: &ReturnStudy) -> Option<(&PadReturn, &OnSupply)> {
    let pairs = study
        .pads
        .iter()
        .flat_map(|pad| pad.supplies.iter().map(move |supply| (pad, supply)));
    pairs.min_by(|a, b| a.1.counts[1].total_cmp(&b.1.counts[1]))
}

fn answer(study: &ReturnStudy) -> String {
    let Some((pad, supply)) = weakest(study) else {
        return "There is no pad to judge.".to_owned();
    };
    let mut text = format!(
        "Weakest: \"{}\" on the supply \"{}\", a count shift of {} at its weakest return, {} at nominal values, \
         where its touch shift in pF is {} % of the earthed one.",
        pad.name,
        supply.supply,
        significant(supply.counts[1], 3),
        rounded_with_error(supply.counts[0], supply.counts_error),
        percent_of(supply.shift[0], pad.earthed, 2)
    );
    if let Some(wanted) = study.counts {
        text += &match study.keeps_counts() {
            true => format!(" All pads keep {wanted} counts on all supplies."),
            false => format!(" Not all pads keep {wanted} counts on all supplies."),
        };
    }
    text
}

fn least(least: &Least) -> String {
    match least {
        Least::Needs(path) => significant(path.pf(), 3),
        Least::Any => "any".to_owned(),
        Least::Never => "never".to_owned(),
    }
}

fn needs(study: &ReturnStudy) -> String {
    let share = format!(
        "return in pF for\n{} % of the shift",
        significant(100.0 * study.share, 3)
    );
    let counts = study
        .counts
        .map(|counts| format!("return in pF for\na count shift of {counts}"));
    let mut header = vec![
        "pad",
        "earthed touch\nshift, pF",
        "earthed\ncount shift",
        share.as_str(),
    ];
    header.extend(counts.as_deref());
    let rows = study
        .pads
        .iter()
        .map(|pad| {
            let mut row = vec![
                pad.name.clone(),
                rounded_with_error(1e12 * pad.earthed, 1e12 * pad.earthed_error),
                rounded_with_error(pad.earthed_count_shift, pad.earthed_count_shift_error),
                least(&pad.for_share),
            ];
            row.extend(pad.for_counts.as_ref().map(least));
            row
        })
        .collect();
    format!(
        "Least return capacitance, body to device ground\n{}",
        table(&header, 1, rows)
    )
}

fn supplies(study: &ReturnStudy) -> String {
    let mut rows = Vec::new();
    for pad in &study.pads {
        for supply in &pad.supplies {
            let range = |values: [f64; 3], digits: i32, factor: f64| {
                let [nominal, low, high] = values.map(|value| significant(value * factor, digits));
                format!("{nominal} ({low} to {high})")
            };
            rows.push(vec![
                pad.name.clone(),
                supply.supply.clone(),
                supply
                    .path
                    .map_or_else(|| "no limit".to_owned(), |path| significant(path.pf(), 3)),
                range(supply.shift, 2, 1e12),
                percent_of(supply.shift[0], pad.earthed, 2),
                range(supply.counts, 3, 1.0),
                significant(supply.common_mode.mv(), 3),
                two(supply.common_mode_counts),
                two(supply.noise_counts),
            ]);
        }
    }
    let header = [
        "pad",
        "supply",
        "return\npF",
        "touch shift, pF\nweakest to strongest",
        "in pF, %\nof earthed",
        "count\nshift",
        "common\nmode mV",
        "noise it\nmakes",
        "all\nnoise",
    ];
    format!(
        "Supplies; noise while touched in counts rms\n{}",
        table(&header, 2, rows)
    )
}

fn curve(study: &ReturnStudy) -> String {
    let names: Vec<&str> = study.pads.iter().map(|pad| pad.name.as_str()).collect();
    let mut header = vec!["return\npF"];
    header.extend(&names);
    let rows = SHOWN_PF
        .iter()
        .map(|&wanted| {
            let mut row = vec![wanted.to_string()];
            row.extend(study.pads.iter().map(|pad| two(100.0 * pad.at(wanted))));
            row
        })
        .collect();
    format!(
        "Touch shift (in pF) over that of an earthed finger, %, by return capacitance\n{}",
        table(&header, 0, rows)
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::input::Document;

    #[test]
    fn capacitors_to_earth_are_cautioned_of_once() {
        let two_pads = include_str!("../../scenarios/two_pads.toml");
        for supply in ["", "\n[supply.bench]\nto_earth = \"4.7 nF\"\n"] {
            let text = format!("{two_pads}{supply}");
            let document = Document::from_text("two_pads.toml", &text).expect("TOML");
            let panel = document.panel(&[]).unwrap_or_else(|e| panic!("{e}"));
            let lines = caution_lines(&panel);
            let known = cautions(&panel);
            let is_known = known.iter().any(|line| line == CAPACITORS_TO_EARTH);
            assert_eq!(is_known, !supply.is_empty());
            let told = lines.iter().filter(|line| *line == CAPACITORS_TO_EARTH);
            assert_eq!(told.count(), 1, "{lines:?}");
        }
    }
}
