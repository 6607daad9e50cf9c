//! One solved touch: what the algebra makes of the engine's matrices, per pad.

use crate::capacitance::{AlgebraError, Estimate, Measurement, Role, measure, measure_shift};
use crate::field::FieldAnswer;
use crate::panel::lowering::{EffectiveLengths, FINGER};
use crate::panel::{IdleState, ReturnPath};

/// Field results of one touch by panel index of the pad; nothing for pads that are not in the case.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct FieldTouch {
    /// Field parts of the untouched pads \[F\].
    pub bases: Vec<Option<Measurement>>,
    /// Shifts \[F\].
    pub shifts: Vec<Option<Estimate>>,
}

impl FieldTouch {
    /// Evaluates an answer for every pad of `pad_names`.
    pub fn new(
        answer: &FieldAnswer,
        pad_names: &[String],
        idle: IdleState,
        return_path: ReturnPath,
        lengths: Option<EffectiveLengths>,
    ) -> Result<Self, AlgebraError> {
        let (base_length, shift_length) = lengths.map_or((1.0, 1.0), |lengths| {
            (lengths.base.metres(), lengths.shift.metres())
        });
        let Some(shift) = &answer.shift else {
            return Ok(Self {
                bases: vec![None; pad_names.len()],
                shifts: vec![None; pad_names.len()],
            });
        };
        let idle_role = match idle {
            IdleState::Grounded => Role::Grounded,
            IdleState::Floating => Role::Floating { to_zero: 0.0 },
            IdleState::Driven => Role::Driven { gain: 1.0 },
        };
        let finger_role = match return_path {
            ReturnPath::Earthed => Role::Grounded,
            ReturnPath::Through(capacitance) => Role::Floating {
                to_zero: capacitance.farads() / shift_length,
            },
        };
        let roles = |conductors: &[String], measured: &str| -> Vec<Role> {
            conductors
                .iter()
                .map(|name| match name.as_str() {
                    name if name == measured => Role::Measured,
                    FINGER => finger_role,
                    _ => idle_role,
                })
                .collect()
        };
        let mut bases = Vec::with_capacity(pad_names.len());
        let mut shifts = Vec::with_capacity(pad_names.len());
        for name in pad_names {
            if !shift.without.conductors.contains(name) {
                bases.push(None);
                shifts.push(None);
                continue;
            }
            let without_roles = roles(&shift.without.conductors, name);
            let with_roles = roles(&answer.with.conductors, name);
            let base = measure(&shift.without, &without_roles)?;
            let change = measure_shift(&answer.with, shift, &with_roles, &without_roles)?;
            bases.push(Some(scale_measurement(base, base_length)));
            shifts.push(Some(scale_estimate(change, shift_length)));
        }
        Ok(Self { bases, shifts })
    }

    /// The same touch seen in a mirror: what was pad i is pad `images[i]`.
    pub fn mirrored(&self, images: &[usize]) -> Self {
        let mut mirrored = self.clone();
        for (index, &image) in images.iter().enumerate().take(self.bases.len()) {
            mirrored.bases[image] = self.bases[index];
            mirrored.shifts[image] = self.shifts[index];
        }
        mirrored
    }
}

fn scale_estimate(estimate: Estimate, factor: f64) -> Estimate {
    Estimate {
        value: estimate.value * factor,
        error: estimate.error * factor,
    }
}

fn scale_measurement(measurement: Measurement, factor: f64) -> Measurement {
    let mut scaled = measurement;
    scaled.estimate = scale_estimate(measurement.estimate, factor);
    scaled.interval.lower *= factor;
    scaled.interval.upper *= factor;
    scaled.shape_term *= factor;
    scaled
}
