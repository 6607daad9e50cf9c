//! The drift for machines: capacitances in pF, counts towards a touch.

use super::{CheckedEnd, Drift, End, LayerDrift, PadDrift, ReferenceChannel, Spread, WalkPart};
use crate::accuracy::WorkRecord;
use crate::panel::Climate;
use crate::record::{all, record};

record! {
    /// How far the baseline of every pad drifts over the climate.
    pub struct DriftRecord(drift: &Drift, checked: &[CheckedEnd]) {
        /// Finger that touches.
        finger: String = drift.finger.clone(),
        /// Climate that the panel lives in.
        climate: ClimateRecord = ClimateRecord::of(&drift.climate),
        /// Coefficients of the layers.
        layers: Vec<LayerRecord> = all(&drift.layers, LayerRecord::of),
        /// Every pad.
        pads: Vec<PadRecord> = all(&drift.pads, PadRecord::of),
        /// The ends of the climate solved anew, with `--check`.
        checked: Vec<CheckedRecord> = all(checked, CheckedRecord::of),
        /// What is assumed.
        assumptions: Vec<String> = drift.assumptions.clone(),
        /// What it took and how exact it is.
        numerics: WorkRecord =
            WorkRecord::of(drift.field_problems, drift.accuracy_reached, &drift.missed),
    }

    /// The climate.
    pub struct ClimateRecord(climate: &Climate) {
        /// Whether the panel file says anything about it.
        given: bool = climate.is_given,
        /// Lowest temperature, degrees Celsius.
        lowest_celsius: f64 = climate.lowest_celsius.value,
        /// Highest temperature, degrees Celsius.
        highest_celsius: f64 = climate.highest_celsius.value,
        /// Temperature at which permittivities and circuit hold, degrees Celsius.
        reference_celsius: f64 = climate.reference_celsius.value,
        /// Fastest change of temperature, K/min.
        fastest_change_k_per_min: f64 = 60.0 * climate.fastest_change_k_per_s.value,
        /// Whether the layers become damp.
        moisture: bool = climate.moisture.value,
        /// How long a finger is held on a pad, s.
        held_s: f64 = climate.held.value.seconds(),
    }

    /// A coefficient with its source.
    pub struct SourcedRecord(known: &(Spread, String), factor: f64) {
        /// The coefficient.
        #[serde(flatten)]
        value: Spread = known.0.scaled(factor),
        /// Where it is from.
        source: String = known.1.clone(),
    }

    /// Coefficients of a layer; null: no figure, not counted.
    pub struct LayerRecord(layer: &LayerDrift) {
        /// Its name.
        layer: String = layer.name.clone(),
        /// Its material.
        material: String = layer.material.clone(),
        /// Relative change of the permittivity with temperature, ppm/K.
        temperature_coefficient_ppm_per_k: Option<SourcedRecord> = sourced(&layer.per_k, 1e6),
        /// Relative rise of the permittivity from dry to damp, %.
        moisture_percent: Option<SourcedRecord> = sourced(&layer.moisture, 100.0),
        /// Relative change of the permittivity over its life, %.
        ageing_percent: Option<SourcedRecord> = sourced(&layer.ageing, 100.0),
    }

    /// A pad at one end of the climate, against the reference temperature.
    pub struct EndRecord(end: &End) {
        /// Temperature, degrees Celsius.
        celsius: f64 = end.celsius,
        /// Drift of the base, pF.
        base_drift_pf: Spread = end.base.scaled(1e12),
        /// Drift of the baseline, counts towards a touch.
        baseline_drift_counts: Spread = end.counts,
        /// Change of the touch shift, pF.
        touch_shift_change_pf: Spread = end.shift.scaled(1e12),
        /// The touch there, counts.
        count_shift: Spread = end.count_shift,
        /// Change of the neighbour's shift, pF; null without a neighbour.
        neighbour_shift_change_pf: Option<Spread> = end.neighbour.map(|change| change.scaled(1e12)),
    }

    /// The neighbour that feels the touch most.
    pub struct NeighbourRecord(neighbour: &(String, f64)) {
        /// Its name.
        pad: String = neighbour.0.clone(),
        /// Its shift, pF.
        shift_pf: f64 = 1e12 * neighbour.1,
    }

