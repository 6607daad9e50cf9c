//! The painted grid: which material each cell has, which conductor each node, face and cell is.

use super::axis::Axis;
use super::lines::axes;
use super::shape::Shape;
use crate::case::{Case, Extent, Kind, Solid, Wall};

/// Conductor mark of free nodes, faces and cells.
pub const FREE: u16 = u16::MAX;
/// Conductor mark of the 0 V reference.
pub const REFERENCE: u16 = u16::MAX - 1;

/// Scan lines per cell face for the covered fraction of a face.
const SCAN_LINES: usize = 24;

/// Where the outline of a round or prismatic solid meets the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// On the wall of a solid, between its ends.
    Wall,
    /// In the plane of a sheet.
    Sheet,
    /// In the plane of the lower end of a solid: what is free lies below.
    LowerEnd,
    /// In the plane of the upper end of a solid: what is free lies above.
    UpperEnd,
}

impl Place {
    /// Whether a cell that has the outline in its low (0) or high (1) face is on a free side of it.
    pub fn frees(self, side: usize) -> bool {
        match self {
            Self::Wall => false,
            Self::Sheet => true,
            Self::LowerEnd => side == 1,
            Self::UpperEnd => side == 0,
        }
    }
}

/// A face that a sheet or a flat end of a round or prismatic solid covers in part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PartialFace {
    /// Axis normal to the face.
    pub axis: usize,
    /// Face index: cell (i, j, k) with its low face on `axis`, node count along `axis`.
    pub face: usize,
    /// Conductor index.
    pub conductor: u16,
    /// Covered share of the area, 0 to 1.
    pub share: f64,
    /// Sheet or which end.
    pub place: Place,
    /// Size of the components, along the other axes in their order, of the outline's unit normal.
    pub normal: [f64; 2],
}

/// A link between neighbouring nodes, or neighbouring cell middles, that the surface of a round or
/// prismatic solid cuts between its ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cut {
    /// Axis of the link.
    pub axis: usize,
    /// Index of the end with the smaller coordinate.
    pub low: usize,
    /// Whether the end with the smaller coordinate is the one inside the solid.
    pub inside_is_low: bool,
    /// Conductor index.
    pub conductor: u16,
    /// Share of the link's length that lies inside the solid, 0 to 1.
    pub covered: f64,
    /// Wall, or in the plane of what the link lies.
    pub place: Place,
    /// Size of the components of the outline's unit normal along the first two axes.
    pub normal: [f64; 2],
}

/// A painted tensor grid. Cells and nodes count axis 0 fastest.
#[derive(Clone, Debug)]
pub struct Grid {
    /// Planar, axisymmetric or volume.
    pub kind: Kind,
    /// Axes; the third is a point unless the case is a volume.
    pub axes: [Axis; 3],
    /// Wall condition on the low and high face of each axis.
    pub walls: [[Wall; 2]; 3],
    /// Bounds whose middle the open wall counts its distance from, per axis \[m\].
    pub open_span_m: [[f64; 2]; 3],
    /// Index of the dielectric of each cell; the number of dielectrics stands for the background.
    pub material: Vec<u16>,
    /// Relative permittivity by material index.
    pub permittivity: Vec<f64>,
    /// Conductor of each cell, or [`FREE`].
    pub cell_conductor: Vec<u16>,
    /// Conductor of each node, or [`FREE`].
    pub node_conductor: Vec<u16>,
    /// Per axis: conductor of each face normal to it, or [`FREE`]; empty when there is no sheet.
    pub face_conductor: [Vec<u16>; 3],
    /// Faces covered in part.
    pub partial_faces: Vec<PartialFace>,
    /// Node links cut by the surface of a shape.
    pub node_cuts: Vec<Cut>,
    /// Links between cell middles cut by the surface of a shape.
    pub cell_cuts: Vec<Cut>,
    /// Number of conductors.
    pub conductors: usize,
    /// Whether any outline does not follow the grid.
    pub has_shapes: bool,
}

impl Grid {
    /// Grades and paints a case at fineness M.
    pub fn new(case: &Case, fineness: f64) -> Self {
        Self::paint(case, axes(case, fineness))
    }

