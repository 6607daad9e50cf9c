//! The same grid with segments of its axes longer or shorter.

use super::outline::{Cut, Place};
use super::paint::{Grid, unflatten};

impl Grid {
    /// Becomes `original`, of which it is a clone, with segment `segment` of `axis` stretched by `factor`,
    /// everything beyond it moving along: same cells, same marks, other coordinates.
    ///
    /// Outlines off the grid are carried by the stretch like every other point of space: a disc
    /// becomes an ellipse when a segment it lies in is stretched, and moves as a whole when the
    /// segment lies before it.
    pub(crate) fn stretch(&mut self, original: &Self, axis: usize, segment: usize, factor: f64) {
        let lines = &original.axes[axis].lines;
        let nodes = &original.axes[axis].nodes_m;
        let (first, last) = (lines[segment], lines[segment + 1]);
        let (low, high) = (nodes[first], nodes[last]);
        let place = |at: f64| at + (factor - 1.0) * (at.clamp(low, high) - low);
        for (moved, original) in self.axes.iter_mut().zip(&original.axes) {
            moved.nodes_m.clone_from(&original.nodes_m);
        }
        self.open_span_m = original.open_span_m;
        self.partial_faces.clone_from(&original.partial_faces);
        self.node_cuts.clone_from(&original.node_cuts);
        self.cell_cuts.clone_from(&original.cell_cuts);
        for node in &mut self.axes[axis].nodes_m {
            *node = place(*node);
        }
        for bound in &mut self.open_span_m[axis] {
            *bound = place(*bound);
        }
        let stretches = |cell: usize| (first..last).contains(&cell);
        let turn = |normal: &mut [f64; 2], cell: usize| {
            if axis < 2 && original.dimensions() == 3 && stretches(cell) {
                normal[axis] /= factor;
                let length = normal[0].hypot(normal[1]);
                *normal = normal.map(|n| n / length);
            }
        };
        for face in &mut self.partial_faces {
            let index = unflatten(face.face, original.face_dims(face.axis));
            turn(&mut face.normal, index[axis]);
        }
        for cut in &mut self.node_cuts {
            let index = unflatten(cut.low, original.node_dims());
            turn(&mut cut.normal, index[axis]);
        }
        // A link between cell middles may lie in two segments: the surface keeps its place in space.
        let middles = |grid: &Self, cut: &Cut| {
            let i = unflatten(cut.low, original.cell_dims())[axis];
            [i, i + 1].map(|i| grid.axes[axis].middle_m(i))
        };
        let mut cuts = std::mem::take(&mut self.cell_cuts);
        for cut in cuts.iter_mut().filter(|cut| cut.axis == axis) {
            debug_assert_eq!(cut.place, Place::Wall);
            let ([a, b], [c, d]) = (middles(original, cut), middles(self, cut));
            cut.covered = if cut.inside_is_low {
                (place(a + cut.covered * (b - a)) - c) / (d - c)
            } else {
                (d - place(b - cut.covered * (b - a))) / (d - c)
            };
        }
        self.cell_cuts = cuts;
    }

    /// Becomes `original`, of which it is a clone, with its lines elsewhere \[m\]: same cells, same marks, every segment
    /// stretched to lie between them. What shapes cut stays where it is on them, so no segment that a shape lies in may be
    /// longer or shorter.
    pub(crate) fn follow(&mut self, original: &Self, lines_m: &[Vec<f64>; 3]) {
        for (d, axis) in self.axes.iter_mut().enumerate().take(original.dimensions()) {
            let from = &original.axes[d];
            let both = from.lines.windows(2).zip(lines_m[d].windows(2));
            for (ends, to) in both {
                let (first, last) = (ends[0], ends[1]);
                let low = from.nodes_m[first];
                let factor = (to[1] - to[0]) / (from.nodes_m[last] - low);
                for node in first..last {
                    axis.nodes_m[node] = to[0] + factor * (from.nodes_m[node] - low);
                }
                axis.nodes_m[last] = to[1];
            }
        }
        // A link between cell middles may reach out of the segments of its shape.
        let middles = |grid: &Self, cut: &Cut| {
            let i = unflatten(cut.low, original.cell_dims())[cut.axis];
            [i, i + 1].map(|i| grid.axes[cut.axis].middle_m(i))
        };
        let mut cuts = std::mem::take(&mut self.cell_cuts);
        for (cut, before) in cuts.iter_mut().zip(&original.cell_cuts) {
            let ([a, b], [c, d]) = (middles(original, before), middles(self, before));
            // The inside end lies in a segment that keeps its length.
            let inside_m = before.covered * (b - a);
            cut.covered = (inside_m / (d - c)).clamp(0.0, 1.0);
        }
        self.cell_cuts = cuts;
    }

    /// Whether another grid has the same cells and marks, and shapes that cut it alike.
    pub(crate) fn is_painted_like(&self, other: &Self) -> bool {
        const ALIKE: f64 = 1e-6;
        let alike = |a: &Cut, b: &Cut| {
            (a.axis, a.low, a.conductor, a.place) == (b.axis, b.low, b.conductor, b.place)
                && (a.covered - b.covered).abs() < ALIKE
        };
        let are_alike =
            |a: &[Cut], b: &[Cut]| a.len() == b.len() && a.iter().zip(b).all(|(a, b)| alike(a, b));
        let faces = self.partial_faces.iter().zip(&other.partial_faces);
        self.material == other.material
            && self.node_conductor == other.node_conductor
            && self.cell_conductor == other.cell_conductor
            && self.face_conductor == other.face_conductor
            && are_alike(&self.node_cuts, &other.node_cuts)
            && are_alike(&self.cell_cuts, &other.cell_cuts)
            && self.partial_faces.len() == other.partial_faces.len()
            && faces.into_iter().all(|(a, b)| {
                (a.axis, a.face, a.conductor) == (b.axis, b.face, b.conductor)
                    && (a.share - b.share).abs() < ALIKE
            })
    }
}
