//! One point: from coordinates to a finished point.

use super::family::{Family, Guesses};
use super::reduced::{COST, PAYS, Survey, Use};
use crate::accuracy::missed_words;
use crate::input::{Document, Override};
use crate::panel::Panel;
use crate::panel::lowering::LoweringOptions;
use crate::response::{Request, Response, ResponseError, point_values};
use crate::store::{
    ENGINE, FailureKind, Finished, Outcome, PointKey, inputs_of, unresolved_inputs,
};
use crate::study::{Point, Study};
use padfield_engine::field::{FieldError, Settings, Stop};
use rayon::{ThreadPool, ThreadPoolBuilder};
use serde_json::Value;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::OnceLock;
use std::time::Instant;

/// What a sweep may use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Points side by side, at least 1.
    pub threads: usize,
    /// Largest memory of all of them together \[bytes\].
    pub memory_cap_bytes: u64,
    /// Who may ask that points in hand are left, not recorded: they are solved by the next run.
    pub stop: Stop,
    /// Whether reduced models give the points.
    pub reduced: Use,
}

impl Limits {
    /// Largest memory of one point \[bytes\].
    pub fn memory_per_point_bytes(&self) -> u64 {
        self.memory_cap_bytes / self.threads.max(1) as u64
    }

    pub(super) fn of_a_point(&self) -> Means {
        Means {
            memory_cap_bytes: self.memory_per_point_bytes(),
            stop: self.stop,
        }
    }

    /// Does work on as many threads as points are solved on.
    pub(super) fn in_pool<T: Send>(&self, work: impl FnOnce() -> T + Send) -> T {
        let pool = ThreadPoolBuilder::new().num_threads(self.threads).build();
        pool.expect("the system starts threads").install(work)
    }
}

/// What one point may use.
#[derive(Clone, Copy, Debug)]
pub(super) struct Means {
    pub memory_cap_bytes: u64,
    pub stop: Stop,
}

/// A study of a panel file.
#[derive(Clone, Debug)]
pub struct Job<'a> {
    /// The panel file.
    pub document: &'a Document,
    /// A study of it; its accuracy may differ from the file's.
    pub study: &'a Study,
}

/// A point with its panel, ready to be solved.
pub(super) struct Prepared {
    pub key: PointKey,
    pub inputs: Value,
    pub panel: Result<Panel, String>,
}

impl Job<'_> {
    /// What a study would be by reduced models; none where it is not even asked.
    pub fn survey(&self, limits: &Limits) -> Option<Survey> {
        self.survey_with(limits, &OnceLock::new())
    }

    /// The same, with the family that it is made with, which may be there.
    pub(super) fn survey_with(&self, limits: &Limits, family: &OnceLock<Family>) -> Option<Survey> {
        let is_asked = match limits.reduced {
            Use::Never => false,
            Use::Always => true,
            // One model would not pay.
            Use::Auto => self.study.plan().len() > PAYS * COST,
        };
        is_asked.then(|| {
            let means = limits.of_a_point();
            let family = family.get_or_init(|| Worker::new(limits).family(self));
            limits.in_pool(|| Survey::of(self, means, family))
        })
    }

    /// The same as [`Job::scenario`] where reduced models give the points.
    pub fn reduced_scenario(&self) -> String {
        let mut hasher = blake3::Hasher::new();
        hasher.update(self.scenario().as_bytes());
        hasher.update(b"reduced\n");
        hasher.finalize().to_hex().to_string()
    }

    /// Hash of everything the numbers of this study depend on: file, study, accuracy, engine.
    pub fn scenario(&self) -> String {
        let mut hasher = blake3::Hasher::new();
        let definition = serde_json::to_string(self.study).expect("a study is plain data");
        for part in [
            &self.document.identity(&self.study.name),
            &definition,
            ENGINE,
        ] {
            hasher.update(part.as_bytes());
            hasher.update(b"\n");
        }
        hasher.finalize().to_hex().to_string()
    }

    /// Settings of the field engine.
    pub(super) fn settings(&self, means: Means) -> Settings {
        Settings {
            accuracy: self.study.accuracy,
            memory_cap_bytes: means.memory_cap_bytes,
            stop: means.stop,
            ..Settings::default()
        }
    }

    /// Values to set for a point: dotted path and text.
    fn set_values(&self, point: &Point) -> Vec<(String, String)> {
        let pairs = self.study.variables.iter().zip(&point.coordinates);
        pairs
            .map(|(variable, coordinate)| (variable.path.clone(), variable.text(coordinate)))
            .collect()
    }

    pub(super) fn prepare(&self, point: &Point, scenario: &str) -> Prepared {
        let set = self.set_values(point);
        let overrides: Vec<Override> = set
            .iter()
            .map(|(path, value)| Override {
                path: path.clone(),
                value: value.clone(),
            })
            .collect();
        let panel = self
            .document
            .panel(&overrides)
            .map_err(|error| error.message().to_owned());
        let inputs = match &panel {
            Ok(panel) => inputs_of(panel, self.study.finger.as_deref()),
            Err(_) => unresolved_inputs(scenario, &set),
        };
        Prepared {
            key: PointKey::new(&inputs, self.study.accuracy),
            inputs,
            panel,
        }
    }

    pub(super) fn request<'a>(&'a self, panel: &'a Panel, means: Means) -> Request<'a> {
        Request {
            panel,
            finger: self.study.finger.as_deref(),
            pad: None,
            settings: self.settings(means),
            options: LoweringOptions::default(),
        }
    }
}

