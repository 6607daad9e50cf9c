//! The node network: capacitances from above.
//!
//! Unknowns at grid nodes. The network (N) has per cell and axis four edges (two in the plane) of
//! conductance permittivity x quarter area / length. Its energies are in `node_energy`.

use super::coefficients::CellExtent;
use super::edge::{Side, node_strength, rows, slant};
use super::screen::{ScreenFace, screen_faces};
use super::system::{Source, System, open_wall};
use crate::case::{Kind, Wall};
use crate::grid::{Cut, FREE, Grid, Place, unflatten};
use rayon::prelude::*;
use std::f64::consts::PI;

/// Largest factor by which a cut shortens a link.
const LARGEST_CUT: f64 = 1000.0;

/// The system and, for energies, what cuts add to links and which cells they touch.
pub(crate) struct NodeScheme {
    pub system: System,
    /// Axis, link index, conductance the cut adds [m].
    pub(super) cuts: Vec<(usize, usize, f64)>,
    pub(super) touched: Vec<bool>,
    /// Free faces of screens.
    pub(super) screens: Vec<ScreenFace>,
}

impl NodeScheme {
    pub fn new(grid: &Grid) -> Self {
        let n = grid.node_conductor.len();
        let dimensions = grid.dimensions();
        let along = |axis: usize| {
            let mut link = vec![0.0_f32; n];
            node_links(grid, axis, &mut |node, conductance| {
                link[node] += conductance as f32;
            });
            link
        };
        let mut link = [const { Vec::new() }; 3];
        let axes = link[..dimensions].par_iter_mut().enumerate();
        axes.for_each(|(axis, link)| *link = along(axis));
        let mut ground = vec![0.0_f32; n];
        open_walls(grid, &mut |node, conductance, _| {
            ground[node] += conductance as f32;
        });
        let mut cuts = Vec::new();
        let mut touched = Vec::new();
        if grid.has_shapes {
            touched = vec![false; grid.cells()];
            for (axis, low, ratio) in wall_cuts(grid).take_while(|_| !grid.stop.asked()) {
                cuts.push((axis, low, ratio * f64::from(link[axis][low])));
                touch(grid, low, axis, &mut touched);
            }
            cuts.extend(edge_cuts(grid, &|_| true).take_while(|_| !grid.stop.asked()));
            for &(axis, low, gain) in &cuts {
                let link = &mut link[axis][low];
                *link = (f64::from(*link) + gain) as f32;
            }
        }
        let screens = screen_faces(grid);
        let coordinates = [0, 1, 2].map(|d| grid.axes[d].nodes_m.clone());
        let rank = [0, 1, 2].map(|d| grid.axes[d].rank.clone());
        let system = System::new(
            coordinates,
            rank,
            link,
            ground,
            grid.node_conductor.clone(),
            screen_sources(grid, &screens),
        );
        Self {
            system,
            cuts,
            touched,
            screens,
        }
    }
}

/// What screens conduct from their corner nodes to their conductors.
fn screen_sources(grid: &Grid, screens: &[ScreenFace]) -> Vec<Source> {
    let axis = grid.dimensions() - 1;
    screens
        .iter()
        .flat_map(|face| {
            face.corner_conductances()
                .map(move |(node, conductance)| Source {
                    node: node as u32,
                    axis: axis as u8,
                    side: 0,
                    conductor: face.conductor,
                    conductance,
                    shared: true,
                })
        })
        .collect()
}

/// Gives `out` link and conductance [m] of every edge along `axis` of every cell, cuts left out.
pub(super) fn node_links(grid: &Grid, axis: usize, out: &mut impl FnMut(usize, f64)) {
    let (nodes, cells) = (grid.node_dims(), grid.cell_dims());
    let strides = [1, nodes[0], nodes[0] * nodes[1]];
    let (u, v) = (strides[(axis + 1) % 3], strides[(axis + 2) % 3]);
    for k in 0..cells[2] {
        for j in 0..cells[1] {
            if grid.stop.asked() {
                return;
            }
            for i in 0..cells[0] {
                let material = grid.material[i + cells[0] * (j + cells[1] * k)];
                let eps = grid.permittivity[material as usize];
                let weights = CellExtent::of(grid, [i, j, k]).edge_weights()[axis];
                let node = i + strides[1] * j + strides[2] * k;
                if grid.dimensions() == 2 {
                    out(node, eps * weights[0]);
                    out(node + strides[1 - axis], eps * weights[1]);
                    continue;
                }
                for corner in [node, node + u, node + v, node + u + v] {
                    out(corner, eps * weights[0]);
                }
            }
        }
    }
}

/// Cuts of links from an inside to a free outside node, with the latter.
fn valid_cuts(grid: &Grid) -> impl Iterator<Item = (&Cut, usize)> {
    let dims = grid.node_dims();
    let strides = [1, dims[0], dims[0] * dims[1]];
    grid.node_cuts.iter().filter_map(move |cut| {
        let (low, high) = (cut.low, cut.low + strides[cut.axis]);
        let (inside, outside) = if cut.inside_is_low {
            (low, high)
        } else {
            (high, low)
        };
        let cuts =
            grid.node_conductor[inside] == cut.conductor && grid.node_conductor[outside] == FREE;
        cuts.then_some((cut, outside))
    })
}

