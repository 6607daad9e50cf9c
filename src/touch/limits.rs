//! What the work on touches may cost, who solves their fields and who hears of it.

use crate::panel::lowering::LoweringError;
use padfield_engine::capacitance::AlgebraError;
use padfield_engine::case::Case;
use padfield_engine::field::{self, FieldAnswer, FieldError, Settings};

/// Whoever supplies solved fields: a case, the conductor to leave out for the second state, settings. It is
/// asked from several threads at once.
pub type Solver<'a> = dyn Fn(&Case, &str, &Settings) -> Result<FieldAnswer, FieldError> + Sync + 'a;

/// The [`Solver`] that is the built-in field engine, silent.
///
/// # Errors
/// See [`FieldError`].
pub fn solve_field(
    case: &Case,
    without: &str,
    settings: &Settings,
) -> Result<FieldAnswer, FieldError> {
    field::solve(case, Some(without), settings, &|_| {})
}

/// Why touches could not be solved.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum TouchError {
    /// The panel does not fit the model.
    #[error(transparent)]
    Lowering(#[from] LoweringError),
    /// The field engine gave no answer.
    #[error(transparent)]
    Field(#[from] FieldError),
    /// A conductor that shall float has no capacitance.
    #[error(transparent)]
    Algebra(#[from] AlgebraError),
    /// Values at the ends of their tolerances make an impossible panel.
    #[error(transparent)]
    Panel(Box<crate::scenario::ScenarioError>),
    /// Asked to stop.
    #[error("interrupted")]
    Interrupted,
}

/// What the work may cost, who solves the fields, and who hears of it.
pub struct WorkLimits<'a> {
    /// Settings of the field engine; `drive` is chosen here, and the memory cap is shared by the touches
    /// that are solved at once.
    pub settings: Settings,
    /// Who solves the fields; [`solve_field`] unless somebody has them already or changes the cases.
    pub solver: &'a Solver<'a>,
    /// Asked before every field problem.
    pub stop: &'a (dyn Fn() -> bool + Sync),
    /// Hears one line of text now and then, from several threads.
    pub progress: &'a (dyn Fn(&str) + Sync),
}

impl WorkLimits<'_> {
    /// The same for panels much like one that was solved: their touches start where its did.
    pub fn starting_at(&self, fineness: Option<f64>) -> Self {
        Self {
            settings: Settings {
                start_fineness: fineness.or(self.settings.start_fineness),
                ..self.settings.clone()
            },
            solver: self.solver,
            stop: self.stop,
            progress: self.progress,
        }
    }
}
