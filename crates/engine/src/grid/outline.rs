//! Where outlines that do not follow the grid meet it: links they cut, faces they cover in part.

use super::paint::{FREE, Grid};
use super::shape::Shape;
use crate::case::Kind;
use crate::stop::Stop;
use std::ops::Range;

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
    /// Angle \[rad\] between the plane and the wall of the solid, which rises from its edge; a stretch of the grid
    /// leaves it as it is.
    pub opening_rad: f64,
}

impl PartialFace {
    fn place(&self) -> (usize, usize) {
        (self.axis, self.face)
    }
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

impl Cut {
    fn place(&self) -> (usize, usize) {
        (self.axis, self.low)
    }
}

impl Grid {
    /// Puts what shapes cover and cut into the order in which it is looked up.
    pub(super) fn sort_outlines(&mut self) {
        self.partial_faces.sort_by_key(PartialFace::place);
        self.cell_cuts.sort_by_key(Cut::place);
    }

    /// What covers some faces in part, face by face in the order it was painted.
    pub(crate) fn covering(&self, axis: usize, faces: Range<usize>) -> &[PartialFace] {
        let all = &self.partial_faces;
        let start = all.partition_point(|f| f.place() < (axis, faces.start));
        let found = all[start..]
            .iter()
            .take_while(|f| f.place() < (axis, faces.end));
        &all[start..start + found.count()]
    }

    /// Share, inside what was painted last, of a link between cell middles that a surface cuts.
    pub(crate) fn covered_link(&self, axis: usize, low: usize) -> Option<f64> {
        let end = self.cell_cuts.partition_point(|c| c.place() <= (axis, low));
        let cut = self.cell_cuts[..end].last()?;
        (cut.place() == (axis, low)).then_some(cut.covered)
    }

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
        let [low, high] = painting.nodes;
        let axis = &self.axes[0].nodes_m;
        let points = Points {
            coordinates: [0, 1, 2].map(|d| &self.axes[d].nodes_m[..]),
            levels: low..high + 1,
            slack: 1e-9 * (axis[axis.len() - 1] - axis[0]),
            stop: self.stop,
        };
        let place = |level: usize| match level {
            _ if painting.is_flat() => Place::Sheet,
            level if level == low => Place::LowerEnd,
            level if level == high => Place::UpperEnd,
            _ => Place::Wall,
        };
        let (marks, cuts) = (&mut self.node_conductor, &mut self.node_cuts);
        painting.paint(&points, place, marks, cuts);
    }

