//! One state of a chamber, reduced: spaces of node potentials and fluxes, and their energies as sums of terms.

use super::super::cell_scheme::CellScheme;
use super::super::node_scheme::NodeScheme;
use super::super::part::{Iteration, potentials};
use super::ReducedError;
use super::chamber::{Chamber, Design, Outside};
use super::factors::{BlockTerms, Blocks, Interpolated, Power};
use super::flux_space::{FluxPlaces, Lower, flux_products, flux_terms};
use super::gram::{orthonormal, packed_len, row_start};
use super::node_space::{NodeExtras, Upper, node_products, node_terms};
use crate::field::Phases;
use crate::grid::Grid;
use crate::stop::Stop;
use nalgebra::{Cholesky, DMatrix, DVector};
use ndarray::{Array2, ArrayView1, linalg::general_mat_mul, s};
use rayon::prelude::*;

/// A state of a chamber.
pub(super) struct ReducedState {
    /// Its grid as the reference has it.
    pub grid: Grid,
    blocks: Blocks,
    drives: usize,
    nodes: NodeSpace,
    fluxes: FluxSpace,
}

struct NodeSpace {
    extras: NodeExtras,
    terms: BlockTerms,
    interpolated: Interpolated,
    /// Vectors of the first half of the designs, potentials of the drives themselves left out.
    half: usize,
    /// Terms of N and Q, packed over drives and vectors.
    network: Array2<f64>,
    trilinear: Array2<f64>,
}

struct FluxSpace {
    places: FluxPlaces,
    terms: BlockTerms,
    interpolated: Interpolated,
    half: usize,
    /// Terms of K and of what L has more, packed over vectors.
    network: Array2<f64>,
    gain: Array2<f64>,
    /// Charge that each vector brings to each driven conductor.
    charges: Array2<f64>,
    /// What does not balance, of each vector.
    imbalances: Vec<f64>,
}

/// The four energies of a design over vacuum permittivity [m].
#[derive(Clone, Debug)]
pub(super) struct FourEnergies {
    pub node: Array2<f64>,
    pub trilinear: Array2<f64>,
    pub flux: Array2<f64>,
    pub cell: Array2<f64>,
    /// What fluxes that do not balance take off the diagonal of L.
    pub slack: Vec<f64>,
}

/// What a state is made of.
pub(super) struct Material<'a> {
    pub chamber: &'a Chamber,
    /// Driven conductors, as the grid counts them.
    pub drives: &'a [u16],
    /// Those that are solved; the first one's potentials are what the others' differ from.
    pub designs: &'a [Design],
    /// Those that tell how energies depend on the design.
    pub pool: &'a [Design],
    /// Those that check it.
    pub others: &'a [Design],
    pub stop: Stop,
}

impl ReducedState {
    /// Solves the designs and reduces the state whose reference has this grid.
    pub fn of(grid: Grid, material: &Material<'_>) -> Result<Self, ReducedError> {
        let blocks = Blocks::of(&grid)?;
        let (node_scheme, cell_scheme) =
            rayon::join(|| NodeScheme::new(&grid), || CellScheme::new(&grid));
        let extras = NodeExtras::of(&grid, &node_scheme);
        let places = FluxPlaces::of(&grid, &cell_scheme);
        let (of_nodes, of_fluxes) = rayon::join(
            || interpolated(&grid, material, &|grid| extras.conductances(grid)),
            || interpolated(&grid, material, &|grid| places.resistances(grid)),
        );
        let terms = |power| {
            BlockTerms::of(
                &blocks,
                power,
                material.chamber,
                material.pool,
                material.others,
            )
        };
        let (node_factors, flux_factors) =
            rayon::join(|| terms(Power::Conductance), || terms(Power::Resistance));
        let solved = solve_designs(&grid, &places, material)?;
        let (nodes, fluxes): (Vec<_>, Vec<_>) = solved.into_iter().unzip();
        let (node_factors, flux_factors) = (node_factors?, flux_factors?);
        let (nodes, fluxes) = rayon::join(
            || NodeSpace::of(&grid, extras, (node_factors, of_nodes), &blocks, nodes),
            || {
                FluxSpace::of(
                    &grid,
                    &cell_scheme,
                    places,
                    (flux_factors, of_fluxes),
                    &blocks,
                    material.drives,
                    fluxes,
                )
            },
        );
        Ok(Self {
            drives: material.drives.len(),
            grid,
            blocks,
            nodes,
            fluxes,
        })
    }

    /// Numbers of vectors and terms of both spaces.
    pub fn sizes(&self) -> [usize; 4] {
        [
            self.nodes.vectors(self.drives),
            self.nodes.network.nrows(),
            self.fluxes.imbalances.len(),
            self.fluxes.network.nrows(),
        ]
    }

