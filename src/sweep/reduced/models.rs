//! The reduced models of a study, one for each chamber of each touch, checked against direct solutions.

use super::super::solve::{Job, Means};
use super::COST;
use super::survey::{Prospect, Survey, WITHOUT};
use padfield_engine::case::Case;
use padfield_engine::field::reduced::{Chamber, Extent, ReducedModel, ReducedSettings, Scratch};
use padfield_engine::field::{self, FieldAnswer, Settings, judged};
use rayon::prelude::*;
use std::sync::Arc;
use std::time::Instant;

/// Designs that a model is checked with against direct answers.
const CHECKS: usize = 8;
/// Designs that only check how energies depend on the design.
const OTHERS: usize = 20;
/// Most designs that teach it.
const POOL: usize = 240;
/// A check that is off by more than this share of its bar asks for more designs.
const BAR_SHARE: f64 = 0.8;
/// Most designs that a model is made of.
const MOST_DESIGNS: usize = 96;

/// What the models of a study are.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ModelSummary {
    /// How many.
    pub models: usize,
    /// The largest of each of their measures; designs and bytes are those of all.
    pub extent: Extent,
    /// Largest difference between a model and a direct answer on its own grid, over the bar; of bases and shifts of what is
    /// measured.
    pub worst_check: f64,
    /// Checks that were solved.
    pub checks: usize,
    /// Time they took to make \[s\].
    pub seconds: f64,
}

/// The models of a study.
pub(in super::super) struct Models {
    pub all: Vec<Arc<ReducedModel>>,
    /// The touch of each.
    pub touches: Vec<String>,
    pub summary: ModelSummary,
}

impl Models {
    /// Makes the models of a survey; a chamber whose model cannot be made has none. None when somebody asked for the end.
    pub fn of(job: &Job<'_>, survey: &Survey, means: Means) -> Option<Self> {
        let start = Instant::now();
        let mut models = Self {
            all: Vec::new(),
            touches: Vec::new(),
            summary: ModelSummary::default(),
        };
        for prospect in &survey.prospects {
            if means.stop.asked() {
                return None;
            }
            let Some((model, worst)) = made(job, prospect, means) else {
                continue;
            };
            let (sum, extent) = (&mut models.summary, model.extent());
            sum.models += 1;
            sum.checks += CHECKS.min(prospect.cases.len());
            sum.worst_check = sum.worst_check.max(worst);
            sum.extent.designs += extent.designs;
            sum.extent.bytes += extent.bytes;
            sum.extent.cells = sum.extent.cells.max(extent.cells);
            sum.extent.vectors = sum.extent.vectors.max(extent.vectors);
            sum.extent.terms = sum.extent.terms.max(extent.terms);
            models.touches.push(prospect.touch.clone());
            models.all.push(Arc::new(model));
        }
        models.summary.seconds = start.elapsed().as_secs_f64();
        (!means.stop.asked()).then_some(models)
    }

    /// Rooms to answer in, one for each model.
    pub fn scratches(&self) -> Vec<Scratch> {
        self.all.iter().map(|model| model.scratch()).collect()
    }
}

/// The model of a chamber with the worst of its checks; none where it cannot be made. Its grid is made finer while solving the
/// points whose bars miss the accuracy would cost more than another model.
fn made(job: &Job<'_>, prospect: &Prospect, means: Means) -> Option<(ReducedModel, f64)> {
    let mut chamber = prospect.chamber.clone();
    let mut model = model_of(prospect, &chamber, prospect.designs, means)?;
    for _ in 0..MOST_REFINEMENTS {
        let Some(finer) = worth_refining(job, prospect, &model) else {
            break;
        };
        let fineness = finer * model.fineness();
        chamber = Arc::new(Chamber::of(means.stop, prospect.chamber.reference(), fineness).ok()?);
        model = model_of(prospect, &chamber, prospect.designs, means)?;
    }
    checked(job, prospect, &chamber, model, means)
}

/// Most refinements of the grid of a model.
const MOST_REFINEMENTS: usize = 2;
/// Largest refinement of a grid for that: about eight times the cells.
const MOST_FINER: f64 = 2.0;
/// Power of the fineness with which errors fall at least, and a reserve for that.
const FALL: f64 = 2.0;
const RESERVE: f64 = 1.06;

