//! What measuring all pads takes: time, current, battery.

use super::Circuit;
use padfield_engine::units::{Capacitance, Charge, Current, Time};

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Scan {
    /// Settling and switching before each measurement.
    pub settle: Time,
    /// From the start of one scan to that of the next.
    pub cycle: Time,
    /// Scans in a row that must agree.
    pub debounce: u32,
    /// Delay of the filter behind the count.
    pub filter: Time,
    /// From decision to what the user sees or hears.
    pub feedback: Time,
    /// Current while scanning, without the charge of the pads.
    pub on_current: Current,
    /// Current in between.
    pub sleep_current: Current,
}

impl Default for Scan {
    /// 0.1 ms to settle, a scan every 20 ms, two that agree, no filter, no delay to the user, 1 mA and
    /// 2 uA. Common practice, no source.
    fn default() -> Self {
        Self {
            settle: Time::from_seconds(1e-4),
            cycle: Time::from_seconds(0.02),
            debounce: 2,
            filter: Time::from_seconds(0.0),
            feedback: Time::from_seconds(0.0),
            on_current: Current::from_amperes(1e-3),
            sleep_current: Current::from_amperes(2e-6),
        }
    }
}

/// What feeds the panel when it is not the mains.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Battery {
    /// Charge that can be used.
    pub capacity: Charge,
    /// Share of the capacity lost by itself in a year (0.02 for 2 %).
    pub self_discharge_per_year: f64,
}

impl Battery {
    /// Time until it is empty: capacity over mean current and self-discharge, which is counted as a
    /// constant current.
    pub fn life(&self, mean: Current) -> Time {
        let own = self.capacity.coulombs() * self.self_discharge_per_year
            / Time::from_years(1.0).seconds();
        Time::from_seconds(self.capacity.coulombs() / (mean.amperes() + own))
    }
}

/// Time and current of a scan.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScanBudget {
    /// Time to measure all pads once.
    pub scan: Time,
    /// From scan to scan: the cycle asked for, or the scan itself when that takes longer.
    pub cycle: Time,
    /// Whether the scan takes longer than the cycle asked for.
    pub cycle_is_stretched: bool,
    /// Longest time from touch to feedback: (debounce + 1) cycles, filter, feedback. The finger comes at
    /// a random phase, which costs up to one of the cycles.
    pub response: Time,
    pub average_current: Current,
}

impl Scan {
    /// Time and current for pads of these bases at the pin.
    ///
    /// t_scan = sum (measurement + settle); I = (I_on t_scan + I_sleep (t_cycle - t_scan))/t_cycle, plus
    /// the charge that goes into the pads.
    pub fn budget(&self, circuit: &Circuit, bases: &[Capacitance]) -> ScanBudget {
        let mut scan = 0.0;
        let mut into_pads = 0.0;
        for &base in bases {
            let measuring = circuit.measuring_time(base).seconds();
            scan += measuring + self.settle.seconds();
            into_pads += circuit.charging_current(base).amperes() * measuring;
        }
        let cycle = self.cycle.seconds().max(scan);
        let on = self.on_current.amperes() * scan + into_pads;
        let asleep = self.sleep_current.amperes() * (cycle - scan);
        let response = (f64::from(self.debounce) + 1.0) * cycle
            + self.filter.seconds()
            + self.feedback.seconds();
        ScanBudget {
            scan: Time::from_seconds(scan),
            cycle: Time::from_seconds(cycle),
            cycle_is_stretched: scan > self.cycle.seconds(),
            response: Time::from_seconds(response),
            average_current: Current::from_amperes((on + asleep) / cycle),
        }
    }
}
