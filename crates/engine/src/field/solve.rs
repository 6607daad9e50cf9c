//! The way from a case to its answer: mirror planes, grid, four systems, refinement.

use super::answer::{
    Accuracy, Derivatives, FieldAnswer, FieldError, GridSummary, Potentials, SegmentDerivative,
    Settings, Shift, SolverSummary,
};
use super::bounds::Energies;
use super::cell_scheme::CellScheme;
use super::derivatives::{RowSums, Slopes, cell_slopes, node_slopes};
use super::judge::{Goal, SMALL_SHIFT};
use super::mirror::{Halved, halve};
use super::node_scheme::NodeScheme;
use super::room::Load;
use super::system::System;
use super::validate::validate;
use crate::case::{Case, Kind};
use crate::grid::{Axis, Grid, axes_until, family_axes, least_nodes};
use crate::multigrid::{self, Hierarchy, NotConverged, Stopping};
use crate::stop::Stop;
use crate::units::VACUUM_PERMITTIVITY;
use ndarray::{Array1, Array2};
use rayon::prelude::*;
use std::sync::Arc;
use std::time::Instant;

/// Fineness M to start with in the plane and in volumes, and the accuracy each was chosen for: it is
/// reached there without a second round on most panels. Looser demands start coarser, as errors fall
/// with M^-2, down to the least fineness.
const START_PLANE: Start = Start {
    fineness: 3.0,
    accuracy: 0.005,
    least: 1.0,
};
const START_VOLUME: Start = Start {
    fineness: 1.0,
    accuracy: 0.01,
    least: 0.7,
};
/// Rounds of refinement before the accuracy is reported as not reached.
const MOST_ROUNDS: usize = 6;
/// The iteration ends when its last step changes the energy by at most this share.
const ENERGY_SHARE: f64 = 1e-8;

/// Up to so many nodes an axis is graded first and its grid counted exactly; beyond, the least it can have
/// is counted first, because grading takes seconds and more.
const QUICKLY_GRADED: f64 = 500.0;

/// Below every fineness that is solved: what is counted at it is lines.
const LEAST_FINENESS: f64 = 0.01;

/// Where refinement starts.
struct Start {
    fineness: f64,
    accuracy: f64,
    least: f64,
}

impl Start {
    fn to_reach(&self, accuracy: f64) -> f64 {
        let looser = (self.accuracy / accuracy).sqrt().min(1.0);
        (self.fineness * looser).max(self.least)
    }
}

