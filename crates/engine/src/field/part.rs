//! One system of a grid, solved for every drive, and its energies.

use super::answer::{Derivatives, Phases, SegmentDerivative, Settings};
use super::bounds::{Energies, Looks};
use super::cell_scheme::CellScheme;
use super::derivatives::{RowSums, Slopes, cell_slopes, node_slopes};
use super::node_scheme::NodeScheme;
use super::pairs::Pairs;
use super::system::{Linked, System};
use crate::grid::Grid;
use crate::multigrid::{self, Hierarchy, NotConverged, Stopping, Workspace};
use crate::stop::Stop;
use ndarray::{Array1, Array2};
use rayon::prelude::*;
use std::sync::{Mutex, PoisonError};
use std::time::Instant;

/// The iteration ends when its last step changes the energy by at most this share from [`FULL_FROM`] on; each step
/// leaves a small part of what the one before it changed. On coarser grids the share grows with the fourth power of
/// their error: a touch shift is off there by far more than what is left.
const ENERGY_SHARE: f64 = 1e-8;
/// The same for potentials that many answers are made of.
const EXACT_SHARE: f64 = 1e-13;
/// Systems of a state, solved side by side.
const SYSTEMS: usize = 2;
/// Fineness from which on an iteration is taken as far as it is worth.
const FULL_FROM: f64 = 0.7;

/// How an iteration starts and ends.
#[derive(Clone, Copy)]
pub(super) struct Iteration<'g> {
    /// Where it starts, drive by drive, where there is a guess of its length.
    pub guess: &'g [&'g [f64]],
    /// Fineness of the grid, which says how much error may be left.
    pub fineness: f64,
    /// A drive and conductors that are none: their charges at that drive are wanted.
    pub charges: (usize, &'g [u16]),
    /// Which drives have their couplings among each other taken from charges.
    pub apart: &'g [bool],
    /// Whether it is taken much farther than one answer is worth: what many answers are made of.
    pub is_exact: bool,
}

impl Iteration<'_> {
    /// Share of the energy that the last step may change.
    fn energy_share(&self) -> f64 {
        if self.is_exact {
            return EXACT_SHARE;
        }
        ENERGY_SHARE / (self.fineness / FULL_FROM).min(1.0).powi(8)
    }
}

/// Energies of one system, over vacuum permittivity.
pub(super) struct Part {
    pub outer: Array2<f64>,
    pub inner: Array2<f64>,
    pub material: Vec<Array2<f64>>,
    pub slack: Vec<f64>,
    pub iterations: Vec<usize>,
    pub residual: f64,
    pub slopes: Option<Slopes>,
    pub potentials: Vec<Vec<f64>>,
    /// Charges asked for ([`Iteration::charges`]), over vacuum permittivity.
    pub charges: Vec<f64>,
    /// Where its time went.
    pub phases: Phases,
}

impl Part {
    /// All but the potentials, and none of the time that it took.
    pub fn without_potentials(&self) -> Self {
        Self {
            outer: self.outer.clone(),
            inner: self.inner.clone(),
            material: self.material.clone(),
            slack: self.slack.clone(),
            iterations: self.iterations.clone(),
            residual: self.residual,
            slopes: self.slopes.clone(),
            potentials: Vec::new(),
            charges: Vec::new(),
            phases: Phases::default(),
        }
    }
}

impl Part {
    /// Couplings that no energy tells, from the charges that one conductor of a pair brings onto the other.
    fn couple(&mut self, system: &System, drives: &[u16], pairs: &Pairs) {
        if pairs.left_out().is_empty() {
            return;
        }
        let linked: Vec<Linked> = drives.iter().map(|&drive| system.linked(drive)).collect();
        for &(a, b) in pairs.left_out() {
            let charge = |on: usize, by: usize| linked[on].charge(&self.potentials[by], drives[by]);
            let coupling = 0.5 * (charge(b, a) + charge(a, b));
            for at in [[a, b], [b, a]] {
                (self.outer[at], self.inner[at]) = (coupling, coupling);
                // What is not told apart by material is given to the background.
                if let Some(background) = self.material.last_mut() {
                    background[at] = coupling;
                }
            }
        }
    }
}

