//! Judging an answer by what is printed of it, and what the grid can still do for that.
//!
//! The engine chooses its grid by the entries of the matrices. What is printed is made of several entries:
//! floating conductors are eliminated, driven ones weighed, a finger hangs on a return path, and the bar
//! holds what round and slanted outlines add. Whoever prints says how well that does ([`Judge`]); the engine
//! refines for it as far as that pays ([`Goal`]) and reports what missed.

use super::answer::{FieldAnswer, Settings};
use std::fmt;
use std::sync::Arc;

/// Largest refinement for printed quantities beyond the grid that the entries need: eight times the cells in
/// a volume.
const MOST_BEYOND: f64 = 2.0;

/// A printed quantity with its estimated error.
#[derive(Clone, Debug, PartialEq)]
pub struct Printed {
    /// What it is called where it is printed.
    pub name: String,
    /// The value \[F\], or \[F/m\].
    pub value: f64,
    /// Its estimated error, in the same unit.
    pub bar: f64,
    /// Whether it is a capacitance per length.
    pub is_per_length: bool,
    /// Estimated error as printed, over what it is judged by.
    pub error: f64,
    /// Part of it that stands for round or slanted outlines.
    pub outlines: f64,
    /// Accuracy asked of it, relative; 0 before it was judged.
    pub asked: f64,
}

impl Printed {
    /// A quantity from its value and error, its error with outlines left out, and the size that both are judged
    /// by; none without a size.
    pub fn new(name: String, [value, error]: [f64; 2], rest: f64, size: f64) -> Option<Self> {
        let size = size.abs();
        (size > 0.0).then(|| Self {
            name,
            value,
            bar: error,
            is_per_length: false,
            asked: 0.0,
            error: error / size,
            outlines: ((error - rest) / size).max(0.0),
        })
    }

    /// The same per length.
    #[must_use]
    pub fn per_length(mut self) -> Self {
        self.is_per_length = true;
        self
    }
}

/// Takes up quantities, each name once with its largest error.
pub fn join_printed(all: &mut Vec<Printed>, more: impl IntoIterator<Item = Printed>) {
    for one in more {
        match all.iter_mut().find(|known| known.name == one.name) {
            Some(known) if known.error >= one.error => {}
            Some(known) => *known = one,
            None => all.push(one),
        }
    }
}

/// Several lists as one, each name once with its largest error.
pub fn joined_printed<'a>(lists: impl IntoIterator<Item = &'a [Printed]>) -> Vec<Printed> {
    let mut all = Vec::new();
    for list in lists {
        join_printed(&mut all, list.iter().cloned());
    }
    all
}

type Look = dyn Fn(&FieldAnswer) -> Vec<Printed> + Send + Sync;

/// Tells every quantity that is printed of an answer; nothing where an answer cannot be judged.
#[derive(Clone)]
pub struct Judge {
    look: Arc<Look>,
    /// What it judges, where that is described.
    of: Option<Arc<str>>,
    /// Whether what it judges is all that is asked for.
    is_alone: bool,
}

impl Judge {
    /// A judge.
    pub fn new(look: impl Fn(&FieldAnswer) -> Vec<Printed> + Send + Sync + 'static) -> Self {
        Self {
            look: Arc::new(look),
            of: None,
            is_alone: false,
        }
    }

    /// The same judge with a description of what it judges: on one case, judges of equal descriptions tell the
    /// same, so that an answer that one of them has seen is good for the other.
    #[must_use]
    pub fn described(self, of: &str) -> Self {
        Self {
            of: Some(of.into()),
            ..self
        }
    }

    /// The same judge where nobody asks for more than what it judges: the entries of the matrices may miss the accuracy
    /// as long as what is made of them does not.
    #[must_use]
    pub fn alone(self) -> Self {
        Self {
            is_alone: true,
            ..self
        }
    }

    /// By the entries of the matrices themselves: every diagonal and every diagonal shift; per length in a planar
    /// case.
    pub fn of_entries(is_per_length: bool) -> Self {
        Self::new(move |answer| {
            let shift = answer.shift.as_ref();
            let states = [
                ("", Some(&answer.with)),
                (" without", shift.map(|shift| &shift.without)),
            ];
            let mut printed = Vec::new();
            for (state, matrix) in states {
                let Some(matrix) = matrix else { continue };
                for (i, name) in matrix.conductors.iter().enumerate() {
                    let error = matrix.estimated_error[[i, i]];
                    let rest = error - matrix.shape_term[[i, i]];
                    let name = format!("capacitance of \"{name}\"{state}");
                    let value = matrix.value[[i, i]];
                    printed.extend(Printed::new(name, [value, error], rest, value));
                }
            }
            if let Some(shift) = shift {
                let sizes = shift.shift.diag().mapv(f64::abs);
                let largest = sizes.iter().copied().fold(0.0, f64::max);
                for (i, name) in shift.without.conductors.iter().enumerate() {
                    let error = shift.estimated_error[[i, i]];
                    let rest = error - shift.shape_term[[i, i]];
                    let size = sizes[i].max(SMALL_SHIFT * largest);
                    printed.extend(Printed::new(
                        format!("shift of \"{name}\""),
                        [shift.shift[[i, i]], error],
                        rest,
                        size,
                    ));
                }
            }
            for one in &mut printed {
                one.is_per_length = is_per_length;
            }
            printed
        })
    }
}

