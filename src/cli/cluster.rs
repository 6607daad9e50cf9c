//! `padfield cluster FILE`: a study as a job script for Slurm.

use super::chart_files::check_folder;
use super::common::Given;
use super::input::bad_input;
use super::study_record::ClusterRecord;
use super::sweep::{
    SweepArguments, parse_minutes, processors, resume_words, studies, study_folder,
};
use super::sweep_text::count;
use super::{Exit, Failure, interrupt, json_line, memory, parse_accuracy, parse_memory, print};
use crate::cluster::{Script, Task, shell_word};
use crate::rounding::duration;
use crate::store::write_whole;
use crate::sweep::{Job, Limits, Measurement, Use, measure};
use std::io::Write;
use std::path::{Path, PathBuf};

/// File name of the script in the folder of the study.
const SCRIPT: &str = "cluster.sh";

/// Write a job script that sweeps a study on a cluster with Slurm; submit it when asked
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Example: padfield cluster panel.toml --study spacing --tasks 200 --cpus 2 --dry-run\n\n\
    The script is an array of shards and a merge that waits for them. Wall time and memory follow from a few \
    points solved here, with a margin. The folder of the results must be one that all nodes see."
)]
pub struct ClusterArguments {
    /// The panel, with [study.NAME] sections
    #[command(flatten)]
    pub given: Given,
    /// The study
    #[arg(long, value_name = "NAME")]
    pub study: String,
    /// Tasks, one shard of the plan each
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=1_000_000))]
    pub tasks: u32,
    /// Processors of a task: points solved side by side
    #[arg(long, value_name = "C", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub cpus: u16,
    /// Folder for the results, one folder per study in it (default: results/PANEL)
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Wanted estimated error of every base and touch shift (default: the study's)
    #[arg(long, value_parser = parse_accuracy)]
    pub accuracy: Option<f64>,
    /// Memory of a task (default: twice what a few points take)
    #[arg(long, value_parser = parse_memory)]
    pub memory: Option<u64>,
    /// Wall time of a task in minutes (default: twice what a few points promise, and 10)
    #[arg(long, value_name = "MINUTES", value_parser = clap::value_parser!(u64).range(1..=525_600))]
    pub minutes: Option<u64>,
    /// Folder on a local disk of the nodes; may use variables of the job
    #[arg(long, value_name = "DIR", default_value = "${TMPDIR:-/tmp}")]
    pub scratch: String,
    /// Minutes between two copies of the store of a shard to the results
    #[arg(long, value_name = "MINUTES", default_value = "5", value_parser = parse_minutes)]
    pub copy_every: f64,
    /// Further option for sbatch, such as --option=--partition=long; may be given several times
    #[arg(long, value_name = "OPTION", allow_hyphen_values = true)]
    pub option: Vec<String>,
    /// Let the merge write no charts
    #[arg(long)]
    pub no_charts: bool,
    /// Print the script; write and submit nothing
    #[arg(long, conflicts_with = "submit")]
    pub dry_run: bool,
    /// Hand the script to Slurm after writing it
    #[arg(long)]
    pub submit: bool,
    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,
}

