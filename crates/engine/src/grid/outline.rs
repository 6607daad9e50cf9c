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
            if level < range[0] || level > range[1] {
                continue;
            }
            // At every point: an outline of a hundred thousand corners takes milliseconds for each.
            if self.stop.asked() {
                return;
            }
            if shape.contains(place(self, index), slack) {
                self.node_conductor[n] = mark;
                inside.push(n);
            }
        }
        for n in inside {
            if self.stop.asked() {
                return;
            }
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
                if self.stop.asked() {
                    return;
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
                        conductor: mark,
                        share: share.min(1.0),
                        place,
                        normal,
                    });
                }
            }
        }
    }
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
