//! Derivatives of every capacitance to every permittivity and every segment length, from the
//! potentials already there.
//!
//! With u_i the potentials of drive i and A(p) the network, dC_ij/dp = u_i^T (dA/dp) u_j: the
//! solutions are stationary, so only the coefficients move. A permittivity scales the energy of
//! its material; a segment of an axis, stretched, scales every link along the axis by -1 and every
//! link across it by +1 (logarithmically). On the radius of axisymmetric cases everything further
//! out moves along, so the logarithmic derivatives of the coefficients are differences of the
//! coefficient formulas themselves. Node and cell networks give one derivative each; reported is
//! their mean.
//!
//! Not included: how an open wall, far away, moves with a stretched segment; how a round or slanted
//! outline moves across the grid along x and y.

use super::cell_scheme::CellScheme;
use super::coefficients::CellExtent;
use super::system::potential;
use crate::case::Kind;
use crate::grid::{FREE, Grid, unflatten};
use ndarray::Array2;

/// Relative step for the logarithmic derivative of a coefficient: the formulas are smooth and the
/// difference is central, so it is good to about ten digits.
const STEP: f64 = 1e-4;

/// Derivatives to the logarithm of each segment length, per axis and segment, over vacuum
/// permittivity.
pub(crate) type SegmentSums = [Vec<Array2<f64>>; 3];

/// Energies of one cell, pair by pair of drives, by axis and half (low, high).
struct CellParts {
    drives: usize,
    /// `[axis][half][pair]`.
    part: [[Vec<f64>; 2]; 3],
}

impl CellParts {
    fn new(drives: usize) -> Self {
        let pairs = drives * (drives + 1) / 2;
        Self {
            drives,
            part: [0, 1, 2].map(|_| [vec![0.0; pairs], vec![0.0; pairs]]),
        }
    }

    fn clear(&mut self) {
        self.part.iter_mut().flatten().for_each(|v| v.fill(0.0));
    }

    fn add(&mut self, axis: usize, half: usize, weight: f64, values: &[f64]) {
        let out = &mut self.part[axis][half];
        let mut pair = 0;
        for a in 0..self.drives {
            for b in a..self.drives {
                out[pair] += weight * values[a] * values[b];
                pair += 1;
            }
        }
    }
}

/// Segment index of every cell along an axis.
fn segments(grid: &Grid, axis: usize) -> Vec<usize> {
    let lines = &grid.axes[axis].lines;
    (0..grid.axes[axis].cells())
        .map(|i| lines.partition_point(|&l| l <= i) - 1)
        .collect()
}

struct Accumulator<'a> {
    grid: &'a Grid,
    segment_of: [Vec<usize>; 3],
    sums: [Vec<Vec<f64>>; 3],
    drives: usize,
}

impl<'a> Accumulator<'a> {
    fn new(grid: &'a Grid, drives: usize) -> Self {
        let pairs = drives * (drives + 1) / 2;
        Self {
            grid,
            segment_of: [0, 1, 2].map(|d| {
                if d < grid.dimensions() {
                    segments(grid, d)
                } else {
                    Vec::new()
                }
            }),
            sums: [0, 1, 2]
                .map(|d| vec![vec![0.0; pairs]; grid.axes[d].lines.len().saturating_sub(1)]),
            drives,
        }
    }

    /// `logarithmic(axis, half, [dr1, dr2])`: derivative of the logarithm of the coefficient of a
    /// part when the cell's radii move.
    fn cell(
        &mut self,
        index: [usize; 3],
        parts: &CellParts,
        logarithmic: impl Fn(usize, usize, [f64; 2]) -> f64,
    ) {
        let dimensions = self.grid.dimensions();
        for stretched in 0..dimensions {
            let own = self.segment_of[stretched][index[stretched]];
            if self.grid.kind == Kind::Axisymmetric && stretched == 0 {
                let axis = &self.grid.axes[0];
                let (r1, r2) = (axis.nodes_m[index[0]], axis.nodes_m[index[0] + 1]);
                for s in 0..=own {
                    let (a, b) = (axis.nodes_m[axis.lines[s]], axis.nodes_m[axis.lines[s + 1]]);
                    let moved = if s == own {
                        [r1 - a, r2 - a]
                    } else {
                        [b - a, b - a]
                    };
                    for axis in 0..2 {
                        for half in 0..2 {
                            let factor = logarithmic(axis, half, moved);
                            add_scaled(&mut self.sums[0][s], factor, &parts.part[axis][half]);
                        }
                    }
                }
                continue;
            }
            for axis in 0..dimensions {
                let sign = if axis == stretched { -1.0 } else { 1.0 };
                for half in 0..2 {
                    add_scaled(
                        &mut self.sums[stretched][own],
                        sign,
                        &parts.part[axis][half],
                    );
                }
            }
        }
    }

