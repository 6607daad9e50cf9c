//! A study: which values of a panel vary, how they are combined, what is reported of every point.
//!
//! Plain data without input or output. A [`Study`] comes checked from the panel file
//! (`Document::study` in [`crate::input`]); its [`Plan`] gives any of up to ten million points by
//! number without ever holding them all.
//!
//! - Steps are exact in decimal: 0.1 mm to 1 mm by 0.1 mm is ten values, the last one 1 mm.
//! - All combinations are walked to and fro (boustrophedon): two points that follow one another
//!   differ in one variable, by one step.
//! - A [`Shard`] is the part of a plan that one machine of several solves.
//! - Samples can be addressed one by one: point 700 is the same whether or not 0 to 699 were asked.

mod condition;
mod fault;
mod plan;
mod quantity;
mod shard;
mod values;
mod variable;

pub use condition::{Condition, Relation};
pub use plan::{Plan, Point};
pub use quantity::{Quantity, QuantityKind, UnknownQuantity};
pub use shard::Shard;
pub use values::{HandValue, PadValues, PointValues, Reported};
pub use variable::{Coordinate, Spread, Values, Variable};

/// Most points of one study.
pub const MOST_POINTS: u64 = 10_000_000;
/// Most variables of one study.
pub const MOST_VARIABLES: usize = 16;
/// Longest low-discrepancy sequence: the length of the generator's own.
pub const MOST_SOBOL_SAMPLES: u64 = 1 << 16;
/// Accuracy of a study that names none, relative.
pub const DEFAULT_ACCURACY: f64 = 0.01;

/// How the values of several variables become points.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub enum Combine {
    /// Every value of each with every value of the others.
    All,
    /// The first values together, then the second ones, and so on.
    SideBySide,
    /// Points spread over the ranges.
    Sample {
        /// How many.
        samples: u64,
        /// How they are drawn.
        sequence: Sequence,
        /// Another seed gives other points.
        seed: u32,
    },
}

/// How samples are drawn.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub enum Sequence {
    /// Low discrepancy: an Owen-scrambled Sobol sequence.
    Sobol,
    /// Independent random numbers.
    Random,
}

/// Which side of a limit is wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
pub enum Side {
    /// The quantity should not be larger.
    AtMost,
    /// The quantity should not be smaller.
    AtLeast,
}

/// A limit a quantity is compared with.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Limit {
    pub quantity: Quantity,
    /// Upper or lower limit.
    pub side: Side,
    /// The limit in the unit of the quantity ([`QuantityKind::unit`]).
    pub value: f64,
    /// Where it comes from: a house rule, a requirement, a standard.
    pub because: Option<String>,
}

/// A checked study.
#[derive(Clone, Debug, PartialEq, serde::Serialize, serde::Deserialize)]
pub struct Study {
    /// Name in the panel file.
    pub name: String,
    /// What varies, at least one variable.
    pub variables: Vec<Variable>,
    /// How the variables are combined.
    pub combine: Combine,
    /// What is reported, in the order of the table.
    pub report: Vec<Quantity>,
    /// Limits drawn into the charts.
    pub limits: Vec<Limit>,
    /// Wanted estimated error of every base and touch shift, relative.
    pub accuracy: f64,
    /// Finger by name; none: the first of the panel.
    pub finger: Option<String>,
}

impl Study {
    /// The points of this study.
    pub fn plan(&self) -> Plan<'_> {
        Plan::new(self)
    }
}

#[cfg(test)]
mod tests;
