//! The measuring circuit, the scan, the battery.

use super::common::*;
use super::scan::{battery, scan};
use crate::measuring_circuit::{
    Circuit, Counting, NoiseParts, NoiseSource, Principle, Start, Thresholds,
};
use crate::panel::{CircuitDrift, Electronics};

words!(for Start as "Start": "free" => Free, "synchronised" => Synchronised);
words!(
    /// Measuring principle; its values are keys of their own.
    PrincipleKind as "Principle":
        "resistor oscillator" => ResistorOscillator,
        "current oscillator" => CurrentOscillator,
        "charge transfer" => ChargeTransfer
);

impl PrincipleKind {
    /// The words of the panel file.
    fn words(self) -> &'static str {
        let own = Self::KNOWN.iter().find(|(_, kind)| *kind == self);
        own.map_or("", |(words, _)| words)
    }
}

/// `[circuit]`: how capacitance becomes counts.
#[derive(Clone, Debug, Default, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CircuitEntry {
    /// Measuring principle; default resistor oscillator.
    pub principle: Option<Word<PrincipleKind>>,
    /// Resistor of a resistor oscillator; default 100 kohm.
    pub resistor: Option<WithTolerance<Resistance>>,
    /// Current of a current oscillator, each way; default 10 uA.
    pub current: Option<WithTolerance<Current>>,
    /// Lower and upper threshold of an oscillator over the supply; default 1/3, 2/3.
    pub thresholds: Option<FractionPair>,
    /// Integration capacitor of a charge transfer; default 47 nF.
    pub integration_capacitor: Option<WithTolerance<Capacitance>>,
    /// Reference voltage of a charge transfer over the supply; default 1/2.
    pub reference: Option<Fraction>,
    /// Time of one charge transfer; default 2 us.
    pub transfer_time: Option<One<Time>>,
    /// Supply voltage; default 3.3 V.
    pub supply: Option<One<Voltage>>,
    /// Delay of the comparator, each way; default 40 ns.
    pub comparator_delay: Option<One<Time>>,
    /// Time in which periods are counted; default 10 ms.
    pub gate: Option<One<Time>>,
    /// Instead of a gate: periods that are timed by the reference clock.
    pub periods: Option<WholeNumber>,
    /// Clock that times the periods.
    pub reference_clock: Option<One<Frequency>>,
    /// Whether the measurement starts "free" (default) or "synchronised" with what it is counted by.
    pub start: Option<Word<Start>>,
    /// Measured noise of the untouched count, rms, in total; instead of the computed one.
    pub noise: Option<One<Counts>>,
    /// Noise at the comparator's input, rms; default 1 mV.
    pub comparator_noise: Option<One<Voltage>>,
    /// Share of the count that does not average out, rms; default 0.03 %.
    pub low_frequency_noise: Option<One<Share>>,
    /// Voltage between device ground and earth in the band of the measurement, rms; default 0 V.
    pub common_mode: Option<One<Voltage>>,
    /// Resistor between pad and pin; default none.
    pub series_resistor: Option<One<Resistance>>,
    /// Change with temperature of what sets the rate: resistor, current or integration capacitor; default
    /// not counted.
    pub temperature_coefficient: Option<WithTolerance<TemperatureCoefficient>>,
    /// Change of period or transfers with temperature, through thresholds and comparator; default not
    /// counted.
    pub threshold_drift: Option<WithTolerance<TemperatureCoefficient>>,
}

/// What of `[circuit]` can be varied.
pub const ROWS: Rows = Rows {
    varied: &[
        circuit("resistor", Measure::Resistance, [0.1, 100_000.0], DOUBTED),
        circuit("current", Measure::Current, [0.01, 10_000.0], DOUBTED),
        circuit(
            "integration_capacitor",
            Measure::Capacitance,
            [10.0, 1e7],
            DOUBTED,
        ),
        circuit("reference", Measure::Share, [1.0, 99.0], NONE),
        circuit("transfer_time", Measure::Time, [1e-4, 1.0], NONE),
        circuit("supply", Measure::Voltage, [0.5, 30.0], NONE),
        circuit("comparator_delay", Measure::Time, [0.0, 1.0], NONE),
        circuit("gate", Measure::Time, [0.01, 1000.0], REMEDY),
        circuit("reference_clock", Measure::Frequency, [0.01, 1000.0], NONE),
        circuit("noise", Measure::Counts, [0.0, 10_000.0], DISTURBING),
        circuit("comparator_noise", Measure::Voltage, [0.0, 1.0], DISTURBING),
        circuit(
            "low_frequency_noise",
            Measure::Share,
            [0.0, 10.0],
            DISTURBING,
        ),
        circuit("common_mode", Measure::Voltage, [0.0, 100.0], DISTURBING),
        circuit("series_resistor", Measure::Resistance, [0.0, 1000.0], NONE),
    ],
    fixed: &[
        choice(
            &["thresholds"],
            "these are two shares of the supply, no single number",
        ),
        choice(&["periods"], COUNTED),
        still(&["temperature_coefficient", "threshold_drift"], OF_DRIFT),
    ],
};

