//! The cell network and its flux bound: capacitances from below.
//!
//! Unknowns at cell middles, half-cell resistances in series, sheets as faces of given potential
//! (K). Its face fluxes balance in every cell; their exact lowest-order Raviart-Thomas energy W
//! gives the bound L = 2 K - W, which is never above the true value (Thomson's principle) and
//! never below K. Lumped minus exact energy of a cell is h/(6 A eps) (flux in - flux out)^2 per
//! direction, so L = K + the sum of that.

use super::system::{Source, System, open_wall, potential};
use crate::case::{Kind, Wall};
use crate::grid::{FREE, Grid, PartialFace, REFERENCE};
use ndarray::Array2;
use std::collections::HashMap;
use std::f64::consts::PI;

/// A surface closer to a cell middle than this share of the half width counts as this far.
const SMALLEST_GAP: f64 = 0.04;

/// Resistances x permittivity of one cell along one axis [1/m].
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Resistance {
    /// From the low face to the middle.
    pub low: f64,
    /// From the middle to the high face.
    pub high: f64,
    /// Off-diagonal of the flux energy: what the sum of two half resistances over-counts.
    cross: f64,
}

/// Resistances of a cell along `axis`.
fn resistance(grid: &Grid, index: [usize; 3], axis: usize) -> Resistance {
    let w = [0, 1, 2].map(|d| {
        if d < grid.dimensions() {
            grid.axes[d].width_m(index[d])
        } else {
            1.0
        }
    });
    let r = &grid.axes[0].nodes_m;
    resistance_between(grid.kind, axis, w, [r[index[0]], r[index[0] + 1]])
}

/// The same from the widths of a cell and the radii of its faces [m].
pub(super) fn resistance_between(
    kind: Kind,
    axis: usize,
    w: [f64; 3],
    radii: [f64; 2],
) -> Resistance {
    let even = |area: f64| Resistance {
        low: 0.5 * w[axis] / area,
        high: 0.5 * w[axis] / area,
        cross: w[axis] / (6.0 * area),
    };
    let [r1, r2] = radii;
    match (kind, axis) {
        (Kind::Planar, _) => even(w[1 - axis]),
        (Kind::Volume, _) => even(w[(axis + 1) % 3] * w[(axis + 2) % 3]),
        (Kind::Axisymmetric, 1) => even(PI * (r2 * r2 - r1 * r1)),
        (Kind::Axisymmetric, _) => radial_resistance(r1, r2, w[1]),
    }
}

/// Radial cell of an axisymmetric grid: the flux through radius r is linear in r^2, with shares
/// p = (r2^2 - r^2)/(r2^2 - r1^2) and 1 - p of the fluxes at the two faces; energies are
/// integrals of their products over dr/(2 pi r height).
fn radial_resistance(r1: f64, r2: f64, height: f64) -> Resistance {
    let (s1, s2) = (r1 * r1, r2 * r2);
    let scale = 1.0 / (2.0 * PI * height);
    let (low, high, cross);
    if r1 <= 0.0 {
        // No flux at the axis.
        low = 0.0;
        high = 0.5 * scale;
        cross = 0.25 * scale;
    } else {
        // dr/r = ds/(2s); five-point Gauss-Legendre in s is exact to rounding for thin cells, and
        // the closed form for thick ones would cancel for thin ones.
        if r1 > 0.7 * r2 {
            const POINTS: [(f64, f64); 5] = [
                (0.0, 0.568_888_888_888_888_9),
                (-0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
                (0.538_469_310_105_683_1, 0.478_628_670_499_366_5),
                (-0.906_179_845_938_664, 0.236_926_885_056_189_1),
                (0.906_179_845_938_664, 0.236_926_885_056_189_1),
            ];
            let mut sums = [0.0; 3];
            for (t, weight) in POINTS {
                let p = 0.5 * (1.0 - t);
                let s = s1 + (1.0 - p) * (s2 - s1);
                let measure = 0.5 * weight * (s2 - s1) / (2.0 * s);
                sums[0] += measure * p;
                sums[1] += measure * (1.0 - p);
                sums[2] += measure * p * (1.0 - p);
            }
            (low, high, cross) = (sums[0] * scale, sums[1] * scale, sums[2] * scale);
        } else {
            let log = (r2 / r1).ln();
            let d = s2 - s1;
            low = scale * (s2 * log / d - 0.5);
            high = scale * (0.5 - s1 * log / d);
            cross = scale * (0.5 * (s1 + s2) * d - s1 * s2 * log - 0.25 * (s2 * s2 - s1 * s1))
                / (d * d);
        }
    }
    Resistance { low, high, cross }
}

/// The system and, for energies, which cells a cut touches.
pub(crate) struct CellScheme {
    pub system: System,
    touched: Vec<bool>,
}

struct Builder<'a> {
    grid: &'a Grid,
    dims: [usize; 3],
    strides: [usize; 3],
    link: [Vec<f32>; 3],
    sources: Vec<Source>,
    touched: Vec<bool>,
}

