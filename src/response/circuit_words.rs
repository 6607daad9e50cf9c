//! The measuring circuit in words, for the assumptions.

use super::assumptions::{mark, plain, toleranced};
use crate::measuring_circuit::{Counting, NoiseSource, Principle, Start, Thresholds};
use crate::panel::{Electronics, Panel};
use crate::rounding::of;

/// One line on circuit, counting and noise.
pub(super) fn circuit_line(panel: &Panel) -> String {
    let electronics = &panel.electronics;
    let circuit = &electronics.circuit;
    let marked = |path: &str| mark(electronics.origin(path));
    let mut line = format!(
        "Measuring circuit: {}, supply {} V{}; {}; {}",
        principle(electronics),
        plain(circuit.supply.volts(), 3),
        marked("circuit.supply"),
        counting(electronics),
        noise(electronics),
    );
    if circuit.common_mode.volts() > 0.0 {
        line += &format!(
            "; while touched {} mV rms between device ground and earth",
            plain(circuit.common_mode.mv(), 3)
        );
    }
    if let Some(resistor) = circuit.series_resistor {
        line += &format!(
            "; {} kohm in series with the pad",
            plain(resistor.kilohms(), 3)
        );
    }
    line + "."
}

/// One line on scan and battery.
pub(super) fn scan_line(electronics: &Electronics) -> String {
    let scan = &electronics.scan;
    let marked = |path: &str| mark(electronics.origin(path));
    let mut line = format!(
        "Scan: {} ms to settle{}, cycle {} ms{}, scans that must agree {}{}, filter {} ms{}, feedback {} \
         ms{}, {} mA while scanning{} and {} uA in between{}",
        plain(scan.settle.ms(), 4),
        marked("scan.settle"),
        plain(scan.cycle.ms(), 3),
        marked("scan.cycle"),
        scan.debounce,
        marked("scan.debounce"),
        plain(scan.filter.ms(), 3),
        marked("scan.filter"),
        plain(scan.feedback.ms(), 3),
        marked("scan.feedback"),
        plain(scan.on_current.ua() / 1000.0, 4),
        marked("scan.on_current"),
        plain(scan.sleep_current.ua(), 3),
        marked("scan.sleep_current"),
    );
    if let Some(battery) = &electronics.battery {
        line += &format!(
            "; battery {} mAh, self-discharge {} % a year{}",
            plain(battery.capacity.mah(), 2),
            plain(100.0 * battery.self_discharge_per_year, 2),
            marked("battery.self_discharge")
        );
    }
    line + "."
}

fn principle(electronics: &Electronics) -> String {
    let circuit = &electronics.circuit;
    let marked = |path: &str| mark(electronics.origin(path));
    let switching = |at: Thresholds| {
        format!(
            "thresholds {} and {} of the supply{}, comparator delay {} ns{}",
            plain(at.low, 3),
            plain(at.high, 3),
            marked("circuit.thresholds"),
            plain(circuit.comparator_delay.ns(), 2),
            marked("circuit.comparator_delay")
        )
    };
    match &circuit.principle {
        Principle::ResistorOscillator {
            resistor,
            thresholds,
        } => format!(
            "resistor oscillator{}, {}{}, {}",
            marked("circuit.principle"),
            toleranced(resistor, "kohm", 3, |r| r.kilohms()),
            marked("circuit.resistor"),
            switching(*thresholds)
        ),
        Principle::CurrentOscillator {
            current,
            thresholds,
        } => format!(
            "current oscillator, {} each way{}, {}",
            toleranced(current, "uA", 4, |i| i.ua()),
            marked("circuit.current"),
            switching(*thresholds)
        ),
        Principle::ChargeTransfer {
            integration_capacitor,
            reference,
            transfer_time,
        } => format!(
            "charge transfer into {}{} up to {} of the supply{}, {} us a transfer{}",
            toleranced(integration_capacitor, "nF", 4, |c| c.pf() / 1000.0),
            marked("circuit.integration_capacitor"),
            plain(*reference, 3),
            marked("circuit.reference"),
            plain(transfer_time.us(), 3),
            marked("circuit.transfer_time")
        ),
    }
}

fn counting(electronics: &Electronics) -> String {
    let circuit = &electronics.circuit;
    let marked = |path: &str| mark(electronics.origin(path));
    let start = match circuit.start {
        Start::Free => "free-running",
        Start::Synchronised => "synchronised start",
    };
    let what = match (&circuit.principle, &circuit.counting) {
        (Principle::ChargeTransfer { .. }, _) => "transfers counted".to_owned(),
        (_, Counting::Gate(gate)) => format!(
            "periods counted in a gate of {} ms{}",
            plain(gate.ms(), 4),
            marked("circuit.gate")
        ),
        (
            _,
            Counting::Periods {
                periods,
                reference_clock,
            },
        ) => format!(
            "{periods} periods timed by a clock of {} MHz",
            plain(reference_clock.khz() / 1000.0, 4)
        ),
    };
    format!("{what}, {start}{}", marked("circuit.start"))
}

fn noise(electronics: &Electronics) -> String {
    let marked = |path: &str| mark(electronics.origin(path));
    match electronics.circuit.noise {
        NoiseSource::Measured(total) => {
            format!(
                "noise entered as measured: {}",
                of(&plain(total, 3), "counts rms")
            )
        }
        NoiseSource::Parts(parts) => format!(
            "noise computed from quantisation, {} mV rms at the comparator{} and a floor of {} % of \
             the count{}",
            plain(parts.comparator.mv(), 4),
            marked("circuit.comparator_noise"),
            plain(100.0 * parts.low_frequency, 4),
            marked("circuit.low_frequency_noise")
        ),
    }
}
