//! The study of the return path for machines; capacitances in pF.

use super::{Least, OnSupply, PadReturn, ReturnStudy};
use crate::accuracy::WorkRecord;
use crate::record::{all, record};
use padfield_engine::units::Capacitance;

record! {
    /// What weak ties to earth leave of a touch.
    pub struct ReturnRecord(study: &ReturnStudy) {
        /// Finger that touches.
        finger: String = study.finger.clone(),
        /// Share of the earthed touch to keep.
        share: f64 = study.share,
        /// Counts to keep on every supply; null when none are asked for.
        counts: Option<f64> = study.counts,
        /// Whether every pad keeps them at the weakest return of every supply; null when none are asked for.
        keeps_counts: Option<bool> = study.counts.map(|_| study.keeps_counts()),
        /// Every pad.
        pads: Vec<PadRecord> = all(&study.pads, PadRecord::of),
        /// What is assumed.
        assumptions: Vec<String> = study.assumptions.clone(),
        /// What it took and how exact it is.
        numerics: WorkRecord =
            WorkRecord::of(study.field_problems, study.accuracy_reached, &study.missed),
    }

    /// The least return path that meets a wish.
    pub struct LeastRecord(least: &Least) {
        /// Its capacitance, pF; null where none decides.
        least_pf: Option<f64> = match least {
            Least::Needs(path) => Some(path.pf()),
            Least::Any | Least::Never => None,
        },
        /// `from there on`, `always` or `never`.
        met: &'static str = match least {
            Least::Needs(_) => "from there on",
            Least::Any => "always",
            Least::Never => "never",
        },
    }

    /// What a return path leaves.
    pub struct LeftRecord(left: &(Capacitance, f64)) {
        /// Capacitance of the return path, pF.
        return_pf: f64 = left.0.pf(),
        /// Touch shift over that of an earthed finger.
        share_of_earthed: f64 = left.1,
    }

    /// A pad under every return path.
    pub struct PadRecord(pad: &PadReturn) {
        /// Its name.
        pad: String = pad.name.clone(),
        /// Touch shift of an earthed finger, pF.
        earthed_shift_pf: f64 = 1e12 * pad.earthed,
        /// Its estimated numerical error, pF.
        earthed_shift_estimated_error_pf: f64 = 1e12 * pad.earthed_error,
        /// The same as a count shift.
        earthed_count_shift: f64 = pad.earthed_count_shift,
        /// Its estimated numerical error, counts.
        earthed_count_shift_estimated_error: f64 = pad.earthed_count_shift_error,
        /// Least return that keeps the share asked for.
        return_for_share: LeastRecord = LeastRecord::of(&pad.for_share),
        /// Least return that keeps the counts asked for; null when none are.
        return_for_counts: Option<LeastRecord> = pad.for_counts.as_ref().map(LeastRecord::of),
        /// What return paths leave, the weakest first.
        curve: Vec<LeftRecord> = all(&pad.curve, LeftRecord::of),
        /// On every supply of the panel.
        supplies: Vec<SupplyRecord> =
            pad.supplies.iter().map(|supply| SupplyRecord::of(supply, pad)).collect(),
    }

    /// A pad on one supply.
    pub struct SupplyRecord(supply: &OnSupply, pad: &PadReturn) {
        /// The supply.
        supply: String = supply.supply.clone(),
        /// Body to device ground at nominal values, pF; null: without limit.
        return_pf: Option<f64> = supply.path.map(Capacitance::pf),
        /// Touch shift at nominal values, pF.
        shift_pf: f64 = 1e12 * supply.shift[0],
        /// Its estimated numerical error, pF.
        shift_estimated_error_pf: f64 = 1e12 * supply.shift_error,
        /// Touch shift at the weakest and at the strongest return, pF.
        shift_range_pf: [f64; 2] = [1e12 * supply.shift[1], 1e12 * supply.shift[2]],
        /// Touch shift at nominal values over that of an earthed finger.
        share_of_earthed: f64 = supply.shift[0] / pad.earthed,
        /// Count shift at nominal values.
        count_shift: f64 = supply.counts[0],
        /// Its estimated numerical error, counts.
        count_shift_estimated_error: f64 = supply.counts_error,
        /// Count shift at the weakest and at the strongest return.
        count_shift_range: [f64; 2] = [supply.counts[1], supply.counts[2]],
        /// Voltage between device ground and earth, V rms.
        common_mode_v_rms: f64 = supply.common_mode.volts(),
        /// Whether it is that of the supply; otherwise that of the circuit.
        common_mode_is_of_supply: bool = supply.common_mode_is_own,
        /// Noise it makes while touched, counts rms.
        common_mode_counts_rms: f64 = supply.common_mode_counts,
        /// All noise while touched, counts rms.
        noise_while_touched_counts_rms: f64 = supply.noise_counts,
    }
}
