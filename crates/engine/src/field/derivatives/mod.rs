//! Derivatives of every capacitance to every permittivity and every segment length, from the
//! potentials already there.
//!
//! With u_i the potentials of drive i and A(p) the network, dC_ij/dp = u_i^T (dA/dp) u_j: the
//! solutions are stationary, so only the coefficients move. A permittivity scales the energy of
//! its material; a segment of an axis, stretched, scales every link along the axis by -1 and every
//! link across it by +1 (logarithmically). On the radius of axisymmetric cases everything further
//! out moves along, so the logarithmic derivatives of the coefficients are differences of the
//! coefficient formulas themselves; so are those of what has a formula of its own: cut links, partly
//! covered faces, and about an axis the open wall and screens, whose depth stays when everything around is
//! stretched. What lies in series counts each with the flux through it. Node and cell networks give one
//! derivative each; reported is their mean.
//!
//! Round and slanted outlines are carried by the stretch like the space they lie in. Not included:
//! how an outline moves or grows across grid lines that stay.

mod cell;
mod near;
mod node;
mod rows;
#[cfg(test)]
mod tests;
mod walls;

pub(crate) use cell::cell_slopes;
pub(crate) use node::node_slopes;
pub(super) use rows::{RowParts, RowSums};

use near::{Change, Near};

use super::pairs::Pairs;
use super::screen::ScreenFace;
use crate::case::Kind;
use crate::grid::Grid;
use crate::stop::Stop;
use ndarray::Array2;

/// Relative step for the derivative of a coefficient: the formulas are smooth and the difference is
/// central, so it is good to about eight digits.
const STEP: f64 = 1e-4;

/// Derivatives of one network, over vacuum permittivity.
#[derive(Clone)]
pub(crate) struct Slopes {
    /// To the logarithm of each segment length, per axis and segment; 0 for pairs that are not wanted.
    pub segments: [Vec<Array2<f64>>; 3],
    /// To the logarithm of each permittivity, by material.
    pub permittivity: Vec<Array2<f64>>,
}

/// Products of the values of every wanted pair of drives.
fn products(pairs: &Pairs, values: &[f64], out: &mut Vec<f64>) {
    out.clear();
    let wanted = pairs.wanted().iter();
    out.extend(wanted.map(|&(a, b)| values[a] * values[b]));
}

/// Sums by axis, segment and pair of drives, and by material and pair of drives.
pub(super) struct Accumulator<'a> {
    grid: &'a Grid,
    /// Segment of every cell along each axis.
    segment_of: [Vec<usize>; 3],
    sums: [Vec<Vec<f64>>; 3],
    materials: Vec<Vec<f64>>,
    pairs: &'a Pairs,
}

impl<'a> Accumulator<'a> {
    fn new(grid: &'a Grid, wanted: &'a Pairs) -> Self {
        let pairs = wanted.wanted().len();
        let segment_of = [0, 1, 2].map(|axis| rows::segment_of(grid, axis));
        let sums =
            [0, 1, 2].map(|d| vec![vec![0.0; pairs]; grid.axes[d].lines.len().saturating_sub(1)]);
        Self {
            grid,
            segment_of,
            sums,
            materials: vec![vec![0.0; pairs]; grid.permittivity.len()],
            pairs: wanted,
        }
    }

    /// Adds the energies `part` of what a cell has along `axis`, conductances that grow with their
    /// section and fall with their length. `logarithmic([dr1, dr2])`: derivative of the logarithm
    /// of the conductance when the faces of axis 0 move, for axisymmetric cells.
    fn add(
        &mut self,
        index: [usize; 3],
        axis: usize,
        part: &[f64],
        logarithmic: impl Fn([f64; 2]) -> f64,
    ) {
        for (stretched, cell) in index.into_iter().enumerate().take(self.grid.dimensions()) {
            self.add_along(stretched, cell, axis, part, &logarithmic);
        }
    }

    /// The same for the segments of the axis `stretched` alone, on which the cell has index `cell`.
    fn add_along(
        &mut self,
        stretched: usize,
        cell: usize,
        axis: usize,
        part: &[f64],
        logarithmic: &impl Fn([f64; 2]) -> f64,
    ) {
        let own = self.segment_of[stretched][cell];
        if self.grid.kind == Kind::Axisymmetric && stretched == 0 {
            self.add_radial(cell, own, part, logarithmic);
        } else {
            self.add_to_segment(stretched, own, axis, part);
        }
    }

    /// Adds energies along `axis` of cells in a segment of the axis `stretched`, not of radii.
    fn add_to_segment(&mut self, stretched: usize, segment: usize, axis: usize, part: &[f64]) {
        let sign = if axis == stretched { -1.0 } else { 1.0 };
        add_scaled(&mut self.sums[stretched][segment], sign, part);
    }

    /// Adds energies to the segment of `axis` that its cell `cell` lies in.
    fn add_to_cell(&mut self, axis: usize, cell: usize, energies: &[f64]) {
        let own = self.segment_of[axis][cell];
        add_scaled(&mut self.sums[axis][own], 1.0, energies);
    }

    /// Adds energies that are proportional to the permittivity of a material.
    fn add_to_material(&mut self, material: u16, energies: &[f64]) {
        add_scaled(&mut self.materials[usize::from(material)], 1.0, energies);
    }

