//! The design note: what a panel shall do, what was computed for it, what was decided, what is open.
//!
//! [`gather`] computes everything a note says from a panel file; [`compose`] turns it into a
//! [`Document`](crate::report::Document), a list of sections (one function per section in `parts`) of the blocks that
//! the questions report and of what only a note says. Nothing here prints or touches files, and the same panel file
//! gives the same bytes: the one date in it is that of the [`Order`].

mod checks;
mod course;
mod facts;
mod parts;
mod words;

pub(crate) use words::quoted;

pub use facts::{
    Facts, FactsError, FartherWall, Order, SOLVE_ACCURACY, StudyCharts, WINDOW_ACCURACY, gather,
};
pub use parts::compose;
