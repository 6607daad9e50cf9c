//! Rows of a study from certified reduced models ([`padfield_engine::field::reduced`]) instead of a solution each.
//!
//! Takes a job; gives models of the chambers that its points fall into ([`Models`]) and rows of many points at once. A point
//! that no model covers, or whose bar misses the accuracy, is left to a solution of its own.

mod models;
mod rows;
mod survey;

pub use models::ModelSummary;
pub(super) use models::Models;
pub(super) use rows::{AT_ONCE, Reduced, rows};
pub use survey::Survey;

/// Whether a study is swept by reduced models.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Use {
    /// Where they would give several times more points than they cost solutions.
    #[default]
    Auto,
    /// Wherever there can be a model.
    Always,
    /// Nowhere: every point is solved.
    Never,
}

/// What a model counts as, in solutions of points: 32 that it is made of, solved much farther than an answer needs, what is made
/// of these, and those that check it; a grid that is made finer counts once more.
pub const COST: u64 = 100;

/// Models pay where they give so many times more points than they cost: points that are solved one after the other start from
/// each other's potentials, which halves what they take, and those between reduced ones do not.
pub const PAYS: u64 = 4;
