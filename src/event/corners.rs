//! What all pads show of a place at the corners of the field's inputs.

use crate::sensitivity::{Moved, PadRates, PanelFamily, PlaceModel};
use crate::touch::{PAD_NUMBERS, PadTouch};

/// Share of the way to an end by which a parameter is moved to see which end gives more.
const STEP: f64 = 1e-3;

/// What every pad shows, by panel index; none for pads that are not in the model.
pub type Shown = Vec<Option<PadTouch>>;

/// Logarithm of what powers miss of every number, by pad.
type Missed = Vec<Option<[f64; PAD_NUMBERS]>>;

/// A place at any corner: powers of the inputs from the exact derivatives, and what they miss as corners that
/// were solved again tell it.
#[derive(Clone, Debug, PartialEq)]
pub struct Corners {
    pads: Vec<Option<PadRates>>,
    /// Inputs of the field that have a tolerance, at both ends.
    inputs: Vec<[Moved; 2]>,
    /// Corners that were solved, with what the powers miss there.
    solved: Vec<(Vec<Moved>, Missed)>,
}

impl Corners {
    pub(super) fn new(family: &PanelFamily, model: &PlaceModel) -> Self {
        let parameters = family.parameters.iter().enumerate();
        let inputs = parameters.filter_map(|(index, parameter)| {
            let spread = parameter.spread.filter(|_| parameter.changes_field)?;
            Some([spread.least, spread.most].map(|to| Moved {
                index,
                from: parameter.value,
                to,
            }))
        });
        Self {
            inputs: inputs.collect(),
            pads: model.all.clone(),
            solved: Vec::new(),
        }
    }

    /// What every pad shows at nominal values.
    pub fn nominal(&self) -> Shown {
        let pads = self.pads.iter();
        pads.map(|pad| pad.as_ref().map(|pad| pad.nominal))
            .collect()
    }

    /// The corners where a value of what the pads show is least and most.
    pub fn towards(&self, value: &dyn Fn(&Shown) -> f64) -> [Vec<Moved>; 2] {
        let mut corners = [Vec::new(), Vec::new()];
        for ends in &self.inputs {
            let [less, more] = ends.map(|end| {
                let to = end.from + STEP * (end.to - end.from);
                value(&self.carried(&[Moved { to, ..end }]))
            });
            let [low, high] = *ends;
            let ends = if more >= less {
                [low, high]
            } else {
                [high, low]
            };
            for (corner, end) in corners.iter_mut().zip(ends) {
                corner.push(end);
            }
        }
        corners
    }

    /// What the pads show where a value of it is least and most.
    pub fn extremes(&self, value: &dyn Fn(&Shown) -> f64) -> [Shown; 2] {
        self.towards(value).map(|corner| self.at(&corner))
    }

    fn carried(&self, moved: &[Moved]) -> Shown {
        let pads = self.pads.iter();
        pads.map(|pad| pad.as_ref().map(|pad| pad.carried(moved)))
            .collect()
    }

    /// What the pads show at a corner.
    pub fn at(&self, corner: &[Moved]) -> Shown {
        let mut shown = self.carried(corner);
        for (pad, touch) in shown.iter_mut().enumerate() {
            if let Some(touch) = touch {
                let missed = self.missed(corner, pad);
                let mut numbers = touch.numbers();
                for (number, missed) in numbers.iter_mut().zip(missed) {
                    *number *= missed.exp();
                }
                *touch = PadTouch::from_numbers(numbers);
            }
        }
        shown
    }

    /// Takes a corner that was solved again.
    pub(super) fn learn(&mut self, corner: &[Moved], solved: &Shown) {
        let missed = self.carried(corner).into_iter().zip(solved);
        let missed = missed.map(|(carried, solved)| {
            let (carried, solved) = (carried?.numbers(), (*solved)?.numbers());
            Some(std::array::from_fn(|number| {
                let missed = (solved[number] / carried[number]).ln();
                // A number so small that it changes its sign tells nothing.
                if missed.is_finite() { missed } else { 0.0 }
            }))
        });
        self.solved.push((corner.to_vec(), missed.collect()));
    }

    /// Logarithm of what the powers miss of every number of a pad: the quadratic term along the way to the
    /// nearest corner that was solved. A quadratic form grows with the square of the way, and inputs that hardly
    /// move a number hardly turn its way.
    fn missed(&self, corner: &[Moved], pad: usize) -> [f64; PAD_NUMBERS] {
        let Some(rates) = &self.pads[pad] else {
            return [0.0; PAD_NUMBERS];
        };
        std::array::from_fn(|number| {
            let weighted = |a: &[Moved], b: &[Moved]| -> f64 {
                let both = a.iter().zip(b);
                both.map(|(a, b)| {
                    let exponent = rates.exponents(a.index, a.from)[number];
                    exponent.powi(2) * a.relative() * b.relative()
                })
                .sum()
            };
            let known = self.solved.iter().filter_map(|(solved, missed)| {
                let share = match solved == corner {
                    true => 1.0,
                    false => weighted(corner, solved) / weighted(solved, solved),
                };
                share
                    .is_finite()
                    .then_some((share, (*missed)[pad]?[number]))
            });
            let nearest = known.max_by(|a, b| a.0.total_cmp(&b.0));
            nearest.map_or(0.0, |(share, missed)| missed * share * share)
        })
    }

    /// The largest that the powers missed of base or shift of a pad at the corners that were solved.
    pub(super) fn largest_missed(&self, pad: usize) -> f64 {
        let all = self.solved.iter().filter_map(|(_, missed)| missed[pad]);
        all.map(|[base, shift, ..]| base.abs().max(shift.abs()))
            .fold(0.0, f64::max)
    }
}
