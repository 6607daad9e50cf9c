//! The cell network: capacitances from below.
//!
//! Unknowns at cell middles, sheets as faces of given potential (K). What its faces conduct is in
//! `cell_faces`, its energies are in `cell_energy`.

use super::cell_faces::{CellFaces, Conductance, Origin};
use super::screen::{ScreenFace, screen_faces};
use super::system::System;
use crate::grid::Grid;

/// The system and, for energies, which cells a cut touches.
pub(crate) struct CellScheme {
    pub system: System,
    pub(super) touched: Vec<bool>,
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
        for axis in 0..dimensions {
            for index in faces.cells() {
                faces.visit(index, axis, &mut |item| match item {
                    Conductance::Link {
                        cell,
                        axis,
                        conductance,
                        origin,
                    } => {
                        link[axis][cell] = conductance as f32;
                        if origin == Origin::Cut {
                            touched[cell] = true;
                            touched[cell + strides[axis]] = true;
                        }
                    }
                    Conductance::Source { source, .. } => sources.push(source),
                });
            }
        }
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
            screens,
        }
    }
}
