//! The plan into the store: worker threads that solve, one that writes.

use super::family::{Family, Guesses};
use super::reduced::{ModelSummary, Models};
use super::solve::{Job, Limits, Prepared, Solved, Worker};
use crate::store::{
    Finished, Known, Listed, Lookup, Outcome, PointKey, Store, StoreError, StudyRecord, Tally,
};
use crate::study::{Point, Shard};
use std::collections::HashSet;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, sync_channel};
use std::sync::{Mutex, OnceLock};
use std::time::{Duration, Instant};

/// Known points are listed so many at a time,
const LIST_AT_ONCE: usize = 500;
/// or when nothing else has happened for this long.
const PATIENCE: Duration = Duration::from_millis(200);

/// Where a sweep stands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Progress {
    /// Points of the plan, or of the shard that is run.
    pub points: u64,
    /// Points of these that are recorded, failed ones included.
    pub recorded: u64,
    /// Points solved in this run.
    pub solved: u64,
    /// Of these, points that failed.
    pub failed: u64,
    /// Whether reduced models are being made.
    pub makes_models: bool,
}

/// What a sweep has done.
#[derive(Clone, Debug, PartialEq)]
pub struct Summary {
    /// The study in the store.
    pub study: StudyRecord,
    /// The part of its plan that was run.
    pub shard: Shard,
    /// Points of the plan, or of this part.
    pub points: u64,
    /// Of these, points that are recorded.
    pub recorded: u64,
    /// Points solved in this run, failed ones included, and those that reduced models gave.
    pub solved: u64,
    /// Of these, points that reduced models gave.
    pub reduced: u64,
    /// The reduced models, where there are any.
    pub models: Option<ModelSummary>,
    /// Points that were known before it.
    pub reused: u64,
    /// All recorded points of the study in this store.
    pub tally: Tally,
    /// Wall-clock time \[s\].
    pub wall_seconds: f64,
    /// Time the threads spent solving, summed \[s\].
    pub solving_seconds: f64,
    /// Whether it was stopped before the end.
    pub stopped: bool,
}

impl Summary {
    /// Whether every point of the plan, or of the shard, is recorded.
    pub fn is_complete(&self) -> bool {
        self.recorded == self.points
    }
}

/// A store that gave up during a sweep.
#[derive(Debug, thiserror::Error)]
#[error("{source}{}", self.kept())]
pub struct SweepError {
    /// What the store says.
    pub source: StoreError,
    /// Points recorded by this run before; none when the store is not where it was.
    pub safe: u64,
}

impl SweepError {
    fn kept(&self) -> String {
        match self.source {
            StoreError::Removed(_) => String::new(),
            _ => format!(
                "\n{} points finished in this run and all earlier ones are on the disk",
                self.safe
            ),
        }
    }
}

impl From<StoreError> for SweepError {
    fn from(source: StoreError) -> Self {
        Self { source, safe: 0 }
    }
}

/// What the workers tell the writer.
pub(super) enum Message {
    Solved(Point, Box<Solved>),
    /// What reduced models gave, with what each hangs on.
    Reduced(Vec<(Point, Finished, Vec<String>)>),
    Known(Listed),
    /// Another worker has the same point in hand.
    Later(Listed),
    Fault(StoreError),
}

/// State the workers share.
pub(super) struct Shared<'a> {
    pub job: &'a Job<'a>,
    pub shard: Shard,
    pub scenario: &'a str,
    pub limits: &'a Limits,
    pub settled: &'a [bool],
    pub next: AtomicU64,
    in_hand: Mutex<HashSet<PointKey>>,
    ended: AtomicBool,
    family: OnceLock<Family>,
    models: Option<Models>,
    stop: &'a (dyn Fn() -> bool + Sync),
}

/// Runs what is missing of a study. `stop` is asked before every point: once it says yes, points in
/// hand are finished and recorded, unless [`Limits::stop`] says that they are to be left, and no other is begun. `observe` hears of every change.
///
/// # Errors
/// The store cannot be read or written; what was recorded before stays.
pub fn run(
    job: &Job<'_>,
    store: &mut Store,
    limits: &Limits,
    stop: &(dyn Fn() -> bool + Sync),
    observe: &mut dyn FnMut(&Progress),
) -> Result<Summary, SweepError> {
    run_shard(job, Shard::WHOLE, store, limits, stop, observe)
}

