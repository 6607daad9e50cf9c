//! What a solved touch says about the change of every pad with each layer, to first order.

use super::count::through;
use super::interval::{Spread, weighted};
use crate::measuring_circuit::Principle;
use crate::panel::{Panel, ReturnPath};
use crate::touch::{PadTouch, SeenTouch};
use padfield_engine::units::Capacitance;

/// One thing that changes with temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct LinearPart {
    pub name: String,
    /// Index of the layer; none for the circuit.
    pub layer: Option<usize>,
    /// Counts towards a touch per relative change of it.
    pub counts: f64,
    /// Its relative change per kelvin \[1/K\].
    pub per_k: Spread,
}

/// A pad to first order about the reference temperature.
#[derive(Clone, Debug, PartialEq)]
pub struct LinearDrift {
    /// Field part of the base \[F\].
    pub base: f64,
    /// Its estimated error \[F\].
    pub base_error: f64,
    pub base_at_pin: Capacitance,
    pub base_count: f64,
    /// Change of the base per relative change of each dielectric layer \[F\], from the touched face.
    pub base_by_layer: Vec<f64>,
    /// What changes with temperature.
    pub parts: Vec<LinearPart>,
    /// How far the field energies of all materials are from the base, relative: of the numerical error.
    pub energy_mismatch: f64,
}

impl LinearDrift {
    /// Counts towards a touch per kelvin.
    pub fn counts_per_k(&self) -> Spread {
        let parts = self.parts.iter();
        parts.fold(Spread::default(), |sum, part| {
            sum.plus(part.per_k.scaled(part.counts))
        })
    }
}

/// Relative change per kelvin of each dielectric layer; nothing where no figure is known.
pub(crate) fn coefficients(panel: &Panel) -> Vec<Spread> {
    let layers = panel.dielectric_layers();
    layers
        .map(|layer| {
            let known = panel.properties(layer).temperature_coefficient_per_k;
            known.map_or_else(Spread::default, |known| known.value.into())
        })
        .collect()
}

/// Of the change per relative change of every dielectric of the case, those of the layers.
///
/// The dielectrics of a case begin with the layers.
pub(super) fn of_layers(panel: &Panel, parts: &[f64]) -> Vec<f64> {
    let count = panel.dielectric_layers().count();
    parts.iter().copied().take(count).collect()
}

/// Counts towards a touch per kelvin of an untouched pad at nominal coefficients, from its base at the pin and
/// the change of its field part per relative change of every layer \[F\].
pub(super) fn drift_per_k(panel: &Panel, at_pin: Capacitance, by_layer: &[f64]) -> f64 {
    let parts = parts(panel, at_pin, by_layer);
    parts
        .iter()
        .map(|part| part.per_k.nominal * part.counts)
        .sum()
}

/// What changes with temperature of a pad with this base at the pin.
fn parts(panel: &Panel, at_pin: Capacitance, by_layer: &[f64]) -> Vec<LinearPart> {
    let circuit = &panel.electronics.circuit;
    let per_farad = circuit.counts_per_farad(at_pin).abs();
    let coefficients = coefficients(panel);
    let mut parts: Vec<LinearPart> = panel
        .dielectric_layers()
        .zip(by_layer.iter().zip(&coefficients))
        .map(|(layer, (farads, per_k))| LinearPart {
            name: panel.layers[layer].name.clone(),
            layer: Some(layer),
            counts: farads * per_farad,
            per_k: *per_k,
        })
        .collect();
    if let Some(per_k) = circuit_per_k(panel, circuit.dilution(at_pin)) {
        parts.push(LinearPart {
            name: CIRCUIT.to_owned(),
            layer: None,
            counts: circuit.count(at_pin),
            per_k,
        });
    }
    parts
}

