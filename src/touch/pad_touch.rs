//! A touch as one pad shows it, kept in five numbers that hold for every return path.

use super::places::Touches;
use super::seen::SeenTouch;
use crate::panel::ReturnPath;
use padfield_engine::capacitance::AlgebraError;
use padfield_engine::units::Capacitance;
use rayon::prelude::*;

/// How many numbers a [`PadTouch`] has.
pub const PAD_NUMBERS: usize = 5;

/// What one pad shows of a touch, under any return path of the finger.
///
/// The body is one conductor that floats behind a capacitance C to 0 V; eliminating it from Maxwell's
/// matrix leaves `shift(C) = earthed - through drawn / (finger + C)`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PadTouch {
    /// Field part of the base capacitance \[F\].
    pub base: f64,
    /// Shift under an earthed finger \[F\].
    pub earthed_shift: f64,
    /// Capacitance from the pad through the finger to earth \[F\].
    pub through: f64,
    /// Charge the measured pad, with what is driven beside it, draws at the finger per volt \[F\]: `through`
    /// again unless something is driven.
    pub drawn: f64,
    /// Capacitance of the finger to everything at 0 V \[F\].
    pub finger: f64,
}

impl PadTouch {
    /// Shift under a return path \[F\].
    pub fn shift(&self, return_path: ReturnPath) -> Capacitance {
        Capacitance::from_farads(match return_path {
            ReturnPath::Through(c) if self.drawn != 0.0 => {
                self.earthed_shift - self.through * self.drawn / (self.finger + c.farads())
            }
            _ => self.earthed_shift,
        })
    }

    /// Capacitance through which the far side of the return path acts on the pad.
    pub fn coupling(&self, return_path: ReturnPath) -> Capacitance {
        Capacitance::from_farads(match return_path {
            ReturnPath::Through(c) if self.finger > 0.0 => {
                self.through * c.farads() / (self.finger + c.farads())
            }
            _ => self.through,
        })
    }

    /// The five numbers in order.
    pub fn numbers(&self) -> [f64; PAD_NUMBERS] {
        [
            self.base,
            self.earthed_shift,
            self.through,
            self.drawn,
            self.finger,
        ]
    }

    /// From the five numbers in order.
    pub fn from_numbers([base, earthed_shift, through, drawn, finger]: [f64; PAD_NUMBERS]) -> Self {
        Self {
            base,
            earthed_shift,
            through,
            drawn,
            finger,
        }
    }

    /// Every number times the ratio of two other touches, such as of the same place on a panel with its
    /// values elsewhere; a number that was zero there stays as it is.
    pub fn scaled_like(&self, from: &Self, to: &Self) -> Self {
        let mut numbers = self.numbers();
        let pairs = from.numbers().into_iter().zip(to.numbers());
        for (number, (from, to)) in numbers.iter_mut().zip(pairs) {
            let ratio = to / from;
            // A shift so small that it changes its sign says nothing about another one.
            if ratio.is_finite() && ratio > 0.0 {
                *number *= ratio;
            }
        }
        Self::from_numbers(numbers)
    }
}

/// Two return paths beside the earthed one that tell the body's own capacitance from the shifts they leave.
pub(super) const PROBES: [ReturnPath; 3] = [
    ReturnPath::Earthed,
    ReturnPath::Through(Capacitance::from_farads(0.0)),
    ReturnPath::Through(Capacitance::from_farads(PROBE_F)),
];
const PROBE_F: f64 = 100e-12;

impl PadTouch {
    /// From the shifts under [`PROBES`]; without a capacitance through the finger nothing comes through it
    /// and the loss of the return path is kept in its two parts alike.
    pub(super) fn told(
        base: f64,
        [earthed_shift, open, probed]: [f64; 3],
        through: Option<f64>,
    ) -> Self {
        let (lost_open, lost_probed) = (earthed_shift - open, earthed_shift - probed);
        // lost(C) = through drawn / (finger + C), at two places.
        let finger = PROBE_F * lost_probed / (lost_open - lost_probed);
        let product = lost_open * finger;
        let is_told = finger.is_finite() && finger > 0.0 && product != 0.0;
        let through = through.filter(|through| *through != 0.0);
        match (is_told, through) {
            (true, through) => {
                let through = through.unwrap_or_else(|| product.abs().sqrt());
                Self {
                    base,
                    earthed_shift,
                    through,
                    drawn: product / through,
                    finger,
                }
            }
            // A finger that something holds at 0 V has no return path.
            (false, through) => Self {
                base,
                earthed_shift,
                through: through.unwrap_or(0.0),
                drawn: 0.0,
                finger: 0.0,
            },
        }
    }
}

/// What every pad shows, from what it shows under three return paths; nothing for pads that are not in the
/// model, or where the finger is not in the matrix.
///
/// # Errors
/// A conductor that shall float has no capacitance.
pub fn pad_touches(
    seen: &dyn Fn(ReturnPath) -> Result<SeenTouch, AlgebraError>,
) -> Result<Vec<Option<PadTouch>>, AlgebraError> {
    let [earthed, open, probed] = PROBES.map(seen);
    let (earthed, open, probed) = (earthed?, open?, probed?);
    let each = (0..earthed.bases.len()).map(|pad| {
        let (base, through) = (earthed.bases[pad]?, earthed.couplings[pad]?);
        let shifts = [&earthed, &open, &probed].map(|seen| seen.shifts[pad]);
        let [Some(earthed), Some(open), Some(probed)] = shifts else {
            return None;
        };
        let shifts = [earthed, open, probed].map(|shift| shift.value);
        Some(PadTouch::told(base.estimate.value, shifts, Some(through)))
    });
    Ok(each.collect())
}

impl Touches {
    /// Place number `index` as every pad shows it under any return path.
    ///
    /// # Errors
    /// A conductor that shall float has no capacitance.
    pub fn pads(&self, index: usize) -> Result<Vec<Option<PadTouch>>, AlgebraError> {
        pad_touches(&|path| self.seen(index, path))
    }

    /// All places, each as every pad shows it.
    ///
    /// # Errors
    /// A conductor that shall float has no capacitance.
    pub fn all_pads(&self) -> Result<Vec<Vec<Option<PadTouch>>>, AlgebraError> {
        let all = (0..self.len()).into_par_iter();
        all.map(|index| self.pads(index)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    /// Three conductors in a closed form: a pad with 1 pF to the finger, 5 pF to ground untouched, the
    /// finger with 3 pF to ground beside. Series and parallel capacitors, by hand.
    #[test]
    fn shifts_under_a_return_path_are_capacitors_in_series() {
        let touch = PadTouch {
            base: 5e-12,
            earthed_shift: 1e-12,
            through: 1e-12,
            drawn: 1e-12,
            finger: 4e-12,
        };
        for return_pf in [0.0, 2.0, 100.0] {
            let far = 3.0 + return_pf;
            let series = 1.0 * far / (1.0 + far);
            let path = ReturnPath::Through(Capacitance::from_pf(return_pf));
            assert_relative_eq!(touch.shift(path).pf(), series, max_relative = 1e-12);
            // One volt at the far end of the return path moves the finger by C / (4 + C).
            let coupled = return_pf / (4.0 + return_pf);
            assert_relative_eq!(touch.coupling(path).pf(), coupled, max_relative = 1e-12);
        }
        assert_eq!(touch.shift(ReturnPath::Earthed).pf(), 1.0);
    }
}
