//! The response in counts for machines.

use super::counts::{Counts, NeighbourCounts, PadCounts, SupplyCounts, TouchCounts};
use crate::measuring_circuit::{Check, CountShift, NoiseCounts, PEAK_TO_PEAK_OVER_RMS, ScanBudget};
use crate::record::{Uncertain, all, record};

record! {
    /// What belongs to the circuit and all pads.
    pub struct CountsRecord(counts: &Counts) {
        /// Whether a rising capacitance makes the count rise; otherwise it falls.
        count_rises_with_capacitance: bool = counts.rises,
        /// Time and current of a scan; null without a scan.
        scan: Option<ScanRecord> = counts.scan.as_ref().map(ScanRecord::of),
        /// Time the battery lasts, years; null without one.
        battery_life_years: Option<f64> = counts.battery_life.map(|life| life.years()),
    }

    /// Time and current of a scan.
    pub struct ScanRecord(scan: &ScanBudget) {
        /// Time to measure all pads once, ms.
        scan_ms: f64 = scan.scan.ms(),
        /// Time from scan to scan, ms.
        cycle_ms: f64 = scan.cycle.ms(),
        /// Whether the scan takes longer than the cycle asked for.
        cycle_is_stretched: bool = scan.cycle_is_stretched,
        /// Longest time from touch to feedback, ms.
        response_ms: f64 = scan.response.ms(),
        /// Average current, uA.
        average_current_ua: f64 = scan.average_current.ua(),
    }

    /// A pad in counts.
    pub struct PadCountsRecord(pad: &PadCounts) {
        /// Its count, untouched.
        base_count: f64 = pad.base_count,
        /// Smallest and largest over the tolerances of stray capacitance, circuit and, where they were
        /// solved, layers.
        base_count_tolerance_range: [f64; 2] = pad.base_range,
        /// Frequency of the oscillator, or of the transfers, untouched, kHz.
        frequency_khz: f64 = pad.frequency.khz(),
        /// Time of one measurement, ms.
        measuring_time_ms: f64 = pad.measuring_time.ms(),
        /// Share of a small relative change of capacitance that reaches the count.
        dilution: f64 = pad.dilution,
        /// Noise, untouched, counts rms.
        noise_rms_counts: NoiseRecord = NoiseRecord::of(&pad.noise),
        /// The same as a capacitance, fF rms.
        equivalent_noise_rms_ff: f64 = pad.equivalent_noise.ff(),
        /// Limits of the circuit.
        checks: Vec<LimitRecord> = all(&pad.checks, LimitRecord::of),
        /// A touch in counts; null when it was not touched.
        touch: Option<TouchCountsRecord> = pad.touch.as_ref().map(TouchCountsRecord::of),
    }

    /// A limit of the circuit.
    pub struct LimitRecord(check: &Check) {
        /// What is limited.
        name: &'static str = check.name,
        /// Its value.
        value: f64 = check.value,
        /// Unit of value and limits; empty for counts of nothing.
        unit: &'static str = check.unit,
        /// The least it should be; null without one.
        at_least: Option<f64> = check.at_least,
        /// The most it should be; null without one.
        at_most: Option<f64> = check.at_most,
        /// Whether it is within.
        holds: bool = check.holds(),
    }

    /// Noise and what it is made of, counts rms.
    pub struct NoiseRecord(noise: &NoiseCounts) {
        /// All of it.
        total: f64 = noise.total(),
        /// `measured`, or `computed` from its parts.
        source: &'static str = match noise {
            NoiseCounts::Measured(_) => "measured",
            NoiseCounts::Parts { .. } => "computed",
        },
        /// Counts are whole.
        #[serde(skip_serializing_if = "Option::is_none")]
        quantisation: Option<f64> = match noise {
            NoiseCounts::Parts { quantisation, .. } => Some(*quantisation),
            NoiseCounts::Measured(_) => None,
        },
        /// Periods differ, independently of one another.
        #[serde(skip_serializing_if = "Option::is_none")]
        jitter: Option<f64> = match noise {
            NoiseCounts::Parts { jitter, .. } => Some(*jitter),
            NoiseCounts::Measured(_) => None,
        },
        /// What does not average out.
        #[serde(skip_serializing_if = "Option::is_none")]
        low_frequency: Option<f64> = match noise {
            NoiseCounts::Parts { low_frequency, .. } => Some(*low_frequency),
            NoiseCounts::Measured(_) => None,
        },
    }

    /// A touch in counts.
    pub struct TouchCountsRecord(touch: &TouchCounts) {
        /// Count shift.
        count_shift: ShiftRecord = ShiftRecord::of(&touch.shift),
        /// The same over the base count.
        relative: f64 = touch.relative,
        /// Noise while touched, counts rms.
        noise_rms_counts: f64 = touch.noise,
        /// What of it comes through the finger, counts rms.
        common_mode_rms_counts: f64 = touch.common_mode,
        /// Count shift over noise while touched, rms.
        signal_to_noise_rms: f64 = touch.signal_to_noise,
        /// Its estimated numerical error.
        signal_to_noise_estimated_error: f64 = touch.signal_to_noise_error,
        /// The same over the noise from peak to peak.
        signal_to_noise_peak_to_peak: f64 = touch.signal_to_noise / PEAK_TO_PEAK_OVER_RMS,
        /// The other pads in counts.
        neighbours: Vec<NeighbourCountsRecord> = all(&touch.neighbours, NeighbourCountsRecord::of),
        /// On every supply of the panel.
        on_supplies: Vec<SupplyCountsRecord> = all(&touch.on_supplies, SupplyCountsRecord::of),
    }

    /// A touch on one supply.
    pub struct SupplyCountsRecord(one: &SupplyCounts) {
        /// The supply.
        supply: String = one.supply.clone(),
        /// Touch shift, pF.
        touch_shift_pf: f64 = one.shift.pf(),
        /// Count shift.
        count_shift: f64 = one.counted.mean,
        /// Noise while touched, counts rms.
        noise_rms_counts: f64 = one.counted.noise,
        /// What of it comes through the finger, counts rms.
        common_mode_rms_counts: f64 = one.counted.common_mode,
        /// Count shift over noise while touched, rms.
        signal_to_noise_rms: f64 = one.signal_to_noise(),
    }

    /// Another pad in counts.
    pub struct NeighbourCountsRecord(neighbour: &NeighbourCounts) {
        /// Its name.
        pad: String = neighbour.pad.clone(),
        /// Its count shift.
        count_shift: ShiftRecord = ShiftRecord::of(&neighbour.shift),
    }

    /// A count shift.
    pub struct ShiftRecord(shift: &CountShift) {
        /// As computed.
        #[serde(flatten)]
        computed: Uncertain = Uncertain { value: shift.value, error: shift.error },
        /// Smallest and largest over the tolerances of pin and trace.
        tolerance_range: [f64; 2] = shift.tolerance_range,
    }
}
