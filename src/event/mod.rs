//! What happens to a panel, in counts: the one place where events are evaluated.
//!
//! Takes an event ([`Cause`]), what a pad shows of its field ([`PadField`]) and a panel whose values are the
//! inputs: as drawn, at the ends of tolerances, or those of a unit drawn at random; gives counts towards a
//! touch and their noise ([`count`]), and the range over all tolerances ([`InputEnds`], [`FieldEnds`]); fails
//! when a touch cannot be solved. Window, levers, tolerances, walks, drift and return paths all count here.
//!
//! - **Inputs beside the field** (stray capacitance, circuit, return path, temperature coefficients) are put to
//!   the formulas exactly.
//! - **Inputs of the field** (layers, dimensions with a tolerance) are at the ends that give fewest and most
//!   counts: the exact derivatives say which ends these are, and what they make of far ones is solved again.

mod cause;
mod corners;
mod count;
mod field_ends;
mod input_ends;
mod interval;
mod thermal;

pub use cause::{Cause, Event, Gesture, Group, Worst, noise_words};
pub use corners::{Corners, Shown};
pub use count::{Counted, PadField, count, path_on, return_path, through, touched};
pub(crate) use count::{signed, sizes};
pub use field_ends::FieldEnds;
pub(crate) use field_ends::field_varies;
pub use input_ends::InputEnds;
pub(crate) use input_ends::extremes;
pub use interval::Spread;
pub(crate) use interval::weighted;
pub use thermal::{LinearDrift, LinearPart, linear_drift};
pub(crate) use thermal::{coefficients, shift_per_k, touch_over_kelvin};
