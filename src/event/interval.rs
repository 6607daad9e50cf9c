//! A value with the interval that the coefficients allow.

use padfield_engine::units::Toleranced;
use schemars::JsonSchema;
use serde::Serialize;

/// A value with its least and most over the input; sums take all ends at once.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, JsonSchema)]
pub struct Spread {
    /// At nominal coefficients.
    pub nominal: f64,
    /// Smallest.
    pub least: f64,
    /// Largest.
    pub most: f64,
}

impl Spread {
    /// Without an interval.
    pub const fn exact(value: f64) -> Self {
        Self {
            nominal: value,
            least: value,
            most: value,
        }
    }

    /// Times a number, which may be negative.
    pub fn scaled(self, factor: f64) -> Self {
        let (low, high) = (self.least * factor, self.most * factor);
        Self {
            nominal: self.nominal * factor,
            least: low.min(high),
            most: low.max(high),
        }
    }

    /// The sum, both at the same end.
    pub fn plus(self, other: Self) -> Self {
        Self {
            nominal: self.nominal + other.nominal,
            least: self.least + other.least,
            most: self.most + other.most,
        }
    }

    /// Larger size of the two ends.
    pub fn largest_size(&self) -> f64 {
        self.least.abs().max(self.most.abs())
    }

    /// Everything between two of them.
    pub fn with(self, other: f64) -> Self {
        Self {
            least: self.least.min(other),
            most: self.most.max(other),
            ..self
        }
    }
}

impl From<Toleranced<f64>> for Spread {
    fn from(value: Toleranced<f64>) -> Self {
        Self {
            nominal: value.nominal,
            least: value.least,
            most: value.most,
        }
    }
}

/// Sum of effects times their coefficients.
pub(crate) fn weighted<'c>(
    effects: &[f64],
    coefficients: impl Iterator<Item = &'c Spread>,
) -> Spread {
    let terms = effects.iter().zip(coefficients);
    terms.fold(Spread::default(), |sum, (effect, coefficient)| {
        sum.plus(coefficient.scaled(*effect))
    })
}
