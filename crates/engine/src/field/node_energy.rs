//! Energies from above: that of the node network (N) and the trilinear one of its values (Q).
//!
//! The energy of the network is the mean over the corner-cut splittings of the cells into simplices
//! of a conforming energy, so it is never below the trilinear energy of the same node values, which
//! is never below the true one (Dirichlet's principle).

use super::coefficients::CellExtent;
use super::derivatives::{RowParts, RowSums};
use super::node_scheme::{NodeScheme, cells_around, open_walls};
use super::pairs::{Pairs, in_slabs, material_runs, mirror, sum, sum_runs, total};
use super::system::potential;
use crate::grid::{Grid, unflatten};
use crate::multigrid::dispatched;
use ndarray::Array2;
use std::ops::Range;

/// Energy matrices from above, over vacuum permittivity [m] ([1] in the plane).
pub(crate) struct NodeEnergies {
    /// N.
    pub node: Array2<f64>,
    /// Q.
    pub trilinear: Array2<f64>,
    /// N by material.
    pub material: Vec<Array2<f64>>,
}

impl NodeScheme {
    /// Energy matrices of complete node potentials, one vector per drive, 0 where a pair is not wanted.
    /// `drives` names the driven conductor of each. Adds to `sums` the energies of the edges of all
    /// cells, without cuts.
    pub fn energies(
        &self,
        grid: &Grid,
        potentials: &[Vec<f64>],
        drives: &[u16],
        pairs: &Pairs,
        mut sums: Option<&mut RowSums>,
    ) -> NodeEnergies {
        let driven = drives;
        let drives = potentials.len();
        let mut material = vec![Array2::zeros((drives, drives)); grid.permittivity.len()];
        let mut excess: Array2<f64> = Array2::zeros((drives, drives));
        let rows = grid.cell_dims()[1] * grid.cell_dims()[2];
        let wants_rows = sums.is_some();
        for slab in in_slabs(rows, |rows| {
            self.slab(grid, potentials, pairs, rows, wants_rows)
        }) {
            for (sum, part) in material.iter_mut().zip(&slab.material) {
                *sum += part;
            }
            excess += &slab.excess;
            if let (Some(sums), Some(rows)) = (&mut sums, &slab.rows) {
                sums.join(rows);
            }
        }
        self.add_cuts(grid, potentials, pairs, &mut material);
        open_walls(grid, &mut |node, conductance, at| {
            if grid.stop.asked() {
                return;
            }
            let at = &mut material[at as usize];
            for &(a, b) in pairs.wanted() {
                at[[a, b]] += conductance * potentials[a][node] * potentials[b][node];
            }
        });
        self.add_screens(
            grid,
            (potentials, driven),
            pairs,
            &mut material,
            &mut excess,
        );
        material.iter_mut().for_each(mirror);
        mirror(&mut excess);
        let node = total(&material);
        NodeEnergies {
            trilinear: &node - &excess,
            node,
            material,
        }
    }

    /// Sums up rows of cells, which run along axis 0.
    fn slab(
        &self,
        grid: &Grid,
        potentials: &[Vec<f64>],
        pairs: &Pairs,
        rows_of_slab: Range<usize>,
        wants_rows: bool,
    ) -> Slab {
        let drives = potentials.len();
        let (nodes, cells) = (grid.node_dims(), grid.cell_dims());
        let strides = [1, nodes[0], nodes[0] * nodes[1]];
        let n0 = cells[0];
        let mut slab = Slab {
            material: vec![Array2::zeros((drives, drives)); grid.permittivity.len()],
            excess: Array2::zeros((drives, drives)),
            rows: wants_rows.then(|| RowSums::new(grid, pairs)),
        };
        let mut weight = RowWeights::new(n0);
        let mut over = vec![0.0; n0];
        let mut runs = Vec::new();
        let mut parts = RowParts::new(grid);
        for row_of_grid in rows_of_slab.take_while(|_| !grid.stop.asked()) {
            let (j, k) = (row_of_grid % cells[1], row_of_grid / cells[1]);
            let cell_row = n0 * row_of_grid;
            let node_row = strides[1] * j + strides[2] * k;
            material_runs(&grid.material[cell_row..cell_row + n0], &mut runs);
            weight.fill(self, grid, [j, k], cell_row);
            for (pair, &(a, b)) in pairs.wanted().iter().enumerate() {
                let at = [a, b];
                let around = at.map(|drive| Around::row(&potentials[drive], node_row, strides, n0));
                row_energies(around, &weight, &mut parts, &mut over);
                slab.excess[at] += sum(&over);
                for part in parts.each() {
                    sum_runs(part, &runs, |m, sum| slab.material[m][at] += sum);
                }
                if let Some(sums) = &mut slab.rows {
                    sums.add(pair, [j, k], &parts, &runs);
                }
            }
        }
        slab
    }

