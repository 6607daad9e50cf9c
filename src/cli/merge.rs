//! `padfield merge DIR`: the shards of a study into one store, one table, one set of charts.

use super::chart_files::{ChartFailure, draw, drawn_text};
use super::ending::exit_of;
use super::input::bad_input;
use super::merge_text::merge_text;
use super::study_folders::study_folders;
use super::study_record::{MergedRecord, StudiesRecord};
use super::sweep_text::{altered_text, store_failure};
use super::told::Told;
use super::writer::say;
use super::{Exit, Failure, interrupt};
use crate::checks::{Check, Findings, Kind, Severity, Source};
use crate::store::{
    Part, PartError, Place, Reader, SHARDS, Scratch, Store, StoreError, StudyRecord, Tally,
    part_files, write_table,
};
use crate::study::Shard;
use std::collections::BTreeMap;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Join the shards of a sweep into one store, table and charts; says what is missing
#[derive(Clone, Debug, clap::Args)]
#[command(after_help = "Example: padfield merge results/panel/spacing\n\n\
    As often as you like, in any order, also while shards are running. Shards of another panel file, study \
    or engine are refused. Exit code 3 while points are missing: it says which shards to run again.")]
pub struct MergeArguments {
    /// Folder of a study with shards, or a folder that holds such folders
    #[arg(value_name = "DIR")]
    pub folder: PathBuf,
    /// Folder on a local disk to join them in (default: that for temporary files)
    #[arg(long, value_name = "DIR")]
    pub scratch: Option<PathBuf>,
    /// Write no charts; padfield chart draws them later
    #[arg(long)]
    pub no_charts: bool,
    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,
}

/// How the folders begin that shards are joined in.
pub(super) const MERGING: &str = "padfield-merge-";

/// What a merge has done.
pub(super) struct Merged {
    pub folder: PathBuf,
    pub study: StudyRecord,
    /// Shards that were joined.
    pub shards: Vec<Shard>,
    /// Copies that were torn, and why.
    pub torn: Vec<(PathBuf, String)>,
    /// Points that were not in the store before.
    pub new: u64,
    pub tally: Tally,
    /// Missing points as first and last of a stretch, counted from 1 as in the table.
    pub missing: Vec<[u64; 2]>,
    /// Shards they fall to, with the number of points that each lacks.
    pub again: BTreeMap<Shard, u64>,
    /// The command that runs a shard again, without its number.
    pub command: String,
}

impl Merged {
    pub fn missing_points(&self) -> u64 {
        self.missing
            .iter()
            .map(|[first, last]| last - first + 1)
            .sum()
    }
}

impl Findings for Merged {
    fn checks(&self) -> Vec<Check> {
        // Before what the rows lack, which is not all of it yet.
        if self.missing.is_empty() {
            return self.tally.checks();
        }
        vec![
            Check::new(Kind::Points, Severity::Failed, Source::Sweep)
                .found(format!("{} points are missing", self.missing_points())),
        ]
    }
}

/// Runs the command: joins, writes store, table and charts, prints to `output`.
///
/// # Errors
/// No shards there, shards of different inputs or engines, a file among them that is none, no room.
pub fn merge(arguments: &MergeArguments, output: &mut dyn Write) -> Result<Exit, Failure> {
    let folders = folders(&arguments.folder)?;
    let mut told = Told::new(output, arguments.json);
    let mut exit = Exit::Success;
    let mut failure = None;
    for folder in &folders {
        match merge_study(arguments, folder, &mut told) {
            Ok(ended) if exit == Exit::Success => exit = ended,
            Ok(_) => {}
            Err(failed) => {
                failure = Some(failed);
                break;
            }
        }
    }
    told.end(failure, exit, |studies| StudiesRecord { studies })
}

/// Study folders with shards at or below the one given.
fn folders(given: &Path) -> Result<Vec<PathBuf>, Failure> {
    let start = match given.file_name() {
        Some(name) if name == SHARDS => given.parent().unwrap_or(Path::new(".")),
        _ => given,
    };
    let found = study_folders(start, &|folder| folder.join(SHARDS).is_dir());
    if found.is_empty() {
        return Err(bad_input(format!(
            "{}: there is no folder {SHARDS} in this folder or in those below; run padfield sweep FILE \
             --shard K/N first, or give the folder of the study, such as results/PANEL/STUDY",
            given.display()
        )));
    }
    Ok(found)
}