impl fmt::Debug for Judge {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str("Judge")
    }
}

impl PartialEq for Judge {
    fn eq(&self, other: &Self) -> bool {
        let is_described_alike = self.of.is_some() && self.of == other.of;
        let is_alike = is_described_alike || Arc::ptr_eq(&self.look, &other.look);
        is_alike && self.is_alone == other.is_alone
    }
}

/// Shifts below this share of the largest one count as this large in the accuracy control: no one designs
/// with them to this accuracy; their own bar is printed all the same.
pub const SMALL_SHIFT: f64 = 0.05;

/// Judges an answer that was not refined by what the settings ask for.
pub fn judged(mut answer: FieldAnswer, settings: &Settings) -> FieldAnswer {
    let of_entries = answer.accuracy.of_entries;
    answer.accuracy.asked = settings.accuracy;
    answer.accuracy.estimated = of_entries;
    answer.accuracy.reached = of_entries <= settings.accuracy;
    Goal::new(settings).next(&mut answer);
    answer
}

/// What a refinement is after, round by round.
pub(super) struct Goal<'a> {
    settings: &'a Settings,
    /// Finest grid that printed quantities may ask for, once the entries have said what they need.
    finest: Option<f64>,
    /// Whether a printed quantity has been refined for.
    is_after_printed: bool,
    /// Fineness of the last grid and the error of the entries there.
    last: Option<[f64; 2]>,
}

impl<'a> Goal<'a> {
    pub fn new(settings: &'a Settings) -> Self {
        Self {
            settings,
            finest: None,
            is_after_printed: false,
            last: None,
        }
    }

    /// Fineness to start with where outlines are round: what they add is known before.
    pub fn start(&self, usual: f64, outlines: f64) -> f64 {
        if self.settings.judge.is_none() || outlines <= 0.0 {
            return usual;
        }
        let printed = Printed {
            name: String::new(),
            value: 1.0,
            bar: outlines + USUAL_REST,
            is_per_length: false,
            error: outlines + USUAL_REST,
            outlines,
            asked: 0.0,
        };
        let wanted = needed(&printed, 1.0, self.settings.printed_accuracy());
        match wanted <= MOST_BEYOND * usual {
            true => usual.max(wanted),
            false => usual,
        }
    }

    /// Judges an answer; gives the factor by which the grid becomes finer, or none where it is good enough or
    /// nothing is to be gained.
    pub fn next(&mut self, answer: &mut FieldAnswer) -> Option<f64> {
        let settings = self.settings;
        let of_entries = answer.accuracy.of_entries / settings.accuracy;
        let found = [answer.grid.fineness, answer.accuracy.of_entries];
        let fall = self
            .last
            .replace(found)
            .map_or(FALL, |last| fall(last, found));
        let wanted = (1.1 * of_entries).powf(1.0 / fall);
        let for_entries = (of_entries > 1.0).then(|| wanted.clamp(1.2, 2.0));
        let printed = match &settings.judge {
            Some(judge) => (judge.look)(answer),
            None => Vec::new(),
        };
        if printed.is_empty() {
            return for_entries;
        }
        let asked = settings.printed_accuracy();
        let accuracy = &mut answer.accuracy;
        accuracy.asked = asked;
        accuracy.estimated = printed.iter().map(|one| one.error).fold(0.0, f64::max);
        accuracy.missed = printed;
        for one in &mut accuracy.missed {
            one.asked = asked;
        }
        accuracy
            .missed
            .retain(|one| one.error > asked || one.error.is_nan());
        accuracy.reached = accuracy.missed.is_empty();
        let fineness = answer.grid.fineness;
        // From the first grid that the entries are content with.
        let limit = MOST_BEYOND * fineness * wanted.min(1.0);
        if for_entries.is_none() {
            self.finest.get_or_insert(limit);
        }
        let finest = match self.finest {
            Some(finest) if self.is_after_printed => SECOND_THOUGHT * finest,
            Some(finest) => finest,
            None => MOST_BEYOND * fineness * wanted.max(1.0),
        };
        let missed = answer.accuracy.missed.iter();
        let for_printed = missed
            .map(|one| {
                let wanted = needed(one, fineness, asked);
                match wanted <= finest {
                    true => wanted / fineness,
                    // Outlines are out of reach: the rest of the bar is brought to what is asked.
                    false => {
                        let rest = 1.1 * (one.error - one.outlines) / asked;
                        rest.powf(1.0 / FALL).min(finest / fineness)
                    }
                }
            })
            .fold(0.0, f64::max);
        let for_printed = (for_printed > 1.0).then(|| for_printed.clamp(LEAST_STEP, 2.0));
        self.is_after_printed |= for_printed.is_some();
        let is_alone = settings.judge.as_ref().is_some_and(|judge| judge.is_alone);
        let for_entries = for_entries.filter(|_| !is_alone);
        for_entries.into_iter().chain(for_printed).reduce(f64::max)
    }
}

