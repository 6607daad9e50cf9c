//! What each face of the cells conducts in the cell network.
//!
//! Half-cell resistances in series; faces in sheets, in solids and in the outer wall lead to a
//! conductor; the surface of a round or slanted outline shortens links and covers faces in part.

use super::coefficients::CellExtent;
use super::edge::{Side, cell_strength, rows, slant};
use super::screen::{ScreenFace, screen_face};
use super::system::{Source, open_wall};
use crate::case::{Kind, Wall};
use crate::grid::{FREE, Grid, PartialFace, REFERENCE, unflatten};
use std::f64::consts::PI;

/// A face covered by more than this share counts as covered.
const FULL_SHARE: f64 = 1.0 - 1e-6;
/// A surface closer to a cell middle than this share of the half width counts as this far.
const SMALLEST_GAP: f64 = 0.002;
/// Gap that stands for the one that opens from the edge of an end to the far side of a face, over the arc there.
/// The gaps in between count by their inverses, so it is less than half. Fitted to axisymmetric twins of discs under
/// domes and cylinders (`crates/engine/tests/turned.rs`).
const OPENING_SHARE: f64 = 1.0 / 3.0;

/// How a conductance follows from the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Origin {
    /// Half cells in series.
    HalfCells,
    /// Cut by the surface of a shape.
    Cut,
    /// A face covered in part.
    Covered,
    /// The open wall.
    OpenWall,
    /// Through a screen.
    Screen,
}

/// One conductance of the cell network.
#[derive(Clone, Copy, Debug)]
pub(super) enum Conductance {
    /// Through the high face of a cell along an axis to the next cell.
    Link {
        cell: usize,
        axis: usize,
        /// Permittivity x area / length [m].
        conductance: f64,
        origin: Origin,
    },
    /// To a conductor.
    Source { source: Source, origin: Origin },
}

impl Conductance {
    /// How it follows from the grid.
    pub fn origin(&self) -> Origin {
        match self {
            Self::Link { origin, .. } | Self::Source { origin, .. } => *origin,
        }
    }

    /// Whether the surface of a shape changes it, so that it is no series of half cells and what lies
    /// outside them.
    pub fn is_cut(&self) -> bool {
        matches!(self.origin(), Origin::Cut | Origin::Covered)
    }
}

/// Two cells with a face between them.
struct Between {
    axis: usize,
    /// Their indices in the grid and along the axis.
    cells: [usize; 2],
    places: [usize; 2],
    /// Resistances from their middles to the face.
    halves: [f64; 2],
}

impl Between {
    /// Each cell, the side of it that the face is on, and the resistance to there.
    #[inline]
    fn sides(&self) -> [(usize, usize, f64); 2] {
        let ([cell, next], [half, next_half]) = (self.cells, self.halves);
        [(cell, 1, half), (next, 0, next_half)]
    }

    /// Conductance through a screen in the share `left` of the face; gives `out` what leaks to its conductor.
    fn through(&self, screen: &ScreenFace, left: f64, out: &mut impl FnMut(Conductance)) -> f64 {
        // Star of the two half cells and the leak, its middle eliminated.
        let [low, high] = self.halves;
        let leak = screen.conductance();
        let sum = 1.0 / low + 1.0 / high + leak;
        for (from, side, half) in self.sides() {
            let source = Source {
                node: from as u32,
                axis: self.axis as u8,
                side: side as u8,
                conductor: screen.conductor,
                conductance: left * leak / (half * sum),
                shared: true,
            };
            let origin = Origin::Screen;
            out(Conductance::Source { source, origin });
        }
        1.0 / (low * high * sum)
    }
}

/// The faces of a grid.
pub(super) struct CellFaces<'a> {
    grid: &'a Grid,
    dims: [usize; 3],
    strides: [usize; 3],
}

impl<'a> CellFaces<'a> {
    pub fn new(grid: &'a Grid) -> Self {
        let dims = grid.cell_dims();
        Self {
            grid,
            dims,
            strides: [1, dims[0], dims[0] * dims[1]],
        }
    }

    fn permittivity(&self, cell: usize) -> f64 {
        self.grid.permittivity[self.grid.material[cell] as usize]
    }

