//! One quantity of a pad on both sides.

use crate::response::PadResponse;
use crate::study::{PadValues, QuantityKind, Reported};

/// A number with its estimated numerical error, in the unit of its quantity.
pub use crate::record::Uncertain as Figure;

/// What is compared of a touched pad.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Compared {
    /// Field part of the untouched pad's capacitance \[pF\].
    Base,
    /// The same with pin and trace at their nominal values \[pF\].
    BaseAtPin,
    /// Touch shift \[pF\].
    TouchShift,
    /// Touch shift over the untouched base at the pin \[%\].
    RelativeTouchShift,
    /// Largest shift of another pad \[pF\].
    NeighbourShift,
    /// That shift over the touch shift \[%\].
    NeighbourRatio,
    /// Shift of the touched pad's count \[counts\].
    CountShift,
}

impl Compared {
    /// All of them, in the order they are shown.
    pub const ALL: [Self; 7] = [
        Self::Base,
        Self::BaseAtPin,
        Self::TouchShift,
        Self::RelativeTouchShift,
        Self::NeighbourShift,
        Self::NeighbourRatio,
        Self::CountShift,
    ];

    /// Its words in tables and records.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Base => QuantityKind::BaseCapacitance.words(),
            Self::BaseAtPin => "base at the pin",
            Self::TouchShift => QuantityKind::TouchShift.words(),
            Self::RelativeTouchShift => QuantityKind::RelativeTouchShift.words(),
            Self::NeighbourShift => QuantityKind::NeighbourShift.words(),
            Self::NeighbourRatio => QuantityKind::NeighbourRatio.words(),
            Self::CountShift => QuantityKind::CountShift.words(),
        }
    }

    /// `"pF"`, `"%"` or `"counts"`.
    pub const fn unit(self) -> &'static str {
        match self {
            Self::Base | Self::BaseAtPin | Self::TouchShift | Self::NeighbourShift => "pF",
            Self::RelativeTouchShift | Self::NeighbourRatio => "%",
            Self::CountShift => "counts",
        }
    }

    /// The number of a touched pad, where there is one.
    pub(super) fn of(self, pad: &PadResponse, values: &PadValues) -> Option<Figure> {
        let figure = |Reported { value, error, .. }: Reported| Figure { value, error };
        match self {
            Self::Base => values.base_capacitance.map(figure),
            // What is entered has no numerical error.
            Self::BaseAtPin => Some(Figure {
                value: pad.base_at_pin?.nominal.pf(),
                error: pad.base?.computed.error.pf(),
            }),
            Self::TouchShift => values.touch_shift.map(figure),
            Self::RelativeTouchShift => values.relative_touch_shift.map(figure),
            Self::NeighbourShift => values.neighbour_shift.map(figure),
            Self::NeighbourRatio => values.neighbour_ratio.map(figure),
            Self::CountShift => values.count_shift.map(figure),
        }
    }
}

/// One quantity of a pad on both sides.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Difference {
    pub quantity: Compared,
    /// Of the panel as written.
    pub as_written: Figure,
    pub variant: Figure,
}

impl Difference {
    /// Variant minus as written, in the unit of the quantity; both errors count in full.
    pub fn change(&self) -> Figure {
        Figure {
            value: self.variant.value - self.as_written.value,
            error: self.variant.error + self.as_written.error,
        }
    }

    /// Variant over as written minus one (0.05 for 5 %), its error to first order; none when the value as
    /// written cannot be told from zero.
    pub fn relative(&self) -> Option<Figure> {
        let Self {
            as_written,
            variant,
            ..
        } = self;
        if as_written.value.abs() <= as_written.error {
            return None;
        }
        let ratio = variant.value / as_written.value;
        Some(Figure {
            value: ratio - 1.0,
            error: (variant.error + ratio.abs() * as_written.error) / as_written.value.abs(),
        })
    }

    /// Whether the change is larger than its numerical error.
    pub fn is_told_apart(&self) -> bool {
        let change = self.change();
        change.value.abs() > change.error
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn difference(as_written: [f64; 2], variant: [f64; 2]) -> Difference {
        let figure = |[value, error]: [f64; 2]| Figure { value, error };
        Difference {
            quantity: Compared::TouchShift,
            as_written: figure(as_written),
            variant: figure(variant),
        }
    }

    #[test]
    fn the_error_of_a_change_holds_the_truth_at_every_end_of_the_error_bars() {
        // A neighbour shift of 0.040 pF that a ground trace cuts to 0.022 pF.
        let one = difference([0.040, 0.0004], [0.022, 0.0003]);
        let (change, relative) = (one.change(), one.relative().expect("far from zero"));
        assert!((relative.value + 0.45).abs() < 1e-12 && one.is_told_apart());
        for before in [0.0396, 0.0404] {
            for after in [0.0217, 0.0223] {
                let truth = after - before;
                assert!((truth - change.value).abs() <= change.error + 1e-15);
                // To first order: one part in a hundred of the bar is left to the second.
                let truth = after / before - 1.0;
                assert!((truth - relative.value).abs() <= 1.02 * relative.error);
            }
        }
        // Not wider than it must be: the worst corner is within 2 % of the bar.
        let worst = (0.0223 / 0.0396 - 1.0 - relative.value).abs();
        assert!(worst >= 0.98 * relative.error, "{worst}");
    }

    #[test]
    fn a_change_within_the_sum_of_both_errors_is_no_difference() {
        assert!(!difference([0.72, 0.004], [0.726, 0.003]).is_told_apart());
        assert!(difference([0.72, 0.002], [0.726, 0.003]).is_told_apart());
        assert_eq!(difference([1e-4, 2e-4], [0.1, 0.001]).relative(), None);
        assert_eq!(difference([0.0, 0.0], [0.1, 0.001]).relative(), None);
    }
}
