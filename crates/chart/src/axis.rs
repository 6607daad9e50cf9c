//! The range of an axis, and the way from a value to a fraction of its length.

use crate::data::{Axis, Scale};
use crate::error::ChartError;
use crate::steps::{linear_step, one_two_five};

/// Share of the axis left free beyond the first and last value of a padded axis.
const PADDING: f64 = 0.03;
/// A limit is brought into the range when the axis does not get longer than this many times.
const STRETCH_FOR_LIMITS: f64 = 3.0;

/// Where the range ends when the data decide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Ends {
    /// A little beyond the first and last value.
    Padded,
    /// At the first and last value.
    Tight,
    /// At the next round numbers, with zero when it is near.
    Round,
}

/// The ends of all error bars, for the range of an axis. Where no value is below zero, an error bar that is does
/// not widen the axis: it is cut off.
pub(crate) fn with_errors(
    values: impl Iterator<Item = (f64, f64)> + Clone,
) -> impl Iterator<Item = f64> {
    let signed = values.clone().any(|(value, _)| value < 0.0);
    values.flat_map(move |(value, error)| {
        let low = value - error;
        [if low > 0.0 || signed { low } else { value }, value + error]
    })
}

/// A resolved axis: values to fractions and back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct AxisMap {
    pub(crate) low: f64,
    pub(crate) high: f64,
    pub(crate) scale: Scale,
}

impl AxisMap {
    /// The axis for `values`; those that are not finite do not count. `limits` widen the range when
    /// they are near enough. `title` names the chart in errors.
    pub fn new(
        axis: &Axis,
        values: impl IntoIterator<Item = f64>,
        limits: &[f64],
        ends: Ends,
        title: &str,
    ) -> Result<Self, ChartError> {
        let mut found: Option<(f64, f64)> = None;
        for value in values.into_iter().filter(|value| value.is_finite()) {
            if axis.scale == Scale::Logarithmic && value <= 0.0 {
                return Err(ChartError::NotPositive {
                    axis: axis.label.clone(),
                    value,
                });
            }
            found = Some(match found {
                None => (value, value),
                Some((low, high)) => (low.min(value), high.max(value)),
            });
        }
        let Some((low, high)) = found else {
            return Err(ChartError::NoData {
                chart: title.to_owned(),
            });
        };
        if let Some([low, high]) = axis.range {
            return Self::checked(axis, low, high);
        }
        let data = match Self::checked(axis, low, high) {
            Err(_) if (high - low).is_finite() => Self::around(axis, low, high)?,
            checked => checked?,
        };
        let wanted = data.with_limits(limits);
        let (low, high) = match ends {
            Ends::Tight => (wanted.low, wanted.high),
            Ends::Padded => (wanted.value(-PADDING), wanted.value(1.0 + PADDING)),
            Ends::Round => wanted.round_ends(),
        };
        Self::checked(axis, low, high)
    }

    /// An upright axis without numbers, for rows.
    pub fn of_rows(rows: f64) -> Self {
        Self {
            low: 0.0,
            high: rows,
            scale: Scale::Linear,
        }
    }

    /// The axis with these ends, unless they make none.
    fn checked(axis: &Axis, low: f64, high: f64) -> Result<Self, ChartError> {
        let map = Self {
            low,
            high,
            scale: axis.scale,
        };
        let span = map.stretched(high) - map.stretched(low);
        // Below this the ticks could not be told apart in double precision.
        let smallest = 1e-12 * map.stretched(high).abs().max(map.stretched(low).abs());
        if span.is_finite() && span > smallest && span > f64::MIN_POSITIVE / f64::EPSILON {
            Ok(map)
        } else {
            Err(ChartError::BadRange {
                axis: axis.label.clone(),
                low,
                high,
            })
        }
    }

    /// A range around values that are (nearly) all the same.
    fn around(axis: &Axis, low: f64, high: f64) -> Result<Self, ChartError> {
        match axis.scale {
            Scale::Logarithmic => Self::checked(axis, low / 2.0, high * 2.0),
            Scale::Linear => {
                let middle = 0.5 * low + 0.5 * high;
                let half = if middle.abs() > 1e-290 {
                    0.1 * middle.abs()
                } else {
                    1.0
                };
                Self::checked(axis, middle - half, middle + half)
            }
        }
    }

    fn with_limits(self, limits: &[f64]) -> Self {
        let length = self.stretched(self.high) - self.stretched(self.low);
        let near_zero_based = match self.scale {
            // A linear axis that could start at zero is as long as its largest value.
            Scale::Linear => length.max(self.high.abs()).max(self.low.abs()),
            Scale::Logarithmic => length.max(1.0),
        };
        let mut map = self;
        for &limit in limits {
            let shown = self.scale == Scale::Linear || limit > 0.0;
            if !limit.is_finite() || !shown {
                continue;
            }
            let wider = Self {
                low: map.low.min(limit),
                high: map.high.max(limit),
                ..map
            };
            let reach = wider.stretched(wider.high) - wider.stretched(wider.low);
            if reach <= STRETCH_FOR_LIMITS * near_zero_based {
                map = wider;
            }
        }
        map
    }

