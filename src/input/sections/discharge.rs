//! The discharge that the panel shall stand: `[discharge]`.

use super::common::*;
use crate::panel::{Demand, Edge};

words!(for Edge as "Edge": "left" => Left, "right" => Right, "bottom" => Bottom, "top" => Top);

/// `[discharge]`: the discharge that the panel shall stand.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DischargeEntry {
    /// Kind and voltage of the test: "air 8 kV".
    pub level: Option<Discharge>,
    /// Estimated puncture voltage over the voltage of the test; default 2.
    pub margin: Option<One<Number>>,
    /// Edges of the overlay that are sealed to the board, seen from the touched side: "left", "right",
    /// "bottom", "top".
    pub sealed: Option<Vec<Word<Edge>>>,
}

/// What of `[discharge]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[],
    fixed: &[still(&["level", "margin"], OF_DISCHARGE)],
};

/// Voltages of a test \[V\].
const TEST_VOLTS: [f64; 2] = [100.0, 100e3];

pub fn discharge(entry: Option<&DischargeEntry>) -> Result<Demand, Finding> {
    let default = Demand::default();
    let Some(entry) = entry else {
        return Ok(default);
    };
    let level = entry.level.map(|given| given.0);
    let [least, most] = TEST_VOLTS;
    if level.is_some_and(|level| !(least..=most).contains(&level.voltage.volts())) {
        return Err(Finding::at(
            steps!["discharge", "level"],
            "a voltage out of range",
            "write 0.1 kV to 100 kV, as in \"air 8 kV\"",
        ));
    }
    let margin = entry.margin.map(|given| given.0);
    if margin.is_some_and(|margin| !(1.0..=100.0).contains(&margin)) {
        return Err(Finding::at(
            steps!["discharge", "margin"],
            "a margin out of range",
            "write a number from 1 to 100",
        ));
    }
    let given = entry.sealed.as_deref().unwrap_or_default();
    Ok(Demand {
        level,
        margin: sourced(margin, default.margin.value),
        sealed: Edge::ALL.map(|edge| given.iter().any(|word| word.0 == edge)),
    })
}