/// The same for a part of the plan: [`run`] in its own store on each of several machines.
///
/// # Errors
/// As [`run`].
pub fn run_shard(
    job: &Job<'_>,
    shard: Shard,
    store: &mut Store,
    limits: &Limits,
    stop: &(dyn Fn() -> bool + Sync),
    observe: &mut dyn FnMut(&Progress),
) -> Result<Summary, SweepError> {
    let start = Instant::now();
    let plan = job.study.plan();
    let points = shard.len(&plan);
    let family = OnceLock::new();
    let survey = job.survey_with(limits, &family);
    let survey = survey.filter(|survey| survey.pays(job, limits.reduced));
    let scenario = match survey.is_some() {
        true => job.reduced_scenario(),
        false => job.scenario(),
    };
    let study = store.begin(job.study, &scenario)?;
    let store_first = store.reader().first_with_numbers(&study)?;
    let settled = store.settled(&study, limits.memory_per_point_bytes())?;
    let own = |(index, settled): (usize, &bool)| *settled && shard.contains(&plan, index as u64);
    let recorded = settled.iter().enumerate().filter(|at| own(*at)).count() as u64;
    let progress = Progress {
        points,
        recorded,
        solved: 0,
        failed: 0,
        makes_models: false,
    };
    let models = survey.filter(|_| recorded < points).and_then(|survey| {
        observe(&Progress {
            makes_models: true,
            ..progress
        });
        limits.in_pool(|| Models::of(job, &survey, limits.of_a_point()))
    });
    let summary_of_models = models.as_ref().map(|models| models.summary.clone());
    let shared = Shared {
        job,
        shard,
        scenario: &scenario,
        limits,
        settled: &settled,
        next: AtomicU64::new(0),
        in_hand: Mutex::new(HashSet::new()),
        ended: AtomicBool::new(false),
        family,
        models,
        stop,
    };
    let mut writer = Writer {
        store,
        study: &study,
        shared: &shared,
        progress,
        reduced: 0,
        observe,
        known: Vec::new(),
        later: Vec::new(),
        solving_seconds: 0.0,
        noted: match study.assumptions.is_empty() {
            true => None,
            false => store_first,
        },
    };
    (writer.observe)(&writer.progress);
    let lookups: Vec<Lookup> = (0..limits.threads.max(1))
        .map(|_| writer.store.lookup(limits.memory_per_point_bytes()))
        .collect::<Result<_, _>>()?;
    let result = writer.work(lookups);
    let (progress, solving_seconds) = (writer.progress, writer.solving_seconds);
    let reduced = writer.reduced;
    result.map_err(|source| SweepError {
        safe: match source {
            StoreError::Removed(_) => 0,
            _ => progress.recorded - recorded,
        },
        source,
    })?;
    store.check_place()?;
    let tally = store.reader().tally(study.id)?;
    Ok(Summary {
        stopped: progress.recorded < points,
        shard,
        points,
        recorded: progress.recorded,
        solved: progress.solved,
        reduced,
        models: summary_of_models,
        reused: progress.recorded - progress.solved,
        tally,
        wall_seconds: start.elapsed().as_secs_f64(),
        solving_seconds,
        study,
    })
}

