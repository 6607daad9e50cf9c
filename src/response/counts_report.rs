//! The response in counts, in words.

use super::report::SHIFT_DIGITS;
use super::{Counts, PadCounts, TouchCounts};
use crate::measuring_circuit::{CountShift, PEAK_TO_PEAK_OVER_RMS};
use crate::report::{Block, Report, Table};
use crate::rounding::{rounded_with_error, significant};

/// Digits of base counts and frequencies.
const BASE_DIGITS: i32 = 4;

/// Why times, currents and battery life have no error bar.
pub const BUDGET_HANGS_ON: &str = "Times, current and battery life hang on what was entered (scan, \
     currents, capacity, self-discharge), of the computed values only on the charge of the bases: no error bar.";

/// Adds the tables of counts and, when the panel says anything about its scan, what that takes.
pub(super) fn add(counts: &Counts, report: &mut Report) {
    report.say(pads(counts));
    let neighbours = neighbours(counts);
    if !neighbours.rows.is_empty() {
        report.detail(neighbours);
    }
    if let Some(words) = supply(counts) {
        report.say(Block::paragraph(words));
    }
    if let Some(table) = scan_table(counts) {
        report.detail(table);
    }
}

fn pads(counts: &Counts) -> Table {
    let way = if counts.rises { "rise" } else { "fall" };
    let mut table = Table::new(
        format!("Counts; a touch makes the count {way}"),
        &[
            "pad",
            "base\ncount",
            "tolerance\nrange",
            "kHz",
            "count\nshift",
            "tolerance\nrange",
            "noise\nrms",
            "noise\nrms, fF",
            "S/N\nrms",
        ],
        1,
    )
    .with_details_in(&[7]);
    for pad in &counts.pads {
        table.row(row(pad));
    }
    table.remark = format!(
        "Count shift: change of the count by a touch. S/N, the signal-to-noise ratio: count shift over the noise while \
         touched, rms; over the noise from peak to peak it is {PEAK_TO_PEAK_OVER_RMS} times smaller. ± is numerical: \
         noise and stray parts are entered."
    );
    table
}

/// The touch and the supply of the panel with the smallest signal-to-noise ratio.
fn supply(counts: &Counts) -> Option<String> {
    let touched = counts.pads.iter().filter_map(|pad| {
        let touch = pad.touch.as_ref()?;
        Some((pad, touch, touch.worst_supply()?))
    });
    let (pad, touch, worst) =
        touched.min_by(|a, b| a.2.signal_to_noise().total_cmp(&b.2.signal_to_noise()))?;
    // The error of the shift, in proportion.
    let share = worst.signal_to_noise() / touch.signal_to_noise;
    Some(format!(
        "The table is for the finger as the file has it. Of the supplies, S/N is smallest for \"{}\" on \"{}\": {} \
         rms, a count shift of {} over a noise of {} rms{}.",
        pad.pad,
        worst.supply,
        rounded_with_error(
            worst.signal_to_noise(),
            (touch.signal_to_noise_error * share).abs()
        ),
        significant(worst.counted.mean, 3),
        significant(worst.counted.noise, SHIFT_DIGITS),
        match worst.counted.common_mode > 0.0 {
            true => format!(
                ", of which {} rms come through the finger",
                significant(worst.counted.common_mode, SHIFT_DIGITS)
            ),
            false => String::new(),
        },
    ))
}

fn row(pad: &PadCounts) -> Vec<String> {
    let touch = pad.touch.as_ref();
    let noise = touch.map_or_else(|| pad.noise.total(), |touch| touch.noise);
    let touched = |cell: fn(&TouchCounts) -> String| touch.map(cell).unwrap_or_default();
    vec![
        pad.pad.clone(),
        significant(pad.base_count, BASE_DIGITS),
        range(pad.base_range, BASE_DIGITS),
        significant(pad.frequency.khz(), BASE_DIGITS),
        touched(|touch| shift(touch.shift)),
        touched(|touch| range(touch.shift.tolerance_range, SHIFT_DIGITS)),
        significant(noise, SHIFT_DIGITS),
        significant(pad.equivalent_noise.ff(), SHIFT_DIGITS),
        touched(|touch| rounded_with_error(touch.signal_to_noise, touch.signal_to_noise_error)),
    ]
}

/// What every touch does to its worst neighbour.
fn neighbours(counts: &Counts) -> Table {
    let mut table = Table::new(
        "Worst neighbour of a touch, counts",
        &["pad", "worst neighbour", "its shift", "tolerance range"],
        2,
    );
    for pad in &counts.pads {
        if let Some(touch) = &pad.touch {
            let [neighbour, shift, range] = neighbour(touch);
            table.row(vec![pad.pad.clone(), neighbour, shift, range]);
        }
    }
    table
}

fn neighbour(touch: &TouchCounts) -> [String; 3] {
    match touch.worst_neighbour() {
        Some(worst) => [
            worst.pad.clone(),
            shift(worst.shift),
            range(worst.shift.tolerance_range, SHIFT_DIGITS),
        ],
        None => ["none".to_owned(), String::new(), String::new()],
    }
}

fn shift(shift: CountShift) -> String {
    if shift.value.abs() <= shift.error {
        return "below resolution".to_owned();
    }
    rounded_with_error(shift.value, shift.error)
}

fn range(ends: [f64; 2], digits: i32) -> String {
    let [least, most] = ends.map(|end| significant(end, digits));
    match least == most {
        true => least,
        false => format!("{least} to {most}"),
    }
}

/// Times and currents, when the panel says anything about its scan.
pub fn scan_table(counts: &Counts) -> Option<Table> {
    let scan = counts.scan.as_ref()?;
    let mut table = Table::new("Time and current", &["what", "value"], 1);
    let mut row = |what: &str, value: f64| {
        table.row(vec![what.to_owned(), significant(value, 3)]);
    };
    let all = format!("scan of all {} pads, ms", counts.pads.len());
    row(&all, scan.scan.ms());
    row("cycle, ms", scan.cycle.ms());
    row("response, ms", scan.response.ms());
    row("average current, uA", scan.average_current.ua());
    if let Some(life) = counts.battery_life {
        row("battery, years", life.years());
    }
    table.remark = format!("The response is at most that. {BUDGET_HANGS_ON}");
    Some(table)
}
