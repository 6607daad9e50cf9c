//! Segment derivatives of the node network.

use super::{Accumulator, SegmentSums, logarithmic_derivative, products};
use crate::field::coefficients::CellExtent;
use crate::field::node_scheme::{edge_cuts, open_walls, wall_cuts};
use crate::field::screen::{ScreenFace, screen_faces};
use crate::field::system::potential;
use crate::grid::{FREE, Grid, unflatten};
use std::collections::HashMap;

/// Derivatives to the logarithm of every segment length, from complete node potentials; `driven`
/// names the driven conductor of each.
pub(crate) fn node_segments(grid: &Grid, potentials: &[Vec<f64>], driven: &[u16]) -> SegmentSums {
    let drives = potentials.len();
    let (cells, nodes) = (grid.cell_dims(), grid.node_dims());
    let strides = [1, nodes[0], nodes[0] * nodes[1]];
    let dimensions = grid.dimensions();
    let mut accumulator = Accumulator::new(grid, drives);
    // A cut beside a solid scales its link, whatever the coordinates.
    let mut scales: HashMap<(usize, usize), f64> = HashMap::new();
    for (axis, low, ratio) in wall_cuts(grid) {
        *scales.entry((axis, low)).or_insert(1.0) += ratio;
    }
    let mut difference = vec![0.0; drives];
    let mut pairs = Vec::new();
    let mut part: Vec<f64> = Vec::new();
    for cell in 0..grid.cells() {
        if grid.cell_conductor[cell] != FREE && !grid.has_shapes {
            continue;
        }
        let index = unflatten(cell, cells);
        let eps = grid.permittivity[grid.material[cell] as usize];
        let node = index[0] + strides[1] * index[1] + strides[2] * index[2];
        let extent = CellExtent::of(grid, index);
        let weights = extent.edge_weights();
        for axis in 0..dimensions {
            // Corners of the low and of the high half; only heights about an axis tell them apart.
            let (u, v) = (strides[(axis + 1) % 3], strides[(axis + 2) % 3]);
            let halves: [&[usize]; 2] = match (dimensions, axis) {
                (2, 0) => [&[0, strides[1]], &[]],
                (2, _) => [&[0], &[1]],
                _ => [&[0, u, v, u + v], &[]],
            };
            for (half, corners) in halves.into_iter().enumerate() {
                part.clear();
                part.resize(drives * (drives + 1) / 2, 0.0);
                for corner in corners {
                    let low = node + corner;
                    let scale = scales.get(&(axis, low)).copied().unwrap_or(1.0);
                    for (slot, x) in difference.iter_mut().zip(potentials) {
                        *slot = x[low + strides[axis]] - x[low];
                    }
                    products(&difference, &mut pairs);
                    super::add_scaled(&mut part, scale * eps * weights[axis][half], &pairs);
                }
                if part.iter().all(|&p| p == 0.0) {
                    continue;
                }
                accumulator.add(index, axis, &part, |moved| {
                    logarithmic_derivative(extent.radius_m, moved, |r| {
                        extent.between(r).edge_weights()[axis][half]
                    })
                });
            }
        }
    }
    let mut energies = Vec::new();
    for (axis, low, _) in edge_cuts(grid) {
        for (slot, x) in difference.iter_mut().zip(potentials) {
            *slot = x[low + strides[axis]] - x[low];
        }
        products(&difference, &mut pairs);
        energies.push(pairs.clone());
    }
    let edges = |grid: &Grid| edge_cuts(grid).map(|(_, _, gain)| gain).collect();
    accumulator.add_differences(edges, &energies);
    let mut energies = Vec::new();
    open_walls(grid, &mut |node, _, _| {
        for (slot, x) in difference.iter_mut().zip(potentials) {
            *slot = x[node];
        }
        products(&difference, &mut pairs);
        energies.push(pairs.clone());
    });
    let walls = |grid: &Grid| {
        let mut conductances = Vec::new();
        open_walls(grid, &mut |_, conductance, _| {
            conductances.push(conductance)
        });
        conductances
    };
    accumulator.add_differences(walls, &energies);
    let mut energies = Vec::new();
    for face in screen_faces(grid) {
        for (node, _) in face.corner_conductances() {
            let sides = potentials.iter().zip(driven);
            for (slot, (x, &drive)) in difference.iter_mut().zip(sides) {
                *slot = x[node] - potential(face.conductor, drive);
            }
            products(&difference, &mut pairs);
            energies.push(pairs.clone());
        }
    }
    let screens = |grid: &Grid| {
        let faces = screen_faces(grid);
        let corners = faces.iter().flat_map(ScreenFace::corner_conductances);
        corners.map(|(_, conductance)| conductance).collect()
    };
    accumulator.add_differences(screens, &energies);
    accumulator.finish()
}
