//! Charts: plain data to a picture. (outline)

mod axis;
mod bars;
mod canvas;
mod clip;
mod colour;
mod contour;
mod curves;
mod data;
mod error;
mod font;
mod heat_map;
mod histogram;
mod limits;
mod line;
mod map_image;
mod map_limits;
mod marker;
mod number;
mod page;
mod placement;
mod plot;
mod raster;
mod scatter;
mod ticks;

pub use bars::{Bar, BarChart};
pub use data::{
    Axis, Better, Cloud, CrossingMark, LimitLine, PlaceMark, Reading, Sample, Scale, Sense, Series,
};
pub use error::ChartError;
pub use heat_map::{HeatMap, MapLimit, MapMultiples, MapPanel};
pub use histogram::{Histogram, ValueGroup};
pub use line::{LineChart, LineMultiples, LinePanel};
pub use scatter::{Scatter, TradeOff};