/// By how much finer the grid must be for the accuracy to be reached at all points and corners; none where that is not
/// worth it.
fn worth_refining(job: &Job<'_>, prospect: &Prospect, model: &ReducedModel) -> Option<f64> {
    let errors_of = |cases: &[Case]| -> Vec<f64> {
        let cases: Vec<&Case> = cases.iter().collect();
        let settings = &prospect.settings;
        let answers = model.answers(&cases, Some(WITHOUT), settings, &mut model.scratch());
        let judged = answers
            .into_iter()
            .flatten()
            .map(|answer| judged(answer, settings));
        judged.map(|answer| answer.accuracy.estimated).collect()
    };
    let asked = job.study.accuracy;
    let of_points = errors_of(&prospect.cases);
    let missed = of_points.iter().filter(|error| **error > asked).count();
    let share = prospect.share * missed as f64 / of_points.len().max(1) as f64;
    let errors = of_points.into_iter().chain(errors_of(&prospect.corners));
    let over = errors.fold(0.0, f64::max) / asked;
    let is_worth_it = share * job.study.plan().len() as f64 > COST as f64;
    is_worth_it.then(|| (RESERVE * over.powf(1.0 / FALL)).min(MOST_FINER))
}

/// A model of the first designs of a chamber.
fn model_of(
    prospect: &Prospect,
    chamber: &Arc<Chamber>,
    designs: usize,
    means: Means,
) -> Option<ReducedModel> {
    let (learnt, others) = apart(prospect, designs);
    let solved = &prospect.cases[..designs - 1];
    // Those that are solved teach it too.
    let learnt = &learnt[designs.min(learnt.len())..learnt.len().min(designs + POOL)];
    let pool: Vec<Case> = learnt.iter().chain(&prospect.corners).cloned().collect();
    let settings = ReducedSettings {
        without: Some(WITHOUT),
        drive: &prospect.drive,
        apart: &prospect.settings.apart,
        stop: means.stop,
    };
    ReducedModel::new(chamber.clone(), [solved, &pool, others], &settings).ok()
}

/// Cases that a model of so many designs is made of, and those that only check it.
fn apart(prospect: &Prospect, designs: usize) -> (&[Case], &[Case]) {
    let others = OTHERS.min(prospect.cases.len().saturating_sub(designs));
    prospect.cases.split_at(prospect.cases.len() - others)
}

/// A model with the worst of its checks, of more designs where that is too much.
fn checked(
    job: &Job<'_>,
    prospect: &Prospect,
    chamber: &Arc<Chamber>,
    mut model: ReducedModel,
    means: Means,
) -> Option<(ReducedModel, f64)> {
    let mut designs = prospect.designs;
    let most = MOST_DESIGNS.max(designs);
    loop {
        let (_, others) = apart(prospect, designs);
        let checks = &others[..CHECKS.min(others.len())];
        let worst = worst_check(job, prospect, &model, checks, means)?;
        let more = (2 * designs).min(most);
        if worst <= BAR_SHARE || more <= designs || 2 * more > prospect.cases.len() {
            return Some((model, worst));
        }
        designs = more;
        model = model_of(prospect, chamber, designs, means)?;
    }
}

/// Largest difference from direct answers on the grid of the model, over the bar.
fn worst_check(
    job: &Job<'_>,
    prospect: &Prospect,
    model: &ReducedModel,
    checks: &[Case],
    means: Means,
) -> Option<f64> {
    let settings = Settings {
        // One round: on the very grid of the model.
        accuracy: f64::MAX,
        start_fineness: Some(model.fineness()),
        family: Some(Arc::new(model.chamber().reference().clone())),
        drive: Some(prospect.drive.clone()),
        apart: prospect.settings.apart.clone(),
        keep_potentials: true,
        ..job.settings(means)
    };
    let direct: Vec<_> = checks
        .par_iter()
        .map(|case| field::solve(case, Some(WITHOUT), &settings, &|_| {}))
        .collect();
    let mut scratch = model.scratch();
    let cases: Vec<&Case> = checks.iter().collect();
    let reduced = model.answers(&cases, Some(WITHOUT), &settings, &mut scratch);
    let mut worst = 0.0_f64;
    for (direct, reduced) in direct.into_iter().zip(reduced) {
        worst = worst.max(off_by(&direct.ok()?, &reduced.ok()?));
    }
    Some(worst)
}

/// Largest difference of bases and shifts of two answers over the bar of the second.
fn off_by(direct: &FieldAnswer, reduced: &FieldAnswer) -> f64 {
    let (Some(a), Some(b)) = (&direct.shift, &reduced.shift) else {
        return 0.0;
    };
    let over = |a: f64, b: f64, bar: f64| ((a - b) / bar.max(f64::MIN_POSITIVE)).abs();
    (0..b.shift.nrows())
        .map(|i| {
            let at = [i, i];
            let base = over(
                a.without.value[at],
                b.without.value[at],
                b.without.estimated_error[at],
            );
            base.max(over(a.shift[at], b.shift[at], b.estimated_error[at]))
        })
        .fold(0.0, f64::max)
}
