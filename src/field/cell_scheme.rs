//! The cell network: capacitances from below.
//!
//! Unknowns at cell middles, half-cell resistances in series, sheets as faces of given potential
//! (K). Its energies are in `cell_energy`.

use super::coefficients::CellExtent;
use super::system::{Source, System, open_wall};
use crate::case::{Kind, Wall};
use crate::grid::{FREE, Grid, PartialFace, REFERENCE, unflatten};
use std::collections::HashMap;
use std::f64::consts::PI;

/// A surface closer to a cell middle than this share of the half width counts as this far.
const SMALLEST_GAP: f64 = 0.04;

/// The system and, for energies, which cells a cut touches.
pub(crate) struct CellScheme {
    pub system: System,
    pub(super) touched: Vec<bool>,
}

struct Builder<'a> {
    grid: &'a Grid,
    dims: [usize; 3],
    strides: [usize; 3],
    link: [Vec<f32>; 3],
    sources: Vec<Source>,
    touched: Vec<bool>,
}

impl CellScheme {
    pub fn new(grid: &Grid) -> Self {
        let dims = grid.cell_dims();
        let n = grid.cells();
        let dimensions = grid.dimensions();
        let mut builder = Builder {
            grid,
            dims,
            strides: [1, dims[0], dims[0] * dims[1]],
            link: [0, 1, 2].map(|d| {
                if d < dimensions {
                    vec![0.0; n]
                } else {
                    Vec::new()
                }
            }),
            sources: Vec::new(),
            touched: if grid.has_shapes {
                vec![false; n]
            } else {
                Vec::new()
            },
        };
        for axis in 0..dimensions {
            builder.faces(axis);
        }
        let coordinates = [0, 1, 2].map(|d| {
            if d < dimensions {
                (0..dims[d]).map(|i| grid.axes[d].middle_m(i)).collect()
            } else {
                vec![0.0]
            }
        });
        // No line is protected in the coarsening of the cell network.
        let rank = dims.map(|n| vec![0; n]);
        let Builder {
            link,
            sources,
            touched,
            ..
        } = builder;
        let system = System::new(
            coordinates,
            rank,
            link,
            vec![0.0; n],
            grid.cell_conductor.clone(),
            sources,
        );
        Self { system, touched }
    }
}

