//! The drift as one JSON object.

use super::{CheckedEnd, Drift, End, LayerDrift, PadDrift, Spread};
use crate::accuracy::missed_json;
use serde_json::{Value, json};

/// Everything about the drift; capacitances in pF, counts towards a touch.
pub fn to_json(drift: &Drift, checked: &[CheckedEnd]) -> Value {
    let climate = &drift.climate;
    json!({
        "finger": drift.finger,
        "climate": {
            "given": climate.is_given,
            "lowest_celsius": climate.lowest_celsius.value,
            "highest_celsius": climate.highest_celsius.value,
            "reference_celsius": climate.reference_celsius.value,
            "fastest_change_k_per_min": 60.0 * climate.fastest_change_k_per_s.value,
            "moisture": climate.moisture.value,
            "held_s": climate.held.value.seconds(),
        },
        "layers": drift.layers.iter().map(layer).collect::<Vec<_>>(),
        "pads": drift.pads.iter().map(pad).collect::<Vec<_>>(),
        "checked": checked.iter().map(|end| json!({
            "pad": end.pad,
            "celsius": end.celsius,
            "base_drift_linear_pf": pf(end.base[0]),
            "base_drift_solved_pf": pf(end.base[1]),
            "shift_change_linear_pf": pf(end.shift[0]),
            "shift_change_solved_pf": pf(end.shift[1]),
        })).collect::<Vec<_>>(),
        "assumptions": drift.assumptions,
        "numerics": {
            "field_problems": drift.field_problems,
            "accuracy_reached": drift.accuracy_reached,
            "accuracy_missed": missed_json(&drift.missed),
        },
    })
}

fn pf(farads: f64) -> f64 {
    1e12 * farads
}

fn spread(value: &Spread, factor: f64) -> Value {
    let value = value.scaled(factor);
    json!({ "nominal": value.nominal, "least": value.least, "most": value.most })
}

fn layer(layer: &LayerDrift) -> Value {
    let with_source = |known: &Option<(Spread, String)>, factor: f64| {
        known.as_ref().map(|(value, source)| {
            let mut record = spread(value, factor);
            record["source"] = json!(source);
            record
        })
    };
    json!({
        "layer": layer.name,
        "material": layer.material,
        "temperature_coefficient_ppm_per_k": with_source(&layer.per_k, 1e6),
        "moisture_percent": with_source(&layer.moisture, 100.0),
        "ageing_percent": with_source(&layer.ageing, 100.0),
    })
}

fn end(end: &End) -> Value {
    json!({
        "celsius": end.celsius,
        "base_drift_pf": spread(&end.base, 1e12),
        "baseline_drift_counts": spread(&end.counts, 1.0),
        "touch_shift_change_pf": spread(&end.shift, 1e12),
        "count_shift": spread(&end.count_shift, 1.0),
        "neighbour_shift_change_pf": end.neighbour.as_ref().map(|change| spread(change, 1e12)),
    })
}

fn pad(pad: &PadDrift) -> Value {
    json!({
        "pad": pad.name,
        "base_pf": pf(pad.base),
        "base_estimated_error_pf": pf(pad.base_error),
        "base_at_pin_pf": pad.base_at_pin.pf(),
        "base_count": pad.base_count,
        "touch_shift_pf": pf(pad.shift),
        "count_shift": pad.count_shift,
        "count_shift_estimated_error": pad.count_shift_error,
        "neighbour": pad.neighbour.as_ref().map(|(name, shift)| json!({
            "pad": name,
            "shift_pf": pf(*shift),
        })),
        "threshold_counts": pad.threshold,
        "drift_over_range_counts": spread(&pad.over_range, 1.0),
        "drift_numerical_error_counts": pad.numerical_error,
        "drift_over_threshold": pad.over_threshold(),
        "parts": pad.parts.iter().map(|part| json!({
            "name": part.name,
            "energy_share": part.share,
            "drift_over_range_counts": spread(&part.counts, 1.0),
        })).collect::<Vec<_>>(),
        "ends": pad.ends.iter().map(end).collect::<Vec<_>>(),
        "moisture_counts": pad.moisture.as_ref().map(|rise| spread(rise, 1.0)),
        "ageing_counts": spread(&pad.ageing, 1.0),
        "fastest_drift_counts_per_min": 60.0 * pad.rate,
        "tracking_counts_per_min": 60.0 * pad.tracking(),
        "held_finger_loses": pad.loss,
        "held_finger_keeps_enough": pad.loss_is_small(),
        "reference_channel": pad.reference.as_ref().map(|reference| json!({
            "pad": reference.pad,
            "left_counts": spread(&reference.left, 1.0),
            "left_over_drift": reference.share,
            "worth_it": reference.is_worth_it(),
        })),
    })
}
