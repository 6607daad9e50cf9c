//! Limits a measuring circuit should keep: common practice, no source.

use super::{Circuit, Principle};
use padfield_engine::units::Capacitance;

/// Where all limits come from.
pub const CHECK_SOURCE: &str = "common practice, no source";

/// A value of the circuit beside the limits it should keep.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Check {
    /// What is checked.
    pub name: &'static str,
    /// Its value in `unit`.
    pub value: f64,
    /// Unit of value and limits; empty for counts of nothing.
    pub unit: &'static str,
    /// Smallest value that holds.
    pub at_least: Option<f64>,
    /// Largest value that holds.
    pub at_most: Option<f64>,
    /// What a broken limit means.
    pub because: &'static str,
}

impl Check {
    /// Whether the value keeps its limits.
    pub fn holds(&self) -> bool {
        self.at_least.is_none_or(|least| self.value >= least)
            && self.at_most.is_none_or(|most| self.value <= most)
    }
}

/// Frequency the electronics and their surroundings take well \[kHz\].
const FREQUENCY_KHZ: [f64; 2] = [50.0, 2000.0];
/// Counts that resolve a touch without taking too long.
const BASE_COUNT: [f64; 2] = [1000.0, 20_000.0];
/// Largest share of the series resistor's time constant in a period \[%\].
const SERIES_SHARE_PERCENT: f64 = 5.0;
/// Beyond this resistor leakage and humidity count \[kohm\].
const RESISTOR_KILOHMS: f64 = 500.0;

impl Circuit {
    /// The limits at a base capacitance at the pin.
    pub fn checks(&self, base: Capacitance) -> Vec<Check> {
        let mut checks = vec![
            Check {
                name: "frequency",
                value: self.frequency(base).khz(),
                unit: "kHz",
                at_least: Some(FREQUENCY_KHZ[0]),
                at_most: Some(FREQUENCY_KHZ[1]),
                because: "slower ones meet supply and lighting noise, faster ones the comparator's limits",
            },
            Check {
                name: "base count",
                value: self.count(base),
                unit: "counts",
                at_least: Some(BASE_COUNT[0]),
                at_most: Some(BASE_COUNT[1]),
                because: "fewer counts do not resolve a touch, more take time and current",
            },
        ];
        if let Some(series) = self.series_resistor {
            let constant = series.ohms() * base.farads();
            checks.push(Check {
                name: "series resistor times base over period",
                value: 100.0 * constant / self.period(base).seconds(),
                unit: "%",
                at_least: None,
                at_most: Some(SERIES_SHARE_PERCENT),
                because: "beyond it the pad does not follow the pin",
            });
        }
        if let Principle::ResistorOscillator { resistor, .. } = self.principle {
            checks.push(Check {
                name: "resistor",
                value: resistor.nominal.kilohms(),
                unit: "kohm",
                at_least: None,
                at_most: Some(RESISTOR_KILOHMS),
                because: "beyond it leakage and humidity count: leakage to ground should stay above 50 \
                          times the resistor",
            });
        }
        checks
    }
}