    /// Paints a case on given axes.
    pub fn paint(case: &Case, axes: [Axis; 3]) -> Self {
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
            partial_faces: Vec::new(),
            node_cuts: Vec::new(),
            cell_cuts: Vec::new(),
            conductors: case.conductors.len(),
            has_shapes: case
                .conductors
                .iter()
                .flat_map(|c| &c.solids)
                .any(|s| !matches!(s, Solid::Block(_))),
            axes,
        };
        for (index, dielectric) in case.dielectrics.iter().enumerate() {
            let range = grid.node_range(&dielectric.extent);
            grid.each_cell(range, |grid, cell| grid.material[cell] = index as u16);
        }
        grid.ground_walls();
        for (index, conductor) in case.conductors.iter().enumerate() {
            for solid in &conductor.solids {
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
        grid
    }

    /// Cells along each axis; 1 on an axis without extent.
    pub fn cell_dims(&self) -> [usize; 3] {
        [0, 1, 2].map(|d| self.axes[d].cells().max(1))
    }

    /// Where the open wall counts its distance from \[m\].
    pub fn open_centre_m(&self) -> [f64; 3] {
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

    /// Number of axes with extent.
    pub fn dimensions(&self) -> usize {
        self.kind.dimensions()
    }

    /// Faces normal to `axis` along each direction: nodes along it, cells across.
    pub fn face_dims(&self, axis: usize) -> [usize; 3] {
        let mut dims = self.cell_dims();
        dims[axis] += 1;
        dims
    }

    /// Node indices of the corners of an extent.
    fn node_range(&self, extent: &Extent) -> [[usize; 2]; 3] {
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

    fn each_cell(&mut self, range: [[usize; 2]; 3], mut paint: impl FnMut(&mut Self, usize)) {
        let dims = self.cell_dims();
        let span = |d: usize| {
            if d >= self.dimensions() {
                0..1
            } else {
                range[d][0]..range[d][1]
            }
        };
        let (x, y, z) = (span(0), span(1), span(2));
        for k in z {
            for j in y.clone() {
                for i in x.clone() {
                    paint(self, i + dims[0] * (j + dims[1] * k));
                }
            }
        }
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
        for k in range[2][0]..=range[2][1] {
            for j in range[1][0]..=range[1][1] {
                let row = dims[0] * (j + dims[1] * k);
                self.node_conductor[row + range[0][0]..=row + range[0][1]].fill(mark);
            }
        }
    }

    fn paint_block(&mut self, extent: &Extent, mark: u16) {
        let range = self.node_range(extent);
        self.paint_nodes(range, mark);
        let flat: Vec<usize> = (0..self.dimensions())
            .filter(|&d| range[d][0] == range[d][1])
            .collect();
        match flat[..] {
            [] => self.each_cell(range, |grid, cell| grid.cell_conductor[cell] = mark),
            [axis] => {
                let dims = self.face_dims(axis);
                if self.face_conductor[axis].is_empty() {
                    self.face_conductor[axis] = vec![FREE; dims.iter().product()];
                }
                let span = |d: usize| {
                    if d >= self.dimensions() {
                        0..1
                    } else if d == axis {
                        range[d][0]..range[d][0] + 1
                    } else {
                        range[d][0]..range[d][1]
                    }
                };
                let (x, y, z) = (span(0), span(1), span(2));
                for k in z {
                    for j in y.clone() {
                        for i in x.clone() {
                            self.face_conductor[axis][i + dims[0] * (j + dims[1] * k)] = mark;
                        }
                    }
                }
            }
            // A line or a point has no area: the cell scheme cannot see it and the node scheme's
            // answer depends on the grid, so it is refused before painting.
            _ => {}
        }
    }

    fn paint_shape(&mut self, shape: &Shape, mark: u16) {
        let vertical = shape.vertical();
        let levels = shape.levels();
        let flat = levels[0] == levels[1];
        let range = [
            self.axes[vertical].nearest(levels[0]),
            self.axes[vertical].nearest(levels[1]),
        ];
        let dims = self.node_dims();
        let slack = 1e-9 * (self.axes[0].nodes_m[dims[0] - 1] - self.axes[0].nodes_m[0]);
        let place = |grid: &Self, index: [usize; 3]| {
            let mut point = [0, 1, 2].map(|d| grid.axes[d].nodes_m[index[d]]);
            point[vertical] = point[vertical].clamp(levels[0], levels[1]);
            point
        };
        let mut inside = Vec::new();
        for n in 0..self.node_conductor.len() {
            let index = unflatten(n, dims);
            let level = index[vertical];
            if level >= range[0] && level <= range[1] && shape.contains(place(self, index), slack) {
                self.node_conductor[n] = mark;
                inside.push(n);
            }
        }
        for n in inside {
            let index = unflatten(n, dims);
            let coordinates = [0, 1, 2].map(|d| &self.axes[d].nodes_m[..]);
            let place_of_cut = if flat {
                Place::Sheet
            } else if index[vertical] == range[0] {
                Place::LowerEnd
            } else if index[vertical] == range[1] {
                Place::UpperEnd
            } else {
                Place::Wall
            };
            let cuts = surface_cuts(
                shape,
                mark,
                place_of_cut,
                place(self, index),
                index,
                coordinates,
                slack,
            );
            self.node_cuts.extend(cuts);
        }
        if !flat {
            let dims = self.cell_dims();
            let middles = [0, 1, 2].map(|d| {
                (0..dims[d])
                    .map(|i| {
                        if d < self.dimensions() {
                            self.axes[d].middle_m(i)
                        } else {
                            0.0
                        }
                    })
                    .collect::<Vec<_>>()
            });
            for cell in 0..self.cells() {
                let index = unflatten(cell, dims);
                if index[vertical] < range[0] || index[vertical] >= range[1] {
                    continue;
                }
                let point = self.cell_middle(index);
                if shape.contains(point, 0.0) {
                    self.cell_conductor[cell] = mark;
                    let coordinates = [0, 1, 2].map(|d| &middles[d][..]);
                    let cuts =
                        surface_cuts(shape, mark, Place::Wall, point, index, coordinates, 0.0);
                    self.cell_cuts.extend(cuts);
                }
            }
        }
        for (side, &level) in levels.iter().enumerate() {
            if flat && side == 1 {
                break;
            }
            let place = match (flat, side) {
                (true, _) => Place::Sheet,
                (false, 0) => Place::LowerEnd,
                (false, _) => Place::UpperEnd,
            };
            self.paint_end(shape, mark, place, level, range[side]);
        }
    }

    /// Marks the faces that a flat end covers, with the covered share of each.
    fn paint_end(&mut self, shape: &Shape, mark: u16, place: Place, level: f64, node: usize) {
        let vertical = shape.vertical();
        let dims = self.face_dims(vertical);
        let across: Vec<usize> = (0..self.dimensions()).filter(|&d| d != vertical).collect();
        let (u, v) = (across[0], across.get(1).copied());
        let rows = v.map_or(1, |v| self.cell_dims()[v]);
        for row in 0..rows {
            for column in 0..self.cell_dims()[u] {
                let mut index = [0; 3];
                index[vertical] = node;
                index[u] = column;
                if let Some(v) = v {
                    index[v] = row;
                }
                let (low, high) = (
                    self.axes[u].nodes_m[column],
                    self.axes[u].nodes_m[column + 1],
                );
                let lines = if v.is_some() { SCAN_LINES } else { 1 };
                let mut covered = 0.0;
                for line in 0..lines {
                    let mut point = [0.0; 3];
                    point[vertical] = level;
                    if let Some(v) = v {
                        point[v] = self.axes[v].nodes_m[row]
                            + self.axes[v].width_m(row) * (line as f64 + 0.5) / lines as f64;
                    }
                    for span in shape.spans(point, u) {
                        let (a, b) = (span.low_m.max(low), span.high_m.min(high));
                        if b > a {
                            covered += if self.kind == Kind::Axisymmetric {
                                (b * b - a * a) / (high * high - low * low)
                            } else {
                                (b - a) / (high - low)
                            };
                        }
                    }
                }
                let share = covered / lines as f64;
                if share > 1e-9 {
                    let mut middle = [0.0; 3];
                    for &d in &across {
                        middle[d] = self.axes[d].middle_m(index[d]);
                    }
                    let normal = if share < 1.0 - 1e-9 {
                        shape.normal(middle)
                    } else {
                        [1.0, 0.0]
                    };
                    self.partial_faces.push(PartialFace {
                        axis: vertical,
                        face: index[0] + dims[0] * (index[1] + dims[1] * index[2]),
                        conductor: mark,
                        share: share.min(1.0),
                        place,
                        normal,
                    });
                }
            }
        }
    }

    /// Middle of a cell \[m\].
    pub fn cell_middle(&self, index: [usize; 3]) -> [f64; 3] {
        [0, 1, 2].map(|d| {
            if d >= self.dimensions() {
                0.0
            } else {
                self.axes[d].middle_m(index[d])
            }
        })
    }
}

/// Axis indices of a flat index that counts axis 0 fastest.
pub(crate) fn unflatten(n: usize, dims: [usize; 3]) -> [usize; 3] {
    [n % dims[0], n / dims[0] % dims[1], n / (dims[0] * dims[1])]
}

/// Cuts of the links from the inside point `index` to its outside neighbours.
fn surface_cuts(
    shape: &Shape,
    mark: u16,
    place: Place,
    point: [f64; 3],
    index: [usize; 3],
    coordinates: [&[f64]; 3],
    slack: f64,
) -> Vec<Cut> {
    let vertical = shape.vertical();
    let dims = coordinates.map(<[f64]>::len);
    let stride = [1, dims[0], dims[0] * dims[1]];
    let here = index[0] + dims[0] * (index[1] + dims[1] * index[2]);
    let mut cuts = Vec::new();
    for axis in 0..3 {
        if dims[axis] == 1 || (place != Place::Wall && axis == vertical) {
            continue;
        }
        let at = point[axis];
        let Some(span) = shape
            .spans(point, axis)
            .into_iter()
            .find(|s| at >= s.low_m - slack && at <= s.high_m + slack)
        else {
            continue;
        };
        let normal = |at_m: f64| {
            let mut surface = point;
            surface[axis] = at_m;
            shape.normal(surface)
        };
        if index[axis] + 1 < dims[axis] {
            let covered = (span.high_m - at) / (coordinates[axis][index[axis] + 1] - at);
            if covered < 1.0 - 1e-9 {
                cuts.push(Cut {
                    axis,
                    low: here,
                    inside_is_low: true,
                    conductor: mark,
                    covered: covered.max(0.0),
                    place,
                    normal: normal(span.high_m),
                });
            }
        }
        if index[axis] > 0 {
            let covered = (at - span.low_m) / (at - coordinates[axis][index[axis] - 1]);
            if covered < 1.0 - 1e-9 {
                cuts.push(Cut {
                    axis,
                    low: here - stride[axis],
                    inside_is_low: false,
                    conductor: mark,
                    covered: covered.max(0.0),
                    place,
                    normal: normal(span.low_m),
                });
            }
        }
    }
    cuts
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
