//! The node network and its trilinear energy: capacitances from above.
//!
//! Unknowns at grid nodes. The node network (N) has per cell and axis four edges (two in the
//! plane) of conductance permittivity x quarter area / length; its energy is the mean over the
//! corner-cut splittings of the cells into simplices of a conforming energy, so it is never below
//! the trilinear energy (Q) of the same node values, which is never below the true one
//! (Dirichlet's principle).

use super::system::{System, open_wall};
use crate::case::{Kind, Wall};
use crate::grid::{FREE, Grid};
use ndarray::Array2;
use std::f64::consts::PI;

/// Largest factor by which a cut shortens a link.
const LARGEST_CUT: f64 = 50.0;

/// Edge conductances of one cell over its permittivity [m]: per axis, for the low and the high
/// half of the cell. Only the height axis of axisymmetric cells has unequal halves.
fn edge_weights(grid: &Grid, index: [usize; 3]) -> [[f64; 2]; 3] {
    let w = [0, 1, 2].map(|d| {
        if d < grid.dimensions() {
            grid.axes[d].width_m(index[d])
        } else {
            1.0
        }
    });
    let r = &grid.axes[0].nodes_m;
    edge_weights_between(grid.kind, w, [r[index[0]], r[index[0] + 1]])
}

/// The same from the widths of a cell and the radii of its faces [m].
pub(super) fn edge_weights_between(kind: Kind, w: [f64; 3], radii: [f64; 2]) -> [[f64; 2]; 3] {
    match kind {
        Kind::Planar => [[0.5 * w[1] / w[0]; 2], [0.5 * w[0] / w[1]; 2], [0.0; 2]],
        Kind::Volume => [
            [0.25 * w[1] * w[2] / w[0]; 2],
            [0.25 * w[0] * w[2] / w[1]; 2],
            [0.25 * w[0] * w[1] / w[2]; 2],
        ],
        Kind::Axisymmetric => {
            let [r1, r2] = radii;
            // Mean of r over the right triangles at the low and the high radius.
            let low = PI * w[0] * (2.0 * r1 + r2) / 3.0 / w[1];
            let high = PI * w[0] * (r1 + 2.0 * r2) / 3.0 / w[1];
            [
                [PI * 0.5 * (r1 + r2) * w[1] / w[0]; 2],
                [low, high],
                [0.0; 2],
            ]
        }
    }
}

/// What a cut adds to the conductance `c` of its link.
///
/// Beside a solid the link ends at the surface: conductance over the free share of the length. In
/// the plane of a sheet or a flat end, a conductance EDGE permittivity x width x d/(1 - d) between
/// the last inside node and the first outside one moves the effective edge by d link lengths;
/// `slenderness` is the link's length over the height it stands for, so that c x slenderness is
/// permittivity x width. On square cells the form is that of a link factor f moving the edge by
/// -0.339 + 1.6925 f/(f + 1.444) link lengths; the cells at an edge here are flat, and the
/// strength was fitted on a round pad under a round finger at fineness 1.5 to 2.5.
fn cut_gain(c: f64, covered: f64, flat: bool, slenderness: f64) -> f64 {
    let ratio = (covered / (1.0 - covered)).min(LARGEST_CUT);
    if flat {
        EDGE * c * slenderness * ratio
    } else {
        c * ratio
    }
}

/// Strength of the edge conductance.
const EDGE: f64 = 1.0;

/// The system and, for energies, what cuts add to links and which cells they touch.
pub(crate) struct NodeScheme {
    pub system: System,
    /// Axis, link index, conductance the cut adds [m].
    cuts: Vec<(usize, usize, f64)>,
    touched: Vec<bool>,
}

