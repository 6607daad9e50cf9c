//! The correlation as one JSON object.

use super::fit::{Correlation, Explanation};
use crate::accuracy::missed_json;
use serde_json::{Value, json};

/// Values in the unit of their quantity, unrounded; chances as plain fractions.
pub fn to_json(correlation: &Correlation) -> Value {
    json!({
        "values": correlation.rows.iter().map(|row| json!({
            "pad": row.measured.pad,
            "quantity": row.measured.quantity.column(),
            "measured": row.measured.value,
            "measured_error": row.measured_error,
            "computed": row.computed,
            "estimated_error": row.numerical_error,
            "measured_over_computed": row.measured.value / row.computed,
            "deviation": row.deviation(),
        })).collect::<Vec<_>>(),
        "not_computed": correlation.not_computed.iter().map(|value| json!({
            "pad": value.pad,
            "quantity": value.quantity.column(),
        })).collect::<Vec<_>>(),
        "misfit": correlation.misfit,
        "chance": correlation.chance,
        "agrees": correlation.agrees(),
        "explanations": correlation.explanations.iter().map(explanation).collect::<Vec<_>>(),
        "accuracy_reached": correlation.accuracy_reached,
        "accuracy_missed": missed_json(&correlation.missed),
    })
}

fn explanation(one: &Explanation) -> Value {
    let finite = |value: f64| value.is_finite().then_some(value);
    json!({
        "assumption": one.words,
        "unit": one.assumption.unit,
        "assumed": finite(one.assumed[0]),
        "assumed_least": finite(one.assumed[1]),
        "assumed_most": finite(one.assumed[2]),
        "value": one.value,
        "uncertainty": finite(one.uncertainty),
        "misfit": one.misfit,
        "chance": one.chance,
        "explains": one.is_enough(),
        "within_tolerance": one.is_within_tolerance(),
        "predicted": one.predicted,
    })
}