/// A thread that solves points one after the other. The engine's own parallel loops run in a pool of
/// one thread: with a larger one they would pick up other points while they wait, and the memory
/// of more points than there are threads.
pub(super) struct Worker {
    pool: ThreadPool,
    means: Means,
}

/// A finished point and what its numbers hang on.
pub(super) struct Solved {
    pub finished: Finished,
    pub assumptions: Vec<String>,
    /// Its potentials; none for a point that failed.
    pub potentials: Guesses,
}

impl Worker {
    pub fn new(limits: &Limits) -> Self {
        Self {
            pool: ThreadPoolBuilder::new()
                .num_threads(1)
                .build()
                .expect("the system starts a thread"),
            means: limits.of_a_point(),
        }
    }

    /// Does work in this worker's pool.
    pub fn install<T: Send>(&self, work: impl FnOnce() -> T + Send) -> T {
        self.pool.install(work)
    }

    /// What the points of the study share, in this worker's pool.
    pub fn family(&self, job: &Job<'_>) -> Family {
        self.pool.install(|| Family::of(job, self.means))
    }

    /// None for a point that was left in the middle.
    pub fn solve(
        &self,
        job: &Job<'_>,
        prepared: Prepared,
        family: &Family,
        guesses: &Guesses,
    ) -> Option<Solved> {
        let start = Instant::now();
        let mut assumptions = Vec::new();
        let mut potentials = Guesses::new();
        let outcome = match &prepared.panel {
            Err(reason) => Outcome::Failed {
                kind: FailureKind::Geometry,
                reason: reason.clone(),
            },
            Ok(panel) => {
                let solve = || {
                    self.pool
                        .install(|| family.respond(job, panel, self.means, guesses))
                };
                match catch_unwind(AssertUnwindSafe(solve)) {
                    Ok(Ok((response, found))) => {
                        let outcome = outcome(&response);
                        potentials = found;
                        assumptions = response.assumptions;
                        outcome
                    }
                    Ok(Err(_)) if self.means.stop.asked() => return None,
                    Ok(Err(error)) => Outcome::Failed {
                        kind: kind_of(&error),
                        reason: error.reason(panel),
                    },
                    // The panic hook has printed what happened.
                    Err(_) => Outcome::Failed {
                        kind: FailureKind::Internal,
                        reason: "a fault of padfield; please report it".to_owned(),
                    },
                }
            }
        };
        Some(Solved {
            finished: Finished {
                key: prepared.key,
                inputs: prepared.inputs,
                outcome,
                memory_cap_bytes: self.means.memory_cap_bytes,
                seconds: start.elapsed().as_secs_f64(),
            },
            assumptions,
            potentials,
        })
    }
}

fn kind_of(error: &ResponseError) -> FailureKind {
    match error {
        ResponseError::Field(FieldError::NotConverged { .. }) => FailureKind::NotConverged,
        ResponseError::Field(FieldError::TooLarge { .. } | FieldError::NoMemory { .. }) => {
            FailureKind::Memory
        }
        _ => FailureKind::Geometry,
    }
}

pub(super) fn outcome(response: &Response) -> Outcome {
    Outcome::Done {
        values: point_values(response),
        accuracy_reached: response.numerics.accuracy_reached,
        missed: missed_words(&response.numerics.missed),
        iterations: response.numerics.iterations as u64,
        cells: response.numerics.cells as u64,
    }
}
