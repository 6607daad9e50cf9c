//! `[climate]` and `[discharge]` as typed.

use super::quantity::{Discharge, OneTemperature, OneTemperatureRate, OneTime, PlainNumber};
use super::words::{EdgeWord, YesWord};
use schemars::JsonSchema;

/// `[climate]`: what the panel lives in.
#[derive(Clone, Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClimateEntry {
    /// Lowest temperature; default 0 degC.
    pub lowest: Option<OneTemperature>,
    /// Highest temperature; default 50 degC.
    pub highest: Option<OneTemperature>,
    /// Temperature at which permittivities and circuit hold; default 23 degC.
    pub reference: Option<OneTemperature>,
    /// Fastest change of temperature; default 1 K/min.
    pub fastest_change: Option<OneTemperatureRate>,
    /// Whether the layers become damp: "yes" (default) or "no".
    pub moisture: Option<YesWord>,
    /// How long a finger is held on a pad; default 10 s.
    pub held: Option<OneTime>,
}

/// `[discharge]`: the discharge that the panel shall stand.
#[derive(Clone, Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DischargeEntry {
    /// Kind and voltage of the test: "air 8 kV".
    pub level: Option<Discharge>,
    /// Estimated puncture voltage over the voltage of the test; default 2.
    pub margin: Option<PlainNumber>,
    /// Edges of the overlay that are sealed to the board, seen from the touched side: "left", "right",
    /// "bottom", "top".
    pub sealed: Option<Vec<EdgeWord>>,
}
