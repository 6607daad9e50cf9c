//! The measuring circuit: from picofarads at the pin to counts, their noise, their price in time and
//! current.
//!
//! Takes a [`Circuit`] and capacitances at the pin (field part, trace and pin together, never the field
//! part alone); gives periods, counts, count shifts, noise and checks; never fails on a circuit whose
//! values are above zero and whose thresholds lie between 0 and the supply. Pure functions: nothing here
//! knows panels or fields.
//!
//! | what | formula | where |
//! |---|---|---|
//! | resistor oscillator | T = R C \[ln((1 - l)/(1 - h)) + ln(h/l)\], thresholds l, h over the supply, plus what the comparator's delay adds | [`Circuit::period`] |
//! | current oscillator | T = 2 C (h - l) V/I, plus what the delay adds | the same |
//! | charge transfer | n = ln(1 - r)/ln(C_int/(C_int + C)), r the reference over the supply | [`Circuit::count`] |
//! | count in a gate | N = T_gate/T | the same |
//! | count of M periods | N = M T f_ref | the same |
//! | count shift | N(C + dC) - N(C), not linearised | [`Circuit::count_shift`] |
//! | dilution | d ln T/d ln C | [`Circuit::dilution`] |
//! | noise | sqrt(quantisation² + jitter² + (floor N)²) | [`Circuit::noise`] |
//!
//! # Example
//!
//! A resistor of 100 kohm with 15 pF at the pin, thresholds at one and two thirds of the supply, counts
//! in 10 ms; then a touch adds 0.5 pF:
//!
//! ```
//! use padfield::measuring_circuit::Circuit;
//! use padfield_engine::units::{Capacitance, Time};
//!
//! let circuit = Circuit { comparator_delay: Time::from_ns(0.0), ..Circuit::default() };
//! let base = Capacitance::from_pf(15.0);
//! assert!((circuit.count(base) - 4808.98).abs() < 0.01);
//! let shift = circuit.count_shift(base, Capacitance::from_pf(0.5));
//! assert!((shift + 155.13).abs() < 0.01, "the count falls");
//! ```

mod checks;
mod count;
mod noise;
mod scan;
mod shift;

pub use checks::{CHECK_SOURCE, Check};
pub use noise::{NoiseCounts, PEAK_TO_PEAK_OVER_RMS};
pub use scan::{Battery, Scan, ScanBudget};
pub use shift::CountShift;

use padfield_engine::units::{
    Capacitance, Current, Frequency, Resistance, Time, Toleranced, Voltage,
};

/// Where the comparator switches, as shares of the supply, `0 < low < high < 1`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Thresholds {
    /// Lower threshold over the supply.
    pub low: f64,
    /// Upper threshold over the supply.
    pub high: f64,
}

impl Thresholds {
    /// One third and two thirds of the supply: the resistor oscillator's period is 2 ln 2 R C.
    pub const THIRDS: Self = Self {
        low: 1.0 / 3.0,
        high: 2.0 / 3.0,
    };
    /// One quarter and three quarters of the supply: the period is 2 ln 3 R C.
    #[cfg(feature = "rooms")]
    pub const QUARTERS: Self = Self {
        low: 0.25,
        high: 0.75,
    };

    /// Distance of the two, as a share of the supply.
    pub fn swing(self) -> f64 {
        self.high - self.low
    }
}

/// How a capacitance becomes something that can be counted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Principle {
    /// A comparator with hysteresis drives a resistor between 0 V and the supply; the pad charges and
    /// discharges through it.
    ResistorOscillator {
        resistor: Toleranced<Resistance>,
        /// Where the comparator switches.
        thresholds: Thresholds,
    },
    /// A comparator with hysteresis turns a constant current round.
    CurrentOscillator {
        /// The current, charging and discharging.
        current: Toleranced<Current>,
        /// Where the comparator switches.
        thresholds: Thresholds,
    },
    /// The pad is charged to the supply and emptied into an integration capacitor until that reaches a
    /// reference voltage.
    ChargeTransfer {
        integration_capacitor: Toleranced<Capacitance>,
        /// The reference voltage over the supply, between 0 and 1.
        reference: f64,
        transfer_time: Time,
    },
}

