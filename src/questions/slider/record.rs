//! A decision as one JSON object.

use super::{SliderDecision, TotalCause, TotalEvent};
use crate::accuracy::missed_json;
use serde_json::{Value, json};

/// Everything about one slider; counts are those of all segments together, lengths millimetres.
pub fn to_json(decision: &SliderDecision) -> Value {
    let finite = |value: f64| value.is_finite().then_some(value);
    let event = |index: Option<usize>| index.map(|index| event_record(&decision.events[index]));
    let strokes = decision.strokes.iter().zip(&decision.reports);
    json!({
        "slider": decision.group,
        "window_ratio": finite(decision.ratio),
        "nominal_window_ratio": finite(decision.nominal_ratio),
        "weakest_true": event(decision.weakest_true),
        "strongest_false": event(decision.strongest_false),
        "threshold_counts": decision.threshold,
        "release_counts": decision.release,
        "events": decision.events.iter().map(event_record).collect::<Vec<_>>(),
        "strokes": strokes.map(|(stroke, reports)| {
            let mut record = stroke.to_json();
            record["reports_mm"] = reports
                .iter()
                .map(|one| json!([one.low_mm, one.high_mm]))
                .collect();
            record
        }).collect::<Vec<_>>(),
        "not_judged": decision.not_judged,
        "field_problems": decision.field_problems,
        "accuracy_reached": decision.accuracy_reached,
        "accuracy_missed": missed_json(&decision.missed),
    })
}

fn event_record(event: &TotalEvent) -> Value {
    json!({
        "must_report": event.must_report,
        "words": event.words(),
        "kind": match &event.cause {
            TotalCause::Stroke { .. } => "touch",
            TotalCause::Beside { .. } => "neighbour touch",
            TotalCause::Palm { .. } => "palm",
            TotalCause::Trace { .. } => "trace touch",
            TotalCause::Noise => "noise",
            TotalCause::Drift => "drift",
            TotalCause::Surrounding(kind, _) => kind.words(),
        },
        "mean_counts": event.total.mean,
        "input_range_counts": event.total.input_range,
        "numerical_error_counts": event.total.numerical_error,
        "noise_counts_rms": event.total.noise,
        "worst_mean_counts": event.total.worst[usize::from(!event.must_report)].mean,
        "worst_noise_counts_rms": event.total.worst[usize::from(!event.must_report)].noise,
        "bound_counts": event.bound,
    })
}
