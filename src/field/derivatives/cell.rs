//! Segment derivatives of the cell network.
//!
//! A flux f through a half cell of resistance R has the energy R f^2, and by what R grows the
//! capacitance falls. Conductances of other origin are differentiated as they stand.

use super::walls::{WallFace, WallSums};
use super::{Accumulator, RowSums, SegmentSums, logarithmic_derivative, products};
use crate::case::Kind;
use crate::field::cell_faces::{CellFaces, Conductance, Origin};
use crate::field::cell_scheme::CellScheme;
use crate::field::coefficients::CellExtent;
use crate::field::system::potential;
use crate::grid::{Grid, unflatten};

/// Derivatives to the logarithm of every segment length, from complete cell potentials; `driven`
/// names the driven conductor of each, `rows` are the energies of all half cells but those at faces of
/// other origin.
pub(crate) fn cell_segments(
    grid: &Grid,
    scheme: &CellScheme,
    potentials: &[Vec<f64>],
    driven: &[u16],
    rows: &RowSums,
) -> SegmentSums {
    let drives = potentials.len();
    let cells = grid.cell_dims();
    let strides = [1, cells[0], cells[0] * cells[1]];
    let mut accumulator = Accumulator::new(grid, drives);
    rows.put_into(&mut accumulator, |cell, axis, half, moved| {
        let extent = CellExtent::of(grid, [cell, 0, 0]);
        let of_half = |extent: CellExtent| {
            let resistance = extent.resistance(axis);
            [resistance.low, resistance.high][half]
        };
        -logarithmic_derivative(extent.radius_m, moved, |r| of_half(extent.between(r)))
    });
    let mut energies: Vec<Vec<f64>> = Vec::new();
    let mut difference = vec![0.0; drives];
    let mut pairs = Vec::new();
    let special = &scheme.special;
    each_special(grid, special, &mut |item| {
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
        energies.push(pairs.clone());
    });
    let conductances = |grid: &Grid| {
        let mut found = Vec::with_capacity(energies.len());
        each_special(grid, special, &mut |item| {
            found.push(match item {
                Conductance::Link { conductance, .. } => conductance,
                Conductance::Source { source, .. } => source.conductance,
            });
        });
        found
    };
    accumulator.add_differences(conductances, &energies);
    match grid.kind {
        Kind::Axisymmetric => add_walls_by_difference(&mut accumulator, scheme, potentials),
        _ => add_walls(&mut accumulator, scheme, potentials),
    }
    accumulator.finish()
}

fn add_walls(accumulator: &mut Accumulator, scheme: &CellScheme, potentials: &[Vec<f64>]) {
    let grid = accumulator.grid;
    let cells = grid.cell_dims();
    let mut difference = vec![0.0; potentials.len()];
    let mut pairs = Vec::new();
    products(&difference, &mut pairs);
    let mut sums = WallSums::new(grid, pairs.len());
    for wall in &scheme.open_walls {
        let cell = wall.node as usize;
        for (slot, x) in difference.iter_mut().zip(potentials) {
            *slot = x[cell];
        }
        products(&difference, &mut pairs);
        pairs.iter_mut().for_each(|p| *p *= wall.conductance);
        let (axis, side) = (usize::from(wall.axis), usize::from(wall.side));
        let index = unflatten(cell, cells);
        let resistance = CellExtent::of(grid, index).resistance(axis);
        let half = [resistance.low, resistance.high][side]
            / grid.permittivity[usize::from(grid.material[cell])];
        let face = WallFace {
            axis,
            side,
            index,
            half_share: half * wall.conductance,
        };
        sums.add(accumulator, &face, &pairs);
    }
    sums.put_into(accumulator);
}

/// The same about an axis, where areas and distances have other formulas.
fn add_walls_by_difference(
    accumulator: &mut Accumulator,
    scheme: &CellScheme,
    potentials: &[Vec<f64>],
) {
    let mut difference = vec![0.0; potentials.len()];
    let mut pairs = Vec::new();
    let energies: Vec<Vec<f64>> = scheme
        .open_walls
        .iter()
        .map(|wall| {
            for (slot, x) in difference.iter_mut().zip(potentials) {
                *slot = x[wall.node as usize];
            }
            products(&difference, &mut pairs);
            pairs.clone()
        })
        .collect();
    let cells = accumulator.grid.cell_dims();
    let conductances = |grid: &Grid| {
        let faces = CellFaces::new(grid);
        let mut found = Vec::with_capacity(energies.len());
        for wall in &scheme.open_walls {
            let place = unflatten(wall.node as usize, cells);
            faces.visit(place, usize::from(wall.axis), &mut |item| {
                if let Conductance::Source {
                    source,
                    origin: Origin::OpenWall,
                } = item
                    && source.side == wall.side
                {
                    found.push(source.conductance);
                }
            });
        }
        found
    };
    accumulator.add_differences(conductances, &energies);
}

/// Gives `out` the conductances that have a formula of their own, by the cells and axes they are found at.
fn each_special(grid: &Grid, special: &[(u32, u8)], out: &mut impl FnMut(Conductance)) {
    let cells = grid.cell_dims();
    let faces = CellFaces::new(grid);
    for &(cell, axis) in special {
        let place = unflatten(cell as usize, cells);
        faces.visit(place, usize::from(axis), &mut |item| {
            if item.has_formula_of_its_own() {
                out(item);
            }
        });
    }
}
