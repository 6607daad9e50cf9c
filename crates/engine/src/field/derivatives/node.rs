//! Derivatives of the node network.

use super::near::Near;
use super::walls::{WallFace, WallSums};
use super::{Accumulator, RowSums, Slopes, add_scaled, logarithmic_derivative, numbered, products};
use crate::case::Kind;
use crate::field::coefficients::CellExtent;
use crate::field::node_scheme::{cells_around, edge_cuts, open_faces, open_walls, wall_cuts};
use crate::field::pairs::Pairs;
use crate::field::screen::{ScreenFace, screen_faces};
use crate::field::system::potential;
use crate::grid::{Grid, unflatten};

/// Derivatives to the logarithm of every segment length and permittivity, from complete node potentials; `driven`
/// names the driven conductor of each, `rows` are the energies of the edges of all cells without cuts.
pub(crate) fn node_slopes(
    grid: &Grid,
    potentials: &[Vec<f64>],
    driven: &[u16],
    wanted: &Pairs,
    rows: &RowSums,
) -> Slopes {
    let drives = potentials.len();
    let (cells, nodes) = (grid.cell_dims(), grid.node_dims());
    let strides = [1, nodes[0], nodes[0] * nodes[1]];
    let mut accumulator = Accumulator::new(grid, wanted);
    let logarithmic = |extent: CellExtent, axis: usize, half: usize, moved: [f64; 2]| {
        logarithmic_derivative(extent.radius_m, moved, |r| {
            extent.between(r).edge_weights()[axis][half]
        })
    };
    rows.put_into(&mut accumulator, |cell, axis, half, moved| {
        logarithmic(CellExtent::of(grid, [cell, 0, 0]), axis, half, moved)
    });
    let mut difference = vec![0.0; drives];
    let mut pairs = Vec::new();
    // A cut beside a solid scales its link, whatever the coordinates: its cells count once more.
    for (axis, low, ratio) in wall_cuts(grid).take_while(|_| !grid.stop.asked()) {
        for (slot, x) in difference.iter_mut().zip(potentials) {
            *slot = x[low + strides[axis]] - x[low];
        }
        products(accumulator.pairs, &difference, &mut pairs);
        for cell in cells_around(grid, low, axis) {
            let index = unflatten(cell, cells);
            // Only heights about an axis tell the halves of a cell apart.
            let half = usize::from(unflatten(low, nodes)[0] > index[0]);
            let extent = CellExtent::of(grid, index);
            let eps = grid.permittivity[grid.material[cell] as usize];
            let weight = ratio * eps * extent.edge_weights()[axis][half];
            let part: Vec<f64> = pairs.iter().map(|p| weight * p).collect();
            accumulator.add_to_material(grid.material[cell], &part);
            accumulator.add(index, axis, &part, |moved| {
                logarithmic(extent, axis, half, moved)
            });
        }
    }
    let mut energies = Vec::new();
    let mut cells_of_links = Vec::new();
    for (axis, low, _) in edge_cuts(grid, &|_| true).take_while(|_| !grid.stop.asked()) {
        for (slot, x) in difference.iter_mut().zip(potentials) {
            *slot = x[low + strides[axis]] - x[low];
        }
        products(accumulator.pairs, &difference, &mut pairs);
        energies.push(pairs.clone());
        cells_of_links.push(unflatten(low, nodes));
    }
    let near = Near::of(grid, cells_of_links.into_iter());
    let edges = |grid: &Grid, wanted: &dyn Fn(usize) -> bool| {
        edge_cuts(grid, wanted).map(|(_, _, gain)| gain).collect()
    };
    accumulator.add_differences(edges, &numbered(energies), &near);
    match grid.kind {
        Kind::Axisymmetric => add_walls_by_difference(&mut accumulator, potentials),
        _ => add_walls(&mut accumulator, potentials),
    }
    add_screens(&mut accumulator, potentials, driven);
    accumulator.finish()
}

fn add_screens(accumulator: &mut Accumulator, potentials: &[Vec<f64>], driven: &[u16]) {
    let grid = accumulator.grid;
    let mut difference = vec![0.0; potentials.len()];
    let mut pairs = Vec::new();
    let mut energies = Vec::new();
    for face in screen_faces(grid) {
        for (node, conductance) in face.corner_conductances() {
            let sides = potentials.iter().zip(driven);
            for (slot, (x, &drive)) in difference.iter_mut().zip(sides) {
                *slot = x[node] - potential(face.conductor, drive);
            }
            products(accumulator.pairs, &difference, &mut pairs);
            if grid.kind == Kind::Axisymmetric {
                energies.push(pairs.clone());
                continue;
            }
            pairs.iter_mut().for_each(|p| *p *= conductance);
            accumulator.add_screen(&face, &pairs);
        }
    }
    let screens = |grid: &Grid, _: &dyn Fn(usize) -> bool| {
        let faces = screen_faces(grid);
        let corners = faces.iter().flat_map(ScreenFace::corner_conductances);
        corners.map(|(_, conductance)| conductance).collect()
    };
    accumulator.add_differences(screens, &numbered(energies), &[]);
}

fn add_walls(accumulator: &mut Accumulator, potentials: &[Vec<f64>]) {
    let grid = accumulator.grid;
    let mut difference = vec![0.0; potentials.len()];
    let mut pairs = Vec::new();
    products(accumulator.pairs, &difference, &mut pairs);
    let mut sums = WallSums::new(grid, pairs.len());
    let mut energies = vec![0.0; pairs.len()];
    open_faces(grid, &mut |face| {
        energies.fill(0.0);
        for &(node, conductance) in face.corners {
            for (slot, x) in difference.iter_mut().zip(potentials) {
                *slot = x[node];
            }
            products(accumulator.pairs, &difference, &mut pairs);
            add_scaled(&mut energies, conductance, &pairs);
        }
        let place = WallFace {
            axis: face.axis,
            side: face.side,
            index: face.index,
        };
        sums.add(accumulator, &place, &energies);
    });
    sums.put_into(accumulator);
}

/// The same about an axis, where areas and distances have other formulas.
fn add_walls_by_difference(accumulator: &mut Accumulator, potentials: &[Vec<f64>]) {
    let mut difference = vec![0.0; potentials.len()];
    let mut pairs = Vec::new();
    let mut energies = Vec::new();
    open_walls(accumulator.grid, &mut |node, _, _| {
        for (slot, x) in difference.iter_mut().zip(potentials) {
            *slot = x[node];
        }
        products(accumulator.pairs, &difference, &mut pairs);
        energies.push(pairs.clone());
    });
    let walls = |grid: &Grid, _: &dyn Fn(usize) -> bool| {
        let mut conductances = Vec::new();
        open_walls(grid, &mut |_, conductance, _| {
            conductances.push(conductance)
        });
        conductances
    };
    accumulator.add_differences(walls, &numbered(energies), &[]);
}
