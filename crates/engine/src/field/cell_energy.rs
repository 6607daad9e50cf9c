//! Energies from below: the lumped energy of the cell network (K) and its flux bound (L).
//!
//! The face fluxes of the network balance in every cell; their exact lowest-order Raviart-Thomas
//! energy W gives the bound L = 2 K - W, which is never above the true value (Thomson's principle)
//! and never below K. Lumped minus exact energy of a cell is h/(6 A eps) (flux in - flux out)^2 per
//! direction, so L = K + the sum of that.

use super::cell_scheme::CellScheme;
use super::coefficients::CellExtent;
use super::derivatives::{RowParts, RowSums};
use super::pairs::{Pairs, dot, in_slabs, material_runs, mirror, sum, sum_runs, total};
use super::system::{Source, potential};
use crate::grid::{Grid, unflatten};
use crate::multigrid::dispatched;
use crate::stop::Stop;
use ndarray::Array2;
use rayon::prelude::*;
use std::ops::Range;

/// Energy matrices from below, over vacuum permittivity [m] ([1] in the plane).
pub(crate) struct CellEnergies {
    /// K.
    pub cell: Array2<f64>,
    /// L, for fluxes that balance; see `imbalance`.
    pub flux: Array2<f64>,
    /// K by material.
    pub material: Vec<Array2<f64>>,
    /// Sum over cells of |net flux|, per drive: what an unfinished iteration takes off L, times 2.
    pub imbalance: Vec<f64>,
}

impl CellScheme {
    /// Energy matrices of complete cell potentials, one vector per drive, 0 where a pair is not wanted; `drives` names the
    /// driven conductor of each. Adds to `sums` the energies of the half cells, those at faces
    /// that a surface cuts left out.
    pub fn energies(
        &self,
        grid: &Grid,
        potentials: &[Vec<f64>],
        drives: &[u16],
        pairs: &Pairs,
        mut sums: Option<&mut RowSums>,
    ) -> CellEnergies {
        let count = drives.len();
        let dims = grid.cell_dims();
        let strides = [1, dims[0], dims[0] * dims[1]];
        let mut material = vec![Array2::zeros((count, count)); grid.permittivity.len()];
        let mut gain: Array2<f64> = Array2::zeros((count, count));
        let mut imbalance = vec![0.0; count];
        let wants_rows = sums.is_some();
        for slab in in_slabs(dims[1] * dims[2], |rows| {
            self.slab(grid, (potentials, drives), pairs, rows, wants_rows)
        }) {
            for (sum, part) in material.iter_mut().zip(&slab.material) {
                *sum += part;
            }
            gain += &slab.gain;
            for (sum, part) in imbalance.iter_mut().zip(&slab.imbalance) {
                *sum += part;
            }
            if let (Some(sums), Some(rows)) = (&mut sums, &slab.rows) {
                sums.join(rows);
            }
        }
        self.add_screens(grid, (potentials, drives), pairs, &mut material);
        material.iter_mut().for_each(mirror);
        mirror(&mut gain);
        let mut cell = total(&material);
        if grid.has_shapes {
            let sum = cell.clone();
            self.network_energy(grid.stop, (potentials, drives), pairs, strides, &mut cell);
            scale(&mut material, &sum, &cell);
        }
        CellEnergies {
            flux: &cell + &gain,
            cell,
            material,
            imbalance,
        }
    }

