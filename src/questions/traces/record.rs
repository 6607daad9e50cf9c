//! The trace table for machines: pF, pF/cm and mm.

use super::{Crossing, TraceRow, TraceTable};
use crate::accuracy::ReachedRecord;
use crate::record::{Picofarads, all, record};
use crate::response::Estimated;

record! {
    /// The traces of a panel under one finger.
    pub struct TracesRecord(table: &TraceTable) {
        /// Finger that touches them.
        finger: String = table.finger.clone(),
        /// Its contact along a trace, mm.
        contact_mm: f64 = table.contact.mm(),
        /// Every trace.
        traces: Vec<TraceRecord> = all(&table.rows, TraceRecord::of),
        /// Pads that a trace of another pad or a foreign line passes.
        crossings: Vec<CrossingRecord> = all(&table.crossings, CrossingRecord::of),
        /// Whether it has the accuracy that was asked for.
        #[serde(flatten)]
        reached: ReachedRecord = ReachedRecord::of(table.accuracy_reached, &table.missed),
    }

    /// A trace.
    pub struct TraceRecord(row: &TraceRow) {
        /// Its name.
        name: String = row.name.clone(),
        /// Its pad; null for a foreign line.
        pad: Option<String> = row.pad.clone(),
        /// Its copper layer.
        layer: String = row.layer.clone(),
        /// Length of its middle line outside of the copper of its own pad, mm.
        length_mm: f64 = row.length.mm(),
        /// Length of its middle line as drawn, mm.
        drawn_length_mm: f64 = row.drawn.mm(),
        /// Where the cut that is solved meets it, x and y, mm.
        section_at_mm: [f64; 2] = row.per_length.at.map(|at| at.mm()),
        /// Capacitance per length, untouched, pF/cm.
        value_pf_per_cm: f64 = per_cm(row.per_length.untouched.value),
        /// Its estimated numerical error, pF/cm.
        estimated_error_pf_per_cm: f64 = per_cm(row.per_length.untouched.error),
        /// Its lower and upper bound, pF/cm.
        bounds_pf_per_cm: [f64; 2] = [
            per_cm(row.per_length.bounds.lower),
            per_cm(row.per_length.bounds.upper),
        ],
        /// Hand estimate of it: a strip over the nearest ground on another layer, pF/cm; null where none fits.
        microstrip_estimate_pf_per_cm: Option<f64> =
            row.per_length.microstrip.map(|estimate| estimate.pf_per_cm()),
        /// What an earthed finger above it adds, pF/cm.
        touch_pf_per_cm: f64 = per_cm(row.per_length.touch.value),
        /// Its estimated numerical error, pF/cm.
        touch_estimated_error_pf_per_cm: f64 = per_cm(row.per_length.touch.error),
        /// What the contact of the finger along the trace adds, pF.
        touch_pf: f64 = row.touch.value.pf(),
        /// The same over the shift at the threshold; null without a touch to compare with.
        touch_over_threshold: Option<f64> = row.over_threshold,
        /// Contact along the trace that stays at a quarter of that threshold, mm.
        harmless_contact_mm: Option<f64> = row.harmless.map(|length| length.mm()),
    }

    /// A trace that passes the pad of another one.
    pub struct CrossingRecord(crossing: &Crossing) {
        /// The trace.
        trace: String = crossing.trace.clone(),
        /// The pad.
        pad: String = crossing.pad.clone(),
        /// Length of the trace under or over the copper of the pad, mm.
        overlap_mm: f64 = crossing.overlap.mm(),
        /// Smallest distance in the plane of the board, mm; zero with an overlap.
        distance_mm: f64 = crossing.distance.mm(),
        /// Between the pad and the conductor of the trace, with all traces.
        coupling: Picofarads = picofarads(crossing.coupling),
        /// The same between both pads without any trace; null for a foreign line.
        without_traces: Option<Picofarads> = crossing.without_traces.map(picofarads),
    }
}

fn picofarads(coupling: Estimated) -> Picofarads {
    Picofarads::of(coupling.value.pf(), coupling.error.pf())
}

/// F/m to pF/cm.
fn per_cm(farads_per_metre: f64) -> f64 {
    farads_per_metre * 1e10
}