impl NodeScheme {
    pub fn new(grid: &Grid) -> Self {
        let (nodes, cells) = (grid.node_dims(), grid.cell_dims());
        let strides = [1, nodes[0], nodes[0] * nodes[1]];
        let n: usize = nodes.iter().product();
        let dimensions = grid.dimensions();
        let mut link: [Vec<f32>; 3] = [0, 1, 2].map(|d| {
            if d < dimensions {
                vec![0.0; n]
            } else {
                Vec::new()
            }
        });
        // Row by row: for each axis the edges of the cell's corners.
        for k in 0..cells[2] {
            for j in 0..cells[1] {
                for i in 0..cells[0] {
                    let eps = grid.permittivity
                        [grid.material[i + cells[0] * (j + cells[1] * k)] as usize];
                    let weights = edge_weights(grid, [i, j, k]);
                    let node = i + strides[1] * j + strides[2] * k;
                    if dimensions == 2 {
                        let w = eps * weights[0][0];
                        link[0][node] += w as f32;
                        link[0][node + strides[1]] += w as f32;
                        link[1][node] += (eps * weights[1][0]) as f32;
                        link[1][node + 1] += (eps * weights[1][1]) as f32;
                    } else {
                        for d in 0..3 {
                            let (u, v) = (strides[(d + 1) % 3], strides[(d + 2) % 3]);
                            let w = (eps * weights[d][0]) as f32;
                            for corner in [node, node + u, node + v, node + u + v] {
                                link[d][corner] += w;
                            }
                        }
                    }
                }
            }
        }
        let mut ground = vec![0.0_f32; n];
        open_walls(grid, &mut ground);
        let mut cuts = Vec::new();
        let mut touched = Vec::new();
        if grid.has_shapes {
            touched = vec![false; grid.cells()];
            for cut in &grid.node_cuts {
                let (low, high) = (cut.low, cut.low + strides[cut.axis]);
                let (inside, outside) = if cut.inside_is_low {
                    (low, high)
                } else {
                    (high, low)
                };
                if grid.node_conductor[inside] != cut.conductor
                    || grid.node_conductor[outside] != FREE
                {
                    continue;
                }
                let c = f64::from(link[cut.axis][low]);
                let gain = cut_gain(c, cut.covered, cut.flat, slenderness(grid, low, cut.axis));
                link[cut.axis][low] = (c + gain) as f32;
                cuts.push((cut.axis, low, gain));
                if !cut.flat {
                    touch(grid, low, cut.axis, &mut touched);
                }
            }
        }
        let coordinates = [0, 1, 2].map(|d| grid.axes[d].nodes_m.clone());
        let rank = [0, 1, 2].map(|d| grid.axes[d].rank.clone());
        let system = System::new(
            coordinates,
            rank,
            link,
            ground,
            grid.node_conductor.clone(),
            Vec::new(),
        );
        Self {
            system,
            cuts,
            touched,
        }
    }

    /// Energy matrices of complete node potentials, one vector per drive.
    pub fn energies(&self, grid: &Grid, potentials: &[Vec<f64>]) -> NodeEnergies {
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
        let mut energy = vec![0.0; n0];
        for k in 0..cells[2] {
            for j in 0..cells[1] {
                let cell_row = n0 * (j + cells[1] * k);
                let node_row = strides[1] * j + strides[2] * k;
                let row_materials = &grid.material[cell_row..cell_row + n0];
                for i in 0..n0 {
                    let eps = grid.permittivity[row_materials[i] as usize];
                    weight.set(
                        i,
                        grid,
                        [i, j, k],
                        eps,
                        self.touched.get(cell_row + i).copied().unwrap_or(false),
                    );
                }
                for (row, x) in rows.iter_mut().zip(potentials) {
                    row.fill(x, node_row, strides, grid.dimensions());
                }
                for a in 0..drives {
                    for b in a..drives {
                        let over = pair_energy(
                            &rows[a],
                            &rows[b],
                            &weight,
                            &mut energy,
                            grid.dimensions(),
                        );
                        excess[[a, b]] += over;
                        for (value, &m) in energy.iter().zip(row_materials) {
                            material[m as usize][[a, b]] += value;
                        }
                    }
                }
            }
        }
        let background = materials - 1;
        for a in 0..drives {
            for b in a..drives {
                let (xa, xb) = (&potentials[a], &potentials[b]);
                let mut extra = 0.0;
                for &(axis, low, c) in &self.cuts {
                    let high = low + strides[axis];
                    extra += c * (xa[low] - xa[high]) * (xb[low] - xb[high]);
                }
                for ((&g, va), vb) in self.system.network.ground.iter().zip(xa).zip(xb) {
                    extra += f64::from(g) * va * vb;
                }
                material[background][[a, b]] += extra;
            }
        }
        let mirror = |m: &mut Array2<f64>| {
            for a in 0..drives {
                for b in 0..a {
                    m[[a, b]] = m[[b, a]];
                }
            }
        };
        material.iter_mut().for_each(mirror);
        mirror(&mut excess);
        let mut node = Array2::zeros((drives, drives));
        for m in &material {
            node += m;
        }
        NodeEnergies {
            trilinear: &node - &excess,
            node,
            material,
        }
    }
}

/// Energy matrices from above, over vacuum permittivity [m] ([1] in the plane).
pub(crate) struct NodeEnergies {
    /// N.
    pub node: Array2<f64>,
    /// Q.
    pub trilinear: Array2<f64>,
    /// N by material.
    pub material: Vec<Array2<f64>>,
}

/// Length of a horizontal link over the height it stands for.
fn slenderness(grid: &Grid, low: usize, axis: usize) -> f64 {
    let nodes = grid.node_dims();
    let index = [
        low % nodes[0],
        low / nodes[0] % nodes[1],
        low / (nodes[0] * nodes[1]),
    ];
    let vertical = grid.dimensions() - 1;
    let heights = &grid.axes[vertical].nodes_m;
    let level = index[vertical];
    let top = heights[(level + 1).min(heights.len() - 1)];
    let bottom = heights[level.saturating_sub(1)];
    grid.axes[axis].width_m(index[axis]) / (0.5 * (top - bottom))
}