    /// Sums up rows of cells, which run along axis 0.
    fn slab(
        &self,
        grid: &Grid,
        (potentials, drives): (&[Vec<f64>], &[u16]),
        pairs: &Pairs,
        rows_of_slab: Range<usize>,
        wants_rows: bool,
    ) -> Slab {
        let count = drives.len();
        let dims = grid.cell_dims();
        let n0 = dims[0];
        let dimensions = grid.dimensions();
        let strides = [1, n0, n0 * dims[1]];
        let mut slab = Slab {
            material: vec![Array2::zeros((count, count)); grid.permittivity.len()],
            gain: Array2::zeros((count, count)),
            imbalance: vec![0.0; count],
            rows: wants_rows.then(|| RowSums::new(grid, pairs)),
        };
        let mut rows = vec![FluxRow::new(n0); count];
        let mut cells = CellRow::new(n0);
        let mut over = vec![0.0; n0];
        let mut runs = Vec::new();
        let mut parts = RowParts::new(grid);
        let start = n0 * rows_of_slab.start;
        let mut sources = &self.system.sources[..];
        taken(&mut sources, |source| (source.node as usize) < start);
        let mut cut_faces = &self.cut_faces[..];
        taken(&mut cut_faces, |face| (face.0 as usize) < start);
        for row_of_grid in rows_of_slab.take_while(|_| !grid.stop.asked()) {
            let place = [row_of_grid % dims[1], row_of_grid / dims[1]];
            let at = n0 * row_of_grid;
            let row_materials = &grid.material[at..at + n0];
            material_runs(row_materials, &mut runs);
            cells.fill(self, grid, place, at);
            for (row, x) in rows.iter_mut().zip(potentials) {
                row.links(x, &self.system.network, at, strides, dimensions);
            }
            let of_row = SourceRow {
                sources: taken(&mut sources, |source| (source.node as usize) < at + n0),
                at,
                cells: &cells,
                materials: row_materials,
            };
            of_row.add((potentials, drives), pairs, &mut rows, &mut slab.material);
            let faces = taken(&mut cut_faces, |face| (face.0 as usize) < at + n0);
            for (imbalance, row) in slab.imbalance.iter_mut().zip(&rows) {
                *imbalance += row.imbalance(&cells, &mut over, dimensions);
            }
            for (pair, &(a, b)) in pairs.wanted().iter().enumerate() {
                let (both, at_pair) = ([&rows[a], &rows[b]], [a, b]);
                row_energies(both, &cells, &mut parts, &mut over, dimensions);
                slab.gain[at_pair] += sum(&over);
                for part in parts.each() {
                    sum_runs(part, &runs, |m, sum| slab.material[m][at_pair] += sum);
                }
                if let Some(sums) = &mut slab.rows {
                    leave_out(faces, at, both, &cells, &mut parts);
                    sums.add(pair, place, &parts, &runs);
                }
            }
        }
        slab
    }

    /// Adds the energy of screens, (sum of the fluxes from both sides)^2 over the conductance, to the
    /// materials on both sides in the parts that are theirs.
    fn add_screens(
        &self,
        grid: &Grid,
        (potentials, drives): (&[Vec<f64>], &[u16]),
        pairs: &Pairs,
        material: &mut [Array2<f64>],
    ) {
        let axis = grid.dimensions() - 1;
        let dims = grid.cell_dims();
        let mut charge = vec![0.0; drives.len()];
        for face in self.screens.iter().take_while(|_| !grid.stop.asked()) {
            let leak = face.conductance();
            let [Some(low), Some(high)] = face.cells else {
                continue;
            };
            let inner = |cell: usize, high_side: bool| {
                let resistance = CellExtent::of(grid, unflatten(cell, dims)).resistance(axis);
                let eps = grid.permittivity[grid.material[cell] as usize];
                eps / if high_side {
                    resistance.high
                } else {
                    resistance.low
                }
            };
            // Potential of the middle of the star, and what flows from there to the conductor.
            let (below, above) = (inner(low, true), inner(high, false));
            for (charge, (x, &drive)) in charge.iter_mut().zip(potentials.iter().zip(drives)) {
                let v = potential(face.conductor, drive);
                let flux = below * (x[low] - v) + above * (x[high] - v);
                *charge = leak * flux / (below + above + leak);
            }
            let parts = face.material_parts();
            for &(a, b) in pairs.wanted() {
                let energy = charge[a] * charge[b] / leak;
                for (part, at) in parts.into_iter().zip(face.materials) {
                    material[usize::from(at)][[a, b]] += part * energy;
                }
            }
        }
    }

