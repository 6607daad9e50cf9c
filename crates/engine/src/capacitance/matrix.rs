//! Single steps on a plain matrix.

use ndarray::{Array1, Array2, ArrayView1};

/// Why a step of the algebra is impossible.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum AlgebraError {
    /// A floating conductor without any capacitance has no defined potential.
    #[error(
        "conductor {index} cannot float: its capacitance to everything else is {capacitance_farads:e} F"
    )]
    NoCapacitance {
        /// Row of the conductor in the matrix it was taken from.
        index: usize,
        /// What was found on the diagonal, lumped part included \[F\] or \[F/m\].
        capacitance_farads: f64,
    },
    /// Matrix and list of roles or potentials do not belong together.
    #[error("the matrix has {rows} rows, but {given} conductors are described")]
    Length {
        /// Rows of the matrix.
        rows: usize,
        /// Conductors described.
        given: usize,
    },
    /// Exactly one conductor is measured.
    #[error("{0} conductors are marked as measured, expected one")]
    MeasuredCount(usize),
}

/// The matrix with the listed conductors held at 0 V: their rows and columns are dropped.
///
/// Rows keep their order; indices outside the matrix are ignored.
///
/// ```
/// use ndarray::array;
/// let pair = array![[3.0, -1.0], [-1.0, 2.0]];
/// assert_eq!(padfield_engine::capacitance::hold_at_zero(&pair, &[1]), array![[3.0]]);
/// ```
pub fn hold_at_zero(matrix: &Array2<f64>, held: &[usize]) -> Array2<f64> {
    let kept: Vec<usize> = (0..matrix.nrows()).filter(|k| !held.contains(k)).collect();
    Array2::from_shape_fn((kept.len(), kept.len()), |(i, j)| {
        matrix[[kept[i], kept[j]]]
    })
}

/// The matrix after conductor `index` was left floating without charge: its row and column are gone.
///
/// `C'_ij = C_ij - C_ik C_kj / C_kk`.
///
/// # Errors
/// [`AlgebraError::NoCapacitance`] when the diagonal is not positive.
///
/// ```
/// use ndarray::array;
/// // Two capacitors of 2 F in series through a floating plate: 1 F.
/// let chain = array![[2.0, -2.0], [-2.0, 4.0]];
/// let seen = padfield_engine::capacitance::eliminate_floating(&chain, 1)?;
/// assert_eq!(seen, array![[1.0]]);
/// # Ok::<(), padfield_engine::capacitance::AlgebraError>(())
/// ```
pub fn eliminate_floating(matrix: &Array2<f64>, index: usize) -> Result<Array2<f64>, AlgebraError> {
    eliminate_with_capacitance(matrix, index, 0.0)
}

/// The matrix after conductor `index` was left floating with a lumped capacitance to 0 V.
///
/// `C'_ij = C_ij - C_ik C_kj / (C_kk + C_x)`, `C_x` in the unit of the matrix. With an endless `C_x`
/// this is [`hold_at_zero`].
///
/// # Errors
/// [`AlgebraError::NoCapacitance`] when `C_kk + C_x` is not positive.
pub fn eliminate_with_capacitance(
    matrix: &Array2<f64>,
    index: usize,
    to_zero: f64,
) -> Result<Array2<f64>, AlgebraError> {
    let pivot = matrix[[index, index]] + to_zero;
    if pivot.is_nan() || pivot <= 0.0 {
        return Err(AlgebraError::NoCapacitance {
            index,
            capacitance_farads: pivot,
        });
    }
    let kept: Vec<usize> = (0..matrix.nrows()).filter(|&k| k != index).collect();
    Ok(Array2::from_shape_fn((kept.len(), kept.len()), |(i, j)| {
        let (row, column) = (kept[i], kept[j]);
        matrix[[row, column]] - matrix[[row, index]] * matrix[[index, column]] / pivot
    }))
}