/// An untouched pad, from a touch of any pad of the panel that was solved; nothing for a pad that is not in
/// the case.
pub fn linear_drift(panel: &Panel, seen: &SeenTouch, pad: usize) -> Option<LinearDrift> {
    let base = seen.bases[pad]?.estimate;
    let all = seen.base_parts[pad].as_ref()?;
    let sum: f64 = all.iter().sum();
    // The shares are exact, their sum is that of another energy than the reported value.
    let scale = if sum > 0.0 { base.value / sum } else { 1.0 };
    let base_by_layer: Vec<f64> = of_layers(panel, all)
        .into_iter()
        .map(|part| part * scale)
        .collect();
    let at_pin = panel
        .stray
        .of(&panel.pads[pad])
        .at_pin(Capacitance::from_farads(base.value))
        .nominal;
    Some(LinearDrift {
        base: base.value,
        base_error: base.error,
        base_at_pin: at_pin,
        base_count: panel.electronics.circuit.count(at_pin),
        parts: parts(panel, at_pin, &base_by_layer),
        base_by_layer,
        energy_mismatch: (scale - 1.0).abs(),
    })
}

/// Name of the circuit among the parts.
const CIRCUIT: &str = "circuit";

/// Relative change per kelvin of the count towards a touch through the circuit alone; none when nothing was
/// said about it.
///
/// A larger resistor lengthens the period like a larger capacitance, a larger current shortens it, a larger
/// integration capacitor takes more transfers; what the delay dilutes of the one it dilutes of the other.
fn circuit_per_k(panel: &Panel, dilution: f64) -> Option<Spread> {
    let drift = panel.electronics.drift;
    let [component_sign, threshold_sign] = match panel.electronics.circuit.principle {
        Principle::ResistorOscillator { .. } => [1.0, 1.0],
        Principle::CurrentOscillator { .. } => [-1.0, 1.0],
        Principle::ChargeTransfer { .. } => [-1.0, -1.0],
    };
    let component = drift
        .component_per_k
        .map(|given| Spread::from(given).scaled(component_sign * dilution));
    let threshold = drift
        .threshold_per_k
        .map(|given| Spread::from(given).scaled(threshold_sign));
    match (component, threshold) {
        (Some(one), Some(other)) => Some(one.plus(other)),
        (one, other) => one.or(other),
    }
}

/// Change of a shift per kelvin \[F/K\].
pub(crate) fn shift_per_k(panel: &Panel, seen: &SeenTouch, pad: usize) -> Option<Spread> {
    let parts = seen.shift_parts[pad].as_ref()?;
    Some(weighted(
        &of_layers(panel, parts),
        coefficients(panel).iter(),
    ))
}

/// Counts of a touch that was solved, so many kelvin from the reference temperature: base, shift and circuit moved
/// as far as their coefficients say, each at either end.
pub(crate) fn touch_over_kelvin(
    panel: &Panel,
    seen: &SeenTouch,
    pad: usize,
    own: &LinearDrift,
    kelvin: f64,
) -> Spread {
    let base = weighted(&own.base_by_layer, coefficients(panel).iter()).scaled(kelvin);
    let shift = shift_per_k(panel, seen, pad).unwrap_or_default();
    let shift = shift.scaled(kelvin);
    let before = seen.shifts[pad].map_or(0.0, |shift| shift.value);
    // What the circuit does to all counts it does to those of a touch.
    let circuit_parts = own.parts.iter().filter(|part| part.layer.is_none());
    let rate = circuit_parts.fold(Spread::default(), |sum, part| {
        sum.plus(part.per_k.scaled(kelvin))
    });
    let sign = if panel.electronics.circuit.rises() {
        1.0
    } else {
        -1.0
    };
    let touch = |base: f64, shift: f64, rate: f64| {
        // The shift is that under the finger's own return path.
        let touch = PadTouch {
            base: own.base + base,
            earthed_shift: before + shift,
            through: 0.0,
            drawn: 0.0,
            finger: 0.0,
        };
        let counted = through(panel, pad, None, ReturnPath::Earthed, &touch);
        counted.mean * (1.0 + sign * rate)
    };
    let mut counts = Spread::exact(touch(base.nominal, shift.nominal, rate.nominal));
    for base in [base.least, base.most] {
        for shift in [shift.least, shift.most] {
            for rate in [rate.least, rate.most] {
                counts = counts.with(touch(base, shift, rate));
            }
        }
    }
    counts
}