/// Marks the cells around a link.
fn touch(grid: &Grid, low: usize, axis: usize, touched: &mut [bool]) {
    let (nodes, cells) = (grid.node_dims(), grid.cell_dims());
    let index = [
        low % nodes[0],
        low / nodes[0] % nodes[1],
        low / (nodes[0] * nodes[1]),
    ];
    let range = |d: usize| {
        if d >= grid.dimensions() {
            0..1
        } else if d == axis {
            index[d]..index[d] + 1
        } else {
            index[d].saturating_sub(1)..(index[d] + 1).min(cells[d])
        }
    };
    for k in range(2) {
        for j in range(1) {
            for i in range(0) {
                touched[i + cells[0] * (j + cells[1] * k)] = true;
            }
        }
    }
}

/// Adds the open-wall conductance of every wall face to its corner nodes.
fn open_walls(grid: &Grid, ground: &mut [f32]) {
    let (nodes, cells) = (grid.node_dims(), grid.cell_dims());
    for axis in 0..grid.dimensions() {
        for side in 0..2 {
            if grid.walls[axis][side] != Wall::Open {
                continue;
            }
            let others: Vec<usize> = (0..grid.dimensions()).filter(|&d| d != axis).collect();
            let rows = others.get(1).map_or(1, |&v| cells[v]);
            for row in 0..rows {
                for column in 0..cells[others[0]] {
                    let mut index = [0; 3];
                    index[axis] = if side == 0 { 0 } else { cells[axis] - 1 };
                    index[others[0]] = column;
                    if let Some(&v) = others.get(1) {
                        index[v] = row;
                    }
                    let eps = grid.permittivity[grid.material
                        [index[0] + cells[0] * (index[1] + cells[1] * index[2])]
                        as usize];
                    let mut middle = grid.cell_middle(index);
                    let wall_node = if side == 0 { 0 } else { nodes[axis] - 1 };
                    middle[axis] = grid.axes[axis].nodes_m[wall_node];
                    let sign = if side == 0 { -1.0 } else { 1.0 };
                    let kappa = eps * open_wall(grid, middle, axis, sign);
                    let shares = wall_shares(grid, axis, &others, index, middle);
                    for (corner, area) in shares {
                        let mut node = index;
                        node[axis] = wall_node;
                        for (slot, &d) in others.iter().enumerate() {
                            node[d] += (corner >> slot) & 1;
                        }
                        ground[node[0] + nodes[0] * (node[1] + nodes[1] * node[2])] +=
                            (kappa * area) as f32;
                    }
                }
            }
        }
    }
}