/// Covered over free share of a cut link.
fn ratio(cut: &Cut) -> f64 {
    (cut.covered / (1.0 - cut.covered)).min(LARGEST_CUT)
}

/// Axis, index and gain relative to its conductance of every link that the wall of a solid cuts: the
/// link ends at the surface.
pub(super) fn wall_cuts(grid: &Grid) -> impl Iterator<Item = (usize, usize, f64)> {
    valid_cuts(grid)
        .filter(|(cut, _)| cut.place == Place::Wall)
        .map(|(cut, _)| (cut.axis, cut.low, ratio(cut)))
}

/// Axis, index and gain [m] of every link in the plane of a sheet or flat end that its edge cuts: of those whose numbers
/// are wanted.
pub(super) fn edge_cuts(
    grid: &Grid,
    wanted: &dyn Fn(usize) -> bool,
) -> impl Iterator<Item = (usize, usize, f64)> {
    valid_cuts(grid)
        .filter(|(cut, _)| cut.place != Place::Wall)
        .enumerate()
        .filter(|(number, _)| wanted(*number))
        .map(|(_, (cut, outside))| {
            let gain = ratio(cut) * edge_gain(grid, cut, outside);
            (cut.axis, cut.low, gain)
        })
}

/// What every cut adds to its link [m], in the order of [`NodeScheme::cuts`]: of those whose numbers are wanted.
pub(super) fn cut_gains(grid: &Grid, wanted: &dyn Fn(usize) -> bool) -> Vec<f64> {
    let mut of_walls = 0;
    let mut gains = Vec::new();
    for (axis, low, ratio) in wall_cuts(grid) {
        if wanted(of_walls) {
            gains.push(ratio * link_conductance(grid, axis, low));
        }
        of_walls += 1;
    }
    let is_wanted = |number: usize| wanted(of_walls + number);
    gains.extend(edge_cuts(grid, &is_wanted).map(|(_, _, gain)| gain));
    gains
}

/// Conductance [m] of a link of a volume, cuts left out.
fn link_conductance(grid: &Grid, axis: usize, low: usize) -> f64 {
    let dims = grid.cell_dims();
    let of_cell = |cell: usize| {
        let extent = CellExtent::of(grid, unflatten(cell, dims));
        grid.permittivity[usize::from(grid.material[cell])] * extent.edge_weights()[axis][0]
    };
    cells_around(grid, low, axis).into_iter().map(of_cell).sum()
}

/// Conductance that moves an edge in the plane of a sheet or flat end from the inside node of a cut
/// link half way to the outside node [m].
///
/// A slanted edge cuts links along both axes: each counts with the normal's component along it, so
/// that together they count every length of edge once. At the end of a solid the edge lies between
/// the free side and the wall, which shortens the link on its own side.
fn edge_gain(grid: &Grid, cut: &Cut, outside: usize) -> f64 {
    let dims = grid.node_dims();
    let vertical = grid.dimensions() - 1;
    let node = unflatten(outside, dims);
    let link = unflatten(cut.low, dims)[cut.axis];
    let across = 1 - cut.axis;
    // The cells on either side of the link, in the plane.
    let beside: Vec<usize> = if vertical == 1 {
        vec![0]
    } else {
        let cells = grid.axes[across].cells();
        (node[across].saturating_sub(1)..(node[across] + 1).min(cells)).collect()
    };
    let permittivity = |level: usize| {
        let sum: f64 = beside
            .iter()
            .map(|&b| {
                let mut cell = [0; 3];
                cell[cut.axis] = link;
                if vertical == 2 {
                    cell[across] = b;
                }
                cell[vertical] = level;
                let [nx, ny, _] = grid.cell_dims();
                let at = cell[0] + nx * (cell[1] + ny * cell[2]);
                grid.permittivity[grid.material[at] as usize]
            })
            .sum();
        sum / beside.len() as f64
    };
    let length = grid.axes[cut.axis].width_m(link);
    let (spacing, edge_length) = if vertical == 1 {
        (length, 2.0 * PI * grid.axes[0].nodes_m[node[0]])
    } else {
        let width: f64 = beside.iter().map(|&b| grid.axes[across].width_m(b)).sum();
        let mut widths = [0.0; 2];
        widths[cut.axis] = length;
        widths[across] = width / beside.len() as f64;
        (
            rows(widths, cut.normal).0,
            0.5 * width * cut.normal[cut.axis] * slant(cut.normal),
        )
    };
    let level = node[vertical];
    let cells = grid.axes[vertical].cells();
    let strides = [1, dims[0], dims[0] * dims[1]];
    let side = |up: bool| {
        Side::collect(spacing, |layer| {
            let (cell, beyond) = if up {
                (level + layer, level + layer + 1)
            } else {
                (level.checked_sub(layer + 1)?, level - layer - 1)
            };
            (cell < cells).then(|| {
                let at = outside + beyond * strides[vertical] - level * strides[vertical];
                (
                    grid.axes[vertical].width_m(cell),
                    permittivity(cell),
                    grid.node_conductor[at] != FREE,
                )
            })
        })
    };
    let wall = |cell: usize| {
        let section = 0.5 * grid.axes[vertical].width_m(cell) / length;
        permittivity(cell) * section * edge_length
    };
    match cut.place {
        Place::LowerEnd => {
            let below = [side(false), Side::default()];
            edge_length * node_strength(&below, spacing) + wall(level)
        }
        Place::UpperEnd => {
            let above = [side(true), Side::default()];
            edge_length * node_strength(&above, spacing) + wall(level - 1)
        }
        _ => edge_length * node_strength(&[side(false), side(true)], spacing),
    }
}

