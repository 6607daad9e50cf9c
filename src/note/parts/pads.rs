//! What every pad has, and what a touch adds.

use crate::note::facts::Facts;
use crate::note::words::{BASE_DIGITS, SHIFT_DIGITS, pf};
use crate::panel::Model;
use crate::report::{Block, Cell, Table};
use crate::response::{PadResponse, StrayPart, Touch};
use crate::rounding::{
    fixed, percent_with_error, rounded_with_error, significant, window_ratio as ratio,
};
use padfield_chart::ChartError;
use padfield_engine::units::{Capacitance, Toleranced};

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let section = match facts.response.model {
        Model::Section => " A section is a cross-section in 2-D: a trend only.",
        Model::Volume | Model::Axisymmetric => "",
    };
    Ok(vec![
        Block::paragraph(format!(
            "Computed field part, entered stray part and both at the pin. ± is the estimated error of the \
             computed value; the range in brackets is the tolerance of what was entered. Touch \
             shift: change of capacitance by a touch, here by finger \"{}\". Neighbour ratio: crosstalk, the \
             neighbour's shift over that of the touched pad, both in pF.{section}",
            facts.response.finger,
        )),
        Block::Table(bases(facts)),
        Block::Table(touches(facts)),
    ])
}

fn bases(facts: &Facts<'_>) -> Table {
    let mut table = Table::new(
        "Base capacitance, untouched",
        &[
            "pad",
            "field part, pF",
            "trace, pF",
            "pin, pF",
            "at the pin, pF",
            "frequency, kHz",
            "base count",
            "noise, counts rms",
        ],
        1,
    );
    table.command = facts.solve_command();
    for pad in &facts.response.pads {
        let counts = facts.response.counts.pad(&pad.name);
        table.row(vec![
            pad.name.clone(),
            pad.base.map_or_else(
                || facts.response.why_no_base().to_owned(),
                |base| base.computed.shown(),
            ),
            stray(&pad.trace),
            stray(&pad.pin),
            pad.base_at_pin
                .map_or(String::new(), |at_pin| toleranced(&at_pin)),
            counts.map_or(String::new(), |c| significant(c.frequency.khz(), 4)),
            counts.map_or(String::new(), |c| significant(c.base_count, 4)),
            counts.map_or(String::new(), |c| {
                significant(c.noise.total(), SHIFT_DIGITS)
            }),
        ]);
    }
    table
}

fn touches(facts: &Facts<'_>) -> Table {
    let mut table = Table::new(
        format!("Touch by finger \"{}\"", facts.response.finger),
        &[
            "pad",
            "touch shift, pF",
            "% at the pin",
            "stray tolerance range, %",
            "count shift",
            "tolerance range, counts",
            "signal to noise, rms",
            "worst neighbour",
            "neighbour ratio, %",
            "verdict",
        ],
        1,
    )
    .with_words_in(&[7, 9]);
    table.command = facts.solve_command();
    table.remark = "Signal to noise: count shift over the noise while touched; ± is numerical. The verdict is that of the threshold window, \
                    over all users and supplies."
        .to_owned();
    let touched = facts.response.pads.iter();
    for (pad, touch) in touched.filter_map(|pad| Some((pad, pad.touch.as_ref()?))) {
        table.cells(touch_row(facts, pad, touch));
    }
    table
}

fn touch_row(facts: &Facts<'_>, pad: &PadResponse, touch: &Touch) -> Vec<Cell> {
    let counts = facts
        .response
        .counts
        .pad(&pad.name)
        .and_then(|c| c.touch.as_ref());
    let worst = touch.worst_neighbour();
    let ratio_cell = worst.map_or(String::new(), |worst| {
        match worst.shift.is_below_resolution() {
            true => "below resolution".to_owned(),
            false => percent_with_error(worst.ratio, worst.ratio_error),
        }
    });
    let over_stray = touch.relative.stray_tolerance_range;
    let mut row: Vec<Cell> = vec![
        pad.name.clone(),
        touch.shift.shown(),
        percent_with_error(touch.relative.value, touch.relative.error),
        over_stray
            .map(|share| significant(100.0 * share, SHIFT_DIGITS))
            .join(" to "),
        counts.map_or(String::new(), |c| {
            rounded_with_error(c.shift.value, c.shift.error)
        }),
        counts.map_or(String::new(), |c| {
            c.shift
                .tolerance_range
                .map(|end| fixed(end, 0))
                .join(" to ")
        }),
        counts.map_or(String::new(), |c| {
            rounded_with_error(c.signal_to_noise, c.signal_to_noise_error)
        }),
        worst.map_or("none".to_owned(), |worst| worst.pad.clone()),
        ratio_cell,
    ]
    .into_iter()
    .map(Cell::from)
    .collect();
    row.push(verdict(facts, &pad.name));
    row
}

fn verdict(facts: &Facts<'_>, pad: &str) -> Cell {
    let Some(window) = facts.decided() else {
        return Cell::from("not decided".to_owned());
    };
    let of_pad = window.pads.iter().find(|one| {
        one.pad.is_some_and(|index| window.table.pads[index] == pad) && one.weakest_true.is_some()
    });
    match of_pad {
        None => Cell::from("no user aims at it".to_owned()),
        Some(one) => Cell {
            text: match one.ratio > 1.0 {
                true if one.ratio < facts.order.panel.usage.wanted_ratio.value => {
                    format!("narrow, W\u{a0}=\u{a0}{}", ratio(one.ratio))
                }
                true => format!("works, W\u{a0}=\u{a0}{}", ratio(one.ratio)),
                false => format!("no window, W\u{a0}=\u{a0}{}", ratio(one.ratio)),
            },
            strong: one.ratio <= 1.0,
        },
    }
}

fn stray(part: &StrayPart) -> String {
    with_range(&part.value, pf)
}

fn toleranced(value: &Toleranced<Capacitance>) -> String {
    with_range(value, |c| significant(c.pf(), BASE_DIGITS))
}

fn with_range(value: &Toleranced<Capacitance>, show: impl Fn(Capacitance) -> String) -> String {
    let [nominal, least, most] = [value.nominal, value.least, value.most].map(show);
    match least == most {
        true => nominal,
        false => format!("{nominal} ({least} to {most})"),
    }
}
