//! How often the pads are measured, what that takes and what feeds it: `[scan]`, `[battery]`.

use super::circuit::{MEASURING, SHARE};
use super::common::*;
use crate::measuring_circuit::{Battery, Scan};

/// `[scan]`: how often the pads are measured, and what that takes.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ScanEntry {
    /// Settling and switching before each measurement; default 0.1 ms.
    pub settle: Option<One<Time>>,
    /// From scan to scan; default 20 ms.
    pub cycle: Option<One<Time>>,
    /// Scans in a row that must agree; default 2.
    pub debounce: Option<WholeNumber>,
    /// Delay of the filter; default 0 ms.
    pub filter: Option<One<Time>>,
    /// From decision to what the user notices; default 0 ms.
    pub feedback: Option<One<Time>>,
    /// Current while scanning; default 1 mA.
    pub on_current: Option<One<Current>>,
    /// Current in between; default 2 uA.
    pub sleep_current: Option<One<Current>>,
}

/// `[battery]`.
#[derive(Clone, Debug, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BatteryEntry {
    /// Charge that can be used.
    pub capacity: One<Charge>,
    /// Share lost by itself in a year; default 0 %.
    pub self_discharge: Option<One<Share>>,
}

/// What of `[scan]` can be varied.
pub const SCAN_ROWS: Rows = Rows {
    varied: &[],
    fixed: &[still(
        &[
            "settle",
            "cycle",
            "debounce",
            "filter",
            "feedback",
            "on_current",
            "sleep_current",
        ],
        "it moves response time and current only, which padfield circuit tells",
    )],
};

/// What of `[battery]` can be varied.
pub const BATTERY_ROWS: Rows = Rows {
    varied: &[],
    fixed: &[still(
        &["capacity", "self_discharge"],
        "it moves battery life only, which padfield circuit tells",
    )],
};

const WAITING: Bounds = bounds(0.0, 1000.0, "0 s to 1000 s");
const CONSUMPTION: Bounds = bounds(0.0, 1000.0, "0 A to 1000 A");
const CHARGE: Bounds = bounds(3.6e-6, 3.6e9, "0.000001 mAh to 1000000 Ah");

pub fn scan(entry: &ScanEntry) -> Result<Scan, Finding> {
    let default = Scan::default();
    let time = |key: &str, bounds: &Bounds, given: Option<One<Time>>, default: Time| {
        let time = given.map_or(default, |given| given.0);
        bounds.check("scan", key, time.seconds()).map(|()| time)
    };
    let waiting = |key: &str, given, default| time(key, &WAITING, given, default);
    let current = |key: &str, given: Option<One<Current>>, default: Current| {
        let current = given.map_or(default, |given| given.0);
        let checked = CONSUMPTION.check("scan", key, current.amperes());
        checked.map(|()| current)
    };
    Ok(Scan {
        settle: waiting("settle", entry.settle, default.settle)?,
        cycle: time("cycle", &MEASURING, entry.cycle, default.cycle)?,
        debounce: entry.debounce.map_or(default.debounce, |given| given.0),
        filter: waiting("filter", entry.filter, default.filter)?,
        feedback: waiting("feedback", entry.feedback, default.feedback)?,
        on_current: current("on_current", entry.on_current, default.on_current)?,
        sleep_current: current("sleep_current", entry.sleep_current, default.sleep_current)?,
    })
}

pub fn battery(entry: &BatteryEntry) -> Result<Battery, Finding> {
    CHARGE.check("battery", "capacity", entry.capacity.0.coulombs())?;
    let self_discharge = entry.self_discharge.map_or(0.0, |given| given.0);
    SHARE.check("battery", "self_discharge", self_discharge)?;
    Ok(Battery {
        capacity: entry.capacity.0,
        self_discharge_per_year: self_discharge,
    })
}
