//! Points by reduced models, many at once; what these leave is solved.

use super::family::Guesses;
use super::reduced::{AT_ONCE, Models, Reduced, rows};
use super::run::{Message, Shared};
use super::solve::{Prepared, Worker};
use crate::store::{Finished, Known, Listed, Lookup};
use crate::study::Point;
use std::sync::atomic::Ordering;
use std::sync::mpsc::SyncSender;
use std::time::Instant;

impl Shared<'_> {
    /// The same by models, many points at once.
    pub fn reduce(
        &self,
        models: &Models,
        worker: &Worker,
        lookup: &Lookup,
        sender: &SyncSender<Message>,
    ) {
        let plan = self.job.study.plan();
        let mut scratches = models.scratches();
        loop {
            let missing = self.missing();
            if missing.is_empty() || self.is_over() {
                return;
            }
            let start = Instant::now();
            let prepared = |index: u64| {
                let point = plan.point(index);
                let prepared = self.job.prepare(&point, self.scenario);
                (point, prepared)
            };
            let count = missing.len();
            let found = worker.install(|| {
                let points = missing.into_iter().map(prepared).collect();
                let means = self.limits.of_a_point();
                rows(
                    self.job,
                    models,
                    &mut scratches,
                    points,
                    means,
                    self.scenario,
                )
            });
            let seconds = start.elapsed().as_secs_f64() / count as f64;
            let mut done = Vec::new();
            let mut open = Vec::new();
            for Reduced {
                point,
                prepared,
                row,
            } in found
            {
                match row {
                    Some((outcome, assumptions)) => {
                        let finished = Finished {
                            key: prepared.key,
                            inputs: prepared.inputs,
                            outcome,
                            memory_cap_bytes: self.limits.memory_per_point_bytes(),
                            seconds,
                        };
                        done.push((point, finished, assumptions));
                    }
                    None => open.push((point, prepared)),
                }
            }
            if !done.is_empty() && sender.send(Message::Reduced(done)).is_err() {
                return;
            }
            for (point, prepared) in open {
                if self.is_over() {
                    return;
                }
                let Some(message) = self.directly(point, prepared, worker, lookup) else {
                    return;
                };
                if sender.send(message).is_err() {
                    return;
                }
            }
        }
    }

    /// Looks a point up, or solves it without a guess. None for a point that was left in the middle.
    fn directly(
        &self,
        point: Point,
        prepared: Prepared,
        worker: &Worker,
        lookup: &Lookup,
    ) -> Option<Message> {
        let key = prepared.key;
        let listed = |point: Point, copied| Listed {
            index: point.index,
            coordinates: point.coordinates,
            key,
            copied,
        };
        if !self.in_hand().insert(key) {
            return Some(Message::Later(listed(point, None)));
        }
        Some(match lookup.known(&key) {
            Ok(Known::Nothing) => {
                let cold = Guesses::new();
                let family = self.family(worker);
                let mut solved = worker.solve(self.job, prepared, family, &cold)?;
                solved.potentials.clear();
                Message::Solved(point, Box::new(solved))
            }
            Ok(Known::Here) => Message::Known(listed(point, None)),
            Ok(Known::Elsewhere(row)) => Message::Known(listed(point, Some(row))),
            Err(error) => Message::Fault(error),
        })
    }

    /// The next points that are not recorded: a few runs of them; none when there are no more.
    fn missing(&self) -> Vec<u64> {
        let plan = self.job.study.plan();
        let mut missing = Vec::new();
        while missing.len() < AT_ONCE {
            let turn = self.next.fetch_add(1, Ordering::Relaxed);
            let Some(start) = self.shard.run_start(&plan, turn) else {
                break;
            };
            let end = (start + plan.run_length()).min(plan.len());
            missing.extend((start..end).filter(|index| !self.settled[*index as usize]));
        }
        missing
    }
}
