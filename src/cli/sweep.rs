//! `padfield sweep FILE`: the studies of a panel file into their stores.

use super::changes::{Changes, default_folder};
use super::chart_files::{ChartFailure, Drawn, check_folder, draw, drawn_text};
use super::common::Given;
use super::ending::{cautions_text, exit_of as exit_of_checks};
use super::input::{bad_input, faulty};
use super::shard::run_part;
use super::study_record::{
    DrawnRecord, PlanRecord, RunRecord, SurveyRecord, SweepRecord, SweptRecord,
};
use super::sweep_progress::SweepProgress;
use super::sweep_text::{altered_text, plan_text, store_failure, summary_text, survey_text};
use super::threads::try_workers;
use super::told::Told;
use super::writer::say;
use super::{Exit, Failure, interrupt, memory, memory_word, parse_accuracy, parse_memory};
use crate::cautions::cautions;
use crate::checks::Findings;
use crate::input::Document;
use crate::store::{Store, StoreError, Tally, write_table};
use crate::study::{Shard, Study};
use crate::sweep::{Job, Limits, Summary, SweepError, Use, measure, run};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Minutes between two copies when nobody says others.
const DEFAULT_COPY_EVERY: f64 = 5.0;

/// Run the studies of a panel file into tables; run again to go on where it ended
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Example: padfield sweep panel.toml --study spacing --dry-run\n\n\
    Every finished point is on the disk at once: after an interrupt, a crash or a full disk the same \
    command goes on. Results: DIR/STUDY/points.sqlite, points.csv and charts (.svg, .png)."
)]
pub struct SweepArguments {
    /// The panel, with [study.NAME] sections
    #[command(flatten)]
    pub given: Given,
    /// Run this study only (default: each in turn)
    #[arg(long, value_name = "NAME")]
    pub study: Option<String>,
    /// Folder for the results, one folder per study in it (default: results/PANEL)
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Wanted estimated error of every base and touch shift (default: the study's)
    #[arg(long, value_parser = parse_accuracy)]
    pub accuracy: Option<f64>,
    /// Largest memory of all points in hand together
    #[arg(long, default_value = "8GB", value_parser = parse_memory)]
    pub memory: u64,
    /// Points solved side by side (default: one per processor)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,
    /// Solve only this part of the plan, such as 3/16, into DIR/STUDY/shards; padfield merge joins them
    #[arg(long, value_name = "K/N")]
    pub shard: Option<Shard>,
    /// Folder on a local disk for the store of a shard (default: that for temporary files)
    #[arg(long, value_name = "DIR", requires = "shard")]
    pub scratch: Option<PathBuf>,
    /// Minutes between two copies of the store of a shard to its results
    #[arg(long, value_name = "MINUTES", default_value = "5", value_parser = parse_minutes, requires = "shard")]
    pub copy_every: f64,
    /// Certified reduced models instead of a solution of every point: where they cost less, wherever they can, or nowhere
    #[arg(
        long,
        value_enum,
        default_value_t,
        value_name = "WHEN",
        conflicts_with = "shard"
    )]
    pub reduced: WhenReduced,
    /// Only tell the number of points and, by solving a few, cells, memory and time; write nothing
    #[arg(long)]
    pub dry_run: bool,
    /// Write no charts; padfield chart draws them later
    #[arg(long)]
    pub no_charts: bool,
    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,
}

/// When a study is swept by reduced models.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, clap::ValueEnum)]
pub enum WhenReduced {
    /// Where they would give several times more points than they cost solutions
    #[default]
    Auto,
    /// Wherever there can be a model
    Always,
    /// Every point is solved
    Never,
}

impl From<WhenReduced> for Use {
    fn from(when: WhenReduced) -> Self {
        match when {
            WhenReduced::Auto => Self::Auto,
            WhenReduced::Always => Self::Always,
            WhenReduced::Never => Self::Never,
        }
    }
}