    /// Energy by links and sources: what remains valid where cuts change resistances.
    fn network_energy(
        &self,
        stop: Stop,
        (potentials, drives): (&[Vec<f64>], &[u16]),
        pairs: &Pairs,
        strides: [usize; 3],
        out: &mut Array2<f64>,
    ) {
        // The sum of conductance x difference x difference is that of potential x outflow, less what the
        // conductors at the far ends of the sources take of it: one pass over the links per drive.
        let of_drive = |outflow: &mut Vec<f64>, b: usize| {
            if stop.asked() {
                return Vec::new();
            }
            self.outflow(&potentials[b], drives[b], strides, outflow);
            let with_b = pairs.wanted().iter().filter(|pair| pair.1 == b);
            let energy = |&(a, _): &(usize, usize)| {
                let mut sum = dot(&potentials[a], outflow);
                for s in &self.system.sources {
                    let far = potential(s.conductor, drives[a]);
                    if far != 0.0 {
                        sum -= far * source_flux(s, &potentials[b], drives[b]);
                    }
                }
                (a, sum)
            };
            with_b.map(energy).collect::<Vec<_>>()
        };
        let of_drives = (0..drives.len()).into_par_iter();
        let room = || vec![0.0; self.system.network.len()];
        let sums: Vec<_> = of_drives.map_init(room, of_drive).collect();
        for (b, sums) in sums.into_iter().enumerate() {
            for (a, sum) in sums {
                out[[a, b]] = sum;
                out[[b, a]] = sum;
            }
        }
    }

    /// What flows out of every cell through links and sources.
    fn outflow(&self, x: &[f64], drive: u16, strides: [usize; 3], out: &mut [f64]) {
        out.fill(0.0);
        for (link, stride) in self.system.network.link.iter().zip(strides) {
            let last = link.len().saturating_sub(stride);
            let links = (&link[..last], &x[..last], &x[x.len() - last..]);
            add_fluxes(links, -1.0, &mut out[x.len() - last..]);
            add_fluxes(links, 1.0, &mut out[..last]);
        }
        for source in &self.system.sources {
            out[source.node as usize] += source_flux(source, x, drive);
        }
    }
}

/// What some rows sum up to.
struct Slab {
    material: Vec<Array2<f64>>,
    gain: Array2<f64>,
    imbalance: Vec<f64>,
    rows: Option<RowSums>,
}

/// Adds `sign` times what flows through links between potentials near and far.
#[inline(always)]
fn add_fluxes_body((link, near, far): (&[f32], &[f64], &[f64]), sign: f64, out: &mut [f64]) {
    let links = link.iter().zip(near.iter().zip(far));
    for (out, (&link, (near, far))) in out.iter_mut().zip(links) {
        *out += sign * (f64::from(link) * (near - far));
    }
}
dispatched!(fn add_fluxes, add_fluxes_body, add_fluxes_wide(links: (&[f32], &[f64], &[f64]), sign: f64, out: &mut [f64]));

/// Fills `out` with what flows from here through links to what is beyond; a shorter list leaves the rest.
#[inline(always)]
fn fluxes_body((link, here, beyond): (&[f32], &[f64], &[f64]), out: &mut [f64]) {
    let links = link.iter().zip(here.iter().zip(beyond));
    for (out, (&link, (here, beyond))) in out.iter_mut().zip(links) {
        *out = f64::from(link) * (here - beyond);
    }
}
dispatched!(fn fluxes, fluxes_body, fluxes_wide(links: (&[f32], &[f64], &[f64]), out: &mut [f64]));

/// What a source takes out of its cell.
fn source_flux(source: &Source, x: &[f64], drive: u16) -> f64 {
    let far = potential(source.conductor, drive);
    f64::from(source.conductance as f32) * (x[source.node as usize] - far)
}

/// Scales parts whose sum is `from` so that it is `to`.
fn scale(parts: &mut [Array2<f64>], from: &Array2<f64>, to: &Array2<f64>) {
    for part in parts {
        ndarray::Zip::from(part)
            .and(to)
            .and(from)
            .for_each(|part, &to, &from| {
                if from != 0.0 {
                    *part *= to / from;
                }
            });
    }
}

/// Takes from the front of a list in the order of the cells what belongs to a row, or to those before it.
fn taken<'l, T>(list: &mut &'l [T], is_of_row: impl Fn(&T) -> bool) -> &'l [T] {
    let count = list.partition_point(is_of_row);
    let (taken, left) = list.split_at(count);
    *list = left;
    taken
}

/// The sources of a row of cells that begins at cell `at`.
struct SourceRow<'r> {
    sources: &'r [Source],
    at: usize,
    cells: &'r CellRow,
    materials: &'r [u16],
}

