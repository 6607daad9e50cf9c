//! Fluxes of a chamber: their energies from below, K and what L has more, as sums of terms.
//!
//! Fluxes that balance in every cell balance in any design, so that any combination of them has an energy that is a lower
//! bound for every design, if it is taken with the resistances of that design.

use super::super::cell_faces::{CellFaces, Conductance, Origin};
use super::super::cell_scheme::CellScheme;
use super::super::coefficients::CellExtent;
use super::factors::{BlockTerms, Blocks, Interpolated};
use super::gram::{Grams, row_of};
use crate::grid::{FREE, Grid, unflatten};
use ndarray::Array2;

/// Where the fluxes of a chamber are kept: through the high face of every cell along each axis, then into conductors and
/// walls.
pub(super) struct FluxPlaces {
    cells: usize,
    /// Cell, axis and side of every flux into a conductor or wall, sorted by cell.
    sources: Vec<(u32, u8, u8)>,
    /// First source of every cell, and the end.
    first: Vec<u32>,
    /// What is no half cell.
    extras: Vec<Extra>,
    /// Faces that count in the extras alone, sorted.
    cut_faces: Vec<(u32, u8, u8)>,
    /// Cells in which the energy of the flux between the faces is known.
    exact: Vec<bool>,
    /// Cells that are no conductor.
    free: Vec<bool>,
}

/// A resistance that is no half cell: where a surface cuts, and beyond the open wall.
struct Extra {
    index: [usize; 3],
    axis: usize,
    /// Which of those that are found there.
    turn: usize,
    /// Where its flux is kept.
    place: usize,
    /// Side of the open wall; none where a surface cuts.
    wall: Option<usize>,
}

impl FluxPlaces {
    /// Of the grid of the reference.
    pub fn of(grid: &Grid, scheme: &CellScheme) -> Self {
        let cells = grid.cells();
        let faces = CellFaces::new(grid);
        let mut extras = Vec::new();
        // Sources in the order in which the scheme has found them, which then sorts them.
        let mut found = Vec::new();
        for axis in 0..3 {
            let (mut last, mut turn) = (usize::MAX, 0);
            faces.visit_all(axis, &mut |cell, item| {
                turn = if cell == last { turn + 1 } else { 0 };
                last = cell;
                let is_wall = item.origin() == Origin::OpenWall;
                let conductance = match item {
                    Conductance::Link { conductance, .. } => conductance,
                    Conductance::Source { source, .. } => source.conductance,
                };
                // Through what is covered as a whole nothing flows.
                let is_extra = (item.is_cut() || is_wall) && conductance > 0.0;
                let extra = is_extra.then_some(extras.len());
                let mut place = axis * cells + cell;
                let mut wall = None;
                if let Conductance::Source { source, .. } = item {
                    let key = (source.node, source.axis, source.side, source.conductor);
                    found.push((key, extra));
                    wall = is_wall.then_some(usize::from(source.side));
                    place = usize::MAX;
                }
                if extra.is_some() {
                    extras.push(Extra {
                        index: unflatten(cell, grid.cell_dims()),
                        axis,
                        turn,
                        place,
                        wall,
                    });
                }
            });
        }
        found.sort_by_key(|(key, _)| *key);
        for (number, (_, extra)) in found.iter().enumerate() {
            if let Some(extra) = extra {
                extras[*extra].place = 3 * cells + number;
            }
        }
        let sources: Vec<(u32, u8, u8)> =
            found.iter().map(|(key, _)| (key.0, key.1, key.2)).collect();
        let first =
            (0..=cells).map(|cell| sources.partition_point(|s| (s.0 as usize) < cell) as u32);
        let free: Vec<bool> = grid.cell_conductor.iter().map(|&c| c == FREE).collect();
        let touched = |cell: usize| scheme.touched.get(cell).is_some_and(|t| *t);
        Self {
            cells,
            first: first.collect(),
            exact: free
                .iter()
                .enumerate()
                .map(|(cell, free)| *free && !touched(cell))
                .collect(),
            free,
            cut_faces: scheme.cut_faces.clone(),
            sources,
            extras,
        }
    }

    /// How many fluxes are kept.
    pub fn len(&self) -> usize {
        3 * self.cells + self.sources.len()
    }

