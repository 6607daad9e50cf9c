//! Does a slider or a wheel know when it is touched, and how well does it tell where?
//!
//! Takes a panel with users, supplies and circuit, and one of its sliders; gives a [`SliderDecision`]: the
//! threshold on the total of all its segments, where along the stroke it reports a position, and the strokes
//! themselves with their deviation, ripple and dead zones; fails when a touch cannot be solved. That no
//! threshold exists is a result.
//!
//! - **Weakest true total**: the smallest and the largest bare contact along the stroke, and there, where the
//!   smaller one shifts the capacitances of all segments least, every user on the line and the aim error to either
//!   side of it, on every supply.
//! - **Strongest false total**: every user on the pads beside it, the aim error towards it, and on the traces of
//!   its segments, where nobody lands who aims at it; a palm beside it; noise; what tracking leaves of the drift; a
//!   wet film that appears and other changes of the surroundings.
//! - **Layers** are at the ends that give the weakest true and the strongest false total their least and most
//!   ([`crate::event::FieldEnds`]); all true and all false totals move by the same factors.
//! - Bounds are those of [`crate::questions::window`]: inputs at their unfavourable ends, numerical error, noise. Segments
//!   are measured one after the other, so that their noise adds up as squares; everything else adds up as it is.

mod checks;
mod places;
mod record;
mod report;
#[cfg(test)]
mod tests;
mod total;
mod words;
mod worst;

pub use record::SliderRecord;
pub use report::report;
pub use total::{Total, TotalCause, TotalEvent};
pub use words::{STROKE_HEADER, TOTAL_HEADER, sentences, stroke_row, total_row};

use crate::panel::{Panel, Slider, TraceNet};
use crate::questions::walk::{Slide, Stretch, at_least, segments, slide_along};
use crate::questions::window::palm;
use crate::touch::{TouchError, Touches, WorkLimits, solve_changes, solve_touches_on};
use padfield_engine::field::{Printed, join_printed};
use places::{Places, Standing};
use rayon::prelude::*;
use total::Counter;

/// What becomes of one slider or wheel.
#[derive(Clone, Debug, PartialEq)]
pub struct SliderDecision {
    /// Pad group.
    pub group: String,
    /// Totals of all segments: of every user and supply the worst place, then what nobody touches for.
    pub events: Vec<TotalEvent>,
    /// Index of the true total with the lowest bound; none without users.
    pub weakest_true: Option<usize>,
    /// Index of the false total with the highest bound.
    pub strongest_false: Option<usize>,
    /// Lowest bound of the true totals over the highest of the false ones; zero when the weakest may show
    /// nothing, endless when nothing false can be seen.
    pub ratio: f64,
    /// The same with every input at its nominal value.
    pub nominal_ratio: f64,
    /// Ratio that the panel file wants.
    pub wanted_ratio: f64,
    /// Counts of the total from which a position is reported; none when nothing separates true from false.
    pub threshold: Option<f64>,
    /// Counts of the total below which it is reported no more.
    pub release: Option<f64>,
    /// Position told on the first supply, one per finger that walks.
    pub strokes: Vec<Slide>,
    /// Of each of those, where along the stroke the total is at or above the threshold on every supply, at its
    /// lowest bound.
    pub reports: Vec<Vec<Stretch>>,
    /// What is not in the totals.
    pub not_judged: Vec<String>,
    pub field_problems: usize,
    /// Wanted relative error.
    pub accuracy_asked: f64,
    /// Whether it was reached everywhere.
    pub accuracy_reached: bool,
    pub missed: Vec<Printed>,
}

impl SliderDecision {
    /// Whether every stroke reports a position from end to end.
    pub fn reports_everywhere(&self) -> bool {
        let whole = |(stroke, stretches): (&Slide, &Vec<Stretch>)| {
            let ends = stroke.places.first().zip(stroke.places.last());
            matches!((ends, &stretches[..]), (Some((first, last)), [one])
                if one.low_mm <= first.position.mm() && one.high_mm >= last.position.mm())
        };
        self.threshold.is_some() && self.strokes.iter().zip(&self.reports).all(whole)
    }
}

/// Decides on every slider and wheel of a panel, in the order of the file.
///
/// # Errors
/// See [`TouchError`].
pub fn decide_all(
    panel: &Panel,
    limits: &WorkLimits<'_>,
) -> Result<Vec<SliderDecision>, TouchError> {
    let sliders = panel.sliders.iter();
    sliders
        .map(|slider| decide(panel, slider, limits))
        .collect()
}

