//! What `sweep`, `merge`, `chart` and `cluster` tell machines.

use super::chart_files::Drawn;
use super::merge::Merged;
use super::sweep_text::engine_share;
use crate::cluster::Task;
use crate::record::{all, record};
use crate::store::{StudyRecord, Tally};
use crate::study::{Shard, Study, Variable};
use crate::sweep::{Measurement, ModelSummary, Summary, Survey};
use schemars::JsonSchema;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Answers of a command over several studies.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct StudiesRecord<T> {
    /// Study by study.
    pub studies: Vec<T>,
}

/// What `sweep` tells.
#[derive(Debug, Serialize, JsonSchema)]
pub(super) struct SweepRecord {
    /// Study by study.
    pub studies: Vec<SweptRecord>,
    /// What the panel is part of and who has to decide there; empty when only its studies make it whole.
    pub cautions: Vec<String>,
}

/// A study that was swept, or planned with `--dry-run`.
#[derive(Debug, Serialize, JsonSchema)]
#[serde(untagged)]
pub(super) enum SweptRecord {
    /// What it would take.
    Plan(Box<PlanRecord>),
    /// What a run has done.
    Run(Box<RunRecord>),
}

record! {
    /// What a study would take.
    pub(super) struct PlanRecord(study: &Study, measurement: &Measurement, threads: usize) {
        /// Its name.
        study: String = study.name.clone(),
        /// Points of the plan.
        points: u64 = measurement.points,
        /// What varies.
        variables: Vec<VariableRecord> = all(&study.variables, VariableRecord::of),
        /// Points that were solved to tell.
        measured: MeasuredRecord = MeasuredRecord::of(measurement, threads),
        /// Wall-clock time of the whole plan at the same rate, s.
        plan_seconds: f64 = measurement.plan_seconds,
        /// Reduced models that it would have, where that was asked.
        #[serde(skip_serializing_if = "Option::is_none")]
        reduced: Option<SurveyRecord> = None,
    }

    /// Reduced models that a study would have.
    pub(super) struct SurveyRecord(survey: &Survey) {
        /// How many.
        models: usize = survey.models(),
        /// What they cost, in solutions of points.
        cost_points: u64 = survey.cost(),
        /// Cells of the largest of their grids.
        cells: usize = survey.cells(),
        /// Share of the touches that none of them covers.
        uncovered: f64 = survey.uncovered,
        /// Why not, most frequent first.
        reasons: Vec<UncoveredRecord> = all(&survey.reasons, UncoveredRecord::of),
    }

    /// Why touches have no reduced model.
    pub(super) struct UncoveredRecord(one: &(String, f64)) {
        /// The reason.
        reason: String = one.0.clone(),
        /// Share of the touches.
        share: f64 = one.1,
    }

    /// Reduced models that gave points.
    pub(super) struct ModelsRecord(models: &ModelSummary) {
        /// How many.
        models: usize = models.models,
        /// Solutions that they are made of.
        solutions: usize = models.extent.designs,
        /// Cells of the largest of their grids.
        cells: usize = models.extent.cells,
        /// Memory they take, bytes.
        memory_bytes: usize = models.extent.bytes,
        /// Time they took to make, s.
        seconds: f64 = models.seconds,
        /// Direct solutions that checked them.
        checks: usize = models.checks,
        /// Largest difference from these, over the error bar.
        worst_check: f64 = models.worst_check,
    }

    /// What varies.
    pub(super) struct VariableRecord(variable: &Variable) {
        /// Its dotted path.
        path: String = variable.path.clone(),
        /// Unit of its numbers; empty for plain numbers, words and compound quantities.
        unit: String = variable.unit.clone(),
        /// Number of its values; null for a range that can be sampled only.
        values: Option<u64> = variable.len(),
    }

    /// Points that were solved to tell what a study would take.
    pub(super) struct MeasuredRecord(measurement: &Measurement, threads: usize) {
        /// How many.
        points: u64 = measurement.measured,
        /// Of these, points that failed.
        failed: u64 = measurement.failed,
        /// First reason of a failure; null when none failed.
        reason: Option<String> = measurement.reason.clone(),
        /// Threads that solved them side by side.
        threads: usize = threads,
        /// Wall-clock time of them all, s.
        seconds: f64 = measurement.wall_seconds,
        /// Fewest and most cells of a point; null when all failed.
        cells: Option<[u64; 2]> = measurement.cells,
        /// Memory they take, about, bytes; null when all failed.
        memory_bytes: Option<u64> = measurement.memory_bytes(threads),
    }

    /// What a run has done.
    pub(super) struct RunRecord(
        summary: &Summary,
        folder: &Path,
        threads: usize,
        part: Option<(Shard, &Path)>,
    ) {
        /// The study.
        #[serde(flatten)]
        study: RowsRecord =
            RowsRecord::of(&summary.study, summary.points, &summary.tally),
        /// Of these, points without the accuracy asked for.
        short_of_accuracy: u64 = summary.tally.short_of_accuracy,
        /// Why points failed, most frequent first.
        failures: Vec<FailureRecord> = all(&summary.tally.reasons, FailureRecord::of),
        /// Points solved in this run, failed ones included.
        solved_now: u64 = summary.solved,
        /// Of these, points that reduced models gave.
        reduced_now: u64 = summary.reduced,
        /// The reduced models, where there are any.
        #[serde(skip_serializing_if = "Option::is_none")]
        models: Option<ModelsRecord> = summary.models.as_ref().map(ModelsRecord::of),
        /// Points that were known before it.
        known_before: u64 = summary.reused,
        /// Wall-clock time, s.
        seconds: f64 = summary.wall_seconds,
        /// Threads that solved side by side.
        threads: usize = threads,
        /// Share of their time that they spent solving.
        engine_share: f64 = engine_share(summary, threads),
        /// Whether every point of the plan, or of the shard, is recorded.
        complete: bool = summary.is_complete(),
        /// Folder of the study.
        folder: PathBuf = folder.to_owned(),
        /// The shard of the plan that was run: number and count.
        #[serde(skip_serializing_if = "Option::is_none")]
        shard: Option<String> = part.map(|(shard, _)| shard.to_string()),
        /// Where the store of the shard is.
        #[serde(skip_serializing_if = "Option::is_none")]
        copy: Option<PathBuf> = part.map(|(_, copy)| copy.to_owned()),
        /// Charts, where they were drawn.
        #[serde(flatten)]
        drawn: Option<DrawnRecord> = None,
    }