/// Marks the cells around a link.
fn touch(grid: &Grid, low: usize, axis: usize, touched: &mut [bool]) {
    for cell in cells_around(grid, low, axis) {
        touched[cell] = true;
    }
}

/// The cells a link is an edge of.
pub(super) fn cells_around(grid: &Grid, low: usize, axis: usize) -> Vec<usize> {
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
    let mut around = Vec::with_capacity(4);
    for k in range(2) {
        for j in range(1) {
            for i in range(0) {
                around.push(i + cells[0] * (j + cells[1] * k));
            }
        }
    }
    around
}

/// Gives `out` the open-wall conductance [m] of every wall face at each of its corner nodes, with the
/// material it is made of.
pub(super) fn open_walls(grid: &Grid, out: &mut impl FnMut(usize, f64, u16)) {
    open_faces(grid, &mut |face| {
        for &(node, conductance) in face.corners {
            out(node, conductance, face.material);
        }
    });
}

/// A face in an open wall.
pub(super) struct OpenFace<'a> {
    /// Axis it is normal to.
    pub axis: usize,
    /// 0: the wall on the low side, 1: on the high side.
    pub side: usize,
    /// Its cell.
    pub index: [usize; 3],
    pub material: u16,
    /// Node and conductance [m] of every corner.
    pub corners: &'a [(usize, f64)],
}

/// Gives `out` every face of the open walls.
pub(super) fn open_faces(grid: &Grid, out: &mut impl FnMut(OpenFace)) {
    let (nodes, cells) = (grid.node_dims(), grid.cell_dims());
    let mut corners = Vec::new();
    for axis in 0..grid.dimensions() {
        for side in 0..2 {
            if grid.walls[axis][side] != Wall::Open {
                continue;
            }
            let others: Vec<usize> = (0..grid.dimensions()).filter(|&d| d != axis).collect();
            let rows = others.get(1).map_or(1, |&v| cells[v]);
            for row in 0..rows {
                if grid.stop.asked() {
                    return;
                }
                for column in 0..cells[others[0]] {
                    let mut index = [0; 3];
                    index[axis] = if side == 0 { 0 } else { cells[axis] - 1 };
                    index[others[0]] = column;
                    if let Some(&v) = others.get(1) {
                        index[v] = row;
                    }
                    let material = grid.material_at(index);
                    let wall_node = if side == 0 { 0 } else { nodes[axis] - 1 };
                    let (kappa, middle) = open_kappa(grid, axis, side, index);
                    corners.clear();
                    for (corner, area) in wall_shares(grid, axis, &others, index, middle) {
                        let mut node = index;
                        node[axis] = wall_node;
                        for (slot, &d) in others.iter().enumerate() {
                            node[d] += (corner >> slot) & 1;
                        }
                        let at = node[0] + nodes[0] * (node[1] + nodes[1] * node[2]);
                        corners.push((at, kappa * area));
                    }
                    out(OpenFace {
                        axis,
                        side,
                        index,
                        material,
                        corners: &corners,
                    });
                }
            }
        }
    }
}

/// Conductance per area [1] of an open wall at a face of it, and the middle of that [m].
fn open_kappa(grid: &Grid, axis: usize, side: usize, index: [usize; 3]) -> (f64, [f64; 3]) {
    let eps = grid.permittivity[usize::from(grid.material_at(index))];
    let mut middle = grid.cell_middle(index);
    middle[axis] = grid.axes[axis].nodes_m[index[axis] + side];
    let sign = if side == 0 { -1.0 } else { 1.0 };
    (eps * open_wall(grid, middle, axis, sign), middle)
}

/// Conductance [m] of a face in an open wall of a volume.
pub(super) fn open_face_conductance(
    grid: &Grid,
    axis: usize,
    side: usize,
    index: [usize; 3],
) -> f64 {
    let (kappa, middle) = open_kappa(grid, axis, side, index);
    let others: Vec<usize> = (0..grid.dimensions()).filter(|&d| d != axis).collect();
    let shares = wall_shares(grid, axis, &others, index, middle);
    kappa * shares.iter().map(|share| share.1).sum::<f64>()
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
            let [low, high] = CellExtent::of(grid, index).edge_weights()[1];
            vec![(0, low * width(1)), (1, high * width(1))]
        }
    }
}