/// Least factor by which a grid becomes finer for a printed quantity.
const LEAST_STEP: f64 = 1.05;
/// What has been refined for is followed so much farther where the prediction fell short.
const SECOND_THOUGHT: f64 = 1.15;
/// Rest of the bar of a touch shift at fineness 1, outlines left out, on most panels.
const USUAL_REST: f64 = 0.001;

/// Fineness at which a quantity is as good as asked: outlines fall as [`outlines_over_those_at_one`] says, the rest with
/// a reserve as [`FALL`] does; infinite where nothing that could be solved helps.
fn needed(printed: &Printed, fineness: f64, asked: f64) -> f64 {
    let rest = 1.1 * (printed.error - printed.outlines);
    let outlines = printed.outlines / outlines_over_those_at_one(fineness);
    let is_enough = |at: f64| {
        rest * (fineness / at).powf(FALL) + outlines * outlines_over_those_at_one(at) <= asked
    };
    let (mut coarse, mut fine) = (0.0, 1.0);
    while !is_enough(fine) {
        (coarse, fine) = (fine, 2.0 * fine);
        if fine > BEYOND_REACH {
            return f64::INFINITY;
        }
    }
    for _ in 0..HALVINGS {
        let middle = 0.5 * (coarse + fine);
        match is_enough(middle) {
            true => fine = middle,
            false => coarse = middle,
        }
    }
    fine
}

/// Power of the fineness with which estimated errors fall: on most grids its third, on hard cases less than its square.
const FALL: f64 = 2.5;

/// The power with which errors fell from one grid to the next; no more than [`FALL`], and no less than hard cases show.
fn fall([coarse, more]: [f64; 2], [fine, less]: [f64; 2]) -> f64 {
    const LEAST_FALL: f64 = 1.5;
    let seen = (more / less).ln() / (fine / coarse).ln();
    match seen.is_finite() {
        true => seen.clamp(LEAST_FALL, FALL),
        false => FALL,
    }
}

/// Fineness of a billion cells and more.
const BEYOND_REACH: f64 = 1000.0;

/// What round and slanted outlines add at a fineness over what they add at 1. On the coarsest grids they follow the
/// cells per radius, which go with the root of the fineness.
pub(super) fn outlines_over_those_at_one(fineness: f64) -> f64 {
    1.0 / fineness.max((fineness / LEVEL_FROM).sqrt().min(1.0))
}

/// From this fineness on outlines add as much as at 1.
const LEVEL_FROM: f64 = 0.7;

/// Steps to the fineness needed: far below what a grid tells apart.
const HALVINGS: usize = 40;

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn printed(name: &str, error: f64, outlines: f64) -> Printed {
        Printed {
            name: name.to_owned(),
            value: 0.64e-12,
            bar: error * 0.64e-12,
            is_per_length: false,
            error,
            outlines,
            asked: 0.005,
        }
    }

    #[test]
    fn a_slow_fall_is_taken_from_the_last_two_grids() {
        for [power, expected] in [[2.0, 2.0], [3.0, FALL], [0.4, 1.5]] {
            let error = |fineness: f64| 0.01 * fineness.powf(-power);
            let grids = [0.9, 1.8].map(|fineness| [fineness, error(fineness)]);
            assert_relative_eq!(fall(grids[0], grids[1]), expected, max_relative = 1e-9);
        }
        // The same grid again says nothing.
        assert_relative_eq!(fall([0.9, 0.01], [0.9, 0.01]), FALL);
    }

    #[test]
    fn the_fineness_needed_meets_what_is_asked() {
        let asked = 0.01;
        for (rest, outlines, fineness) in [
            (0.02, 0.0, 0.8),
            (0.011, 0.004, 0.7),
            (0.007, 0.008, 1.0),
            (0.03, 0.004, 1.5),
        ] {
            let missed = printed("", rest + outlines, outlines);
            let finer: f64 = needed(&missed, fineness, asked);
            // As both fall, with the reserve of the rest.
            let outlines =
                outlines * outlines_over_those_at_one(finer) / outlines_over_those_at_one(fineness);
            let rest = rest * (fineness / finer).powf(FALL);
            assert_relative_eq!(outlines + 1.1 * rest, asked, max_relative = 1e-9);
        }
        // Outlines alone are beyond what is asked on every grid below fineness 1.
        assert!(needed(&printed("", 0.02, 0.02), 0.8, 0.01) >= 2.0);
    }
}
