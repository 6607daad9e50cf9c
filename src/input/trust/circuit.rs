//! The measuring circuit, the scan, the battery.

use super::super::error::Finding;
use super::super::keys::steps;
use super::super::typed::PanelFile;
use super::super::typed_circuit::{BatteryEntry, CircuitEntry, ScanEntry};
use super::super::words::PrincipleKind;
use crate::measuring_circuit::{
    Battery, Circuit, Counting, NoiseParts, NoiseSource, Principle, Scan, Start, Thresholds,
};
use crate::panel::{CircuitDrift, Electronics};
use padfield_engine::units::{Capacitance, Current, Resistance, Time, Toleranced};

/// Common practice, no source.
const DEFAULT_CURRENT: Current = Current::from_ua(10.0);
/// Common practice, no source.
const DEFAULT_INTEGRATION: Capacitance = Capacitance::from_pf(47_000.0);
/// Common practice, no source.
const DEFAULT_REFERENCE: f64 = 0.5;
/// Common practice, no source.
const DEFAULT_TRANSFER_TIME: Time = Time::from_us(2.0);

/// What may be written for a quantity: smallest, largest, in base units and in words. Beyond, a unit
/// has been mistaken.
struct Bounds {
    least: f64,
    most: f64,
    words: &'static str,
}

const fn bounds(least: f64, most: f64, words: &'static str) -> Bounds {
    Bounds { least, most, words }
}

const RESISTANCE: Bounds = bounds(1.0, 1e9, "1 ohm to 1000 Mohm");
const CURRENT: Bounds = bounds(1e-9, 1.0, "1 nA to 1 A");
const CAPACITANCE: Bounds = bounds(1e-12, 1e-3, "1 pF to 1000000 nF");
const SUPPLY: Bounds = bounds(0.1, 1000.0, "0.1 V to 1000 V");
const DELAY: Bounds = bounds(0.0, 1.0, "0 s to 1 s");
const MEASURING: Bounds = bounds(1e-9, 1000.0, "1 ns to 1000 s");
const WAITING: Bounds = bounds(0.0, 1000.0, "0 s to 1000 s");
const CLOCK: Bounds = bounds(1.0, 1e12, "1 Hz to 1000000 MHz");
const COUNTS: Bounds = bounds(0.0, 1e9, "0 counts to 1e9 counts");
const VOLTAGE: Bounds = bounds(0.0, 1000.0, "0 V to 1000 V");
const SHARE: Bounds = bounds(0.0, 1.0, "0 % to 100 %");
const PER_KELVIN: Bounds = bounds(-0.01, 0.01, "-10000 ppm/K to 10000 ppm/K");
const CONSUMPTION: Bounds = bounds(0.0, 1000.0, "0 A to 1000 A");
const CHARGE: Bounds = bounds(3.6e-6, 3.6e9, "0.000001 mAh to 1000000 Ah");

impl Bounds {
    fn check(&self, section: &str, key: &str, value: f64) -> Result<(), Finding> {
        if (self.least..=self.most).contains(&value) {
            return Ok(());
        }
        Err(Finding::at(
            steps![section, key],
            format!("{section}.{key} is out of range"),
            format!("write {}", self.words),
        ))
    }

    fn check_all<Q: Copy>(
        &self,
        section: &str,
        key: &str,
        value: Toleranced<Q>,
        base: impl Fn(Q) -> f64,
    ) -> Result<(), Finding> {
        self.check(section, key, base(value.nominal))?;
        for end in [value.least, value.most] {
            self.check(section, key, base(end))
                .map_err(|finding| Finding {
                    message: format!("the tolerance takes {section}.{key} out of range"),
                    ..finding
                })?;
        }
        Ok(())
    }
}

/// The electronics of a file; defaults where nothing is written.
pub(super) fn electronics(file: &PanelFile) -> Result<Electronics, Finding> {
    let mut electronics = Electronics::default();
    if let Some(entry) = &file.circuit {
        belongs(entry)?;
        let found = Circuit {
            principle: principle(entry)?,
            counting: counting(entry)?,
            noise: noise(entry)?,
            ..plain_values(entry)?
        };
        electronics.circuit = found;
        electronics.drift = drift(entry)?;
        electronics.given.extend(circuit_paths(entry));
    }
    if let Some(entry) = &file.scan {
        electronics.scan = scan(entry)?;
        electronics.given.extend(scan_paths(entry));
    }
    if let Some(entry) = &file.battery {
        electronics.battery = Some(battery(entry)?);
        electronics.given.insert("battery.capacity");
        if entry.self_discharge.is_some() {
            electronics.given.insert("battery.self_discharge");
        }
    }
    Ok(electronics)
}

