//! Segment derivatives of the open walls of planar cases and volumes, whose conductances are simple
//! enough to differentiate by hand; there are many of them.
//!
//! A wall face of area A conducts kappa A times the permittivity, kappa = (n.r)/r^2 with r from where
//! the wall counts its distance to the middle of the face ([`crate::field::system::open_wall`]):
//!
//! ```text
//! d ln (kappa A) = sum across d ln width + d ln kappa,
//! d ln kappa = dr_along / r_along - 2 sum r dr / r^2.
//! ```

use super::{Accumulator, add_scaled};
use crate::grid::Grid;

/// A face of a free cell in an open wall.
pub(super) struct WallFace {
    /// Axis it is normal to.
    pub axis: usize,
    /// 0: the wall on the low side, 1: on the high side.
    pub side: usize,
    /// Its cell.
    pub index: [usize; 3],
}

/// Energies of the wall faces, times what their conductance changes by when they move.
pub(super) struct WallSums<'a> {
    grid: &'a Grid,
    /// Per axis, by cell and then low and high wall, and pair of drives: per movement \[1/m\].
    movement: [Vec<f64>; 3],
    pairs: usize,
}

impl<'a> WallSums<'a> {
    pub fn new(grid: &'a Grid, pairs: usize) -> Self {
        let places = |axis: usize| grid.axes[axis].cells() + 2;
        Self {
            grid,
            movement: [0, 1, 2].map(|axis| vec![0.0; places(axis) * pairs]),
            pairs,
        }
    }

    /// Adds a face with its energies, one per pair of drives. What its own widths and permittivity do
    /// goes to `accumulator` at once.
    pub fn add(&mut self, accumulator: &mut Accumulator, face: &WallFace, energies: &[f64]) {
        let grid = self.grid;
        accumulator.add_to_material(grid.material_at(face.index), energies);
        let centre = grid.open_centre_m();
        let dimensions = grid.dimensions();
        let mut distance = [0.0; 3];
        for (d, slot) in distance.iter_mut().enumerate().take(dimensions) {
            *slot = self.middle_m(d, self.place(face, d)) - centre[d];
        }
        let square: f64 = distance.iter().map(|r| r * r).sum();
        for d in 0..dimensions {
            let mut of_place = -2.0 * distance[d] / square;
            if d == face.axis {
                of_place += 1.0 / distance[d];
            } else {
                accumulator.add_to_cell(d, face.index[d], energies);
            }
            let start = self.place(face, d) * self.pairs;
            let sums = &mut self.movement[d][start..start + self.pairs];
            add_scaled(sums, of_place, energies);
        }
    }

    /// Place of a face on an axis: its cell, or the low or high wall.
    fn place(&self, face: &WallFace, axis: usize) -> usize {
        if axis == face.axis {
            self.grid.axes[axis].cells() + face.side
        } else {
            face.index[axis]
        }
    }

    /// Ends of a place of an axis, as node indices.
    fn ends(&self, axis: usize, place: usize) -> [usize; 2] {
        let cells = self.grid.axes[axis].cells();
        match place.checked_sub(cells) {
            None => [place, place + 1],
            Some(0) => [0; 2],
            Some(_) => [cells; 2],
        }
    }

    fn middle_m(&self, axis: usize, place: usize) -> f64 {
        let nodes = &self.grid.axes[axis].nodes_m;
        let [low, high] = self.ends(axis, place);
        0.5 * (nodes[low] + nodes[high])
    }

    /// Puts what the places of the faces do into `accumulator`.
    pub fn put_into(&self, accumulator: &mut Accumulator) {
        for axis in 0..self.grid.dimensions() {
            let nodes = &self.grid.axes[axis].nodes_m;
            let lines = &self.grid.axes[axis].lines;
            for (segment, ends) in lines.windows(2).enumerate() {
                let [low, high] = [ends[0], ends[1]].map(|line| nodes[line]);
                let moved = |at: f64| at.clamp(low, high) - low;
                let mean = |[a, b]: [f64; 2]| 0.5 * (moved(a) + moved(b));
                let centre = mean(self.grid.open_span_m[axis]);
                for (place, energies) in self.movement[axis].chunks(self.pairs).enumerate() {
                    let by = mean(self.ends(axis, place).map(|node| nodes[node])) - centre;
                    add_scaled(&mut accumulator.sums[axis][segment], by, energies);
                }
            }
        }
    }
}
