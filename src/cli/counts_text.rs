//! The response in counts on a terminal.

use super::solve_text::SHIFT_DIGITS;
use crate::measuring_circuit::CountShift;
use crate::measuring_circuit::PEAK_TO_PEAK_OVER_RMS;
use crate::report::terminal::{table, wrap};
use crate::response::{Counts, PadCounts, TouchCounts};
use crate::rounding::{rounded_with_error, significant};

/// Digits of base counts and frequencies.
const BASE_DIGITS: i32 = 4;

/// Why times, currents and battery life have no error bar.
pub(super) const BUDGET_HANGS_ON: &str = "Times, current and battery life hang on what was entered (scan, \
     currents, capacity, self-discharge), of the computed values only on the charge of the bases: no error bar.";

/// The table of counts and, when the panel says anything about its scan, what that takes.
pub(super) fn counts_text(counts: &Counts) -> String {
    let rows = counts.pads.iter().map(row).collect();
    let header = [
        "pad",
        "base\ncount",
        "tolerance\nrange",
        "kHz",
        "count\nshift",
        "tolerance\nrange",
        "noise\nrms",
        "noise\nrms, fF",
        "S/N\nrms",
    ];
    let way = if counts.rises { "rise" } else { "fall" };
    let mut text = wrap(&format!(
        "Counts; a touch makes the count {way}. Count shift: change of the count by a touch. S/N, the \
         signal-to-noise ratio: count shift over the noise while touched, rms; over the noise from peak to \
         peak it is {PEAK_TO_PEAK_OVER_RMS} times smaller. ± is numerical: noise and stray parts are entered"
    ));
    text += &format!("\n{}", table(&header, 1, rows));
    if let Some(neighbours) = neighbours_text(counts) {
        text += &format!("\n\n{neighbours}");
    }
    if let Some(supply) = supply_text(counts) {
        text += &format!("\n\n{supply}");
    }
    if let Some(scan) = scan_text(counts) {
        text += &format!("\n\n{scan}");
    }
    text
}

/// The touch and the supply of the panel with the smallest signal-to-noise ratio.
fn supply_text(counts: &Counts) -> Option<String> {
    let touched = counts.pads.iter().filter_map(|pad| {
        let touch = pad.touch.as_ref()?;
        Some((pad, touch, touch.worst_supply()?))
    });
    let (pad, touch, worst) =
        touched.min_by(|a, b| a.2.signal_to_noise().total_cmp(&b.2.signal_to_noise()))?;
    // The error of the shift, in proportion.
    let share = worst.signal_to_noise() / touch.signal_to_noise;
    Some(wrap(&format!(
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
    )))
}

fn row(pad: &PadCounts) -> Vec<String> {
    let mut row = vec![
        pad.pad.clone(),
        significant(pad.base_count, BASE_DIGITS),
        range(pad.base_range, BASE_DIGITS),
        significant(pad.frequency.khz(), BASE_DIGITS),
    ];
    let noise = pad
        .touch
        .as_ref()
        .map_or_else(|| pad.noise.total(), |touch| touch.noise);
    let noise = [
        significant(noise, SHIFT_DIGITS),
        significant(pad.equivalent_noise.ff(), SHIFT_DIGITS),
    ];
    match &pad.touch {
        None => {
            row.extend([String::new(), String::new()]);
            row.extend(noise);
        }
        Some(touch) => {
            row.extend([
                shift(touch.shift),
                range(touch.shift.tolerance_range, SHIFT_DIGITS),
            ]);
            row.extend(noise);
            row.push(rounded_with_error(
                touch.signal_to_noise,
                touch.signal_to_noise_error,
            ));
        }
    }
    row
}

/// What every touch does to its worst neighbour; none where nothing is touched.
fn neighbours_text(counts: &Counts) -> Option<String> {
    let touched = counts.pads.iter().filter_map(|pad| {
        let mut row = vec![pad.pad.clone()];
        row.extend(neighbour(pad.touch.as_ref()?));
        Some(row)
    });
    let rows: Vec<Vec<String>> = touched.collect();
    let header = ["pad", "worst neighbour", "its shift", "tolerance range"];
    (!rows.is_empty()).then(|| {
        format!(
            "Worst neighbour of a touch, counts\n{}",
            table(&header, 2, rows)
        )
    })
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

fn scan_text(counts: &Counts) -> Option<String> {
    let scan = counts.scan?;
    let digits = |value: f64| significant(value, 3);
    let mut text = format!(
        "Scan: {} pads in {} ms, every {} ms; response at most {} ms; average current {} uA",
        counts.pads.len(),
        digits(scan.scan.ms()),
        digits(scan.cycle.ms()),
        digits(scan.response.ms()),
        digits(scan.average_current.ua()),
    );
    if let Some(life) = counts.battery_life {
        text += &format!("; battery lasts {} years", digits(life.years()));
    }
    Some(wrap(&(text + ". " + BUDGET_HANGS_ON)))
}
