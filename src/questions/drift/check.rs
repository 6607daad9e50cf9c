//! The linear drift against solves with the permittivities of both ends.

use super::compute::{finger, single_pads, touches};
use super::{Drift, Question};
use crate::panel::{LayerContent, Panel};
use crate::touch::{TouchError, WorkLimits};
use padfield_engine::units::{Permittivity, Toleranced};

/// A pad at one end of the climate, linear and solved.
#[derive(Clone, Debug, PartialEq)]
pub struct CheckedEnd {
    pub pad: String,
    /// Temperature \[degrees Celsius\].
    pub celsius: f64,
    /// Drift of the base at nominal coefficients, linear and solved \[F\].
    pub base: [f64; 2],
    /// Change of the touch shift, linear and solved \[F\].
    pub shift: [f64; 2],
}

impl CheckedEnd {
    /// Solved minus linear drift of the base, over the base's drift.
    pub fn base_difference(&self) -> f64 {
        (self.base[1] - self.base[0]) / self.base[0].abs().max(f64::MIN_POSITIVE)
    }
}

/// Solves both ends of the climate at nominal coefficients, on the same grid, and holds the linear drift
/// against them.
///
/// # Errors
/// See [`TouchError`].
pub fn check(
    panel: &Panel,
    question: &Question<'_>,
    drift: &Drift,
    limits: &WorkLimits<'_>,
) -> Result<Vec<CheckedEnd>, TouchError> {
    let Some(finger) = finger(panel, question.finger) else {
        return Ok(Vec::new());
    };
    let limits = limits.starting_at(drift.fineness);
    let reference = drift.climate.reference_celsius.value;
    let mut checked = Vec::new();
    for end in 0..2 {
        let Some(celsius) = drift.pads.first().map(|pad| pad.ends[end].celsius) else {
            continue;
        };
        let there = at(panel, celsius - reference);
        let solved = touches(&there, finger, &limits)?;
        for (place, pad) in single_pads(panel).into_iter().enumerate() {
            let seen = solved.seen(place, finger.return_path)?;
            let linear = drift.pads.iter().find(|known| known.pad == pad);
            let (Some(linear), Some(base), Some(shift)) =
                (linear, seen.bases[pad], seen.shifts[pad])
            else {
                continue;
            };
            checked.push(CheckedEnd {
                pad: linear.name.clone(),
                celsius,
                base: [
                    linear.ends[end].base.nominal,
                    base.estimate.value - linear.base,
                ],
                shift: [linear.ends[end].shift.nominal, shift.value - linear.shift],
            });
        }
    }
    Ok(checked)
}

/// The panel with the permittivities of another temperature, at nominal coefficients.
fn at(panel: &Panel, kelvin: f64) -> Panel {
    let mut there = panel.clone();
    for (index, layer) in there.layers.iter_mut().enumerate() {
        let known = panel.properties(index).temperature_coefficient_per_k;
        let Some(per_k) = known.map(|known| known.value.nominal) else {
            continue;
        };
        if let LayerContent::Dielectric { permittivity, .. } = &mut layer.content {
            let relative = permittivity.nominal.relative() * (1.0 + per_k * kelvin);
            *permittivity = Toleranced::exact(Permittivity::from_relative(relative));
        }
    }
    there
}
