//! The same grid with one segment of an axis longer or shorter.

use super::outline::{Cut, Place};
use super::paint::{Grid, unflatten};

impl Grid {
    /// This grid with segment `segment` of `axis` stretched by `factor`, everything beyond it moving
    /// along: same cells, same marks, other coordinates.
    ///
    /// Outlines off the grid are carried by the stretch like every other point of space: a disc
    /// becomes an ellipse when a segment it lies in is stretched, and moves as a whole when the
    /// segment lies before it.
    pub(crate) fn stretched(&self, axis: usize, segment: usize, factor: f64) -> Self {
        let lines = &self.axes[axis].lines;
        let nodes = &self.axes[axis].nodes_m;
        let (first, last) = (lines[segment], lines[segment + 1]);
        let (low, high) = (nodes[first], nodes[last]);
        let place = |at: f64| at + (factor - 1.0) * (at.clamp(low, high) - low);
        let mut moved = self.clone();
        for node in &mut moved.axes[axis].nodes_m {
            *node = place(*node);
        }
        for bound in &mut moved.open_span_m[axis] {
            *bound = place(*bound);
        }
        let stretches = |cell: usize| (first..last).contains(&cell);
        let turn = |normal: &mut [f64; 2], cell: usize| {
            if axis < 2 && self.dimensions() == 3 && stretches(cell) {
                normal[axis] /= factor;
                let length = normal[0].hypot(normal[1]);
                *normal = normal.map(|n| n / length);
            }
        };
        for face in &mut moved.partial_faces {
            let index = unflatten(face.face, self.face_dims(face.axis));
            turn(&mut face.normal, index[axis]);
        }
        for cut in &mut moved.node_cuts {
            let index = unflatten(cut.low, self.node_dims());
            turn(&mut cut.normal, index[axis]);
        }
        // A link between cell middles may lie in two segments: the surface keeps its place in space.
        let middles = |grid: &Self, cut: &Cut| {
            let i = unflatten(cut.low, self.cell_dims())[axis];
            [i, i + 1].map(|i| grid.axes[axis].middle_m(i))
        };
        let mut cuts = std::mem::take(&mut moved.cell_cuts);
        for cut in cuts.iter_mut().filter(|cut| cut.axis == axis) {
            debug_assert_eq!(cut.place, Place::Wall);
            let ([a, b], [c, d]) = (middles(self, cut), middles(&moved, cut));
            cut.covered = if cut.inside_is_low {
                (place(a + cut.covered * (b - a)) - c) / (d - c)
            } else {
                (d - place(b - cut.covered * (b - a))) / (d - c)
            };
        }
        moved.cell_cuts = cuts;
        moved
    }
}