    /// Marks the cells whose middle is inside a shape and lists the links between middles that its wall cuts.
    fn paint_shape_cells(&mut self, painting: &Painting<'_>) {
        let [low, high] = painting.nodes;
        let middles = [0, 1, 2].map(|d| match d < self.dimensions() {
            true => (0..self.axes[d].cells())
                .map(|i| self.axes[d].middle_m(i))
                .collect(),
            false => vec![0.0],
        });
        let points = Points {
            coordinates: [0, 1, 2].map(|d| &middles[d][..]),
            levels: low..high,
            slack: 0.0,
            stop: self.stop,
        };
        let (marks, cuts) = (&mut self.cell_conductor, &mut self.cell_cuts);
        painting.paint(&points, |_| Place::Wall, marks, cuts);
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
        let lines = if v.is_some() { SCAN_LINES } else { 1 };
        let mut spans = Vec::new();
        for row in 0..rows {
            spans.clear();
            for line in 0..lines {
                if self.stop.asked() {
                    return;
                }
                let mut point = [0.0; 3];
                point[vertical] = level;
                if let Some(v) = v {
                    point[v] = self.axes[v].nodes_m[row]
                        + self.axes[v].width_m(row) * (line as f64 + 0.5) / lines as f64;
                }
                spans.extend(shape.spans(point, u));
            }
            if spans.is_empty() {
                continue;
            }
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
                let mut covered = 0.0;
                for span in &spans {
                    let (a, b) = (span.low_m.max(low), span.high_m.min(high));
                    if b > a {
                        covered += if self.kind == Kind::Axisymmetric {
                            (b * b - a * a) / (high * high - low * low)
                        } else {
                            (b - a) / (high - low)
                        };
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
                        opening_rad: shape.opening_rad(place),
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

    /// Marks the points inside and lists the links between them and free ones that the surface cuts; `place` says
    /// where a level lies.
    fn paint(
        &self,
        points: &Points<'_>,
        place: impl Fn(usize) -> Place,
        marks: &mut [u16],
        cuts: &mut Vec<Cut>,
    ) {
        let dims = points.coordinates.map(<[f64]>::len);
        let inside = self.inside(points);
        for &[i, j, k] in &inside {
            marks[i + dims[0] * (j + dims[1] * k)] = self.mark;
        }
        for index in inside {
            if points.stop.asked() {
                return;
            }
            let place = place(index[self.shape.vertical()]);
            self.add_cuts(points, place, index, marks, cuts);
        }
    }

    /// The points inside, in order.
    fn inside(&self, points: &Points<'_>) -> Vec<[usize; 3]> {
        let mut range = points.coordinates.map(|along| 0..along.len());
        range[self.shape.vertical()] = points.levels.clone();
        let [x, y, z] = range;
        let mut inside = Vec::new();
        for k in z {
            for j in y.clone() {
                let spans = self.shape.spans(self.point(points, [0, j, k]), 0);
                for i in x.clone() {
                    // At every point: an outline of a hundred thousand corners takes milliseconds for each.
                    if points.stop.asked() {
                        return inside;
                    }
                    let point = self.point(points, [i, j, k]);
                    if self.shape.contains(&spans, point, points.slack) {
                        inside.push([i, j, k]);
                    }
                }
            }
        }
        inside
    }

    /// A point, between the ends of the shape.
    fn point(&self, points: &Points<'_>, index: [usize; 3]) -> [f64; 3] {
        let vertical = self.shape.vertical();
        let mut point = [0, 1, 2].map(|d| points.coordinates[d][index[d]]);
        point[vertical] = point[vertical].clamp(self.levels[0], self.levels[1]);
        point
    }

    /// Adds the cuts of the links from the inside point `index` to its free neighbours.
    fn add_cuts(
        &self,
        points: &Points<'_>,
        place: Place,
        index: [usize; 3],
        marks: &[u16],
        cuts: &mut Vec<Cut>,
    ) {
        let Self { shape, .. } = *self;
        let (coordinates, slack) = (points.coordinates, points.slack);
        let point = self.point(points, index);
        let dims = coordinates.map(<[f64]>::len);
        let stride = [1, dims[0], dims[0] * dims[1]];
        let here = index[0] + dims[0] * (index[1] + dims[1] * index[2]);
        for axis in 0..3 {
            if dims[axis] == 1 || (place != Place::Wall && axis == shape.vertical()) {
                continue;
            }
            let (at, i) = (point[axis], index[axis]);
            let ahead = i + 1 < dims[axis] && marks[here + stride[axis]] == FREE;
            let behind = i > 0 && marks[here - stride[axis]] == FREE;
            if !ahead && !behind {
                continue;
            }
            let Some(span) = shape
                .spans(point, axis)
                .into_iter()
                .find(|s| at >= s.low_m - slack && at <= s.high_m + slack)
            else {
                continue;
            };
            let mut add = |covered: f64, low: usize, surface_m: f64| {
                if covered < 1.0 - 1e-9 {
                    let mut surface = point;
                    surface[axis] = surface_m;
                    cuts.push(Cut {
                        axis,
                        low,
                        inside_is_low: low == here,
                        conductor: self.mark,
                        covered: covered.max(0.0),
                        place,
                        normal: shape.normal(surface),
                    });
                }
            };
            let at_m = |i: usize| coordinates[axis][i];
            if ahead {
                let covered = (span.high_m - at) / (at_m(i + 1) - at);
                add(covered, here, span.high_m);
            }
            if behind {
                let covered = (at - span.low_m) / (at - at_m(i - 1));
                add(covered, here - stride[axis], span.low_m);
            }
        }
    }
}

/// Nodes, or middles of cells, that a shape is painted on.
struct Points<'g> {
    coordinates: [&'g [f64]; 3],
    /// Those along the axis of height that lie between the ends of the shape.
    levels: Range<usize>,
    /// How far outside the outline a point counts as inside \[m\].
    slack: f64,
    stop: Stop,
}