impl Shared<'_> {
    /// Takes runs of points until there are none left.
    fn work(&self, lookup: &Lookup, sender: &SyncSender<Message>) {
        let worker = Worker::new(self.limits);
        if let Some(models) = &self.models {
            self.reduce(models, &worker, lookup, sender);
            return;
        }
        let plan = self.job.study.plan();
        loop {
            let turn = self.next.fetch_add(1, Ordering::Relaxed);
            let Some(start) = self.shard.run_start(&plan, turn) else {
                break;
            };
            let end = (start + plan.run_length()).min(plan.len());
            let missing = |index: &u64| !self.settled[*index as usize];
            if !(start..end).any(|index| missing(&index)) {
                continue;
            }
            let anchor = plan.anchor(start);
            let mut run = Run {
                shared: self,
                worker: &worker,
                anchor,
                guesses: None,
            };
            // The anchor first: the others start from its potentials.
            let others = (start..end).filter(|index| *index != anchor);
            for index in std::iter::once(anchor).chain(others).filter(missing) {
                if self.is_over() {
                    return;
                }
                let Some(message) = run.point(plan.point(index), lookup) else {
                    return;
                };
                if sender.send(message).is_err() {
                    return;
                }
            }
        }
    }

    /// The family of the study, made by whoever needs it first.
    pub fn family(&self, worker: &Worker) -> &Family {
        self.family.get_or_init(|| worker.family(self.job))
    }

    /// Whether no other point is to be begun.
    pub fn is_over(&self) -> bool {
        self.ended.load(Ordering::Relaxed) || (self.stop)()
    }

    pub fn in_hand(&self) -> std::sync::MutexGuard<'_, HashSet<PointKey>> {
        self.in_hand.lock().expect("no panic while it is held")
    }
}

/// Points that follow one another in the plan, solved by one worker.
struct Run<'a> {
    shared: &'a Shared<'a>,
    worker: &'a Worker,
    /// Number of the point whose potentials are the first guess of the others.
    anchor: u64,
    /// These potentials, once they are needed.
    guesses: Option<Guesses>,
}

impl Run<'_> {
    /// None for a point that was left in the middle.
    fn point(&mut self, point: Point, lookup: &Lookup) -> Option<Message> {
        let prepared = self.shared.job.prepare(&point, self.shared.scenario);
        let key = prepared.key;
        let listed = |point: Point, copied| Listed {
            index: point.index,
            coordinates: point.coordinates,
            key,
            copied,
        };
        // In hand first, then the question: the writer lets go only of what the store knows.
        if !self.shared.in_hand().insert(key) {
            return Some(Message::Later(listed(point, None)));
        }
        Some(match lookup.known(&key) {
            Ok(Known::Nothing) => {
                let solved = self.solve(&point, prepared)?;
                Message::Solved(point, Box::new(solved))
            }
            Ok(Known::Here) => Message::Known(listed(point, None)),
            Ok(Known::Elsewhere(row)) => Message::Known(listed(point, Some(row))),
            Err(error) => Message::Fault(error),
        })
    }

    fn solve(&mut self, point: &Point, prepared: Prepared) -> Option<Solved> {
        let (job, family) = (self.shared.job, self.shared.family(self.worker));
        let cold = Guesses::new();
        if point.index == self.anchor {
            let mut solved = self.worker.solve(job, prepared, family, &cold)?;
            self.guesses = Some(std::mem::take(&mut solved.potentials));
            return Some(solved);
        }
        // After an interrupt the anchor may be recorded already, but not its potentials.
        let guesses = match self.guesses.take() {
            Some(guesses) => guesses,
            None => {
                let anchor = job.study.plan().point(self.anchor);
                let anchor = job.prepare(&anchor, self.shared.scenario);
                self.worker.solve(job, anchor, family, &cold)?.potentials
            }
        };
        let solved = self.worker.solve(job, prepared, family, &guesses);
        self.guesses = Some(guesses);
        let mut solved = solved?;
        solved.potentials.clear();
        Some(solved)
    }
}

/// The one thread that writes.
struct Writer<'a> {
    store: &'a mut Store,
    study: &'a StudyRecord,
    shared: &'a Shared<'a>,
    progress: Progress,
    observe: &'a mut dyn FnMut(&Progress),
    /// Points that reduced models gave.
    reduced: u64,
    known: Vec<Listed>,
    later: Vec<Listed>,
    solving_seconds: f64,
    /// Place in the order of solving of the point whose assumptions are kept.
    noted: Option<u64>,
}

