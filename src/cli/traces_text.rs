//! The trace table on a terminal.

use super::solve_text::SHIFT_DIGITS;
use crate::questions::traces::{HARMLESS_SHARE, THRESHOLD_SHARE, TraceTable};
use crate::report::terminal::{table, wrap};
use crate::rounding::{rounded_with_error, significant};
use padfield_engine::units::Length;

/// Share of the threshold below which only that is said.
const SMALLEST_SHARE: f64 = 1e-4;
/// Longer than anything that touches a panel \[mm\].
const LONGEST_CONTACT_MM: f64 = 1000.0;

/// Traces, then the pads they pass, then what the numbers hang on.
pub(super) fn traces_text(found: &TraceTable) -> String {
    let mut parts = vec![rows(found)];
    if !found.crossings.is_empty() {
        parts.push(crossings(found));
    }
    parts.push(wrap(&format!(
        "Traces. The length is that outside of the trace's own pad. pF/cm from a plane cut where the trace is farthest from all pads, everything else at 0 V; the \
         microstrip formula is a hand estimate that knows neither overlay nor keepout. The touch is that of \
         {} mm of finger \"{}\" along the trace, its ends left out. The threshold is taken for {} % of the \
         touch of the trace's own pad, harmless is {} % of that: both common practice, no source.",
        significant(found.contact.mm(), 3),
        found.finger,
        significant(100.0 * THRESHOLD_SHARE, 2),
        significant(100.0 * HARMLESS_SHARE, 2),
    )));
    parts.join("\n\n")
}

fn rows(found: &TraceTable) -> String {
    let rows = found
        .rows
        .iter()
        .map(|row| {
            let whole = row.per_length.untouched.value * row.length.metres() * 1e12;
            vec![
                row.name.clone(),
                row.layer.clone(),
                significant(row.length.mm(), 3),
                rounded_with_error(
                    1e10 * row.per_length.untouched.value,
                    1e10 * row.per_length.untouched.error,
                ),
                row.per_length.microstrip.map_or_else(
                    || "-".to_owned(),
                    |c| significant(c.pf_per_cm(), SHIFT_DIGITS),
                ),
                significant(whole, SHIFT_DIGITS),
                row.touch.shown(),
                row.over_threshold
                    .map_or_else(|| "-".to_owned(), share_of_threshold),
                row.harmless.map_or_else(|| "-".to_owned(), harmless),
            ]
        })
        .collect();
    let header = [
        "trace",
        "layer",
        "length\nmm",
        "pF/cm",
        "microstrip\nestimate",
        "all of\nit, pF",
        "touched\npF",
        "% of\nthreshold",
        "harmless\nmm",
    ];
    format!("Traces, pF\n{}", table(&header, 2, rows))
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

fn crossings(found: &TraceTable) -> String {
    let rows = found
        .crossings
        .iter()
        .map(|crossing| {
            let place = match crossing.overlap.mm() {
                overlap if overlap > 0.0 => format!("{} mm of it", significant(overlap, 2)),
                _ => format!("{} mm beside", significant(crossing.distance.mm(), 2)),
            };
            vec![
                crossing.trace.clone(),
                crossing.pad.clone(),
                place,
                crossing.coupling.shown(),
                crossing
                    .without_traces
                    .map_or_else(|| "-".to_owned(), |value| value.shown()),
            ]
        })
        .collect();
    let header = [
        "trace",
        "passes pad",
        "where",
        "coupling, pF",
        "without any trace, pF",
    ];
    format!("Pads that traces pass\n{}", table(&header, 2, rows))
}