impl CellScheme {
    pub fn new(grid: &Grid) -> Self {
        let dims = grid.cell_dims();
        let n = grid.cells();
        let dimensions = grid.dimensions();
        let mut builder = Builder {
            grid,
            dims,
            strides: [1, dims[0], dims[0] * dims[1]],
            link: [0, 1, 2].map(|d| {
                if d < dimensions {
                    vec![0.0; n]
                } else {
                    Vec::new()
                }
            }),
            sources: Vec::new(),
            touched: if grid.has_shapes {
                vec![false; n]
            } else {
                Vec::new()
            },
        };
        for axis in 0..dimensions {
            builder.faces(axis);
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
        let Builder {
            link,
            sources,
            touched,
            ..
        } = builder;
        let system = System::new(
            coordinates,
            rank,
            link,
            vec![0.0; n],
            grid.cell_conductor.clone(),
            sources,
        );
        Self { system, touched }
    }

    /// Energy matrices of complete cell potentials, one vector per drive; `drives` names the
    /// driven conductor of each.
    pub fn energies(&self, grid: &Grid, potentials: &[Vec<f64>], drives: &[u16]) -> CellEnergies {
        let count = drives.len();
        let dims = grid.cell_dims();
        let n0 = dims[0];
        let dimensions = grid.dimensions();
        let strides = [1, n0, n0 * dims[1]];
        let materials = grid.permittivity.len();
        let network = &self.system.network;
        let mut material = vec![Array2::zeros((count, count)); materials];
        let mut outside: Array2<f64> = Array2::zeros((count, count));
        let mut gain: Array2<f64> = Array2::zeros((count, count));
        let mut imbalance = vec![0.0; count];
        let mut rows = vec![FluxRow::new(n0); count];
        let mut cells = CellRow::new(n0);
        let mut energy = vec![0.0; n0];
        let mut next_source = 0;
        for k in 0..dims[2] {
            for j in 0..dims[1] {
                let at = n0 * (j + dims[1] * k);
                let row_materials = &grid.material[at..at + n0];
                for i in 0..n0 {
                    cells.set(
                        i,
                        grid,
                        [i, j, k],
                        row_materials[i],
                        self.touched.get(at + i).copied().unwrap_or(false),
                        network.fixed[at + i],
                    );
                }
                for (row, x) in rows.iter_mut().zip(potentials) {
                    row.links(x, network, at, strides, dimensions);
                }
                let first_source = next_source;
                while self.sources_at(next_source) < at + n0 {
                    next_source += 1;
                }
                for source in &self.system.sources[first_source..next_source] {
                    let i = source.node as usize - at;
                    let (axis, side) = (source.axis as usize, source.side as usize);
                    let inner = cells.half[axis][side][i];
                    let g = f64::from(source.conductance as f32);
                    for a in 0..count {
                        let fa =
                            g * (potentials[a][at + i] - potential(source.conductor, drives[a]));
                        rows[a].add(axis, side, i, fa);
                        for b in a..count {
                            let fb = g
                                * (potentials[b][at + i] - potential(source.conductor, drives[b]));
                            // The part of the path that lies outside the cell: an open wall.
                            outside[[a, b]] += fa * fb * (1.0 / g - inner);
                        }
                    }
                }
                for a in 0..count {
                    imbalance[a] += rows[a].imbalance(&cells, dimensions);
                    for b in a..count {
                        gain[[a, b]] +=
                            pair_energy(&rows[a], &rows[b], &cells, &mut energy, dimensions);
                        for (value, &m) in energy.iter().zip(row_materials) {
                            material[m as usize][[a, b]] += value;
                        }
                    }
                }
            }
        }
        material[materials - 1] += &outside;
        let mirror = |m: &mut Array2<f64>| {
            for a in 0..count {
                for b in 0..a {
                    m[[a, b]] = m[[b, a]];
                }
            }
        };
        material.iter_mut().for_each(mirror);
        mirror(&mut gain);
        let mut cell = Array2::zeros((count, count));
        if grid.has_shapes {
            self.network_energy(potentials, drives, strides, &mut cell);
            let mut sum: Array2<f64> = Array2::zeros((count, count));
            for m in &material {
                sum += m;
            }
            for m in &mut material {
                ndarray::Zip::from(m)
                    .and(&cell)
                    .and(&sum)
                    .for_each(|m, &c, &s| {
                        if s != 0.0 {
                            *m *= c / s;
                        }
                    });
            }
        } else {
            for m in &material {
                cell += m;
            }
        }
        CellEnergies {
            flux: &cell + &gain,
            cell,
            material,
            imbalance,
        }
    }

    fn sources_at(&self, index: usize) -> usize {
        self.system
            .sources
            .get(index)
            .map_or(usize::MAX, |s| s.node as usize)
    }

    /// Energy by links and sources: what remains valid where cuts change resistances.
    fn network_energy(
        &self,
        potentials: &[Vec<f64>],
        drives: &[u16],
        strides: [usize; 3],
        out: &mut Array2<f64>,
    ) {
        let network = &self.system.network;
        for a in 0..drives.len() {
            for b in a..drives.len() {
                let (xa, xb) = (&potentials[a], &potentials[b]);
                let mut sum = 0.0;
                for (d, link) in network.link.iter().enumerate() {
                    for (n, &c) in link.iter().enumerate() {
                        if c != 0.0 {
                            let m = n + strides[d];
                            sum += f64::from(c) * (xa[n] - xa[m]) * (xb[n] - xb[m]);
                        }
                    }
                }
                for s in &self.system.sources {
                    let n = s.node as usize;
                    sum += f64::from(s.conductance as f32)
                        * (xa[n] - potential(s.conductor, drives[a]))
                        * (xb[n] - potential(s.conductor, drives[b]));
                }
                out[[a, b]] = sum;
                out[[b, a]] = sum;
            }
        }
    }
}

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

impl Builder<'_> {
    fn index(&self, cell: usize) -> [usize; 3] {
        [
            cell % self.dims[0],
            cell / self.dims[0] % self.dims[1],
            cell / (self.dims[0] * self.dims[1]),
        ]
    }