impl Writer<'_> {
    /// Writes what workers find, one with each lookup.
    fn work(&mut self, lookups: Vec<Lookup>) -> Result<(), StoreError> {
        let shared = self.shared;
        std::thread::scope(|scope| {
            let (sender, receiver) = sync_channel(4 * lookups.len());
            for lookup in lookups {
                let sender = sender.clone();
                scope.spawn(move || shared.work(&lookup, &sender));
            }
            drop(sender);
            let result = self.write(&receiver);
            // After a fault the workers end with the points in hand; a full channel must not hold them.
            shared.ended.store(true, Ordering::Relaxed);
            for _ in receiver {}
            result
        })
    }

    fn write(&mut self, receiver: &Receiver<Message>) -> Result<(), StoreError> {
        loop {
            match receiver.recv_timeout(PATIENCE) {
                Ok(Message::Solved(point, solved)) => self.record(&point, &solved)?,
                Ok(Message::Reduced(points)) => self.record_reduced(&points)?,
                Ok(Message::Known(listed)) => {
                    self.known.push(listed);
                    if self.known.len() >= LIST_AT_ONCE {
                        self.list_known()?;
                    }
                }
                Ok(Message::Later(listed)) => self.later.push(listed),
                Ok(Message::Fault(error)) => return Err(error),
                Err(RecvTimeoutError::Timeout) => self.list_known()?,
                Err(RecvTimeoutError::Disconnected) => break,
            }
        }
        self.list_known()?;
        // Twins of points of this run: the store has them by now, but for those that were left in hand.
        let shared = self.shared;
        let in_hand = shared.in_hand();
        self.later.retain(|listed| !in_hand.contains(&listed.key));
        drop(in_hand);
        self.known.append(&mut self.later);
        self.list_known()
    }

    /// Notes what a point hangs on, if it is the first. Whichever is finished first, and before the point itself: killed in
    /// between, it is solved and noted again.
    fn note(&mut self, point: &Point, assumptions: &[String]) -> Result<(), StoreError> {
        let turn = self.shared.job.study.plan().turn(point.index);
        let earlier = self.noted.is_none_or(|noted| turn < noted);
        if earlier && !assumptions.is_empty() {
            self.store.note_assumptions(self.study.id, assumptions)?;
            self.noted = Some(turn);
        }
        Ok(())
    }

    fn record_reduced(
        &mut self,
        points: &[(Point, Finished, Vec<String>)],
    ) -> Result<(), StoreError> {
        let plan = self.shared.job.study.plan();
        let first = points
            .iter()
            .min_by_key(|(point, ..)| plan.turn(point.index));
        if let Some((point, _, assumptions)) = first {
            self.note(point, assumptions)?;
        }
        let rows = points.iter();
        let rows = rows.map(|(point, finished, _)| (point.index, &point.coordinates[..], finished));
        self.store.record_all(self.study, rows)?;
        let count = points.len() as u64;
        self.solving_seconds += points
            .iter()
            .map(|(_, finished, _)| finished.seconds)
            .sum::<f64>();
        self.progress.recorded += count;
        self.progress.solved += count;
        self.reduced += count;
        (self.observe)(&self.progress);
        Ok(())
    }

    fn record(&mut self, point: &Point, solved: &Solved) -> Result<(), StoreError> {
        let finished = &solved.finished;
        self.note(point, &solved.assumptions)?;
        self.store
            .record(self.study, point.index, &point.coordinates, finished)?;
        self.shared.in_hand().remove(&finished.key);
        self.solving_seconds += finished.seconds;
        self.progress.recorded += 1;
        self.progress.solved += 1;
        self.progress.failed += u64::from(matches!(finished.outcome, Outcome::Failed { .. }));
        (self.observe)(&self.progress);
        Ok(())
    }

    fn list_known(&mut self) -> Result<(), StoreError> {
        if self.known.is_empty() {
            return Ok(());
        }
        let known = std::mem::take(&mut self.known);
        self.store.list(self.study, &known)?;
        let mut in_hand = self.shared.in_hand();
        for listed in &known {
            in_hand.remove(&listed.key);
        }
        drop(in_hand);
        self.progress.recorded += known.len() as u64;
        (self.observe)(&self.progress);
        Ok(())
    }
}
