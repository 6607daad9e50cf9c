//! Where outlines that do not follow the grid meet it: links they cut, faces they cover in part.

use super::paint::{Grid, unflatten};
use super::shape::Shape;
use crate::case::Kind;

/// Scan lines per cell face for the covered fraction of a face.
const SCAN_LINES: usize = 24;

/// Where the outline of a round or prismatic solid meets the grid.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Place {
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
pub(crate) struct PartialFace {
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
pub(crate) struct Cut {
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

impl Grid {
    /// Marks what lies inside a shape and lists what its surface cuts.
    pub(super) fn paint_shape(&mut self, shape: &Shape, mark: u16) {
        let levels = shape.levels();
        let painting = Painting {
            shape,
            mark,
            levels,
            nodes: levels.map(|level| self.axes[shape.vertical()].nearest(level)),
        };
        self.paint_shape_nodes(&painting);
        if painting.is_flat() {
            self.paint_end(&painting, Place::Sheet, 0);
            return;
        }
        self.paint_shape_cells(&painting);
        self.paint_end(&painting, Place::LowerEnd, 0);
        self.paint_end(&painting, Place::UpperEnd, 1);
    }

    /// Marks the nodes inside a shape and lists the links between nodes that its surface cuts.
    fn paint_shape_nodes(&mut self, painting: &Painting<'_>) {
        let Painting { shape, nodes, .. } = *painting;
        let vertical = shape.vertical();
        let dims = self.node_dims();
        let slack = 1e-9 * (self.axes[0].nodes_m[dims[0] - 1] - self.axes[0].nodes_m[0]);
        let mut inside = Vec::new();
        for n in 0..self.node_conductor.len() {
            let index = unflatten(n, dims);
            let level = index[vertical];
            if level < nodes[0] || level > nodes[1] {
                continue;
            }
            // At every point: an outline of a hundred thousand corners takes milliseconds for each.
            if self.stop.asked() {
                return;
            }
            if shape.contains(painting.point(self, index), slack) {
                self.node_conductor[n] = painting.mark;
                inside.push(n);
            }
        }
        for n in inside {
            if self.stop.asked() {
                return;
            }
            let index = unflatten(n, dims);
            let coordinates = [0, 1, 2].map(|d| &self.axes[d].nodes_m[..]);
            let place = match index[vertical] {
                _ if painting.is_flat() => Place::Sheet,
                level if level == nodes[0] => Place::LowerEnd,
                level if level == nodes[1] => Place::UpperEnd,
                _ => Place::Wall,
            };
            let point = painting.point(self, index);
            let cuts = painting.surface_cuts(place, point, index, coordinates, slack);
            self.node_cuts.extend(cuts);
        }
    }

    /// Marks the cells whose middle is inside a shape and lists the links between middles that its wall cuts.
    fn paint_shape_cells(&mut self, painting: &Painting<'_>) {
        let Painting { shape, nodes, .. } = *painting;
        let vertical = shape.vertical();
        let dims = self.cell_dims();
        let middle = |d: usize, i: usize| match d < self.dimensions() {
            true => self.axes[d].middle_m(i),
            false => 0.0,
        };
        let middles = [0, 1, 2].map(|d| (0..dims[d]).map(|i| middle(d, i)).collect::<Vec<_>>());
        for cell in 0..self.cells() {
            let index = unflatten(cell, dims);
            if index[vertical] < nodes[0] || index[vertical] >= nodes[1] {
                continue;
            }
            if self.stop.asked() {
                return;
            }
            let point = self.cell_middle(index);
            if shape.contains(point, 0.0) {
                self.cell_conductor[cell] = painting.mark;
                let coordinates = [0, 1, 2].map(|d| &middles[d][..]);
                let cuts = painting.surface_cuts(Place::Wall, point, index, coordinates, 0.0);
                self.cell_cuts.extend(cuts);
            }
        }
    }

    /// Marks the faces that a flat end covers, with the covered share of each.
    fn paint_end(&mut self, painting: &Painting<'_>, place: Place, end: usize) {
        let shape = painting.shape;
        let (level, node) = (painting.levels[end], painting.nodes[end]);
        let vertical = shape.vertical();
        let dims = self.face_dims(vertical);
        let across: Vec<usize> = (0..self.dimensions()).filter(|&d| d != vertical).collect();
        let (u, v) = (across[0], across.get(1).copied());
        let rows = v.map_or(1, |v| self.cell_dims()[v]);
        for row in 0..rows {
            for column in 0..self.cell_dims()[u] {
                if self.stop.asked() {
                    return;
                }
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
                        conductor: painting.mark,
                        share: share.min(1.0),
                        place,
                        normal,
                    });
                }
            }
        }
    }
}

/// A shape that is painted on a grid.
#[derive(Clone, Copy)]
struct Painting<'s> {
    shape: &'s Shape<'s>,
    mark: u16,
    /// Its ends \[m\], and the nodes nearest to them.
    levels: [f64; 2],
    nodes: [usize; 2],
}

impl Painting<'_> {
    fn is_flat(&self) -> bool {
        self.levels[0] == self.levels[1]
    }

    /// A node, between the ends of the shape.
    fn point(&self, grid: &Grid, index: [usize; 3]) -> [f64; 3] {
        let vertical = self.shape.vertical();
        let mut point = [0, 1, 2].map(|d| grid.axes[d].nodes_m[index[d]]);
        point[vertical] = point[vertical].clamp(self.levels[0], self.levels[1]);
        point
    }

    /// Cuts of the links from the inside point `index` to its outside neighbours.
    fn surface_cuts(
        &self,
        place: Place,
        point: [f64; 3],
        index: [usize; 3],
        coordinates: [&[f64]; 3],
        slack: f64,
    ) -> Vec<Cut> {
        let Self { shape, .. } = *self;
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
            let mut add = |covered: f64, low: usize, surface_m: f64| {
                if covered < 1.0 - 1e-9 {
                    cuts.push(Cut {
                        axis,
                        low,
                        inside_is_low: low == here,
                        conductor: self.mark,
                        covered: covered.max(0.0),
                        place,
                        normal: normal(surface_m),
                    });
                }
            };
            let at_m = |i: usize| coordinates[axis][i];
            let i = index[axis];
            if i + 1 < dims[axis] {
                let covered = (span.high_m - at) / (at_m(i + 1) - at);
                add(covered, here, span.high_m);
            }
            if i > 0 {
                let covered = (at - span.low_m) / (at - at_m(i - 1));
                add(covered, here - stride[axis], span.low_m);
            }
        }
        cuts
    }
}
