//! `[circuit]`, `[scan]` and `[battery]` as typed.

use super::quantity::{
    Fraction, FractionPair, OneCharge, OneCount, OneCurrent, OneFrequency, OneResistance, OneShare,
    OneTime, OneVoltage, TolerancedCapacitance, TolerancedCurrent, TolerancedResistance,
    TolerancedTemperatureCoefficient,
};
use super::typed_study::WholeNumber;
use super::words::{PrincipleWord, StartWord};
use schemars::JsonSchema;

/// `[circuit]`: how capacitance becomes counts.
#[derive(Clone, Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CircuitEntry {
    /// Measuring principle; default resistor oscillator.
    pub principle: Option<PrincipleWord>,
    /// Resistor of a resistor oscillator; default 100 kohm.
    pub resistor: Option<TolerancedResistance>,
    /// Current of a current oscillator, each way; default 10 uA.
    pub current: Option<TolerancedCurrent>,
    /// Lower and upper threshold of an oscillator over the supply; default 1/3, 2/3.
    pub thresholds: Option<FractionPair>,
    /// Integration capacitor of a charge transfer; default 47 nF.
    pub integration_capacitor: Option<TolerancedCapacitance>,
    /// Reference voltage of a charge transfer over the supply; default 1/2.
    pub reference: Option<Fraction>,
    /// Time of one charge transfer; default 2 us.
    pub transfer_time: Option<OneTime>,
    /// Supply voltage; default 3.3 V.
    pub supply: Option<OneVoltage>,
    /// Delay of the comparator, each way; default 40 ns.
    pub comparator_delay: Option<OneTime>,
    /// Time in which periods are counted; default 10 ms.
    pub gate: Option<OneTime>,
    /// Instead of a gate: periods that are timed by the reference clock.
    pub periods: Option<WholeNumber>,
    /// Clock that times the periods.
    pub reference_clock: Option<OneFrequency>,
    /// Whether the measurement starts "free" (default) or "synchronised" with what it is counted by.
    pub start: Option<StartWord>,
    /// Measured noise of the untouched count, rms, in total; instead of the computed one.
    pub noise: Option<OneCount>,
    /// Noise at the comparator's input, rms; default 1 mV.
    pub comparator_noise: Option<OneVoltage>,
    /// Share of the count that does not average out, rms; default 0.03 %.
    pub low_frequency_noise: Option<OneShare>,
    /// Voltage between device ground and earth in the band of the measurement, rms; default 0 V.
    pub common_mode: Option<OneVoltage>,
    /// Resistor between pad and pin; default none.
    pub series_resistor: Option<OneResistance>,
    /// Change with temperature of what sets the rate: resistor, current or integration capacitor; default
    /// not counted.
    pub temperature_coefficient: Option<TolerancedTemperatureCoefficient>,
    /// Change of period or transfers with temperature, through thresholds and comparator; default not
    /// counted.
    pub threshold_drift: Option<TolerancedTemperatureCoefficient>,
}

/// `[scan]`: how often the pads are measured, and what that takes.
#[derive(Clone, Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScanEntry {
    /// Settling and switching before each measurement; default 0.1 ms.
    pub settle: Option<OneTime>,
    /// From scan to scan; default 20 ms.
    pub cycle: Option<OneTime>,
    /// Scans in a row that must agree; default 2.
    pub debounce: Option<WholeNumber>,
    /// Delay of the filter; default 0 ms.
    pub filter: Option<OneTime>,
    /// From decision to what the user notices; default 0 ms.
    pub feedback: Option<OneTime>,
    /// Current while scanning; default 1 mA.
    pub on_current: Option<OneCurrent>,
    /// Current in between; default 2 uA.
    pub sleep_current: Option<OneCurrent>,
}

/// `[battery]`.
#[derive(Clone, Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BatteryEntry {
    /// Charge that can be used.
    pub capacity: OneCharge,
    /// Share lost by itself in a year; default 0 %.
    pub self_discharge: Option<OneShare>,
}
