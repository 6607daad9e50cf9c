//! The field engine: a case goes in, the Maxwell capacitance matrix comes out, with its error bars.
//!
//! Takes a [`Case`](crate::case::Case) and [`Settings`]; gives a [`FieldAnswer`]; fails when the case is not a valid
//! field problem, when the grid would not fit the memory cap, or when the solver does not converge.

mod answer;
mod bounds;
mod cell_energy;
mod cell_faces;
mod cell_scheme;
mod coefficients;
mod derivatives;
mod edge;
mod judge;
mod mirror;
mod node_energy;
mod node_scheme;
mod pairs;
mod part;
pub mod reduced;
mod roaming;
mod room;
mod round;
mod rounds;
mod screen;
mod solve;
#[cfg(test)]
mod stopped_tests;
mod system;
mod unseen;
mod validate;

pub use crate::stop::Stop;
pub use answer::{
    Accuracy, Bounded, Consistent, Derivatives, FieldAnswer, FieldError, GridSummary, Phases,
    Potentials, SegmentDerivative, Settings, Shift, SolverSummary,
};
pub use judge::{Judge, Printed, SMALL_SHIFT, join_printed, joined_printed, judged};
pub use roaming::Roaming;
pub use rounds::{Keeper, Rounds};
pub use solve::solve;
