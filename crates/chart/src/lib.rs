//! padfield-chart: values with their error bars, limits and assumptions in, a picture as SVG and PNG out.
//!
//! Begin with [`LineChart`] and the example below: fill a chart with plain data, call [`Chart::svg`]. One file per
//! kind of chart (the table), all data they share in `data`. Under them, bottom up: [`font`], [`colour`] and
//! [`canvas`], the paper; `axis` and `ticks`, from values to lengths; `plot`, a frame with its axes; [`page`], all
//! around the plots; [`placement`], labels where they hide least; then what is drawn in plots: `limits`, `marker`,
//! [`contour`], [`map_image`], [`outlines`], `zones`, `curves`. The public ones serve drawings of other things on
//! pages that look the same. It knows no pad, panel or study, computes nothing but places on paper, reads no files.
//!
//! | chart | answers |
//! |---|---|
//! | [`LineChart`] | how a quantity follows a dimension, with error bands, limits, crossings, zones, copper |
//! | [`HeatMap`] | how it follows two dimensions, with limit contours and outlines |
//! | [`Scatter`], [`TradeOff`] | how two quantities of many designs go together, and which designs nothing beats |
//! | [`BarChart`] | signed effects, one per name |
//! | [`RangeChart`] | whether a threshold fits between what must act and what must not |
//! | [`Histogram`] | how often values occur |
//! | [`Stacked`] | several of them below one another |
//!
//! Every one is a [`Chart`]: it has `svg()`, the text of an SVG document, and `png(scale)`, the bytes of the same
//! picture. Both carry their font and are the same bytes every time. What is drawn in a chart is what
//! it was given: lines and areas are cut off at the frame, values that are not finite leave a gap, a
//! limit outside the range is named at the edge. Input that has no picture is a [`ChartError`].
//!
//! All lengths on paper are chart units: pixels of the picture at scale 1. A chart is 800 wide.
//! Texts and shapes carry a class (`title`, `caption`, `x-tick`, `limit`, `crossing`, `series`,
//! `markers`, `band`, ...) and series their name, so that a chart can be read back.
//!
//! # Example
//!
//! ```
//! use padfield_chart::{Axis, Chart, CrossingMark, LimitLine, LineChart, LinePanel, Reading, Series};
//!
//! let reading = |x, value, error| Reading { x, value, error };
//! let chart = LineChart {
//!     title: "Neighbour ratio against the gap between pads".into(),
//!     x: Axis::linear("pad gap", "mm"),
//!     y: Axis::logarithmic("neighbour ratio", "%"),
//!     panels: vec![LinePanel {
//!         series: vec![Series::computed(
//!             "acrylic, 3 mm",
//!             [reading(2.0, 61.0, 2.0), reading(6.0, 21.5, 0.9), reading(10.0, 7.6, 0.4)],
//!         )],
//!         crossings: vec![CrossingMark { x: 6.28, low: 6.11, high: 6.45, value: 20.0, label: String::new() }],
//!         ..LinePanel::default()
//!     }],
//!     limits: vec![LimitLine::at_most(20.0, "house rule")],
//!     assumption: "Finger of 10 mm contact at the edge of the touched pad.".into(),
//!     ..LineChart::default()
//! };
//! let svg = chart.svg()?;
//! assert!(svg.contains("limit ≤ 20 %, house rule"));
//! assert!(svg.contains("6.28 mm (6.11 to 6.45)"));
//! let picture: Vec<u8> = chart.png(2.0)?;
//! # Ok::<(), padfield_chart::ChartError>(())
//! ```
//!
//! # Conventions
//!
//! Colours are those of Okabe and Ito (2008) for series and viridis (van der Walt and Smith 2015) for
//! maps; markers, dashes and strokes carry the same distinctions in grey-scale. Dashed with open
//! markers is a hand estimate. Short strokes along a limit point to the side that is ruled out. Error
//! bands that reach below zero are cut off at zero when no value is negative. Outlines over a map are
//! white with a dark rim, contours of limits dark with a white one. A single limit of a map with
//! outlines, and a limit of small multiples that no panel has room for, stand in the legend.

mod axis;
mod bars;
pub mod canvas;
pub mod clip;
pub mod colour;
pub mod contour;
mod curves;
mod data;
mod error;
pub mod font;
mod hatch;
mod heat_map;
mod histogram;
mod limits;
mod line;
pub mod map_image;
mod map_limits;
mod marker;
mod number;
pub mod outlines;
pub mod page;
pub mod placement;
mod plot;
mod range_marks;
mod range_rows;
mod ranges;
mod raster;
mod scatter;
mod stacked;
mod staircase;
mod steps;
mod ticks;
mod zones;

pub use bars::{Bar, BarChart};
pub use data::{
    Axis, Better, Cloud, CrossingMark, LimitLine, PlaceMark, Reading, Sample, Scale, Sense, Series,
    StripPiece, StripRow, Zone,
};
pub use error::ChartError;
pub use font::{TRUE_TYPE as FONT_TRUE_TYPE, font_face};
pub use heat_map::{HeatMap, MapPanel};
pub use histogram::{Histogram, ValueGroup};
pub use line::{LineChart, LinePanel};
pub use map_limits::MapLimit;
pub use number::plain as number_text;
pub use outlines::MapOutline;
pub use range_rows::{RangeGroup, RangeRow};
pub use ranges::{RangeBand, RangeChart};
pub use raster::Chart;
pub use scatter::{Scatter, TradeOff};
pub use stacked::Stacked;