fn merge_study(
    arguments: &MergeArguments,
    folder: &Path,
    told: &mut Told<'_, MergedRecord>,
) -> Result<Exit, Failure> {
    let unchanged = |error: StoreError| {
        let advice = match error {
            StoreError::Unwritable { .. } => "; merge in a copy of that folder where you may write",
            _ => "",
        };
        bad_input(format!(
            "{error}{advice}\nnothing was changed in {}; the shards are as they were",
            folder.display()
        ))
    };
    let (parts, torn) = read_parts(folder).map_err(unchanged)?;
    let Some(first) = parts.first() else {
        let files: Vec<String> = torn
            .iter()
            .map(|(p, r)| format!("{} ({r})", p.display()))
            .collect();
        return Err(bad_input(match files.is_empty() {
            true => format!(
                "{}: there are no shards in it",
                folder.join(SHARDS).display()
            ),
            false => format!(
                "every shard is torn: {}; copy them again, or run them again",
                files.join(", ")
            ),
        }));
    };
    refuse_mixtures(&parts)?;
    let place = Place::lock(folder, || !interrupt::asked()).map_err(unchanged)?;
    let scratch = arguments.scratch.clone().unwrap_or_else(std::env::temp_dir);
    // What is joined is in the shards: whatever ends this, the rest may go.
    let scratch = Scratch::new(&scratch, MERGING)
        .map_err(|error| bad_input(store_failure(&error, "the same command", "--scratch")))?;
    let local = scratch.path().join("store");
    let (store, merged) = join(&place, &local, &parts, folder, torn, first).map_err(unchanged)?;
    if let Some(altered) = altered_text(&store) {
        say(&altered);
    }
    told.text(&merge_text(&merged))?;
    write_table(store.reader(), &merged.study, folder).map_err(unchanged)?;
    place.put_back(store).map_err(unchanged)?;
    told.text(&format!("Store and table: {}\n", folder.display()))?;
    let drawn = match arguments.no_charts {
        true => None,
        false => Some(
            Reader::open(folder)
                .map_err(ChartFailure::from)
                .and_then(|reader| draw(&reader, &merged.study, folder, folder)),
        ),
    };
    if let Some(Ok(drawn)) = &drawn {
        told.text(&drawn_text(drawn, folder))?;
    }
    let shown = drawn.as_ref().and_then(|drawn| drawn.as_ref().ok());
    told.record(MergedRecord::of(&merged, shown));
    drawn.transpose()?;
    Ok(exit_of(&merged.checks()))
}

/// The shards of a folder and those that are torn.
#[allow(clippy::type_complexity)]
fn read_parts(folder: &Path) -> Result<(Vec<Part>, Vec<(PathBuf, String)>), StoreError> {
    let (mut parts, mut torn) = (Vec::new(), Vec::new());
    for path in part_files(folder)? {
        match Part::open(&path) {
            Ok(part) => parts.push(part),
            Err(PartError::Torn { path, reason }) => torn.push((path, reason)),
            Err(PartError::Store(error)) => return Err(error),
        }
    }
    parts.sort_by_key(|part| part.label.shard);
    Ok((parts, torn))
}

/// Shards of different inputs or engines are nobody's study.
fn refuse_mixtures(parts: &[Part]) -> Result<(), Failure> {
    let by = |name: fn(&Part) -> &String| {
        let mut groups: BTreeMap<&String, Vec<String>> = BTreeMap::new();
        for part in parts {
            let file = part.path.file_name().unwrap_or_default();
            let file = file.to_string_lossy().into_owned();
            groups.entry(name(part)).or_default().push(file);
        }
        groups
    };
    let refusal = |what: &str, groups: Vec<String>| {
        bad_input(format!(
            "the shards are not of one study: {what}\n{}\nnothing was changed: move the wrong ones out of \
             {}, or run them again, then merge again",
            groups.join("\n"),
            parts[0].path.parent().unwrap_or(Path::new("")).display()
        ))
    };
    let engines = by(|part| &part.label.engine);
    if engines.len() > 1 {
        let lines = engines
            .iter()
            .map(|(engine, files)| format!("  engine {engine}: {}", files.join(", ")));
        return Err(refusal(
            "they were solved by different versions",
            lines.collect(),
        ));
    }
    let scenarios = by(|part| &part.label.scenario);
    if scenarios.len() > 1 {
        let lines = scenarios.iter().map(|(scenario, files)| {
            format!(
                "  inputs {}: {}",
                &scenario[..scenario.len().min(12)],
                files.join(", ")
            )
        });
        return Err(refusal(
            "panel file, study, values that were set or accuracy differ",
            lines.collect(),
        ));
    }
    Ok(())
}

fn join(
    place: &Place,
    local: &Path,
    parts: &[Part],
    folder: &Path,
    torn: Vec<(PathBuf, String)>,
    first: &Part,
) -> Result<(Store, Merged), StoreError> {
    let mut store = place.take_out(local)?;
    let mut new = 0;
    for part in parts {
        new += store.join(part)?.new;
    }
    let study = store.study_of(&first.label.scenario)?;
    // The finest cut there is: the least work again.
    let count = parts
        .iter()
        .map(|part| part.label.shard.count())
        .max()
        .unwrap_or(1);
    let (missing, again) = missing(&store, &study, count)?;
    let merged = Merged {
        folder: folder.to_owned(),
        tally: store.reader().tally(study.id)?,
        study,
        shards: parts.iter().map(|part| part.label.shard).collect(),
        torn,
        new,
        missing,
        again,
        command: first.label.command.clone(),
    };
    Ok((store, merged))
}

/// Stretches of the plan without rows, and the shards they fall to.
#[allow(clippy::type_complexity)]
fn missing(
    store: &Store,
    study: &StudyRecord,
    count: u32,
) -> Result<(Vec<[u64; 2]>, BTreeMap<Shard, u64>), StoreError> {
    let plan = study.study.plan();
    let mut stretches: Vec<[u64; 2]> = Vec::new();
    let mut again = BTreeMap::new();
    let mut expected = 0;
    let mut skipped = |from: u64, to: u64| {
        if from < to {
            stretches.push([from + 1, to]);
        }
        for index in from..to {
            *again
                .entry(Shard::of_point(&plan, index, count))
                .or_insert(0) += 1;
        }
    };
    store.reader().visit_recorded(study, |index| {
        skipped(expected, index);
        expected = index + 1;
    })?;
    skipped(expected, study.points);
    Ok((stretches, again))
}