/// Self-capacitance of `measured` while every other conductor k is driven with `gains[k]` times its
/// potential: `C_ii + sum_k g_k C_ik`; `gains[measured]` is not used.
///
/// # Errors
/// [`AlgebraError::Length`] when the gains do not match the matrix.
///
/// ```
/// use ndarray::array;
/// let pair = array![[3.0, -1.0], [-1.0, 2.0]];
/// // A perfect shield (gain 1) takes the mutual part away.
/// assert_eq!(padfield_engine::capacitance::drive_in_phase(&pair, 0, &[0.0, 1.0])?, 2.0);
/// # Ok::<(), padfield_engine::capacitance::AlgebraError>(())
/// ```
pub fn drive_in_phase(
    matrix: &Array2<f64>,
    measured: usize,
    gains: &[f64],
) -> Result<f64, AlgebraError> {
    check_length(matrix, gains.len())?;
    Ok((0..gains.len())
        .map(|k| {
            let potential = if k == measured { 1.0 } else { gains[k] };
            potential * matrix[[measured, k]]
        })
        .sum())
}

/// Charges `q = C v` on the conductors at the given potentials \[V\], \[C\] or \[C/m\].
///
/// # Errors
/// [`AlgebraError::Length`] when the potentials do not match the matrix.
pub fn charges(
    matrix: &Array2<f64>,
    potentials_v: ArrayView1<f64>,
) -> Result<Array1<f64>, AlgebraError> {
    check_length(matrix, potentials_v.len())?;
    Ok(matrix.dot(&potentials_v))
}

/// Field energy `1/2 v' C v` at the given potentials \[V\], \[J\] or \[J/m\].
///
/// # Errors
/// [`AlgebraError::Length`] when the potentials do not match the matrix.
pub fn energy(matrix: &Array2<f64>, potentials_v: ArrayView1<f64>) -> Result<f64, AlgebraError> {
    Ok(0.5 * charges(matrix, potentials_v)?.dot(&potentials_v))
}

