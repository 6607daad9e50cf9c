//! Energies of rows of cells, taken while the energies are summed anyway, by the segments they lie in.
//!
//! A row runs along axis 0, so the segments of the other axes are those of the whole row, and what
//! belongs to the segments of axis 0 is kept per column until the end.

use super::{Accumulator, add_scaled};
use crate::case::Kind;
use crate::field::pairs::{Pairs, sum_runs};
use crate::grid::Grid;

/// Energies of one row of cells and one pair of drives by what they are proportional to: one part per
/// axis; in axisymmetric cases two, as the coefficients of the low and the high half move apart there.
pub(in crate::field) struct RowParts {
    halves: usize,
    energy: Vec<Vec<f64>>,
}

impl RowParts {
    pub fn new(grid: &Grid) -> Self {
        let halves = halves(grid);
        let row = vec![0.0; grid.cell_dims()[0]];
        Self {
            halves,
            energy: vec![row; halves * grid.dimensions()],
        }
    }

    /// Energies along `axis` in the low (0) or high (1) `half` of the cells; one half stands for both
    /// where they do not differ.
    pub fn of(&mut self, axis: usize, half: usize) -> &mut [f64] {
        &mut self.energy[axis * self.halves + half % self.halves]
    }

    /// All parts, axis by axis, each with its halves.
    pub fn all(&mut self) -> &mut [Vec<f64>] {
        &mut self.energy
    }

    /// The parts.
    pub fn each(&self) -> impl Iterator<Item = &[f64]> {
        self.energy.iter().map(Vec::as_slice)
    }

    /// Whether the halves are apart.
    pub fn are_halves_apart(&self) -> bool {
        self.halves == 2
    }
}

fn halves(grid: &Grid) -> usize {
    match grid.kind {
        Kind::Axisymmetric => 2,
        _ => 1,
    }
}

/// Sums of such rows.
pub(in crate::field) struct RowSums {
    parts: usize,
    cells: usize,
    /// By pair of drives, part and cell of axis 0.
    columns: Vec<f64>,
    /// Of axes 1 and 2: by segment, pair of drives and part.
    totals: [Vec<f64>; 2],
    /// Segment of every cell along axes 1 and 2.
    segment_of: [Vec<usize>; 2],
    pairs: usize,
    /// By material and pair of drives.
    materials: Vec<f64>,
}

impl RowSums {
    pub fn new(grid: &Grid, pairs: &Pairs) -> Self {
        let parts = halves(grid) * grid.dimensions();
        let pairs = pairs.wanted().len();
        let cells = grid.cell_dims()[0];
        let segments = |axis: usize| grid.axes[axis].lines.len().saturating_sub(1);
        Self {
            parts,
            cells,
            columns: vec![0.0; pairs * parts * cells],
            totals: [1, 2].map(|axis| vec![0.0; segments(axis) * pairs * parts]),
            segment_of: [1, 2].map(|axis| segment_of(grid, axis)),
            pairs,
            materials: vec![0.0; pairs * grid.permittivity.len()],
        }
    }

    /// Adds the row at `place` along axes 1 and 2 of a pair of drives; `runs` are its stretches of equal
    /// material.
    pub fn add(&mut self, pair: usize, place: [usize; 2], row: &RowParts, runs: &[(usize, usize)]) {
        let start = pair * self.parts * self.cells;
        let columns = &mut self.columns[start..start + self.parts * self.cells];
        for (part, (column, energy)) in columns
            .chunks_exact_mut(self.cells)
            .zip(&row.energy)
            .enumerate()
        {
            let mut total = 0.0;
            sum_runs(energy, runs, |material, sum| {
                self.materials[material * self.pairs + pair] += sum;
                total += sum;
            });
            for (sum, value) in column.iter_mut().zip(energy) {
                *sum += value;
            }
            for ((totals, segment_of), at) in
                self.totals.iter_mut().zip(&self.segment_of).zip(place)
            {
                if let Some(segment) = segment_of.get(at) {
                    totals[(segment * self.pairs + pair) * self.parts + part] += total;
                }
            }
        }
    }

    /// Adds those of other rows of the same grid.
    pub fn join(&mut self, other: &Self) {
        add_scaled(&mut self.columns, 1.0, &other.columns);
        add_scaled(&mut self.materials, 1.0, &other.materials);
        for (totals, others) in self.totals.iter_mut().zip(&other.totals) {
            add_scaled(totals, 1.0, others);
        }
    }

    /// Puts the sums into `accumulator`. `logarithmic(cell, axis, half, moved)`: derivative of the
    /// logarithm of what a half of a cell of axis 0 conducts along `axis` when the faces of axis 0
    /// move; asked of axisymmetric cases only.
    pub fn put_into(
        &self,
        accumulator: &mut Accumulator,
        logarithmic: impl Fn(usize, usize, usize, [f64; 2]) -> f64,
    ) {
        let halves = halves(accumulator.grid);
        let materials = accumulator.materials.iter_mut();
        for (sums, values) in materials.zip(self.materials.chunks_exact(self.pairs)) {
            add_scaled(sums, 1.0, values);
        }
        let mut part_of_pairs = vec![0.0; self.pairs];
        for part in 0..self.parts {
            let (axis, half) = (part / halves, part % halves);
            for cell in 0..self.cells {
                for (pair, value) in part_of_pairs.iter_mut().enumerate() {
                    *value = self.columns[(pair * self.parts + part) * self.cells + cell];
                }
                accumulator.add_along(0, cell, axis, &part_of_pairs, &|moved| {
                    logarithmic(cell, axis, half, moved)
                });
            }
            for (stretched, totals) in [1, 2].into_iter().zip(&self.totals) {
                for segment in 0..totals.len() / (self.pairs * self.parts) {
                    for (pair, value) in part_of_pairs.iter_mut().enumerate() {
                        *value = totals[(segment * self.pairs + pair) * self.parts + part];
                    }
                    accumulator.add_to_segment(stretched, segment, axis, &part_of_pairs);
                }
            }
        }
    }
}

/// Segment of every cell of an axis.
pub(super) fn segment_of(grid: &Grid, axis: usize) -> Vec<usize> {
    let axis = &grid.axes[axis];
    (0..axis.cells())
        .map(|i| axis.lines.partition_point(|&l| l <= i) - 1)
        .collect()
}