    /// Adds the energy of screens, to the materials on both sides in the parts that are theirs.
    fn add_screens(
        &self,
        grid: &Grid,
        (potentials, driven): (&[Vec<f64>], &[u16]),
        pairs: &Pairs,
        material: &mut [Array2<f64>],
        excess: &mut Array2<f64>,
    ) {
        for face in self.screens.iter().take_while(|_| !grid.stop.asked()) {
            let parts = face.material_parts();
            for &(a, b) in pairs.wanted() {
                let [va, vb] = [a, b].map(|one| potential(face.conductor, driven[one]));
                let [lumped, over] = face.energies(&potentials[a], va, &potentials[b], vb);
                for (part, at) in parts.into_iter().zip(face.materials) {
                    material[usize::from(at)][[a, b]] += part * lumped;
                }
                excess[[a, b]] += over;
            }
        }
    }

    /// Adds what cuts add to links, to the materials of the cells around in their shares of the link.
    fn add_cuts(
        &self,
        grid: &Grid,
        potentials: &[Vec<f64>],
        pairs: &Pairs,
        material: &mut [Array2<f64>],
    ) {
        let nodes = grid.node_dims();
        let strides = [1, nodes[0], nodes[0] * nodes[1]];
        for &(axis, low, gain) in self.cuts.iter().take_while(|_| !grid.stop.asked()) {
            let around = cells_around(grid, low, axis);
            let weights: Vec<f64> = around
                .iter()
                .map(|&cell| {
                    let weights =
                        CellExtent::of(grid, unflatten(cell, grid.cell_dims())).edge_weights();
                    grid.permittivity[grid.material[cell] as usize] * weights[axis][0]
                })
                .collect();
            let sum: f64 = weights.iter().sum();
            let high = low + strides[axis];
            for (cell, weight) in around.into_iter().zip(weights) {
                let at = &mut material[grid.material[cell] as usize];
                for &(a, b) in pairs.wanted() {
                    let across = |drive: usize| potentials[drive][low] - potentials[drive][high];
                    at[[a, b]] += gain * (across(a) * across(b)) * weight / sum;
                }
            }
        }
    }
}

/// What some rows sum up to.
struct Slab {
    material: Vec<Array2<f64>>,
    excess: Array2<f64>,
    rows: Option<RowSums>,
}

