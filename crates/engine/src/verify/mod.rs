//! External checks: geometries whose capacitance is known from outside this program.
//!
//! Takes the catalogue ([`catalogue`]) and solver settings; gives one [`Outcome`] per check; a
//! check the solver gives no answer for is an outcome that failed, not an error.
//!
//! The reference numbers live in `checks.csv` beside this file, the geometries in code. Where a
//! closed form exists a test recomputes the number from it. Numbers are normalised as published:
//! over the vacuum permittivity and, for bodies, over the unit of length.
//!
//! Left out: concentric spheres and a sphere over a plane (no solid of a case is a sphere); approximations
//! whose published error is larger than the engine's, which are hand estimates and no reference.

mod catalogue;
mod reference;

pub use catalogue::catalogue;
pub use reference::{Normalisation, Reference};

use ndarray::Array2;
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::case::Case;
use crate::field::{FieldAnswer, FieldError, Settings, solve};
use crate::units::VACUUM_PERMITTIVITY;

/// What is read from a capacitance matrix; indices are rows in case order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Readout {
    /// One entry, times a factor (1/2 where a mirror plane doubles the gap).
    Entry {
        /// Row.
        row: usize,
        /// Column.
        column: usize,
        /// Factor.
        factor: f64,
    },
    /// Capacitance between conductors 0 and 1 that carry opposite charges:
    /// (C00 C11 - C01^2) / (C00 + C11 + 2 C01).
    Pair,
    /// A diagonal after one conductor is left floating with a capacitance to ground over the
    /// vacuum permittivity (0: floating): C_ii - C_ik^2 / (C_kk + C_x).
    Floating {
        /// Row read.
        row: usize,
        /// Conductor left floating.
        floating: usize,
        /// Its capacitance to ground over the vacuum permittivity.
        to_ground: f64,
    },
}

impl Readout {
    /// The quantity in the unit of the matrix.
    fn value(&self, matrix: &Array2<f64>) -> f64 {
        match *self {
            Self::Entry {
                row,
                column,
                factor,
            } => factor * matrix[[row, column]],
            Self::Pair => {
                let (first, second, between) = (matrix[[0, 0]], matrix[[1, 1]], matrix[[0, 1]]);
                (first * second - between * between) / (first + second + 2.0 * between)
            }
            Self::Floating {
                row,
                floating,
                to_ground,
            } => {
                let own = matrix[[floating, floating]] + to_ground * VACUUM_PERMITTIVITY;
                matrix[[row, row]] - matrix[[row, floating]].powi(2) / own
            }
        }
    }

    /// Bounds and, for entries, estimated error.
    ///
    /// Pairs and floating conductors minimise the energy over a free voltage, so the matrices
    /// below and above the true one bound them from both sides.
    fn margin(&self, answer: &FieldAnswer) -> Margin {
        let matrix = &answer.with;
        let Self::Entry {
            row,
            column,
            factor,
        } = *self
        else {
            return Margin {
                lower: self.value(&matrix.guaranteed_below),
                upper: self.value(&matrix.guaranteed_above),
                estimated_error: None,
            };
        };
        let entry = Margin {
            lower: matrix.lower[[row, column]],
            upper: matrix.upper[[row, column]],
            estimated_error: Some(matrix.estimated_error[[row, column]]),
        };
        entry.scaled(factor)
    }
}

/// Bounds and error bar of a computed quantity, in the unit of the quantity.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Margin {
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
    /// Estimated error of the reported value; none for quantities formed from several entries.
    pub estimated_error: Option<f64>,
}

impl Margin {
    fn scaled(self, factor: f64) -> Self {
        let ends = [factor * self.lower, factor * self.upper];
        Self {
            lower: ends[0].min(ends[1]),
            upper: ends[0].max(ends[1]),
            estimated_error: self.estimated_error.map(|error| factor.abs() * error),
        }
    }
}

/// Largest accepted relative error and why it is that large.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tolerance {
    /// Relative to the reference, beyond its uncertainty.
    pub relative: f64,
    /// Reason.
    pub reason: &'static str,
}

/// What the computed bounds say about a reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bracket {
    /// Closed box: the reference must lie in it.
    Demanded,
    /// Open wall: it holds for the box that was solved, not for endless space.
    Shown,
    /// Electrodes at different potentials touch: none exists.
    Absent,
}

/// One external number.
#[derive(Clone, Debug, PartialEq)]
pub struct Check {
    /// The number, its unit and its source.
    pub reference: Reference,
    /// How it is read from the matrix.
    pub readout: Readout,
    /// Largest accepted error.
    pub tolerance: Tolerance,
    /// Whether the reference must lie within the computed bounds.
    pub bracket: Bracket,
}

