//! What a chart is given: axes, readings with their error, limits with their origin, marks.

use std::fmt;

/// How values are spread along an axis.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Scale {
    /// Equal steps are equally long.
    #[default]
    Linear,
    /// Equal factors are equally long; every value must be above zero.
    Logarithmic,
}

/// One axis: what it shows, in which unit, how it is spread.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Axis {
    /// Name of the quantity, as in "pad gap".
    pub label: String,
    /// Unit of every value on this axis, as in "mm"; empty for a plain number.
    pub unit: String,
    /// Linear or logarithmic.
    pub scale: Scale,
    /// First and last value shown; chosen from the data when absent. Whatever lies outside is cut off
    /// at the frame, never moved onto it.
    pub range: Option<[f64; 2]>,
}

impl Axis {
    /// A linear axis with the range taken from the data.
    pub fn linear(label: impl Into<String>, unit: impl Into<String>) -> Self {
        Self {
            label: label.into(),
            unit: unit.into(),
            scale: Scale::Linear,
            range: None,
        }
    }

    /// A logarithmic axis with the range taken from the data.
    pub fn logarithmic(label: impl Into<String>, unit: impl Into<String>) -> Self {
        Self {
            scale: Scale::Logarithmic,
            ..Self::linear(label, unit)
        }
    }

    /// Label with its unit, as printed along the axis: "pad gap (mm)".
    pub fn caption(&self) -> String {
        if self.unit.is_empty() {
            self.label.clone()
        } else {
            format!("{} ({})", self.label, self.unit)
        }
    }
}

/// One computed or estimated point of a series.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// Position along the x axis, in its unit.
    pub x: f64,
    /// Value, in the unit of the y axis. Not finite means absent: the line has a gap here.
    pub value: f64,
    /// Half-width of the error bar, in the unit of the y axis; zero or not finite draws none.
    pub error: f64,
}

/// Half-width of an error bar; zero where there is none.
pub(crate) fn half_width(error: f64) -> f64 {
    if error.is_finite() { error.abs() } else { 0.0 }
}

/// Readings that belong together: one line of a chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Series {
    /// Name in the legend.
    pub name: String,
    /// The readings, in the order in which they are joined.
    pub points: Vec<Reading>,
    /// Dashed with open markers: a hand estimate instead of a computed value.
    pub dashed: bool,
}

impl Series {
    /// Computed readings.
    pub fn computed(name: impl Into<String>, points: impl IntoIterator<Item = Reading>) -> Self {
        Self {
            name: name.into(),
            points: points.into_iter().collect(),
            dashed: false,
        }
    }

    /// Dashed with open markers: a hand estimate.
    pub fn dashed(name: impl Into<String>, points: impl IntoIterator<Item = Reading>) -> Self {
        Self {
            dashed: true,
            ..Self::computed(name, points)
        }
    }
}

/// Which side of a limit is allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// Values up to the limit are allowed.
    AtMost,
    /// Values from the limit upwards are allowed.
    AtLeast,
}

impl fmt::Display for Sense {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Sense::AtMost => "≤",
            Sense::AtLeast => "≥",
        })
    }
}

/// A limit with the reason it stands for; short strokes along it point to the side that is ruled out.
#[derive(Clone, Debug, PartialEq)]
pub struct LimitLine {
    /// The limit, in the unit of the axis it belongs to.
    pub value: f64,
    /// Which side is allowed.
    pub sense: Sense,
    /// Where the limit comes from, as in "house rule"; empty leaves it out.
    pub because: String,
}

impl LimitLine {
    /// A limit from which upwards values are allowed, and where it comes from.
    pub fn at_least(value: f64, because: impl Into<String>) -> Self {
        Self {
            value,
            sense: Sense::AtLeast,
            because: because.into(),
        }
    }

    /// A limit up to which values are allowed, and where it comes from.
    pub fn at_most(value: f64, because: impl Into<String>) -> Self {
        Self {
            sense: Sense::AtMost,
            ..Self::at_least(value, because)
        }
    }

    /// Label drawn beside the line: "limit ≤ 20 %, house rule".
    pub fn label(&self, unit: &str) -> String {
        let value = crate::number::with_unit(&crate::number::plain(self.value, 6), unit);
        if self.because.is_empty() {
            format!("limit {} {value}", self.sense)
        } else {
            format!("limit {} {value}, {}", self.sense, self.because)
        }
    }
}

/// A place on the x axis worth a thin vertical line: a rule of thumb, a chosen value.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceMark {
    /// Position along the x axis, in its unit.
    pub x: f64,
    /// What is there, as in "quarter inch, common practice, no source".
    pub label: String,
}

/// A stretch of the level axis, shaded behind the lines: where two pads both act, say.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Zone {
    /// First place, in the unit of the level axis.
    pub low: f64,
    /// Last place, in the unit of the level axis.
    pub high: f64,
    /// What it is, for the legend, as in "two pads act"; zones of the same label look the same.
    pub label: String,
}

/// One piece in the strip under a plot: a pad, a guard trace.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StripPiece {
    /// First place, in the unit of the level axis.
    pub low: f64,
    /// Last place, in the unit of the level axis.
    pub high: f64,
    /// Name written on the piece or beside it; left out where it has no room.
    pub label: String,
}

/// One row of the strip under a plot: what lies there along the level axis, to its scale.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StripRow {
    /// What the row shows, as in "pads"; written left of it.
    pub name: String,
    /// The pieces, in any order.
    pub pieces: Vec<StripPiece>,
}

/// Where a line meets a limit, with the interval that follows from the error bars.
#[derive(Clone, Debug, PartialEq)]
pub struct CrossingMark {
    /// Where the crossing is, in the unit of the x axis.
    pub x: f64,
    /// Lower end of its interval, in the unit of the x axis.
    pub low: f64,
    /// Upper end of its interval, in the unit of the x axis.
    pub high: f64,
    /// The limit that is met, in the unit of the y axis.
    pub value: f64,
    /// What crosses, usually the name of the series; empty leaves it out.
    pub label: String,
}

/// One design among many: a point of a scatter or a trade-off chart.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Sample {
    /// Position, in the unit of the x axis.
    pub x: f64,
    /// Position, in the unit of the y axis.
    pub y: f64,
    /// Half-width of the error bar along x; zero or not finite draws none.
    pub x_error: f64,
    /// Half-width of the error bar along y; zero or not finite draws none.
    pub y_error: f64,
    /// What this design is, as in "gap 6 mm"; written beside points of a trade-off front.
    pub label: String,
}

/// Samples that share a name, a colour and a marker.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Cloud {
    /// Name in the legend.
    pub name: String,
    /// The samples; those with a coordinate that is not finite are left out.
    pub samples: Vec<Sample>,
}

/// Which direction of an axis is the better one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Better {
    /// Large values are wanted.
    Higher,
    /// Small values are wanted.
    Lower,
}
