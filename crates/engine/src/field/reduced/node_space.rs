//! Node potentials of a chamber: their energies from above, N and Q, as sums of terms.
//!
//! Any combination of node potentials with the potentials of the conductors has an energy that is an upper bound for
//! every design, if it is taken with the conductances of that design.

use super::super::coefficients::CellExtent;
use super::super::node_scheme::{NodeScheme, cut_gains, open_face_conductance, open_faces};
use super::factors::{BlockTerms, Blocks, Interpolated};
use super::gram::{Grams, row_of};
use crate::grid::Grid;
use ndarray::Array2;

/// What adds to the energies of nodes beside the cells: links that are cut, faces in the open wall.
pub(super) struct NodeExtras {
    /// Axis and low end of every cut link.
    cuts: Vec<(usize, usize)>,
    /// Axis, side, cell and corner nodes of every face in an open wall.
    walls: Vec<WallFace>,
    /// Cells whose energy is that of their edges.
    touched: Vec<bool>,
}

struct WallFace {
    axis: usize,
    side: usize,
    index: [usize; 3],
    corners: Vec<usize>,
}

impl NodeExtras {
    /// Of the grid of the reference.
    pub fn of(grid: &Grid, scheme: &NodeScheme) -> Self {
        let cuts = scheme
            .cuts
            .iter()
            .map(|&(axis, low, _)| (axis, low))
            .collect();
        let mut walls = Vec::new();
        open_faces(grid, &mut |face| {
            walls.push(WallFace {
                axis: face.axis,
                side: face.side,
                index: face.index,
                corners: face.corners.iter().map(|corner| corner.0).collect(),
            });
        });
        Self {
            cuts,
            walls,
            touched: scheme.touched.clone(),
        }
    }

    /// Conductances of all on a grid of the chamber [m]: first what cuts add, then faces of the wall, at each of their
    /// corners.
    pub fn conductances(&self, grid: &Grid) -> Vec<f64> {
        let mut all = cut_gains(grid, &|_| true);
        all.extend((0..self.walls.len()).map(|at| self.wall(grid, at)));
        all
    }

    /// The same of some, in their order.
    pub fn some(&self, grid: &Grid, picks: &[usize]) -> Vec<f64> {
        let count = self.cuts.len();
        let wanted = |cut: usize| picks.contains(&cut);
        let gains = cut_gains(grid, &wanted);
        let mut cuts: Vec<usize> = picks.iter().copied().filter(|&pick| pick < count).collect();
        cuts.sort_unstable();
        let value = |&pick: &usize| match pick < count {
            true => gains[cuts.partition_point(|&cut| cut < pick)],
            false => self.wall(grid, pick - count),
        };
        picks.iter().map(value).collect()
    }

    fn wall(&self, grid: &Grid, at: usize) -> f64 {
        let face = &self.walls[at];
        open_face_conductance(grid, face.axis, face.side, face.index) / face.corners.len() as f64
    }
}

/// Which energy.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Upper {
    /// N: that of the edges of the cells.
    Network,
    /// Q: that of the trilinear function.
    Trilinear,
}

/// Terms of an energy of vectors, `[node][vector]`: first those of blocks, then those of the interpolation.
pub(super) fn node_terms(
    grid: &Grid,
    extras: &NodeExtras,
    vectors: &Array2<f64>,
    which: Upper,
    blocks: &Blocks,
    terms: &BlockTerms,
    interpolated: &Interpolated,
) -> Array2<f64> {
    let mut grams = Grams::new(vectors.ncols(), terms.len() + interpolated.picks.len());
    for block in 0..blocks.len() {
        for axis in 0..3 {
            let shares = terms.shares.row(3 * block + axis);
            grams.share(shares.iter().copied().enumerate());
            add_block(
                grid,
                extras,
                vectors,
                which,
                blocks.nodes(block),
                axis,
                &mut grams,
            );
        }
    }
    for (function, basis) in interpolated.basis.rows().into_iter().enumerate() {
        let basis = basis.to_vec();
        add_extras(
            grid,
            extras,
            vectors,
            &basis,
            terms.len() + function,
            &mut grams,
        );
    }
    grams.finish()
}

/// The energy N of vectors on one grid, packed.
pub(super) fn node_products(
    grid: &Grid,
    extras: &NodeExtras,
    vectors: &Array2<f64>,
    blocks: &Blocks,
) -> Vec<f64> {
    let mut grams = Grams::new(vectors.ncols(), 1);
    for block in 0..blocks.len() {
        let [x, y, z] = blocks.nodes(block);
        let material = grid.material_at([x[0], y[0], z[0]]);
        grams.share([(0, grid.permittivity[usize::from(material)])]);
        for axis in 0..3 {
            add_block(
                grid,
                extras,
                vectors,
                Upper::Network,
                [x, y, z],
                axis,
                &mut grams,
            );
        }
    }
    let conductances = extras.conductances(grid);
    add_extras(grid, extras, vectors, &conductances, 0, &mut grams);
    grams.finish().into_raw_vec_and_offset().0
}

