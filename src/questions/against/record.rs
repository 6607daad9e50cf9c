//! The comparison for machines: unrounded, units beside the numbers.

use super::difference::{Difference, Figure};
use super::{Comparison, PadComparison, VariantComparison};
use crate::response;
use serde_json::{Value, json};

/// The answer for the panel as written with one entry per variant under `"against"`. Numbers are in the
/// unit beside them, relative changes plain fractions.
pub fn to_json(comparison: &Comparison) -> Value {
    let mut record = response::to_json(&comparison.as_written);
    record["against"] = comparison.variants.iter().map(variant_json).collect();
    record["accuracy"]["asked_of_differences"] = json!(comparison.accuracy_asked);
    record["accuracy"]["reached_by_all"] = json!(comparison.accuracy_reached());
    record
}

fn variant_json(variant: &VariantComparison) -> Value {
    json!({
        "changes": variant.changes,
        "pads": variant.pads.iter().map(pad_json).collect::<Vec<_>>(),
        "only_as_written": variant.only_as_written,
        "only_in_variant": variant.only_in_variant,
        "response": response::to_json(&variant.response),
    })
}

fn pad_json(pad: &PadComparison) -> Value {
    json!({
        "pad": pad.pad,
        "differences": pad.differences.iter().map(difference_json).collect::<Vec<_>>(),
        "worst_neighbour_as_written": pad.worst_neighbours[0],
        "worst_neighbour_in_variant": pad.worst_neighbours[1],
        "mirrored_from": pad.mirrored_from,
        "constants": pad.verdict.map(super::Verdict::words),
    })
}

fn difference_json(difference: &Difference) -> Value {
    json!({
        "quantity": difference.quantity.words(),
        "unit": difference.quantity.unit(),
        "as_written": figure_json(difference.as_written),
        "variant": figure_json(difference.variant),
        "change": figure_json(difference.change()),
        "relative_change": difference.relative().map(figure_json),
        "told_apart": difference.is_told_apart(),
    })
}

fn figure_json(figure: Figure) -> Value {
    json!({ "value": figure.value, "estimated_error": figure.error })
}
