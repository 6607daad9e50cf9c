//! The range of an axis, its 1-2-5 ticks, and the way from a value to a fraction of its length.

use super::data::{Axis, Scale};
use super::error::ChartError;
use super::number;

/// Share of the axis left free beyond the first and last value of a padded axis.
const PADDING: f64 = 0.03;
/// A limit is brought into the range when the axis does not get longer than this many times.
const STRETCH_FOR_LIMITS: f64 = 3.0;

/// A place on an axis with the number written beside it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Tick {
    /// In the unit of the axis.
    pub value: f64,
    /// As printed; empty for the unlabelled strokes between two labels of a logarithmic axis.
    pub text: String,
}

/// Where the range ends when the data decide.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Ends {
    /// A little beyond the first and last value.
    Padded,
    /// At the first and last value.
    Tight,
    /// At the next round numbers, with zero when it is near.
    Round,
}

/// A resolved axis: values to fractions and back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct AxisMap {
    low: f64,
    high: f64,
    scale: Scale,
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
        let data = Self::checked(axis, low, high).or_else(|_| Self::around(axis, low, high))?;
        let wanted = data.with_limits(limits);
        let (low, high) = match ends {
            Ends::Tight => (wanted.low, wanted.high),
            Ends::Padded => (wanted.value(-PADDING), wanted.value(1.0 + PADDING)),
            Ends::Round => wanted.round_ends(),
        };
        Self::checked(axis, low, high)
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

    /// Ticks at 1, 2, 5 times powers of ten, about `wanted` of them labelled.
    pub fn ticks(&self, wanted: usize) -> Vec<Tick> {
        let ticks = match self.scale {
            Scale::Linear => self.linear_ticks(wanted),
            Scale::Logarithmic => self.logarithmic_ticks(wanted),
        };
        ticks
            .into_iter()
            .filter(|tick| self.contains(tick.value))
            .collect()
    }

    fn linear_ticks(&self, wanted: usize) -> Vec<Tick> {
        let step = linear_step(self.high - self.low, wanted);
        let first = (self.low / step - 1e-9).ceil();
        (0..=2 * wanted)
            .map(|place| {
                // Adding zero turns minus zero into zero.
                let value = (first + place as f64) * step + 0.0;
                Tick {
                    value,
                    text: number::tick(value, step),
                }
            })
            .collect()
    }

    fn logarithmic_ticks(&self, wanted: usize) -> Vec<Tick> {
        let (first, last) = (self.low.log10().floor(), self.high.log10().ceil());
        let decades = self.high.log10() - self.low.log10();
        let labelled = |digits: &[f64]| -> Vec<f64> {
            let mut values = Vec::new();
            let every = if digits.len() == 1 {
                (decades / wanted.max(1) as f64).ceil().max(1.0)
            } else {
                1.0
            };
            let mut power = (first / every).floor() * every;
            while power <= last {
                values.extend(digits.iter().map(|digit| digit * 10f64.powf(power)));
                power += every;
            }
            values.retain(|&value| self.contains(value));
            values
        };
        let fine = labelled(&[1.0, 2.0, 5.0]);
        let chosen = if fine.len() > wanted.max(3) + 3 {
            labelled(&[1.0])
        } else if fine.len() >= 3 {
            fine
        } else {
            // Less than a decade: evenly spread numbers label it better.
            return self.linear_ticks(wanted);
        };
        let mut ticks: Vec<Tick> = chosen
            .iter()
            .map(|&value| Tick {
                value,
                text: number::plain(value, 3),
            })
            .collect();
        if decades <= 6.0 {
            let strokes = labelled(&[1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0]);
            for value in strokes {
                if !chosen.iter().any(|c| (c / value - 1.0).abs() < 1e-9) {
                    ticks.push(Tick {
                        value,
                        text: String::new(),
                    });
                }
            }
        }
        ticks
    }
}

/// The step of 1, 2 or 5 times a power of ten that divides `span` into at most `wanted` parts.
pub(super) fn linear_step(span: f64, wanted: usize) -> f64 {
    let rough = span / wanted.max(1) as f64;
    one_two_five(rough * (1.0 - 1e-9), f64::ceil)
}

/// The next of 1, 2, 5 times a power of ten, below (`f64::floor`) or above (`f64::ceil`).
fn one_two_five(value: f64, towards: fn(f64) -> f64) -> f64 {
    let up = towards(0.5) > 0.5;
    let power = value.log10().floor();
    let digits = value / 10f64.powf(power);
    let near = 1e-9;
    let digit = if up {
        [1.0, 2.0, 5.0, 10.0]
            .into_iter()
            .find(|d| digits <= d * (1.0 + near))
            .unwrap_or(10.0)
    } else {
        [5.0, 2.0, 1.0]
            .into_iter()
            .find(|d| digits >= d * (1.0 - near))
            .unwrap_or(1.0)
    };
    // Through decimal text, so that 5 times 10⁻² is the double nearest to 0.05.
    format!("{digit:.0}e{power:.0}").parse().unwrap_or(value)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn texts(map: AxisMap, wanted: usize) -> Vec<String> {
        let mut ticks = map.ticks(wanted);
        ticks.retain(|tick| !tick.text.is_empty());
        ticks.into_iter().map(|tick| tick.text).collect()
    }

    fn linear(values: &[f64], ends: Ends) -> AxisMap {
        let axis = Axis::linear("gap", "mm");
        AxisMap::new(&axis, values.iter().copied(), &[], ends, "t").expect("an axis")
    }

    fn logarithmic(values: &[f64]) -> AxisMap {
        let axis = Axis::logarithmic("gap", "mm");
        AxisMap::new(&axis, values.iter().copied(), &[], Ends::Tight, "t").expect("an axis")
    }

    #[test]
    fn linear_ticks_are_round_numbers() {
        let map = linear(&[2.0, 16.0], Ends::Tight);
        assert_eq!(texts(map, 8), ["2", "4", "6", "8", "10", "12", "14", "16"]);
        assert_eq!(
            texts(linear(&[0.0, 0.3], Ends::Tight), 4),
            ["0.0", "0.1", "0.2", "0.3"]
        );
        assert_eq!(
            texts(linear(&[-1.0, 1.0], Ends::Tight), 4),
            ["−1.0", "−0.5", "0.0", "0.5", "1.0"]
        );
    }

    #[test]
    fn logarithmic_ticks_follow_one_two_five_and_never_leave_an_axis_bare() {
        assert_eq!(
            texts(logarithmic(&[0.1, 10.0]), 8),
            ["0.1", "0.2", "0.5", "1", "2", "5", "10"]
        );
        assert_eq!(
            texts(logarithmic(&[1.0, 1.0e4]), 6),
            ["1", "10", "100", "1000", "10\u{202f}000"]
        );
        assert_eq!(
            texts(logarithmic(&[3.0, 8.0]), 6),
            ["3", "4", "5", "6", "7", "8"]
        );
        assert!(texts(logarithmic(&[1e-12, 1e12]), 6).len() >= 4);
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