impl Builder<'_> {
    fn permittivity(&self, cell: usize) -> f64 {
        self.grid.permittivity[self.grid.material[cell] as usize]
    }

    fn source(&mut self, cell: usize, axis: usize, side: usize, conductor: u16, conductance: f64) {
        if conductance > 0.0 && self.grid.cell_conductor[cell] == FREE {
            self.sources.push(Source {
                node: cell as u32,
                axis: axis as u8,
                side: side as u8,
                conductor,
                conductance,
            });
        }
    }

    fn faces(&mut self, axis: usize) {
        let grid = self.grid;
        let face_dims = grid.face_dims(axis);
        let partial: HashMap<usize, Vec<PartialFace>> = {
            let mut map: HashMap<usize, Vec<PartialFace>> = HashMap::new();
            for face in grid.partial_faces.iter().filter(|f| f.axis == axis) {
                map.entry(face.face).or_default().push(*face);
            }
            map
        };
        let cuts: HashMap<usize, f64> = grid
            .cell_cuts
            .iter()
            .filter(|c| c.axis == axis)
            .map(|c| (c.low, c.covered))
            .collect();
        for cell in 0..grid.cells() {
            let index = unflatten(cell, self.dims);
            let face = index[0] + face_dims[0] * (index[1] + face_dims[1] * index[2]);
            let here = CellExtent::of(grid, index).resistance(axis);
            let eps = self.permittivity(cell);
            if index[axis] == 0 {
                self.wall(cell, index, axis, 0, face, &partial);
            }
            let face_stride = [1, face_dims[0], face_dims[0] * face_dims[1]][axis];
            let ahead_face = face + face_stride;
            if index[axis] + 1 == self.dims[axis] {
                self.wall(cell, index, axis, 1, ahead_face, &partial);
                continue;
            }
            let next = cell + self.strides[axis];
            let mut next_index = index;
            next_index[axis] += 1;
            let there = CellExtent::of(grid, next_index).resistance(axis);
            let next_eps = self.permittivity(next);
            let halves = [here.high / eps, there.low / next_eps];
            let mark = grid.face_conductor[axis]
                .get(ahead_face)
                .copied()
                .unwrap_or(FREE);
            if mark != FREE {
                self.source(cell, axis, 1, mark, 1.0 / halves[0]);
                self.source(next, axis, 0, mark, 1.0 / halves[1]);
                continue;
            }
            let owners = [grid.cell_conductor[cell], grid.cell_conductor[next]];
            let mut conductance = match owners {
                [FREE, FREE] => 1.0 / (halves[0] + halves[1]),
                [FREE, _] => 1.0 / halves[0],
                [_, FREE] => 1.0 / halves[1],
                _ => 0.0,
            };
            let one_fixed = (owners[0] == FREE) != (owners[1] == FREE);
            if one_fixed && let Some(&covered) = cuts.get(&cell) {
                // From the free middle to the surface, first through the free cell, then the other.
                let (free, fixed, width_free, width_fixed) = if owners[0] == FREE {
                    (
                        halves[0],
                        halves[1],
                        grid.axes[axis].width_m(index[axis]),
                        grid.axes[axis].width_m(next_index[axis]),
                    )
                } else {
                    (
                        halves[1],
                        halves[0],
                        grid.axes[axis].width_m(next_index[axis]),
                        grid.axes[axis].width_m(index[axis]),
                    )
                };
                let gap = (1.0 - covered) * 0.5 * (width_free + width_fixed);
                let first = (gap / (0.5 * width_free)).clamp(SMALLEST_GAP, 1.0);
                let second = ((gap - 0.5 * width_free) / (0.5 * width_fixed)).max(0.0);
                conductance = 1.0 / (free * first + fixed * second);
                self.touch(cell);
                self.touch(next);
            }
            if let Some(shares) = partial.get(&ahead_face) {
                let covered: f64 = shares.iter().map(|s| s.share).sum::<f64>().min(1.0);
                match owners {
                    [FREE, FREE] => {
                        conductance *= 1.0 - covered;
                        for s in shares {
                            let width = self.edge_width(index, axis);
                            self.source(
                                cell,
                                axis,
                                1,
                                s.conductor,
                                covered_conductance(halves[0], eps * width, s.share),
                            );
                            self.source(
                                next,
                                axis,
                                0,
                                s.conductor,
                                covered_conductance(halves[1], next_eps * width, s.share),
                            );
                        }
                    }
                    _ => {
                        let (half, eps) = if owners[0] == FREE {
                            (halves[0], eps)
                        } else {
                            (halves[1], next_eps)
                        };
                        let width = self.edge_width(index, axis);
                        conductance = covered_conductance(half, eps * width, covered);
                    }
                }
            }
            self.link[axis][cell] = conductance as f32;
        }
    }

    /// Length of the edge that crosses a partly covered face normal to `axis` [m]: the side of a
    /// square of the same area (volumes), the circumference (axisymmetric).
    fn edge_width(&self, index: [usize; 3], axis: usize) -> f64 {
        let w = |d: usize| self.grid.axes[d].width_m(index[d]);
        match self.grid.kind {
            Kind::Planar => 1.0,
            Kind::Volume => (w((axis + 1) % 3) * w((axis + 2) % 3)).sqrt(),
            Kind::Axisymmetric => 2.0 * PI * self.grid.axes[0].middle_m(index[0]),
        }
    }

    fn touch(&mut self, cell: usize) {
        self.touched[cell] = true;
    }

    fn wall(
        &mut self,
        cell: usize,
        index: [usize; 3],
        axis: usize,
        side: usize,
        face: usize,
        partial: &HashMap<usize, Vec<PartialFace>>,
    ) {
        let grid = self.grid;
        let here = CellExtent::of(grid, index).resistance(axis);
        let eps = self.permittivity(cell);
        let half = if side == 0 { here.low } else { here.high } / eps;
        if half <= 0.0 {
            return;
        }
        let mark = grid.face_conductor[axis].get(face).copied().unwrap_or(FREE);
        if mark != FREE {
            self.source(cell, axis, side, mark, 1.0 / half);
            return;
        }
        let mut left = 1.0;
        if let Some(shares) = partial.get(&face) {
            for s in shares {
                self.source(cell, axis, side, s.conductor, s.share / half);
                left -= s.share;
            }
        }
        let conductance = match grid.walls[axis][side] {
            Wall::Insulated => 0.0,
            Wall::Grounded => 1.0 / half,
            Wall::Open => {
                let mut middle = grid.cell_middle(index);
                let nodes = &grid.axes[axis].nodes_m;
                middle[axis] = nodes[if side == 0 { 0 } else { nodes.len() - 1 }];
                let kappa = eps * open_wall(grid, middle, axis, if side == 0 { -1.0 } else { 1.0 });
                let area = CellExtent::of(grid, index).face_area_m2(axis, middle[0]);
                if kappa > 0.0 {
                    1.0 / (half + 1.0 / (kappa * area))
                } else {
                    0.0
                }
            }
        };
        self.source(cell, axis, side, REFERENCE, conductance * left.max(0.0));
    }
}

/// Conductance from a cell middle to a face that a conductor covers in part.
///
/// In series: the half cell, and a conductance EDGE permittivity x width x share/(1 - share) that
/// moves the effective edge by the share of the cell whatever the cell's height; a share of the
/// half-cell conductance would act as full cover in flat cells.
fn covered_conductance(half: f64, permittivity_width: f64, share: f64) -> f64 {
    let ratio = share / (1.0 - share).max(1e-6);
    1.0 / (half + 1.0 / (EDGE * permittivity_width * ratio))
}

/// Strength of the edge conductance, per side, fitted together with that of the node scheme.
const EDGE: f64 = 0.25;
