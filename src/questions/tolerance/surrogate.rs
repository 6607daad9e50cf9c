//! A quadratic in scaled inputs, fitted to values and slopes by least squares.

use nalgebra::{DMatrix, DVector};

/// Singular values below this share of the largest one count as zero.
const RANK: f64 = 1e-10;

/// A value, and the slopes that are known, at one point of the inputs.
#[derive(Clone, Debug, PartialEq)]
pub struct Observation {
    /// The inputs, each scaled to -1 to 1.
    pub at: Vec<f64>,
    pub value: f64,
    /// Slope to each input; none where it is not known.
    pub slopes: Vec<Option<f64>>,
}

/// `c + sum b_i z_i + sum a_ij z_i z_j` with `i <= j`.
#[derive(Clone, Debug, PartialEq)]
pub struct Quadratic {
    inputs: usize,
    coefficients: Vec<f64>,
}

impl Quadratic {
    /// Number of coefficients for so many inputs.
    pub fn terms(inputs: usize) -> usize {
        (inputs + 1) * (inputs + 2) / 2
    }

    /// Least squares over values and slopes with equal weight; of several solutions the shortest.
    ///
    /// # Panics
    /// Observations of different numbers of inputs.
    pub fn fit(inputs: usize, observations: &[Observation]) -> Self {
        let terms = Self::terms(inputs);
        let mut rows: Vec<f64> = Vec::new();
        let mut values: Vec<f64> = Vec::new();
        for one in observations {
            assert_eq!(one.at.len(), inputs, "inputs of an observation");
            rows.extend(basis(&one.at));
            values.push(one.value);
            for (input, slope) in one.slopes.iter().enumerate() {
                if let Some(slope) = slope {
                    rows.extend(basis_slope(&one.at, input));
                    values.push(*slope);
                }
            }
        }
        let matrix = DMatrix::from_row_slice(values.len(), terms, &rows);
        let solved = matrix
            .svd(true, true)
            .solve(&DVector::from_vec(values), RANK)
            .expect("both sets of singular vectors were computed");
        Self {
            inputs,
            coefficients: solved.iter().copied().collect(),
        }
    }

    /// The value at a point.
    ///
    /// # Panics
    /// Another number of inputs.
    pub fn at(&self, point: &[f64]) -> f64 {
        assert_eq!(point.len(), self.inputs, "inputs of a quadratic");
        let terms = basis(point);
        terms
            .iter()
            .zip(&self.coefficients)
            .map(|(t, c)| t * c)
            .sum()
    }
}

fn basis(z: &[f64]) -> Vec<f64> {
    let mut terms = vec![1.0];
    terms.extend(z);
    for i in 0..z.len() {
        for j in i..z.len() {
            terms.push(z[i] * z[j]);
        }
    }
    terms
}

fn basis_slope(z: &[f64], input: usize) -> Vec<f64> {
    let mut terms = vec![0.0];
    terms.extend((0..z.len()).map(|i| f64::from(u8::from(i == input))));
    for i in 0..z.len() {
        for j in i..z.len() {
            let own = |k: usize| f64::from(u8::from(k == input));
            terms.push(own(i) * z[j] + z[i] * own(j));
        }
    }
    terms
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_relative_eq;

    fn quadratic(z: &[f64]) -> f64 {
        1.0 + 2.0 * z[0] - 3.0 * z[1] + 0.5 * z[0] * z[0] - z[0] * z[1] + 0.25 * z[1] * z[1]
    }

    fn observation(at: [f64; 2], with_slopes: bool) -> Observation {
        let slopes = [2.0 + at[0] - at[1], -3.0 - at[0] + 0.5 * at[1]];
        Observation {
            value: quadratic(&at),
            slopes: slopes.map(|slope| with_slopes.then_some(slope)).to_vec(),
            at: at.to_vec(),
        }
    }

    #[test]
    fn a_quadratic_is_found_from_values_and_from_slopes() {
        let places = [
            [0.0, 0.0],
            [1.0, 0.2],
            [-0.7, 0.9],
            [0.3, -1.0],
            [-0.4, -0.5],
            [0.9, 0.8],
        ];
        let by_values: Vec<_> = places.map(|at| observation(at, false)).to_vec();
        let by_slopes: Vec<_> = places[..3]
            .iter()
            .map(|at| observation(*at, true))
            .collect();
        for observations in [by_values, by_slopes] {
            let fitted = Quadratic::fit(2, &observations);
            for at in [[0.5, 0.5], [-1.0, 1.0], [0.1, -0.9]] {
                assert_relative_eq!(fitted.at(&at), quadratic(&at), epsilon = 1e-9);
            }
        }
    }
}
