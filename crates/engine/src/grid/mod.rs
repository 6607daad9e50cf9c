//! From a case to a painted tensor grid: a case and a fineness go in, cells with permittivity and
//! nodes, faces and cells that belong to conductors come out. Fails only on a case whose extents
//! make no grid.

mod axis;
mod gap;
mod lines;
mod outline;
mod paint;
mod screen;
mod shape;
mod stretch;

pub use axis::Axis;
pub use lines::{Region, axes, has_lines_of, least_nodes, line_coordinates};
pub(crate) use lines::{axes_until, family_axes, roaming_axes};
pub(crate) use outline::{Cut, PartialFace, Place};
pub use paint::{FREE, Grid};
pub(crate) use paint::{REFERENCE, unflatten};
