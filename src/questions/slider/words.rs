//! Rows and sentences of a decision, the same for a terminal and for a note.

use super::{SliderDecision, TotalCause, TotalEvent};
use crate::event::noise_words;
use crate::questions::walk::{Slide, Stretch};
use crate::rounding::{
    counts, counts_with_error, fixed, rounded_with_error, significant, window_ratio as ratio,
};

/// Header of [`total_row`]; the first column is a name.
pub const TOTAL_HEADER: [&str; 7] = [
    "slider",
    "weakest true",
    "strongest false",
    "W",
    "W nominal",
    "threshold",
    "release",
];

/// Header of [`stroke_row`]; the first two columns are names.
pub const STROKE_HEADER: [&str; 7] = [
    "slider",
    "finger",
    "largest deviation, mm",
    "ripple, %",
    "resolution, mm rms",
    "dead zones, mm",
    "reports from, mm",
];

impl TotalEvent {
    /// In words: who does what, where.
    pub fn words(&self) -> String {
        match &self.cause {
            TotalCause::Stroke {
                user,
                supply,
                along,
                across,
            } => {
                let beside = match across.mm() == 0.0 {
                    true => String::new(),
                    false => format!(", {:.1} mm off its line", across.mm()),
                };
                let along = fixed(along.mm(), 1);
                format!("{user} at {along} mm along{beside}, {supply} supply")
            }
            TotalCause::Beside {
                user,
                supply,
                pad,
                off,
            } => format!(
                "{user} on \"{pad}\", {:.1} mm off towards the slider, {supply} supply",
                off.mm()
            ),
            TotalCause::Palm {
                user,
                supply,
                offset,
            } => format!(
                "{user} with its middle {:.0} mm from the slider's, {supply} supply",
                offset[0].mm().hypot(offset[1].mm())
            ),
            TotalCause::Trace {
                user,
                supply,
                trace,
            } => format!("{user} on trace \"{trace}\", {supply} supply"),
            TotalCause::Noise => "noise, nobody touches".to_owned(),
            TotalCause::Drift => "drift that tracking leaves".to_owned(),
            TotalCause::Surrounding(kind, name) => format!("{} \"{name}\"", kind.words()),
        }
    }
}

/// A slider in [`TOTAL_HEADER`]'s columns, counts of all segments together.
pub fn total_row(decision: &SliderDecision) -> Vec<String> {
    let bound = |index: Option<usize>| {
        index.map_or("-".to_owned(), |index| counts(decision.events[index].bound))
    };
    let shown = |value: Option<f64>| value.map_or("-".to_owned(), counts);
    vec![
        decision.group.clone(),
        bound(decision.weakest_true),
        bound(decision.strongest_false),
        ratio(decision.ratio),
        ratio(decision.nominal_ratio),
        shown(decision.threshold),
        shown(decision.release),
    ]
}

/// A stroke in [`STROKE_HEADER`]'s columns.
pub fn stroke_row(stroke: &Slide, reports: &[Stretch]) -> Vec<String> {
    let error = stroke.places.iter().map(|place| place.estimate_error.mm());
    vec![
        stroke.group.clone(),
        stroke.finger.clone(),
        rounded_with_error(stroke.linearity().mm(), error.fold(0.0, f64::max)),
        significant(100.0 * stroke.ripple(), 2),
        significant(stroke.resolution().mm(), 2),
        stroke.dead_zone_words(),
        stretches(reports),
    ]
}

fn stretches(all: &[Stretch]) -> String {
    if all.is_empty() {
        return "nowhere".to_owned();
    }
    let each = all
        .iter()
        .map(|one| format!("{} to {}", fixed(one.low_mm, 1), fixed(one.high_mm, 1)));
    each.collect::<Vec<_>>().join(", ")
}

/// What decides, and what is left out.
pub fn sentences(decision: &SliderDecision) -> Vec<String> {
    let told = |index: Option<usize>, what: &str| {
        index.map(|index| {
            let event = &decision.events[index];
            let total = &event.total;
            format!(
                "{what} of \"{}\": {}: {} counts (mean {} numerical, over inputs {} to {}, noise rms {}).",
                decision.group,
                event.words(),
                counts(event.bound),
                counts_with_error(total.mean, total.numerical_error),
                counts(total.input_range[0]),
                counts(total.input_range[1]),
                noise_words(
                    total.noise,
                    total.worst[usize::from(!event.must_report)].noise
                ),
            )
        })
    };
    let mut lines: Vec<String> = [
        told(decision.weakest_true, "Weakest true total"),
        told(decision.strongest_false, "Strongest false total"),
    ]
    .into_iter()
    .flatten()
    .collect();
    if decision.threshold.is_none() {
        lines.push(format!(
            "No threshold on the total of \"{}\" separates the two: it cannot tell when it is touched.",
            decision.group
        ));
    }
    if !decision.not_judged.is_empty() {
        let missing = decision.not_judged.join("; ");
        lines.push(format!(
            "Not in the totals of \"{}\": {missing}.",
            decision.group
        ));
    }
    lines
}