    /// Gives `out` every cell with what [`Self::visit`] finds at it, in order; links inside of solids, which
    /// conduct nothing, are left out.
    pub fn visit_all(&self, axis: usize, out: &mut impl FnMut(usize, Conductance)) {
        let grid = self.grid;
        let [n0, n1, n2] = self.dims;
        let is_free = |cell: usize| grid.cell_conductor[cell] == FREE;
        let has_screens = axis + 1 == grid.dimensions() && !grid.screen_faces.is_empty();
        let has_marks = !grid.face_conductor[axis].is_empty();
        // Half cells before the faces of a row and behind them: of the same row, if the faces are normal to it.
        let (mut before, mut behind) = (Vec::with_capacity(n0), Vec::with_capacity(n0));
        let shift = usize::from(axis == 0);
        let mut covering = grid.covering(axis, 0..usize::MAX).iter().peekable();
        for (k, j) in (0..n2).flat_map(|k| (0..n1).map(move |j| (k, j))) {
            if grid.stop.asked() {
                return;
            }
            let row = self.strides[1] * j + self.strides[2] * k;
            let first = self.faces([0, j, k], axis)[1];
            let inner = 1..self.dims[axis] - 1;
            if axis == 0 || inner.contains(&[0, j, k][axis]) {
                self.row_halves([j, k], axis, 1, &mut before);
                let next = [j + usize::from(axis == 1), k + usize::from(axis == 2)];
                self.row_halves(next, axis, 0, &mut behind);
            }
            for i in 0..n0 {
                let (index, cell, face) = ([i, j, k], row + i, first + i);
                while covering.next_if(|c| c.face < face).is_some() {}
                let is_plain = covering.peek().is_none_or(|c| c.face > face)
                    && inner.contains(&index[axis])
                    && !(has_marks && grid.face_conductor[axis][face] != FREE)
                    && !(has_screens && grid.screen_faces[face] != FREE);
                if !is_plain || is_free(cell) != is_free(cell + self.strides[axis]) {
                    self.visit(index, axis, &mut |item| out(cell, item));
                } else if is_free(cell) {
                    let conductance = 1.0 / (before[i] + behind[i + shift]);
                    let origin = Origin::HalfCells;
                    out(
                        cell,
                        Conductance::Link {
                            cell,
                            axis,
                            conductance,
                            origin,
                        },
                    );
                }
            }
        }
    }

    /// Resistances along an axis of a row of cells, from their middles to their faces on the low (0) or high (1)
    /// side.
    fn row_halves(&self, [j, k]: [usize; 2], axis: usize, side: usize, out: &mut Vec<f64>) {
        let grid = self.grid;
        let row = CellExtent::of(grid, [0, j, k]);
        let start = self.strides[1] * j + self.strides[2] * k;
        let cells = grid.axes[0].nodes_m.windows(2).zip(&grid.material[start..]);
        out.clear();
        out.extend(cells.map(|(ends, &material)| {
            let resistance = row.between([ends[0], ends[1]]).resistance(axis);
            [resistance.low, resistance.high][side] / grid.permittivity[usize::from(material)]
        }));
    }

    /// Low and high face of a cell along an axis.
    #[inline]
    fn faces(&self, index: [usize; 3], axis: usize) -> [usize; 2] {
        let dims = self.grid.face_dims(axis);
        let face = index[0] + dims[0] * (index[1] + dims[1] * index[2]);
        [face, face + [1, dims[0], dims[0] * dims[1]][axis]]
    }

