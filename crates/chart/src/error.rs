//! Why a chart cannot be drawn.

use thiserror::Error;

/// Why a chart cannot be drawn. Every text names the chart or axis and what was expected.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum ChartError {
    /// No finite value is left to draw.
    #[error("chart \"{chart}\" has no finite value to draw")]
    NoData {
        /// Title of the chart.
        chart: String,
    },
    /// A logarithmic axis was given a value that has no logarithm.
    #[error(
        "axis \"{axis}\" is logarithmic and cannot show {value}; every value must be above zero, or make the axis linear"
    )]
    NotPositive {
        /// Label of the axis.
        axis: String,
        /// The offending value, in the unit of the axis.
        value: f64,
    },
    /// The range of an axis is empty, reversed, not finite or too wide for the arithmetic.
    #[error(
        "axis \"{axis}\" cannot run from {low} to {high}; expected two finite values, low before high"
    )]
    BadRange {
        /// Label of the axis.
        axis: String,
        /// First value, in the unit of the axis.
        low: f64,
        /// Last value, in the unit of the axis.
        high: f64,
    },
    /// A limit, mark or crossing is not a finite number.
    #[error("{what} is {value}; expected a finite number")]
    NotFinite {
        /// Which mark.
        what: String,
        /// The value found.
        value: f64,
    },
    /// An outline over a map has too few corners to enclose anything.
    #[error("outline \"{label}\" has {corners} corners; expected at least 3")]
    FewCorners {
        /// Label of the outline.
        label: String,
        /// Corners given.
        corners: usize,
    },
    /// Equal scale was asked for axes that cannot have it.
    #[error(
        "chart \"{chart}\" cannot have equal scale on both axes; expected two linear axes in the same unit"
    )]
    UnequalAxes {
        /// Title of the chart.
        chart: String,
    },
    /// A map has another number of values than columns times rows.
    #[error("chart \"{chart}\": {found} values for {columns} columns and {rows} rows; expected {}", columns * rows)]
    Shape {
        /// Title of the chart.
        chart: String,
        /// Positions along x.
        columns: usize,
        /// Positions along y.
        rows: usize,
        /// Values given.
        found: usize,
    },
    /// The positions of a map are fewer than two or do not strictly increase.
    #[error(
        "positions on axis \"{axis}\" must be at least two finite values, each above the one before"
    )]
    NotIncreasing {
        /// Label of the axis.
        axis: String,
    },
    /// A picture cannot have this scale.
    #[error("scale {scale} of a PNG picture; expected a number above 0 and at most 8")]
    BadScale {
        /// The scale asked for, pixels per chart unit.
        scale: f64,
    },
    /// The drawing library refused.
    #[error("the chart could not be drawn: {reason}")]
    Drawing {
        /// What it said.
        reason: String,
    },
}

impl ChartError {
    /// From whatever a drawing library reports.
    pub fn drawing(error: impl std::fmt::Display) -> Self {
        Self::Drawing {
            reason: error.to_string(),
        }
    }
}
