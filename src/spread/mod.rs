//! How an input value spreads from unit to unit: the shape of its tolerance, its mean, its standard
//! uncertainty, its quantiles.
//!
//! Pure numbers; knows no panel. Never fails on `least <= nominal <= most`.
//!
//! | shape | standard uncertainty | source |
//! |---|---|---|
//! | rectangular | half the width / sqrt 3 | JCGM 100:2008, 4.3.7 (from memory) |
//! | triangular | sqrt((a² + b² + c² - ab - ac - bc)/18), ends a, b and mode c | textbook |
//! | normal | the tolerance over so many deviations, each side its own | JCGM 100:2008, 4.3.4 (from memory) |

use statrs::distribution::{ContinuousCDF, Normal};

/// Draws of a normal value stay within so many standard deviations: three in a thousand lie beyond.
pub const MOST_DEVIATIONS: f64 = 3.0;

/// How a value is distributed over its tolerance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shape {
    /// Anywhere in the tolerance with the same probability: all that a bare tolerance says.
    Rectangular,
    /// Rising linearly from the ends to the nominal value.
    Triangular,
    /// Normal on either side of the nominal value, which is the median.
    Normal {
        /// Standard deviations from the nominal value to either end of the tolerance.
        deviations: f64,
    },
}

/// A value with its tolerance and its shape, in whatever unit the three numbers have.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Distribution {
    /// The value as drawn.
    pub nominal: f64,
    /// Lower end of the tolerance, at most the nominal value.
    pub least: f64,
    /// Upper end of the tolerance, at least the nominal value.
    pub most: f64,
    pub shape: Shape,
}

impl Distribution {
    pub fn varies(&self) -> bool {
        self.most > self.least
    }

    /// Standard deviations of the lower and the upper half of a normal shape.
    fn halves(&self, deviations: f64) -> [f64; 2] {
        [
            (self.nominal - self.least) / deviations,
            (self.most - self.nominal) / deviations,
        ]
    }

    /// Expectation.
    pub fn mean(&self) -> f64 {
        match self.shape {
            Shape::Rectangular => 0.5 * (self.least + self.most),
            Shape::Triangular => (self.least + self.most + self.nominal) / 3.0,
            Shape::Normal { deviations } => {
                let [below, above] = self.halves(deviations);
                // Half of all draws on either side, each half a half-normal.
                self.nominal + (above - below) / std::f64::consts::TAU.sqrt()
            }
        }
    }

    /// Standard deviation.
    pub fn standard_uncertainty(&self) -> f64 {
        let (a, b, c) = (self.least, self.most, self.nominal);
        match self.shape {
            Shape::Rectangular => (b - a) / 12_f64.sqrt(),
            Shape::Triangular => ((a * a + b * b + c * c - a * b - a * c - b * c) / 18.0)
                .max(0.0)
                .sqrt(),
            Shape::Normal { deviations } => {
                let [below, above] = self.halves(deviations);
                let offset = self.mean() - self.nominal;
                (0.5 * (below.powi(2) + above.powi(2)) - offset.powi(2)).sqrt()
            }
        }
    }

    /// The value that a share `p` of all units stays below, `0 < p < 1`; a normal shape stays within
    /// [`MOST_DEVIATIONS`].
    pub fn quantile(&self, p: f64) -> f64 {
        match self.shape {
            Shape::Rectangular => self.least + p * (self.most - self.least),
            Shape::Triangular => {
                let width = self.most - self.least;
                if width == 0.0 {
                    return self.nominal;
                }
                let lower = self.nominal - self.least;
                if p * width < lower {
                    self.least + (p * width * lower).sqrt()
                } else {
                    self.most - ((1.0 - p) * width * (self.most - self.nominal)).sqrt()
                }
            }
            Shape::Normal { deviations } => {
                let standard = Normal::standard().inverse_cdf(p);
                let standard = standard.clamp(-MOST_DEVIATIONS, MOST_DEVIATIONS);
                let [below, above] = self.halves(deviations);
                self.nominal + standard * if standard < 0.0 { below } else { above }
            }
        }
    }

    /// Smallest and largest value that is drawn.
    pub fn reach(&self) -> [f64; 2] {
        match self.shape {
            Shape::Rectangular | Shape::Triangular => [self.least, self.most],
            Shape::Normal { deviations } => {
                let [below, above] = self.halves(deviations);
                [
                    self.nominal - MOST_DEVIATIONS * below,
                    self.nominal + MOST_DEVIATIONS * above,
                ]
            }
        }
    }
}

/// A tolerance of the panel file: values that move together by one draw.
#[derive(Clone, Debug, PartialEq)]
pub struct Variation {
    /// Name of the section.
    pub name: String,
    /// Full dotted paths with the factor each moves by: 1, or -1 the other way.
    pub moves: Vec<(String, f64)>,
    /// Largest movement downwards, at most 0, in SI or in shares of the value.
    pub least: f64,
    /// Largest movement upwards, at least 0, in SI or in shares of the value.
    pub most: f64,
    /// Whether the two are shares of the nominal value rather than SI.
    pub is_relative: bool,
    pub shape: Shape,
    /// Another tolerance by name and the correlation of the two, of the normal variables behind them.
    pub with: Option<(String, f64)>,
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn shaped(least: f64, nominal: f64, most: f64, shape: Shape) -> Distribution {
        Distribution {
            nominal,
            least,
            most,
            shape,
        }
    }

    #[test]
    fn a_half_width_of_0_40_is_an_uncertainty_of_0_23() {
        // JCGM 100:2008, 4.3.7 (from memory): u = 0.40/sqrt 3 = 0.2309.
        let value = shaped(-0.40, 0.0, 0.40, Shape::Rectangular);
        assert_relative_eq!(value.standard_uncertainty(), 0.2309, epsilon = 5e-5);
    }

    #[test]
    fn moments_are_those_of_the_quantiles() {
        let all = [
            shaped(1.0, 1.2, 2.0, Shape::Rectangular),
            shaped(1.0, 1.2, 2.0, Shape::Triangular),
            shaped(1.0, 1.2, 2.0, Shape::Normal { deviations: 2.0 }),
        ];
        // Midpoints of equal shares of probability; the normal shape is cut at three deviations, which
        // holds back 0.5 % of its deviation.
        let count = 200_000;
        for value in all {
            let draws = (0..count).map(|i| value.quantile((f64::from(i) + 0.5) / f64::from(count)));
            let mean = draws.clone().sum::<f64>() / f64::from(count);
            let square = draws.map(|x| (x - mean).powi(2)).sum::<f64>() / f64::from(count);
            assert_relative_eq!(mean, value.mean(), max_relative = 2e-3);
            assert_relative_eq!(
                square.sqrt(),
                value.standard_uncertainty(),
                max_relative = 1e-2
            );
        }
    }

    #[test]
    fn quantiles_end_at_the_reach() {
        for shape in [
            Shape::Rectangular,
            Shape::Triangular,
            Shape::Normal { deviations: 2.0 },
        ] {
            let value = shaped(0.7, 1.0, 1.1, shape);
            let [least, most] = value.reach();
            assert_relative_eq!(value.quantile(1e-12), least, epsilon = 1e-5);
            assert_relative_eq!(value.quantile(1.0 - 1e-12), most, epsilon = 1e-5);
            let median = value.quantile(0.5);
            assert!(least < median && median < most);
        }
    }
}