    /// A recorded study.
    pub(super) struct RowsRecord(study: &StudyRecord, points: u64, tally: &Tally) {
        /// Its name.
        study: String = study.study.name.clone(),
        /// Hash of panel file, study and numerics.
        scenario: String = study.scenario.clone(),
        /// Engine it was solved with.
        engine: String = study.engine.clone(),
        /// Points of the plan, or of the shard.
        points: u64 = points,
        /// Points with numbers.
        done: u64 = tally.done,
        /// Points without.
        failed: u64 = tally.failed,
    }

    /// Why points failed.
    pub(super) struct FailureRecord(failure: &(String, String, u64)) {
        /// Kind of failure.
        kind: String = failure.0.clone(),
        /// The reason.
        reason: String = failure.1.clone(),
        /// How many points.
        count: u64 = failure.2,
    }

    /// Charts of a study.
    pub(super) struct DrawnRecord(drawn: &Drawn) {
        /// Files that were written.
        charts: Vec<PathBuf> = drawn.files.clone(),
        /// Where curves cross their limits.
        crossings: Vec<String> = drawn.notes.clone(),
        /// Charts that could not be drawn, and why.
        not_drawn: Vec<String> = drawn.left_out.clone(),
    }

    /// Shards that were joined.
    pub(super) struct MergedRecord(merged: &Merged, drawn: Option<&Drawn>) {
        /// The study.
        #[serde(flatten)]
        study: RowsRecord = RowsRecord::of(&merged.study, merged.study.points, &merged.tally),
        /// Of these, points without the accuracy asked for.
        short_of_accuracy: u64 = merged.tally.short_of_accuracy,
        /// Shards that were joined: number and count.
        shards: Vec<String> = merged.shards.iter().map(ToString::to_string).collect(),
        /// Copies that were torn.
        torn: Vec<TornRecord> = all(&merged.torn, TornRecord::of),
        /// Points that were not in the store before.
        new: u64 = merged.new,
        /// Missing points as first and last of a stretch, counted from 1 as in the table.
        missing: Vec<[u64; 2]> = merged.missing.clone(),
        /// Shards they fall to.
        run_again: Vec<AgainRecord> = {
            let again = merged.again.iter();
            again.map(|(shard, points)| AgainRecord::of(*shard, *points, &merged.command)).collect()
        },
        /// Whether no point is missing.
        complete: bool = merged.missing.is_empty(),
        /// Folder of the study.
        folder: PathBuf = merged.folder.clone(),
        /// Charts, where they were drawn.
        #[serde(flatten)]
        drawn: Option<DrawnRecord> = drawn.map(DrawnRecord::of),
    }

    /// A copy that was torn.
    pub(super) struct TornRecord(torn: &(PathBuf, String)) {
        /// The file.
        file: PathBuf = torn.0.clone(),
        /// How it shows.
        reason: String = torn.1.clone(),
    }

    /// A shard to run again.
    pub(super) struct AgainRecord(shard: Shard, points: u64, command: &str) {
        /// Its number and count.
        shard: String = shard.to_string(),
        /// Points it lacks.
        missing: u64 = points,
        /// The command that runs it.
        command: String = format!("{command} --shard {shard}"),
    }

    /// A study whose charts were drawn.
    pub(super) struct ChartedRecord(study: &StudyRecord, tally: &Tally, store: &Path, drawn: &Drawn) {
        /// The study.
        #[serde(flatten)]
        study: RowsRecord = RowsRecord::of(study, study.points, tally),
        /// Folder of its store.
        store: PathBuf = store.to_owned(),
        /// Its charts.
        #[serde(flatten)]
        drawn: DrawnRecord = DrawnRecord::of(drawn),
    }

    /// A study as an array job of a cluster.
    pub(super) struct ClusterRecord(
        study: &str,
        points: u64,
        task: &Task,
        script: String,
        submitted: bool,
        scheduler: String,
    ) {
        /// Its name.
        study: String = study.to_owned(),
        /// Points of the plan.
        points: u64 = points,
        /// Tasks of the array.
        tasks: u32 = task.shards,
        /// Most points of a task.
        points_per_task: u64 = task.points,
        /// Processors of a task.
        cpus: u32 = task.processors,
        /// Time limit of a task, min.
        minutes: u64 = task.minutes,
        /// Memory of a task, bytes.
        memory_bytes: u64 = task.memory_bytes,
        /// Path of the script; with `--dry-run` the script itself.
        script: String = script,
        /// Whether it was submitted.
        submitted: bool = submitted,
        /// What the scheduler said.
        scheduler: String = scheduler,
    }
}