    /// Bytes of the terms.
    pub fn bytes(&self) -> usize {
        let tables = [
            &self.nodes.network,
            &self.nodes.trilinear,
            &self.fluxes.network,
            &self.fluxes.gain,
        ];
        tables.iter().map(|table| 8 * table.len()).sum()
    }

    /// Largest relative error of what is interpolated.
    pub fn interpolation_error(&self) -> f64 {
        self.nodes
            .interpolated
            .error
            .max(self.fluxes.interpolated.error)
    }

    /// Energies of some designs, each with those of the first half of the vectors. `grid` is a clone of [`Self::grid`].
    pub fn energies(
        &self,
        chamber: &Chamber,
        grid: &mut Grid,
        designs: &[&Design],
    ) -> Vec<Option<[FourEnergies; 2]>> {
        if designs.is_empty() {
            return Vec::new();
        }
        let [mut of_nodes, mut of_blocks, mut of_fluxes] = [const { Vec::new() }; 3];
        for design in designs {
            let stretches = chamber.stretches(design);
            chamber.place(grid, &self.grid, design);
            let permittivity = &design.permittivity;
            self.nodes
                .terms
                .values(&self.blocks, &stretches, permittivity, &mut of_nodes);
            let picked = self.nodes.extras.some(grid, &self.nodes.interpolated.picks);
            self.nodes.interpolated.shares(&picked, &mut of_nodes);
            self.fluxes
                .terms
                .values(&self.blocks, &stretches, permittivity, &mut of_blocks);
            of_fluxes.extend_from_slice(&of_blocks[of_blocks.len() - self.fluxes.terms.len()..]);
            let picks = self.fluxes.interpolated.picks.iter();
            let picked: Vec<f64> = picks
                .map(|&pick| self.fluxes.places.resistance(grid, pick))
                .collect();
            self.fluxes.interpolated.shares(&picked, &mut of_fluxes);
        }
        let table = |values: Vec<f64>| {
            let shape = (designs.len(), values.len() / designs.len());
            Array2::from_shape_vec(shape, values).expect("as many values for every design")
        };
        let (of_nodes, of_blocks, of_fluxes) =
            (table(of_nodes), table(of_blocks), table(of_fluxes));
        let network = of_nodes.dot(&self.nodes.network);
        let trilinear = of_nodes.dot(&self.nodes.trilinear);
        let cell = of_fluxes.dot(&self.fluxes.network);
        let gain = of_blocks.dot(&self.fluxes.gain);
        let one = |at: usize| {
            let above = self
                .nodes
                .energies(self.drives, network.row(at), trilinear.row(at))?;
            let below = self.fluxes.energies(cell.row(at), gain.row(at))?;
            Some([0, 1].map(|part| {
                let [node, trilinear] = above[part].clone();
                let (cell, flux, slack) = below[part].clone();
                FourEnergies {
                    node,
                    trilinear,
                    flux,
                    cell,
                    slack,
                }
            }))
        };
        (0..designs.len()).map(one).collect()
    }
}

/// Interpolation of functions of a grid over the designs of a chamber.
fn interpolated(
    grid: &Grid,
    material: &Material<'_>,
    values: &(dyn Fn(&Grid) -> Vec<f64> + Sync),
) -> Interpolated {
    let on = |designs: &[Design]| {
        let placed = designs.par_iter().map_init(
            || grid.clone(),
            |placed, design| {
                material.chamber.place(placed, grid, design);
                values(placed)
            },
        );
        placed.collect::<Vec<_>>()
    };
    Interpolated::of(&on(material.pool), &on(material.others))
}

/// Potentials of the nodes and fluxes of a design, drive by drive.
type SolvedDesign = (Vec<Vec<f64>>, Vec<Vec<f64>>);

fn solve_designs(
    grid: &Grid,
    places: &FluxPlaces,
    material: &Material<'_>,
) -> Result<Vec<SolvedDesign>, ReducedError> {
    let Material {
        chamber,
        drives,
        stop,
        ..
    } = *material;
    let iteration = Iteration {
        guess: &[],
        fineness: 1.0,
        charges: (0, &[]),
        apart: &[],
        is_exact: true,
    };
    let one = |placed: &mut Grid, design: &Design| {
        if stop.asked() {
            return Err(ReducedError::Interrupted);
        }
        chamber.place(placed, grid, design);
        let placed = &*placed;
        let mut phases = Phases::default();
        let scheme = NodeScheme::new(placed);
        let not_converged = |_| match stop.asked() {
            true => ReducedError::Interrupted,
            false => ReducedError::NotConverged,
        };
        let (nodes, ..) = potentials(&scheme.system, drives, iteration, stop, &mut phases)
            .map_err(not_converged)?;
        let scheme = CellScheme::new(placed);
        let (cells, ..) = potentials(&scheme.system, drives, iteration, stop, &mut phases)
            .map_err(not_converged)?;
        let both = cells.iter().zip(drives);
        let fluxes = both
            .map(|(x, &driven)| places.fluxes(placed, &scheme, x, driven))
            .collect();
        Ok((nodes, fluxes))
    };
    let designs = material.designs.par_iter();
    designs.map_init(|| grid.clone(), one).collect()
}