/// Runs the command: reads the panel file, runs its studies, prints to `output`.
///
/// # Errors
/// A file that cannot be read, a faulty panel or study, a store that cannot be written. Points that
/// fail are no failure of the command; see its exit codes in the guide.
pub fn sweep(arguments: &SweepArguments, output: &mut dyn Write) -> Result<Exit, Failure> {
    let document = arguments.given.document()?;
    let studies = studies(arguments, &document)?;
    let limits = Limits {
        threads: arguments.threads.map_or_else(processors, usize::from),
        memory_cap_bytes: memory::of_machine(arguments.memory),
        stop: interrupt::of_solves(),
        reduced: match arguments.shard {
            // A shard is a part of a study whose other parts are solved elsewhere.
            Some(_) => Use::Never,
            None => arguments.reduced.into(),
        },
    };
    try_workers(limits.threads)?;
    if !arguments.dry_run {
        for study in &studies {
            check_folder(&study_folder(arguments, study)?.0)?;
        }
        // Nothing is read any more: a pipe that nobody writes would not notice.
        interrupt::end_in_good_order();
    }
    let mut told = Told::new(output, arguments.json);
    let mut exit = Exit::Success;
    let mut failure = None;
    for study in &studies {
        let job = Job {
            document: &document,
            study,
        };
        match run_one(arguments, &job, &limits, &mut told) {
            Ok(ended) if exit == Exit::Success => exit = ended,
            Ok(_) => {}
            Err(failed) => {
                failure = Some(failed);
                break;
            }
        }
        if interrupt::asked() {
            exit = Exit::Interrupted;
            break;
        }
    }
    // A panel that only its studies make whole has no cautions of its own.
    let panel = document.panel(&[]).ok();
    if let Some(panel) = panel.as_ref().filter(|_| !told.is_empty()) {
        told.text(&cautions_text(panel))?;
    }
    told.end(failure, exit, |studies| SweepRecord {
        studies,
        cautions: panel.as_ref().map(cautions).unwrap_or_default(),
    })
}

fn run_one(
    arguments: &SweepArguments,
    job: &Job<'_>,
    limits: &Limits,
    told: &mut Told<'_, SweptRecord>,
) -> Result<Exit, Failure> {
    if arguments.dry_run {
        let measurement = measure(job, limits, &interrupt::asked);
        let survey = job.survey(limits);
        told.text(&plan_text(job.study, &measurement, limits.threads))?;
        told.text(&survey_text(survey.as_ref(), job, limits.reduced))?;
        let mut record = PlanRecord::of(job.study, &measurement, limits.threads);
        record.reduced = survey.as_ref().map(SurveyRecord::of);
        told.record(SweptRecord::Plan(Box::new(record)));
        return Ok(Exit::Success);
    }
    match arguments.shard {
        Some(shard) => run_part(arguments, job, shard, limits, told),
        None => run_study(arguments, job, limits, told),
    }
}

/// Minutes as typed: more than none, at most a day.
pub(super) fn parse_minutes(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(minutes) if minutes > 0.0 && minutes <= 1440.0 => Ok(minutes),
        _ => Err("expected minutes above 0 and at most 1440, such as 5 or 0.5".to_owned()),
    }
}

pub(super) fn processors() -> usize {
    std::thread::available_parallelism().map_or(1, Into::into)
}

/// The studies asked for, with the accuracy asked for.
pub(super) fn studies(
    arguments: &SweepArguments,
    document: &Document,
) -> Result<Vec<Study>, Failure> {
    let mut names = document.studies();
    if let Some(name) = &arguments.study {
        names = vec![name.clone()];
    }
    if names.is_empty() {
        // A faulty panel comes first: it may be why there is no study.
        document.panel(&[]).map_err(faulty)?;
        return Err(bad_input(format!(
            "{}: there is no study in this file; add a section [study.NAME] with vary = [...]",
            arguments.given.file.display()
        )));
    }
    let read = |name: &String| {
        let mut study = document.study(name).map_err(faulty)?;
        if let Some(accuracy) = arguments.accuracy {
            study.accuracy = accuracy;
        }
        Ok(study)
    };
    names.iter().map(read).collect()
}

