//! Ticks at 1, 2, 5 times powers of ten, and the numbers beside them.

use crate::axis::AxisMap;
use crate::data::Scale;
use crate::number;
use crate::steps::linear_step;

/// A place on an axis with the number written beside it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Tick {
    /// In the unit of the axis.
    pub value: f64,
    /// As printed; empty for the unlabelled strokes between two labels of a logarithmic axis.
    pub text: String,
}

impl AxisMap {
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::axis::Ends;
    use crate::data::Axis;

    fn texts(map: AxisMap, wanted: usize) -> Vec<String> {
        let mut ticks = map.ticks(wanted);
        ticks.retain(|tick| !tick.text.is_empty());
        ticks.into_iter().map(|tick| tick.text).collect()
    }

    fn linear(values: &[f64]) -> AxisMap {
        let axis = Axis::linear("gap", "mm");
        AxisMap::new(&axis, values.iter().copied(), &[], Ends::Tight, "t").expect("an axis")
    }

    fn logarithmic(values: &[f64]) -> AxisMap {
        let axis = Axis::logarithmic("gap", "mm");
        AxisMap::new(&axis, values.iter().copied(), &[], Ends::Tight, "t").expect("an axis")
    }

    #[test]
    fn linear_ticks_are_round_numbers() {
        let map = linear(&[2.0, 16.0]);
        assert_eq!(texts(map, 8), ["2", "4", "6", "8", "10", "12", "14", "16"]);
        assert_eq!(texts(linear(&[0.0, 0.3]), 4), ["0.0", "0.1", "0.2", "0.3"]);
        assert_eq!(
            texts(linear(&[-1.0, 1.0]), 4),
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
}