fn drift(entry: &CircuitEntry) -> Result<CircuitDrift, Finding> {
    let component_per_k = entry.temperature_coefficient.map(|given| given.0);
    let threshold_per_k = entry.threshold_drift.map(|given| given.0);
    let keys = [
        ("temperature_coefficient", component_per_k),
        ("threshold_drift", threshold_per_k),
    ];
    for (key, given) in keys {
        if let Some(given) = given {
            PER_KELVIN.check_all("circuit", key, given, |value| value)?;
        }
    }
    Ok(CircuitDrift {
        component_per_k,
        threshold_per_k,
    })
}

fn kind(entry: &CircuitEntry) -> PrincipleKind {
    entry
        .principle
        .map_or(PrincipleKind::ResistorOscillator, |word| word.0)
}

/// Keys of another principle, and keys that exclude each other.
fn belongs(entry: &CircuitEntry) -> Result<(), Finding> {
    use PrincipleKind::{ChargeTransfer, CurrentOscillator, ResistorOscillator};
    let oscillators = &[ResistorOscillator, CurrentOscillator][..];
    let owned = [
        (
            "resistor",
            entry.resistor.is_some(),
            &[ResistorOscillator][..],
        ),
        ("current", entry.current.is_some(), &[CurrentOscillator][..]),
        ("thresholds", entry.thresholds.is_some(), oscillators),
        ("gate", entry.gate.is_some(), oscillators),
        ("periods", entry.periods.is_some(), oscillators),
        (
            "reference_clock",
            entry.reference_clock.is_some(),
            oscillators,
        ),
        (
            "comparator_delay",
            entry.comparator_delay.is_some(),
            oscillators,
        ),
        (
            "integration_capacitor",
            entry.integration_capacitor.is_some(),
            &[ChargeTransfer][..],
        ),
        (
            "reference",
            entry.reference.is_some(),
            &[ChargeTransfer][..],
        ),
        (
            "transfer_time",
            entry.transfer_time.is_some(),
            &[ChargeTransfer][..],
        ),
    ];
    let own = kind(entry);
    for (key, given, owners) in owned {
        if given && !owners.contains(&own) {
            return Err(Finding::at_key(
                steps!["circuit", key],
                format!("a {} has no {}", own.words(), key.replace('_', " ")),
                format!("remove it, or write principle = \"{}\"", owners[0].words()),
            ));
        }
    }
    let exclude = [
        (
            "gate",
            entry.gate.is_some(),
            "periods",
            entry.periods.is_some(),
        ),
        (
            "noise",
            entry.noise.is_some(),
            "comparator_noise",
            entry.comparator_noise.is_some(),
        ),
        (
            "noise",
            entry.noise.is_some(),
            "low_frequency_noise",
            entry.low_frequency_noise.is_some(),
        ),
    ];
    for (one, has_one, other, has_other) in exclude {
        if has_one && has_other {
            return Err(Finding::at_key(
                steps!["circuit", other],
                format!("there are both \"{one}\" and \"{other}\""),
                match one {
                    "noise" => "\"noise\" is the measured total: write either that or the parts",
                    _ => "count periods in a gate, or time a number of periods: write one of them",
                },
            ));
        }
    }
    Ok(())
}