    fn permittivity(&self, cell: usize) -> f64 {
        self.grid.permittivity[self.grid.material[cell] as usize]
    }

    fn source(&mut self, cell: usize, axis: usize, side: usize, conductor: u16, conductance: f64) {
        if conductance > 0.0 && self.grid.cell_conductor[cell] == FREE {
            self.sources.push(Source {
                node: cell as u32,
                axis: axis as u8,
                side: side as u8,
                conductor,
                conductance,
            });
        }
    }

    fn faces(&mut self, axis: usize) {
        let grid = self.grid;
        let face_dims = grid.face_dims(axis);
        let partial: HashMap<usize, Vec<PartialFace>> = {
            let mut map: HashMap<usize, Vec<PartialFace>> = HashMap::new();
            for face in grid.partial_faces.iter().filter(|f| f.axis == axis) {
                map.entry(face.face).or_default().push(*face);
            }
            map
        };
        let cuts: HashMap<usize, f64> = grid
            .cell_cuts
            .iter()
            .filter(|c| c.axis == axis)
            .map(|c| (c.low, c.covered))
            .collect();
        for cell in 0..grid.cells() {
            let index = self.index(cell);
            let face = index[0] + face_dims[0] * (index[1] + face_dims[1] * index[2]);
            let here = resistance(grid, index, axis);
            let eps = self.permittivity(cell);
            if index[axis] == 0 {
                self.wall(cell, index, axis, 0, face, &partial);
            }
            let face_stride = [1, face_dims[0], face_dims[0] * face_dims[1]][axis];
            let ahead_face = face + face_stride;
            if index[axis] + 1 == self.dims[axis] {
                self.wall(cell, index, axis, 1, ahead_face, &partial);
                continue;
            }
            let next = cell + self.strides[axis];
            let mut next_index = index;
            next_index[axis] += 1;
            let there = resistance(grid, next_index, axis);
            let next_eps = self.permittivity(next);
            let halves = [here.high / eps, there.low / next_eps];
            let mark = grid.face_conductor[axis]
                .get(ahead_face)
                .copied()
                .unwrap_or(FREE);
            if mark != FREE {
                self.source(cell, axis, 1, mark, 1.0 / halves[0]);
                self.source(next, axis, 0, mark, 1.0 / halves[1]);
                continue;
            }
            let owners = [grid.cell_conductor[cell], grid.cell_conductor[next]];
            let mut conductance = match owners {
                [FREE, FREE] => 1.0 / (halves[0] + halves[1]),
                [FREE, _] => 1.0 / halves[0],
                [_, FREE] => 1.0 / halves[1],
                _ => 0.0,
            };
            let one_fixed = (owners[0] == FREE) != (owners[1] == FREE);
            if one_fixed && let Some(&covered) = cuts.get(&cell) {
                // From the free middle to the surface, first through the free cell, then the other.
                let (free, fixed, width_free, width_fixed) = if owners[0] == FREE {
                    (
                        halves[0],
                        halves[1],
                        grid.axes[axis].width_m(index[axis]),
                        grid.axes[axis].width_m(next_index[axis]),
                    )
                } else {
                    (
                        halves[1],
                        halves[0],
                        grid.axes[axis].width_m(next_index[axis]),
                        grid.axes[axis].width_m(index[axis]),
                    )
                };
                let gap = (1.0 - covered) * 0.5 * (width_free + width_fixed);
                let first = (gap / (0.5 * width_free)).clamp(SMALLEST_GAP, 1.0);
                let second = ((gap - 0.5 * width_free) / (0.5 * width_fixed)).max(0.0);
                conductance = 1.0 / (free * first + fixed * second);
                self.touch(cell);
                self.touch(next);
            }
            if let Some(shares) = partial.get(&ahead_face) {
                let covered: f64 = shares.iter().map(|s| s.share).sum::<f64>().min(1.0);
                match owners {
                    [FREE, FREE] => {
                        conductance *= 1.0 - covered;
                        for s in shares {
                            let width = self.edge_width(index, axis);
                            self.source(
                                cell,
                                axis,
                                1,
                                s.conductor,
                                covered_conductance(halves[0], eps * width, s.share),
                            );
                            self.source(
                                next,
                                axis,
                                0,
                                s.conductor,
                                covered_conductance(halves[1], next_eps * width, s.share),
                            );
                        }
                    }
                    _ => {
                        let (half, eps) = if owners[0] == FREE {
                            (halves[0], eps)
                        } else {
                            (halves[1], next_eps)
                        };
                        let width = self.edge_width(index, axis);
                        conductance = covered_conductance(half, eps * width, covered);
                    }
                }
            }
            self.link[axis][cell] = conductance as f32;
        }
    }

