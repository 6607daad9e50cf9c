//! The painted grid: which material each cell has, which conductor each node, face and cell is.

use super::axis::Axis;
use super::lines::axes;
use super::outline::{Cut, PartialFace};
use super::screen::GridScreen;
use super::shape::Shape;
use crate::case::{Case, Extent, Kind, Solid, Wall};
use crate::stop::Stop;
use std::ops::Range;

/// Conductor mark of free nodes, faces and cells.
pub const FREE: u16 = u16::MAX;
/// Conductor mark of the 0 V reference.
pub(crate) const REFERENCE: u16 = u16::MAX - 1;

/// A painted tensor grid. Cells and nodes count axis 0 fastest.
#[derive(Clone, Debug)]
pub struct Grid {
    /// Planar, axisymmetric or volume.
    pub kind: Kind,
    /// Axes; the third is a point unless the case is a volume.
    pub axes: [Axis; 3],
    /// Wall condition on the low and high face of each axis.
    pub(crate) walls: [[Wall; 2]; 3],
    /// Bounds whose middle the open wall counts its distance from, per axis \[m\].
    pub(crate) open_span_m: [[f64; 2]; 3],
    /// Index of the dielectric of each cell; the number of dielectrics stands for the background.
    pub material: Vec<u16>,
    /// Relative permittivity by material index.
    pub permittivity: Vec<f64>,
    /// Conductor of each cell, or [`FREE`].
    pub(crate) cell_conductor: Vec<u16>,
    /// Conductor of each node, or [`FREE`].
    pub node_conductor: Vec<u16>,
    /// Per axis: conductor of each face normal to it, or [`FREE`]; empty when there is no sheet.
    pub(crate) face_conductor: [Vec<u16>; 3],
    /// Screens, in case order.
    pub(crate) screens: Vec<GridScreen>,
    /// Index in `screens` of each face normal to the last axis, or [`FREE`]; empty without screens.
    pub(crate) screen_faces: Vec<u16>,
    /// Faces covered in part, by axis and face.
    pub(crate) partial_faces: Vec<PartialFace>,
    /// Node links cut by the surface of a shape.
    pub(crate) node_cuts: Vec<Cut>,
    /// Links between cell middles cut by the surface of a shape, by axis and end.
    pub(crate) cell_cuts: Vec<Cut>,
    /// Number of conductors.
    pub conductors: usize,
    /// Whether any outline does not follow the grid.
    pub has_shapes: bool,
    /// Who may ask for an end while it is painted and while networks and energies are made of it.
    pub(crate) stop: Stop,
}

impl Grid {
    /// Grades and paints a case at fineness M.
    pub fn new(case: &Case, fineness: f64) -> Self {
        Self::paint(case, axes(case, fineness))
    }

    /// Paints a case on given axes.
    pub fn paint(case: &Case, axes: [Axis; 3]) -> Self {
        Self::paint_until(Stop::NEVER, case, axes)
    }