/// What the energies of a system sum up to, over vacuum permittivity.
struct Summed {
    outer: Array2<f64>,
    inner: Array2<f64>,
    material: Vec<Array2<f64>>,
    slack: Vec<f64>,
    slopes: Option<Slopes>,
}

/// The network of nodes, which bounds from above.
pub(super) fn above(
    grid: &Grid,
    drives: &[u16],
    settings: &Settings,
    iteration: Iteration<'_>,
) -> Result<Part, NotConverged> {
    let start = Instant::now();
    let scheme = NodeScheme::new(grid);
    let summed = |potentials: &[Vec<f64>], pairs: &Pairs, mut rows: Option<RowSums>| {
        let energies = scheme.energies(grid, potentials, drives, pairs, rows.as_mut());
        let slopes = rows.map(|rows| node_slopes(grid, potentials, drives, pairs, &rows));
        Summed {
            outer: energies.node,
            inner: energies.trilinear,
            material: energies.material,
            slack: vec![0.0; drives.len()],
            slopes,
        }
    };
    solved(
        start,
        (grid, &scheme.system),
        drives,
        settings,
        iteration,
        summed,
    )
}

/// The network of cells, which bounds from below.
pub(super) fn below(
    grid: &Grid,
    drives: &[u16],
    settings: &Settings,
    iteration: Iteration<'_>,
) -> Result<Part, NotConverged> {
    let start = Instant::now();
    let scheme = CellScheme::new(grid);
    let summed = |potentials: &[Vec<f64>], pairs: &Pairs, mut rows: Option<RowSums>| {
        let energies = scheme.energies(grid, potentials, drives, pairs, rows.as_mut());
        let slopes = rows.map(|rows| cell_slopes(grid, &scheme, potentials, drives, pairs, &rows));
        Summed {
            outer: energies.cell,
            inner: energies.flux,
            material: energies.material,
            slack: energies.imbalance.iter().map(|i| 2.0 * i).collect(),
            slopes,
        }
    };
    solved(
        start,
        (grid, &scheme.system),
        drives,
        settings,
        iteration,
        summed,
    )
}

/// Solves a system, whose setting up began at `start`, for every drive, and has its energies summed.
fn solved(
    start: Instant,
    (grid, system): (&Grid, &System),
    drives: &[u16],
    settings: &Settings,
    iteration: Iteration<'_>,
    summed: impl FnOnce(&[Vec<f64>], &Pairs, Option<RowSums>) -> Summed,
) -> Result<Part, NotConverged> {
    let mut phases = Phases {
        set_up_s: start.elapsed().as_secs_f64(),
        ..Phases::default()
    };
    let (potentials, iterations, residual) =
        potentials(system, drives, iteration, settings.stop, &mut phases)?;
    let start = Instant::now();
    let pairs = Pairs::but_among(iteration.apart);
    let rows = settings.derivatives.then(|| RowSums::new(grid, &pairs));
    let Summed {
        outer,
        inner,
        material,
        slack,
        slopes,
    } = summed(&potentials, &pairs, rows);
    phases.energies_s = start.elapsed().as_secs_f64();
    let mut part = Part {
        phases,
        outer,
        inner,
        material,
        slack,
        iterations,
        residual,
        slopes,
        charges: charges(system, &potentials, drives, iteration),
        potentials,
    };
    part.couple(system, drives, &pairs);
    Ok(part)
}

/// The charges an iteration is asked for.
fn charges(
    system: &System,
    potentials: &[Vec<f64>],
    drives: &[u16],
    iteration: Iteration<'_>,
) -> Vec<f64> {
    let (drive, conductors) = iteration.charges;
    let conductors = conductors.iter().map(|&conductor| system.linked(conductor));
    let charge = |linked: Linked| linked.charge(&potentials[drive], drives[drive]);
    conductors.map(charge).collect()
}

/// Potentials of every drive, iterations, largest residual.
pub(super) type Found = (Vec<Vec<f64>>, Vec<usize>, f64);