    /// Length of the edge that crosses a partly covered face normal to `axis` [m]: the side of a
    /// square of the same area (volumes), the circumference (axisymmetric).
    fn edge_width(&self, index: [usize; 3], axis: usize) -> f64 {
        let w = |d: usize| self.grid.axes[d].width_m(index[d]);
        match self.grid.kind {
            Kind::Planar => 1.0,
            Kind::Volume => (w((axis + 1) % 3) * w((axis + 2) % 3)).sqrt(),
            Kind::Axisymmetric => 2.0 * PI * self.grid.axes[0].middle_m(index[0]),
        }
    }

    fn touch(&mut self, cell: usize) {
        self.touched[cell] = true;
    }

    fn wall(
        &mut self,
        cell: usize,
        index: [usize; 3],
        axis: usize,
        side: usize,
        face: usize,
        partial: &HashMap<usize, Vec<PartialFace>>,
    ) {
        let grid = self.grid;
        let here = resistance(grid, index, axis);
        let eps = self.permittivity(cell);
        let half = if side == 0 { here.low } else { here.high } / eps;
        if half <= 0.0 {
            return;
        }
        let mark = grid.face_conductor[axis].get(face).copied().unwrap_or(FREE);
        if mark != FREE {
            self.source(cell, axis, side, mark, 1.0 / half);
            return;
        }
        let mut left = 1.0;
        if let Some(shares) = partial.get(&face) {
            for s in shares {
                self.source(cell, axis, side, s.conductor, s.share / half);
                left -= s.share;
            }
        }
        let conductance = match grid.walls[axis][side] {
            Wall::Insulated => 0.0,
            Wall::Grounded => 1.0 / half,
            Wall::Open => {
                let mut middle = grid.cell_middle(index);
                let nodes = &grid.axes[axis].nodes_m;
                middle[axis] = nodes[if side == 0 { 0 } else { nodes.len() - 1 }];
                let kappa = eps * open_wall(grid, middle, axis, if side == 0 { -1.0 } else { 1.0 });
                let area = face_area(grid, index, axis, middle[0]);
                if kappa > 0.0 {
                    1.0 / (half + 1.0 / (kappa * area))
                } else {
                    0.0
                }
            }
        };
        self.source(cell, axis, side, REFERENCE, conductance * left.max(0.0));
    }
}