    /// Gives `out` the conductances of a cell's high face along `axis`, and of its low one when it lies
    /// in the outer wall. Every conductance of the network comes once, in the same order for grids
    /// that differ in their coordinates only.
    #[inline]
    pub fn visit(&self, index: [usize; 3], axis: usize, out: &mut impl FnMut(Conductance)) {
        let grid = self.grid;
        let cell = index[0] + self.strides[1] * index[1] + self.strides[2] * index[2];
        let [face, ahead_face] = self.faces(index, axis);
        if index[axis] == 0 {
            self.wall(cell, index, axis, 0, face, out);
        }
        if index[axis] + 1 == self.dims[axis] {
            self.wall(cell, index, axis, 1, ahead_face, out);
            return;
        }
        let next = cell + self.strides[axis];
        let mut next_index = index;
        next_index[axis] += 1;
        let halves = [
            CellExtent::of(grid, index).resistance(axis).high / self.permittivity(cell),
            CellExtent::of(grid, next_index).resistance(axis).low / self.permittivity(next),
        ];
        let between = Between {
            axis,
            cells: [cell, next],
            places: [index[axis], next_index[axis]],
            halves,
        };
        let mark = self.mark(axis, ahead_face);
        if mark != FREE {
            for (from, side, half) in between.sides() {
                self.source(from, axis, side, mark, 1.0 / half, Origin::HalfCells, out);
            }
            return;
        }
        let owners = [grid.cell_conductor[cell], grid.cell_conductor[next]];
        let mut origin = Origin::HalfCells;
        let mut conductance = match owners {
            [FREE, FREE] => 1.0 / (halves[0] + halves[1]),
            [FREE, _] => 1.0 / halves[0],
            [_, FREE] => 1.0 / halves[1],
            _ => 0.0,
        };
        let covering = grid.covering(axis, ahead_face..ahead_face + 1);
        let covered: f64 = covering.iter().map(|s| s.share).sum();
        let left = 1.0 - covered.min(1.0);
        if !grid.screens.is_empty()
            && owners == [FREE, FREE]
            && let Some(screen) = screen_face(grid, axis, ahead_face, next_index, 1.0)
        {
            conductance = between.through(&screen, left, out);
            origin = Origin::Screen;
        }
        let one_fixed = (owners[0] == FREE) != (owners[1] == FREE);
        if one_fixed && let Some(covered) = grid.covered_link(axis, cell) {
            conductance = self.to_surface(&between, owners[0] == FREE, covered);
            origin = Origin::Cut;
        }
        if !covering.is_empty() {
            origin = Origin::Covered;
            if owners == [FREE, FREE] {
                conductance *= left;
            }
            for (from, side, half) in between.sides() {
                for s in covering.iter().filter(|s| s.place.frees(side)) {
                    let to_edge = self.covered_conductance(from, side, half, s);
                    if owners == [FREE, FREE] {
                        self.source(from, axis, side, s.conductor, to_edge, origin, out);
                    } else if grid.cell_conductor[from] == FREE {
                        let beyond = if from == cell { next } else { cell };
                        conductance = self.with_opening([from, beyond], half, to_edge, s);
                    }
                }
            }
        }
        out(Conductance::Link {
            cell,
            axis,
            conductance,
            origin,
        });
    }

    /// Conductance between two cells of which the surface of a shape, `covered` along the way between their
    /// middles, leaves one free.
    fn to_surface(&self, between: &Between, first_is_free: bool, covered: f64) -> f64 {
        let axis = &self.grid.axes[between.axis];
        // From the free middle to the surface, first through the free cell, then the other.
        let mut pair = [0, 1].map(|at| (between.halves[at], axis.width_m(between.places[at])));
        if !first_is_free {
            pair.swap(0, 1);
        }
        let [(free, width_free), (fixed, width_fixed)] = pair;
        let gap = (1.0 - covered) * 0.5 * (width_free + width_fixed);
        let first = (gap / (0.5 * width_free)).clamp(SMALLEST_GAP, 1.0);
        let second = ((gap - 0.5 * width_free) / (0.5 * width_fixed)).max(0.0);
        1.0 / (free * first + fixed * second)
    }

    /// Conductor of a face, or [`FREE`].
    fn mark(&self, axis: usize, face: usize) -> u16 {
        let marks = &self.grid.face_conductor[axis];
        marks.get(face).copied().unwrap_or(FREE)
    }

    #[allow(clippy::too_many_arguments)]
    fn source(
        &self,
        cell: usize,
        axis: usize,
        side: usize,
        conductor: u16,
        conductance: f64,
        origin: Origin,
        out: &mut impl FnMut(Conductance),
    ) {
        if conductance > 0.0 && self.grid.cell_conductor[cell] == FREE {
            let source = Source {
                node: cell as u32,
                axis: axis as u8,
                side: side as u8,
                conductor,
                conductance,
                shared: false,
            };
            out(Conductance::Source { source, origin });
        }
    }

    /// Conductance from a cell's middle through `half` to its face, low (0) or high (1) `side` of
    /// the height axis, that a conductor covers in part: the half cell in series with what moves
    /// the edge by the covered share.
    fn covered_conductance(&self, cell: usize, side: usize, half: f64, face: &PartialFace) -> f64 {
        if face.share >= FULL_SHARE {
            return 1.0 / half;
        }
        let grid = self.grid;
        let index = unflatten(cell, self.dims);
        let axis = face.axis;
        let (spacing, edge_length) = self.edge_rows(index, face);
        let faces = grid.face_dims(axis);
        let layers = Side::collect(spacing, |layer| {
            // Away from the face: up from a face on the low side.
            let level = if side == 0 {
                Some(index[axis] + layer).filter(|&level| level < self.dims[axis])
            } else {
                index[axis].checked_sub(layer)
            }?;
            let at = cell + level * self.strides[axis] - index[axis] * self.strides[axis];
            let mut outer = unflatten(at, self.dims);
            outer[axis] += 1 - side;
            let outer_face = outer[0] + faces[0] * (outer[1] + faces[1] * outer[2]);
            let sheet = grid.face_conductor[axis].get(outer_face);
            let solid = grid.cell_conductor[at] != FREE;
            let grounded = solid || sheet.is_some_and(|&mark| mark != FREE);
            Some((
                grid.axes[axis].width_m(level),
                self.permittivity(at),
                grounded,
            ))
        });
        let strength = slant(face.normal) * cell_strength(&layers, spacing);
        let edge = edge_length * strength * face.share / (1.0 - face.share);
        1.0 / (half + 1.0 / edge)
    }

