//! Running a study: its plan goes in, finished points come out in the store.
//!
//! - Points run side by side, each on one thread of its own, so that the numbers of a point have the
//!   same bits whatever else runs, in whatever order.
//! - What the store knows is not solved again: starting anew and going on are the same thing.
//! - A point that fails is recorded with its reason; the sweep goes on. A store that fails ends it.
//!
//! [`run`] writes, [`run_shard`] too, but only the part of the plan that falls to one machine of several; [`measure`] solves a few points without a store to tell how long the rest takes.

mod batches;
mod family;
mod measure;
mod reduced;
mod run;
mod solve;

pub use measure::{Measurement, measure};
pub use reduced::{ModelSummary, Survey, Use};
pub use run::{Progress, Summary, SweepError, run, run_shard};
pub use solve::{Job, Limits};

#[cfg(test)]
mod tests;