/// A geometry and the numbers known about it.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// The field problem.
    pub case: Case,
    /// Length that stands for 1 in the published geometry \[m\].
    pub unit_m: f64,
    /// Grid fineness to stay at; none: refined until the accuracy is reached. Set where no estimate
    /// can steer the grid: where electrodes at different potentials touch, so that their diagonals
    /// grow without limit, and at corners of four materials.
    pub fixed_fineness: Option<f64>,
    /// Numbers known about it.
    pub checks: Vec<Check>,
}

/// What the engine computed for a check, normalised like the reference.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Computed {
    /// Reported value.
    pub value: f64,
    /// Bounds and error bar; none where electrodes touch.
    pub margin: Option<Margin>,
}

/// Result of one check.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// The check.
    pub check: Check,
    /// The engine's answer.
    pub computed: Result<Computed, FieldError>,
}

impl Outcome {
    /// Relative error against the reference, signed; none without an answer.
    pub fn relative_error(&self) -> Option<f64> {
        let computed = self.computed.as_ref().ok()?;
        let reference = self.check.reference.value;
        Some((computed.value - reference) / reference.abs())
    }

    /// Whether the error, beyond the uncertainty of the reference, is within the tolerance.
    pub fn within_tolerance(&self) -> bool {
        let reference = &self.check.reference;
        let allowed = self.check.tolerance.relative + reference.uncertainty / reference.value.abs();
        self.relative_error()
            .is_some_and(|error| error.abs() <= allowed)
    }

    /// Whether the reference lies within the bounds; true where none is demanded.
    pub fn within_bracket(&self) -> bool {
        if self.check.bracket != Bracket::Demanded {
            return true;
        }
        let reference = &self.check.reference;
        // Published digits end somewhere: 1e-9 is their rounding.
        let slack = reference.uncertainty + 1e-9 * reference.value.abs();
        match self.computed.as_ref() {
            Ok(Computed {
                margin: Some(margin),
                ..
            }) => {
                margin.lower - slack <= reference.value && reference.value <= margin.upper + slack
            }
            Ok(Computed { margin: None, .. }) => true,
            Err(_) => false,
        }
    }

    /// Whether the check holds.
    pub fn passed(&self) -> bool {
        self.within_tolerance() && self.within_bracket()
    }
}

/// Runs problems in parallel and returns their outcomes in catalogue order.
///
/// `progress` receives one line per solved problem and may be called from several threads.
pub fn run(
    problems: &[Problem],
    settings: &Settings,
    progress: &(dyn Fn(&str) + Sync),
) -> Vec<Outcome> {
    let done = AtomicUsize::new(0);
    let outcomes: Vec<Vec<Outcome>> = problems
        .par_iter()
        .map(|problem| {
            let outcomes = run_one(problem, settings);
            let count = done.fetch_add(1, Ordering::Relaxed) + 1;
            progress(&format!(
                "{} solved ({count} of {})",
                problem.case.id,
                problems.len()
            ));
            outcomes
        })
        .collect();
    outcomes.into_iter().flatten().collect()
}

/// Runs the whole catalogue, see [`run`].
pub fn run_all(settings: &Settings, progress: &(dyn Fn(&str) + Sync)) -> Vec<Outcome> {
    run(&catalogue(), settings, progress)
}

fn run_one(problem: &Problem, settings: &Settings) -> Vec<Outcome> {
    let mut settings = settings.clone();
    if let Some(fineness) = problem.fixed_fineness {
        settings.start_fineness = Some(fineness);
        // Any estimate below 100 % is enough: the first grid stays.
        settings.accuracy = 1.0;
    }
    let answer = solve(&problem.case, None, &settings, &|_| {});
    let outcome = |check: &Check| Outcome {
        check: check.clone(),
        computed: match &answer {
            Ok(answer) => Ok(read(problem, check, answer)),
            Err(error) => Err(error.clone()),
        },
    };
    problem.checks.iter().map(outcome).collect()
}

fn read(problem: &Problem, check: &Check, answer: &FieldAnswer) -> Computed {
    let scale = 1.0 / check.reference.normalisation.unit(problem.unit_m);
    Computed {
        value: scale * check.readout.value(&answer.with.value),
        margin: (check.bracket != Bracket::Absent)
            .then(|| check.readout.margin(answer).scaled(scale)),
    }
}

#[cfg(test)]
mod closed_forms;
#[cfg(test)]
mod tests;
