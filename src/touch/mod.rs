//! A finger anywhere over a panel: every field solved once, for all pads and every return path.
//!
//! Takes a panel and places of fingers ([`TouchPlace`]); gives a [`SolvedTouch`] each, from which
//! [`SolvedTouch::seen`] computes bases and shifts of all pads for any return path by the algebra of
//! [`padfield_engine::capacitance`]; fails when the panel does not fit its model or the field engine gives no
//! answer. A place whose mirror image is solved is not solved again. Whoever has the fields already, or
//! changes the cases before they are solved, says so in [`WorkLimits::solver`].

mod channels;
mod images;
mod judge;
mod kept;
mod limits;
mod mirrors;
mod pad_touch;
mod places;
mod remembered;
mod roaming;
mod seen;
mod so_far;
mod surroundings;
mod tally;
mod turns;

pub use channels::{ChannelBases, channel_bases};
pub use judge::JudgedPaths;
pub use kept::KeptFields;
pub use limits::{Progress, Solver, TouchError, WorkLimits};
pub use mirrors::{PanelMirror, panel_mirrors};
pub use pad_touch::{PAD_NUMBERS, PadTouch, pad_touches};
pub use places::{
    TouchOptions, TouchPlace, TouchWork, Touches, field_problems, on_single_pads, prepared,
    solve_touches, solve_touches_as, solve_touches_on,
};
pub use remembered::Remembered;
pub use roaming::sharing;
pub use seen::{SeenTouch, SolvedTouch};
pub use so_far::{KeptTouches, kept_touches, known_words};
pub use surroundings::{BaseChange, SolvedChange, Surrounding, solve_changes};
pub use tally::{Tally, to_go};
