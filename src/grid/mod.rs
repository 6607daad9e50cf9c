//! From a case to a painted tensor grid: a case and a fineness go in, cells with permittivity and
//! nodes, faces and cells that belong to conductors come out. Fails only on a case whose extents
//! make no grid.

mod axis;
mod lines;
mod paint;
mod shape;
mod stretch;

pub use axis::{Axis, Line};
pub use lines::axes;
pub(crate) use paint::unflatten;
pub use paint::{Cut, FREE, Grid, PartialFace, Place, REFERENCE};
pub use shape::Span;
