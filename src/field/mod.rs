//! The field engine: a case goes in, the Maxwell capacitance matrix comes out, with its error bars.
//!
//! Takes a [`Case`] and [`Settings`]; gives a [`FieldAnswer`]; fails when the case is not a valid
//! field problem, when the grid would not fit the memory cap, or when the solver does not converge.

mod answer;

pub use answer::{
    Accuracy, Bounded, FieldAnswer, FieldError, GridSummary, Settings, Shift, SolverSummary,
};

use crate::case::Case;

/// Solves a case and, when `without` names one of its conductors, the same case without that
/// conductor on the same grid.
///
/// `progress` receives one line of text now and then; it may be called from several threads.
///
/// # Errors
/// See [`FieldError`].
pub fn solve(
    case: &Case,
    without: Option<&str>,
    settings: &Settings,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<FieldAnswer, FieldError> {
    let _ = (case, without, settings, progress);
    Err(FieldError::Invalid("engine under construction".into()))
}
