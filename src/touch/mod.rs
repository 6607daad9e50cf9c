//! A finger anywhere over a panel: every field solved once, for all pads and every return path.
//!
//! Takes a panel and places of fingers ([`TouchPlace`]); gives a [`SolvedTouch`] each, from which
//! [`SolvedTouch::seen`] computes bases and shifts of all pads for any return path by the algebra of
//! [`crate::capacitance`]; fails when the panel does not fit its model or the field engine gives no
//! answer. A place whose mirror image is solved is not solved again.

mod mirrors;
mod places;
mod seen;
mod surroundings;

pub use mirrors::{PanelMirror, panel_mirrors};
pub use places::{
    PlacedTouch, TouchError, TouchPlace, Touches, WorkLimits, prepared, solve_touches,
};
pub use seen::{SeenTouch, SolvedTouch};
pub use surroundings::{BaseChange, Surrounding, base_changes};
