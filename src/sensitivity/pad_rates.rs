//! What one pad shows of a place, and how that moves with the parameters of a panel.

use crate::touch::{PAD_NUMBERS, PadTouch};

/// Ratios of a value up to which, and down to whose inverse, a power of it is followed; a number beyond is no size
/// but a place, and its change counts as it is.
const MOST_RATIO: f64 = 4.0;

/// A parameter, by index, on its way from one value to another \[SI\].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Moved {
    /// Index in the family.
    pub index: usize,
    /// Nominal value.
    pub from: f64,
    /// Value it has now.
    pub to: f64,
}

impl Moved {
    /// Logarithm of the ratio of both values; of what is no size the relative change, zero from zero.
    pub fn relative(&self) -> f64 {
        let ratio = self.to / self.from;
        if self.from == 0.0 {
            0.0
        } else if (1.0 / MOST_RATIO..=MOST_RATIO).contains(&ratio) {
            ratio.ln()
        } else {
            ratio - 1.0
        }
    }
}

/// What one pad shows at nominal values, with its rates.
#[derive(Clone, Debug, PartialEq)]
pub struct PadRates {
    pub nominal: PadTouch,
    /// Rates of its numbers per unit of every parameter, SI; zero where they were not asked for.
    pub rates: Vec<[f64; PAD_NUMBERS]>,
}

impl PadRates {
    /// Relative change of each number per relative change of a parameter; zero for a number that is zero.
    pub fn exponents(&self, index: usize, value: f64) -> [f64; PAD_NUMBERS] {
        let numbers = self.nominal.numbers();
        std::array::from_fn(|number| match numbers[number] {
            0.0 => 0.0,
            before => self.rates[index][number] * value / before,
        })
    }

    /// Rates to a parameter at its nominal value, of the powers through what the pad shows at two values, or of a line
    /// for a number that changes its sign.
    pub fn rates_through(
        &self,
        nominal: f64,
        [(from, low), (to, high)]: [(f64, PadTouch); 2],
    ) -> [f64; PAD_NUMBERS] {
        let (low, high) = (low.numbers(), high.numbers());
        let own = self.nominal.numbers();
        std::array::from_fn(|number| {
            let [values, numbers] = [to / from, high[number] / low[number]];
            match numbers.is_finite() && numbers > 0.0 && values > 0.0 {
                true => own[number] * numbers.ln() / (values.ln() * nominal),
                false => (high[number] - low[number]) / (to - from),
            }
        })
    }

    /// What the pad shows with some parameters moved, each number a power of every parameter through its value
    /// and slope: of one sign however far they move.
    pub fn carried(&self, moved: &[Moved]) -> PadTouch {
        let mut powers = [0.0; PAD_NUMBERS];
        for one in moved {
            let exponents = self.exponents(one.index, one.from);
            for (power, exponent) in powers.iter_mut().zip(exponents) {
                *power += exponent * one.relative();
            }
        }
        let numbers = self.nominal.numbers();
        PadTouch::from_numbers(std::array::from_fn(|number| {
            numbers[number] * powers[number].exp()
        }))
    }
}
