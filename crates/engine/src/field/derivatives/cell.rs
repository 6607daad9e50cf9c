//! Derivatives of the cell network.
//!
//! A flux f through a half cell of resistance R has the energy R f^2, and by what R grows the
//! capacitance falls. What a surface cuts is differentiated as it stands.

use super::near::Near;
use super::walls::{WallFace, WallSums};
use super::{Accumulator, RowSums, Slopes, logarithmic_derivative, numbered, products};
use crate::case::Kind;
use crate::field::cell_faces::{CellFaces, Conductance, Origin};
use crate::field::cell_scheme::CellScheme;
use crate::field::coefficients::CellExtent;
use crate::field::pairs::Pairs;
use crate::field::screen::{ScreenFace, screen_faces};
use crate::field::system::{Source, potential};
use crate::grid::{Grid, unflatten};

/// Derivatives to the logarithm of every segment length and permittivity, from complete cell potentials; `driven`
/// names the driven conductor of each, `rows` are the energies of all half cells but those at faces that a
/// surface cuts.
pub(crate) fn cell_slopes(
    grid: &Grid,
    scheme: &CellScheme,
    potentials: &[Vec<f64>],
    driven: &[u16],
    wanted: &Pairs,
    rows: &RowSums,
) -> Slopes {
    let mut accumulator = Accumulator::new(grid, wanted);
    rows.put_into(&mut accumulator, |cell, axis, half, moved| {
        let extent = CellExtent::of(grid, [cell, 0, 0]);
        let of_half = |extent: CellExtent| {
            let resistance = extent.resistance(axis);
            [resistance.low, resistance.high][half]
        };
        -logarithmic_derivative(extent.radius_m, moved, |r| of_half(extent.between(r)))
    });
    add_cuts(&mut accumulator, scheme, potentials, driven);
    add_walls(&mut accumulator, scheme, potentials);
    add_screens(&mut accumulator, potentials, driven);
    accumulator.finish()
}

/// What the surface of a shape changes, differentiated as it stands.
fn add_cuts(
    accumulator: &mut Accumulator,
    scheme: &CellScheme,
    potentials: &[Vec<f64>],
    driven: &[u16],
) {
    let grid = accumulator.grid;
    let cells = grid.cell_dims();
    let strides = [1, cells[0], cells[0] * cells[1]];
    let mut energies: Vec<(usize, Vec<f64>)> = Vec::new();
    let mut difference = vec![0.0; potentials.len()];
    let mut pairs = Vec::new();
    each_cut(grid, &scheme.cuts, &|_| true, &mut |number, item| {
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
        products(accumulator.pairs, &difference, &mut pairs);
        energies.push((number, pairs.clone()));
    });
    let places = scheme.cuts.iter();
    let places = places.map(|&(cell, _)| unflatten(cell as usize, cells));
    let near = Near::of(grid, places);
    let conductances = |grid: &Grid, wanted: &dyn Fn(usize) -> bool| {
        let mut found = Vec::new();
        each_cut(grid, &scheme.cuts, wanted, &mut |_, item| {
            found.push(match item {
                Conductance::Link { conductance, .. } => conductance,
                Conductance::Source { source, .. } => source.conductance,
            });
        });
        found
    };
    accumulator.add_differences(conductances, &energies, &near);
}

/// Gives `out` the conductances that a surface changes, by the cells and axes they are found at, with the numbers of
/// these: those that are wanted.
fn each_cut(
    grid: &Grid,
    cuts: &[(u32, u8)],
    wanted: &dyn Fn(usize) -> bool,
    out: &mut impl FnMut(usize, Conductance),
) {
    if cuts.is_empty() {
        return;
    }
    let cells = grid.cell_dims();
    let faces = CellFaces::new(grid);
    let all = cuts.iter().enumerate().take_while(|_| !grid.stop.asked());
    for (number, &(cell, axis)) in all.filter(|(number, _)| wanted(*number)) {
        let place = unflatten(cell as usize, cells);
        faces.visit(place, usize::from(axis), &mut |item| {
            if item.is_cut() {
                out(number, item);
            }
        });
    }
}

/// Resistance of the half of a cell that lies before its face on one side of an axis \[1/m\].
fn half_cell(grid: &Grid, cell: usize, axis: usize, side: usize) -> f64 {
    let index = unflatten(cell, grid.cell_dims());
    let resistance = CellExtent::of(grid, index).resistance(axis);
    [resistance.low, resistance.high][side] / grid.permittivity[usize::from(grid.material[cell])]
}

