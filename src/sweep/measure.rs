//! What a study will take, measured on a few of its points.

use super::family::Guesses;
use super::solve::{Job, Limits, Worker};
use crate::store::Outcome;
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Instant;

/// Points solved per thread to measure a study.
const POINTS_PER_THREAD: u64 = 2;

/// Memory of a point per cell: what the engine's own check asks for with two or three pads in a
/// volume, and the potentials of its anchor.
const MEMORY_PER_CELL_BYTES: u64 = 400;

/// What a few points of a study took.
#[derive(Clone, Debug, PartialEq)]
pub struct Measurement {
    /// Points of the plan that were solved.
    pub measured: u64,
    /// Of these, points that failed.
    pub failed: u64,
    /// First reason of a failure.
    pub reason: Option<String>,
    /// Wall-clock time of them all, side by side \[s\].
    pub wall_seconds: f64,
    /// Fewest and most cells of a point; none when all failed.
    pub cells: Option<[u64; 2]>,
    /// Points of the whole plan.
    pub points: u64,
    /// Wall-clock time of the whole plan at the same rate \[s\].
    pub plan_seconds: f64,
}

impl Measurement {
    /// Memory of so many points side by side, about, from the largest measured; none when all failed.
    pub fn memory_bytes(&self, threads: usize) -> Option<u64> {
        let [_, most] = self.cells?;
        Some(most * MEMORY_PER_CELL_BYTES * threads as u64)
    }
}

/// Solves a few points spread over the plan, as many threads at once as the sweep would use.
pub fn measure(job: &Job<'_>, limits: &Limits, stop: &(dyn Fn() -> bool + Sync)) -> Measurement {
    let plan = job.study.plan();
    let threads = limits.threads.max(1) as u64;
    let wanted = (POINTS_PER_THREAD * threads).min(plan.len());
    // In the middle of equal stretches of the plan: ends are cheaper or dearer than the rest.
    let indices: Vec<u64> = (0..wanted)
        .map(|i| ((2 * i + 1) * plan.len()) / (2 * wanted))
        .collect();
    let family = Worker::new(limits).family(job);
    let start = Instant::now();
    let next = AtomicUsize::new(0);
    let outcomes = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..threads.min(wanted) {
            scope.spawn(|| {
                let worker = Worker::new(limits);
                while !stop() {
                    let Some(&index) = indices.get(next.fetch_add(1, Ordering::Relaxed)) else {
                        break;
                    };
                    let prepared = job.prepare(&plan.point(index), "");
                    let cold = Guesses::new();
                    let Some(solved) = worker.solve(job, prepared, &family, &cold) else {
                        break;
                    };
                    let mut outcomes = outcomes.lock().expect("no panic while it is held");
                    outcomes.push(solved.finished.outcome);
                }
            });
        }
    });
    let wall_seconds = start.elapsed().as_secs_f64();
    let outcomes = outcomes.into_inner().expect("no panic while it was held");
    let mut measurement = Measurement {
        measured: outcomes.len() as u64,
        failed: 0,
        reason: None,
        wall_seconds,
        cells: None,
        points: plan.len(),
        plan_seconds: wall_seconds / outcomes.len().max(1) as f64 * plan.len() as f64,
    };
    for outcome in outcomes {
        match outcome {
            Outcome::Done { cells, .. } => {
                let [least, most] = measurement.cells.unwrap_or([cells; 2]);
                measurement.cells = Some([least.min(cells), most.max(cells)]);
            }
            Outcome::Failed { reason, .. } => {
                measurement.failed += 1;
                measurement.reason.get_or_insert(reason);
            }
        }
    }
    measurement
}