    fn finish(self) -> SegmentSums {
        let drives = self.drives;
        self.sums.map(|axis| {
            axis.into_iter()
                .map(|pairs| {
                    let mut matrix = Array2::zeros((drives, drives));
                    let mut pair = 0;
                    for a in 0..drives {
                        for b in a..drives {
                            matrix[[a, b]] = pairs[pair];
                            matrix[[b, a]] = pairs[pair];
                            pair += 1;
                        }
                    }
                    matrix
                })
                .collect()
        })
    }
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

/// Segment derivatives of the node network.
pub(crate) fn node_segments(grid: &Grid, potentials: &[Vec<f64>]) -> SegmentSums {
    let drives = potentials.len();
    let (cells, nodes) = (grid.cell_dims(), grid.node_dims());
    let strides = [1, nodes[0], nodes[0] * nodes[1]];
    let dimensions = grid.dimensions();
    let mut accumulator = Accumulator::new(grid, drives);
    let mut parts = CellParts::new(drives);
    let mut difference = vec![0.0; drives];
    for cell in 0..grid.cells() {
        if grid.cell_conductor[cell] != FREE && !grid.has_shapes {
            continue;
        }
        let index = unflatten(cell, cells);
        let eps = grid.permittivity[grid.material[cell] as usize];
        let node = index[0] + strides[1] * index[1] + strides[2] * index[2];
        let extent = CellExtent::of(grid, index);
        let weights = extent.edge_weights();
        parts.clear();
        for axis in 0..dimensions {
            let corners: Vec<(usize, usize)> = match (dimensions, axis) {
                (2, 0) => vec![(0, 0), (0, strides[1])],
                // The height edges of the plane: low half at the low radius, high half at the high.
                (2, _) => vec![(0, 0), (1, 1)],
                _ => {
                    let (u, v) = (strides[(axis + 1) % 3], strides[(axis + 2) % 3]);
                    vec![(0, 0), (0, u), (0, v), (0, u + v)]
                }
            };
            for (half, corner) in corners {
                let low = node + corner;
                for (slot, x) in difference.iter_mut().zip(potentials) {
                    *slot = x[low + strides[axis]] - x[low];
                }
                parts.add(axis, half, eps * weights[axis][half], &difference);
            }
        }
        accumulator.cell(index, &parts, |axis, half, moved| {
            logarithmic_derivative(extent.radius_m, moved, |r| {
                extent.between(r).edge_weights()[axis][half]
            })
        });
    }
    accumulator.finish()
}

/// Segment derivatives of the cell network. A resistance that grows lowers the capacitance, so the
/// logarithmic derivatives enter with the opposite sign of those of conductances.
pub(crate) fn cell_segments(
    grid: &Grid,
    scheme: &CellScheme,
    potentials: &[Vec<f64>],
    driven: &[u16],
) -> SegmentSums {
    let drives = potentials.len();
    let cells = grid.cell_dims();
    let strides = [1, cells[0], cells[0] * cells[1]];
    let dimensions = grid.dimensions();
    let network = &scheme.system.network;
    let sources = &scheme.system.sources;
    let mut accumulator = Accumulator::new(grid, drives);
    let mut parts = CellParts::new(drives);
    let mut next = 0;
    let mut flux = vec![[[0.0; 2]; 3]; drives];
    let mut values = vec![0.0; drives];
    for cell in 0..grid.cells() {
        while next < sources.len() && (sources[next].node as usize) < cell {
            next += 1;
        }
        if network.fixed[cell] {
            continue;
        }
        let index = unflatten(cell, cells);
        let eps = grid.permittivity[grid.material[cell] as usize];
        for (out, x) in flux.iter_mut().zip(potentials) {
            for axis in 0..dimensions {
                let s = strides[axis];
                let ahead = f64::from(network.link[axis][cell]);
                out[axis][1] = if ahead == 0.0 {
                    0.0
                } else {
                    ahead * (x[cell] - x[cell + s])
                };
                out[axis][0] = if index[axis] == 0 {
                    0.0
                } else {
                    f64::from(network.link[axis][cell - s]) * (x[cell] - x[cell - s])
                };
            }
        }
        while next < sources.len() && sources[next].node as usize == cell {
            let s = &sources[next];
            for ((out, x), &drive) in flux.iter_mut().zip(potentials).zip(driven) {
                out[s.axis as usize][s.side as usize] +=
                    s.conductance * (x[cell] - potential(s.conductor, drive));
            }
            next += 1;
        }
        let extent = CellExtent::of(grid, index);
        parts.clear();
        for axis in 0..dimensions {
            let r = extent.resistance(axis);
            for (half, resistance) in [r.low, r.high].into_iter().enumerate() {
                for (slot, f) in values.iter_mut().zip(&flux) {
                    *slot = f[axis][half];
                }
                parts.add(axis, half, resistance / eps, &values);
            }
        }
        accumulator.cell(index, &parts, |axis, half, moved| {
            -logarithmic_derivative(extent.radius_m, moved, |r| {
                let r = extent.between(r).resistance(axis);
                if half == 0 { r.low } else { r.high }
            })
        });
    }
    accumulator.finish()
}