/// Energies of the cells of a block along an axis, over permittivity.
fn add_block(
    grid: &Grid,
    extras: &NodeExtras,
    vectors: &Array2<f64>,
    which: Upper,
    nodes: [[usize; 2]; 3],
    axis: usize,
    grams: &mut Grams,
) {
    let dims = grid.node_dims();
    let cells = grid.cell_dims();
    let strides = [1, dims[0], dims[0] * dims[1]];
    let [along, u, v] = [axis, (axis + 1) % 3, (axis + 2) % 3].map(|d| strides[d]);
    let [x, y, z] = nodes;
    for k in z[0]..z[1] {
        for j in y[0]..y[1] {
            for i in x[0]..x[1] {
                let cell = i + cells[0] * (j + cells[1] * k);
                let weight = CellExtent::of(grid, [i, j, k]).edge_weights()[axis][0];
                let node = i + strides[1] * j + strides[2] * k;
                let corners = [node, node + u, node + v, node + u + v];
                let is_lumped =
                    which == Upper::Network || extras.touched.get(cell).is_some_and(|t| *t);
                let root = weight.sqrt();
                for point in 0..4 {
                    let shares = match is_lumped {
                        true => LUMPED[point],
                        false => GAUSS[point],
                    };
                    grams.add(|row| {
                        row.fill(0.0);
                        for (corner, share) in corners.iter().zip(shares).filter(|c| c.1 != 0.0) {
                            let share = root * share;
                            let (low, high) =
                                (row_of(vectors, *corner), row_of(vectors, corner + along));
                            for (sum, (low, high)) in row.iter_mut().zip(low.iter().zip(high)) {
                                *sum += share * (high - low);
                            }
                        }
                    });
                }
            }
        }
    }
}

/// Shares of the four edges of a cell along an axis at each of four points: the edges themselves.
const LUMPED: [[f64; 4]; 4] = [
    [1.0, 0.0, 0.0, 0.0],
    [0.0, 1.0, 0.0, 0.0],
    [0.0, 0.0, 1.0, 0.0],
    [0.0, 0.0, 0.0, 1.0],
];
/// Far and near share of the two ends of an edge at a point of two-point Gauss-Legendre integration.
const NEAR: f64 = 0.788_675_134_594_812_9;
const FAR: f64 = 1.0 - NEAR;
/// The same at the points of Gauss-Legendre integration across, which is exact for squares of bilinear functions.
const GAUSS: [[f64; 4]; 4] = [
    [NEAR * NEAR, FAR * NEAR, NEAR * FAR, FAR * FAR],
    [FAR * NEAR, NEAR * NEAR, FAR * FAR, NEAR * FAR],
    [NEAR * FAR, FAR * FAR, NEAR * NEAR, FAR * NEAR],
    [FAR * FAR, NEAR * FAR, FAR * NEAR, NEAR * NEAR],
];

/// Energies of cut links and wall faces with these conductances, which may be of either sign, in one term.
fn add_extras(
    grid: &Grid,
    extras: &NodeExtras,
    vectors: &Array2<f64>,
    conductances: &[f64],
    term: usize,
    grams: &mut Grams,
) {
    let dims = grid.node_dims();
    let strides = [1, dims[0], dims[0] * dims[1]];
    for sign in [1.0, -1.0] {
        grams.share([(term, sign)]);
        let (of_cuts, of_walls) = conductances.split_at(extras.cuts.len());
        for (&(axis, low), conductance) in extras.cuts.iter().zip(of_cuts) {
            if sign * conductance > 0.0 {
                let root = conductance.abs().sqrt();
                let (low, high) = (row_of(vectors, low), row_of(vectors, low + strides[axis]));
                grams.add(|row| {
                    for (value, (low, high)) in row.iter_mut().zip(low.iter().zip(high)) {
                        *value = root * (high - low);
                    }
                });
            }
        }
        for (face, conductance) in extras.walls.iter().zip(of_walls) {
            if sign * conductance > 0.0 {
                let root = conductance.abs().sqrt();
                for &corner in &face.corners {
                    let at = row_of(vectors, corner);
                    grams.add(|row| {
                        for (value, at) in row.iter_mut().zip(at) {
                            *value = root * at;
                        }
                    });
                }
            }
        }
    }
}