/// Potentials of the rows of nodes around a row of cells, at the low and the high ends of its cells: low and high in y
/// at low z, then at high z; in the plane the latter are empty.
#[derive(Clone, Copy)]
struct Around<'x> {
    low: [&'x [f64]; 4],
    high: [&'x [f64]; 4],
}

impl<'x> Around<'x> {
    /// Around the row of `n` cells whose first node is `at`.
    fn row(x: &'x [f64], at: usize, strides: [usize; 3], n: usize) -> Self {
        let corners = [0, strides[1], strides[2], strides[1] + strides[2]];
        let rows = corners.map(|offset| x.get(at + offset..at + offset + n + 1));
        let rows = rows.map(|row| row.unwrap_or(&[]));
        Self {
            low: rows.map(|row| &row[..n.min(row.len())]),
            high: rows.map(|row| row.get(1..).unwrap_or(&[])),
        }
    }
}

/// Conductances of the edges of a row of cells, and of what the node energy has in excess of the
/// trilinear one.
struct RowWeights {
    axis: [Vec<f64>; 3],
    axis_high: Vec<f64>,
    /// In the plane the factor of the squared mixed difference, in volumes 1; 0 where cuts are.
    excess: Vec<f64>,
}

impl RowWeights {
    fn new(n: usize) -> Self {
        Self {
            axis: [vec![0.0; n], vec![0.0; n], vec![0.0; n]],
            axis_high: vec![0.0; n],
            excess: vec![0.0; n],
        }
    }

    /// Row j, k, which begins at cell `at`.
    fn fill(&mut self, scheme: &NodeScheme, grid: &Grid, [j, k]: [usize; 2], at: usize) {
        for i in 0..self.excess.len() {
            let eps = grid.permittivity[grid.material[at + i] as usize];
            let extent = CellExtent::of(grid, [i, j, k]);
            let weights = extent.edge_weights();
            for (slot, w) in self.axis.iter_mut().zip(weights) {
                slot[i] = eps * w[0];
            }
            self.axis_high[i] = eps * weights[1][1];
            let touched = scheme.touched.get(at + i).copied().unwrap_or(false);
            self.excess[i] = match (touched, grid.dimensions()) {
                (true, _) => 0.0,
                (false, 2) => eps * extent.plane_excess(),
                (false, _) => 1.0,
            };
        }
    }
}

/// Fills `parts` with the energies of the edges of every cell of a row for a pair of drives, and `over` with what the
/// node energy of the cell has in excess of the trilinear one.
fn row_energies(around: [Around; 2], w: &RowWeights, parts: &mut RowParts, over: &mut [f64]) {
    match parts.all() {
        [x, y, z] => volume_energies(around, w, x, y, z, over),
        [x, y @ ..] => plane_energies(around, w, (x, y), over),
        [] => {}
    }
}

/// Edge differences of a cell of a volume: four each along x, y and z.
#[inline(always)]
fn edges_of(low: [f64; 4], high: [f64; 4]) -> [[f64; 4]; 3] {
    let along_x = std::array::from_fn(|corner| high[corner] - low[corner]);
    // At low and high x: along y at low and high z, along z at low and high y.
    let along_y = [
        low[1] - low[0],
        high[1] - high[0],
        low[3] - low[2],
        high[3] - high[2],
    ];
    let along_z = [
        low[2] - low[0],
        high[2] - high[0],
        low[3] - low[1],
        high[3] - high[1],
    ];
    [along_x, along_y, along_z]
}

/// Mixed second differences of a cell: x-y at low and high z, x-z at low and high y, y-z at low and high x; and the
/// third one.
#[inline(always)]
fn mixed_of([x, y, _]: [[f64; 4]; 3]) -> ([f64; 6], f64) {
    let mixed = [
        x[1] - x[0],
        x[3] - x[2],
        x[2] - x[0],
        x[3] - x[1],
        y[2] - y[0],
        y[3] - y[1],
    ];
    (mixed, mixed[1] - mixed[0])
}

/// See [`row_energies`].
#[inline(always)]
fn volume_energies_body(
    [a, b]: [Around; 2],
    w: &RowWeights,
    x: &mut [f64],
    y: &mut [f64],
    z: &mut [f64],
    over: &mut [f64],
) {
    let n = over.len();
    let [a_low, b_low] = [a, b].map(|around| around.low.map(|row| &row[..n]));
    let [a_high, b_high] = [a, b].map(|around| around.high.map(|row| &row[..n]));
    let [wx, wy, wz] = [0, 1, 2].map(|d| &w.axis[d][..n]);
    let excess = &w.excess[..n];
    let (x, y, z) = (&mut x[..n], &mut y[..n], &mut z[..n]);
    for i in 0..n {
        let edges_a = edges_of(a_low.map(|row| row[i]), a_high.map(|row| row[i]));
        let edges_b = edges_of(b_low.map(|row| row[i]), b_high.map(|row| row[i]));
        let sum = |d: usize| {
            let [p, q, r, s]: [f64; 4] = std::array::from_fn(|c| edges_a[d][c] * edges_b[d][c]);
            p + q + r + s
        };
        let (wx, wy, wz) = (wx[i], wy[i], wz[i]);
        (x[i], y[i], z[i]) = (wx * sum(0), wy * sum(1), wz * sum(2));
        let ((mixed_a, triple_a), (mixed_b, triple_b)) = (mixed_of(edges_a), mixed_of(edges_b));
        let both = |first: usize| {
            mixed_a[first] * mixed_b[first] + mixed_a[first + 1] * mixed_b[first + 1]
        };
        let (xy, xz, yz) = (both(0), both(2), both(4));
        // Lumped minus exact: with D = (difference)^2/6 and L = 1/2 per direction,
        // L x D + D x L - D x D of a full area, which is four times the edge conductance.
        let twelfth = ((wx + wy) * xy + (wx + wz) * xz + (wy + wz) * yz) * (1.0 / 3.0);
        let triple = (wx + wy + wz) * (1.0 / 9.0) * triple_a * triple_b;
        over[i] = excess[i] * (twelfth - triple);
    }
}
dispatched!(fn volume_energies, volume_energies_body, volume_energies_wide(around: [Around; 2], w: &RowWeights, x: &mut [f64], y: &mut [f64], z: &mut [f64], over: &mut [f64]));

/// The same in the plane and about an axis, where the high half of x has no part of its own and the halves of y have
/// one each or share one.
fn plane_energies(
    around: [Around; 2],
    w: &RowWeights,
    (x, y): (&mut [f64], &mut [Vec<f64>]),
    over: &mut [f64],
) {
    for i in 0..over.len() {
        let [a, b] = around.map(|Around { low, high }| {
            let [[low, up], [high, up_high]] = [low, high].map(|rows| [rows[0][i], rows[1][i]]);
            [high - low, up_high - up, up - low, up_high - high]
        });
        let [p, q, low, high]: [f64; 4] = std::array::from_fn(|edge| a[edge] * b[edge]);
        x[i] = w.axis[0][i] * (p + q);
        let (low, high) = (w.axis[1][i] * low, w.axis_high[i] * high);
        match y {
            [both] => both[i] = low + high,
            [.., of_low, of_high] => (of_low[i], of_high[i]) = (low, high),
            [] => {}
        }
        over[i] = w.excess[i] * ((a[1] - a[0]) * (b[1] - b[0]));
    }
}