impl SourceRow<'_> {
    /// Adds their fluxes to those of the cells, one row per drive, and to the materials the energy of what lies
    /// outside the cells.
    fn add(
        &self,
        (potentials, drives): (&[Vec<f64>], &[u16]),
        pairs: &Pairs,
        rows: &mut [FluxRow],
        material: &mut [Array2<f64>],
    ) {
        for source in self.sources {
            let node = source.node as usize;
            let i = node - self.at;
            let (axis, side) = (source.axis as usize, source.side as usize);
            let inner = self.cells.half[axis][side][i];
            let g = f64::from(source.conductance as f32);
            let flux = |drive: usize| {
                g * (potentials[drive][node] - potential(source.conductor, drives[drive]))
            };
            for (drive, row) in rows.iter_mut().enumerate() {
                row.add(axis, side, i, flux(drive));
            }
            if source.shared {
                continue;
            }
            for &(a, b) in pairs.wanted() {
                // The part of the path that lies outside the cell: an open wall.
                let at = self.materials[i] as usize;
                material[at][[a, b]] += flux(a) * flux(b) * (1.0 / g - inner);
            }
        }
    }
}

/// Takes the half cells at `faces` out of the energies of a row that begins at cell `at`.
fn leave_out(
    faces: &[(u32, u8, u8)],
    at: usize,
    [a, b]: [&FluxRow; 2],
    cells: &CellRow,
    parts: &mut RowParts,
) {
    for &(cell, axis, side) in faces {
        let i = cell as usize - at;
        let (axis, side) = (usize::from(axis), usize::from(side));
        let face = |row: &FluxRow| row.face[axis][side][i];
        parts.of(axis, side)[i] -= cells.free[i] * cells.half[axis][side][i] * face(a) * face(b);
    }
}

/// Fluxes out of one row of cells through the low and high face of each axis.
#[derive(Clone)]
struct FluxRow {
    face: [[Vec<f64>; 2]; 3],
}

impl FluxRow {
    fn new(n: usize) -> Self {
        Self {
            face: [0, 1, 2].map(|_| [vec![0.0; n], vec![0.0; n]]),
        }
    }

    fn links(
        &mut self,
        x: &[f64],
        network: &crate::multigrid::Network,
        at: usize,
        strides: [usize; 3],
        dimensions: usize,
    ) {
        let n = self.face[0][0].len();
        for d in 0..dimensions {
            let s = strides[d];
            let [low, high] = &mut self.face[d];
            let link = &network.link[d];
            let here = &x[at..at + n];
            // Nodes at either end of an axis have no link there: the link of the last is 0, and what lies
            // beyond the array is left out.
            high.fill(0.0);
            let ahead = x.get(at + s..).unwrap_or(&[]);
            fluxes(
                (&link[at..at + n], here, &ahead[..n.min(ahead.len())]),
                high,
            );
            let missing = s.saturating_sub(at).min(n);
            low[..missing].fill(0.0);
            let before = (at + missing).saturating_sub(s);
            let behind = (&link[before..], &here[missing..], &x[before..]);
            fluxes(behind, &mut low[missing..]);
        }
    }

    fn add(&mut self, axis: usize, side: usize, i: usize, flux: f64) {
        self.face[axis][side][i] += flux;
    }

    /// Sum of the sizes of the net fluxes of free cells.
    fn imbalance(&self, cells: &CellRow, over: &mut [f64], dimensions: usize) -> f64 {
        imbalance(self, cells, over, dimensions);
        over.iter().sum()
    }
}

/// Fills `over` with the sizes of the net fluxes of cells, 0 inside conductors.
#[inline(always)]
fn imbalance_body(row: &FluxRow, cells: &CellRow, over: &mut [f64], dimensions: usize) {
    let n = over.len();
    over.fill(0.0);
    for [low, high] in &row.face[..dimensions] {
        let (low, high) = (&low[..n], &high[..n]);
        for (i, over) in over.iter_mut().enumerate() {
            *over += low[i] + high[i];
        }
    }
    for (over, free) in over.iter_mut().zip(&cells.free) {
        *over = free * over.abs();
    }
}
dispatched!(fn imbalance, imbalance_body, imbalance_wide(row: &FluxRow, cells: &CellRow, over: &mut [f64], dimensions: usize));

