//! Inputs beside the field at the ends of their tolerances.

use super::cause::Worst;
use crate::panel::Panel;
use crate::sensitivity::PanelFamily;
use std::collections::HashMap;
use std::sync::{Arc, Mutex};

/// Panels of a family with the values that only circuit, return path and climate see at the ends of their
/// tolerances.
pub struct InputEnds<'f> {
    family: &'f PanelFamily,
    /// Parameters beside the field that have a tolerance.
    varying: Vec<usize>,
    /// By which end every varying parameter is at: -1, 0, 1; none for an impossible panel.
    known: Mutex<HashMap<Vec<i8>, Option<Arc<Panel>>>>,
}

impl<'f> InputEnds<'f> {
    pub fn new(family: &'f PanelFamily) -> Self {
        let varies = |index: &usize| {
            let parameter = &family.parameters[*index];
            !parameter.changes_field && parameter.spread.is_some()
        };
        Self {
            family,
            varying: (0..family.parameters.len()).filter(varies).collect(),
            known: Mutex::new(HashMap::new()),
        }
    }

    pub fn nominal(&self) -> &Panel {
        &self.family.panel
    }

    fn panel(&self, corner: &[i8]) -> Option<Arc<Panel>> {
        let mut known = self.known.lock().expect("no holder of the panels panics");
        if let Some(panel) = known.get(corner) {
            return panel.clone();
        }
        let moved: Vec<(usize, f64)> = self
            .varying
            .iter()
            .zip(corner)
            .filter_map(|(&index, end)| {
                let spread = self.family.parameters[index].spread?;
                match end {
                    0 => None,
                    end if *end < 0 => Some((index, spread.least)),
                    _ => Some((index, spread.most)),
                }
            })
            .collect();
        let panel = self.family.panel(&moved).ok().map(Arc::new);
        known.insert(corner.to_vec(), panel.clone());
        panel
    }

    /// The unit with the largest `badness`, every input at an end of its tolerance or all at nominal values.
    pub fn worst(&self, unit: &dyn Fn(&Panel) -> Worst, badness: &dyn Fn(&Worst) -> f64) -> Worst {
        let mut worst = unit(self.nominal());
        let mut most = badness(&worst);
        extreme(1.0, self.varying.len(), most, &mut |corner| {
            let found = unit(&*self.panel(corner)?);
            let bad = badness(&found);
            if bad > most {
                (worst, most) = (found, bad);
            }
            Some(bad)
        });
        worst
    }

    /// Smallest and largest of what `value` makes of the panels with every input at an end of its tolerance.
    pub fn range(&self, value: &dyn Fn(&Panel) -> f64) -> [f64; 2] {
        let start = value(self.nominal());
        extremes(self.varying.len(), start, &mut |corner| {
            self.panel(corner).map(|panel| value(&panel))
        })
    }
}

/// Smallest and largest value over the ends of so many inputs, each -1, 0 (nominal, worth `start`) or 1, by
/// going from end to end of one input after the other until nothing gets smaller or larger: the extremes of
/// whatever rises or falls with every input. Corners without a value are left out.
pub(crate) fn extremes(
    inputs: usize,
    start: f64,
    value: &mut dyn FnMut(&[i8]) -> Option<f64>,
) -> [f64; 2] {
    [-1.0, 1.0].map(|direction| extreme(direction, inputs, start, value))
}

/// The same for one of them: the largest for a direction of 1, the smallest for -1.
fn extreme(
    direction: f64,
    inputs: usize,
    start: f64,
    value: &mut dyn FnMut(&[i8]) -> Option<f64>,
) -> f64 {
    let mut corner = vec![0_i8; inputs];
    let mut best = start;
    loop {
        let before = best;
        for axis in 0..inputs {
            let mut chosen = corner[axis];
            for end in [-1, 1] {
                corner[axis] = end;
                if end != chosen
                    && let Some(found) = value(&corner)
                    && direction * (found - best) > 0.0
                {
                    best = found;
                    chosen = end;
                }
            }
            corner[axis] = chosen;
        }
        if best == before {
            return best;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_extremes_of_a_product_of_powers_are_at_its_corners() {
        // Exponents of either sign; every corner of five inputs by hand.
        let exponents = [1.2, -0.4, 0.0, -2.0, 0.3];
        let value = |corner: &[i8]| -> f64 {
            let each = corner.iter().zip(exponents);
            each.map(|(end, power)| (1.0 + 0.1 * f64::from(*end)).powf(power))
                .product()
        };
        let all = (0..32_u8).map(|bits| {
            let corner: Vec<i8> = (0..5)
                .map(|axis| 2 * (bits >> axis & 1) as i8 - 1)
                .collect();
            value(&corner)
        });
        let expected = all.fold([f64::INFINITY, 0.0_f64], |r, v| [r[0].min(v), r[1].max(v)]);
        let found = extremes(5, 1.0, &mut |corner| Some(value(corner)));
        for end in 0..2 {
            assert!(
                (found[end] / expected[end] - 1.0).abs() < 1e-12,
                "{found:?} {expected:?}"
            );
        }
    }
}
