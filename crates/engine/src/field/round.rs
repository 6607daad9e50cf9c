//! One round: a grid, the states of the case on it, their systems, the answer.

use super::answer::{
    Accuracy, Bounded, FieldAnswer, FieldError, GridSummary, Phases, Potentials, Settings, Shift,
    SolverSummary,
};
use super::bounds::{Energies, Looks, Resolution, outline_share, shape_term};
use super::judge::{SMALL_SHIFT, outlines_over_those_at_one};
use super::mirror::Halved;
use super::part::{Iteration, Part, above, below, combine, derivatives};
use super::roaming::Roaming;
use super::room::Load;
use super::unseen::Unseen;
use crate::case::{Case, Kind, Solid};
use crate::grid::{Axis, Grid};
use crate::multigrid::NotConverged;
use crate::units::VACUUM_PERMITTIVITY;
use ndarray::Array2;
use rayon::prelude::*;
use std::sync::Arc;

/// The case, or the case without what comes and goes, on the grid of the round.
pub(super) struct State {
    /// Relative uncertainty that its outlines add at fineness 1.
    outlines: f64,
    /// Conductors that have a row, as the grid counts them.
    pub drives: Vec<u16>,
    /// The same as rows of the first state.
    pub rows: Vec<usize>,
    /// Their names.
    names: Vec<String>,
    /// What they are like.
    pub looks: Looks,
}

impl State {
    /// Relative uncertainty that its outlines add.
    fn outlines_at(&self, fineness: f64) -> f64 {
        self.outlines * outlines_over_those_at_one(fineness)
    }

    /// Its matrix with the error bar that fits its outlines.
    fn bounded(&self, energies: &Energies, rows: &[Resolution], fineness: f64) -> Bounded {
        energies.bounded(self.names.clone(), self.outlines_at(fineness), rows)
    }
}

/// How well each state is resolved: where there are two, what both share counts as in the second, so that what both
/// err by cancels in their difference.
fn resolutions(states: &[State], energies: &[Energies]) -> Vec<Vec<Resolution>> {
    let mut all: Vec<Vec<Resolution>> = energies.iter().map(Energies::resolutions).collect();
    if let [full, absent] = &mut all[..] {
        for (&row, &shared) in states[1].rows.iter().zip(absent.iter()) {
            full[row] = shared;
        }
    }
    all
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
    Load::new(case, drives.len(), without, settings).check(&axes)?;
    let dimensions = case.kind.dimensions();
    let shape: Vec<usize> = axes[..dimensions].iter().map(Axis::cells).collect();
    let states = states(case, without, drives, &settings.apart);
    let grids = grids(case, axes, without, settings)?;
    let (mut parts, bounded) = match (settings.roaming(without), &states[..]) {
        (Some(roaming), [full, absent]) => {
            around_absent(case, &grids[0], [full, absent], roaming, settings, fineness)?
        }
        _ => (solved(&states, &grids, &shape, settings, fineness)?, None),
    };
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
        .zip(&states)
        .map(|((above, below), state)| combine(state.looks.clone(), above, below, scale))
        .collect();
    let Entries {
        mut with,
        mut shift,
        estimated,
    } = entries(&states, &energies, without, fineness);
    if let (Some(error), Some(shift)) = (bounded, &mut shift) {
        let error = error * scale;
        let rows = &states[1].rows;
        shift.estimated_error += &error
            .select(ndarray::Axis(0), rows)
            .select(ndarray::Axis(1), rows);
        with.widen(&error);
    }
    let mut by_permittivity = pairs().map(|(above, below)| {
        let both = above.material.iter().zip(&below.material);
        both.map(|(above, below)| (above + below) * (0.5 * scale))
            .collect::<Vec<_>>()
    });
    let mut derivatives = pairs().map(|(above, below)| derivatives(&grids[0], above, below, scale));
    Ok(FieldAnswer {
        with,
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
            phases: parts
                .iter()
                .map(|part| part.phases)
                .fold(Phases::default(), |a, b| a + b),
        },
        accuracy: Accuracy::of_entries(estimated, settings.accuracy),
        potentials,
    })
}

/// The entries of the matrices of an answer.
pub(super) struct Entries {
    pub with: Bounded,
    pub shift: Option<Shift>,
    /// Largest relative estimated error of those that count.
    pub estimated: f64,
}