/// What lies behind the half cells at open walls.
fn add_walls(accumulator: &mut Accumulator, scheme: &CellScheme, potentials: &[Vec<f64>]) {
    let grid = accumulator.grid;
    let mut flux = vec![0.0; potentials.len()];
    let mut pairs = Vec::new();
    products(accumulator.pairs, &flux, &mut pairs);
    let mut sums = WallSums::new(grid, pairs.len());
    let outside = |grid: &Grid, wall: &Source, conductance: f64| {
        let (axis, side) = (usize::from(wall.axis), usize::from(wall.side));
        1.0 / conductance - half_cell(grid, wall.node as usize, axis, side)
    };
    let mut energies = Vec::new();
    for wall in scheme.open_walls.iter().take_while(|_| !grid.stop.asked()) {
        for (slot, x) in flux.iter_mut().zip(potentials) {
            *slot = wall.conductance * x[wall.node as usize];
        }
        products(accumulator.pairs, &flux, &mut pairs);
        let outside = outside(grid, wall, wall.conductance);
        if grid.kind == Kind::Axisymmetric {
            energies.push(pairs.iter().map(|p| p * outside * outside).collect());
            continue;
        }
        pairs.iter_mut().for_each(|p| *p *= outside);
        let face = WallFace {
            axis: usize::from(wall.axis),
            side: usize::from(wall.side),
            index: unflatten(wall.node as usize, grid.cell_dims()),
        };
        sums.add(accumulator, &face, &pairs);
    }
    sums.put_into(accumulator);
    let conductances = |grid: &Grid, _: &dyn Fn(usize) -> bool| {
        let faces = CellFaces::new(grid);
        let mut found = Vec::with_capacity(scheme.open_walls.len());
        for wall in &scheme.open_walls {
            let place = unflatten(wall.node as usize, grid.cell_dims());
            faces.visit(place, usize::from(wall.axis), &mut |item| {
                if let Conductance::Source { source, .. } = item
                    && item.origin() == Origin::OpenWall
                    && source.side == wall.side
                {
                    found.push(1.0 / outside(grid, wall, source.conductance));
                }
            });
        }
        found
    };
    accumulator.add_differences(conductances, &numbered(energies), &[]);
}

/// What screens conduct, apart from the half cells on both sides.
fn add_screens(accumulator: &mut Accumulator, potentials: &[Vec<f64>], driven: &[u16]) {
    let grid = accumulator.grid;
    let axis = grid.dimensions() - 1;
    let mut charge = vec![0.0; potentials.len()];
    let mut pairs = Vec::new();
    let mut energies: Vec<Vec<f64>> = Vec::new();
    for face in whole_screens(grid) {
        let leak = face.conductance();
        // Conductances of the half cells, on the low and on the high side.
        let inner = [1, 0].map(|side| {
            let cell = face.cells[1 - side]?;
            Some((cell, 1.0 / half_cell(grid, cell, axis, side)))
        });
        let sum: f64 = leak + inner.iter().flatten().map(|half| half.1).sum::<f64>();
        for (charge, (x, &drive)) in charge.iter_mut().zip(potentials.iter().zip(driven)) {
            let v = potential(face.conductor, drive);
            let halves = inner.iter().flatten();
            let flux: f64 = halves.map(|&(cell, half)| half * (x[cell] - v)).sum();
            *charge = leak * flux / sum;
        }
        products(accumulator.pairs, &charge, &mut pairs);
        if grid.kind == Kind::Axisymmetric {
            energies.push(pairs.iter().map(|p| p / (leak * leak)).collect());
            continue;
        }
        pairs.iter_mut().for_each(|p| *p /= leak);
        accumulator.add_screen(&face, &pairs);
    }
    let conductances = |grid: &Grid, _: &dyn Fn(usize) -> bool| {
        let faces = whole_screens(grid);
        faces.iter().map(ScreenFace::conductance).collect()
    };
    accumulator.add_differences(conductances, &numbered(energies), &[]);
}

/// The faces of screens that no conductor covers in part, in order.
fn whole_screens(grid: &Grid) -> Vec<ScreenFace> {
    let mut faces = screen_faces(grid);
    faces.retain(|face| face.is_whole);
    faces
}