/// Resistances of one row of cells.
struct CellRow {
    half: [[Vec<f64>; 2]; 3],
    cross: [Vec<f64>; 3],
    /// Nothing anywhere.
    none: Vec<f64>,
    /// 1 on free cells, 0 inside conductors.
    free: Vec<f64>,
    /// 1 where the Raviart-Thomas energy is exact, 0 where a cut touches the cell.
    exact: Vec<f64>,
}

impl CellRow {
    fn new(n: usize) -> Self {
        Self {
            half: [0, 1, 2].map(|_| [vec![0.0; n], vec![0.0; n]]),
            cross: [vec![0.0; n], vec![0.0; n], vec![0.0; n]],
            none: vec![0.0; n],
            free: vec![0.0; n],
            exact: vec![0.0; n],
        }
    }

    /// Row j, k, which begins at cell `at`.
    fn fill(&mut self, scheme: &CellScheme, grid: &Grid, [j, k]: [usize; 2], at: usize) {
        for i in 0..self.free.len() {
            let eps = grid.permittivity[grid.material[at + i] as usize];
            let extent = CellExtent::of(grid, [i, j, k]);
            for d in 0..grid.dimensions() {
                let r = extent.resistance(d);
                self.half[d][0][i] = r.low / eps;
                self.half[d][1][i] = r.high / eps;
                self.cross[d][i] = r.cross / eps;
            }
            let fixed = scheme.system.network.fixed[at + i];
            let touched = scheme.touched.get(at + i).copied().unwrap_or(false);
            self.free[i] = if fixed { 0.0 } else { 1.0 };
            self.exact[i] = if fixed || touched { 0.0 } else { 1.0 };
        }
    }
}

/// Fills `parts` with the energy of the half cells of every cell of a row for a pair of drives, and `over` with the
/// gain L - K of the cell.
fn row_energies(
    rows: [&FluxRow; 2],
    cells: &CellRow,
    parts: &mut RowParts,
    over: &mut [f64],
    dimensions: usize,
) {
    over.fill(0.0);
    for d in 0..dimensions {
        let faces = rows.map(|row| row.face[d].each_ref().map(Vec::as_slice));
        let [low, high] = cells.half[d].each_ref().map(Vec::as_slice);
        let (cross, none) = (&cells.cross[d][..], &cells.none[..]);
        if parts.are_halves_apart() {
            axis_energies(faces, [low, none, cross], &cells.free, parts.of(d, 0), over);
            axis_energies(faces, [none, high, none], &cells.free, parts.of(d, 1), over);
        } else {
            axis_energies(faces, [low, high, cross], &cells.free, parts.of(d, 0), over);
        }
    }
    for (over, exact) in over.iter_mut().zip(&cells.exact) {
        *over *= exact;
    }
}

/// Fills `part` with what the fluxes through the low and the high faces along an axis take in half cells of the first
/// two resistances, where cells are free; adds to `over` the gain over the third.
#[inline(always)]
fn axis_energies_body(
    faces: [[&[f64]; 2]; 2],
    resistances: [&[f64]; 3],
    free: &[f64],
    part: &mut [f64],
    over: &mut [f64],
) {
    let n = over.len();
    let [[low_a, high_a], [low_b, high_b]] = faces.map(|row| row.map(|face| &face[..n]));
    let [low, high, cross] = resistances.map(|of_cells| &of_cells[..n]);
    let (free, part) = (&free[..n], &mut part[..n]);
    for i in 0..n {
        let energies = low[i] * low_a[i] * low_b[i] + high[i] * high_a[i] * high_b[i];
        part[i] = free[i] * energies;
        // Both fluxes count outwards here: in minus out is minus their sum.
        over[i] += cross[i] * (low_a[i] + high_a[i]) * (low_b[i] + high_b[i]);
    }
}
dispatched!(fn axis_energies, axis_energies_body, axis_energies_wide(faces: [[&[f64]; 2]; 2], resistances: [&[f64]; 3], free: &[f64], part: &mut [f64], over: &mut [f64]));
