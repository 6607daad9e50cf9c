//! The response as one JSON object for machines: unrounded, units in the names.

use crate::accuracy::missed_json;
use serde_json::{Value, json};

use super::answer::{
    Estimated, HandEstimate, Neighbour, PadResponse, RelativeShift, Response, StrayPart, Subject,
    Touch,
};
use super::counts_record::{counts_json, pad_counts_json};
use crate::panel::{IdleState, Model, Origin};
use padfield_engine::units::{Capacitance, Toleranced};

/// The whole response as an object. Capacitances in pF, shares and ratios as plain fractions.
pub fn to_json(response: &Response) -> Value {
    let numerics = &response.numerics;
    json!({
        "title": response.title,
        "finger": response.finger,
        "model": model_word(response.model),
        "idle": match response.idle {
            IdleState::Grounded => "grounded",
            IdleState::Floating => "floating",
            IdleState::Driven => "driven",
        },
        "pads": response.pads.iter().map(|pad| pad_json(response, pad)).collect::<Vec<_>>(),
        "surroundings": response.steps.iter().map(|one| json!({
            "kind": one.kind.words(),
            "name": one.name,
            "pad": one.pad,
            "before": estimated_json(one.before),
            "change": estimated_json(one.change),
        })).collect::<Vec<_>>(),
        "counts": counts_json(&response.counts),
        "assumptions": response.assumptions,
        "cautions": response.cautions,
        "solver": {
            "solves": numerics.solves,
            "cells": numerics.cells,
            "fineness": numerics.fineness,
            "iterations": numerics.iterations,
            "residual": numerics.residual,
            "seconds": numerics.seconds,
        },
        "accuracy": {
            "asked": numerics.accuracy_asked,
            "estimated": numerics.accuracy_estimated,
            "reached": numerics.accuracy_reached,
            "missed": missed_json(&numerics.missed),
        },
    })
}

fn model_word(model: Model) -> &'static str {
    match model {
        Model::Volume => "volume",
        Model::Axisymmetric => "axisymmetric",
        Model::Section => "section",
    }
}

fn pad_json(response: &Response, pad: &PadResponse) -> Value {
    json!({
        "pad": pad.name,
        "base": pad.base.map(|base| json!({
            "value_pf": base.computed.value.pf(),
            "estimated_error_pf": base.computed.error.pf(),
            "bounds_pf": base.bounds.map(|end| end.pf()),
            "bounds_are_guaranteed": base.bounds_are_guaranteed,
        })),
        "pin": stray_json(&pad.pin),
        "trace": stray_json(&pad.trace),
        "driver_loads": pad.driver_loads.iter().map(|(name, load)| json!({
            "name": name,
            "load": estimated_json(*load),
        })).collect::<Vec<_>>(),
        "base_at_pin": pad.base_at_pin.map(|base| toleranced_json(&base)),
        "touch": pad.touch.as_ref().map(touch_json),
        "counts": response.counts.pad(&pad.name).map(pad_counts_json),
    })
}

fn touch_json(touch: &Touch) -> Value {
    json!({
        "shift": estimated_json(touch.shift),
        "relative": relative_json(&touch.relative),
        "neighbours": touch.neighbours.iter().map(neighbour_json).collect::<Vec<_>>(),
        "worst_neighbour": touch.worst_neighbour().map(|neighbour| &neighbour.pad),
        "estimates": touch.estimates.iter().map(estimate_json).collect::<Vec<_>>(),
        "mirrored_from": touch.mirrored_from,
    })
}

fn estimated_json(estimated: Estimated) -> Value {
    json!({
        "value_pf": estimated.value.pf(),
        "estimated_error_pf": estimated.error.pf(),
        "below_resolution": estimated.is_below_resolution(),
    })
}

fn relative_json(relative: &RelativeShift) -> Value {
    json!({
        "value": relative.value,
        "estimated_error": relative.error,
        "stray_tolerance_range": relative.stray_tolerance_range,
    })
}

fn neighbour_json(neighbour: &Neighbour) -> Value {
    json!({
        "pad": neighbour.pad,
        "shift": estimated_json(neighbour.shift),
        "ratio": neighbour.ratio,
        "ratio_estimated_error": neighbour.ratio_error,
        "ratio_tolerance_range": neighbour.ratio_range,
        "relative": relative_json(&neighbour.relative),
    })
}

fn estimate_json(estimate: &HandEstimate) -> Value {
    json!({
        "name": estimate.name,
        "of": match estimate.subject {
            Subject::Base => "base",
            Subject::TouchShift => "touch shift",
        },
        "value_pf": estimate.value.pf(),
        "ratio_to_computed": estimate.ratio,
        "known_bias": estimate.known_bias,
    })
}

fn stray_json(part: &StrayPart) -> Value {
    let mut object = toleranced_json(&part.value);
    object["origin"] = json!(match part.origin {
        Origin::Given => "given",
        Origin::Default => "default",
    });
    object
}

fn toleranced_json(value: &Toleranced<Capacitance>) -> Value {
    json!({
        "nominal_pf": value.nominal.pf(),
        "least_pf": value.least.pf(),
        "most_pf": value.most.pf(),
    })
}
