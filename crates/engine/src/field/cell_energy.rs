//! Energies from below: the lumped energy of the cell network (K) and its flux bound (L).
//!
//! The face fluxes of the network balance in every cell; their exact lowest-order Raviart-Thomas
//! energy W gives the bound L = 2 K - W, which is never above the true value (Thomson's principle)
//! and never below K. Lumped minus exact energy of a cell is h/(6 A eps) (flux in - flux out)^2 per
//! direction, so L = K + the sum of that.

use super::cell_scheme::CellScheme;
use super::coefficients::CellExtent;
use super::derivatives::{RowParts, RowSums};
use super::pairs::{Pairs, dot, material_runs, mirror, sum, sum_runs, total};
use super::system::{Source, potential};
use crate::grid::{Grid, unflatten};
use crate::multigrid::dispatched;
use crate::stop::Stop;
use ndarray::Array2;

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
        let n0 = dims[0];
        let dimensions = grid.dimensions();
        let strides = [1, n0, n0 * dims[1]];
        let materials = grid.permittivity.len();
        let network = &self.system.network;
        let mut material = vec![Array2::zeros((count, count)); materials];
        let mut gain: Array2<f64> = Array2::zeros((count, count));
        let mut imbalance = vec![0.0; count];
        let mut rows = vec![FluxRow::new(n0); count];
        let mut cells = CellRow::new(n0);
        let mut over = vec![0.0; n0];
        let mut runs = Vec::new();
        let mut parts = RowParts::new(grid);
        let mut sources = &self.system.sources[..];
        let mut cut_faces = &self.cut_faces[..];
        'rows: for k in 0..dims[2] {
            for j in 0..dims[1] {
                if grid.stop.asked() {
                    break 'rows;
                }
                let at = n0 * (j + dims[1] * k);
                let row_materials = &grid.material[at..at + n0];
                material_runs(row_materials, &mut runs);
                cells.fill(self, grid, [j, k], at);
                for (row, x) in rows.iter_mut().zip(potentials) {
                    row.links(x, network, at, strides, dimensions);
                }
                let of_row = SourceRow {
                    sources: taken(&mut sources, |source| (source.node as usize) < at + n0),
                    at,
                    cells: &cells,
                    materials: row_materials,
                };
                of_row.add((potentials, drives), pairs, &mut rows, &mut material);
                let faces = taken(&mut cut_faces, |face| (face.0 as usize) < at + n0);
                for (imbalance, row) in imbalance.iter_mut().zip(&rows) {
                    *imbalance += row.imbalance(&cells, &mut over, dimensions);
                }
                for (pair, &(a, b)) in pairs.wanted().iter().enumerate() {
                    gain[[a, b]] += gain_energy(&rows[a], &rows[b], &cells, &mut over, dimensions);
                    half_cell_energies(&rows[a], &rows[b], &cells, &mut parts, dimensions);
                    for part in parts.each() {
                        sum_runs(part, &runs, |m, sum| material[m][[a, b]] += sum);
                    }
                    if let Some(sums) = &mut sums {
                        leave_out(faces, at, [&rows[a], &rows[b]], &cells, &mut parts);
                        sums.add(pair, [j, k], &parts, &runs);
                    }
                }
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
        let mut outflow = vec![0.0; self.system.network.len()];
        for b in 0..drives.len() {
            if stop.asked() {
                return;
            }
            self.outflow(&potentials[b], drives[b], strides, &mut outflow);
            let with_b = pairs.wanted().iter().filter(|pair| pair.1 == b);
            for &(a, _) in with_b {
                let mut sum = dot(&potentials[a], &outflow);
                for s in &self.system.sources {
                    let far = potential(s.conductor, drives[a]);
                    if far != 0.0 {
                        sum -= far * source_flux(s, &potentials[b], drives[b]);
                    }
                }
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

/// Takes from the front of a list what belongs to a row.
fn taken<'l, T>(list: &mut &'l [T], is_of_row: impl Fn(&T) -> bool) -> &'l [T] {
    let count = list.iter().take_while(|one| is_of_row(one)).count();
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

/// Fills `parts` with the energy of the half cells of every cell.
#[inline(always)]
fn half_cell_energies_body(
    a: &FluxRow,
    b: &FluxRow,
    cells: &CellRow,
    parts: &mut RowParts,
    dimensions: usize,
) {
    let n = cells.free.len();
    let free = &cells.free[..n];
    for d in 0..dimensions {
        let [low, high] = [0, 1].map(|side| {
            let (fa, fb) = (&a.face[d][side][..n], &b.face[d][side][..n]);
            let half = &cells.half[d][side][..n];
            move |i: usize| half[i] * fa[i] * fb[i]
        });
        if parts.are_halves_apart() {
            for (i, energy) in parts.of(d, 0)[..n].iter_mut().enumerate() {
                *energy = free[i] * low(i);
            }
            for (i, energy) in parts.of(d, 1)[..n].iter_mut().enumerate() {
                *energy = free[i] * high(i);
            }
            continue;
        }
        for (i, energy) in parts.of(d, 0)[..n].iter_mut().enumerate() {
            *energy = free[i] * (low(i) + high(i));
        }
    }
}

dispatched!(fn half_cell_energies, half_cell_energies_body, half_cell_energies_wide(a: &FluxRow, b: &FluxRow, cells: &CellRow, parts: &mut RowParts, dimensions: usize));

/// The gain L - K of a row; `over` is room for one value per cell.
#[inline(always)]
fn gain_energy_body(
    a: &FluxRow,
    b: &FluxRow,
    cells: &CellRow,
    over: &mut [f64],
    dimensions: usize,
) -> f64 {
    let n = over.len();
    over.fill(0.0);
    for d in 0..dimensions {
        let [la, ha] = [0, 1].map(|side| &a.face[d][side][..n]);
        let [lb, hb] = [0, 1].map(|side| &b.face[d][side][..n]);
        let cross = &cells.cross[d][..n];
        for (i, over) in over.iter_mut().enumerate() {
            // Both fluxes count outwards here: in minus out is minus their sum.
            *over += cross[i] * (la[i] + ha[i]) * (lb[i] + hb[i]);
        }
    }
    for (over, exact) in over.iter_mut().zip(&cells.exact) {
        *over *= exact;
    }
    sum(over)
}
dispatched!(fn gain_energy, gain_energy_body, gain_energy_wide(a: &FluxRow, b: &FluxRow, cells: &CellRow, over: &mut [f64], dimensions: usize) -> f64);
