//! The trade as one JSON object.

use super::report::Told;
use super::{Answer, Nearest, Point, Row};
use serde_json::{Value, json};

/// The trade as one JSON object.
pub fn to_json(told: &Told<'_>) -> Value {
    json!({
        "title": told.response.title,
        "finger": told.response.finger,
        "asked": {
            "signal_to_noise_rms": told.question.signal_to_noise,
            "signal_to_noise_origin": told.origin(),
            "response_ms": told.question.response.map(|response| response.ms()),
        },
        "answer": told.answer.map(answer_json),
        "rows": told.rows.iter().map(row_json).collect::<Vec<_>>(),
        "judged_elsewhere": told.judged_elsewhere,
        "assumptions": told.response.assumptions,
    })
}

fn answer_json(answer: &Answer) -> Value {
    json!({
        "met": answer.best.is_some(),
        "best": answer.best.as_ref().map(point_json),
        "cycle_ms": answer.cycle.map(|cycle| cycle.ms()),
        "shorter_gate": answer.shorter_gate.as_ref().map(nearest_json),
        "other_resistors": answer.other_resistors.iter().map(nearest_json).collect::<Vec<_>>(),
        "nearest": answer.nearest.as_ref().map(nearest_json),
        "points": answer.points,
    })
}

fn nearest_json(nearest: &Nearest) -> Value {
    let mut record = point_json(&nearest.point);
    record["breaks"] = json!(nearest.broken);
    record
}

fn row_json(row: &Row) -> Value {
    let mut record = point_json(&row.point);
    record["is_panel_file"] = json!(row.is_panel_file);
    record["is_recommended"] = json!(row.is_recommended);
    record
}

fn point_json(point: &Point) -> Value {
    json!({
        "resistor_kohm": point.resistor.kilohms(),
        "gate_ms": point.gate.ms(),
        "pad": point.pad,
        "supply": point.supply,
        "frequency_khz": point.frequency.khz(),
        "base_count": point.base_count,
        "count_shift": point.count_shift,
        "count_shift_estimated_error": point.count_shift_error,
        "signal_to_noise_rms": point.signal_to_noise,
        "signal_to_noise_estimated_error": point.signal_to_noise_error,
        "scan_ms": point.budget.scan.ms(),
        "cycle_ms": point.budget.cycle.ms(),
        "response_ms": point.budget.response.ms(),
        "average_current_ua": point.budget.average_current.ua(),
        "battery_life_years": point.battery_life.map(|life| life.years()),
        "breaks": point.broken,
    })
}