fn principle(entry: &CircuitEntry) -> Result<Principle, Finding> {
    let at = "circuit";
    let default_resistor = Toleranced::exact(Resistance::from_kilohms(100.0));
    let resistor = entry.resistor.map_or(default_resistor, |given| given.0);
    RESISTANCE.check_all(at, "resistor", resistor, Resistance::ohms)?;
    let current = entry
        .current
        .map_or(Toleranced::exact(DEFAULT_CURRENT), |given| given.0);
    CURRENT.check_all(at, "current", current, Current::amperes)?;
    let thresholds = thresholds(entry)?;
    let integration_capacitor = entry
        .integration_capacitor
        .map_or(Toleranced::exact(DEFAULT_INTEGRATION), |given| given.0);
    CAPACITANCE.check_all(
        at,
        "integration_capacitor",
        integration_capacitor,
        Capacitance::farads,
    )?;
    let reference = entry.reference.map_or(DEFAULT_REFERENCE, |given| given.0);
    if !(reference > 0.0 && reference < 1.0) {
        return Err(Finding::at(
            steps!["circuit", "reference"],
            "the reference lies outside the supply",
            "write a share between 0 and 1, such as \"1/2\"",
        ));
    }
    let transfer_time = entry
        .transfer_time
        .map_or(DEFAULT_TRANSFER_TIME, |given| given.0);
    MEASURING.check(at, "transfer_time", transfer_time.seconds())?;
    Ok(match kind(entry) {
        PrincipleKind::ResistorOscillator => Principle::ResistorOscillator {
            resistor,
            thresholds,
        },
        PrincipleKind::CurrentOscillator => Principle::CurrentOscillator {
            current,
            thresholds,
        },
        PrincipleKind::ChargeTransfer => Principle::ChargeTransfer {
            integration_capacitor,
            reference,
            transfer_time,
        },
    })
}

fn thresholds(entry: &CircuitEntry) -> Result<Thresholds, Finding> {
    let Some(given) = entry.thresholds else {
        return Ok(Thresholds::THIRDS);
    };
    let [low, high] = given.0;
    if low > 0.0 && low < high && high < 1.0 {
        return Ok(Thresholds { low, high });
    }
    Err(Finding::at(
        steps!["circuit", "thresholds"],
        "the thresholds do not rise between 0 and the supply",
        "write the lower one first, both between 0 and 1, such as \"1/3, 2/3\"",
    ))
}

fn counting(entry: &CircuitEntry) -> Result<Counting, Finding> {
    let at = "circuit";
    match (entry.periods, entry.reference_clock) {
        (None, None) => {
            let Some(gate) = entry.gate else {
                return Ok(Circuit::default().counting);
            };
            MEASURING.check(at, "gate", gate.0.seconds())?;
            Ok(Counting::Gate(gate.0))
        }
        (Some(periods), Some(clock)) => {
            CLOCK.check(at, "reference_clock", clock.0.hertz())?;
            if periods.0 == 0 {
                return Err(Finding::at(
                    steps![at, "periods"],
                    "no period is no measurement",
                    "write 1 or more",
                ));
            }
            Ok(Counting::Periods {
                periods: periods.0,
                reference_clock: clock.0,
            })
        }
        (Some(_), None) => Err(Finding::at_key(
            steps![at, "periods"],
            "nothing times the periods",
            "add reference_clock = \"16 MHz\", or count in a gate",
        )),
        (None, Some(_)) => Err(Finding::at_key(
            steps![at, "reference_clock"],
            "the reference clock has nothing to time",
            "add periods = 100, or remove it",
        )),
    }
}

fn noise(entry: &CircuitEntry) -> Result<NoiseSource, Finding> {
    let at = "circuit";
    if let Some(total) = entry.noise {
        COUNTS.check(at, "noise", total.0)?;
        return Ok(NoiseSource::Measured(total.0));
    }
    let NoiseSource::Parts(default) = Circuit::default().noise else {
        unreachable!("the default noise is computed");
    };
    let comparator = entry
        .comparator_noise
        .map_or(default.comparator, |given| given.0);
    VOLTAGE.check(at, "comparator_noise", comparator.volts())?;
    let low_frequency = entry
        .low_frequency_noise
        .map_or(default.low_frequency, |given| given.0);
    SHARE.check(at, "low_frequency_noise", low_frequency)?;
    Ok(NoiseSource::Parts(NoiseParts {
        comparator,
        low_frequency,
        ..default
    }))
}

/// The default circuit with the values that stand for themselves.
fn plain_values(entry: &CircuitEntry) -> Result<Circuit, Finding> {
    let at = "circuit";
    let default = Circuit::default();
    let supply = entry.supply.map_or(default.supply, |given| given.0);
    SUPPLY.check(at, "supply", supply.volts())?;
    let comparator_delay = entry
        .comparator_delay
        .map_or(default.comparator_delay, |given| given.0);
    DELAY.check(at, "comparator_delay", comparator_delay.seconds())?;
    let common_mode = entry.common_mode.map_or(default.common_mode, |g| g.0);
    VOLTAGE.check(at, "common_mode", common_mode.volts())?;
    let series_resistor = entry.series_resistor.map(|given| given.0);
    if let Some(resistor) = series_resistor {
        RESISTANCE.check(at, "series_resistor", resistor.ohms())?;
    }
    Ok(Circuit {
        start: entry.start.map_or(Start::Free, |word| word.0),
        supply,
        comparator_delay,
        common_mode,
        series_resistor,
        ..default
    })
}

