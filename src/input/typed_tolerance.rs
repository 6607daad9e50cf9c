//! `[tolerance.NAME]` of the panel file as typed.

use super::quantity::PlainNumber;
use super::words::SpreadWord;
use schemars::JsonSchema;

/// One `[tolerance.NAME]`: values that spread from unit to unit by one draw.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ToleranceEntry {
    /// Dotted paths of the values that move together; one with a minus before it moves the other way.
    pub of: Vec<String>,
    /// Tolerance both ways, in the unit of the values or in percent.
    pub within: Option<String>,
    /// Tolerance upwards.
    pub plus: Option<String>,
    /// Tolerance downwards.
    pub minus: Option<String>,
    /// Distribution; default rectangular.
    pub shape: Option<SpreadWord>,
    /// Standard deviations in the tolerance of a normal distribution; default 2.
    pub deviations: Option<PlainNumber>,
    /// Another tolerance that goes with this one.
    pub with: Option<String>,
    /// Correlation with it, -1 to 1.
    pub correlation: Option<PlainNumber>,
}
