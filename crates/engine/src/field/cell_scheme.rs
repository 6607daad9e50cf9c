//! The cell network: capacitances from below.
//!
//! Unknowns at cell middles, sheets as faces of given potential (K). What its faces conduct is in
//! `cell_faces`, its energies are in `cell_energy`.

use super::cell_faces::{CellFaces, Conductance, Origin};
use super::screen::{ScreenFace, screen_faces};
use super::system::{Source, System};
use crate::grid::Grid;
use rayon::prelude::*;

/// The system and, for energies, which cells a cut touches.
pub(crate) struct CellScheme {
    pub system: System,
    pub(super) touched: Vec<bool>,
    /// Conductances to open walls.
    pub(super) open_walls: Vec<Source>,
    /// Cells and axes at which conductances are found that the surface of a shape changes.
    pub(super) cuts: Vec<(u32, u8)>,
    /// Faces of cells that such conductances lie in: cell, axis, side; sorted.
    pub(super) cut_faces: Vec<(u32, u8, u8)>,
    /// Free faces of screens between two cells.
    pub(super) screens: Vec<ScreenFace>,
}

impl CellScheme {
    pub fn new(grid: &Grid) -> Self {
        let dims = grid.cell_dims();
        let n = grid.cells();
        let dimensions = grid.dimensions();
        let axes = (0..dimensions).into_par_iter();
        let by_axis: Vec<Found> = axes.map(|axis| Found::along(grid, axis)).collect();
        let mut found = Found::default();
        let mut link = [const { Vec::new() }; 3];
        for (axis, mut part) in by_axis.into_iter().enumerate() {
            link[axis] = std::mem::take(&mut part.link);
            found.join(part);
        }
        found.cut_faces.sort_unstable();
        found.cut_faces.dedup();
        let coordinates = [0, 1, 2].map(|d| {
            if d < dimensions {
                (0..dims[d]).map(|i| grid.axes[d].middle_m(i)).collect()
            } else {
                vec![0.0]
            }
        });
        // No line is protected in the coarsening of the cell network.
        let rank = dims.map(|n| vec![0; n]);
        let system = System::new(
            coordinates,
            rank,
            link,
            vec![0.0; n],
            grid.cell_conductor.clone(),
            found.sources,
        );
        let mut screens = screen_faces(grid);
        screens.retain(|face| face.cells.iter().all(Option::is_some));
        Self {
            system,
            touched: found.touched,
            open_walls: found.open_walls,
            cuts: found.cuts,
            cut_faces: found.cut_faces,
            screens,
        }
    }
}

/// The conductances of a grid's faces along an axis, sorted by what becomes of them.
#[derive(Default)]
struct Found {
    link: Vec<f32>,
    sources: Vec<Source>,
    touched: Vec<bool>,
    open_walls: Vec<Source>,
    cuts: Vec<(u32, u8)>,
    cut_faces: Vec<(u32, u8, u8)>,
}

impl Found {
    fn along(grid: &Grid, axis: usize) -> Self {
        let dims = grid.cell_dims();
        let n = grid.cells();
        let mut found = Self {
            link: vec![0.0; n],
            touched: vec![false; if grid.has_shapes { n } else { 0 }],
            ..Self::default()
        };
        let stride = [1, dims[0], dims[0] * dims[1]][axis];
        CellFaces::new(grid).visit_all(axis, &mut |cell, item| {
            found.add((cell as u32, axis as u8), stride, item);
        });
        found
    }

    /// Adds what was found along another axis, but for the links.
    fn join(&mut self, other: Self) {
        if self.touched.is_empty() {
            self.touched = other.touched;
        } else {
            for (touched, other) in self.touched.iter_mut().zip(other.touched) {
                *touched |= other;
            }
        }
        self.sources.extend(other.sources);
        self.open_walls.extend(other.open_walls);
        self.cuts.extend(other.cuts);
        self.cut_faces.extend(other.cut_faces);
    }

    /// Adds what is found at a cell and axis.
    #[inline]
    fn add(&mut self, place: (u32, u8), stride: usize, item: Conductance) {
        if item.is_cut() && self.cuts.last() != Some(&place) {
            self.cuts.push(place);
        }
        match item {
            Conductance::Link {
                cell,
                axis,
                conductance,
                origin,
            } => {
                self.link[cell] = conductance as f32;
                let ends = [cell, cell + stride];
                if origin == Origin::Cut {
                    ends.into_iter().for_each(|end| self.touched[end] = true);
                }
                if item.is_cut() {
                    self.cut_faces.push((ends[0] as u32, axis as u8, 1));
                    self.cut_faces.push((ends[1] as u32, axis as u8, 0));
                }
            }
            Conductance::Source { source, .. } => {
                if item.is_cut() {
                    let face = (source.node, source.axis, source.side);
                    self.cut_faces.push(face);
                }
                if item.origin() == Origin::OpenWall {
                    self.open_walls.push(source);
                }
                self.sources.push(source);
            }
        }
    }
}
