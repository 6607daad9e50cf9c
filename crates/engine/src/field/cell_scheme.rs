//! The cell network: capacitances from below.
//!
//! Unknowns at cell middles, sheets as faces of given potential (K). What its faces conduct is in
//! `cell_faces`, its energies are in `cell_energy`.

use super::cell_faces::{CellFaces, Conductance, Origin};
use super::screen::{ScreenFace, screen_faces};
use super::system::{Source, System};
use crate::grid::Grid;

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
        let strides = [1, dims[0], dims[0] * dims[1]];
        let mut link: [Vec<f32>; 3] = [0, 1, 2].map(|d| {
            if d < dimensions {
                vec![0.0; n]
            } else {
                Vec::new()
            }
        });
        let mut sources = Vec::new();
        let mut touched = vec![false; if grid.has_shapes { n } else { 0 }];
        let faces = CellFaces::new(grid);
        let mut open_walls = Vec::new();
        let mut cuts = Vec::new();
        let mut cut_faces = Vec::new();
        for axis in 0..dimensions {
            for (at, index) in faces.cells().enumerate() {
                if index[0] == 0 && grid.stop.asked() {
                    break;
                }
                faces.visit(index, axis, &mut |item| {
                    let place = (at as u32, axis as u8);
                    if item.is_cut() && cuts.last() != Some(&place) {
                        cuts.push(place);
                    }
                    match item {
                        Conductance::Link {
                            cell,
                            axis,
                            conductance,
                            origin,
                        } => {
                            link[axis][cell] = conductance as f32;
                            let ends = [cell, cell + strides[axis]];
                            if origin == Origin::Cut {
                                ends.into_iter().for_each(|end| touched[end] = true);
                            }
                            if item.is_cut() {
                                cut_faces.push((ends[0] as u32, axis as u8, 1));
                                cut_faces.push((ends[1] as u32, axis as u8, 0));
                            }
                        }
                        Conductance::Source { source, .. } => {
                            if item.is_cut() {
                                cut_faces.push((source.node, source.axis, source.side));
                            }
                            if item.origin() == Origin::OpenWall {
                                open_walls.push(source);
                            }
                            sources.push(source);
                        }
                    }
                });
            }
        }
        cut_faces.sort_unstable();
        cut_faces.dedup();
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
            sources,
        );
        let mut screens = screen_faces(grid);
        screens.retain(|face| face.cells.iter().all(Option::is_some));
        Self {
            system,
            touched,
            open_walls,
            cuts,
            cut_faces,
            screens,
        }
    }
}
