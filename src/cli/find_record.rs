//! What `find` tells machines.

use crate::accuracy::missed_json;
use crate::questions::find::{Bound, Ending, Told};
use serde_json::{Value, json};

/// The whole answer as one object, every digit kept.
pub(super) fn to_json(told: &Told<'_>) -> Value {
    let Told { question, answer } = told;
    let found = &answer.found;
    let bound = |bound: Bound| {
        json!({
            "at": found.place_of(bound),
            "kind": match bound {
                Bound::Crossing(_) => "crossing",
                Bound::End(_) => "end of the range",
                Bound::Failure(_) => "last that can be solved",
            },
        })
    };
    let span = question.span().ok();
    json!({
        "quantity": question.condition.quantity.to_string(),
        "relation": question.condition.relation.words(),
        "limit": question.condition.value,
        "unit": told.unit(),
        "vary": {
            "path": question.variable.path,
            "unit": question.variable.unit,
            "from": span.map(|span| span.from),
            "to": span.map(|span| span.to),
        },
        "met": told.is_met(),
        "answer": told.sentence(),
        "crossings": found.crossings.iter().map(|crossing| json!({
            "at": crossing.at,
            "interval": crossing.interval,
            "decided_beyond": crossing.is_decided,
            "rising": crossing.is_rising,
        })).collect::<Vec<_>>(),
        "met_from_to": found.holds.iter().map(|stretch| json!({
            "from": bound(stretch.from), "to": bound(stretch.to),
        })).collect::<Vec<_>>(),
        "undecided": found.undecided,
        "points": found.places.iter().map(|place| match &place.sample {
            Ok(sample) => json!({
                "at": place.at,
                "value": sample.value,
                "estimated_error": sample.error,
                "met": told.verdict(*sample),
            }),
            Err(reason) => json!({ "at": place.at, "failure": reason }),
        }).collect::<Vec<_>>(),
        "assumptions": answer.assumptions,
        "assumptions_at": answer.assumed_at,
        "accuracy": {
            "asked": question.settings.accuracy,
            "reached": answer.short_of_accuracy.is_empty(),
            "missed_at": answer.short_of_accuracy,
            "missed": missed_json(&answer.missed),
        },
        "field_problems": answer.field_problems,
        "seconds": answer.seconds,
        "complete": found.ending == Ending::Complete,
    })
}