/// Solves a case and, when `without` names what comes and goes ([`Case::without`]), the same case
/// without that on the same grid.
///
/// `progress` receives one line of text now and then; it may be called from several threads.
/// The answer has the same bits for any number of threads.
///
/// # Errors
/// See [`FieldError`].
pub fn solve(
    case: &Case,
    without: Option<&str>,
    settings: &Settings,
    progress: &(dyn Fn(&str) + Sync + '_),
) -> Result<FieldAnswer, FieldError> {
    let start = Instant::now();
    validate(case)?;
    if let Some(name) = without.filter(|name| !case.can_leave(name)) {
        return Err(FieldError::Invalid(format!(
            "there is no conductor {name:?} to leave out"
        )));
    }
    let drives = driven(case, settings)?;
    // Looking for mirror planes paints the case: not one whose half in every axis would not fit.
    let fits_in_half = |case: &Case| {
        let least = least_nodes(case, LEAST_FINENESS);
        match least.iter().any(|nodes| *nodes > QUICKLY_GRADED) {
            true => Load::new(case, drives.len(), without.is_some(), settings)
                .is_within_cap(least.map(|nodes| (0.5 * nodes).max(1.0))),
            false => Ok(()),
        }
    };
    fits_in_half(case)?;
    let halved = if settings.use_symmetry {
        halve(settings.stop, case)
    } else {
        whole(case)
    };
    let family = settings.family.as_deref();
    let family = family.filter(|reference| fits_in_half(reference).is_ok());
    let family = family.map(|reference| {
        if settings.use_symmetry {
            halve(settings.stop, reference)
        } else {
            whole(reference)
        }
    });
    // A reference with other mirror planes has another domain: no family.
    let family = family.filter(|f| f.mirrors == halved.mirrors && f.case.kind == case.kind);
    let start_at = if case.kind == Kind::Volume {
        START_VOLUME
    } else {
        START_PLANE
    };
    let mut goal = Goal::new(settings);
    let usual = start_at.to_reach(settings.accuracy);
    let mut fineness = settings.start_fineness.unwrap_or(match case.kind {
        Kind::Volume if case.has_shapes() => goal.start(usual, SHAPE_SHARE),
        _ => usual,
    });
    let mut best: Option<FieldAnswer> = None;
    let load = Load::new(&halved.case, drives.len(), without.is_some(), settings);
    let graded = |fineness: f64| {
        let fits = |case: &Case| match least_nodes(case, fineness) {
            many if many.iter().any(|nodes| *nodes > QUICKLY_GRADED) => load.is_within_cap(many),
            _ => Ok(()),
        };
        fits(&halved.case)?;
        // A reference whose own grid would not fit gives no pattern.
        Ok(match family.as_ref().filter(|f| fits(&f.case).is_ok()) {
            Some(reference) => family_axes(settings.stop, &halved.case, &reference.case, fineness),
            None => axes_until(settings.stop, &halved.case, fineness),
        })
    };
    for round in 0..MOST_ROUNDS {
        if settings.stop.asked() {
            return Err(FieldError::Interrupted);
        }
        let solved = graded(fineness)
            .and_then(|axes| refine(&halved, axes, without, &drives, settings, fineness));
        match solved {
            Ok(mut answer) => {
                answer.solver.seconds = start.elapsed().as_secs_f64();
                let finer = goal.next(&mut answer);
                progress(&format!(
                    "round {}: {} cells, estimated error {:.3} %, asked {:.3} %",
                    round + 1,
                    answer.grid.cells,
                    100.0 * answer.accuracy.estimated,
                    100.0 * answer.accuracy.asked
                ));
                let Some(finer) = finer else {
                    return Ok(answer);
                };
                fineness *= finer;
                best = Some(answer);
            }
            // The start for round outlines may be too fine for a cap that lets the usual one through.
            Err(FieldError::TooLarge { .. } | FieldError::NoMemory { .. })
                if best.is_none() && settings.start_fineness.is_none() && fineness > usual =>
            {
                fineness = usual;
            }
            // What the memory allowed is an answer that did not reach the accuracy.
            Err(error @ (FieldError::TooLarge { .. } | FieldError::NoMemory { .. })) => {
                return best.ok_or(error);
            }
            Err(error) => return Err(error),
        }
    }
    best.ok_or_else(|| FieldError::Invalid("no grid was solved".into()))
}

/// A case none of whose mirror planes is used.
fn whole(case: &Case) -> Halved {
    Halved {
        case: case.clone(),
        factor: 1.0,
        mirrors: Vec::new(),
    }
}

/// Case indices of the conductors that get a row.
fn driven(case: &Case, settings: &Settings) -> Result<Vec<usize>, FieldError> {
    match &settings.drive {
        None => Ok((0..case.conductors.len()).collect()),
        Some(names) => names
            .iter()
            .map(|name| {
                case.conductors
                    .iter()
                    .position(|c| &c.name == name)
                    .ok_or_else(|| {
                        FieldError::Invalid(format!("there is no conductor {name:?} to drive"))
                    })
            })
            .collect(),
    }
}

/// One of the systems of a grid.
struct Task {
    grid: usize,
    from_above: bool,
}

/// Energies of one system, over vacuum permittivity.
struct Part {
    outer: Array2<f64>,
    inner: Array2<f64>,
    material: Vec<Array2<f64>>,
    slack: Vec<f64>,
    iterations: Vec<usize>,
    residual: f64,
    slopes: Option<Slopes>,
    potentials: Vec<Vec<f64>>,
}

fn refine(
    halved: &Halved,
    axes: [Axis; 3],
    without: Option<&str>,
    drives: &[usize],
    settings: &Settings,
    fineness: f64,
) -> Result<FieldAnswer, FieldError> {
    let case = &halved.case;
    let cells: usize = axes.iter().map(|a| a.cells().max(1)).product();
    Load::new(case, drives.len(), without.is_some(), settings).check(&axes)?;
    let full = Grid::paint_until(settings.stop, case, axes.clone());
    if settings.stop.asked() {
        return Err(FieldError::Interrupted);
    }
    let mut grids = vec![(full, drives.iter().map(|&d| d as u16).collect::<Vec<_>>())];
    // Rows that both states have: all, unless a conductor goes that is among them.
    let gone = without.and_then(|name| case.conductors.iter().position(|c| c.name == name));
    let keep: Vec<usize> = (0..drives.len())
        .filter(|&i| Some(drives[i]) != gone)
        .collect();
    if let Some(name) = without {
        let mut grid = Grid::paint_until(settings.stop, &case.without(name), axes.clone());
        grid.open_span_m = grids[0].0.open_span_m;
        let index = |d: usize| d - usize::from(gone.is_some_and(|gone| d > gone));
        let others = keep.iter().map(|&i| index(drives[i]) as u16).collect();
        grids.push((grid, others));
    }
    let tasks: Vec<Task> = (0..grids.len())
        .flat_map(|grid| [true, false].map(|from_above| Task { grid, from_above }))
        .collect();
    let shape: Vec<usize> = (0..case.kind.dimensions())
        .map(|d| axes[d].cells())
        .collect();
    let guesses = settings
        .first_guess
        .as_ref()
        .filter(|guess| guess.shape == shape && guess.systems.len() == tasks.len());
    let mut parts: Vec<Part> = tasks
        .par_iter()
        .enumerate()
        .map(|(t, task)| {
            let (grid, drives) = &grids[task.grid];
            let guess = guesses.map(|guesses| &guesses.systems[t][..]);
            if task.from_above {
                above(grid, drives, settings, guess)
            } else {
                below(grid, drives, settings, guess)
            }
        })
        .collect::<Result<_, NotConverged>>()
        .map_err(|e| match settings.stop.asked() {
            true => FieldError::Interrupted,
            false => FieldError::NotConverged { history: e.history },
        })?;
    if settings.stop.asked() {
        return Err(FieldError::Interrupted);
    }
    let potentials = settings.keep_potentials.then(|| {
        Arc::new(Potentials {
            shape: shape.clone(),
            systems: parts
                .iter_mut()
                .map(|part| std::mem::take(&mut part.potentials))
                .collect(),
        })
    });
    let scale = VACUUM_PERMITTIVITY * halved.factor;
    let energies: Vec<Energies> = parts
        .chunks(2)
        .map(|pair| combine(&pair[0], &pair[1], scale))
        .collect();
    let names: Vec<String> = drives
        .iter()
        .map(|&d| case.conductors[d].name.clone())
        .collect();
    let outline = shape_share(&grids[0].0, fineness);
    let with = energies[0].bounded(names.clone(), outline);
    let relative = |value: &Array2<f64>, error: &Array2<f64>| {
        value
            .diag()
            .iter()
            .zip(error.diag())
            .map(|(v, e)| if *v != 0.0 { (e / v).abs() } else { 0.0 })
            .fold(0.0, f64::max)
    };
    // Shapes have an error of their own that refinement of the whole grid lowers slowly: it is
    // printed, but the grid is chosen by the rest.
    let mut estimated = relative(&with.value, &energies[0].estimated_error(outline > 0.0));
    let shift = without.map(|without| {
        let difference = energies[0].select(&keep).minus(&energies[1]);
        let value = difference.value();
        let error = difference.estimated_error(outline > 0.0);
        estimated = estimated.max(relevant_shift_error(&value, &error));
        let absent_shape = shape_share(&grids[1].0, fineness);
        let absent_error = energies[1].estimated_error(absent_shape > 0.0);
        estimated = estimated.max(relative(&energies[1].value(), &absent_error));
        let shape_term = super::bounds::shape_term(&value, outline);
        let others: Vec<String> = keep.iter().map(|&i| names[i].clone()).collect();
        Shift {
            conductor: without.to_owned(),
            without: energies[1].bounded(others, absent_shape),
            shift: value,
            estimated_error: error + &shape_term,
            shape_term,
        }
    });
    let mut by_permittivity = parts.chunks(2).map(|pair| {
        let (above, below) = (&pair[0].material, &pair[1].material);
        let both = above.iter().zip(below);
        both.map(|(above, below)| (above + below) * (0.5 * scale))
            .collect::<Vec<_>>()
    });
    let by_permittivity_with = by_permittivity.next().unwrap_or_default();
    let by_permittivity_without = by_permittivity.next().unwrap_or_default();
    let mut derivatives = parts
        .chunks(2)
        .zip(&grids)
        .map(|(pair, (grid, _))| derivatives(grid, &pair[0], &pair[1], scale));
    let derivatives_with = derivatives.next().flatten();
    let derivatives_without = derivatives.next().flatten();
    Ok(FieldAnswer {
        with,
        shift,
        by_permittivity: by_permittivity_with,
        by_permittivity_without,
        derivatives: derivatives_with,
        derivatives_without,
        grid: GridSummary {
            cells,
            shape,
            fineness,
            mirrors: halved.mirrors.clone(),
        },
        solver: SolverSummary {
            iterations: parts.iter().flat_map(|p| p.iterations.clone()).collect(),
            residual: parts.iter().map(|p| p.residual).fold(0.0, f64::max),
            seconds: 0.0,
        },
        accuracy: Accuracy {
            asked: settings.accuracy,
            estimated,
            reached: estimated <= settings.accuracy,
            of_entries: estimated,
            missed: Vec::new(),
        },
        potentials,
    })
}

/// Largest relative error of a diagonal shift, leaving out shifts so small beside the largest that
/// no one designs with them to this accuracy; their own bar is printed all the same.
fn relevant_shift_error(value: &Array2<f64>, error: &Array2<f64>) -> f64 {
    let largest = value.diag().iter().fold(0.0_f64, |a, v| a.max(v.abs()));
    value
        .diag()
        .iter()
        .zip(error.diag())
        .map(|(v, e)| {
            if largest > 0.0 {
                e / v.abs().max(SMALL_SHIFT * largest)
            } else {
                0.0
            }
        })
        .fold(0.0, f64::max)
}

/// Relative uncertainty of outlines off the grid at fineness 1.
///
/// Measured against twins, pads of 12 mm 1.6 mm above a plane, fineness 1 / 2 / 4, in %: base of a
/// disc +0.1 / 0.0 / 0.0; its shift under a domed finger -0.6 / -0.3 / -0.1, under a cylinder
/// -0.3 / -0.2 / -0.1; squares turned by 5 to 45 degrees, worst, -0.5 / -0.4 / -0.3
/// (`crates/engine/tests/turned.rs`).
const SHAPE_SHARE: f64 = 0.008;

/// Relative uncertainty that round and slanted outlines add.
fn shape_share(grid: &Grid, fineness: f64) -> f64 {
    if grid.has_shapes {
        SHAPE_SHARE / fineness.max(1.0)
    } else {
        0.0
    }
}

fn above(
    grid: &Grid,
    drives: &[u16],
    settings: &Settings,
    guess: Option<&[Vec<f64>]>,
) -> Result<Part, NotConverged> {
    let scheme = NodeScheme::new(grid);
    let (potentials, iterations, residual) =
        potentials(&scheme.system, drives, guess, settings.stop)?;
    let mut rows = settings
        .derivatives
        .then(|| RowSums::new(grid, drives.len()));
    let energies = scheme.energies(grid, &potentials, drives, rows.as_mut());
    let slopes = rows
        .as_ref()
        .map(|rows| node_slopes(grid, &potentials, drives, rows));
    Ok(Part {
        outer: energies.node,
        inner: energies.trilinear,
        material: energies.material,
        slack: vec![0.0; drives.len()],
        iterations,
        residual,
        slopes,
        potentials,
    })
}

fn below(
    grid: &Grid,
    drives: &[u16],
    settings: &Settings,
    guess: Option<&[Vec<f64>]>,
) -> Result<Part, NotConverged> {
    let scheme = CellScheme::new(grid);
    let (potentials, iterations, residual) =
        potentials(&scheme.system, drives, guess, settings.stop)?;
    let mut rows = settings
        .derivatives
        .then(|| RowSums::new(grid, drives.len()));
    let energies = scheme.energies(grid, &potentials, drives, rows.as_mut());
    let slopes = rows
        .as_ref()
        .map(|rows| cell_slopes(grid, &scheme, &potentials, drives, rows));
    Ok(Part {
        outer: energies.cell,
        inner: energies.flux,
        material: energies.material,
        slack: energies.imbalance.iter().map(|i| 2.0 * i).collect(),
        iterations,
        residual,
        slopes,
        potentials,
    })
}

/// Potentials of every drive, iterations, largest residual.
type Found = (Vec<Vec<f64>>, Vec<usize>, f64);

/// Solves for every drive, starting from `guess` where it fits.
fn potentials(
    system: &System,
    drives: &[u16],
    guess: Option<&[Vec<f64>]>,
    stop: Stop,
) -> Result<Found, NotConverged> {
    let hierarchy = match stop.asked() {
        true => None,
        false => Hierarchy::until(stop, &system.network),
    };
    let Some(hierarchy) = hierarchy else {
        return Err(NotConverged {
            history: Vec::new(),
        });
    };
    let solved: Vec<(Vec<f64>, usize, f64)> = drives
        .par_iter()
        .enumerate()
        .map_init(
            || hierarchy.workspace_until(stop),
            |work, (d, &driven)| {
                let (b, start) = system.drive(driven);
                let mut x = match guess.and_then(|guess| guess.get(d)) {
                    Some(guess) if guess.len() == b.len() => system.free_part(guess),
                    _ => vec![0.0; b.len()],
                };
                let stopping = Stopping::Energy {
                    share: ENERGY_SHARE,
                    start,
                };
                let solved = multigrid::solve(&hierarchy, work, &b, &mut x, stopping)?;
                system.complete(&mut x, driven);
                Ok((x, solved.iterations, solved.residual))
            },
        )
        .collect::<Result<_, NotConverged>>()?;
    let residual = solved.iter().map(|s| s.2).fold(0.0, f64::max);
    let iterations = solved.iter().map(|s| s.1).collect();
    Ok((
        solved.into_iter().map(|s| s.0).collect(),
        iterations,
        residual,
    ))
}

/// Mean of the derivatives of the two networks.
fn derivatives(grid: &Grid, above: &Part, below: &Part, scale: f64) -> Option<Derivatives> {
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

fn combine(above: &Part, below: &Part, scale: f64) -> Energies {
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
        node: &above.outer * scale,
        trilinear: &above.inner * scale,
        flux: &below.inner * scale,
        cell: &below.outer * scale,
        flux_slack: below.slack.iter().map(|s| s * scale).collect(),
        share,
    }
}