/// Solves for every drive.
pub(super) fn potentials(
    system: &System,
    drives: &[u16],
    iteration: Iteration<'_>,
    stop: Stop,
    phases: &mut Phases,
) -> Result<Found, NotConverged> {
    let start = Instant::now();
    let hierarchy = match stop.asked() {
        true => None,
        false => Hierarchy::until(stop, &system.network),
    };
    let Some(hierarchy) = hierarchy else {
        return Err(NotConverged {
            history: Vec::new(),
        });
    };
    phases.set_up_s += start.elapsed().as_secs_f64();
    let start = Instant::now();
    // The other system of the pair has as many.
    let idle = SYSTEMS * drives.len() < rayon::current_num_threads();
    // As many as are solved at once: making one costs as much as a sweep.
    let free: Mutex<Vec<Workspace>> = Mutex::default();
    let taken = || free.lock().unwrap_or_else(PoisonError::into_inner);
    let solved: Vec<(Vec<f64>, usize, f64)> = drives
        .par_iter()
        .enumerate()
        .map(|(d, &driven)| {
            let (b, start) = system.drive(driven);
            let mut x = match iteration.guess.get(d) {
                Some(guess) if guess.len() == b.len() => system.free_part(guess),
                _ => vec![0.0; b.len()],
            };
            let stopping = Stopping::Energy {
                share: iteration.energy_share(),
                start,
            };
            let left = taken().pop();
            let mut work = left.unwrap_or_else(|| hierarchy.workspace_until(stop, idle));
            let solved = multigrid::solve(&hierarchy, &mut work, &b, &mut x, stopping)?;
            taken().push(work);
            system.complete(&mut x, driven);
            Ok((x, solved.iterations, solved.residual))
        })
        .collect::<Result<_, NotConverged>>()?;
    phases.iterations_s = start.elapsed().as_secs_f64();
    let residual = solved.iter().map(|s| s.2).fold(0.0, f64::max);
    let iterations = solved.iter().map(|s| s.1).collect();
    Ok((
        solved.into_iter().map(|s| s.0).collect(),
        iterations,
        residual,
    ))
}

/// Mean of the derivatives of the two networks.
pub(super) fn derivatives(
    grid: &Grid,
    above: &Part,
    below: &Part,
    scale: f64,
) -> Option<Derivatives> {
    let (high, low) = (above.slopes.as_ref()?, below.slopes.as_ref()?);
    let permittivity = (0..grid.permittivity.len())
        .map(|m| {
            let sum = &high.permittivity[m] + &low.permittivity[m];
            sum * (0.5 * scale / grid.permittivity[m])
        })
        .collect();
    let mut segments = Vec::new();
    for axis in 0..grid.dimensions() {
        let nodes = &grid.axes[axis].nodes_m;
        for (s, ends) in grid.axes[axis].lines.windows(2).enumerate() {
            let (low_m, high_m) = (nodes[ends[0]], nodes[ends[1]]);
            segments.push(SegmentDerivative {
                axis,
                low_m,
                high_m,
                derivative: (&high.segments[axis][s] + &low.segments[axis][s])
                    * (0.5 * scale / (high_m - low_m)),
            });
        }
    }
    Some(Derivatives {
        permittivity,
        segments,
    })
}

/// The four energies of a state whose rows look so.
pub(super) fn combine(looks: Looks, above: &Part, below: &Part, scale: f64) -> Energies {
    let drives = above.outer.nrows();
    let materials = above.material.len();
    let mut share = Array2::zeros((drives, materials));
    for m in 0..materials {
        let sum: Array1<f64> = (0..drives)
            .map(|i| {
                let mean = |part: &Part| {
                    part.material[m][[i, i]] / part.outer[[i, i]].max(f64::MIN_POSITIVE)
                };
                0.5 * (mean(above) + mean(below))
            })
            .collect();
        share.column_mut(m).assign(&sum);
    }
    Energies {
        looks,
        node: &above.outer * scale,
        trilinear: &above.inner * scale,
        flux: &below.inner * scale,
        cell: &below.outer * scale,
        flux_slack: below.slack.iter().map(|s| s * scale).collect(),
        share,
    }
}
