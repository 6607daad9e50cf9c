//! What the algebra makes of one solved touch, per pad.

use crate::panel::lowering::{EffectiveLengths, FINGER, LoweredPart};
use crate::panel::{Connection, IdleState, ReturnPath};
use ndarray::Array2;
use padfield_engine::capacitance::{
    AlgebraError, Estimate, Measurement, Role, coupling, load, measure, measure_shift, weigh,
};
use padfield_engine::case::Dielectric;
use padfield_engine::field::{Bounded, FieldAnswer, Shift};

/// Matrices of one touch, kept so that any return path of the finger can be put to them.
#[derive(Clone, Debug)]
pub struct SolvedTouch {
    with: Bounded,
    shift: Option<Shift>,
    lengths: Option<EffectiveLengths>,
    parts: Vec<LoweredPart>,
    dielectrics: Vec<String>,
    by_permittivity: Vec<Array2<f64>>,
    by_permittivity_without: Vec<Array2<f64>>,
}

/// One touch as the pads see it, by panel index; nothing for pads that are not in the case.
#[derive(Clone, Debug, PartialEq)]
pub struct SeenTouch {
    /// Field parts of the untouched pads \[F\].
    pub bases: Vec<Option<Measurement>>,
    /// Shifts \[F\].
    pub shifts: Vec<Option<Estimate>>,
    /// Capacitances through the finger to earth \[F\]; nothing when the finger is not in the matrix.
    pub couplings: Vec<Option<f64>>,
    /// What the driver of each driven part has to charge while the pad is measured, untouched: name and
    /// capacitance \[F\].
    pub loads: Vec<Vec<(String, Estimate)>>,
    /// Names of the dielectrics of the case, layers first; the surrounding air is not among them.
    pub dielectrics: Vec<String>,
    /// Change of each base per relative change of each permittivity \[F\], in that order, the air last:
    /// over the base, the share of the field energy.
    pub base_parts: Vec<Option<Vec<f64>>>,
    /// The same of each shift \[F\].
    pub shift_parts: Vec<Option<Vec<f64>>>,
}

impl SolvedTouch {
    /// Keeps what is needed of an answer; `lengths` for a section's results per metre, `parts` and
    /// `dielectrics` as in the lowered case.
    pub fn new(
        answer: &FieldAnswer,
        lengths: Option<EffectiveLengths>,
        parts: &[LoweredPart],
        dielectrics: &[Dielectric],
    ) -> Self {
        Self {
            with: answer.with.clone(),
            shift: answer.shift.clone(),
            lengths,
            parts: parts.to_vec(),
            dielectrics: dielectrics.iter().map(|d| d.name.clone()).collect(),
            by_permittivity: answer.by_permittivity.clone(),
            by_permittivity_without: answer.by_permittivity_without.clone(),
        }
    }

    /// The same with the error bars of round and slanted outlines left out; nothing by permittivity.
    pub(super) fn without_outlines(&self) -> Self {
        Self {
            with: self.with.without_outlines(),
            shift: self.shift.as_ref().map(Shift::without_outlines),
            lengths: self.lengths,
            parts: self.parts.clone(),
            dielectrics: Vec::new(),
            by_permittivity: Vec::new(),
            by_permittivity_without: Vec::new(),
        }
    }

