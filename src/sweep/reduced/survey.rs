//! Which chambers the points of a study fall into, told by lowering some of them.

use super::super::family::Family;
use super::super::solve::{Job, Means};
use super::{COST, PAYS, Use};
use crate::panel::lowering::FINGER;
use crate::response::problems;
use crate::study::Point;
use padfield_engine::case::Case;
use padfield_engine::field::Settings;
use padfield_engine::field::reduced::{Chamber, Outside};
use std::collections::{BTreeMap, HashSet};
use std::sync::Arc;

/// Points that are lowered at first, and at most.
const FIRST: u32 = 512;
const MOST: u32 = 8192;
/// Designs that a chamber should have: for a model, to learn and to check it from.
const WANTED: usize = 320;
/// Share of the points below which a chamber has no model.
const LEAST_SHARE: f64 = 0.02;
/// Most chambers of a touch.
const MOST_CHAMBERS: usize = 8;
/// Most vectors that the designs of a model may make: conductors that are measured times designs.
const MOST_VECTORS: usize = 256;

/// A chamber of a touch with some of its designs.
pub(in super::super) struct Prospect {
    pub chamber: Arc<Chamber>,
    /// The touch.
    pub touch: String,
    /// Driven conductors.
    pub drive: Vec<String>,
    /// What is asked of it: who judges it, which conductors are told among each other by charges.
    pub settings: Settings,
    /// Designs of it, spread evenly over it; the reference is not among them.
    pub cases: Vec<Case>,
    /// Corners of the study that lie in it.
    pub corners: Vec<Case>,
    /// Share of the surveyed points of the touch that it holds.
    pub share: f64,
    /// Designs that a model of it is made of.
    pub designs: usize,
}

/// What a survey has found.
pub struct Survey {
    pub(in super::super) prospects: Vec<Prospect>,
    /// Share of the surveyed touches that no model would cover.
    pub uncovered: f64,
    /// Why not, most frequent first, with the share of all touches.
    pub reasons: Vec<(String, f64)>,
}

impl Survey {
    /// Lowers points of a job; models would have the fineness that its middle needed.
    pub(in super::super) fn of(job: &Job<'_>, means: Means, family: &Family) -> Self {
        let mut surveying = Surveying::new(job, means, family);
        surveying.lower(FIRST);
        surveying.assign();
        while surveying.wants_more() && surveying.next < MOST {
            surveying.lower(surveying.next);
            surveying.assign();
        }
        surveying.assign_corners();
        surveying.finish()
    }

    /// Whether a study is swept by these models.
    pub fn pays(&self, job: &Job<'_>, asked: Use) -> bool {
        match asked {
            Use::Never => false,
            Use::Always => self.models() > 0,
            Use::Auto => self.models() > 0 && self.covered(job) > (PAYS * self.cost()) as f64,
        }
    }

    /// Points of a study that models would give, about.
    fn covered(&self, job: &Job<'_>) -> f64 {
        (1.0 - self.uncovered) * job.study.plan().len() as f64
    }

    /// Chambers that would have a model.
    pub fn models(&self) -> usize {
        self.prospects.len()
    }

    /// What these models cost, in solutions of points.
    pub fn cost(&self) -> u64 {
        COST * self.prospects.len() as u64
    }

    /// Cells of the largest of their grids.
    pub fn cells(&self) -> usize {
        let cells = self.prospects.iter().map(|one| one.chamber.cells());
        cells.max().unwrap_or(0)
    }
}

/// A field problem: its case, its driven conductors, and what is asked of it.
type Lowered = (Case, Vec<String>, Settings);

struct Surveying<'a> {
    job: &'a Job<'a>,
    means: Means,
    family: &'a Family,
    /// Number of the next point.
    next: u32,
    /// Coordinates that have been seen.
    seen: HashSet<String>,
    /// Cases that are not assigned yet, by touch.
    open: Vec<Lowered>,
    prospects: Vec<Prospect>,
    /// Cases of each touch, and those left out by reason.
    lowered: BTreeMap<String, usize>,
    left_out: BTreeMap<String, usize>,
}

impl<'a> Surveying<'a> {
    fn new(job: &'a Job<'a>, means: Means, family: &'a Family) -> Self {
        Self {
            job,
            means,
            family,
            next: 0,
            seen: HashSet::new(),
            open: Vec::new(),
            prospects: Vec::new(),
            lowered: BTreeMap::new(),
            left_out: BTreeMap::new(),
        }
    }

    /// The field problems of a point; none where it makes no panel, which is a row with its reason, whoever would solve it.
    fn problems(&self, point: &Point) -> Vec<(Case, Settings)> {
        let Ok(panel) = self.job.prepare(point, "").panel else {
            return Vec::new();
        };
        problems(&self.job.request(&panel, self.means)).unwrap_or_default()
    }

    /// Puts the corners of the study into the chambers that they lie in.
    fn assign_corners(&mut self) {
        for corner in self.job.study.plan().corners() {
            for (case, _) in self.problems(&corner) {
                let own =
                    |one: &&mut Prospect| one.touch == case.id && one.chamber.covers(&case).is_ok();
                if let Some(found) = self.prospects.iter_mut().find(own) {
                    found.corners.push(case);
                }
            }
        }
    }

