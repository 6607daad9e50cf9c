//! The window as one JSON object.

use super::{LeverSearch, PadWindow, Reach, Window};
use crate::accuracy::missed_json;
use crate::event::{Cause, Event, Gesture, Group};
use serde_json::{Value, json};

/// Everything about the window; counts are counts towards a touch, lengths millimetres.
pub fn to_json(window: &Window, levers: Option<&LeverSearch>) -> Value {
    let table = &window.table;
    json!({
        "exists": window.exists(),
        "window_ratio": finite(window.binding().ratio),
        "pads": window.pads.iter().map(|pad| pad_record(window, pad)).collect::<Vec<_>>(),
        "one_threshold_for_all": pad_record(window, &window.common),
        "events": table.events.iter().map(|event| event_record(&table.pads, event)).collect::<Vec<_>>(),
        "reference_user": table.reference_user,
        "references": table.references.iter().map(|reference| json!({
            "pad": table.pads[reference.pad],
            "count_shift": reference.counts,
            "base_at_pin_pf": reference.base_at_pin.pf(),
            "base_count": reference.base_count,
            "noise_counts_rms": reference.noise,
        })).collect::<Vec<_>>(),
        "levers": levers.map(lever_record),
        "not_described": table.not_described,
        "assumptions": window.assumptions,
        "cautions": window.cautions,
        "numerics": {
            "field_problems": window.field_problems,
            "seconds": window.seconds,
            "accuracy_asked": window.accuracy_asked,
            "accuracy_reached": window.accuracy_reached,
            "accuracy_missed": missed_json(&window.missed),
        },
    })
}

/// JSON has no word for an endless ratio.
fn finite(value: f64) -> Option<f64> {
    value.is_finite().then_some(value)
}

fn pad_record(window: &Window, pad: &PadWindow) -> Value {
    let event = |index: Option<usize>| {
        index.map(|index| event_record(&window.table.pads, &window.table.events[index]))
    };
    json!({
        "pad": pad.pad.map(|pad| &window.table.pads[pad]),
        "window_ratio": pad.judged_ratios().and_then(|[ratio, _]| finite(ratio)),
        "nominal_window_ratio": pad.judged_ratios().and_then(|[_, nominal]| finite(nominal)),
        "weakest_true": event(pad.weakest_true),
        "strongest_false": event(pad.strongest_false),
        "choice": pad.choice.map(|choice| json!({
            "threshold_counts": choice.threshold,
            "release_counts": choice.release,
            "hysteresis_counts": choice.threshold - choice.release,
            "release_is_above_false": choice.release_is_above_false,
            "share_of_adult_touch": choice.share_of_adult,
            "debounce_scans": choice.debounce,
            "needed_debounce_scans": choice.needed_debounce,
            "cycle_ms": choice.cycle.ms(),
            "response_ms": choice.response.ms(),
            "miss_probability": choice.miss_probability,
            "false_per_year_from_noise": choice.false_per_year_from_noise,
            "false_per_year_from_neighbours": choice.false_per_year_from_neighbours,
        })),
    })
}

fn event_record(pads: &[String], event: &Event) -> Value {
    let gesture = |kind: &str, gesture: &Gesture| {
        json!({
            "kind": kind,
            "user": gesture.user,
            "supply": gesture.supply,
            "aimed_at": gesture.aimed_at,
            "offset_mm": gesture.offset.map(|part| part.mm()),
        })
    };
    json!({
        "group": match event.group {
            Group::True => "true",
            Group::False => "false",
            Group::Either => "either",
        },
        "pad": pads[event.pad],
        "words": event.words(),
        "cause": match &event.cause {
            Cause::Touch(one) => gesture("touch", one),
            Cause::NeighbourTouch(one) => gesture("neighbour touch", one),
            Cause::Palm(one) => gesture("palm", one),
            Cause::TraceTouch(one, trace) => {
                let mut record = gesture("trace touch", one);
                record["trace"] = json!(trace);
                record
            }
            Cause::NearMiss(one, trace) => {
                let mut record = gesture("near miss", one);
                record["trace"] = json!(trace);
                record
            }
            Cause::Noise => json!({ "kind": "noise" }),
            Cause::Drift => json!({ "kind": "drift" }),
            Cause::Surrounding(kind, name) => json!({ "kind": kind.words(), "name": name }),
        },
        "mean_counts": event.mean,
        "input_range_counts": event.input_range,
        "numerical_error_counts": event.numerical_error,
        "noise_counts_rms": event.noise,
        "worst_mean_counts": event.worst.mean,
        "worst_noise_counts_rms": event.worst.noise,
        "bound_counts": event.bound,
    })
}

fn lever_record(search: &LeverSearch) -> Value {
    json!({
        "window_ratio": finite(search.ratio),
        "wanted_ratio": search.wanted,
        "levers": search.levers.iter().map(|lever| json!({
            "path": lever.scalable.path,
            "value": lever.scalable.value,
            "unit": lever.scalable.unit,
            "log_sensitivity": lever.log_sensitivity,
            "log_sensitivity_error": lever.log_sensitivity_error,
            "ratio_change_per_unit": finite(lever.per_unit(search.ratio)),
            "reach": match lever.reach {
                Reach::Reaches(_) => "reaches",
                Reach::FallsShort(_) => "falls short",
                Reach::TooFar => "too far",
                Reach::NotTried => "not tried",
                Reach::NotNeeded => "not needed",
            },
            "checked": lever.checked().map(|checked| json!({
                "value": checked.value,
                "window_ratio": finite(checked.ratio),
            })),
        })).collect::<Vec<_>>(),
        "trace_layouts": search.layouts.iter().map(|layout| json!({
            "words": layout.words,
            "window_ratio": finite(layout.ratio),
            "every_event_solved": layout.is_whole,
        })).collect::<Vec<_>>(),
        "missing": search.missing,
        "left_counts": search.left_counts,
        "lifts": search.lifts.iter().map(|lift| json!({
            "path": lift.scalable.path,
            "value": lift.scalable.value,
            "unit": lift.scalable.unit,
            "left_with_10_percent_less_counts": lift.left_counts[0],
            "left_with_10_percent_more_counts": lift.left_counts[1],
            "furthest": lift.furthest.map(|furthest| json!({
                "value": furthest.value,
                "window_ratio": finite(furthest.ratio),
            })),
        })).collect::<Vec<_>>(),
        "field_problems": search.field_problems,
    })
}
