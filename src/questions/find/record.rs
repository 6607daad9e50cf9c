//! The places for machines, every digit kept.

use super::{Bound, Crossing, Ending, Found, Place, Stretch, Told};
use crate::accuracy::MissedRecord;
use crate::record::{Uncertain, all, record};

record! {
    /// Where in a range a quantity meets its limit.
    pub struct FindRecord(told: &Told<'_>) {
        /// The quantity.
        quantity: String = told.question.condition.quantity.to_string(),
        /// How it is compared with the limit.
        relation: &'static str = told.question.condition.relation.words(),
        /// The limit.
        limit: f64 = told.question.condition.value,
        /// Unit of quantity and limit.
        unit: String = told.unit().to_owned(),
        /// What varies.
        vary: VariedRecord = VariedRecord::of(told),
        /// Whether the condition is met somewhere, by value.
        met: bool = told.is_met(),
        /// The answer in one sentence.
        answer: String = told.sentence(),
        /// Where the quantity crosses the limit.
        crossings: Vec<CrossingRecord> = all(&told.answer.found.crossings, CrossingRecord::of),
        /// From where to where the condition is met.
        met_from_to: Vec<StretchRecord> = {
            let found = &told.answer.found;
            found.holds.iter().map(|stretch| StretchRecord::of(found, stretch)).collect()
        },
        /// From where to where the error bars do not let it be told.
        undecided: Vec<[f64; 2]> = told.answer.found.undecided.clone(),
        /// Solved places.
        points: Vec<PointRecord> = {
            let places = told.answer.found.places.iter();
            places.map(|place| PointRecord::of(told, place)).collect()
        },
        /// What is assumed.
        assumptions: Vec<String> = told.answer.assumptions.clone(),
        /// The place whose assumptions these are.
        assumptions_at: f64 = told.answer.assumed_at,
        /// How exact it is.
        accuracy: FindAccuracyRecord = FindAccuracyRecord::of(told),
        /// Field problems that were solved.
        field_problems: usize = told.answer.field_problems,
        /// Wall-clock time, s.
        seconds: f64 = told.answer.seconds,
        /// Whether the search went to its end; otherwise it was interrupted or had too many places to solve.
        complete: bool = told.answer.found.ending == Ending::Complete,
    }

    /// What varies.
    pub struct VariedRecord(told: &Told<'_>) {
        /// Its dotted path.
        path: String = told.question.variable.path.clone(),
        /// Its unit; empty for a plain number.
        unit: String = told.question.variable.unit.clone(),
        /// Start of the range.
        from: Option<f64> = told.question.span().ok().map(|span| span.from),
        /// End of the range.
        to: Option<f64> = told.question.span().ok().map(|span| span.to),
    }

    /// Where the quantity crosses the limit.
    pub struct CrossingRecord(crossing: &Crossing) {
        /// Here.
        at: f64 = crossing.at,
        /// From where to where it may be by the error bars.
        interval: [f64; 2] = crossing.interval,
        /// Whether beyond this end of the interval the side of the limit is certain within the error bar.
        decided_beyond: [bool; 2] = crossing.is_decided,
        /// Whether the quantity rises there.
        rising: bool = crossing.is_rising,
    }

    /// Part of the range in which the condition is met.
    pub struct StretchRecord(found: &Found, stretch: &Stretch) {
        /// Its start.
        from: BoundRecord = BoundRecord::of(found, stretch.from),
        /// Its end.
        to: BoundRecord = BoundRecord::of(found, stretch.to),
    }

    /// Where a part of the range ends.
    pub struct BoundRecord(found: &Found, bound: Bound) {
        /// Here.
        at: f64 = found.place_of(bound),
        /// `crossing`, `end of the range` or `last that can be solved`.
        kind: &'static str = match bound {
            Bound::Crossing(_) => "crossing",
            Bound::End(_) => "end of the range",
            Bound::Failure(_) => "last that can be solved",
        },
    }

    /// A solved place, or why it could not be solved.
    pub struct PointRecord(told: &Told<'_>, place: &Place) {
        /// The place.
        at: f64 = place.at,
        /// The quantity there.
        #[serde(flatten)]
        sample: Option<Uncertain> = place.sample.clone().ok(),
        /// Whether the condition is met there.
        #[serde(skip_serializing_if = "Option::is_none")]
        met: Option<&'static str> = place.sample.as_ref().ok().map(|sample| told.verdict(*sample)),
        /// Why it could not be solved.
        #[serde(skip_serializing_if = "Option::is_none")]
        failure: Option<String> = place.sample.clone().err(),
    }

    /// How exact the answer is.
    pub struct FindAccuracyRecord(told: &Told<'_>) {
        /// Relative accuracy asked for.
        asked: f64 = told.question.settings.accuracy,
        /// Whether every place has it.
        reached: bool = told.answer.short_of_accuracy.is_empty(),
        /// The places that have not.
        missed_at: Vec<f64> = told.answer.short_of_accuracy.clone(),
        /// The printed quantities that have not.
        missed: Vec<MissedRecord> = all(&told.answer.missed, MissedRecord::of),
    }
}