/// Conductance from a cell middle to a face that a conductor covers in part.
///
/// In series: the half cell, and a conductance EDGE permittivity x width x share/(1 - share) that
/// moves the effective edge by the share of the cell whatever the cell's height; a share of the
/// half-cell conductance would act as full cover in flat cells.
fn covered_conductance(half: f64, permittivity_width: f64, share: f64) -> f64 {
    let ratio = share / (1.0 - share).max(1e-6);
    1.0 / (half + 1.0 / (EDGE * permittivity_width * ratio))
}

/// Strength of the edge conductance, per side, fitted together with that of the node scheme.
const EDGE: f64 = 0.25;

/// Area of a cell's face normal to `axis` [m^2], [m] in the plane; `radius_m` is that of the face
/// when it is a cylinder.
fn face_area(grid: &Grid, index: [usize; 3], axis: usize, radius_m: f64) -> f64 {
    let w = |d: usize| grid.axes[d].width_m(index[d]);
    match (grid.kind, axis) {
        (Kind::Planar, _) => w(1 - axis),
        (Kind::Volume, _) => w((axis + 1) % 3) * w((axis + 2) % 3),
        (Kind::Axisymmetric, 0) => 2.0 * PI * radius_m * w(1),
        (Kind::Axisymmetric, _) => {
            let (r1, r2) = (
                grid.axes[0].nodes_m[index[0]],
                grid.axes[0].nodes_m[index[0] + 1],
            );
            PI * (r2 * r2 - r1 * r1)
        }
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
            // The last node along an axis has no link ahead, so a missing neighbour is never read
            // with weight; rows at the ends of the array are handled by the length check.
            for i in 0..n {
                let ahead = (at + i + s).min(x.len() - 1);
                high[i] = f64::from(link[at + i]) * (here[i] - x[ahead]);
                low[i] = if at + i >= s {
                    f64::from(link[at + i - s]) * (here[i] - x[at + i - s])
                } else {
                    0.0
                };
            }
        }
    }

    fn add(&mut self, axis: usize, side: usize, i: usize, flux: f64) {
        self.face[axis][side][i] += flux;
    }

    fn imbalance(&self, cells: &CellRow, dimensions: usize) -> f64 {
        let mut sum = 0.0;
        for i in 0..cells.free.len() {
            let mut net = 0.0;
            for face in &self.face[..dimensions] {
                net += face[0][i] + face[1][i];
            }
            sum += cells.free[i] * net.abs();
        }
        sum
    }
}

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

    fn set(
        &mut self,
        i: usize,
        grid: &Grid,
        index: [usize; 3],
        material: u16,
        touched: bool,
        fixed: bool,
    ) {
        let eps = grid.permittivity[material as usize];
        for d in 0..grid.dimensions() {
            let r = resistance(grid, index, d);
            self.half[d][0][i] = r.low / eps;
            self.half[d][1][i] = r.high / eps;
            self.cross[d][i] = r.cross / eps;
        }
        self.free[i] = if fixed { 0.0 } else { 1.0 };
        self.exact[i] = if fixed || touched { 0.0 } else { 1.0 };
    }
}

/// Fills `energy` with the lumped flux energy of each free cell and returns the row's gain L - K.
fn pair_energy(
    a: &FluxRow,
    b: &FluxRow,
    cells: &CellRow,
    energy: &mut [f64],
    dimensions: usize,
) -> f64 {
    let n = energy.len();
    energy.fill(0.0);
    let mut lanes = [0.0; 4];
    for d in 0..dimensions {
        let [la, ha] = &a.face[d];
        let [lb, hb] = &b.face[d];
        let [rl, rh] = &cells.half[d];
        let cross = &cells.cross[d];
        for i in 0..n {
            energy[i] += cells.free[i] * (rl[i] * la[i] * lb[i] + rh[i] * ha[i] * hb[i]);
            // Both fluxes count outwards here: in minus out is minus their sum.
            lanes[i & 3] += cells.exact[i] * cross[i] * (la[i] + ha[i]) * (lb[i] + hb[i]);
        }
    }
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3])
}