    fn round_ends(self) -> (f64, f64) {
        match self.scale {
            Scale::Logarithmic => {
                let (low, high) = (self.value(-PADDING), self.value(1.0 + PADDING));
                (one_two_five(low, f64::floor), one_two_five(high, f64::ceil))
            }
            Scale::Linear => {
                let (mut low, mut high) = (self.low, self.high);
                if low >= 0.0 && low < 0.6 * high {
                    low = 0.0;
                }
                if high <= 0.0 && high > 0.6 * low {
                    high = 0.0;
                }
                let step = linear_step(high - low, 6);
                // A value within a hair of a tick does not ask for another step.
                let round = |value: f64, up: bool| {
                    let steps = value / step;
                    let whole = if up {
                        (steps - 1e-9).ceil()
                    } else {
                        (steps + 1e-9).floor()
                    };
                    whole * step
                };
                let head_room = PADDING * (high - low);
                let from = if low == 0.0 { 0.0 } else { low - head_room };
                let to = if high == 0.0 { 0.0 } else { high + head_room };
                (round(from, false), round(to, true))
            }
        }
    }

    fn stretched(&self, value: f64) -> f64 {
        match self.scale {
            Scale::Linear => value,
            Scale::Logarithmic => value.ln(),
        }
    }

    /// First value shown.
    pub fn low(&self) -> f64 {
        self.low
    }

    /// Last value shown.
    pub fn high(&self) -> f64 {
        self.high
    }

    /// Where `value` lies: 0 at the first value, 1 at the last, beyond them outside. Minus infinity
    /// for what a logarithmic axis cannot show, so that an error bar that reaches it is cut off.
    pub fn fraction(&self, value: f64) -> f64 {
        if self.scale == Scale::Logarithmic && value <= 0.0 {
            return f64::NEG_INFINITY;
        }
        let low = self.stretched(self.low);
        (self.stretched(value) - low) / (self.stretched(self.high) - low)
    }

    /// The value at a fraction of the length.
    pub fn value(&self, fraction: f64) -> f64 {
        let (low, high) = (self.stretched(self.low), self.stretched(self.high));
        let at = low + fraction * (high - low);
        match self.scale {
            Scale::Linear => at,
            Scale::Logarithmic => at.exp(),
        }
    }

    /// Whether the value lies on the axis, ends included.
    pub fn contains(&self, value: f64) -> bool {
        let fraction = self.fraction(value);
        (-1e-9..=1.0 + 1e-9).contains(&fraction)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn linear(values: &[f64], ends: Ends) -> AxisMap {
        let axis = Axis::linear("gap", "mm");
        AxisMap::new(&axis, values.iter().copied(), &[], ends, "t").expect("an axis")
    }

    fn logarithmic(values: &[f64]) -> AxisMap {
        let axis = Axis::logarithmic("gap", "mm");
        AxisMap::new(&axis, values.iter().copied(), &[], Ends::Tight, "t").expect("an axis")
    }

    #[test]
    fn ends_are_round_and_take_zero_in_when_it_is_near() {
        let map = linear(&[0.21, 0.83], Ends::Round);
        assert_eq!((map.low(), map.high()), (0.0, 1.0));
        let map = linear(&[100.2, 101.3], Ends::Round);
        assert!(map.low() >= 99.5 && map.low() < 100.2, "{map:?}");
    }

    #[test]
    fn fraction_and_value_are_inverse() {
        for map in [
            linear(&[2.0, 16.0], Ends::Padded),
            logarithmic(&[0.2, 700.0]),
        ] {
            for fraction in [0.0, 0.2, 0.5, 1.0] {
                let there = map.fraction(map.value(fraction));
                assert!(
                    (there - fraction).abs() < 1e-12,
                    "{map:?} {fraction} {there}"
                );
            }
        }
    }

    #[test]
    fn equal_values_get_a_range_and_impossible_ones_an_error() {
        assert!(linear(&[5.0, 5.0], Ends::Tight).contains(5.0));
        assert!(linear(&[0.0], Ends::Round).contains(0.0));
        assert!(logarithmic(&[3.0]).contains(3.0));
        let axis = Axis::logarithmic("ratio", "%");
        assert_eq!(
            AxisMap::new(&axis, [1.0, 0.0], &[], Ends::Tight, "t"),
            Err(ChartError::NotPositive {
                axis: "ratio".into(),
                value: 0.0
            })
        );
        let none = AxisMap::new(&axis, [f64::NAN], &[], Ends::Tight, "spacing");
        assert_eq!(
            none,
            Err(ChartError::NoData {
                chart: "spacing".into()
            })
        );
        let wide = Axis::linear("x", "");
        assert!(AxisMap::new(&wide, [f64::MIN, f64::MAX], &[], Ends::Round, "t").is_err());
        let reversed = Axis {
            range: Some([2.0, 1.0]),
            ..Axis::linear("x", "")
        };
        assert!(AxisMap::new(&reversed, [1.0], &[], Ends::Round, "t").is_err());
    }

    #[test]
    fn a_near_limit_widens_the_range_and_a_far_one_does_not() {
        let axis = Axis::linear("ratio", "%");
        let map = |limit: f64| {
            AxisMap::new(&axis, [2.0, 12.0], &[limit], Ends::Round, "t").expect("an axis")
        };
        assert!(map(20.0).contains(20.0));
        assert!(!map(2000.0).contains(2000.0));
    }
}
