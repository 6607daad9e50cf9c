//! Counts of one event on one panel: the formula behind every table of events.

use super::cause::Cause;
use super::thermal::drift_per_k;
use crate::panel::{Panel, ReturnPath, Supply};
use crate::touch::PadTouch;
use padfield_engine::units::Capacitance;

/// What one pad shows of the field of an event, whatever circuit and return path are.
#[derive(Clone, Debug, PartialEq)]
pub enum PadField {
    /// Somebody touches, or the surroundings change while a body may hold them: base before, shift.
    Changed(PadTouch),
    /// Nobody touches.
    Quiet {
        /// Field part of the base \[F\].
        base: f64,
        /// Change of the base per relative change of the permittivity of every dielectric layer \[F\], from the
        /// touched face.
        by_layer: Vec<f64>,
    },
}

impl PadField {
    /// Field part of the untouched base \[F\].
    pub fn base(&self) -> f64 {
        match self {
            Self::Changed(touch) => touch.base,
            Self::Quiet { base, .. } => *base,
        }
    }

    /// The same event where a touch of this pad went from `from` to `to`: what changes follows the ratio of
    /// the shifts, the base that of the bases.
    pub fn scaled_like(&self, from: &PadTouch, to: &PadTouch) -> Self {
        match self {
            Self::Changed(touch) => Self::Changed(touch.scaled_like(from, to)),
            Self::Quiet { base, by_layer } => {
                let ratio = to.base / from.base;
                Self::Quiet {
                    base: base * ratio,
                    by_layer: by_layer.iter().map(|part| part * ratio).collect(),
                }
            }
        }
    }
}

/// An event in counts, with all inputs at the values of the panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Counted {
    /// Towards a touch \[counts\].
    pub mean: f64,
    /// Noise \[counts rms\].
    pub noise: f64,
    /// Part of it that comes through the finger, from the voltage between device ground and earth.
    pub common_mode: f64,
}

/// The return path on a supply of the panel, given by its index, at nominal values; earthed without a supply.
pub fn return_path(panel: &Panel, supply: Option<usize>) -> ReturnPath {
    path_on(
        panel,
        supply.and_then(|index| panel.usage.supplies.value.get(index)),
    )
}

/// The same on a supply.
pub fn path_on(panel: &Panel, supply: Option<&Supply>) -> ReturnPath {
    let nominal = supply.and_then(|supply| supply.return_range(&panel.usage.body.value).nominal);
    nominal.map_or(ReturnPath::Earthed, ReturnPath::Through)
}

/// Counts of a touch of `pad` on a supply, with every input at the panel's nominal value; without a supply the
/// finger is earthed and nothing comes through it.
pub fn touched(panel: &Panel, pad: usize, supply: Option<&Supply>, touch: &PadTouch) -> Counted {
    through(panel, pad, supply, path_on(panel, supply), touch)
}

/// The same under another return path than the nominal one of the supply.
pub fn through(
    panel: &Panel,
    pad: usize,
    supply: Option<&Supply>,
    path: ReturnPath,
    touch: &PadTouch,
) -> Counted {
    let circuit = supply.map_or(panel.electronics.circuit, |supply| panel.circuit_on(supply));
    let stray = panel.stray.of(&panel.pads[pad]);
    let base = stray.at_pin(Capacitance::from_farads(touch.base)).nominal;
    let shift = touch.shift(path);
    let coupling = supply.map(|_| touch.coupling(path));
    Counted {
        mean: circuit.counts_towards_touch(base, shift),
        noise: circuit.noise_while_touched(base + shift, coupling),
        common_mode: coupling.map_or(0.0, |coupling| {
            circuit.common_mode_noise(base + shift, coupling)
        }),
    }
}

/// Counts towards a touch that drift away while a finger is held and the panel gets warmer at its fastest.
fn warming(panel: &Panel, at_pin: Capacitance, by_layer: &[f64]) -> f64 {
    let climate = &panel.environment.climate;
    let kelvin = climate.fastest_change_k_per_s.value * climate.held.value.seconds();
    drift_per_k(panel, at_pin, by_layer) * kelvin
}

/// Smallest and largest size of what lies between two signed ends.
pub(crate) fn sizes(range: [f64; 2]) -> [f64; 2] {
    let [low, high] = range.map(f64::abs);
    match range[0] * range[1] > 0.0 {
        true => [low.min(high), low.max(high)],
        false => [0.0, low.max(high)],
    }
}

/// Counts of an event of `pad` on a supply, given by its index, with every input at the panel's nominal value.
pub fn count(
    panel: &Panel,
    cause: &Cause,
    pad: usize,
    supply: Option<usize>,
    field: &PadField,
) -> Counted {
    let found = signed(panel, cause, pad, supply, field);
    match (cause, panel.usage.drift_residue) {
        // Towards a touch while it gets warmer or, with the other sign, colder.
        (Cause::Drift, None) => Counted {
            mean: found.mean.abs(),
            ..found
        },
        _ => found,
    }
}

/// The same with its sign: that of a drift while it gets warmer, of everything else as it is. Where inputs may
/// turn the sign, the size has no extreme at their ends, but this has.
pub(crate) fn signed(
    panel: &Panel,
    cause: &Cause,
    pad: usize,
    supply: Option<usize>,
    field: &PadField,
) -> Counted {
    let base = || {
        let stray = panel.stray.of(&panel.pads[pad]);
        stray.at_pin(Capacitance::from_farads(field.base())).nominal
    };
    let quiet = |mean: f64| Counted {
        mean,
        // Nobody touches, so nothing comes through a finger.
        noise: panel.electronics.circuit.noise(base()).total(),
        common_mode: 0.0,
    };
    match (cause, field) {
        (Cause::Noise, _) => quiet(0.0),
        (Cause::Drift, PadField::Quiet { by_layer, .. }) => match panel.usage.drift_residue {
            Some(residue) => {
                let circuit = &panel.electronics.circuit;
                quiet(circuit.counts_towards_touch(base(), residue))
            }
            None => quiet(warming(panel, base(), by_layer)),
        },
        (_, PadField::Quiet { .. }) => quiet(0.0),
        (_, PadField::Changed(touch)) => {
            let supply = supply.and_then(|index| panel.usage.supplies.value.get(index));
            touched(panel, pad, supply, touch)
        }
    }
}