/// Vectors as one table, `[place][vector]`.
fn table(vectors: &[Vec<f64>]) -> Array2<f64> {
    let places = vectors.first().map_or(0, Vec::len);
    Array2::from_shape_fn((places, vectors.len()), |(place, vector)| {
        vectors[vector][place]
    })
}

/// Vectors made orthonormal one after the other in the energy that `products` gives of them, and how many of them come from
/// the first `first`.
fn made_orthonormal(
    mut vectors: Array2<f64>,
    first: usize,
    products: &dyn Fn(&Array2<f64>) -> Vec<f64>,
) -> (Array2<f64>, usize) {
    let mut half = first;
    // A second time takes out what rounding has left.
    for _ in 0..2 {
        let rows = orthonormal(&products(&vectors), vectors.ncols());
        let last = |row: ndarray::ArrayView1<f64>| row.iter().rposition(|v| *v != 0.0).unwrap_or(0);
        half = rows
            .rows()
            .into_iter()
            .filter(|row| last(*row) < half)
            .count();
        let mut made = Array2::zeros((vectors.nrows(), rows.nrows()));
        general_mat_mul(1.0, &vectors, &rows.t(), 0.0, &mut made);
        vectors = made;
    }
    (vectors, half)
}

impl NodeSpace {
    fn of(
        grid: &Grid,
        extras: NodeExtras,
        (terms, interpolated): (BlockTerms, Interpolated),
        blocks: &Blocks,
        solved: Vec<Vec<Vec<f64>>>,
    ) -> Self {
        let drives = solved[0].len();
        let first = (solved.len() / 2).max(1);
        let differences = |design: &Vec<Vec<f64>>| -> Vec<Vec<f64>> {
            let both = design.iter().zip(&solved[0]);
            let minus = |(x, first): (&Vec<f64>, &Vec<f64>)| {
                x.iter().zip(first).map(|(a, b)| a - b).collect()
            };
            both.map(minus).collect()
        };
        let vectors: Vec<Vec<f64>> = solved[1..].iter().flat_map(differences).collect();
        let lifts = table(&solved[0]);
        drop(solved);
        let products = |vectors: &Array2<f64>| node_products(grid, &extras, vectors, blocks);
        let (vectors, half) = made_orthonormal(table(&vectors), (first - 1) * drives, &products);
        let all = ndarray::concatenate![ndarray::Axis(1), lifts, vectors]
            .as_standard_layout()
            .into_owned();
        let of = |which| node_terms(grid, &extras, &all, which, blocks, &terms, &interpolated);
        let (network, trilinear) = rayon::join(|| of(Upper::Network), || of(Upper::Trilinear));
        Self {
            extras,
            terms,
            interpolated,
            half,
            network,
            trilinear,
        }
    }

    fn vectors(&self, drives: usize) -> usize {
        let mut n = 0;
        while packed_len(n) < self.network.ncols() {
            n += 1;
        }
        n - drives
    }

    /// N and Q of a design, with all vectors and with those of the first half; none when its matrix is not definite.
    fn energies(
        &self,
        drives: usize,
        network: ArrayView1<f64>,
        trilinear: ArrayView1<f64>,
    ) -> Option<[[Array2<f64>; 2]; 2]> {
        let m = self.vectors(drives);
        let entry = |i: usize, j: usize| network[row_start(i) + j];
        let free = DMatrix::from_fn(m, m, |i, j| {
            if j <= i {
                entry(drives + i, drives + j)
            } else {
                0.0
            }
        });
        let lower = factor(free)?;
        let sides: Vec<DVector<f64>> = (0..drives)
            .map(|drive| {
                let mut side = DVector::from_fn(m, |i, _| entry(drives + i, drive));
                lower.solve_lower_triangular_mut(&mut side);
                side
            })
            .collect();
        let with = |count: usize| {
            let node = symmetric(drives, |a, b| {
                entry(a, b) - sides[a].rows(0, count).dot(&sides[b].rows(0, count))
            });
            let completed: Vec<Vec<f64>> = (0..drives)
                .map(|drive| {
                    let mut shares = -sides[drive].rows(0, count).into_owned();
                    lower
                        .view((0, 0), (count, count))
                        .tr_solve_lower_triangular_mut(&mut shares);
                    let mut all = vec![0.0; drives];
                    all[drive] = 1.0;
                    all.extend(shares.iter());
                    all
                })
                .collect();
            let trilinear = quadratic(trilinear, &completed);
            [node, trilinear]
        };
        Some([with(m), with(self.half)])
    }
}

