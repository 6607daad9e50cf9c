//! Energies from above: that of the node network (N) and the trilinear one of its values (Q).
//!
//! The energy of the network is the mean over the corner-cut splittings of the cells into simplices
//! of a conforming energy, so it is never below the trilinear energy of the same node values, which
//! is never below the true one (Dirichlet's principle).

use super::coefficients::CellExtent;
use super::derivatives::{RowParts, RowSums};
use super::node_scheme::{NodeScheme, cells_around, open_walls};
use super::pairs::{Pairs, material_runs, mirror, sum, sum_runs, total};
use super::system::potential;
use crate::grid::{Grid, unflatten};
use crate::multigrid::dispatched;
use ndarray::Array2;

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
        let (nodes, cells) = (grid.node_dims(), grid.cell_dims());
        let strides = [1, nodes[0], nodes[0] * nodes[1]];
        let materials = grid.permittivity.len();
        let mut material = vec![Array2::zeros((drives, drives)); materials];
        let mut excess: Array2<f64> = Array2::zeros((drives, drives));
        let n0 = cells[0];
        let edges = if grid.dimensions() == 2 { 4 } else { 12 };
        let mut rows = vec![Row::new(n0, edges); drives];
        let mut weight = RowWeights::new(n0);
        let mut over = vec![0.0; n0];
        let mut runs = Vec::new();
        let mut parts = RowParts::new(grid);
        'rows: for k in 0..cells[2] {
            for j in 0..cells[1] {
                if grid.stop.asked() {
                    break 'rows;
                }
                let cell_row = n0 * (j + cells[1] * k);
                let node_row = strides[1] * j + strides[2] * k;
                let row_materials = &grid.material[cell_row..cell_row + n0];
                material_runs(row_materials, &mut runs);
                weight.fill(self, grid, [j, k], cell_row);
                for (row, x) in rows.iter_mut().zip(potentials) {
                    row.fill(x, node_row, strides, grid.dimensions());
                }
                for (pair, &(a, b)) in pairs.wanted().iter().enumerate() {
                    excess[[a, b]] += excess_energy(&rows[a], &rows[b], &weight, &mut over);
                    edge_energies(&rows[a], &rows[b], &weight, &mut parts);
                    for part in parts.each() {
                        sum_runs(part, &runs, |m, sum| material[m][[a, b]] += sum);
                    }
                    if let Some(sums) = &mut sums {
                        sums.add(pair, [j, k], &parts, &runs);
                    }
                }
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

/// Edge differences of one row of cells.
#[derive(Clone)]
struct Row {
    /// 12 (4 in the plane) edge differences per cell, edge by edge.
    edge: Vec<Vec<f64>>,
    /// Mixed second differences: 6 (1 in the plane).
    mixed: Vec<Vec<f64>>,
    /// Mixed third difference.
    triple: Vec<f64>,
}

impl Row {
    fn new(n: usize, edges: usize) -> Self {
        Self {
            edge: vec![vec![0.0; n]; edges],
            mixed: vec![vec![0.0; n]; if edges == 4 { 1 } else { 6 }],
            triple: vec![0.0; n],
        }
    }

    /// The row of cells whose first node is `at`.
    fn fill(&mut self, x: &[f64], at: usize, strides: [usize; 3], dimensions: usize) {
        let n = self.triple.len();
        let corners = [0, strides[1], strides[2], strides[1] + strides[2]];
        let rows = if dimensions == 2 { 2 } else { 4 };
        let mut nodes = [&x[..0]; 4];
        for (nodes, offset) in nodes.iter_mut().zip(corners).take(rows) {
            *nodes = &x[at + offset..at + offset + n + 1];
        }
        differences(self, nodes);
    }
}

/// Fills a row from the potentials of the rows of nodes around it: low and high in y at low z, then at high z; in the
/// plane the latter are empty.
#[inline(always)]
fn differences_body(row: &mut Row, nodes: [&[f64]; 4]) {
    let n = row.triple.len();
    // Of two rows of nodes, or of one moved by one.
    let less = |to: &mut Vec<f64>, from: &[f64], what: &[f64]| {
        let (to, from, what) = (&mut to[..n], &from[..n], &what[..n]);
        for i in 0..n {
            to[i] = from[i] - what[i];
        }
    };
    let (edge, mixed) = (&mut row.edge[..], &mut row.mixed[..]);
    if mixed.len() == 1 {
        let [low, high, ..] = nodes;
        less(&mut edge[0], &low[1..], low);
        less(&mut edge[1], &high[1..], high);
        less(&mut edge[2], high, low);
        less(&mut edge[3], &high[1..], &low[1..]);
        less(&mut mixed[0], &edge[1], &edge[0]);
        return;
    }
    for (edge, row) in edge.iter_mut().zip(nodes) {
        less(edge, &row[1..], row);
    }
    for (slot, [low, high]) in [[0, 1], [2, 3], [0, 2], [1, 3]].into_iter().enumerate() {
        let [low, high] = [nodes[low], nodes[high]];
        less(&mut edge[4 + 2 * slot], high, low);
        less(&mut edge[5 + 2 * slot], &high[1..], &low[1..]);
    }
    // x-y at low and high z, x-z at low and high y, y-z at low and high x.
    let pairs = [[1, 0], [3, 2], [2, 0], [3, 1], [6, 4], [7, 5]];
    for (mixed, [from, what]) in mixed.iter_mut().zip(pairs) {
        less(mixed, &edge[from], &edge[what]);
    }
    less(&mut row.triple, &mixed[1], &mixed[0]);
}
dispatched!(fn differences, differences_body, differences_wide(row: &mut Row, nodes: [&[f64]; 4]));

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

/// Fills `parts` with the energies of the edges of every cell.
#[inline(always)]
fn edge_energies_body(a: &Row, b: &Row, w: &RowWeights, parts: &mut RowParts) {
    let n = w.excess.len();
    let products = |edge: usize| {
        let (a, b) = (&a.edge[edge][..n], &b.edge[edge][..n]);
        move |i: usize| a[i] * b[i]
    };
    if a.edge.len() == 12 {
        for d in 0..3 {
            let [p, q, r, s] = [0, 1, 2, 3].map(|c| products(4 * d + c));
            let weight = &w.axis[d][..n];
            for (i, energy) in parts.of(d, 0)[..n].iter_mut().enumerate() {
                *energy = weight[i] * (p(i) + q(i) + r(i) + s(i));
            }
        }
        return;
    }
    let [p, q, low, high] = [0, 1, 2, 3].map(products);
    let weight = &w.axis[0][..n];
    for (i, energy) in parts.of(0, 0)[..n].iter_mut().enumerate() {
        *energy = weight[i] * (p(i) + q(i));
    }
    let [weight_low, weight_high] = [&w.axis[1][..n], &w.axis_high[..n]];
    if parts.are_halves_apart() {
        for (i, energy) in parts.of(1, 0)[..n].iter_mut().enumerate() {
            *energy = weight_low[i] * low(i);
        }
        for (i, energy) in parts.of(1, 1)[..n].iter_mut().enumerate() {
            *energy = weight_high[i] * high(i);
        }
        return;
    }
    for (i, energy) in parts.of(1, 0)[..n].iter_mut().enumerate() {
        *energy = weight_low[i] * low(i) + weight_high[i] * high(i);
    }
}

dispatched!(fn edge_energies, edge_energies_body, edge_energies_wide(a: &Row, b: &Row, w: &RowWeights, parts: &mut RowParts));

/// What the node energy of a row has in excess of the trilinear one; `over` is room for one value per
/// cell.
#[inline(always)]
fn excess_energy_body(a: &Row, b: &Row, w: &RowWeights, over: &mut [f64]) -> f64 {
    let n = over.len();
    let products = |mixed: usize| {
        let (a, b) = (&a.mixed[mixed][..n], &b.mixed[mixed][..n]);
        move |i: usize| a[i] * b[i]
    };
    let excess = &w.excess[..n];
    if a.mixed.len() == 1 {
        let mixed = products(0);
        for (i, over) in over.iter_mut().enumerate() {
            *over = excess[i] * mixed(i);
        }
        return sum(over);
    }
    let [xy_low, xy_high, xz_low, xz_high, yz_low, yz_high] = [0, 1, 2, 3, 4, 5].map(products);
    let [wx, wy, wz] = [0, 1, 2].map(|d| &w.axis[d][..n]);
    let (ta, tb) = (&a.triple[..n], &b.triple[..n]);
    for (i, over) in over.iter_mut().enumerate() {
        let (wx, wy, wz) = (wx[i], wy[i], wz[i]);
        let xy = xy_low(i) + xy_high(i);
        let xz = xz_low(i) + xz_high(i);
        let yz = yz_low(i) + yz_high(i);
        // Lumped minus exact: with D = (difference)^2/6 and L = 1/2 per direction,
        // L x D + D x L - D x D of a full area, which is four times the edge conductance.
        let twelfth = ((wx + wy) * xy + (wx + wz) * xz + (wy + wz) * yz) * (1.0 / 3.0);
        let triple = (wx + wy + wz) * (1.0 / 9.0) * ta[i] * tb[i];
        *over = excess[i] * (twelfth - triple);
    }
    sum(over)
}
dispatched!(fn excess_energy, excess_energy_body, excess_energy_wide(a: &Row, b: &Row, w: &RowWeights, over: &mut [f64]) -> f64);