    /// The same; left in the middle once `stop` is asked for, as is everything that is made of the grid then.
    pub(crate) fn paint_until(stop: Stop, case: &Case, axes: [Axis; 3]) -> Self {
        let count = |nodes: usize| -> [usize; 3] {
            [0, 1, 2].map(|d| {
                if d >= case.kind.dimensions() {
                    1
                } else {
                    axes[d].nodes_m.len() - 1 + nodes
                }
            })
        };
        let cells: usize = count(0).iter().product();
        let nodes: usize = count(1).iter().product();
        let background = case.dielectrics.len();
        let mut permittivity: Vec<f64> = case
            .dielectrics
            .iter()
            .map(|d| d.relative_permittivity)
            .collect();
        permittivity.push(case.background_relative_permittivity);
        let mut grid = Self {
            kind: case.kind,
            walls: case.walls,
            open_span_m: span_of_conductors(case),
            material: vec![background as u16; cells],
            permittivity,
            cell_conductor: vec![FREE; cells],
            node_conductor: vec![FREE; nodes],
            face_conductor: Default::default(),
            screens: Vec::new(),
            screen_faces: Vec::new(),
            partial_faces: Vec::new(),
            node_cuts: Vec::new(),
            cell_cuts: Vec::new(),
            conductors: case.conductors.len(),
            has_shapes: case.has_shapes(),
            stop,
            axes,
        };
        for (index, dielectric) in case.dielectrics.iter().enumerate() {
            if stop.asked() {
                return grid;
            }
            let cells = grid.cells_between(grid.node_range(&dielectric.extent));
            let dims = grid.cell_dims();
            fill(&mut grid.material, dims, cells, index as u16);
        }
        grid.ground_walls();
        for (index, conductor) in case.conductors.iter().enumerate() {
            for solid in &conductor.solids {
                if stop.asked() {
                    return grid;
                }
                match Shape::of(solid, case.kind == Kind::Axisymmetric) {
                    None => {
                        if let Solid::Block(extent) = solid {
                            grid.paint_block(extent, index as u16);
                        }
                    }
                    Some(shape) => grid.paint_shape(&shape, index as u16),
                }
            }
        }
        grid.sort_outlines();
        grid.paint_screens(case);
        grid
    }

    /// Cells along each axis; 1 on an axis without extent.
    #[inline]
    pub fn cell_dims(&self) -> [usize; 3] {
        let cells = |d: usize| self.axes[d].cells().max(1);
        [cells(0), cells(1), cells(2)]
    }

    /// Where the open wall counts its distance from \[m\].
    pub(crate) fn open_centre_m(&self) -> [f64; 3] {
        self.open_span_m.map(|[low, high]| 0.5 * (low + high))
    }

    /// Nodes along each axis.
    pub fn node_dims(&self) -> [usize; 3] {
        [0, 1, 2].map(|d| self.axes[d].nodes_m.len())
    }

    /// Number of cells.
    pub fn cells(&self) -> usize {
        self.material.len()
    }

    /// Index of the dielectric of a cell.
    pub(crate) fn material_at(&self, index: [usize; 3]) -> u16 {
        let cells = self.cell_dims();
        self.material[index[0] + cells[0] * (index[1] + cells[1] * index[2])]
    }

    /// Number of axes with extent.
    #[inline]
    pub fn dimensions(&self) -> usize {
        self.kind.dimensions()
    }

    /// Faces normal to `axis` along each direction: nodes along it, cells across.
    #[inline]
    pub(crate) fn face_dims(&self, axis: usize) -> [usize; 3] {
        let mut dims = self.cell_dims();
        dims[axis] += 1;
        dims
    }

    /// Node indices of the corners of an extent.
    pub(super) fn node_range(&self, extent: &Extent) -> [[usize; 2]; 3] {
        [0, 1, 2].map(|d| {
            if d >= self.dimensions() {
                [0, 0]
            } else {
                [
                    self.axes[d].nearest(extent.low_m[d]),
                    self.axes[d].nearest(extent.high_m[d]),
                ]
            }
        })
    }

    /// Cell indices between node indices.
    fn cells_between(&self, nodes: [[usize; 2]; 3]) -> [Range<usize>; 3] {
        [0, 1, 2].map(|d| match d < self.dimensions() {
            true => nodes[d][0]..nodes[d][1],
            false => 0..1,
        })
    }

    fn ground_walls(&mut self) {
        let dims = self.node_dims();
        for d in 0..self.dimensions() {
            for side in 0..2 {
                if self.walls[d][side] != Wall::Grounded {
                    continue;
                }
                let fixed = if side == 0 { 0 } else { dims[d] - 1 };
                let mut range = dims.map(|n| [0, n - 1]);
                range[d] = [fixed, fixed];
                self.paint_nodes(range, REFERENCE);
            }
        }
    }

    fn paint_nodes(&mut self, range: [[usize; 2]; 3], mark: u16) {
        let dims = self.node_dims();
        let nodes = range.map(|[low, high]| low..high + 1);
        fill(&mut self.node_conductor, dims, nodes, mark);
    }

