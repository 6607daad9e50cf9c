//! The response in counts as a JSON object.

use serde_json::{Value, json};

use super::counts::{Counts, NeighbourCounts, PadCounts, TouchCounts};
use crate::measuring_circuit::{CountShift, NoiseCounts, PEAK_TO_PEAK_OVER_RMS, ScanBudget};

/// What belongs to the whole panel.
pub(super) fn counts_json(counts: &Counts) -> Value {
    json!({
        "count_rises_with_capacitance": counts.rises,
        "scan": counts.scan.as_ref().map(scan_json),
        "battery_life_years": counts.battery_life.map(|life| life.years()),
    })
}

fn scan_json(scan: &ScanBudget) -> Value {
    json!({
        "scan_ms": scan.scan.ms(),
        "cycle_ms": scan.cycle.ms(),
        "cycle_is_stretched": scan.cycle_is_stretched,
        "response_ms": scan.response.ms(),
        "average_current_ua": scan.average_current.ua(),
    })
}

/// What belongs to one pad.
pub(super) fn pad_counts_json(pad: &PadCounts) -> Value {
    json!({
        "base_count": pad.base_count,
        "base_count_tolerance_range": pad.base_range,
        "frequency_khz": pad.frequency.khz(),
        "measuring_time_ms": pad.measuring_time.ms(),
        "dilution": pad.dilution,
        "noise_rms_counts": noise_json(&pad.noise),
        "equivalent_noise_rms_ff": pad.equivalent_noise.ff(),
        "checks": pad.checks.iter().map(|check| json!({
            "name": check.name,
            "value": check.value,
            "unit": check.unit,
            "at_least": check.at_least,
            "at_most": check.at_most,
            "holds": check.holds(),
        })).collect::<Vec<_>>(),
        "touch": pad.touch.as_ref().map(touch_json),
    })
}

fn noise_json(noise: &NoiseCounts) -> Value {
    match noise {
        NoiseCounts::Measured(total) => json!({ "total": total, "source": "measured" }),
        NoiseCounts::Parts {
            quantisation,
            jitter,
            low_frequency,
        } => json!({
            "total": noise.total(),
            "source": "computed",
            "quantisation": quantisation,
            "jitter": jitter,
            "low_frequency": low_frequency,
        }),
    }
}

fn touch_json(touch: &TouchCounts) -> Value {
    json!({
        "count_shift": shift_json(&touch.shift),
        "relative": touch.relative,
        "noise_rms_counts": touch.noise,
        "common_mode_rms_counts": touch.common_mode,
        "signal_to_noise_rms": touch.signal_to_noise,
        "signal_to_noise_estimated_error": touch.signal_to_noise_error,
        "signal_to_noise_peak_to_peak": touch.signal_to_noise / PEAK_TO_PEAK_OVER_RMS,
        "neighbours": touch.neighbours.iter().map(neighbour_json).collect::<Vec<_>>(),
        "on_supplies": touch.on_supplies.iter().map(|one| json!({
            "supply": one.supply,
            "touch_shift_pf": one.shift.pf(),
            "count_shift": one.counted.mean,
            "noise_rms_counts": one.counted.noise,
            "common_mode_rms_counts": one.counted.common_mode,
            "signal_to_noise_rms": one.signal_to_noise(),
        })).collect::<Vec<_>>(),
    })
}

fn neighbour_json(neighbour: &NeighbourCounts) -> Value {
    json!({ "pad": neighbour.pad, "count_shift": shift_json(&neighbour.shift) })
}

fn shift_json(shift: &CountShift) -> Value {
    json!({
        "value": shift.value,
        "estimated_error": shift.error,
        "tolerance_range": shift.tolerance_range,
    })
}
