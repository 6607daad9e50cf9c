//! One round: a grid, the states of the case on it, their systems, the answer.

use super::answer::{
    Accuracy, Bounded, FieldAnswer, FieldError, GridSummary, Potentials, Settings, Shift,
    SolverSummary,
};
use super::bounds::{Energies, shape_term};
use super::judge::SMALL_SHIFT;
use super::mirror::Halved;
use super::part::{Part, above, below, combine, derivatives};
use super::room::Load;
use crate::case::Case;
use crate::grid::{Axis, Grid};
use crate::multigrid::NotConverged;
use crate::units::VACUUM_PERMITTIVITY;
use ndarray::Array2;
use rayon::prelude::*;
use std::sync::Arc;

/// The case, or the case without what comes and goes, on the grid of the round.
struct State {
    grid: Grid,
    /// Conductors that have a row, as the grid counts them.
    drives: Vec<u16>,
    /// The same as rows of the first state.
    rows: Vec<usize>,
    /// Their names.
    names: Vec<String>,
}

impl State {
    /// Its matrix with the error bar that fits its outlines.
    fn bounded(&self, energies: &Energies, fineness: f64) -> Bounded {
        energies.bounded(self.names.clone(), shape_share(&self.grid, fineness))
    }

    /// Estimated error that a finer grid lowers. Shapes have an error of their own that refinement of the whole
    /// grid lowers slowly: it is printed, but the grid is chosen by the rest.
    fn refinable_error(&self, energies: &Energies) -> Array2<f64> {
        energies.estimated_error(self.grid.has_shapes)
    }
}

/// Solves a case on one grid: that of these axes.
pub(super) fn refine(
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
    let dimensions = case.kind.dimensions();
    let shape: Vec<usize> = axes[..dimensions].iter().map(Axis::cells).collect();
    let states = states(case, axes, without, drives, settings)?;
    let mut parts = solved(&states, &shape, settings)?;
    let potentials = settings.keep_potentials.then(|| {
        let systems = parts.iter_mut();
        Arc::new(Potentials {
            shape: shape.clone(),
            systems: systems
                .map(|part| std::mem::take(&mut part.potentials))
                .collect(),
        })
    });
    let scale = VACUUM_PERMITTIVITY * halved.factor;
    let pairs = || parts.chunks(2).map(|pair| (&pair[0], &pair[1]));
    let energies: Vec<Energies> = pairs()
        .map(|(above, below)| combine(above, below, scale))
        .collect();
    let (shift, estimated) = judged(&states, &energies, without, fineness);
    let mut by_permittivity = pairs().map(|(above, below)| {
        let both = above.material.iter().zip(&below.material);
        both.map(|(above, below)| (above + below) * (0.5 * scale))
            .collect::<Vec<_>>()
    });
    let mut derivatives = pairs()
        .zip(&states)
        .map(|((above, below), state)| derivatives(&state.grid, above, below, scale));
    Ok(FieldAnswer {
        with: states[0].bounded(&energies[0], fineness),
        shift,
        by_permittivity: by_permittivity.next().unwrap_or_default(),
        by_permittivity_without: by_permittivity.next().unwrap_or_default(),
        derivatives: derivatives.next().flatten(),
        derivatives_without: derivatives.next().flatten(),
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
        accuracy: Accuracy::of_entries(estimated, settings.accuracy),
        potentials,
    })
}

/// The states, painted on one grid.
fn states(
    case: &Case,
    axes: [Axis; 3],
    without: Option<&str>,
    drives: &[usize],
    settings: &Settings,
) -> Result<Vec<State>, FieldError> {
    let state = |grid: Grid, rows: Vec<usize>, index: &dyn Fn(usize) -> usize| State {
        grid,
        drives: rows.iter().map(|&i| index(drives[i]) as u16).collect(),
        names: rows
            .iter()
            .map(|&i| case.conductors[drives[i]].name.clone())
            .collect(),
        rows,
    };
    let full = Grid::paint_until(settings.stop, case, axes.clone());
    if settings.stop.asked() {
        return Err(FieldError::Interrupted);
    }
    let open_span_m = full.open_span_m;
    let mut states = vec![state(full, (0..drives.len()).collect(), &|drive| drive)];
    if let Some(name) = without {
        // Rows that both states have: all, unless a conductor goes that is among them.
        let gone = case.conductors.iter().position(|c| c.name == name);
        let rows = (0..drives.len()).filter(|&i| Some(drives[i]) != gone);
        let mut grid = Grid::paint_until(settings.stop, &case.without(name), axes);
        grid.open_span_m = open_span_m;
        states.push(state(grid, rows.collect(), &|drive| {
            drive - usize::from(gone.is_some_and(|gone| drive > gone))
        }));
    }
    Ok(states)
}

/// The systems of all states, two each: above, then below.
fn solved(states: &[State], shape: &[usize], settings: &Settings) -> Result<Vec<Part>, FieldError> {
    let systems: Vec<(&State, bool)> = states
        .iter()
        .flat_map(|state| [true, false].map(|from_above| (state, from_above)))
        .collect();
    let guesses = settings
        .first_guess
        .as_ref()
        .filter(|guess| guess.shape == shape && guess.systems.len() == systems.len());
    let parts: Result<Vec<Part>, NotConverged> = systems
        .par_iter()
        .enumerate()
        .map(|(t, (state, from_above))| {
            let guess = guesses.map(|guesses| &guesses.systems[t][..]);
            match from_above {
                true => above(&state.grid, &state.drives, settings, guess),
                false => below(&state.grid, &state.drives, settings, guess),
            }
        })
        .collect();
    match parts {
        _ if settings.stop.asked() => Err(FieldError::Interrupted),
        Ok(parts) => Ok(parts),
        Err(error) => Err(FieldError::NotConverged {
            history: error.history,
        }),
    }
}

/// The shift between the states, where there are two, and the largest estimated error that counts.
fn judged(
    states: &[State],
    energies: &[Energies],
    without: Option<&str>,
    fineness: f64,
) -> (Option<Shift>, f64) {
    let each = states.iter().zip(energies);
    let estimated = each
        .map(|(state, own)| relative_error(&own.value(), &state.refinable_error(own)))
        .fold(0.0, f64::max);
    let (Some(conductor), [full, absent], [with, less]) = (without, states, energies) else {
        return (None, estimated);
    };
    let difference = with.select(&absent.rows).minus(less);
    let shift = difference.value();
    let error = full.refinable_error(&difference);
    let estimated = estimated.max(relevant_shift_error(&shift, &error));
    let shape_term = shape_term(&shift, shape_share(&full.grid, fineness));
    let shift = Shift {
        conductor: conductor.to_owned(),
        without: absent.bounded(less, fineness),
        shift,
        estimated_error: error + &shape_term,
        shape_term,
    };
    (Some(shift), estimated)
}

/// Largest relative error of a diagonal.
fn relative_error(value: &Array2<f64>, error: &Array2<f64>) -> f64 {
    let both = value.diag().into_iter().zip(error.diag());
    both.map(|(v, e)| if *v != 0.0 { (e / v).abs() } else { 0.0 })
        .fold(0.0, f64::max)
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
pub(super) const SHAPE_SHARE: f64 = 0.008;

/// Relative uncertainty that round and slanted outlines add.
fn shape_share(grid: &Grid, fineness: f64) -> f64 {
    if grid.has_shapes {
        SHAPE_SHARE / fineness.max(1.0)
    } else {
        0.0
    }
}
