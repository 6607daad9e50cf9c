//! The correlation and the revision for machines: values in the unit of their quantity, unrounded; chances as
//! plain fractions.

use super::fit::{Correlation, Explanation, Row};
use super::read::MeasuredValue;
use super::revision::PadDecision;
use crate::accuracy::ReachedRecord;
use crate::questions::against::{Comparison, ComparisonRecord};
use crate::record::{all, finite, record};

record! {
    /// Measured values beside a panel.
    pub struct CorrelationRecord(correlation: &Correlation) {
        /// Value by value.
        values: Vec<ValueRecord> = all(&correlation.rows, ValueRecord::of),
        /// Values that the model has no prediction for.
        not_computed: Vec<NotComputedRecord> = all(&correlation.not_computed, NotComputedRecord::of),
        /// Sum of squares as the panel file stands.
        misfit: f64 = correlation.misfit,
        /// Chance of a larger one if nothing is wrong.
        chance: f64 = correlation.chance,
        /// Whether the panel file as it stands predicts the values within the errors.
        agrees: bool = correlation.agrees(),
        /// Assumption by assumption, the best first; empty when nothing has to be explained.
        explanations: Vec<ExplanationRecord> = all(&correlation.explanations, ExplanationRecord::of),
        /// Whether it has the accuracy that was asked for.
        #[serde(flatten)]
        reached: ReachedRecord =
            ReachedRecord::of(correlation.accuracy_reached, &correlation.missed),
    }

    /// A measured value beside its prediction.
    pub struct ValueRecord(row: &Row) {
        /// The pad.
        pad: String = row.measured.pad.clone(),
        /// What was measured: the column of the table.
        quantity: &'static str = row.measured.quantity.column(),
        /// The value.
        measured: f64 = row.measured.value,
        /// Error of the measurement.
        measured_error: f64 = row.measured_error,
        /// The prediction.
        computed: f64 = row.computed,
        /// Its estimated numerical error.
        estimated_error: f64 = row.numerical_error,
        /// The value over the prediction.
        measured_over_computed: f64 = row.measured.value / row.computed,
        /// Measured minus computed over both errors as independent ones.
        deviation: f64 = row.deviation(),
    }

    /// A value that the model has no prediction for.
    pub struct NotComputedRecord(value: &MeasuredValue) {
        /// The pad.
        pad: String = value.pad.clone(),
        /// What was measured: the column of the table.
        quantity: &'static str = value.quantity.column(),
    }

    /// What one assumption makes of the values.
    pub struct ExplanationRecord(one: &Explanation) {
        /// The assumption, for people.
        assumption: String = one.words.clone(),
        /// Unit of its value; empty for a plain number.
        unit: String = one.assumption.unit.clone(),
        /// The value of the panel file.
        assumed: Option<f64> = finite(one.assumed[0]),
        /// Its least by the tolerance of the panel file.
        assumed_least: Option<f64> = finite(one.assumed[1]),
        /// Its most.
        assumed_most: Option<f64> = finite(one.assumed[2]),
        /// The value that fits best.
        value: f64 = one.value,
        /// Its standard deviation; null when the values do not depend on it.
        uncertainty: Option<f64> = finite(one.uncertainty),
        /// Sum of squares that is left.
        misfit: f64 = one.misfit,
        /// Chance of a larger one if the assumption holds.
        chance: f64 = one.chance,
        /// Whether it explains the values.
        explains: bool = one.is_enough(),
        /// Whether the value lies within the tolerance of the panel file.
        within_tolerance: bool = one.is_within_tolerance(),
        /// What it predicts, in the order of the values.
        predicted: Vec<f64> = one.predicted.clone(),
    }

    /// A later board beside the one before.
    pub struct RevisionRecord(comparison: &Comparison, decided: &[PadDecision]) {
        /// What changes.
        #[serde(flatten)]
        comparison: ComparisonRecord = ComparisonRecord::of(comparison),
        /// What becomes of every pad.
        decisions: Vec<DecisionRecord> = all(decided, DecisionRecord::of),
    }

    /// A pad of both revisions.
    pub struct DecisionRecord(one: &PadDecision) {
        /// Its name.
        pad: String = one.pad.clone(),
        /// `keep`, `retune`, `reject` or `cannot tell`.
        decision: &'static str = one.decision.words(),
        /// Window ratio of the later revision; null when its window was not decided, no user aims at it or
        /// it is endless.
        window_ratio: Option<f64> = one.window_ratio.and_then(finite),
    }
}
