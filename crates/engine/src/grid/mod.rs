//! From a case to a painted tensor grid: a case and a fineness go in, cells with permittivity and
//! nodes, faces and cells that belong to conductors come out. Fails only on a case whose extents
//! make no grid.

mod axis;
mod lines;
mod outline;
mod paint;
mod screen;
mod shape;
mod stretch;

pub use axis::{Axis, LARGEST_STRETCH, Line};
pub use lines::{axes, family_axes, least_nodes, line_coordinates};
pub use outline::{Cut, PartialFace, Place};
pub(crate) use paint::unflatten;
pub use paint::{FREE, Grid, REFERENCE};
pub use screen::GridScreen;
pub use shape::Span;
