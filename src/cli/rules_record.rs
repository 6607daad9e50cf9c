//! What `rules` tells machines.

use super::chart_files::Drawn;
use crate::accuracy::missed_json;
use crate::questions::find::Sample;
use crate::questions::rules::{Detail, Judgement, NeededDetail, Place, Row};
use padfield_engine::field::Settings;
use serde_json::{Value, json};

/// The whole answer as one object, every digit kept.
pub(super) fn to_json(judgement: &Judgement, settings: &Settings, drawn: &Drawn) -> Value {
    json!({
        "title": judgement.title,
        "finger": judgement.finger,
        "rules": judgement.rows.iter().map(row).collect::<Vec<_>>(),
        "assumptions": judgement.assumptions,
        "accuracy": {
            "asked": settings.accuracy,
            "reached": judgement.accuracy_reached,
            "missed": missed_json(&judgement.missed),
        },
        "field_problems": judgement.field_problems,
        "threshold_field_problems": judgement.threshold_problems,
        "known_from_another_rule": judgement.shared,
        "seconds": judgement.seconds,
        "complete": !judgement.stopped,
        "charts": drawn.files,
        "not_drawn": drawn.left_out,
    })
}

fn row(row: &Row) -> Value {
    json!({
        "rule": row.rule,
        "says": row.says,
        "source": row.source,
        "because": row.because,
        "pads": row.group,
        "touch": row.touch.as_ref().map(|touch| json!({
            "pad": touch.pad,
            "off_towards": touch.off_towards.as_ref().map(|(pad, _)| pad),
            "off_mm": touch.off_towards.as_ref().map(|(_, mm)| mm),
        })),
        "verdict": row.verdict.words(),
        "reason": row.reason,
        "numbers": detail(&row.detail),
    })
}

fn sample(sample: Sample) -> Value {
    json!({ "value": sample.value, "estimated_error": sample.error })
}

fn detail(detail: &Detail) -> Value {
    match detail {
        Detail::None => Value::Null,
        Detail::Needed(detail) => needed(detail),
        Detail::Effects(details) => json!(
            details
                .iter()
                .map(|detail| json!({
                    "quantity": detail.expectation.quantity.words(),
                    "outline": detail.form.map(|form| form.words()),
                    "expected": format!(
                        "{} {} %",
                        detail.expectation.change.words(),
                        detail.expectation.percent
                    ),
                    "before": sample(detail.before),
                    "after": sample(detail.after),
                    "change_percent": sample(detail.change),
                    "met": detail.is_met,
                }))
                .collect::<Vec<_>>()
        ),
        Detail::Power(detail) => json!({
            "quantity": detail.quantity.words(),
            "against": detail.against[0],
            "unit": detail.against[1],
            "samples": detail.samples.map(|(at, value)| json!({ "at": at, "value": sample(value) })),
            "rule": detail.rule[0],
            "rule_within": detail.rule[1],
            "exponent": sample(detail.exponent),
        }),
        Detail::Estimate(detail) => json!({
            "estimate": detail.name,
            "quantity": detail.quantity.words(),
            "estimate_pf": detail.estimate_pf,
            "computed_pf": sample(detail.computed_pf),
            "ratio": sample(detail.ratio),
            "within_percent": detail.within_percent,
        }),
        Detail::Threshold { shares, found } => json!({
            "rule_percent": shares,
            "working_percent": found.working,
            "recommended_percent": found.recommended,
        }),
    }
}

fn needed(detail: &NeededDetail) -> Value {
    let place = match detail.needed {
        Place::At(at, interval) => json!({ "at": at, "interval": interval }),
        Place::BeyondEnd(at) => json!({ "holds_up_to_the_end_of_the_range": at }),
        Place::NowhereTo(at) => json!({ "holds_nowhere_up_to": at }),
        Place::Unclear => Value::Null,
    };
    json!({
        "path": detail.path,
        "unit": detail.unit,
        "side": detail.side.words(),
        "rule": detail.rule,
        "rule_as_written": detail.rule_text,
        "drawn": detail.drawn,
        "needed": place,
        "condition": {
            "quantity": detail.condition.quantity.kind.words(),
            "relation": detail.condition.relation.words(),
            "value": detail.condition.value,
            "unit": detail.sample_unit(),
            "is_share_of_reference": detail.reference.is_some(),
        },
        "at_rule": sample(detail.at_rule),
        "points": detail.samples.iter().map(|(at, value)| json!({
            "at": at, "value": value.value, "estimated_error": value.error,
        })).collect::<Vec<_>>(),
    })
}