/// Decides on one slider or wheel of a panel.
///
/// # Errors
/// See [`TouchError`].
pub fn decide(
    panel: &Panel,
    slider: &Slider,
    limits: &WorkLimits<'_>,
) -> Result<SliderDecision, TouchError> {
    // While another pad is touched the segments are pieces of the ground, unless they are pads like others.
    let mut measured = panel.clone();
    measured.sliders.retain(|other| other.group != slider.group);
    let panel = &measured;
    let counter = Counter::new(panel, slider);
    let places = Places::new(panel, slider);
    let first = places.first();
    let members = segments(panel, slider);
    let touches = solve_touches_on(panel, &places.touches(&first), &members, limits)?;
    let mut work = Work::of(&touches);
    let limits = limits.starting_at(touches.fineness);
    let mut totals = counter.of_touches(&touches, &first)?;
    // The others only where it matters.
    let weakest =
        totals.least_shift(|standing| matches!(standing, Standing::Stroke { walker: 0, .. }));
    let is_finger = |standing: &Standing| !matches!(standing, Standing::Palm { .. });
    let strongest = totals.most_shift(|standing| !standing.must_report() && is_finger(standing));
    let more = places.others(weakest, strongest);
    let others = solve_touches_on(panel, &places.touches(&more), &members, &limits)?;
    work.add(&others);
    totals.extend(counter.of_touches(&others, &more)?);
    let worst = [
        totals.lowest(Standing::must_report),
        totals.highest(|standing| !standing.must_report()),
    ];
    let worst: Vec<(Standing, usize)> = worst.into_iter().flatten().collect();
    let over_layers = |(standing, supply): &(Standing, usize)| {
        counter.over_layers(&places.touch(standing), *supply, &limits)
    };
    let over_layers = worst.par_iter().map(over_layers);
    let over_layers: Vec<_> = over_layers.collect::<Result<_, TouchError>>()?;
    for ((standing, _), ends) in worst.iter().zip(over_layers) {
        let Some((factors, ends)) = ends else {
            continue;
        };
        work.problems += ends.problems;
        work.reached &= ends.accuracy_reached;
        join_printed(&mut work.missed, ends.missed);
        for factor in factors {
            totals.widen(standing.must_report(), factor);
        }
    }
    let changes = solve_changes(panel, &limits)?;
    work.problems += changes.len();
    for change in &changes {
        work.reached &= change.accuracy.reached;
        join_printed(&mut work.missed, change.accuracy.missed.clone());
    }
    let quiet = counter.quiet(&touches, &changes)?;
    let (threshold, mut decision) = totals.decide(panel, slider.centre, quiet);
    if let Some(supply) = panel.usage.supplies.value.first() {
        for (number, walker) in places.walkers.iter().enumerate() {
            let stroke = &places.strokes[number];
            let start = number * stroke.places.len();
            let slid = slide_along(panel, slider, walker, supply, stroke, &touches, start)?;
            let lowest = totals.lowest_bounds(number);
            decision
                .reports
                .push(threshold.map_or_else(Vec::new, |threshold| {
                    let mm: Vec<f64> = slid
                        .places
                        .iter()
                        .map(|place| place.position.mm())
                        .collect();
                    at_least(&mm, &lowest, threshold)
                }));
            decision.strokes.push(slid);
        }
    }
    decision.group.clone_from(&slider.group);
    decision.not_judged = not_judged(panel, slider);
    decision.field_problems = work.problems;
    decision.accuracy_asked = limits.settings.accuracy;
    decision.accuracy_reached = work.reached;
    decision.missed = work.missed;
    Ok(decision)
}

fn not_judged(panel: &Panel, slider: &Slider) -> Vec<String> {
    let mut missing = Vec::new();
    if palm(panel).is_none() {
        missing.push("a palm beside it (window.palm_distance)".to_owned());
    }
    let own = |trace: &crate::panel::Trace| {
        let TraceNet::Pad(name) = &trace.net else {
            return false;
        };
        let mut pads = panel.pads.iter();
        pads.any(|pad| pad.group == slider.group && pad.name == *name)
    };
    if !panel.traces.iter().any(own) {
        missing.push("touches of its traces (none is drawn)".to_owned());
    }
    if panel.films.is_empty() {
        missing.push("water on the touched face (none is described)".to_owned());
    }
    if panel.usage.drift_residue.is_none() && !panel.environment.climate.is_given {
        missing.push("drift that tracking leaves ([climate] or window.drift_residue)".to_owned());
    }
    missing
}

struct Work {
    problems: usize,
    reached: bool,
    missed: Vec<Printed>,
}

impl Work {
    fn of(touches: &Touches) -> Self {
        Self {
            problems: touches.problems(),
            reached: touches.accuracy_reached,
            missed: touches.missed.clone(),
        }
    }

    fn add(&mut self, touches: &Touches) {
        self.problems += touches.problems();
        self.reached &= touches.accuracy_reached;
        join_printed(&mut self.missed, touches.missed.clone());
    }
}
