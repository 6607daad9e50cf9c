//! The way from a case to its answer: mirror planes, then rounds on ever finer grids.

use super::answer::{FieldAnswer, FieldError, Settings};
use super::bounds::outline_share;
use super::judge::Goal;
use super::mirror::{Halved, halve};
use super::room::Load;
use super::round::refine;
use super::rounds::Kept;
use super::validate::validate;
use crate::case::{Case, Kind};
use crate::grid::{Axis, family_axes, least_nodes, roaming_axes};
use std::cell::OnceCell;
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
    fineness: 0.9,
    accuracy: 0.01,
    least: 0.5,
};
/// The same where a body roams: there many places are asked for, and time counts more than what is had for nothing on
/// small panels. Beyond twice the accuracy the start falls as 1/M, because on coarse grids bars grow more slowly than
/// with M^-2.
const START_ROAMING: Start = Start {
    fineness: 0.8,
    accuracy: 0.006,
    least: 0.25,
};
/// Finenesses of places that share states, from one to twice as fine.
const RUNGS_PER_DOUBLING: f64 = 4.0;
/// Rounds of refinement before the accuracy is reported as not reached.
const MOST_ROUNDS: usize = 6;

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

    fn to_reach_roaming(&self, accuracy: f64) -> f64 {
        let looser = self.accuracy / accuracy;
        let coarser = looser.sqrt().min(2.0_f64.sqrt() * looser).min(1.0);
        (self.fineness * coarser).max(self.least)
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
    let load = Load::new(case, drives.len(), without, settings);
    let kept = Kept::of(case, without, settings);
    let prepared = OnceCell::new();
    let solved = |fineness| {
        if let Some(known) = kept.as_ref().and_then(|kept| kept.known(fineness, &load)) {
            return known;
        }
        if settings.only_kept {
            return Err(FieldError::Interrupted);
        }
        let prepared = prepared.get_or_init(|| Prepared::of(case, settings, &load));
        let prepared = prepared.as_ref().map_err(Clone::clone)?;
        let axes = prepared.axes(fineness, &load, without, settings)?;
        let answer = refine(&prepared.halved, axes, without, &drives, settings, fineness)?;
        if let Some(kept) = &kept {
            kept.keep(fineness, &answer);
        }
        Ok(answer)
    };
    let mut goal = Goal::new(settings);
    let usual = usual_fineness(case, without, settings);
    let mut fineness = settings.start_fineness.unwrap_or(match case.kind {
        Kind::Volume => goal.start(usual, outline_share(case)),
        _ => usual,
    });
    let mut best: Option<FieldAnswer> = None;
    for round in 0..MOST_ROUNDS {
        if settings.stop.asked() && !settings.only_kept {
            return Err(FieldError::Interrupted);
        }
        match solved(fineness) {
            Ok(mut answer) => {
                answer.solver.seconds = start.elapsed().as_secs_f64();
                let finer = goal.next(&mut answer);
                progress(&round_text(round, &answer));
                let Some(finer) = finer else {
                    return Ok(answer);
                };
                fineness = match settings.roaming(without) {
                    Some(_) => rung(fineness * finer),
                    None => fineness * finer,
                };
                if settings.rounds.is_some_and(|most| round + 1 >= most) && round + 1 < MOST_ROUNDS
                {
                    return Err(FieldError::Unfinished { fineness });
                }
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
                let mut best = best.ok_or(error)?;
                best.accuracy.is_short_of_memory = true;
                return Ok(best);
            }
            Err(error) => return Err(error),
        }
    }
    best.ok_or_else(|| FieldError::Invalid("no grid was solved".into()))
}

/// Where refinement starts when the outlines of the case ask for nothing finer.
fn usual_fineness(case: &Case, without: Option<&str>, settings: &Settings) -> f64 {
    let accuracy = settings.accuracy;
    match case.kind {
        Kind::Volume if settings.roaming(without).is_some() => {
            START_ROAMING.to_reach_roaming(accuracy)
        }
        Kind::Volume => START_VOLUME.to_reach(accuracy),
        _ => START_PLANE.to_reach(accuracy),
    }
}

/// The next fineness that places of a body that roams are refined to: what differs little is the same, so that they
/// share the state without it.
fn rung(fineness: f64) -> f64 {
    // What is next to a rung is on it: the least step is a little more than one.
    const SLACK: f64 = 0.06;
    let rungs = RUNGS_PER_DOUBLING * fineness.log2() - SLACK;
    (rungs.ceil() / RUNGS_PER_DOUBLING).exp2()
}

fn round_text(round: usize, answer: &FieldAnswer) -> String {
    format!(
        "round {}: {} cells, estimated error {:.3} %, asked {:.3} %",
        round + 1,
        answer.grid.cells,
        100.0 * answer.accuracy.estimated,
        100.0 * answer.accuracy.asked
    )
}

/// A case cut down by its mirror planes, where they are wanted.
fn cut_down(case: &Case, settings: &Settings) -> Halved {
    match settings.use_symmetry {
        true => halve(settings.stop, case),
        false => Halved {
            case: case.clone(),
            factor: 1.0,
            mirrors: Vec::new(),
        },
    }
}

/// What rounds are solved with: made for the first that nobody keeps.
struct Prepared {
    halved: Halved,
    /// The case whose pattern of lines is taken.
    reference: Option<Halved>,
}

impl Prepared {
    fn of(case: &Case, settings: &Settings, load: &Load<'_>) -> Result<Self, FieldError> {
        // Looking for mirror planes paints the case: not one whose half in every axis would not fit.
        let fits_in_half = |case: &Case| {
            let least = least_nodes(case, LEAST_FINENESS);
            match least.iter().any(|nodes| *nodes > QUICKLY_GRADED) {
                true => load.is_within_cap(least.map(|nodes| (0.5 * nodes).max(1.0))),
                false => Ok(()),
            }
        };
        fits_in_half(case)?;
        let halved = cut_down(case, settings);
        // None that does not fit or has other mirror planes, and so another domain.
        let reference = settings.family.as_deref();
        let reference = reference.filter(|reference| fits_in_half(reference).is_ok());
        let reference = reference.map(|reference| cut_down(reference, settings));
        let is_alike = |reference: &Halved| {
            reference.mirrors == halved.mirrors && reference.case.kind == halved.case.kind
        };
        Ok(Self {
            reference: reference.filter(is_alike),
            halved,
        })
    }

    /// The lines of a round's grid.
    fn axes(
        &self,
        fineness: f64,
        load: &Load<'_>,
        without: Option<&str>,
        settings: &Settings,
    ) -> Result<[Axis; 3], FieldError> {
        let stop = settings.stop;
        let fits = |case: &Case| match least_nodes(case, fineness) {
            many if many.iter().any(|nodes| *nodes > QUICKLY_GRADED) => load.is_within_cap(many),
            _ => Ok(()),
        };
        let case = &self.halved.case;
        fits(case)?;
        let roaming = settings.roaming(without);
        let roaming = roaming.and_then(|one| Some((&*one.conductor, one.region?)));
        // A reference whose own grid would not fit gives no pattern.
        let reference = self.reference.as_ref().map(|reference| &reference.case);
        Ok(
            match reference.filter(|reference| fits(reference).is_ok()) {
                Some(reference) => family_axes(stop, case, reference, roaming, fineness),
                None => roaming_axes(stop, case, roaming, fineness),
            },
        )
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