/// The study's own folder: in `results/PANEL` unless told otherwise, with what `--set` has changed.
pub(super) fn study_folder(
    arguments: &SweepArguments,
    study: &Study,
) -> Result<(PathBuf, Option<Changes>), Failure> {
    let changes = Changes::of(&arguments.given.file, &arguments.given.set)?;
    let results = match &arguments.out {
        Some(folder) => folder.clone(),
        None => default_folder(&arguments.given.file, "", changes.as_ref()),
    };
    Ok((results.join(&study.name), changes))
}

/// A word of a command line, as a shell reads it.
pub(super) fn quoted(text: &str) -> String {
    let is_plain = |c: char| c.is_alphanumeric() || "-_./:,+@%±".contains(c);
    match text.contains(['"', '$', '`', '\\', '!']) {
        true => format!("'{}'", text.replace('\'', r"'\''")),
        false if text.is_empty() || !text.chars().all(is_plain) => format!("\"{text}\""),
        false => text.to_owned(),
    }
}

/// The command that goes on: the same points, in the same way.
pub(super) fn resume(arguments: &SweepArguments, study: &Study) -> String {
    let mut command = "padfield".to_owned();
    let words = resume_words(arguments, study);
    for word in words.into_iter().chain(manner_words(arguments)) {
        command += " ";
        command += &quoted(&word);
    }
    command
}

/// How the points are solved: every option that is not its default.
fn manner_words(arguments: &SweepArguments) -> Vec<String> {
    let mut words = Vec::new();
    let mut option = |name: &str, value: String| words.extend([name.to_owned(), value]);
    if let Some(threads) = arguments.threads {
        option("--threads", threads.to_string());
    }
    if arguments.memory != memory::USUAL {
        option("--memory", memory_word(arguments.memory));
    }
    if let Some(folder) = &arguments.scratch {
        option("--scratch", folder.display().to_string());
    }
    match arguments.reduced {
        WhenReduced::Auto => {}
        WhenReduced::Always => option("--reduced", "always".to_owned()),
        WhenReduced::Never => option("--reduced", "never".to_owned()),
    }
    if arguments.copy_every != DEFAULT_COPY_EVERY {
        option("--copy-every", arguments.copy_every.to_string());
    }
    words
}

/// What is solved: the words after the program's name.
pub(super) fn resume_words(arguments: &SweepArguments, study: &Study) -> Vec<String> {
    let mut words = vec![
        "sweep".to_owned(),
        arguments.given.file.display().to_string(),
    ];
    let mut option = |name: &str, value: &str| words.extend([name.to_owned(), value.to_owned()]);
    option("--study", &study.name);
    for given in &arguments.given.set {
        option("--set", given);
    }
    if let Some(folder) = &arguments.out {
        option("--out", &folder.display().to_string());
    }
    if let Some(accuracy) = arguments.accuracy {
        option("--accuracy", &accuracy.to_string());
    }
    if arguments.no_charts {
        words.push("--no-charts".to_owned());
    }
    words
}

/// A store that failed, the command that goes on, and the option that says where the store is.
pub(super) fn failed_with(error: StoreError, go_on: &str, place: &str) -> Failure {
    Failure {
        exit: match error {
            StoreError::Occupied(_) => Exit::Interrupted,
            _ => Exit::BadInput,
        },
        message: store_failure(&error, go_on, place),
    }
}

/// A failure with what is said before it.
pub(super) fn after(said: &str, failure: Failure) -> Failure {
    Failure {
        message: format!("{said}{}", failure.message),
        ..failure
    }
}

/// The store in a folder, once no other process writes to it; that it is waited for is told once.
pub(super) fn opened(
    folder: &Path,
    is_told: &mut bool,
    progress: &mut SweepProgress,
) -> Result<Store, StoreError> {
    Store::open(folder, || {
        if !std::mem::replace(is_told, true) {
            progress.say(&format!(
                "another padfield writes to {}: waiting for it to end",
                folder.display()
            ));
        }
        !interrupt::asked()
    })
}