    /// Fluxes of complete cell potentials with conductor `driven` at 1.
    pub fn fluxes(&self, grid: &Grid, scheme: &CellScheme, x: &[f64], driven: u16) -> Vec<f64> {
        let dims = grid.cell_dims();
        let strides = [1, dims[0], dims[0] * dims[1]];
        let mut fluxes = Vec::with_capacity(self.len());
        for (link, stride) in scheme.system.network.link.iter().zip(strides) {
            let ahead = x[stride..].iter().chain(std::iter::repeat(&0.0));
            let links = link.iter().zip(x.iter().zip(ahead));
            fluxes.extend(links.map(|(&link, (here, ahead))| f64::from(link) * (here - ahead)));
        }
        fluxes.extend(scheme.system.sources.iter().map(|source| {
            let far = super::super::system::potential(source.conductor, driven);
            f64::from(source.conductance as f32) * (x[source.node as usize] - far)
        }));
        fluxes
    }

    /// Resistances of the extras on a grid of the chamber [1/m].
    pub fn resistances(&self, grid: &Grid) -> Vec<f64> {
        (0..self.extras.len())
            .map(|at| self.resistance(grid, at))
            .collect()
    }

    /// Resistance of one of the extras [1/m].
    pub fn resistance(&self, grid: &Grid, at: usize) -> f64 {
        let extra = &self.extras[at];
        let mut turn = 0;
        let mut resistance = f64::INFINITY;
        CellFaces::new(grid).visit(extra.index, extra.axis, &mut |item| {
            if turn == extra.turn {
                resistance = 1.0
                    / match item {
                        Conductance::Link { conductance, .. } => conductance,
                        Conductance::Source { source, .. } => source.conductance,
                    };
            }
            turn += 1;
        });
        let Some(side) = extra.wall else {
            return resistance;
        };
        let eps = grid.permittivity[usize::from(grid.material_at(extra.index))];
        let half = CellExtent::of(grid, extra.index).resistance(extra.axis);
        resistance - [half.low, half.high][side] / eps
    }

    /// Charges on a conductor that vectors of fluxes, `[place][vector]`, bring.
    pub fn charges(
        &self,
        grid: &Grid,
        scheme: &CellScheme,
        vectors: &Array2<f64>,
        conductor: u16,
    ) -> Vec<f64> {
        let dims = grid.cell_dims();
        let strides = [1, dims[0], dims[0] * dims[1]];
        let mut charges = vec![0.0; vectors.ncols()];
        let mut take = |place: usize, sign: f64| {
            for (charge, flux) in charges.iter_mut().zip(row_of(vectors, place)) {
                *charge += sign * flux;
            }
        };
        for axis in 0..3 {
            let ahead = grid.cell_conductor.iter().skip(strides[axis]);
            for (cell, (&here, &ahead)) in grid.cell_conductor.iter().zip(ahead).enumerate() {
                match (here, ahead) {
                    (FREE, ahead) if ahead == conductor => take(axis * self.cells + cell, -1.0),
                    (here, FREE) if here == conductor => take(axis * self.cells + cell, 1.0),
                    _ => {}
                }
            }
        }
        for (number, source) in scheme.system.sources.iter().enumerate() {
            if source.conductor == conductor {
                take(3 * self.cells + number, -1.0);
            }
        }
        charges
    }

    /// Sum over the cells of what does not balance, of every vector.
    pub fn imbalances(&self, grid: &Grid, vectors: &Array2<f64>) -> Vec<f64> {
        let mut sums = vec![0.0; vectors.ncols()];
        let mut net = vec![0.0; vectors.ncols()];
        let free = (0..self.cells).filter(|&cell| self.free[cell]);
        for cell in free {
            net.fill(0.0);
            for axis in 0..3 {
                for side in 0..2 {
                    self.add_outflow(grid, vectors, cell, axis, side, 1.0, &mut net);
                }
            }
            for (sum, net) in sums.iter_mut().zip(&net) {
                *sum += net.abs();
            }
        }
        sums
    }

    /// Adds what flows out of a cell through a face of it.
    #[inline]
    #[allow(clippy::too_many_arguments)]
    fn add_outflow(
        &self,
        grid: &Grid,
        vectors: &Array2<f64>,
        cell: usize,
        axis: usize,
        side: usize,
        scale: f64,
        out: &mut [f64],
    ) {
        let dims = grid.cell_dims();
        let stride = [1, dims[0], dims[0] * dims[1]][axis];
        let at = unflatten(cell, dims)[axis];
        let mut add = |place: usize, scale: f64| {
            for (sum, flux) in out.iter_mut().zip(row_of(vectors, place)) {
                *sum += scale * flux;
            }
        };
        match side {
            0 if at > 0 => add(axis * self.cells + cell - stride, -scale),
            1 if at + 1 < dims[axis] => add(axis * self.cells + cell, scale),
            _ => {}
        }
        let [first, end] = [self.first[cell], self.first[cell + 1]].map(|at| at as usize);
        for (number, source) in self.sources[first..end].iter().enumerate() {
            if (usize::from(source.1), usize::from(source.2)) == (axis, side) {
                add(3 * self.cells + first + number, scale);
            }
        }
    }
}

