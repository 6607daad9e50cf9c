//! What one task needs, from a few measured points.

use crate::study::{Plan, Shard};
use crate::sweep::Measurement;

/// Wall time asked for over the time expected: the measured points are few, and nodes differ.
const MARGIN: f64 = 2.0;
/// Wall time on top of that, for starting, the points all shards share, and copying \[s\].
const OVERHEAD_SECONDS: f64 = 600.0;
/// Memory asked for over that expected.
const MEMORY_MARGIN: u64 = 2;
/// Least memory of a task \[bytes\].
const LEAST_MEMORY_BYTES: u64 = 500_000_000;

/// What one task of an array is given.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Task {
    /// Shards the plan is cut into: one task each.
    pub shards: u32,
    /// Points of the largest shard.
    pub points: u64,
    pub processors: u32,
    /// Wall time asked for \[min\].
    pub minutes: u64,
    /// Memory asked for \[bytes\].
    pub memory_bytes: u64,
}

/// Shards for so many tasks: no more than there are runs of points, so that none is empty.
pub fn shards(plan: &Plan<'_>, tasks: u32) -> u32 {
    let runs = plan.len().div_ceil(plan.run_length()).max(1);
    tasks.clamp(1, u32::try_from(runs).unwrap_or(u32::MAX))
}

impl Task {
    /// Cuts a plan for so many tasks with so many processors. `threads` is how many points were measured side
    /// by side; `minutes` and `memory_bytes`, when given, take the place of what follows from the measurement.
    pub fn new(
        plan: &Plan<'_>,
        tasks: u32,
        processors: u32,
        measured: Option<(&Measurement, usize)>,
        minutes: Option<u64>,
        memory_bytes: Option<u64>,
    ) -> Self {
        let shards = shards(plan, tasks);
        // The first shard has the odd run, and the last run may be short.
        let most = [1, shards].map(|number| Shard::new(number, shards).map_or(0, |s| s.len(plan)));
        let points = most[0].max(most[1]);
        let expected = measured.map_or(0.0, |(measurement, threads)| {
            let share = points as f64 / plan.len().max(1) as f64;
            measurement.plan_seconds * share * threads as f64 / f64::from(processors.max(1))
        });
        let asked = ((MARGIN * expected + OVERHEAD_SECONDS) / 60.0).ceil() as u64;
        let memory = measured
            .and_then(|(measurement, _)| measurement.memory_bytes(processors as usize))
            .unwrap_or(0)
            .saturating_mul(MEMORY_MARGIN);
        Self {
            shards,
            points,
            processors,
            minutes: minutes.unwrap_or(asked),
            memory_bytes: memory_bytes
                .unwrap_or(memory.max(LEAST_MEMORY_BYTES).next_multiple_of(100_000_000)),
        }
    }
}