/// The entries that the energies of all states tell.
pub(super) fn entries(
    states: &[State],
    energies: &[Energies],
    without: Option<&str>,
    fineness: f64,
) -> Entries {
    let resolutions = resolutions(states, energies);
    let (shift, estimated) = judged(states, energies, &resolutions, without, fineness);
    let mut with = states[0].bounded(&energies[0], &resolutions[0], fineness);
    // A diagonal with what comes and goes is the one without it and the shift.
    if let [full, absent] = energies {
        let rows = &states[1].rows;
        let diagonals = full.select(rows).diagonals_on(absent, &resolutions[1]);
        for (&row, [value, error]) in rows.iter().zip(diagonals) {
            let at = [row, row];
            with.value[at] = value;
            with.estimated_error[at] = error + with.shape_term[at];
        }
    }
    Entries {
        with,
        shift,
        estimated,
    }
}

/// The states: all there is, then the same without what comes and goes.
pub(super) fn states(
    case: &Case,
    without: Option<&str>,
    drives: &[usize],
    apart: &[String],
) -> Vec<State> {
    let state = |case_of: &Case, rows: Vec<usize>, index: &dyn Fn(usize) -> usize| State {
        outlines: outline_share(case_of),
        looks: Looks {
            is_apart: case.kind == Kind::Volume && !is_slanted(case),
            are_round: rows
                .iter()
                .map(|&row| {
                    let solids = &case.conductors[drives[row]].solids;
                    solids.iter().any(|solid| matches!(solid, Solid::Round(_)))
                })
                .collect(),
            apart: rows
                .iter()
                .map(|&row| apart.contains(&case.conductors[drives[row]].name))
                .collect(),
        },
        drives: rows.iter().map(|&i| index(drives[i]) as u16).collect(),
        names: rows
            .iter()
            .map(|&i| case.conductors[drives[i]].name.clone())
            .collect(),
        rows,
    };
    let mut states = vec![state(case, (0..drives.len()).collect(), &|drive| drive)];
    if let Some(name) = without {
        // Rows that both states have: all, unless a conductor goes that is among them.
        let gone = case.conductors.iter().position(|c| c.name == name);
        let rows = (0..drives.len()).filter(|&i| Some(drives[i]) != gone);
        states.push(state(&case.without(name), rows.collect(), &|drive| {
            drive - usize::from(gone.is_some_and(|gone| drive > gone))
        }));
    }
    states
}

/// Whether any outline of it is slanted.
fn is_slanted(case: &Case) -> bool {
    let mut solids = case.conductors.iter().flat_map(|c| &c.solids);
    solids.any(|solid| matches!(solid, Solid::Prism(_)))
}

/// The states, painted on one grid; not the one without what roams, which may be known without it.
fn grids(
    case: &Case,
    axes: [Axis; 3],
    without: Option<&str>,
    settings: &Settings,
) -> Result<Vec<Grid>, FieldError> {
    let mut grids = vec![Grid::paint_until(settings.stop, case, axes)];
    if settings.stop.asked() {
        return Err(FieldError::Interrupted);
    }
    if let Some(roaming) = settings.roaming(without) {
        roaming.widen_span(case, &mut grids[0].open_span_m);
    }
    if let Some(name) = without.filter(|_| settings.roaming(without).is_none()) {
        let full = &grids[0];
        let axes = full.axes.clone();
        let mut grid = Grid::paint_until(settings.stop, &case.without(name), axes);
        grid.open_span_m = full.open_span_m;
        grids.push(grid);
    }
    Ok(grids)
}

/// The systems of all states, two each: above, then below.
fn solved(
    states: &[State],
    grids: &[Grid],
    shape: &[usize],
    settings: &Settings,
    fineness: f64,
) -> Result<Vec<Part>, FieldError> {
    let both = |(state, grid)| [true, false].map(|from_above| (state, grid, from_above));
    let systems: Vec<(&State, &Grid, bool)> = states.iter().zip(grids).flat_map(both).collect();
    let guesses = settings
        .first_guess
        .as_ref()
        .filter(|guess| guess.shape == shape && guess.systems.len() == systems.len());
    let parts: Result<Vec<Part>, NotConverged> = systems
        .par_iter()
        .enumerate()
        .map(|(t, (state, grid, from_above))| {
            let guess = guesses.map_or(&[][..], |guesses| &guesses.systems[t]);
            let guess: Vec<&[f64]> = guess.iter().map(Vec::as_slice).collect();
            let iteration = Iteration {
                guess: &guess,
                fineness,
                charges: (0, &[]),
                apart: &state.looks.apart,
                is_exact: false,
            };
            match from_above {
                true => above(grid, &state.drives, settings, iteration),
                false => below(grid, &state.drives, settings, iteration),
            }
        })
        .collect();
    converged(parts, settings)
}