/// What is counted; of no meaning for charge transfer, which counts its transfers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Counting {
    /// Periods of the oscillator in a fixed gate time.
    Gate(Time),
    /// Periods of a reference clock while the oscillator makes so many of its own.
    Periods {
        /// Periods of the oscillator.
        periods: u32,
        reference_clock: Frequency,
    },
}

/// How what is counted and what it is counted against start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// Anyhow: both ends of the measurement fall between two counts at random.
    Free,
    /// Together: only the end falls between two counts.
    Synchronised,
}

/// Where the noise of the untouched count comes from.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum NoiseSource {
    /// Measured in total \[counts rms\]: stands for quantisation, jitter and floor together.
    Measured(f64),
    /// Computed from its parts; quantisation comes on top.
    Parts(NoiseParts),
}

/// Parts of the noise that are entered.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct NoiseParts {
    /// Voltage noise at the comparator's input, rms, a fresh draw at every crossing.
    pub comparator: Voltage,
    /// Jitter of one period beyond that of the comparator, rms over the period, independent from period
    /// to period.
    pub period_jitter: f64,
    /// What does not average out (flicker, supply), rms over the count.
    pub low_frequency: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Circuit {
    /// How a capacitance becomes something that can be counted.
    pub principle: Principle,
    pub counting: Counting,
    /// How the measurement starts.
    pub start: Start,
    /// Supply voltage of comparator and driver.
    pub supply: Voltage,
    /// Delay from crossing a threshold to turning round, each way.
    pub comparator_delay: Time,
    /// Noise of the untouched count.
    pub noise: NoiseSource,
    /// Voltage between the device's ground and earth in the band of the measurement, rms: noise while
    /// touched only.
    pub common_mode: Voltage,
    /// Resistor between pad and pin against discharges; it shall not slow the charging.
    pub series_resistor: Option<Resistance>,
}

impl Default for Circuit {
    /// A resistor oscillator of 100 kohm at one third and two thirds of 3.3 V, 40 ns of delay, a gate of
    /// 10 ms, free-running, 1 mV of comparator noise, a floor of 0.03 %. Common practice, no source.
    fn default() -> Self {
        Self {
            principle: Principle::ResistorOscillator {
                resistor: Toleranced::exact(Resistance::from_ohms(100e3)),
                thresholds: Thresholds::THIRDS,
            },
            counting: Counting::Gate(Time::from_seconds(0.01)),
            start: Start::Free,
            supply: Voltage::from_volts(3.3),
            comparator_delay: Time::from_seconds(40e-9),
            noise: NoiseSource::Parts(NoiseParts {
                comparator: Voltage::from_volts(1e-3),
                period_jitter: 0.0,
                low_frequency: 3e-4,
            }),
            common_mode: Voltage::from_volts(0.0),
            series_resistor: None,
        }
    }
}

impl Circuit {
    /// The circuit with the part that sets the rate (resistor, current, integration capacitor) at the
    /// ends of its tolerance: smallest value, largest value.
    pub fn at_tolerance_ends(&self) -> [Self; 2] {
        let with = |most: bool| {
            let mut circuit = *self;
            match &mut circuit.principle {
                Principle::ResistorOscillator { resistor, .. } => *resistor = end(resistor, most),
                Principle::CurrentOscillator { current, .. } => *current = end(current, most),
                Principle::ChargeTransfer {
                    integration_capacitor,
                    ..
                } => *integration_capacitor = end(integration_capacitor, most),
            }
            circuit
        };
        [with(false), with(true)]
    }
}

fn end<Q: Copy>(value: &Toleranced<Q>, most: bool) -> Toleranced<Q> {
    Toleranced::exact(if most { value.most } else { value.least })
}
