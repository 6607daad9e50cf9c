//! Measured counts beside the computed ones: which single assumption explains the difference?
//!
//! Takes a table of measured values ([`read`]) and a panel; gives a [`Correlation`]: every value beside its
//! prediction, and per assumption that could be wrong (what the catalogue of the panel file calls doubtful:
//! stray capacitance, what sets the rate of the circuit, thickness and permittivity of layers, holes,
//! slots, hatches, traces; and an air gap behind the overlay) the value that fits best, its uncertainty and
//! whether it explains all of the values; fails when a touch cannot be solved.
//!
//! - The misfit is a sum of squares: (measured - computed) over the error of measurement and the numerical
//!   error together. With as many degrees of freedom as values less one, an assumption explains them when
//!   a larger misfit would come by chance in more than [`PLAUSIBLE`] of all cases (chi-square test).
//! - Assumptions of the field are solved again at every value that is tried; those of circuit and stray
//!   capacitance are formulas on the same field.
//! - Several assumptions that explain the values cannot be told apart by them, and are all named.

mod assumption;
mod checks;
mod fit;
mod predict;
mod read;
mod record;
mod report;
pub mod revision;

pub use assumption::Assumption;
pub use fit::{Correlation, Explanation, PLAUSIBLE, Row, correlate};
pub use predict::FieldPart;
pub use read::{MeasuredError, MeasuredValue, Quantity, read};
pub use record::{CorrelationRecord, RevisionRecord};
pub use report::{correlation_report, revision_report};

/// Models whose bases and shifts are nearer to the measured ones are healthy, relative: base, shift.
/// Common practice, no source.
pub const HEALTHY: [f64; 2] = [0.15, 0.20];
