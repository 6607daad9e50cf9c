//! The node network: capacitances from above.
//!
//! Unknowns at grid nodes. The network (N) has per cell and axis four edges (two in the plane) of
//! conductance permittivity x quarter area / length. Its energies are in `node_energy`.

use super::coefficients::CellExtent;
use super::system::{System, open_wall};
use crate::case::{Kind, Wall};
use crate::grid::{FREE, Grid, unflatten};
use std::f64::consts::PI;

/// Largest factor by which a cut shortens a link.
const LARGEST_CUT: f64 = 50.0;

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
    pub(super) cuts: Vec<(usize, usize, f64)>,
    pub(super) touched: Vec<bool>,
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
                    let weights = CellExtent::of(grid, [i, j, k]).edge_weights();
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
}

/// Length of a horizontal link over the height it stands for.
fn slenderness(grid: &Grid, low: usize, axis: usize) -> f64 {
    let index = unflatten(low, grid.node_dims());
    let vertical = grid.dimensions() - 1;
    let heights = &grid.axes[vertical].nodes_m;
    let level = index[vertical];
    let top = heights[(level + 1).min(heights.len() - 1)];
    let bottom = heights[level.saturating_sub(1)];
    grid.axes[axis].width_m(index[axis]) / (0.5 * (top - bottom))
}

/// Marks the cells around a link.
fn touch(grid: &Grid, low: usize, axis: usize, touched: &mut [bool]) {
    let cells = grid.cell_dims();
    let index = unflatten(low, grid.node_dims());
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
