//! Matrices over pairs of drives: computed above the diagonal, mirrored below it.

use ndarray::Array2;

/// Copies the upper triangle into the lower one.
pub(super) fn mirror(matrix: &mut Array2<f64>) {
    for a in 0..matrix.nrows() {
        for b in 0..a {
            matrix[[a, b]] = matrix[[b, a]];
        }
    }
}
