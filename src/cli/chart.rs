//! `padfield chart`: the charts of studies again, from their stores.

use super::changes::is_of_changes;
use super::chart_files::{ChartFailure, check_folder, draw, drawn_text};
use super::ending::exit_of;
use super::input::bad_input;
use super::study_folders::study_folders;
use super::study_record::{ChartedRecord, StudiesRecord};
use super::{Exit, Failure, print, print_json};
use crate::checks::{Check, Kind, Severity, Source};
use crate::store::{DATABASE, Reader, StoreError, StudyRecord};
use std::io::Write;
use std::path::{Path, PathBuf};

/// Draw the charts of swept studies again from their stores, without solving
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Example: padfield chart results/panel --study spacing\n\n\
    Works on a study that is still running or was interrupted: points without numbers are gaps. \
    Charts: DIR/STUDY/touch-shift.svg, touch-shift.png, ..."
)]
pub struct ChartArguments {
    /// Folder of a store, a folder that holds such folders, a points.sqlite, or the panel file
    #[arg(value_name = "DIR|FILE", default_value = "results")]
    pub place: PathBuf,
    /// Draw this study only (default: each)
    #[arg(long, value_name = "NAME")]
    pub study: Option<String>,
    /// Folder for the charts, one folder per study in it (default: beside each store)
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,
}

/// A study with its store.
struct Found {
    folder: PathBuf,
    reader: Reader,
    study: StudyRecord,
}

/// Runs the command: reads stores, writes charts, prints to `output`.
///
/// # Errors
/// No store or study there, one that cannot be read, a folder that cannot be written.
pub fn chart(arguments: &ChartArguments, output: &mut dyn Write) -> Result<Exit, Failure> {
    let found = studies(arguments)?;
    let into = |found: &Found| match &arguments.out {
        Some(out) => beside(&found.folder, out).join(&found.study.study.name),
        None => found.folder.clone(),
    };
    for found in &found {
        check_folder(&into(found))?;
    }
    let mut records = Vec::new();
    let mut exit = Exit::Success;
    for found in &found {
        let into = into(found);
        let Found {
            folder,
            reader,
            study,
        } = found;
        let name = &study.study.name;
        let tally = reader.tally(study.id).map_err(unreadable)?;
        let recorded = tally.done + tally.failed;
        if !arguments.json {
            let text = format!(
                "Study \"{name}\": {recorded} of {} points recorded, {} with numbers\n",
                study.points, tally.done
            );
            print(output, &text)?;
        }
        let drawn = draw(reader, study, folder, &into).map_err(|failure| match failure {
            ChartFailure::Unwritable { .. } => {
                bad_input(format!("{failure}; choose another folder with --out"))
            }
            failure => failure.into(),
        })?;
        if drawn.files.is_empty() {
            let nothing = Check::new(Kind::NoAnswer, Severity::Undecided, Source::Sweep);
            exit = exit_of(&[nothing.at(name).found("no chart could be drawn")]);
        }
        if arguments.json {
            records.push(ChartedRecord::of(study, &tally, folder, &drawn));
        } else {
            print(output, &drawn_text(&drawn, &into))?;
        }
    }
    if arguments.json {
        print_json(output, &StudiesRecord { studies: records })?;
    }
    Ok(exit)
}

/// Studies of a panel with values set keep a folder of their own below another one, too.
fn beside(folder: &Path, out: &Path) -> PathBuf {
    let above = folder.parent().and_then(Path::file_name);
    match above.filter(|name| is_of_changes(name)) {
        Some(name) => out.join(name),
        None => out.to_owned(),
    }
}

fn unreadable(error: StoreError) -> Failure {
    bad_input(error.to_string())
}

/// The folder to search: results/PANEL for a panel file.
fn place(arguments: &ChartArguments) -> Result<PathBuf, Failure> {
    let given = &arguments.place;
    if given.is_dir() {
        return Ok(given.clone());
    }
    if given.file_name().is_some_and(|name| name == DATABASE) {
        return Ok(given.parent().unwrap_or(Path::new("")).to_owned());
    }
    if given.extension().is_some_and(|ending| ending == "toml") {
        let panel = given.file_stem().unwrap_or_default();
        return Ok(Path::new("results").join(panel));
    }
    Err(bad_input(format!(
        "{}: there is no such folder; expected a folder with the results of padfield sweep, such as \
         results/PANEL",
        given.display()
    )))
}

/// The latest state of every study asked for.
fn studies(arguments: &ChartArguments) -> Result<Vec<Found>, Failure> {
    let place = place(arguments)?;
    let folders = study_folders(&place, &|folder| folder.join(DATABASE).is_file());
    if folders.is_empty() {
        return Err(bad_input(format!(
            "{}: there is no {DATABASE} in this folder or in those below; run padfield sweep first",
            place.display()
        )));
    }
    let mut found = Vec::new();
    let mut names = Vec::new();
    for folder in folders {
        let reader = Reader::open(&folder).map_err(unreadable)?;
        let studies = reader.studies().map_err(unreadable)?;
        names.extend(studies.iter().map(|record| record.study.name.clone()));
        let wanted = |record: &StudyRecord| match &arguments.study {
            Some(name) => &record.study.name == name,
            None => true,
        };
        if let Some(study) = studies.into_iter().rfind(wanted) {
            found.push(Found {
                folder,
                reader,
                study,
            });
        }
    }
    if found.is_empty() {
        names.sort();
        names.dedup();
        return Err(bad_input(match &arguments.study {
            Some(name) => format!(
                "{}: there is no study \"{name}\"; there is: {}",
                place.display(),
                names.join(", ")
            ),
            None => format!("{}: no study is recorded there", place.display()),
        }));
    }
    Ok(found)
}
