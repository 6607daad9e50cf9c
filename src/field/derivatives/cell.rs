//! Segment derivatives of the cell network.
//!
//! A flux f through a half cell of resistance R has the energy R f^2, and by what R grows the
//! capacitance falls. Conductances of other origin are differentiated as they stand.

use super::{Accumulator, SegmentSums, logarithmic_derivative, products};
use crate::field::cell_faces::{CellFaces, Conductance, Origin};
use crate::field::coefficients::CellExtent;
use crate::field::system::{Source, potential};
use crate::grid::{FREE, Grid, unflatten};

/// Derivatives to the logarithm of every segment length, from complete cell potentials; `driven`
/// names the driven conductor of each.
pub(crate) fn cell_segments(grid: &Grid, potentials: &[Vec<f64>], driven: &[u16]) -> SegmentSums {
    let drives = potentials.len();
    let cells = grid.cell_dims();
    let strides = [1, cells[0], cells[0] * cells[1]];
    let faces = CellFaces::new(grid);
    let mut accumulator = Accumulator::new(grid, drives);
    let mut difference = vec![0.0; drives];
    let mut pairs = Vec::new();
    let mut part: Vec<f64> = Vec::new();
    // Cells and axes that have conductances of other origin, and the energies of those.
    let mut special: Vec<([usize; 3], usize)> = Vec::new();
    let mut energies: Vec<Vec<f64>> = Vec::new();
    for axis in 0..grid.dimensions() {
        for place in faces.cells() {
            faces.visit(place, axis, &mut |item| {
                match item {
                    Conductance::Link { cell, axis, .. } => {
                        for (slot, x) in difference.iter_mut().zip(potentials) {
                            *slot = x[cell] - x[cell + strides[axis]];
                        }
                    }
                    Conductance::Source { source, .. } => {
                        let sides = potentials.iter().zip(driven);
                        for (slot, (x, &drive)) in difference.iter_mut().zip(sides) {
                            *slot = x[source.node as usize] - potential(source.conductor, drive);
                        }
                    }
                }
                products(&difference, &mut pairs);
                if origin(&item) != Origin::HalfCells {
                    if special.last() != Some(&(place, axis)) {
                        special.push((place, axis));
                    }
                    energies.push(pairs.clone());
                    return;
                }
                let (conductance, halves) = match item {
                    Conductance::Link {
                        cell, conductance, ..
                    } => (conductance, [(cell, 1), (cell + strides[axis], 0)]),
                    Conductance::Source { source, .. } => {
                        let Source { node, side, .. } = source;
                        let own = (node as usize, usize::from(side));
                        (source.conductance, [own, own])
                    }
                };
                let count = if matches!(item, Conductance::Link { .. }) {
                    2
                } else {
                    1
                };
                for &(at, side) in &halves[..count] {
                    if grid.cell_conductor[at] != FREE {
                        continue;
                    }
                    let index = unflatten(at, cells);
                    let extent = CellExtent::of(grid, index);
                    let half = |extent: CellExtent| {
                        let resistance = extent.resistance(axis);
                        if side == 0 {
                            resistance.low
                        } else {
                            resistance.high
                        }
                    };
                    let eps = grid.permittivity[grid.material[at] as usize];
                    let weight = conductance * conductance * half(extent) / eps;
                    part.clear();
                    part.extend(pairs.iter().map(|p| weight * p));
                    accumulator.add(index, axis, &part, |moved| {
                        -logarithmic_derivative(extent.radius_m, moved, |r| half(extent.between(r)))
                    });
                }
            });
        }
    }
    let conductances = |grid: &Grid| {
        let faces = CellFaces::new(grid);
        let mut found = Vec::new();
        for &(place, axis) in &special {
            faces.visit(place, axis, &mut |item| {
                if origin(&item) != Origin::HalfCells {
                    found.push(match item {
                        Conductance::Link { conductance, .. } => conductance,
                        Conductance::Source { source, .. } => source.conductance,
                    });
                }
            });
        }
        found
    };
    accumulator.add_differences(conductances, &energies);
    accumulator.finish()
}

fn origin(item: &Conductance) -> Origin {
    match item {
        Conductance::Link { origin, .. } | Conductance::Source { origin, .. } => *origin,
    }
}
