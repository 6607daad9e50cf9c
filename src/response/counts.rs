//! What the measuring circuit makes of the response: counts, their noise, time and current.

use super::answer::{Estimated, PadResponse, first_largest};
use crate::event::{Counted, return_path, touched};
use crate::measuring_circuit::{Battery, Check, Circuit, CountShift, NoiseCounts, ScanBudget};
use crate::panel::{Electronics, Origin, Panel};
use crate::touch::PadTouch;
use padfield_engine::units::{Capacitance, Frequency, Time, Toleranced, Voltage};

/// What a touch does to the count of another pad.
#[derive(Clone, Debug, PartialEq)]
pub struct NeighbourCounts {
    /// The other pad.
    pub pad: String,
    /// Shift of its own count.
    pub shift: CountShift,
}

/// A touch on one supply of the panel, every input at its nominal value.
#[derive(Clone, Debug, PartialEq)]
pub struct SupplyCounts {
    /// The supply.
    pub supply: String,
    /// Touch shift under its return path.
    pub shift: Capacitance,
    /// Capacitance through which its common-mode voltage acts on the pad.
    pub through: Capacitance,
    /// That voltage, rms.
    pub common_mode_voltage: Voltage,
    /// Counts and noise, as `window` and `return-path` count them.
    pub counted: Counted,
}

impl SupplyCounts {
    /// Count shift over the noise while touched, rms.
    pub fn signal_to_noise(&self) -> f64 {
        self.counted.mean / self.counted.noise
    }
}

/// A touch in counts.
#[derive(Clone, Debug, PartialEq)]
pub struct TouchCounts {
    /// Shift of the touched pad's count.
    pub shift: CountShift,
    /// The same over the base count (0.04 for 4 %).
    pub relative: f64,
    /// Noise while touched \[counts rms\], common mode included.
    pub noise: f64,
    /// Part of it that comes through the finger \[counts rms\].
    pub common_mode: f64,
    /// Capacitance from the pad through the finger to earth; only known when the circuit has a
    /// common-mode voltage or the finger a return path.
    pub through: Option<Capacitance>,
    /// Count shift over the noise while touched, rms.
    pub signal_to_noise: f64,
    /// Its estimated numerical error.
    pub signal_to_noise_error: f64,
    /// Every neighbour of the touch, in panel order.
    pub neighbours: Vec<NeighbourCounts>,
    /// The same touch on every supply that the panel describes; the other numbers are those under the finger's
    /// own return path.
    pub on_supplies: Vec<SupplyCounts>,
}

impl TouchCounts {
    /// The supply with the smallest signal-to-noise ratio; none where the panel describes none.
    pub fn worst_supply(&self) -> Option<&SupplyCounts> {
        let all = self.on_supplies.iter();
        all.min_by(|a, b| a.signal_to_noise().total_cmp(&b.signal_to_noise()))
    }

    /// The neighbour with the largest shift in counts; of equal ones the first.
    pub fn worst_neighbour(&self) -> Option<&NeighbourCounts> {
        first_largest(&self.neighbours, |one| one.shift.value)
    }
}

/// One pad in counts.
#[derive(Clone, Debug, PartialEq)]
pub struct PadCounts {
    /// The pad.
    pub pad: String,
    /// Count of the untouched pad at nominal values.
    pub base_count: f64,
    /// Smallest and largest over the tolerances of stray capacitance, circuit and, where they were solved, layers.
    pub base_range: [f64; 2],
    /// Frequency of the oscillator, or of the transfers, untouched.
    pub frequency: Frequency,
    /// Time of one measurement, untouched.
    pub measuring_time: Time,
    /// Share of a small relative change of capacitance that reaches the count, see
    /// [`Circuit::dilution`].
    pub dilution: f64,
    /// Noise of the untouched count.
    pub noise: NoiseCounts,
    /// The same as a capacitance, rms.
    pub equivalent_noise: Capacitance,
    /// Limits of the circuit at this pad.
    pub checks: Vec<Check>,
    /// The touch, when the finger was put on this pad.
    pub touch: Option<TouchCounts>,
}

/// The response in counts.
#[derive(Clone, Debug, PartialEq)]
pub struct Counts {
    /// Pads whose base is known, in panel order.
    pub pads: Vec<PadCounts>,
    /// Whether a rising capacitance makes the count rise; otherwise it falls.
    pub rises: bool,
    /// Time and current of a scan of all of them, when the panel says anything about it.
    pub scan: Option<ScanBudget>,
    /// Time the battery lasts, when there is one.
    pub battery_life: Option<Time>,
}

impl Counts {
    /// One pad by name.
    pub fn pad(&self, name: &str) -> Option<&PadCounts> {
        self.pads.iter().find(|pad| pad.pad == name)
    }
}

