//! Screens on the grid: which faces leak, where they are not covered by a conductor.

use super::paint::{FREE, Grid};
use crate::case::{Case, Wall};

/// A screen as the grid has it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct GridScreen {
    /// Case index of the conductor whose potential it has.
    pub conductor: u16,
    /// Screen depth \[m\].
    pub depth_m: f64,
}

impl Grid {
    /// Marks the faces of every screen that lie free: between two free cells, or between a free cell
    /// and an insulated wall, and not in a sheet. Comes after the conductors.
    pub(super) fn paint_screens(&mut self, case: &Case) {
        let axis = self.dimensions() - 1;
        let faces = self.face_dims(axis);
        for screen in &case.screens {
            if self.stop.asked() {
                return;
            }
            let Some(conductor) = case
                .conductors
                .iter()
                .position(|c| c.name == screen.conductor)
            else {
                continue;
            };
            let mark = self.screens.len() as u16;
            self.screens.push(GridScreen {
                conductor: conductor as u16,
                depth_m: screen.depth_m,
            });
            if self.screen_faces.is_empty() {
                self.screen_faces = vec![FREE; faces.iter().product()];
            }
            let mut range = self.node_range(&screen.extent).map(|[low, high]| low..high);
            range[axis].end = range[axis].start + 1;
            if axis < 2 {
                range[2] = 0..1;
            }
            let [x, y, z] = range;
            for k in z {
                for j in y.clone() {
                    for i in x.clone() {
                        if self.leaks([i, j, k], axis) {
                            self.screen_faces[i + faces[0] * (j + faces[1] * k)] = mark;
                        }
                    }
                }
            }
        }
    }

    /// Whether no conductor holds a face normal to the last axis.
    fn leaks(&self, index: [usize; 3], axis: usize) -> bool {
        let faces = self.face_dims(axis);
        let face = index[0] + faces[0] * (index[1] + faces[1] * index[2]);
        let in_sheet = self.face_conductor[axis]
            .get(face)
            .is_some_and(|&mark| mark != FREE);
        let free = self
            .cells_beside(index, axis)
            .into_iter()
            .flatten()
            .all(|cell| self.cell_conductor[cell] == FREE);
        let level = index[axis];
        let conducting_wall = |side: usize| self.walls[axis][side] != Wall::Insulated;
        let in_wall = (level == 0 && conducting_wall(0))
            || (level == self.axes[axis].cells() && conducting_wall(1));
        free && !in_sheet && !in_wall
    }

    /// The cells on the low and on the high side of a face normal to `axis`; none beyond the wall.
    pub(crate) fn cells_beside(&self, index: [usize; 3], axis: usize) -> [Option<usize>; 2] {
        let dims = self.cell_dims();
        let at = |level: usize| {
            let mut cell = index;
            cell[axis] = level;
            cell[0] + dims[0] * (cell[1] + dims[1] * cell[2])
        };
        let level = index[axis];
        [
            level.checked_sub(1).map(at),
            (level < dims[axis]).then(|| at(level)),
        ]
    }

    /// The screen on a face normal to `axis`, if any.
    #[inline]
    pub(crate) fn screen(&self, axis: usize, face: usize) -> Option<GridScreen> {
        if axis + 1 != self.dimensions() {
            return None;
        }
        let mark = *self.screen_faces.get(face)?;
        self.screens.get(usize::from(mark)).copied()
    }
}
