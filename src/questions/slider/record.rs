//! A decision for machines; counts are those of all segments together, lengths mm.

use super::{SliderDecision, TotalCause, TotalEvent};
use crate::accuracy::WorkRecord;
use crate::questions::walk::{Slide, SlideRecord, Stretch};
use crate::record::{all, finite, record};

record! {
    /// What becomes of one slider or wheel.
    pub struct SliderRecord(decision: &SliderDecision) {
        /// Its pad group.
        slider: String = decision.group.clone(),
        /// Lowest bound of the true totals over the highest of the false ones; null when it is endless.
        window_ratio: Option<f64> = finite(decision.ratio),
        /// The same with every input at its nominal value.
        nominal_window_ratio: Option<f64> = finite(decision.nominal_ratio),
        /// The true total with the lowest bound; null without users.
        weakest_true: Option<TotalRecord> = event(decision, decision.weakest_true),
        /// The false total with the highest bound.
        strongest_false: Option<TotalRecord> = event(decision, decision.strongest_false),
        /// Counts of the total from which a position is reported; null when nothing separates true from false.
        threshold_counts: Option<f64> = decision.threshold,
        /// Counts of the total below which it is reported no more.
        release_counts: Option<f64> = decision.release,
        /// Of every user and supply the worst place, then what nobody touches for.
        events: Vec<TotalRecord> = all(&decision.events, TotalRecord::of),
        /// Position told on the first supply, one per finger that walks.
        strokes: Vec<StrokeRecord> = {
            let strokes = decision.strokes.iter().zip(&decision.reports);
            strokes.map(|(stroke, reports)| StrokeRecord::of(stroke, reports)).collect()
        },
        /// What is not in the totals.
        not_judged: Vec<String> = decision.not_judged.clone(),
        /// What it took and how exact it is.
        #[serde(flatten)]
        work: WorkRecord =
            WorkRecord::of(decision.field_problems, decision.accuracy_reached, &decision.missed),
    }

    /// A finger along the slider, and where it is reported.
    pub struct StrokeRecord(stroke: &Slide, reports: &[Stretch]) {
        /// The finger along the slider.
        #[serde(flatten)]
        stroke: SlideRecord = SlideRecord::of(stroke),
        /// From where to where the total is at or above the threshold on every supply, at its lowest bound, mm.
        reports_mm: Vec<[f64; 2]> = reports.iter().map(|one| [one.low_mm, one.high_mm]).collect(),
    }

    /// A total with what it is and how it is judged.
    pub struct TotalRecord(event: &TotalEvent) {
        /// Whether a position must be reported.
        must_report: bool = event.must_report,
        /// What happens, for people.
        words: String = event.words(),
        /// What kind of thing happens.
        kind: &'static str = match &event.cause {
            TotalCause::Stroke { .. } => "touch",
            TotalCause::Beside { .. } => "neighbour touch",
            TotalCause::Palm { .. } => "palm",
            TotalCause::Trace { .. } => "trace touch",
            TotalCause::Noise => "noise",
            TotalCause::Drift => "drift",
            TotalCause::Surrounding(kind, _) => kind.words(),
        },
        /// At nominal values, counts.
        mean_counts: f64 = event.total.mean,
        /// Smallest and largest over the input tolerances, counts.
        input_range_counts: [f64; 2] = event.total.input_range,
        /// Estimated numerical error, counts.
        numerical_error_counts: f64 = event.total.numerical_error,
        /// Noise, counts rms.
        noise_counts_rms: f64 = event.total.noise,
        /// Mean on the unit whose inputs are worst for it, counts.
        worst_mean_counts: f64 = event.total.worst[usize::from(!event.must_report)].mean,
        /// Noise on that unit, counts rms.
        worst_noise_counts_rms: f64 = event.total.worst[usize::from(!event.must_report)].noise,
        /// Unfavourable end of everything, counts.
        bound_counts: f64 = event.bound,
    }
}

fn event(decision: &SliderDecision, index: Option<usize>) -> Option<TotalRecord> {
    index.map(|index| TotalRecord::of(&decision.events[index]))
}
