//! The trade of a panel for machines.

use super::{Answer, Nearest, Point, Row, Told};
use crate::record::{all, record};

record! {
    /// What resistors and gates give, and which of them is best.
    pub struct CircuitRecord(told: &Told<'_>) {
        /// Title of the panel.
        title: String = told.response.title.clone(),
        /// Finger that touches.
        finger: String = told.response.finger.clone(),
        /// What is asked.
        asked: AskedRecord = AskedRecord::of(told),
        /// The answer; null when nothing was asked.
        answer: Option<AnswerRecord> = told.answer.map(AnswerRecord::of),
        /// Choice by choice.
        rows: Vec<RowRecord> = all(told.rows, RowRecord::of),
        /// What has no signal-to-noise ratio here; null when all has.
        judged_elsewhere: Option<String> = told.judged_elsewhere.clone(),
        /// What is assumed.
        assumptions: Vec<String> = told.response.assumptions.clone(),
    }

    /// What is asked.
    pub struct AskedRecord(told: &Told<'_>) {
        /// Smallest signal-to-noise ratio, rms.
        signal_to_noise_rms: f64 = told.question.signal_to_noise,
        /// Where it comes from.
        signal_to_noise_origin: &'static str = told.origin(),
        /// Longest response, ms; null: the cycle of the file stays.
        response_ms: Option<f64> = told.question.response.map(|response| response.ms()),
    }

    /// The answer.
    pub struct AnswerRecord(answer: &Answer) {
        /// Whether some choice meets what is asked.
        met: bool = answer.best.is_some(),
        /// The choice of least average current that keeps all limits; null when there is none.
        best: Option<PointRecord> = answer.best.as_ref().map(PointRecord::of),
        /// Cycle it was asked for, which follows from the response, ms.
        cycle_ms: Option<f64> = answer.cycle.map(|cycle| cycle.ms()),
        /// The next shorter gate, and what it breaks.
        shorter_gate: Option<NearestRecord> = answer.shorter_gate.as_ref().map(NearestRecord::of),
        /// The resistors beside, and what they break.
        other_resistors: Vec<NearestRecord> = all(&answer.other_resistors, NearestRecord::of),
        /// What comes nearest when nothing meets it.
        nearest: Option<NearestRecord> = answer.nearest.as_ref().map(NearestRecord::of),
        /// Choices looked at.
        points: usize = answer.points,
    }

    /// A choice and what it breaks.
    pub struct NearestRecord(nearest: &Nearest) {
        /// The choice.
        #[serde(flatten)]
        point: NumbersRecord = NumbersRecord::of(&nearest.point),
        /// Names of the limits and wishes it breaks; empty when it meets all.
        breaks: Vec<&'static str> = nearest.broken.clone(),
    }

    /// A choice of the table.
    pub struct RowRecord(row: &Row) {
        /// The choice.
        #[serde(flatten)]
        point: PointRecord = PointRecord::of(&row.point),
        /// Whether it is that of the panel file.
        is_panel_file: bool = row.is_panel_file,
        /// Whether it is the best.
        is_recommended: bool = row.is_recommended,
    }

    /// A choice of resistor and gate, and the limits it breaks.
    pub struct PointRecord(point: &Point) {
        /// The choice.
        #[serde(flatten)]
        numbers: NumbersRecord = NumbersRecord::of(point),
        /// Names of the limits it breaks.
        breaks: Vec<&'static str> = point.broken.clone(),
    }

    /// A choice of resistor and gate.
    pub struct NumbersRecord(point: &Point) {
        /// The resistor, kohm.
        resistor_kohm: f64 = point.resistor.kilohms(),
        /// Time of one measurement, ms.
        gate_ms: f64 = point.gate.ms(),
        /// The touched pad with the smallest signal-to-noise ratio; frequency and counts are its own.
        pad: String = point.pad.clone(),
        /// The supply on which it is smallest; null: under the finger's own return path.
        supply: Option<String> = point.supply.clone(),
        /// Frequency of the untouched pad, kHz.
        frequency_khz: f64 = point.frequency.khz(),
        /// Its count.
        base_count: f64 = point.base_count,
        /// Its count shift.
        count_shift: f64 = point.count_shift,
        /// Its estimated numerical error, counts.
        count_shift_estimated_error: f64 = point.count_shift_error,
        /// Count shift over noise while touched, rms.
        signal_to_noise_rms: f64 = point.signal_to_noise,
        /// Its estimated numerical error.
        signal_to_noise_estimated_error: f64 = point.signal_to_noise_error,
        /// Time to scan all channels, ms.
        scan_ms: f64 = point.budget.scan.ms(),
        /// Time from scan to scan, ms.
        cycle_ms: f64 = point.budget.cycle.ms(),
        /// Longest time from touch to feedback, ms.
        response_ms: f64 = point.budget.response.ms(),
        /// Average current, uA.
        average_current_ua: f64 = point.budget.average_current.ua(),
        /// Time the battery lasts, years; null without one.
        battery_life_years: Option<f64> = point.battery_life.map(|life| life.years()),
    }
}
