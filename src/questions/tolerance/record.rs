//! A spread as one JSON object.

use super::{MonteCarlo, Output, Share, Spread, Way};
use crate::accuracy::missed_json;
use crate::spread::Shape;
use serde_json::{Map, Value, json};

fn way(way: Way) -> &'static str {
    match way {
        Way::Derivative => "derivative",
        Way::Difference => "difference",
        Way::Circuit => "circuit",
    }
}

fn finite(value: f64) -> Value {
    if value.is_finite() {
        json!(value)
    } else {
        Value::Null
    }
}

/// One value per output under its name and unit: `touch_shift_pf`.
fn by_output(value: impl Fn(usize) -> Value) -> Value {
    let entries = Output::ALL.map(|output| {
        let mut key = output.name().replace(' ', "_");
        if !output.unit().is_empty() {
            key += &format!("_{}", output.unit().to_lowercase());
        }
        (key, value(output as usize))
    });
    Value::Object(entries.into_iter().collect::<Map<_, _>>())
}

fn share(share: &Share) -> Value {
    json!({ "passed": share.passed, "of": share.of, "confidence_interval": share.interval })
}

fn units(units: &MonteCarlo) -> Value {
    json!({
        "drawn": units.outcomes.len(),
        "summaries": by_output(|o| {
            let summary = &units.summaries[o];
            json!({
                "mean": finite(summary.mean[0]),
                "mean_standard_error": finite(summary.mean[1]),
                "standard_deviation": finite(summary.deviation),
                "percentile_5": finite(summary.percentiles[0]),
                "percentile_5_confidence_interval": summary.low_percentile_confidence.map(finite),
                "median": finite(summary.percentiles[1]),
                "percentile_95": finite(summary.percentiles[2]),
            })
        }),
        "yield": {
            "one_threshold": share(&units.fixed),
            "missed": share(&units.missed),
            "triggered": share(&units.triggered),
            "threshold_per_unit": share(&units.own),
            "wanted_ratio": share(&units.comfortable),
        },
    })
}

/// Everything as JSON.
pub fn to_json(spread: &Spread) -> Value {
    let rows = spread.rows.iter().map(|row| {
        let parameter = &spread.parameters[row.parameter];
        let scaled = |value: f64| value / parameter.unit_si;
        json!({
            "path": parameter.path,
            "value": scaled(parameter.value),
            "unit": parameter.unit,
            "tolerance": parameter.spread.map(|spread| json!({
                "least": scaled(spread.least),
                "most": scaled(spread.most),
                "shape": match spread.shape {
                    Shape::Rectangular => "rectangular",
                    Shape::Triangular => "triangular",
                    Shape::Normal { .. } => "normal",
                },
                "standard_uncertainty": scaled(spread.standard_uncertainty()),
            })),
            "found_by": way(row.way),
            "log_sensitivity": by_output(|o| finite(row.log_sensitivity[o])),
            "effects": by_output(|o| json!(row.effects[o].map(finite))),
        })
    });
    json!({
        "pad": spread.pad,
        "events": spread.watch.events.iter().map(|watched| json!({
            "words": watched.event.words(),
            "group": watched.event.group.words(),
            "mean_counts": watched.event.mean,
        })).collect::<Vec<_>>(),
        "nominal": by_output(|o| finite(spread.totals[o].nominal)),
        "parameters": rows.collect::<Vec<_>>(),
        "totals": by_output(|o| {
            let total = &spread.totals[o];
            json!({
                "mean": finite(total.mean),
                "standard_uncertainty": finite(total.standard_uncertainty),
                "worst_case": total.worst.map(finite),
            })
        }),
        "threshold_counts": spread.threshold,
        "threshold_origin": spread.threshold_origin.words(),
        "window": {
            "window_ratio": finite(spread.window_ratio),
            "nominal_window_ratio": finite(spread.nominal_ratio),
        },
        "wanted_ratio": spread.wanted_ratio,
        "units": spread.units.as_ref().map(units),
        "surrogate": spread.surrogate.map(|quality| json!({
            "field_problems": quality.solves,
            "held_out": quality.held_out,
            "error_over_spread": quality.share_of_spread,
            "largest_relative_error": quality.largest_error,
            "parameters_with_squares": quality.active,
            "is_good": quality.is_good(),
        })),
        "solver": {
            "field_problems": spread.field_problems,
            "cells": spread.cells,
            "accuracy_asked": spread.accuracy_asked,
            "accuracy_reached": spread.accuracy_reached,
            "accuracy_missed": missed_json(&spread.missed),
        },
    })
}
