//! The climate: `[climate]`.

use super::common::*;
use crate::panel::Climate;

/// `[climate]`: what the panel lives in.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClimateEntry {
    /// Lowest temperature; default 0 degC.
    pub lowest: Option<One<Temperature>>,
    /// Highest temperature; default 50 degC.
    pub highest: Option<One<Temperature>>,
    /// Temperature at which permittivities and circuit hold; default 23 degC.
    pub reference: Option<One<Temperature>>,
    /// Fastest change of temperature; default 1 K/min.
    pub fastest_change: Option<One<TemperatureRate>>,
    /// Whether the layers become damp: "yes" (default) or "no".
    pub moisture: Option<Word<bool>>,
    /// How long a finger is held on a pad; default 10 s.
    pub held: Option<One<Time>>,
}

/// What of `[climate]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[],
    fixed: &[
        still(&["lowest", "highest", "reference"], OF_DRIFT),
        still(&["fastest_change", "held"], OF_DRIFT),
    ],
};

/// Absolute zero, and beyond what any layer stands \[degrees Celsius\].
const TEMPERATURE_RANGE: [f64; 2] = [-273.15, 1000.0];

pub fn climate(entry: Option<&ClimateEntry>) -> Result<Climate, Finding> {
    let default = Climate::default();
    let Some(entry) = entry else {
        return Ok(default);
    };
    let temperatures = [
        ("lowest", entry.lowest),
        ("highest", entry.highest),
        ("reference", entry.reference),
    ];
    for (key, given) in temperatures {
        let [least, most] = TEMPERATURE_RANGE;
        if given.is_some_and(|given| !(least..=most).contains(&given.0)) {
            return Err(Finding::at(
                steps!["climate", key],
                "a temperature out of range",
                format!("write {least} degC to {most} degC"),
            ));
        }
    }
    let lowest = sourced(entry.lowest.map(|t| t.0), default.lowest_celsius.value);
    let highest = sourced(entry.highest.map(|t| t.0), default.highest_celsius.value);
    if lowest.value >= highest.value {
        let key = match entry.highest {
            Some(_) => "highest",
            None => "lowest",
        };
        return Err(Finding::at(
            steps!["climate", key],
            format!(
                "the climate goes from {} to {} degC",
                lowest.value, highest.value
            ),
            "write a highest temperature above the lowest",
        ));
    }
    let reference = sourced(
        entry.reference.map(|t| t.0),
        default
            .reference_celsius
            .value
            .clamp(lowest.value, highest.value),
    );
    let fastest = entry.fastest_change.map(|given| given.0);
    if fastest.is_some_and(|rate| !(rate > 0.0 && rate <= 1000.0)) {
        return Err(Finding::at(
            steps!["climate", "fastest_change"],
            "a change of temperature out of range",
            "write more than 0 K/min, as in \"2 K/min\"",
        ));
    }
    let held = entry.held.map(|given| given.0);
    if held.is_some_and(|time| !(0.0..=86_400.0).contains(&time.seconds())) {
        return Err(Finding::at(
            steps!["climate", "held"],
            "the time a finger is held is out of range",
            "write 0 s to 86400 s, as in \"10 s\"",
        ));
    }
    Ok(Climate {
        is_given: true,
        lowest_celsius: lowest,
        highest_celsius: highest,
        reference_celsius: reference,
        fastest_change_k_per_s: sourced(fastest, default.fastest_change_k_per_s.value),
        moisture: sourced(entry.moisture.map(|word| word.0), default.moisture.value),
        held: sourced(held, default.held.value),
    })
}
