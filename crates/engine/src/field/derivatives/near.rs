//! Which segments and materials a conductance can depend on that the surface of a shape changes.

use crate::case::{Kind, Wall};
use crate::field::edge::REACH;
use crate::grid::Grid;
use std::ops::Range;

/// What is changed for a derivative.
#[derive(Clone, Copy)]
pub(super) enum Change {
    Segment { axis: usize, segment: usize },
    Material(usize),
}

/// The cells that conductances at a cell depend on.
pub(super) struct Near {
    cells: [Range<usize>; 3],
    /// What they are made of, each material once.
    materials: Vec<u16>,
}

impl Near {
    /// Around cells of a volume, one for each conductance; nothing for other kinds, where what is further out on the
    /// radius moves along.
    pub fn of(grid: &Grid, cells: impl Iterator<Item = [usize; 3]>) -> Vec<Option<Self>> {
        match grid.kind {
            Kind::Volume => cells.map(|cell| Self::around(grid, cell)).collect(),
            Kind::Planar | Kind::Axisymmetric => Vec::new(),
        }
    }

    /// Around a cell and those behind its high faces; nothing at an open wall, which depends on the extent of all.
    fn around(grid: &Grid, cell: [usize; 3]) -> Option<Self> {
        let axes = &grid.axes;
        for axis in 0..3 {
            let [low, high] = grid.walls[axis].map(|wall| wall == Wall::Open);
            if (low && cell[axis] == 0) || (high && cell[axis] + 2 >= axes[axis].cells()) {
                return None;
            }
        }
        let beside =
            |axis: usize| cell[axis].saturating_sub(1)..(cell[axis] + 2).min(axes[axis].cells());
        let [x, y, z] = [0, 1, 2].map(beside);
        // Edges feel the layers as far as this: rows lie no further apart than the cells are wide.
        let widths = [(0, &x), (1, &y)].map(|(axis, cells)| {
            let widths = cells.clone().map(|cell| axes[axis].width_m(cell));
            widths.fold(0.0, f64::max)
        });
        let reach_m = REACH * widths[0].max(widths[1]);
        let nodes_m = &axes[2].nodes_m;
        let [low_m, high_m] = [nodes_m[z.start] - reach_m, nodes_m[z.end] + reach_m];
        let first = nodes_m.partition_point(|&node| node <= low_m);
        let last = nodes_m.partition_point(|&node| node < high_m);
        let z = first.saturating_sub(1)..last.min(axes[2].cells());
        let mut materials = Vec::new();
        for k in z.clone() {
            for j in y.clone() {
                for i in x.clone() {
                    let material = grid.material_at([i, j, k]);
                    if !materials.contains(&material) {
                        materials.push(material);
                    }
                }
            }
        }
        Some(Self {
            cells: [x, y, z],
            materials,
        })
    }

    /// Whether a change may be felt.
    pub fn feels(&self, grid: &Grid, change: Change) -> bool {
        match change {
            Change::Segment { axis, segment } => {
                let lines = &grid.axes[axis].lines;
                let Range { start, end } = self.cells[axis];
                lines[segment] < end && lines[segment + 1] > start
            }
            Change::Material(material) => {
                let mut all = self.materials.iter();
                all.any(|&own| usize::from(own) == material)
            }
        }
    }
}