    /// Evaluates the touch for every pad of `pad_names`.
    ///
    /// # Errors
    /// A conductor that shall float has no capacitance. A return path through a capacitance needs the
    /// finger among the driven conductors, or it counts as earthed.
    pub fn seen(
        &self,
        pad_names: &[String],
        idle: IdleState,
        return_path: ReturnPath,
    ) -> Result<SeenTouch, AlgebraError> {
        let (base_length, shift_length) = self.lengths.map_or((1.0, 1.0), |lengths| {
            (lengths.base.metres(), lengths.shift.metres())
        });
        let mut seen = SeenTouch {
            bases: vec![None; pad_names.len()],
            shifts: vec![None; pad_names.len()],
            couplings: vec![None; pad_names.len()],
            loads: vec![Vec::new(); pad_names.len()],
            dielectrics: self.dielectrics.clone(),
            base_parts: vec![None; pad_names.len()],
            shift_parts: vec![None; pad_names.len()],
        };
        let Some(shift) = &self.shift else {
            return Ok(seen);
        };
        let idle_role = idle_role(idle);
        // What is at 0 V holds the finger that touches it there.
        let grounded = |part: &LoweredPart| part.connection == Connection::Grounded;
        let is_held = self.parts.iter().any(|p| p.is_touched && grounded(p));
        let finger_role = match is_held {
            true => Role::Grounded,
            false => body_role(return_path, shift_length),
        };
        let roles = |conductors: &[String], measured: &str, with_finger: bool| -> Vec<Role> {
            let role = |name: &String| match name.as_str() {
                name if name == measured => Role::Measured,
                FINGER => finger_role,
                name => match self.parts.iter().find(|part| part.name == name) {
                    Some(part) => part_role(part, with_finger, finger_role),
                    None => idle_role,
                },
            };
            conductors.iter().map(role).collect()
        };
        let finger = self.with.conductors.iter().position(|n| n == FINGER);
        for (index, name) in pad_names.iter().enumerate() {
            if !shift.without.conductors.contains(name) {
                continue;
            }
            let without_roles = roles(&shift.without.conductors, name, false);
            let with_roles = roles(&self.with.conductors, name, true);
            let base = measure(&shift.without, &without_roles)?;
            seen.loads[index] = self.loads(shift, &without_roles, base_length)?;
            let change = measure_shift(&self.with, shift, &with_roles, &without_roles)?;
            let both = self.by_permittivity_without.iter();
            let mut base_parts = Vec::new();
            let mut shift_parts = Vec::new();
            for (dry, touched) in both.zip(&self.by_permittivity) {
                let before = weigh(&shift.without, dry, &without_roles)?;
                let after = weigh(&self.with, touched, &with_roles)?;
                base_parts.push(before * base_length);
                shift_parts.push((after - before) * shift_length);
            }
            seen.base_parts[index] = Some(base_parts);
            seen.shift_parts[index] = Some(shift_parts);
            seen.bases[index] = Some(scale_measurement(base, base_length));
            seen.shifts[index] = Some(scale_estimate(change, shift_length));
            if let Some(finger) = finger {
                let through = coupling(&self.with, &with_roles, finger)?;
                seen.couplings[index] = Some(through * shift_length);
            }
        }
        Ok(seen)
    }

    /// What the driver of each driven part has to charge while a pad is measured, untouched.
    fn loads(
        &self,
        shift: &Shift,
        roles: &[Role],
        length: f64,
    ) -> Result<Vec<(String, Estimate)>, AlgebraError> {
        let rows = &shift.without.conductors;
        let mut loads = Vec::new();
        for LoweredPart { name, .. } in &self.parts {
            let Some(row) = rows.iter().position(|row| row == name) else {
                continue;
            };
            if let Some(load) = load(&shift.without, roles, row)? {
                loads.push((name.clone(), scale_estimate(load, length)));
            }
        }
        Ok(loads)
    }
}

impl SeenTouch {
    /// The same touch seen in a mirror: what was pad i is pad `images[i]`.
    pub fn mirrored(&self, images: &[usize]) -> Self {
        let mut mirrored = self.clone();
        for (index, &image) in images.iter().enumerate().take(self.bases.len()) {
            mirrored.bases[image] = self.bases[index];
            mirrored.shifts[image] = self.shifts[index];
            mirrored.couplings[image] = self.couplings[index];
            mirrored.loads[image].clone_from(&self.loads[index]);
            mirrored.base_parts[image].clone_from(&self.base_parts[index]);
            mirrored.shift_parts[image].clone_from(&self.shift_parts[index]);
        }
        mirrored
    }
}

/// What a body is to the pads; `length` scales results per metre, 1 in space.
pub(super) fn body_role(return_path: ReturnPath, length: f64) -> Role {
    match return_path {
        ReturnPath::Earthed => Role::Grounded,
        ReturnPath::Through(capacitance) => Role::Floating {
            to_zero: capacitance.farads() / length,
        },
    }
}

/// What a pad that is not measured is to the others.
pub(super) fn idle_role(idle: IdleState) -> Role {
    match idle {
        IdleState::Grounded => Role::Grounded,
        IdleState::Floating => Role::Floating { to_zero: 0.0 },
        IdleState::Driven => Role::Driven { gain: 1.0 },
    }
}

/// What a part is to a measured pad; under the finger that touches it nothing is left of it that could
/// float. `body` is the part of a finger, or of the hand that holds the part.
pub(super) fn part_role(part: &LoweredPart, with_finger: bool, body: Role) -> Role {
    match part.connection {
        _ if with_finger && part.is_touched => Role::Grounded,
        Connection::Grounded => Role::Grounded,
        Connection::Floating => Role::Floating { to_zero: 0.0 },
        Connection::Driven { gain } => Role::Driven { gain },
        Connection::Body => body,
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
    scaled.bounds.lower *= factor;
    scaled.bounds.upper *= factor;
    scaled.shape_term *= factor;
    scaled
}