    /// Lowers the next `count` points.
    fn lower(&mut self, count: u32) {
        let plan = self.job.study.plan();
        let end = self.next + count;
        for number in self.next..end {
            let point = plan.spread(number);
            if !self.seen.insert(format!("{:?}", point.coordinates)) {
                continue;
            }
            for (case, settings) in self.problems(&point) {
                *self.lowered.entry(case.id.clone()).or_default() += 1;
                let drive = settings.drive.clone().unwrap_or_default();
                self.open.push((case, drive, settings));
            }
        }
        self.next = end;
    }

    /// Puts lowered cases into chambers, of which it opens new ones.
    fn assign(&mut self) {
        let first_time = self.prospects.is_empty();
        for (case, drive, settings) in std::mem::take(&mut self.open) {
            let own = |one: &&mut Prospect| {
                one.touch == case.id && one.drive == drive && one.chamber.covers(&case).is_ok()
            };
            if let Some(found) = self.prospects.iter_mut().find(own) {
                found.cases.push(case);
                continue;
            }
            let of_touch = self
                .prospects
                .iter()
                .filter(|one| one.touch == case.id)
                .count();
            if !first_time || of_touch >= MOST_CHAMBERS {
                self.leave_out(&case, drive.len());
                continue;
            }
            let Some(fineness) = self.family.fineness(&case.id) else {
                self.left_out("the middle of the study has no answer".to_owned());
                continue;
            };
            // The middle of the study is the reference of its own chamber: its grid is what the family has.
            let of = |reference| Chamber::of(self.means.stop, reference, fineness);
            let middle = self.family.reference(&case.id).map(of);
            let own = |middle: &Result<Chamber, Outside>| {
                let covers = |chamber: &Chamber| chamber.covers(&case).is_ok();
                middle.as_ref().is_ok_and(covers)
            };
            match middle.filter(own).unwrap_or_else(|| of(&case)) {
                Ok(chamber) => self.prospects.push(Prospect {
                    chamber: Arc::new(chamber),
                    touch: case.id.clone(),
                    designs: designs_for(self.job, drive.len()),
                    drive,
                    settings,
                    cases: vec![case],
                    corners: Vec::new(),
                    share: 0.0,
                }),
                Err(reason) => self.left_out(reason.to_string()),
            }
        }
    }

    fn leave_out(&mut self, case: &Case, drives: usize) {
        let of_touch = || self.prospects.iter().filter(|one| one.touch == case.id);
        let nearest = of_touch().find_map(|one| match one.chamber.covers(case) {
            Err(Outside::OtherOrder) | Ok(()) => None,
            Err(other) => Some(other),
        });
        let reason = match nearest {
            _ if drives > MOST_VECTORS => {
                "more conductors are measured than a model holds".to_owned()
            }
            Some(reason) => reason.to_string(),
            None => Outside::OtherOrder.to_string(),
        };
        self.left_out(reason);
    }

    fn left_out(&mut self, reason: String) {
        *self.left_out.entry(reason).or_default() += 1;
    }

    /// Whether a chamber that counts has too few designs, and further points may be others.
    fn wants_more(&self) -> bool {
        let is_fresh = self.seen.len() as u32 * 2 > self.next;
        let all = |one: &Prospect| self.lowered.get(&one.touch).copied().unwrap_or(1) as f64;
        let counts = |one: &&Prospect| one.cases.len() as f64 / all(one) >= LEAST_SHARE;
        let mut counting = self.prospects.iter().filter(counts);
        is_fresh && counting.any(|one| one.cases.len() < WANTED)
    }

    fn finish(mut self) -> Survey {
        for one in &mut self.prospects {
            let all = self.lowered.get(&one.touch).copied().unwrap_or(1);
            one.share = one.cases.len() as f64 / all as f64;
        }
        let all: usize = self.lowered.values().sum();
        let prospects = std::mem::take(&mut self.prospects);
        let (kept, small): (Vec<_>, Vec<_>) = prospects.into_iter().partition(|one| {
            let enough = 2 * one.designs <= one.cases.len();
            one.share >= LEAST_SHARE && enough && one.designs > 0
        });
        for one in small {
            let reason = match one.designs {
                0 => "more conductors are measured than a model holds",
                _ => "too few points share its grid",
            };
            *self.left_out.entry(reason.to_owned()).or_default() += one.cases.len();
        }
        let share = |count: usize| count as f64 / all.max(1) as f64;
        let mut reasons: Vec<(String, f64)> = self
            .left_out
            .iter()
            .map(|(reason, &count)| (reason.clone(), share(count)))
            .collect();
        reasons.sort_by(|a, b| b.1.total_cmp(&a.1));
        Survey {
            prospects: kept,
            uncovered: share(self.left_out.values().sum()),
            reasons,
        }
    }
}

/// Designs that a model is made of, by the number of variables; none where they would make too many vectors.
fn designs_for(job: &Job<'_>, drives: usize) -> usize {
    let varies = |variable: &&crate::study::Variable| variable.len().is_none_or(|len| len > 1);
    let designs = match job.study.variables.iter().filter(varies).count() {
        0..=3 => 16,
        4 => 32,
        _ => 64,
    };
    match designs * drives <= MOST_VECTORS {
        true => designs,
        false if 16 * drives <= MOST_VECTORS => MOST_VECTORS / drives,
        false => 0,
    }
}

/// What is left out in the second state of a touch.
pub(in super::super) const WITHOUT: &str = FINGER;