pub(super) fn check_length(matrix: &Array2<f64>, given: usize) -> Result<(), AlgebraError> {
    if matrix.nrows() == given {
        Ok(())
    } else {
        Err(AlgebraError::Length {
            rows: matrix.nrows(),
            given,
        })
    }
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use approx::assert_relative_eq;
    use ndarray::array;

    /// A10 of the check catalogue in units of the vacuum permittivity: two half-inch pads with a
    /// quarter-inch gap, guard, finger; box 60 x 30; method of E. Yamashita and K. Atsuki, IEEE
    /// Trans. MTT-18 (1970) 238, numbers computed for the catalogue (uncertainty 1e-11).
    pub(in crate::capacitance) fn touched_planar_panel() -> Array2<f64> {
        let (c11, c12, c13, c14) = (53.408481604, -0.17374757033, -1.322704755, -11.609674651);
        let (c22, c23, c24) = (43.934657315, -1.7301502596, -0.27674837559);
        let (c33, c34, c44) = (13.223619403, -0.56353823263, 14.337525907);
        array![
            [c11, c12, c13, c14],
            [c12, c22, c23, c24],
            [c13, c23, c33, c34],
            [c14, c24, c34, c44]
        ]
    }

    /// Smallest pivot of a Cholesky factorisation: positive exactly when the matrix is definite.
    pub(in crate::capacitance) fn smallest_pivot(matrix: &Array2<f64>) -> f64 {
        let mut rest = matrix.clone();
        let mut smallest = f64::INFINITY;
        while rest.nrows() > 0 {
            smallest = smallest.min(rest[[0, 0]]);
            if smallest <= 0.0 {
                return smallest;
            }
            rest = eliminate_floating(&rest, 0).expect("positive pivot");
        }
        smallest
    }

    #[test]
    fn floating_and_returning_finger_match_the_catalogue() {
        // A10.float and A10.ret; the catalogue rounds to 9 decimals.
        let matrix = touched_planar_panel();
        let floating = eliminate_floating(&matrix, 3).expect("finger has capacitance");
        assert_relative_eq!(floating[[0, 0]], 44.007658451, epsilon = 2e-9);
        let returning = eliminate_with_capacitance(&matrix, 3, 10.0).expect("finger");
        assert_relative_eq!(returning[[0, 0]], 47.870344901, epsilon = 2e-9);
    }

    #[test]
    fn elimination_lies_between_floating_and_held_and_stays_definite() {
        let matrix = touched_planar_panel();
        let mut before = eliminate_floating(&matrix, 3).expect("finger")[[0, 0]];
        for to_zero in [1.0, 10.0, 100.0, 1e4, 1e8] {
            let reduced = eliminate_with_capacitance(&matrix, 3, to_zero).expect("finger");
            assert!(reduced[[0, 0]] > before && reduced[[0, 0]] < matrix[[0, 0]]);
            assert!(smallest_pivot(&reduced) > 0.0);
            assert_eq!(reduced, reduced.t());
            before = reduced[[0, 0]];
        }
        assert_relative_eq!(before, hold_at_zero(&matrix, &[3])[[0, 0]], epsilon = 1e-5);
    }

    #[test]
    fn elimination_is_the_inverse_of_a_block_of_the_inverse() {
        // Banachiewicz: (C / C_kk)^-1 is the block of C^-1; checked with potentials instead of an
        // explicit inverse: charges (q, 0) on (kept, floating) give the same kept potentials.
        let matrix = touched_planar_panel();
        let reduced = eliminate_floating(&matrix, 3).expect("finger");
        let kept = array![1.0, -0.5, 0.25];
        let floating = -(0..3).map(|i| matrix[[3, i]] * kept[i]).sum::<f64>() / matrix[[3, 3]];
        let all = array![1.0, -0.5, 0.25, floating];
        let full = charges(&matrix, all.view()).expect("lengths");
        let small = charges(&reduced, kept.view()).expect("lengths");
        assert!(full[3].abs() < 1e-12);
        for i in 0..3 {
            assert_relative_eq!(full[i], small[i], max_relative = 1e-12);
        }
        assert_relative_eq!(
            energy(&matrix, all.view()).expect("lengths"),
            energy(&reduced, kept.view()).expect("lengths"),
            max_relative = 1e-12
        );
    }

    #[test]
    fn woodbury_lumped_capacitance_equals_an_added_series_conductor() {
        // A lumped C_x to 0 V is a rank-one change of the inverse (Woodbury): eliminating from
        // C + C_x e e' is the same as correcting the floating matrix.
        let matrix = touched_planar_panel();
        let (to_zero, k) = (10.0, 3);
        let floating = eliminate_floating(&matrix, k).expect("finger");
        let lumped = eliminate_with_capacitance(&matrix, k, to_zero).expect("finger");
        let pivot = matrix[[k, k]];
        for i in 0..3 {
            for j in 0..3 {
                let correction =
                    matrix[[i, k]] * matrix[[k, j]] / pivot * to_zero / (pivot + to_zero);
                assert_relative_eq!(
                    lumped[[i, j]],
                    floating[[i, j]] + correction,
                    max_relative = 1e-12
                );
            }
        }
    }

    #[test]
    fn a_perfect_shield_leaves_only_the_capacitance_to_zero() {
        let matrix = touched_planar_panel();
        let row_sum: f64 = matrix.row(0).sum();
        let seen = drive_in_phase(&matrix, 0, &[0.0, 1.0, 1.0, 1.0]).expect("lengths");
        assert_relative_eq!(seen, row_sum, max_relative = 1e-14);
        let half = drive_in_phase(&matrix, 0, &[0.0, 0.5, 0.0, 0.0]).expect("lengths");
        assert_relative_eq!(half, matrix[[0, 0]] + 0.5 * matrix[[0, 1]]);
    }

    #[test]
    fn impossible_requests_are_errors() {
        let empty = array![[0.0, 0.0], [0.0, 1.0]];
        assert!(matches!(
            eliminate_floating(&empty, 0),
            Err(AlgebraError::NoCapacitance { index: 0, .. })
        ));
        assert!(matches!(
            eliminate_with_capacitance(&empty, 0, f64::NAN),
            Err(AlgebraError::NoCapacitance { .. })
        ));
        assert!(matches!(
            charges(&empty, array![1.0].view()),
            Err(AlgebraError::Length { rows: 2, given: 1 })
        ));
    }
}