    /// Part of a drift over the climate, cold to hot.
    pub struct PartRecord(part: &WalkPart) {
        /// Layer, or `circuit`.
        name: String = part.name.clone(),
        /// Share of the field energy in it; null for the circuit.
        energy_share: Option<f64> = part.share,
        /// From the lowest to the highest temperature, counts.
        drift_over_range_counts: Spread = part.counts,
    }

    /// What the difference to an untouched pad leaves.
    pub struct ReferenceRecord(reference: &ReferenceChannel) {
        /// The pad of the panel that is the best reference.
        pad: String = reference.pad.clone(),
        /// Drift from cold to hot that is left, counts.
        left_counts: Spread = reference.left,
        /// Its largest size over the largest size of the drift.
        left_over_drift: f64 = reference.share,
        /// Whether it leaves little enough.
        worth_it: bool = reference.is_worth_it(),
    }

    /// Drift of one pad.
    pub struct PadRecord(pad: &PadDrift) {
        /// Its name.
        pad: String = pad.name.clone(),
        /// Field part of the base, untouched, pF.
        base_pf: f64 = 1e12 * pad.base,
        /// Its estimated numerical error, pF.
        base_estimated_error_pf: f64 = 1e12 * pad.base_error,
        /// Base at the pin, pF.
        base_at_pin_pf: f64 = pad.base_at_pin.pf(),
        /// Base count.
        base_count: f64 = pad.base_count,
        /// Touch shift, pF.
        touch_shift_pf: f64 = 1e12 * pad.shift,
        /// Count shift of the touch.
        count_shift: f64 = pad.count_shift,
        /// Its estimated numerical error, counts.
        count_shift_estimated_error: f64 = pad.count_shift_error,
        /// The neighbour that feels the touch most.
        neighbour: Option<NeighbourRecord> = pad.neighbour.as_ref().map(NeighbourRecord::of),
        /// Threshold that the drift is compared with, counts.
        threshold_counts: f64 = pad.threshold,
        /// Drift of the baseline from the lowest to the highest temperature, counts.
        drift_over_range_counts: Spread = pad.over_range,
        /// Its estimated numerical error, counts.
        drift_numerical_error_counts: f64 = pad.numerical_error,
        /// Its largest size over the threshold.
        drift_over_threshold: f64 = pad.over_threshold(),
        /// Layers and circuit, each for itself.
        parts: Vec<PartRecord> = all(&pad.parts, PartRecord::of),
        /// Both ends of the climate.
        ends: Vec<EndRecord> = all(&pad.ends, EndRecord::of),
        /// Drift from dry to damp, counts; null when the layers stay dry.
        moisture_counts: Option<Spread> = pad.moisture,
        /// Drift over the life of the panel, counts.
        ageing_counts: Spread = pad.ageing,
        /// Drift at the fastest change of temperature, counts/min.
        fastest_drift_counts_per_min: f64 = 60.0 * pad.rate,
        /// Tracking that follows it, counts/min.
        tracking_counts_per_min: f64 = 60.0 * pad.tracking(),
        /// Share of its shift that a held finger loses to the tracking.
        held_finger_loses: f64 = pad.loss,
        /// Whether it keeps enough.
        held_finger_keeps_enough: bool = pad.loss_is_small(),
        /// What the difference to an untouched pad would leave; null without another pad.
        reference_channel: Option<ReferenceRecord> =
            pad.reference.as_ref().map(ReferenceRecord::of),
    }

    /// A pad at one end of the climate: from the sensitivities, and solved there.
    pub struct CheckedRecord(end: &CheckedEnd) {
        /// The pad.
        pad: String = end.pad.clone(),
        /// Temperature, degrees Celsius.
        celsius: f64 = end.celsius,
        /// Drift of the base by the sensitivities, pF.
        base_drift_linear_pf: f64 = 1e12 * end.base[0],
        /// Drift of the base as solved, pF.
        base_drift_solved_pf: f64 = 1e12 * end.base[1],
        /// Change of the touch shift by the sensitivities, pF.
        shift_change_linear_pf: f64 = 1e12 * end.shift[0],
        /// Change of the touch shift as solved, pF.
        shift_change_solved_pf: f64 = 1e12 * end.shift[1],
    }
}

fn sourced(known: &Option<(Spread, String)>, factor: f64) -> Option<SourcedRecord> {
    known.as_ref().map(|known| SourcedRecord::of(known, factor))
}