/// The touch of a pad, by its place in the panel, on every supply that the panel describes.
pub(super) fn on_supplies(panel: &Panel, pad: usize, touch: &PadTouch) -> Vec<SupplyCounts> {
    let usage = &panel.usage;
    if usage.supplies.origin == Origin::Default {
        return Vec::new();
    }
    let each = usage.supplies.value.iter().enumerate();
    each.map(|(index, supply)| {
        let path = return_path(panel, Some(index));
        SupplyCounts {
            supply: supply.name.clone(),
            shift: touch.shift(path),
            through: touch.coupling(path),
            common_mode_voltage: panel.circuit_on(supply).common_mode,
            counted: touched(panel, pad, Some(supply), touch),
        }
    })
    .collect()
}

/// What the field says of a touched pad beside its shift under the finger's own return path.
#[derive(Default)]
pub(super) struct Through {
    /// Capacitance from the pad through the finger to earth, where it is known.
    pub coupling: Option<Capacitance>,
    /// The touch on the supplies of the panel.
    pub on_supplies: Vec<SupplyCounts>,
}

/// Turns pads into counts. `through` tells what it is of a touched pad, by its place.
pub(super) fn counts(
    panel: &Panel,
    pads: &[PadResponse],
    through: &dyn Fn(usize) -> Through,
) -> Counts {
    let electronics = &panel.electronics;
    let circuit = &electronics.circuit;
    let in_counts: Vec<PadCounts> = pads
        .iter()
        .enumerate()
        .filter_map(|(index, pad)| pad_counts(circuit, pads, pad, through(index)))
        .collect();
    let bases: Vec<Capacitance> = pads
        .iter()
        .filter_map(|pad| Some(pad.base_at_pin?.nominal))
        .collect();
    let scan = (electronics.is_scan_given() && !bases.is_empty())
        .then(|| electronics.scan.budget(circuit, &bases));
    Counts {
        pads: in_counts,
        rises: circuit.rises(),
        battery_life: battery_life(electronics, scan.as_ref()),
        scan,
    }
}

fn battery_life(electronics: &Electronics, scan: Option<&ScanBudget>) -> Option<Time> {
    let battery: &Battery = electronics.battery.as_ref()?;
    Some(battery.life(scan?.average_current))
}

fn pad_counts(
    circuit: &Circuit,
    pads: &[PadResponse],
    pad: &PadResponse,
    through: Through,
) -> Option<PadCounts> {
    let base = pad.base_at_pin?.nominal;
    let noise = circuit.noise(base);
    Some(PadCounts {
        pad: pad.name.clone(),
        base_count: circuit.count(base),
        base_range: base_count_range(circuit, &pad.base_at_pin?),
        frequency: circuit.frequency(base),
        measuring_time: circuit.measuring_time(base),
        dilution: circuit.dilution(base),
        equivalent_noise: circuit.equivalent_noise(base, noise.total()),
        noise,
        checks: circuit.checks(base),
        touch: touch_counts(circuit, pads, pad, through),
    })
}

/// Base count from least to most over stray capacitance and circuit.
pub(super) fn base_count_range(circuit: &Circuit, at_pin: &Toleranced<Capacitance>) -> [f64; 2] {
    let [slow, fast] = circuit.at_tolerance_ends();
    let mut range = [f64::INFINITY, f64::NEG_INFINITY];
    for circuit in [circuit, &slow, &fast] {
        for end in [at_pin.least, at_pin.most] {
            let count = circuit.count(end);
            range = [range[0].min(count), range[1].max(count)];
        }
    }
    range
}

fn touch_counts(
    circuit: &Circuit,
    pads: &[PadResponse],
    pad: &PadResponse,
    Through {
        coupling,
        on_supplies,
    }: Through,
) -> Option<TouchCounts> {
    let touch = pad.touch.as_ref()?;
    let base = pad.base_at_pin?.nominal;
    let shift = count_shift(circuit, pad, touch.shift)?;
    let touched = base + touch.shift.value;
    let common_mode = coupling.map_or(0.0, |through| circuit.common_mode_noise(touched, through));
    let noise = circuit.noise_while_touched(touched, coupling);
    let neighbours = touch
        .neighbours
        .iter()
        .filter_map(|neighbour| {
            let other = pads.iter().find(|other| other.name == neighbour.pad)?;
            Some(NeighbourCounts {
                pad: neighbour.pad.clone(),
                shift: count_shift(circuit, other, neighbour.shift)?,
            })
        })
        .collect();
    Some(TouchCounts {
        relative: shift.value / circuit.count(base),
        signal_to_noise: shift.value / noise,
        signal_to_noise_error: shift.error / noise,
        shift,
        noise,
        common_mode,
        through: coupling,
        neighbours,
        on_supplies,
    })
}

/// The shift of a pad's count, exact at nominal values; its error to first order in those of base and
/// shift.
fn count_shift(circuit: &Circuit, pad: &PadResponse, shift: Estimated) -> Option<CountShift> {
    let at_pin = pad.base_at_pin?;
    let base_error = pad.base?.computed.error;
    Some(circuit.shift_in_counts(&at_pin, base_error, &[shift.value], shift.error))
}
