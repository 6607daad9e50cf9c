//! The study as one JSON object.

use super::{Least, PadReturn, ReturnStudy};
use crate::accuracy::missed_json;
use serde_json::{Value, json};

/// Everything about the return path; capacitances in pF.
pub fn to_json(study: &ReturnStudy) -> Value {
    json!({
        "finger": study.finger,
        "share": study.share,
        "counts": study.counts,
        "keeps_counts": study.counts.map(|_| study.keeps_counts()),
        "pads": study.pads.iter().map(pad).collect::<Vec<_>>(),
        "assumptions": study.assumptions,
        "numerics": {
            "field_problems": study.field_problems,
            "accuracy_reached": study.accuracy_reached,
            "accuracy_missed": missed_json(&study.missed),
        },
    })
}

fn least(least: &Least) -> Value {
    match least {
        Least::Needs(path) => json!({ "least_pf": path.pf(), "met": "from there on" }),
        Least::Any => json!({ "least_pf": null, "met": "always" }),
        Least::Never => json!({ "least_pf": null, "met": "never" }),
    }
}

fn pad(pad: &PadReturn) -> Value {
    json!({
        "pad": pad.name,
        "earthed_shift_pf": 1e12 * pad.earthed,
        "earthed_shift_estimated_error_pf": 1e12 * pad.earthed_error,
        "earthed_count_shift": pad.earthed_count_shift,
        "earthed_count_shift_estimated_error": pad.earthed_count_shift_error,
        "return_for_share": least(&pad.for_share),
        "return_for_counts": pad.for_counts.as_ref().map(least),
        "curve": pad.curve.iter().map(|(path, share)| json!({
            "return_pf": path.pf(),
            "share_of_earthed": share,
        })).collect::<Vec<_>>(),
        "supplies": pad.supplies.iter().map(|supply| json!({
            "supply": supply.supply,
            "return_pf": supply.path.map(|path| path.pf()),
            "shift_pf": 1e12 * supply.shift[0],
            "shift_estimated_error_pf": 1e12 * supply.shift_error,
            "shift_range_pf": [1e12 * supply.shift[1], 1e12 * supply.shift[2]],
            "share_of_earthed": supply.shift[0] / pad.earthed,
            "count_shift": supply.counts[0],
            "count_shift_estimated_error": supply.counts_error,
            "count_shift_range": [supply.counts[1], supply.counts[2]],
            "common_mode_v_rms": supply.common_mode.volts(),
            "common_mode_is_of_supply": supply.common_mode_is_own,
            "common_mode_counts_rms": supply.common_mode_counts,
            "noise_while_touched_counts_rms": supply.noise_counts,
        })).collect::<Vec<_>>(),
    })
}
