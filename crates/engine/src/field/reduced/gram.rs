//! Sums of weighted products of vectors, streamed element by element.
//!
//! An element is a row with one value per vector: a difference of potentials along an edge, a flux through a face. Its
//! products go to all terms that it has a share in, by matrix products over many rows at once.

use ndarray::{Array2, ArrayView2, linalg::general_mat_mul, s};

/// Rows that are multiplied at once.
const AT_ONCE: usize = 512;

/// Matrices of products of vectors, one per term, each packed: lower triangle, row by row.
pub(super) struct Grams {
    /// One row per term.
    pub terms: Array2<f64>,
    rows: Array2<f64>,
    filled: usize,
    product: Array2<f64>,
    /// Shares of the rows that wait, the same for all of them.
    shares: Vec<(usize, f64)>,
}

impl Grams {
    /// Of so many vectors and terms, all 0.
    pub fn new(vectors: usize, terms: usize) -> Self {
        Self {
            terms: Array2::zeros((terms, packed_len(vectors))),
            rows: Array2::zeros((AT_ONCE, vectors)),
            filled: 0,
            product: Array2::zeros((vectors, vectors)),
            shares: Vec::new(),
        }
    }

    /// The rows from here on have these shares in the terms.
    pub fn share(&mut self, shares: impl IntoIterator<Item = (usize, f64)>) {
        self.flush();
        self.shares.clear();
        self.shares
            .extend(shares.into_iter().filter(|share| share.1 != 0.0));
    }

    /// Adds the products of a row; `fill` writes it.
    #[inline]
    pub fn add(&mut self, fill: impl FnOnce(&mut [f64])) {
        if self.filled == AT_ONCE {
            self.flush();
        }
        let mut row = self.rows.row_mut(self.filled);
        if let Some(row) = row.as_slice_mut() {
            fill(row);
        }
        self.filled += 1;
    }

    /// Adds what waits.
    pub fn flush(&mut self) {
        let filled = std::mem::take(&mut self.filled);
        if filled == 0 || self.shares.is_empty() {
            return;
        }
        let rows: ArrayView2<f64> = self.rows.slice(s![..filled, ..]);
        general_mat_mul(1.0, &rows.t(), &rows, 0.0, &mut self.product);
        for &(term, share) in &self.shares {
            let mut term = self.terms.row_mut(term);
            let mut packed = term.iter_mut();
            for (i, row) in self.product.rows().into_iter().enumerate() {
                // The row first: what ends a pair must not have taken an entry.
                for (value, sum) in row.iter().take(i + 1).zip(packed.by_ref()) {
                    *sum += share * value;
                }
            }
        }
    }

    /// The terms once all rows are in.
    pub fn finish(mut self) -> Array2<f64> {
        self.flush();
        self.terms
    }
}

/// The values of all vectors at a place.
#[inline]
pub(super) fn row_of(vectors: &Array2<f64>, place: usize) -> &[f64] {
    let row = vectors.row(place).to_slice();
    row.expect("vectors are kept place by place")
}

/// Entries of a packed symmetric matrix.
pub(super) fn packed_len(n: usize) -> usize {
    n * (n + 1) / 2
}

/// Where row `i` of a packed symmetric matrix begins.
#[inline]
pub(super) fn row_start(i: usize) -> usize {
    i * (i + 1) / 2
}

/// Coefficients that make vectors orthonormal one after the other, from the packed matrix of their products: lower
/// triangular rows, one per vector that is no combination of those before it, over all vectors.
pub(super) fn orthonormal(products: &[f64], vectors: usize) -> Array2<f64> {
    /// What is left of a vector, relative to the longest, that is rounding.
    const NOTHING: f64 = 1e-13;
    let at = |i: usize, j: usize| {
        let (i, j) = (i.max(j), i.min(j));
        products[row_start(i) + j]
    };
    let largest = (0..vectors).map(|i| at(i, i)).fold(0.0, f64::max);
    let mut kept: Vec<Vec<f64>> = Vec::new();
    for new in 0..vectors {
        let mut row = vec![0.0; vectors];
        row[new] = 1.0;
        let product = |row: &[f64], other: &[f64]| -> f64 {
            let mut sum = 0.0;
            for (i, a) in row.iter().enumerate().filter(|(_, a)| **a != 0.0) {
                let inner: f64 = other.iter().enumerate().map(|(j, b)| b * at(i, j)).sum();
                sum += a * inner;
            }
            sum
        };
        for _ in 0..2 {
            for other in &kept {
                let share = product(other, &row);
                row.iter_mut().zip(other).for_each(|(a, b)| *a -= share * b);
            }
        }
        let square = product(&row, &row);
        if square > NOTHING * largest {
            let scale = 1.0 / square.sqrt();
            row.iter_mut().for_each(|a| *a *= scale);
            kept.push(row);
        }
    }
    Array2::from_shape_fn((kept.len(), vectors), |(i, j)| kept[i][j])
}
