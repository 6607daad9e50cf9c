//! Charts: plain data to a picture. (outline)

mod axis;
mod canvas;
mod clip;
mod colour;
mod contour;
mod data;
mod error;
mod font;
mod limits;
mod line;
mod marker;
mod number;
mod page;
mod placement;
mod raster;

pub use data::{
    Axis, Better, Cloud, CrossingMark, LimitLine, PlaceMark, Reading, Sample, Scale, Sense, Series,
};
pub use error::ChartError;
pub use line::{LineChart, LineMultiples, LinePanel};