    /// Adds the energies of a face of a screen, in planar cases and volumes: its depth stays,
    /// so it conducts by its area, which the widths of all but the last axis make.
    fn add_screen(&mut self, face: &ScreenFace, energies: &[f64]) {
        let index = face.beside(self.grid);
        for axis in 0..self.grid.dimensions() - 1 {
            self.add_to_cell(axis, index[axis], energies);
        }
        for (part, material) in face.material_parts().into_iter().zip(face.materials) {
            add_scaled(&mut self.materials[usize::from(material)], part, energies);
        }
    }

    fn add_radial(
        &mut self,
        cell: usize,
        own: usize,
        part: &[f64],
        logarithmic: &impl Fn([f64; 2]) -> f64,
    ) {
        let axis = &self.grid.axes[0];
        for s in 0..=own {
            let [low, high] = [s, s + 1].map(|s| axis.nodes_m[axis.lines[s]]);
            let moved = [cell, cell + 1].map(|n| axis.nodes_m[n].min(high) - low);
            add_scaled(&mut self.sums[0][s], logarithmic(moved), part);
        }
    }

    /// Adds what conductances are worth that have formulas of their own. `conductances(grid, wanted)` gives those of a
    /// stretched grid whose numbers are wanted, in the same order for every grid; `energies`: their numbers and the
    /// products of the potential differences; `near`: what those of a number depend on, everything where it says
    /// nothing.
    fn add_differences(
        &mut self,
        conductances: impl Fn(&Grid, &dyn Fn(usize) -> bool) -> Vec<f64>,
        energies: &[(usize, Vec<f64>)],
        near: &[Option<Near>],
    ) {
        if energies.is_empty() || self.grid.stop.asked() {
            return;
        }
        let original = self.grid;
        let mut grid = original.clone();
        // Whole calls only: conductances of a grid that is left in the middle are fewer.
        grid.stop = Stop::NEVER;
        let mut add = |sums: &mut [f64], change: Change| {
            let feels = |number: usize| {
                let near = near.get(number).and_then(Option::as_ref);
                near.is_none_or(|near| near.feels(original, change))
            };
            let energies = energies.iter().filter(|(number, _)| feels(*number));
            let energies: Vec<&[f64]> = energies.map(|(_, energies)| &energies[..]).collect();
            if energies.is_empty() || original.stop.asked() {
                return;
            }
            let [more, less] = [1.0 + STEP, 1.0 - STEP].map(|factor| {
                grid.change(original, change, factor);
                let found = conductances(&grid, &feels);
                assert_eq!(
                    found.len(),
                    energies.len(),
                    "conductances of a changed grid"
                );
                found
            });
            for ((more, less), energies) in more.iter().zip(&less).zip(energies) {
                add_scaled(sums, (more - less) / (2.0 * STEP), energies);
            }
        };
        for (axis, sums) in self.sums.iter_mut().enumerate() {
            for (segment, sums) in sums.iter_mut().enumerate() {
                add(sums, Change::Segment { axis, segment });
            }
        }
        for (material, sums) in self.materials.iter_mut().enumerate() {
            add(sums, Change::Material(material));
        }
    }

    fn finish(self) -> Slopes {
        let drives = self.pairs.drives();
        let matrix = |values: Vec<f64>| {
            let mut matrix = Array2::zeros((drives, drives));
            for (&(a, b), value) in self.pairs.wanted().iter().zip(values) {
                matrix[[a, b]] = value;
                matrix[[b, a]] = value;
            }
            matrix
        };
        Slopes {
            segments: self.sums.map(|axis| axis.into_iter().map(matrix).collect()),
            permittivity: self.materials.into_iter().map(matrix).collect(),
        }
    }
}

impl Grid {
    /// Becomes `original`, of which it is a clone, with one length or permittivity times a factor.
    fn change(&mut self, original: &Self, change: Change, factor: f64) {
        match change {
            Change::Segment { axis, segment } => self.stretch(original, axis, segment, factor),
            Change::Material(material) => {
                // The last stretch is taken back by one that changes nothing.
                self.stretch(original, 0, 0, 1.0);
                self.permittivity.clone_from(&original.permittivity);
                self.permittivity[material] *= factor;
            }
        }
    }
}

/// Numbers energies in their order.
fn numbered(energies: Vec<Vec<f64>>) -> Vec<(usize, Vec<f64>)> {
    energies.into_iter().enumerate().collect()
}

fn add_scaled(out: &mut [f64], factor: f64, values: &[f64]) {
    for (sum, v) in out.iter_mut().zip(values) {
        *sum += factor * v;
    }
}

/// d ln f along a movement of the two radii, by central difference.
fn logarithmic_derivative(r: [f64; 2], moved: [f64; 2], f: impl Fn([f64; 2]) -> f64) -> f64 {
    let at = |step: f64| f([r[0] + step * moved[0], r[1] + step * moved[1]]);
    let middle = f(r);
    if middle == 0.0 {
        return 0.0;
    }
    let scale = STEP * (r[1] - r[0]) / (moved[0].abs().max(moved[1].abs()).max(r[1] - r[0]));
    (at(scale) - at(-scale)) / (2.0 * scale * middle)
}