/// Which energy.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Lower {
    /// K: that of the half cells.
    Network,
    /// What L has more than K: the squares of what the fluxes of a cell change by.
    Gain,
}

/// Terms of an energy of vectors, `[place][vector]`: first those of blocks, then, of K, those of the interpolation.
pub(super) fn flux_terms(
    grid: &Grid,
    places: &FluxPlaces,
    vectors: &Array2<f64>,
    which: Lower,
    blocks: &Blocks,
    terms: &BlockTerms,
    interpolated: &Interpolated,
) -> Array2<f64> {
    let extras = match which {
        Lower::Network => interpolated.picks.len(),
        Lower::Gain => 0,
    };
    let mut grams = Grams::new(vectors.ncols(), terms.len() + extras);
    for block in 0..blocks.len() {
        for axis in 0..3 {
            let shares = terms.shares.row(3 * block + axis);
            grams.share(shares.iter().copied().enumerate());
            add_block(
                grid,
                places,
                vectors,
                which,
                blocks.nodes(block),
                axis,
                &mut grams,
            );
        }
    }
    for function in 0..extras {
        let basis = interpolated.basis.row(function).to_vec();
        add_extras(places, vectors, &basis, terms.len() + function, &mut grams);
    }
    grams.finish()
}

/// The energy K of vectors on one grid, packed.
pub(super) fn flux_products(
    grid: &Grid,
    places: &FluxPlaces,
    vectors: &Array2<f64>,
    blocks: &Blocks,
) -> Vec<f64> {
    let mut grams = Grams::new(vectors.ncols(), 1);
    for block in 0..blocks.len() {
        let [x, y, z] = blocks.nodes(block);
        let material = grid.material_at([x[0], y[0], z[0]]);
        grams.share([(0, 1.0 / grid.permittivity[usize::from(material)])]);
        for axis in 0..3 {
            add_block(
                grid,
                places,
                vectors,
                Lower::Network,
                [x, y, z],
                axis,
                &mut grams,
            );
        }
    }
    add_extras(places, vectors, &places.resistances(grid), 0, &mut grams);
    grams.finish().into_raw_vec_and_offset().0
}

/// Energies of the cells of a block along an axis, times permittivity.
fn add_block(
    grid: &Grid,
    places: &FluxPlaces,
    vectors: &Array2<f64>,
    which: Lower,
    [x, y, z]: [[usize; 2]; 3],
    axis: usize,
    grams: &mut Grams,
) {
    let cells = grid.cell_dims();
    for k in z[0]..z[1] {
        for j in y[0]..y[1] {
            for i in x[0]..x[1] {
                let cell = i + cells[0] * (j + cells[1] * k);
                let resistance = CellExtent::of(grid, [i, j, k]).resistance(axis);
                match which {
                    Lower::Network if places.free[cell] => {
                        for (side, half) in
                            [resistance.low, resistance.high].into_iter().enumerate()
                        {
                            let face = (cell as u32, axis as u8, side as u8);
                            if places.cut_faces.binary_search(&face).is_err() {
                                grams.add(|row| {
                                    row.fill(0.0);
                                    places.add_outflow(
                                        grid,
                                        vectors,
                                        cell,
                                        axis,
                                        side,
                                        half.sqrt(),
                                        row,
                                    );
                                });
                            }
                        }
                    }
                    Lower::Gain if places.exact[cell] => grams.add(|row| {
                        row.fill(0.0);
                        for side in 0..2 {
                            places.add_outflow(
                                grid,
                                vectors,
                                cell,
                                axis,
                                side,
                                resistance.cross.sqrt(),
                                row,
                            );
                        }
                    }),
                    _ => {}
                }
            }
        }
    }
}

/// Energies in resistances, which may be of either sign, in one term.
fn add_extras(
    places: &FluxPlaces,
    vectors: &Array2<f64>,
    resistances: &[f64],
    term: usize,
    grams: &mut Grams,
) {
    for sign in [1.0, -1.0] {
        grams.share([(term, sign)]);
        for (extra, resistance) in places.extras.iter().zip(resistances) {
            if sign * resistance > 0.0 {
                let root = resistance.abs().sqrt();
                grams.add(|row| {
                    for (value, flux) in row.iter_mut().zip(row_of(vectors, extra.place)) {
                        *value = root * flux;
                    }
                });
            }
        }
    }
}