fn converged<T>(parts: Result<T, NotConverged>, settings: &Settings) -> Result<T, FieldError> {
    match parts {
        _ if settings.stop.asked() => Err(FieldError::Interrupted),
        Ok(parts) => Ok(parts),
        Err(NotConverged { history }) => Err(FieldError::NotConverged { history }),
    }
}

/// Systems, and the errors of entries of the first state that are bounded and not solved.
type AroundAbsent = (Vec<Part>, Option<Array2<f64>>);

/// The same where the second state is without something that roams: known or solved, and then where the first
/// begins.
fn around_absent(
    case: &Case,
    grid: &Grid,
    [full, absent]: [&State; 2],
    roaming: &Roaming,
    settings: &Settings,
    fineness: f64,
) -> Result<AroundAbsent, FieldError> {
    let both =
        |grid: &Grid, (drives, apart): (&[u16], &[bool]), guesses: [&[&[f64]]; 2], charges| {
            let [first, second] = guesses.map(|guess| Iteration {
                guess,
                fineness,
                charges,
                apart,
                is_exact: false,
            });
            let (above, below) = rayon::join(
                || above(grid, drives, settings, first),
                || below(grid, drives, settings, second),
            );
            let pair = above.and_then(|above| Ok([above, below?]));
            converged(pair, settings)
        };
    let asked = (
        &absent.names[..],
        (settings.derivatives, &absent.looks.apart[..]),
    );
    let known = roaming.absent(&case.without(&roaming.conductor), grid, asked, |painted| {
        both(
            painted,
            (&absent.drives, &absent.looks.apart),
            [&[], &[]],
            (0, &[]),
        )
    })?;
    let mark = case
        .conductors
        .iter()
        .position(|c| c.name == roaming.conductor);
    let body = full
        .drives
        .iter()
        .position(|&drive| Some(usize::from(drive)) == mark);
    let unseen = body.zip(mark).map(|(body, mark)| {
        let places = [body, full.drives.len()];
        let potentials = &known[0].potentials;
        Unseen::of(
            grid,
            mark as u16,
            places,
            &absent.rows,
            potentials,
            (roaming.seen_share, fineness),
        )
    });
    let all: Vec<usize> = (0..full.drives.len()).collect();
    let seen = unseen.as_ref().map_or(&all, |unseen| &unseen.seen);
    let drives_of = |rows: &[usize]| rows.iter().map(|&row| full.drives[row]).collect();
    let others: Vec<u16> = unseen.as_ref().map_or(Vec::new(), |u| drives_of(&u.rows));
    let own = unseen.as_ref().map_or(0, Unseen::body_among_seen);
    let drives: Vec<u16> = drives_of(seen);
    let apart: Vec<bool> = seen.iter().map(|&row| full.looks.apart[row]).collect();
    let guesses = known.each_ref().map(|part| {
        let potentials = |row: &usize| {
            let at = absent.rows.iter().position(|absent| absent == row);
            at.map_or(&[][..], |at| &part.potentials[at])
        };
        seen.iter().map(potentials).collect::<Vec<_>>()
    });
    let guesses = guesses.each_ref().map(|guess| &guess[..]);
    let [above, below] = both(grid, (&drives, &apart), guesses, (own, &others))?;
    let left = known.each_ref().map(Part::without_potentials);
    let Some(unseen) = unseen else {
        return Ok((vec![above, below].into_iter().chain(left).collect(), None));
    };
    let [above, below] = [
        unseen.complete(above, &known[0]),
        unseen.complete(below, &known[1]),
    ];
    let error = unseen.error([&above, &below]);
    Ok((
        vec![above, below].into_iter().chain(left).collect(),
        Some(error),
    ))
}

/// The shift between the states, where there are two, and the largest estimated error that counts.
fn judged(
    states: &[State],
    energies: &[Energies],
    resolutions: &[Vec<Resolution>],
    without: Option<&str>,
    fineness: f64,
) -> (Option<Shift>, f64) {
    // Shapes have an error of their own that refinement of the whole grid lowers slowly: it is printed, but the grid
    // is chosen by the rest.
    let each = energies.iter().zip(resolutions);
    let estimated = each
        .map(|(own, rows)| relative_error(&own.value(), &own.state_error(rows)))
        .fold(0.0, f64::max);
    let (Some(conductor), [full, absent], [with, less]) = (without, states, energies) else {
        return (None, estimated);
    };
    let difference = with.select(&absent.rows).minus(less);
    let shift = difference.difference();
    let error = difference.difference_error(&resolutions[1]);
    let estimated = estimated.max(relevant_shift_error(&shift, &error));
    let shape_term = shape_term(&shift, full.outlines_at(fineness));
    let shift = Shift {
        conductor: conductor.to_owned(),
        without: absent.bounded(less, &resolutions[1], fineness),
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