fn scan(entry: &ScanEntry) -> Result<Scan, Finding> {
    let default = Scan::default();
    let time = |key: &str, bounds: &Bounds, given: Option<Time>, default: Time| {
        let time = given.unwrap_or(default);
        bounds.check("scan", key, time.seconds()).map(|()| time)
    };
    let current = |key: &str, given: Option<Current>, default: Current| {
        let current = given.unwrap_or(default);
        CONSUMPTION
            .check("scan", key, current.amperes())
            .map(|()| current)
    };
    Ok(Scan {
        settle: time(
            "settle",
            &WAITING,
            entry.settle.map(|g| g.0),
            default.settle,
        )?,
        cycle: time("cycle", &MEASURING, entry.cycle.map(|g| g.0), default.cycle)?,
        debounce: entry.debounce.map_or(default.debounce, |given| given.0),
        filter: time(
            "filter",
            &WAITING,
            entry.filter.map(|g| g.0),
            default.filter,
        )?,
        feedback: time(
            "feedback",
            &WAITING,
            entry.feedback.map(|g| g.0),
            default.feedback,
        )?,
        on_current: current(
            "on_current",
            entry.on_current.map(|g| g.0),
            default.on_current,
        )?,
        sleep_current: current(
            "sleep_current",
            entry.sleep_current.map(|g| g.0),
            default.sleep_current,
        )?,
    })
}

fn battery(entry: &BatteryEntry) -> Result<Battery, Finding> {
    CHARGE.check("battery", "capacity", entry.capacity.0.coulombs())?;
    let self_discharge = entry.self_discharge.map_or(0.0, |given| given.0);
    SHARE.check("battery", "self_discharge", self_discharge)?;
    Ok(Battery {
        capacity: entry.capacity.0,
        self_discharge_per_year: self_discharge,
    })
}

fn written<const N: usize>(keys: [(&'static str, bool); N]) -> impl Iterator<Item = &'static str> {
    let written = keys.into_iter().filter(|(_, given)| *given);
    written.map(|(path, _)| path)
}

fn circuit_paths(entry: &CircuitEntry) -> impl Iterator<Item = &'static str> {
    written([
        ("circuit.principle", entry.principle.is_some()),
        ("circuit.resistor", entry.resistor.is_some()),
        ("circuit.current", entry.current.is_some()),
        ("circuit.thresholds", entry.thresholds.is_some()),
        (
            "circuit.integration_capacitor",
            entry.integration_capacitor.is_some(),
        ),
        ("circuit.reference", entry.reference.is_some()),
        ("circuit.transfer_time", entry.transfer_time.is_some()),
        ("circuit.supply", entry.supply.is_some()),
        ("circuit.comparator_delay", entry.comparator_delay.is_some()),
        ("circuit.gate", entry.gate.is_some()),
        ("circuit.periods", entry.periods.is_some()),
        ("circuit.reference_clock", entry.reference_clock.is_some()),
        ("circuit.start", entry.start.is_some()),
        ("circuit.noise", entry.noise.is_some()),
        ("circuit.comparator_noise", entry.comparator_noise.is_some()),
        (
            "circuit.low_frequency_noise",
            entry.low_frequency_noise.is_some(),
        ),
        ("circuit.common_mode", entry.common_mode.is_some()),
        ("circuit.series_resistor", entry.series_resistor.is_some()),
        (
            "circuit.temperature_coefficient",
            entry.temperature_coefficient.is_some(),
        ),
        ("circuit.threshold_drift", entry.threshold_drift.is_some()),
    ])
}

fn scan_paths(entry: &ScanEntry) -> impl Iterator<Item = &'static str> {
    written([
        ("scan.settle", entry.settle.is_some()),
        ("scan.cycle", entry.cycle.is_some()),
        ("scan.debounce", entry.debounce.is_some()),
        ("scan.filter", entry.filter.is_some()),
        ("scan.feedback", entry.feedback.is_some()),
        ("scan.on_current", entry.on_current.is_some()),
        ("scan.sleep_current", entry.sleep_current.is_some()),
    ])
}