/// Runs the command: measures a few points, writes the script, prints to `output`.
///
/// # Errors
/// A faulty panel or study, no point that could be measured, a folder that cannot be written, a
/// scheduler that refuses.
pub fn cluster(arguments: &ClusterArguments, output: &mut dyn Write) -> Result<Exit, Failure> {
    let sweep = as_sweep(arguments);
    let document = arguments.given.document()?;
    let study = studies(&sweep, &document)?.remove(0);
    let job = Job {
        document: &document,
        study: &study,
    };
    let (results, _) = study_folder(&sweep, &study)?;
    if !arguments.dry_run {
        check_folder(&results)?;
    }
    let threads = usize::from(arguments.cpus).min(processors());
    let measured = measured(arguments, &job, threads)?;
    let plan = study.plan();
    let task = Task::new(
        &plan,
        arguments.tasks,
        u32::from(arguments.cpus),
        measured.as_ref().map(|measurement| (measurement, threads)),
        arguments.minutes,
        arguments.memory,
    );
    let here = std::env::current_dir().map_err(|error| bad_input(error.to_string()))?;
    let program = std::env::current_exe().unwrap_or_else(|_| PathBuf::from("padfield"));
    let script = Script {
        study: study.name.clone(),
        folder: here.display().to_string(),
        program: program.display().to_string(),
        sweep: resume_words(&sweep, &study),
        results: results.display().to_string(),
        scratch: arguments.scratch.clone(),
        copy_every: arguments.copy_every,
        charts: !arguments.no_charts,
        options: arguments.option.clone(),
        points: plan.len(),
        task,
        reason: reason(arguments, measured.as_ref(), &task, threads),
    }
    .text();
    let path = results.join(SCRIPT);
    if !arguments.json && !arguments.dry_run {
        print(output, &planned(&study.name, plan.len(), &task))?;
    }
    let mut submitted = String::new();
    if !arguments.dry_run {
        write_script(&path, &script)?;
        if arguments.submit {
            submitted = submit(&path)?;
        }
    }
    let text = if arguments.json {
        let shown = match arguments.dry_run {
            true => script,
            false => path.display().to_string(),
        };
        json_line(&ClusterRecord::of(
            &study.name,
            plan.len(),
            &task,
            shown,
            arguments.submit,
            submitted,
        ))?
    } else if arguments.dry_run {
        script
    } else {
        let script = path.display().to_string();
        let next = match arguments.submit {
            true => submitted,
            false => format!("Submit it with: bash {}\n", shell_word(&script)),
        };
        format!("Script: {script}\n{next}")
    };
    print(output, &text)?;
    Ok(Exit::Success)
}

fn planned(study: &str, points: u64, task: &Task) -> String {
    format!(
        "Study \"{study}\": {} points in {} tasks of at most {}, {} min and {} MB each\n",
        count(points),
        count(task.shards.into()),
        count(task.points),
        task.minutes,
        task.memory_bytes / 1_000_000,
    )
}

/// The sweep that the tasks run parts of.
fn as_sweep(arguments: &ClusterArguments) -> SweepArguments {
    SweepArguments {
        given: arguments.given.clone(),
        study: Some(arguments.study.clone()),
        out: arguments.out.clone(),
        accuracy: arguments.accuracy,
        memory: 0,
        threads: None,
        shard: None,
        scratch: None,
        copy_every: arguments.copy_every,
        dry_run: false,
        no_charts: false,
        reduced: super::sweep::WhenReduced::Auto,
        json: false,
    }
}

/// A few points, unless time and memory are given.
fn measured(
    arguments: &ClusterArguments,
    job: &Job<'_>,
    threads: usize,
) -> Result<Option<Measurement>, Failure> {
    if arguments.minutes.is_some() && arguments.memory.is_some() {
        return Ok(None);
    }
    let limits = Limits {
        threads,
        memory_cap_bytes: memory::of_machine(arguments.memory.unwrap_or(memory::USUAL)),
        stop: interrupt::of_solves(),
        reduced: Use::Never,
    };
    Ok(Some(measure(job, &limits, &interrupt::asked)))
}

fn reason(
    arguments: &ClusterArguments,
    measured: Option<&Measurement>,
    task: &Task,
    threads: usize,
) -> String {
    match (arguments.minutes, measured) {
        (Some(_), _) => "as given".to_owned(),
        (None, Some(measurement)) => format!(
            "{} points took {} on {threads} threads where this was written; twice that rate for the {} \
             points of a shard, and 10 min",
            measurement.measured,
            duration(measurement.wall_seconds),
            task.points
        ),
        (None, None) => "not measured".to_owned(),
    }
}

fn write_script(path: &Path, script: &str) -> Result<(), Failure> {
    let folder = path.parent().unwrap_or(Path::new(""));
    std::fs::create_dir_all(folder)
        .and_then(|()| write_whole(path, script.as_bytes()))
        .map_err(|error| {
            bad_input(format!(
                "cannot write {}: {error}; choose another folder with --out",
                path.display()
            ))
        })
}

/// Runs the script, which hands itself to the scheduler; what that says.
fn submit(path: &Path) -> Result<String, Failure> {
    let ended = std::process::Command::new("bash").arg(path).output();
    let refused = |why: &str| {
        bad_input(format!(
            "the script {} is written, but could not be submitted: {}",
            path.display(),
            why.trim()
        ))
    };
    let ended = ended.map_err(|error| refused(&error.to_string()))?;
    if !ended.status.success() {
        return Err(refused(&String::from_utf8_lossy(&ended.stderr)));
    }
    Ok(String::from_utf8_lossy(&ended.stdout).into_owned())
}
