//! The touch over the return path in words: the weakest, the least return, every supply, the curve.

use super::{Least, OnSupply, PadReturn, ReturnStudy};
use crate::cautions::{CAPACITORS_TO_EARTH, cautions};
use crate::panel::Panel;
use crate::report::{Block, Report, Table};
use crate::rounding::{counts, percent_of, rounded_with_error, significant};

/// Return capacitances of the table \[pF\].
const SHOWN_PF: [f64; 8] = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 150.0, 500.0];

pub fn report(panel: &Panel, study: &ReturnStudy) -> Report {
    let mut report = Report::default();
    match weakest(study) {
        None => report.say(Block::paragraph(
            "There is no pad to judge: segments of sliders and wheels are not judged.",
        )),
        Some((pad, supply)) => {
            report.say(Block::paragraph(answer(study, pad, supply)));
            report.say(needs(study));
            report.say(supplies(study));
            report.detail(noise(study));
            report.detail(curve(study));
        }
    }
    report.assumptions(&study.assumptions);
    report.detail(Block::cautions(caution_lines(panel)));
    report
}

/// Cautions of the panel, and that of capacitors to earth: advice about returns leads to them on every panel.
fn caution_lines(panel: &Panel) -> Vec<String> {
    let mut lines = cautions(panel);
    if !lines.iter().any(|line| line == CAPACITORS_TO_EARTH) {
        lines.insert(0, CAPACITORS_TO_EARTH.to_owned());
    }
    lines
}

fn pairs(study: &ReturnStudy) -> impl Iterator<Item = (&PadReturn, &OnSupply)> {
    let pads = study.pads.iter();
    pads.flat_map(|pad| pad.supplies.iter().map(move |supply| (pad, supply)))
}

fn weakest(study: &ReturnStudy) -> Option<(&PadReturn, &OnSupply)> {
    pairs(study).min_by(|a, b| a.1.counts[1].total_cmp(&b.1.counts[1]))
}

fn answer(study: &ReturnStudy, pad: &PadReturn, supply: &OnSupply) -> String {
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
        Least::Never => "none is enough".to_owned(),
    }
}

fn needs(study: &ReturnStudy) -> Table {
    let share = significant(100.0 * study.share, 3);
    let mut table = Table::new(
        "Least return capacitance, body to device ground",
        &[
            "pad",
            "earthed touch\nshift, pF",
            "earthed\ncount shift",
            &format!("return in pF for\n{share} % of the shift"),
            &format!(
                "return in pF for\na count shift of {}",
                study.counts.unwrap_or_default()
            ),
        ],
        1,
    );
    for pad in &study.pads {
        table.row(vec![
            pad.name.clone(),
            rounded_with_error(1e12 * pad.earthed, 1e12 * pad.earthed_error),
            rounded_with_error(pad.earthed_count_shift, pad.earthed_count_shift_error),
            least(&pad.for_share),
            pad.for_counts.as_ref().map(least).unwrap_or_default(),
        ]);
    }
    if study.counts.is_none() {
        table.drop_column(4);
    }
    table
}

fn supplies(study: &ReturnStudy) -> Table {
    let mut table = Table::new(
        "Touch on every supply",
        &[
            "pad",
            "supply",
            "return\npF",
            "touch shift\npF",
            "in pF, % of\nearthed",
            "count\nshift",
            "at weakest to\nstrongest return",
            "noise while touched,\ncounts rms",
        ],
        2,
    );
    for (pad, on) in pairs(study) {
        let [nominal, weakest, strongest] = on.counts;
        table.row(vec![
            pad.name.clone(),
            on.supply.clone(),
            on.path
                .map_or_else(|| "no limit".to_owned(), |path| significant(path.pf(), 3)),
            rounded_with_error(1e12 * on.shift[0], 1e12 * on.shift_error),
            percent_of(on.shift[0], pad.earthed, 3),
            rounded_with_error(nominal, on.counts_error),
            format!("{} to {}", counts(weakest), counts(strongest)),
            significant(on.noise_counts, 2),
        ]);
    }
    table
}

fn noise(study: &ReturnStudy) -> Table {
    let mut table = Table::new(
        "Weakest to strongest return; the noise that comes through it",
        &[
            "pad",
            "supply",
            "touch shift\npF",
            "common\nmode mV",
            "noise it makes,\ncounts rms",
        ],
        2,
    );
    for (pad, on) in pairs(study) {
        let [_, weakest, strongest] = on.shift.map(|shift| significant(1e12 * shift, 2));
        table.row(vec![
            pad.name.clone(),
            on.supply.clone(),
            format!("{weakest} to {strongest}"),
            significant(on.common_mode.mv(), 3),
            significant(on.common_mode_counts, 2),
        ]);
    }
    table
}

fn curve(study: &ReturnStudy) -> Table {
    let names = study.pads.iter().map(|pad| pad.name.as_str());
    let header: Vec<&str> = std::iter::once("return\npF").chain(names).collect();
    let mut table = Table::new(
        "Touch shift (in pF) over that of an earthed finger, %, by return capacitance",
        &header,
        0,
    );
    for wanted in SHOWN_PF {
        let pads = study.pads.iter();
        let shares = pads.map(|pad| significant(100.0 * pad.at(wanted), 2));
        table.row(std::iter::once(wanted.to_string()).chain(shares).collect());
    }
    table
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn capacitors_to_earth_are_cautioned_of_once() {
        let two_pads = include_str!("../../../scenarios/two_pads.toml");
        for supply in ["", "\n[supply.bench]\nto_earth = \"4.7 nF\"\n"] {
            let text = format!("{two_pads}{supply}");
            let panel = crate::input::panel_from_bytes("two_pads.toml", text.as_bytes(), &[])
                .unwrap_or_else(|e| panic!("{e}"));
            let lines = caution_lines(&panel);
            let known = cautions(&panel);
            let is_known = known.iter().any(|line| line == CAPACITORS_TO_EARTH);
            assert_eq!(is_known, !supply.is_empty());
            let told = lines.iter().filter(|line| *line == CAPACITORS_TO_EARTH);
            assert_eq!(told.count(), 1, "{lines:?}");
        }
    }
}