    /// Spacing \[m\] of the rows that an edge in a face of a cell meets, and the length of edge \[m\] the cell stands
    /// for.
    fn edge_rows(&self, index: [usize; 3], face: &PartialFace) -> (f64, f64) {
        let axes = &self.grid.axes;
        match self.grid.kind {
            Kind::Volume => rows([0, 1].map(|d| axes[d].width_m(index[d])), face.normal),
            _ => (
                axes[0].width_m(index[0]),
                2.0 * PI * axes[0].middle_m(index[0]),
            ),
        }
    }

    /// Conductance from the middle of the first cell through `half` to a face that an end covers in part, where
    /// the wall rises from the edge so flatly that the second cell, behind the face, counts as inside the solid:
    /// what is left of the face leads to the wall across the gap that opens from the edge on. Without a gap all of
    /// the face is covered; with a wide one the edge alone counts, `to_edge`.
    fn with_opening(
        &self,
        [cell, beyond]: [usize; 2],
        half: f64,
        to_edge: f64,
        face: &PartialFace,
    ) -> f64 {
        let index = unflatten(cell, self.dims);
        let (spacing_m, _) = self.edge_rows(index, face);
        let radius_m = self.grid.axes[0].middle_m(index[0]);
        let area_m2 = CellExtent::of(self.grid, index).face_area_m2(face.axis, radius_m);
        let left_m = (1.0 - face.share).max(0.0) * spacing_m;
        let gap_m = OPENING_SHARE * face.opening_rad * left_m;
        let across = gap_m / (self.permittivity(beyond) * area_m2);
        let closed = half / (half + across);
        closed / half + (1.0 - closed) * to_edge
    }

    fn wall(
        &self,
        cell: usize,
        index: [usize; 3],
        axis: usize,
        side: usize,
        face: usize,
        out: &mut impl FnMut(Conductance),
    ) {
        let grid = self.grid;
        let extent = CellExtent::of(grid, index);
        let here = extent.resistance(axis);
        let eps = self.permittivity(cell);
        let half = if side == 0 { here.low } else { here.high } / eps;
        if half <= 0.0 {
            return;
        }
        let mark = self.mark(axis, face);
        if mark != FREE {
            self.source(cell, axis, side, mark, 1.0 / half, Origin::HalfCells, out);
            return;
        }
        let mut left: f64 = 1.0;
        let covering = grid.covering(axis, face..face + 1);
        for s in covering {
            let to_edge = self.covered_conductance(cell, side, half, s);
            self.source(cell, axis, side, s.conductor, to_edge, Origin::Covered, out);
            left -= s.share;
        }
        let left = left.max(0.0);
        let is_covered = !covering.is_empty();
        match grid.walls[axis][side] {
            Wall::Insulated => {
                let mut place = index;
                place[axis] += side;
                if let Some(screen) = screen_face(grid, axis, face, place, 1.0) {
                    // A mirror plane: this half of the screen, behind this half of its cell.
                    let conductance = left / (half + 1.0 / screen.conductance());
                    let mark = screen.conductor;
                    let origin = if is_covered {
                        Origin::Covered
                    } else {
                        Origin::Screen
                    };
                    self.source(cell, axis, side, mark, conductance, origin, out);
                }
            }
            Wall::Grounded => {
                let origin = if is_covered {
                    Origin::Covered
                } else {
                    Origin::HalfCells
                };
                self.source(cell, axis, side, REFERENCE, left / half, origin, out);
            }
            Wall::Open => {
                let mut middle = grid.cell_middle(index);
                let nodes = &grid.axes[axis].nodes_m;
                middle[axis] = nodes[if side == 0 { 0 } else { nodes.len() - 1 }];
                let kappa = eps * open_wall(grid, middle, axis, if side == 0 { -1.0 } else { 1.0 });
                let area = extent.face_area_m2(axis, middle[0]);
                if kappa > 0.0 {
                    let conductance = left / (half + 1.0 / (kappa * area));
                    let origin = if is_covered {
                        Origin::Covered
                    } else {
                        Origin::OpenWall
                    };
                    self.source(cell, axis, side, REFERENCE, conductance, origin, out);
                }
            }
        }
    }
}
