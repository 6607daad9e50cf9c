//! Conjugate gradients with a multigrid cycle for conductance networks on tensor grids.
//!
//! Sees nodes with coordinates, links, conductances to ground and fixed nodes; nothing of fields,
//! materials or conductors. Takes a [`Network`], builds a [`Hierarchy`] once and solves any number
//! of right-hand sides with it; fails only by not converging, or by being stopped,
//! with its residual history.

mod coarsen;
mod cycle;
mod dense;
mod gradients;
mod kernel;
mod layout;
mod level;
mod sweep;
mod transfer;

pub use cycle::{Hierarchy, Workspace};
pub use gradients::{NotConverged, Solved, Stopping, solve};
pub(crate) use kernel::dispatched;
pub use level::Network;
