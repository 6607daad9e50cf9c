//! Pairs of drives and matrices over them: computed above the diagonal, mirrored below it.

use crate::multigrid::dispatched;
use ndarray::Array2;
use rayon::prelude::*;
use std::ops::Range;

/// Slabs that the rows of a grid are summed in: as many for any number of threads, so that sums have the same bits.
const SLABS: usize = 16;

/// Hands the rows of a grid to `sum` in slabs, side by side; gives what they sum up to in the order of the rows.
pub(super) fn in_slabs<T: Send>(rows: usize, sum: impl Fn(Range<usize>) -> T + Sync) -> Vec<T> {
    let rows_each = rows.div_ceil(SLABS).max(1);
    let slabs = (0..rows.div_ceil(rows_each)).into_par_iter();
    let range = |slab: usize| slab * rows_each..((slab + 1) * rows_each).min(rows);
    slabs.map(|slab| sum(range(slab))).collect()
}

/// Pairs of drives, the smaller first.
pub(crate) struct Pairs {
    drives: usize,
    wanted: Vec<(usize, usize)>,
    left_out: Vec<(usize, usize)>,
}

impl Pairs {
    /// All of so many drives.
    #[cfg(test)]
    pub fn all(drives: usize) -> Self {
        Self::but_among(&vec![false; drives])
    }

    /// All but those of two different drives that are both marked.
    pub fn but_among(apart: &[bool]) -> Self {
        let all = (0..apart.len()).flat_map(|a| (a..apart.len()).map(move |b| (a, b)));
        let (left_out, wanted) = all.partition(|&(a, b)| a != b && apart[a] && apart[b]);
        Self {
            drives: apart.len(),
            wanted,
            left_out,
        }
    }

    /// Number of drives.
    pub fn drives(&self) -> usize {
        self.drives
    }

    /// Those whose energies are wanted.
    pub fn wanted(&self) -> &[(usize, usize)] {
        &self.wanted
    }

    /// The others.
    pub fn left_out(&self) -> &[(usize, usize)] {
        &self.left_out
    }
}

/// Copies the upper triangle into the lower one.
pub(super) fn mirror(matrix: &mut Array2<f64>) {
    for a in 0..matrix.nrows() {
        for b in 0..a {
            matrix[[a, b]] = matrix[[b, a]];
        }
    }
}

/// Sum of matrices of equal size, at least one.
pub(super) fn total(parts: &[Array2<f64>]) -> Array2<f64> {
    let zero = Array2::zeros(parts[0].dim());
    parts.iter().fold(zero, |sum, part| sum + part)
}

/// Stretches of equal material in a row of cells: their ends and the material.
pub(super) fn material_runs(row: &[u16], runs: &mut Vec<(usize, usize)>) {
    runs.clear();
    for (i, &material) in row.iter().enumerate() {
        match runs.last_mut() {
            Some((end, last)) if *last == usize::from(material) => *end = i + 1,
            _ => runs.push((i + 1, usize::from(material))),
        }
    }
}

/// Sum of products, four at a time.
#[inline(always)]
fn dot_body(a: &[f64], b: &[f64]) -> f64 {
    let ((a, rest_a), (b, rest_b)) = (a.as_chunks::<4>(), b.as_chunks::<4>());
    let mut sums = [0.0; 4];
    for (a, b) in a.iter().zip(b) {
        for ((sum, a), b) in sums.iter_mut().zip(a).zip(b) {
            *sum += a * b;
        }
    }
    let rest: f64 = rest_a.iter().zip(rest_b).map(|(a, b)| a * b).sum();
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}
dispatched!(pub(super) fn dot, dot_body, dot_wide(a: &[f64], b: &[f64]) -> f64);

/// Sum of a row of values, four at a time.
#[inline]
pub(super) fn sum(values: &[f64]) -> f64 {
    let (lanes, rest) = values.as_chunks::<4>();
    let mut sums = [0.0; 4];
    for lane in lanes {
        for (sum, value) in sums.iter_mut().zip(lane) {
            *sum += value;
        }
    }
    let rest: f64 = rest.iter().sum();
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

/// Sum of a row of values over each of its stretches, handed to `add` with the material.
#[inline]
pub(super) fn sum_runs(values: &[f64], runs: &[(usize, usize)], mut add: impl FnMut(usize, f64)) {
    let mut start = 0;
    for &(end, material) in runs {
        add(material, sum(&values[start..end]));
        start = end;
    }
}