/// Common practice, no source.
const DEFAULT_CURRENT: Current = Current::from_ua(10.0);
/// Common practice, no source.
const DEFAULT_INTEGRATION: Capacitance = Capacitance::from_pf(47_000.0);
/// Common practice, no source.
const DEFAULT_REFERENCE: f64 = 0.5;
/// Common practice, no source.
const DEFAULT_TRANSFER_TIME: Time = Time::from_us(2.0);

const RESISTANCE: Bounds = bounds(1.0, 1e9, "1 ohm to 1000 Mohm");
const CURRENT: Bounds = bounds(1e-9, 1.0, "1 nA to 1 A");
const CAPACITANCE: Bounds = bounds(1e-12, 1e-3, "1 pF to 1000000 nF");
const SUPPLY: Bounds = bounds(0.1, 1000.0, "0.1 V to 1000 V");
const DELAY: Bounds = bounds(0.0, 1.0, "0 s to 1 s");
pub const MEASURING: Bounds = bounds(1e-9, 1000.0, "1 ns to 1000 s");
const CLOCK: Bounds = bounds(1.0, 1e12, "1 Hz to 1000000 MHz");
const COUNTS: Bounds = bounds(0.0, 1e9, "0 counts to 1e9 counts");
const VOLTAGE: Bounds = bounds(0.0, 1000.0, "0 V to 1000 V");
pub const SHARE: Bounds = bounds(0.0, 1.0, "0 % to 100 %");
const PER_KELVIN: Bounds = bounds(-0.01, 0.01, "-10000 ppm/K to 10000 ppm/K");

/// The electronics of a file; defaults where nothing is written.
pub(crate) fn electronics(file: &PanelFile) -> Result<Electronics, Finding> {
    let mut electronics = Electronics::default();
    if let Some(entry) = &file.circuit {
        belongs(entry)?;
        let found = Circuit {
            principle: principle(entry)?,
            counting: counting(entry)?,
            noise: noise(entry)?,
            ..plain_values(entry)?
        };
        electronics.given.extend(entry.paths("circuit"));
        electronics.circuit = found;
        electronics.drift = drift(entry)?;
    }
    if let Some(entry) = &file.scan {
        electronics.given.extend(entry.paths("scan"));
        electronics.scan = scan(entry)?;
    }
    if let Some(entry) = &file.battery {
        electronics.given.extend(entry.paths("battery"));
        electronics.battery = Some(battery(entry)?);
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

/// Keys that belong to some principles only.
const OWNED: [(&[&str], &[PrincipleKind]); 4] = [
    (&["resistor"], &[PrincipleKind::ResistorOscillator]),
    (&["current"], &[PrincipleKind::CurrentOscillator]),
    (
        &[
            "thresholds",
            "comparator_delay",
            "gate",
            "periods",
            "reference_clock",
        ],
        &[
            PrincipleKind::ResistorOscillator,
            PrincipleKind::CurrentOscillator,
        ],
    ),
    (
        &["integration_capacitor", "reference", "transfer_time"],
        &[PrincipleKind::ChargeTransfer],
    ),
];
/// Keys that exclude each other, with what to do about it.
const EXCLUDED: [(&str, &str, &str); 3] = [
    ("gate", "periods", ONE_COUNTING),
    ("noise", "comparator_noise", ONE_NOISE),
    ("noise", "low_frequency_noise", ONE_NOISE),
];
const ONE_COUNTING: &str =
    "count periods in a gate, or time a number of periods: write one of them";
const ONE_NOISE: &str = "\"noise\" is the measured total: write either that or the parts";

/// Keys of another principle, and keys that exclude each other.
fn belongs(entry: &Keyed<CircuitEntry>) -> Result<(), Finding> {
    let own = kind(entry);
    for (keys, owners) in OWNED {
        if let Some(key) = entry.any_of(keys)
            && !owners.contains(&own)
        {
            return Err(Finding::at_key(
                steps!["circuit", key],
                format!("a {} has no {}", own.words(), key.replace('_', " ")),
                format!("remove it, or write principle = \"{}\"", owners[0].words()),
            ));
        }
    }
    for (one, other, hint) in EXCLUDED {
        if entry.has(one) && entry.has(other) {
            return Err(Finding::at_key(
                steps!["circuit", other],
                format!("there are both \"{one}\" and \"{other}\""),
                hint,
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