impl FluxSpace {
    fn of(
        grid: &Grid,
        scheme: &CellScheme,
        places: FluxPlaces,
        (terms, interpolated): (BlockTerms, Interpolated),
        blocks: &Blocks,
        drives: &[u16],
        solved: Vec<Vec<Vec<f64>>>,
    ) -> Self {
        let first = (solved.len() / 2).max(1) * drives.len();
        let vectors: Vec<Vec<f64>> = solved.into_iter().flatten().collect();
        let products = |vectors: &Array2<f64>| flux_products(grid, &places, vectors, blocks);
        let (vectors, half) = made_orthonormal(table(&vectors), first, &products);
        let of = |which| {
            flux_terms(
                grid,
                &places,
                &vectors,
                which,
                blocks,
                &terms,
                &interpolated,
            )
        };
        let (network, gain) = rayon::join(|| of(Lower::Network), || of(Lower::Gain));
        let mut charges = Array2::zeros((drives.len(), vectors.ncols()));
        for (drive, &conductor) in drives.iter().enumerate() {
            let of_drive = places.charges(grid, scheme, &vectors, conductor);
            charges
                .slice_mut(s![drive, ..])
                .assign(&ndarray::Array1::from(of_drive));
        }
        Self {
            imbalances: places.imbalances(grid, &vectors),
            places,
            terms,
            interpolated,
            half,
            network,
            gain,
            charges,
        }
    }

    /// K, L and what imbalances take off it, with all vectors and with those of the first half.
    #[allow(clippy::type_complexity)]
    fn energies(
        &self,
        network: ArrayView1<f64>,
        gain: ArrayView1<f64>,
    ) -> Option<[(Array2<f64>, Array2<f64>, Vec<f64>); 2]> {
        let m = self.imbalances.len();
        let drives = self.charges.nrows();
        let lower = factor(DMatrix::from_fn(m, m, |i, j| {
            if j <= i {
                network[row_start(i) + j]
            } else {
                0.0
            }
        }))?;
        let sides: Vec<DVector<f64>> = self
            .charges
            .rows()
            .into_iter()
            .map(|charges| {
                let mut side = DVector::from_iterator(m, charges.iter().copied());
                lower.solve_lower_triangular_mut(&mut side);
                side
            })
            .collect();
        let with = |count: usize| {
            let cell = symmetric(drives, |a, b| {
                sides[a].rows(0, count).dot(&sides[b].rows(0, count))
            });
            let shares: Vec<Vec<f64>> = sides
                .iter()
                .map(|side| {
                    let mut shares = side.rows(0, count).into_owned();
                    lower
                        .view((0, 0), (count, count))
                        .tr_solve_lower_triangular_mut(&mut shares);
                    shares.iter().copied().collect()
                })
                .collect();
            let flux = &cell + &quadratic(gain, &shares);
            let slack = |shares: &Vec<f64>| {
                let both = shares.iter().zip(&self.imbalances);
                2.0 * both
                    .map(|(share, imbalance)| share.abs() * imbalance)
                    .sum::<f64>()
            };
            (cell, flux, shares.iter().map(slack).collect())
        };
        Some([with(m), with(self.half)])
    }
}

/// Lower Cholesky factor of a matrix of which only the lower triangle is there.
fn factor(matrix: DMatrix<f64>) -> Option<DMatrix<f64>> {
    Cholesky::new(matrix).map(Cholesky::unpack)
}

fn symmetric(n: usize, entry: impl Fn(usize, usize) -> f64) -> Array2<f64> {
    Array2::from_shape_fn((n, n), |(i, j)| entry(i.max(j), i.min(j)))
}

/// x' A y of all pairs of vectors, which may be shorter than the packed matrix A is wide.
fn quadratic(packed: ArrayView1<f64>, vectors: &[Vec<f64>]) -> Array2<f64> {
    let images: Vec<Vec<f64>> = vectors
        .iter()
        .map(|x| {
            let mut image = vec![0.0; x.len()];
            for i in 0..x.len() {
                let start = row_start(i);
                for j in 0..i {
                    let entry = packed[start + j];
                    image[i] += entry * x[j];
                    image[j] += entry * x[i];
                }
                image[i] += packed[start + i] * x[i];
            }
            image
        })
        .collect();
    symmetric(vectors.len(), |a, b| {
        vectors[a].iter().zip(&images[b]).map(|(x, y)| x * y).sum()
    })
}

impl From<Outside> for ReducedError {
    fn from(outside: Outside) -> Self {
        Self::Outside(outside)
    }
}