    fn paint_block(&mut self, extent: &Extent, mark: u16) {
        let range = self.node_range(extent);
        self.paint_nodes(range, mark);
        let mut cells = self.cells_between(range);
        let flat: Vec<usize> = (0..self.dimensions())
            .filter(|&d| range[d][0] == range[d][1])
            .collect();
        match flat[..] {
            [] => {
                let dims = self.cell_dims();
                fill(&mut self.cell_conductor, dims, cells, mark);
            }
            [axis] => {
                let dims = self.face_dims(axis);
                let faces = &mut self.face_conductor[axis];
                faces.resize(dims.iter().product(), FREE);
                cells[axis].end += 1;
                fill(faces, dims, cells, mark);
            }
            // A line or a point has no area: the cell scheme cannot see it and the node scheme's
            // answer depends on the grid, so it is refused before painting.
            _ => {}
        }
    }

    /// Middle of a cell \[m\].
    pub(crate) fn cell_middle(&self, index: [usize; 3]) -> [f64; 3] {
        [0, 1, 2].map(|d| {
            if d >= self.dimensions() {
                0.0
            } else {
                self.axes[d].middle_m(index[d])
            }
        })
    }
}

/// Marks a box of an array of `dims`.
fn fill(marks: &mut [u16], dims: [usize; 3], [x, y, z]: [Range<usize>; 3], mark: u16) {
    for k in z {
        for j in y.clone() {
            let row = dims[0] * (j + dims[1] * k);
            marks[row + x.start..row + x.end].fill(mark);
        }
    }
}

/// Axis indices of a flat index that counts axis 0 fastest.
#[inline]
pub(crate) fn unflatten(n: usize, dims: [usize; 3]) -> [usize; 3] {
    [n % dims[0], n / dims[0] % dims[1], n / (dims[0] * dims[1])]
}

fn span_of_conductors(case: &Case) -> [[f64; 2]; 3] {
    let mut low = [f64::INFINITY; 3];
    let mut high = [f64::NEG_INFINITY; 3];
    let mut take = |l: [f64; 3], h: [f64; 3]| {
        for d in 0..3 {
            low[d] = low[d].min(l[d]);
            high[d] = high[d].max(h[d]);
        }
    };
    for solid in case.conductors.iter().flat_map(|c| &c.solids) {
        match solid {
            Solid::Block(e) => take(e.low_m, e.high_m),
            Solid::Round(b) => {
                let (c, r) = (b.centre_m, b.dome_radius_m);
                if case.kind == Kind::Axisymmetric {
                    take([0.0, b.bottom_m, 0.0], [r, b.top_m, 0.0]);
                } else {
                    take(
                        [c[0] - r, c[1] - r, b.bottom_m],
                        [c[0] + r, c[1] + r, b.top_m],
                    );
                }
            }
            Solid::Prism(p) => {
                for c in p.outlines_m.iter().flatten() {
                    take([c[0], c[1], p.bottom_m], [c[0], c[1], p.top_m]);
                }
            }
        }
    }
    for screen in &case.screens {
        take(screen.extent.low_m, screen.extent.high_m);
    }
    let mut span = [0, 1, 2].map(|d| [low[d], high[d]]);
    if case.kind == Kind::Axisymmetric {
        span[0] = [0.0; 2];
    }
    // Over a grounded wall the far field comes from the charge and its image: from the wall.
    for d in 0..case.kind.dimensions() {
        match case.walls[d] {
            [Wall::Grounded, Wall::Open] => span[d] = [case.domain.low_m[d]; 2],
            [Wall::Open, Wall::Grounded] => span[d] = [case.domain.high_m[d]; 2],
            _ => {}
        }
    }
    // A mirror plane cuts the conductors: their middle lies on it.
    for d in 0..case.kind.dimensions() {
        if case.walls[d][0] == Wall::Insulated && low[d] <= case.domain.low_m[d] {
            span[d] = [case.domain.low_m[d]; 2];
        }
    }
    span
}