/// Area of a wall face that each of its corners stands for [m^2], [m] in the plane.
fn wall_shares(
    grid: &Grid,
    axis: usize,
    others: &[usize],
    index: [usize; 3],
    middle: [f64; 3],
) -> Vec<(usize, f64)> {
    let width = |d: usize| grid.axes[d].width_m(index[d]);
    match (grid.kind, axis) {
        (Kind::Planar, _) => vec![(0, 0.5 * width(others[0])), (1, 0.5 * width(others[0]))],
        (Kind::Volume, _) => {
            let quarter = 0.25 * width(others[0]) * width(others[1]);
            (0..4).map(|corner| (corner, quarter)).collect()
        }
        (Kind::Axisymmetric, 0) => {
            let half = PI * middle[0] * width(1);
            vec![(0, half), (1, half)]
        }
        (Kind::Axisymmetric, _) => {
            let (r1, r2) = (
                grid.axes[0].nodes_m[index[0]],
                grid.axes[0].nodes_m[index[0] + 1],
            );
            let third = PI * (r2 - r1) / 3.0;
            vec![(0, third * (2.0 * r1 + r2)), (1, third * (r1 + 2.0 * r2))]
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

    fn fill(&mut self, x: &[f64], at: usize, strides: [usize; 3], dimensions: usize) {
        let n = self.triple.len();
        let node_row = |offset: usize| &x[at + offset..at + offset + n + 1];
        if dimensions == 2 {
            let (low, high) = (node_row(0), node_row(strides[1]));
            for i in 0..n {
                self.edge[0][i] = low[i + 1] - low[i];
                self.edge[1][i] = high[i + 1] - high[i];
                self.edge[2][i] = high[i] - low[i];
                self.edge[3][i] = high[i + 1] - low[i + 1];
                self.mixed[0][i] = self.edge[1][i] - self.edge[0][i];
            }
            return;
        }
        let corners = [
            node_row(0),
            node_row(strides[1]),
            node_row(strides[2]),
            node_row(strides[1] + strides[2]),
        ];
        for (c, row) in corners.iter().enumerate() {
            for i in 0..n {
                self.edge[c][i] = row[i + 1] - row[i];
            }
        }
        for (slot, (a, b)) in [(0, 1), (2, 3)].into_iter().enumerate() {
            let (a, b) = (corners[a], corners[b]);
            for i in 0..n {
                self.edge[4 + 2 * slot][i] = b[i] - a[i];
                self.edge[5 + 2 * slot][i] = b[i + 1] - a[i + 1];
            }
        }
        for (slot, (a, b)) in [(0, 2), (1, 3)].into_iter().enumerate() {
            let (a, b) = (corners[a], corners[b]);
            for i in 0..n {
                self.edge[8 + 2 * slot][i] = b[i] - a[i];
                self.edge[9 + 2 * slot][i] = b[i + 1] - a[i + 1];
            }
        }
        let e = &self.edge;
        for i in 0..n {
            // x-y at low and high z, x-z at low and high y, y-z at low and high x.
            self.mixed[0][i] = e[1][i] - e[0][i];
            self.mixed[1][i] = e[3][i] - e[2][i];
            self.mixed[2][i] = e[2][i] - e[0][i];
            self.mixed[3][i] = e[3][i] - e[1][i];
            self.mixed[4][i] = e[6][i] - e[4][i];
            self.mixed[5][i] = e[7][i] - e[5][i];
            self.triple[i] = self.mixed[1][i] - self.mixed[0][i];
        }
    }
}

/// Conductances of the edges of a row of cells, and of what the node energy has in excess of the
/// trilinear one.
struct RowWeights {
    axis: [Vec<f64>; 3],
    axis_high: Vec<f64>,
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

    fn set(&mut self, i: usize, grid: &Grid, index: [usize; 3], eps: f64, touched: bool) {
        let weights = edge_weights(grid, index);
        for (slot, w) in self.axis.iter_mut().zip(weights) {
            slot[i] = eps * w[0];
        }
        self.axis_high[i] = eps * weights[1][1];
        self.excess[i] = if touched { 0.0 } else { 1.0 };
    }
}

/// Fills `energy` with the node energy of each cell and returns the excess of the row.
fn pair_energy(a: &Row, b: &Row, w: &RowWeights, energy: &mut [f64], dimensions: usize) -> f64 {
    let n = energy.len();
    let mut lanes = [0.0; 4];
    if dimensions == 2 {
        for i in 0..n {
            let x = a.edge[0][i] * b.edge[0][i] + a.edge[1][i] * b.edge[1][i];
            energy[i] = w.axis[0][i] * x
                + w.axis[1][i] * a.edge[2][i] * b.edge[2][i]
                + w.axis_high[i] * a.edge[3][i] * b.edge[3][i];
            // Lumped minus exact mass in each direction: 1/6 (difference)^2 of a full area, which
            // is twice the edge conductance (the mean of the two halves on the height axis of
            // axisymmetric cells: the off-diagonal of the mass matrix with weight r).
            let sum = 2.0 * w.axis[0][i] + w.axis[1][i] + w.axis_high[i];
            lanes[i & 3] += w.excess[i] * sum / 6.0 * a.mixed[0][i] * b.mixed[0][i];
        }
        return (lanes[0] + lanes[1]) + (lanes[2] + lanes[3]);
    }
    let (ea, eb) = (&a.edge, &b.edge);
    for i in 0..n {
        let mut sum = [0.0; 3];
        for d in 0..3 {
            for c in 0..4 {
                sum[d] += ea[4 * d + c][i] * eb[4 * d + c][i];
            }
        }
        let [wx, wy, wz] = [w.axis[0][i], w.axis[1][i], w.axis[2][i]];
        energy[i] = wx * sum[0] + wy * sum[1] + wz * sum[2];
        let (ma, mb) = (&a.mixed, &b.mixed);
        let xy = ma[0][i] * mb[0][i] + ma[1][i] * mb[1][i];
        let xz = ma[2][i] * mb[2][i] + ma[3][i] * mb[3][i];
        let yz = ma[4][i] * mb[4][i] + ma[5][i] * mb[5][i];
        // Lumped minus exact: with D = (difference)^2/6 and L = 1/2 per direction,
        // L x D + D x L - D x D of a full area, which is four times the edge conductance.
        let twelfth = ((wx + wy) * xy + (wx + wz) * xz + (wy + wz) * yz) / 3.0;
        let triple = (wx + wy + wz) / 9.0 * a.triple[i] * b.triple[i];
        lanes[i & 3] += w.excess[i] * (twelfth - triple);
    }
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3])
}
