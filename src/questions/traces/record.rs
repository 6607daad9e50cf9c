//! The trace table as one JSON value: pF, pF/cm and mm.

use super::TraceTable;
use crate::accuracy::missed_json;
use crate::response::Estimated;
use serde_json::{Value, json};

/// The whole table.
pub fn to_json(table: &TraceTable) -> Value {
    json!({
        "finger": table.finger,
        "contact_mm": table.contact.mm(),
        "traces": table.rows.iter().map(|row| json!({
            "name": row.name,
            "pad": row.pad,
            "layer": row.layer,
            "length_mm": row.length.mm(),
            "drawn_length_mm": row.drawn.mm(),
            "section_at_mm": row.per_length.at.map(|at| at.mm()),
            "pf_per_cm": per_cm(row.per_length.untouched.value),
            "error_pf_per_cm": per_cm(row.per_length.untouched.error),
            "bounds_pf_per_cm": [
                per_cm(row.per_length.bounds.lower),
                per_cm(row.per_length.bounds.upper),
            ],
            "microstrip_estimate_pf_per_cm": row.per_length.microstrip.map(|c| c.pf_per_cm()),
            "touch_pf_per_cm": per_cm(row.per_length.touch.value),
            "touch_error_pf_per_cm": per_cm(row.per_length.touch.error),
            "touch_pf": row.touch.value.pf(),
            "touch_over_threshold": row.over_threshold,
            "harmless_contact_mm": row.harmless.map(|length| length.mm()),
        })).collect::<Vec<_>>(),
        "crossings": table.crossings.iter().map(|crossing| json!({
            "trace": crossing.trace,
            "pad": crossing.pad,
            "overlap_mm": crossing.overlap.mm(),
            "distance_mm": crossing.distance.mm(),
            "coupling": estimated(crossing.coupling),
            "without_traces": crossing.without_traces.map(estimated),
        })).collect::<Vec<_>>(),
        "accuracy_reached": table.accuracy_reached,
        "accuracy_missed": missed_json(&table.missed),
    })
}

/// F/m to pF/cm.
fn per_cm(farads_per_metre: f64) -> f64 {
    farads_per_metre * 1e10
}

fn estimated(value: Estimated) -> Value {
    json!({ "pf": value.value.pf(), "error_pf": value.error.pf() })
}