fn run_study(
    arguments: &SweepArguments,
    job: &Job<'_>,
    limits: &Limits,
    told: &mut Told<'_, SweptRecord>,
) -> Result<Exit, Failure> {
    let study = job.study;
    let (folder, changes) = study_folder(arguments, study)?;
    let go_on = resume(arguments, study);
    let failed = |error: StoreError| failed_with(error, &go_on, "--out");
    let mut progress = SweepProgress::new(&study.name);
    let mut store = opened(&folder, &mut false, &mut progress).map_err(&failed)?;
    if let Some(altered) = altered_text(&store) {
        progress.say(&altered);
    }
    if let Some(changes) = &changes {
        for scenario in [job.scenario(), job.reduced_scenario()] {
            changes.remember(&folder, &scenario)?;
        }
    }
    let result = run(job, &mut store, limits, &interrupt::asked, &mut |at| {
        if at.recorded > 0 {
            interrupt::something_is_known();
        }
        progress.show(at);
    });
    drop(progress);
    let summary = match result {
        Ok(summary) => summary,
        Err(SweepError {
            source: error @ StoreError::Removed(_),
            ..
        }) => return Err(failed(error)),
        Err(error) => {
            let said = format!(
                "{} points finished in this run, and all earlier ones, are in {}\n",
                error.safe,
                store.path().display()
            );
            return Err(after(&said, failed(error.source)));
        }
    };
    // Only where they are: the folder may be gone by now.
    let without = |what: &str, reason: String| match store.check_place() {
        Ok(()) => bad_input(format!(
            "all points are in {}, but the {what} could not be written: {reason}",
            store.path().display()
        )),
        Err(error) => failed(error),
    };
    told.text(&summary_text(&summary, limits.threads))?;
    let mut record = RunRecord::of(&summary, &folder, limits.threads, None);
    let mut write = || -> Result<(), Failure> {
        write_table(store.reader(), &summary.study, &folder).map_err(|error| match error {
            StoreError::Full { .. } | StoreError::Unwritable { .. } => {
                without("table", store_failure(&error, &go_on, "--out"))
            }
            error => failed(error),
        })?;
        told.text(&format!("Store and table: {}\n", folder.display()))?;
        // Whoever has interrupted does not want to wait; the charts of what there is can be drawn later.
        if !arguments.no_charts && !interrupt::asked() {
            let drawn = draw_latest(&store, &summary, &folder).map_err(|error| match error {
                ChartFailure::Store(error) => failed(error),
                error => without("charts", error.to_string()),
            })?;
            told.text(&drawn_text(&drawn, &folder))?;
            record.drawn = Some(DrawnRecord::of(&drawn));
        }
        Ok(())
    };
    let written = write();
    told.record(SweptRecord::Run(Box::new(record)));
    if !summary.is_complete() {
        say(&format!("stopped before the end; go on with: {go_on}"));
    }
    written?;
    Ok(exit_of(&summary))
}

/// Draws the study as the store has it now: what its numbers hang on is noted with the first of them.
fn draw_latest(store: &Store, summary: &Summary, folder: &Path) -> Result<Drawn, ChartFailure> {
    let studies = store.reader().studies()?;
    let latest = studies
        .iter()
        .find(|record| record.id == summary.study.id)
        .unwrap_or(&summary.study);
    draw(store.reader(), latest, folder, folder)
}

/// Impossible geometry is an answer; numbers that are missing or short of accuracy are not reached.
pub(super) fn exit_of(summary: &Summary) -> Exit {
    if summary.is_complete() {
        exit_of_rows(&summary.tally)
    } else {
        Exit::Interrupted
    }
}

/// The same for recorded rows.
pub(super) fn exit_of_rows(tally: &Tally) -> Exit {
    exit_of_checks(&tally.checks())
}
