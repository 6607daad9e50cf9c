//! Traces in words: what each of them costs, and the pads they pass.

use super::{HARMLESS_SHARE, THRESHOLD_SHARE, TraceTable};
use crate::report::{Report, Table};
use crate::rounding::{rounded_with_error, significant};
use padfield_engine::units::Length;

/// Digits of shifts and shares.
const SHIFT_DIGITS: i32 = 2;
/// Share of the threshold below which only that is said.
const SMALLEST_SHARE: f64 = 1e-4;
/// Longer than anything that touches a panel \[mm\].
const LONGEST_CONTACT_MM: f64 = 1000.0;

pub fn report(found: &TraceTable) -> Report {
    let mut report = Report::default();
    let mut rows = rows(found);
    let mut crossings = crossings(found);
    let last = match crossings.rows.is_empty() {
        true => &mut rows,
        false => &mut crossings,
    };
    last.remark = format!(
        "Traces. The length is that outside of the trace's own pad. pF/cm from a plane cut where the trace is farthest \
         from all pads, everything else at 0 V; the microstrip formula is a hand estimate that knows neither overlay nor \
         keepout. The touch is that of {} mm of finger \"{}\" along the trace, its ends left out. The threshold is taken \
         for {} % of the touch of the trace's own pad, harmless is {} % of that: both common practice, no source.",
        significant(found.contact.mm(), 3),
        found.finger,
        significant(100.0 * THRESHOLD_SHARE, 2),
        significant(100.0 * HARMLESS_SHARE, 2),
    );
    report.say(rows);
    if !crossings.rows.is_empty() {
        report.say(crossings);
    }
    report
}

fn rows(found: &TraceTable) -> Table {
    let mut table = Table::new(
        "Traces, pF",
        &[
            "trace",
            "layer",
            "length\nmm",
            "pF/cm",
            "microstrip\nestimate",
            "all of\nit, pF",
            "touched\npF",
            "% of\nthreshold",
            "harmless\nmm",
        ],
        2,
    );
    for row in &found.rows {
        let per_length = &row.per_length;
        let whole = per_length.untouched.value * row.length.metres() * 1e12;
        table.row(vec![
            row.name.clone(),
            row.layer.clone(),
            significant(row.length.mm(), 3),
            rounded_with_error(
                1e10 * per_length.untouched.value,
                1e10 * per_length.untouched.error,
            ),
            per_length.microstrip.map_or_else(
                || "-".to_owned(),
                |c| significant(c.pf_per_cm(), SHIFT_DIGITS),
            ),
            significant(whole, SHIFT_DIGITS),
            row.touch.shown(),
            row.over_threshold
                .map_or_else(|| "-".to_owned(), share_of_threshold),
            row.harmless.map_or_else(|| "-".to_owned(), harmless),
        ]);
    }
    table
}

/// Below what any design turns on there is no figure.
fn share_of_threshold(share: f64) -> String {
    match share.abs() < SMALLEST_SHARE {
        true => format!("below {} %", 100.0 * SMALLEST_SHARE),
        false => format!("{} %", significant(100.0 * share, SHIFT_DIGITS)),
    }
}

fn harmless(length: Length) -> String {
    match length.mm() > LONGEST_CONTACT_MM {
        true => "any".to_owned(),
        false => significant(length.mm(), 2),
    }
}

fn crossings(found: &TraceTable) -> Table {
    let mut table = Table::new(
        "Pads that traces pass",
        &[
            "trace",
            "passes pad",
            "where",
            "coupling, pF",
            "without any trace, pF",
        ],
        2,
    );
    for crossing in &found.crossings {
        let place = match crossing.overlap.mm() {
            overlap if overlap > 0.0 => format!("{} mm of it", significant(overlap, 2)),
            _ => format!("{} mm beside", significant(crossing.distance.mm(), 2)),
        };
        let without = crossing.without_traces;
        table.row(vec![
            crossing.trace.clone(),
            crossing.pad.clone(),
            place,
            crossing.coupling.shown(),
            without.map_or_else(|| "-".to_owned(), |value| value.shown()),
        ]);
    }
    table
}
