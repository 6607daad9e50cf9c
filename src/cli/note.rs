//! `padfield note FILE`: the section of the design note, as HTML, Markdown or PDF.

use super::chart_files::{check_folder, place, untried_place};
use super::common::{Given, Resources};
use super::date::{parse_date, today};
use super::ending::{checks_text, exit_of};
use super::input::{Input, bad_input, faulty};
use super::so_far::{interrupted, telling};
use super::solve::response_failure;
use super::tolerance::parse_units;
use super::window::failure as touch_failure;
use super::{Exit, Failure, interrupt, parse_accuracy, print};
use crate::checks::Findings;
use crate::figures::Sheet;
use crate::input::Document as PanelFile;
use crate::note::{
    Facts, FactsError, Order, SOLVE_ACCURACY, StudyCharts, WINDOW_ACCURACY, compose, gather, quoted,
};
use crate::report::{Document, PICTURES, html, markdown};
use crate::store::{DATABASE, Reader, StoreError, StudyRecord, write_whole};
use crate::sweep::Job;
use clap::ValueEnum;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// Memory when nobody says another one.
const DEFAULT_MEMORY: u64 = 8_000_000_000;

/// What the note is written as.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Format {
    /// One file with everything in it
    Html,
    /// Text with the charts beside it
    Markdown,
    /// Pages (only in a program built with --features pdf)
    Pdf,
}

/// A part that may be left out, to save time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum Left {
    /// The threshold window
    Window,
    /// What would widen the window
    Remedies,
    /// Rules of thumb on this panel
    Guidelines,
    /// Sensitivities and tolerances
    Tolerances,
    /// Drift, return path, discharge
    Environment,
    /// A finger across the panel and along sliders
    Walk,
    /// A finger over the whole face
    TouchMap,
}

/// Size of pages.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum PageSize {
    /// 210 mm x 297 mm
    A4,
    /// 8.5 in x 11 in
    Letter,
}

/// Write the section of the design note: requirements, stackup, pads, threshold, decisions, test plan
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Example: padfield note scenarios/fern.toml --leave-out guidelines\n\n\
    The HTML file needs nothing beside it and prints from any browser. Files are note.html, note.md with \
    charts/*.svg, note.pdf.\n\n\
    Exit codes: 0 written and nothing failed or is open, 3 written and something is, 2 bad input, 4 accuracy \
    not reached, 130 interrupted"
)]
pub struct NoteArguments {
    /// The panel
    #[command(flatten)]
    pub given: Given,
    /// What to write; may be given several times (default: html and markdown)
    #[arg(long, value_enum)]
    pub format: Vec<Format>,
    /// Leave a part out; may be given several times
    #[arg(long, value_enum, value_name = "PART")]
    pub leave_out: Vec<Left>,
    /// Units drawn at random over the tolerances, for the yield of a threshold
    #[arg(long, value_name = "N", default_value = "0", value_parser = parse_units)]
    pub units: usize,
    /// Folder with the studies of padfield sweep whose charts go into the note (default: results/PANEL)
    #[arg(long, value_name = "DIR")]
    pub studies: Option<PathBuf>,
    /// Date on the first page, such as 2026-11-28 (default: today, UTC)
    #[arg(long, value_name = "DATE", value_parser = parse_date)]
    pub date: Option<String>,
    /// Pages of the PDF
    #[arg(long, value_enum, default_value = "a4")]
    pub paper: PageSize,
    /// Wanted estimated error of bases and touches, as for solve
    #[arg(long, default_value = "1%", value_parser = parse_accuracy)]
    pub accuracy: f64,
    /// Wanted estimated error behind thresholds and guidelines, as for window
    #[arg(long, default_value = "2%", value_parser = parse_accuracy)]
    pub window_accuracy: f64,
    /// Memory and cache
    #[command(flatten)]
    pub resources: Resources,
    /// Folder of the note (default: results/PANEL/note in the current folder)
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
}

/// Runs the command: computes everything, writes the files, prints their names to `output`.
///
/// # Errors
/// A file that cannot be read or written, a faulty panel, a touch that cannot be solved, PDF asked of a
/// program that was built without it.
pub fn note(
    arguments: &NoteArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let formats = match arguments.format.as_slice() {
        [] => &[Format::Html, Format::Markdown],
        formats => formats,
    };
    if formats.contains(&Format::Pdf) && !cfg!(feature = "pdf") {
        return Err(bad_input(
            "this padfield was built without PDF: build it with --features pdf, or print the HTML file from \
             any browser"
                .to_owned(),
        ));
    }
    let Input { document, panel } = arguments.given.read()?;
    let is_wanted = |part: Left| !arguments.leave_out.contains(&part);
    let file = arguments.given.file.display().to_string();
    let studies = studies(arguments, &document)?;
    let command = command(arguments);
    let (folder, drawn) = place(
        &arguments.given.file,
        "note",
        arguments.out.as_ref(),
        &arguments.given.set,
    )?;
    if formats.contains(&Format::Markdown) {
        check_folder(&folder.join(PICTURES))?;
    }
    let date = arguments.date.clone().unwrap_or_else(today);
    let settings = telling(arguments.resources.settings(arguments.accuracy));
    let order = Order {
        file: &file,
        command: &command,
        date: &date,
        set: &arguments.given.set,
        remark: drawn.remark(),
        document: &document,
        panel: &panel,
        accuracy: arguments.accuracy,
        settings: &settings,
        window_accuracy: arguments.window_accuracy,
        with_window: is_wanted(Left::Window),
        with_remedies: is_wanted(Left::Remedies),
        with_guidelines: is_wanted(Left::Guidelines),
        with_tolerances: is_wanted(Left::Tolerances),
        units: arguments.units,
        with_environment: is_wanted(Left::Environment),
        with_walk: is_wanted(Left::Walk),
        with_touch_map: is_wanted(Left::TouchMap),
        studies: &studies,
    };
    let last = Mutex::new(String::new());
    let facts = gather(
        order,
        &padfield_engine::field::solve,
        &interrupt::asked,
        &|text| {
            progress(text);
            text.clone_into(&mut last.lock().unwrap_or_else(PoisonError::into_inner));
        },
    )
    .map_err(|error| match &error {
        FactsError::Interrupted { .. } => {
            let last = last.lock().unwrap_or_else(PoisonError::into_inner);
            // How far it is stands before what goes on in detail.
            let in_work = last.split(';').next().unwrap_or_default();
            interrupted(&format!("no note is written; {error}\nin work: {in_work}"))
        }
        FactsError::Response(error) => response_failure((&document, &panel), error),
        FactsError::Touch(error) => touch_failure((&document, &panel), error),
    })?;
    print(output, &told(&facts))?;
    let note = compose(&facts).map_err(|error| internal(&error))?;
    for format in formats {
        for path in write(&note, *format, arguments.paper, &folder)? {
            print(output, &format!("{}\n", path.display()))?;
        }
    }
    Ok(exit_of(&facts.checks()))
}

/// The command that writes the same note again: every option that is not its default.
fn command(arguments: &NoteArguments) -> String {
    // Named one by one, without "..": an option that is added has to be told.
    let NoteArguments {
        given: Given { file, set },
        format,
        leave_out,
        units,
        studies,
        date,
        paper,
        accuracy,
        window_accuracy,
        // What was solved before changes nothing in it.
        resources: Resources { memory, cache: _ },
        out,
    } = arguments;
    let mut words = vec![
        "padfield note".to_owned(),
        quoted(&file.display().to_string()),
    ];
    let mut option = |name: &str, value: String| {
        words.push(format!("--{name} {}", quoted(&value)));
    };
    for set in set {
        option("set", set.clone());
    }
    for format in format {
        option("format", word(format));
    }
    for part in leave_out {
        option("leave-out", word(part));
    }
    if *units != 0 {
        option("units", units.to_string());
    }
    if let Some(folder) = studies {
        option("studies", folder.display().to_string());
    }
    if let Some(date) = date {
        option("date", date.clone());
    }
    if *paper != PageSize::A4 {
        option("paper", word(paper));
    }
    if *accuracy != SOLVE_ACCURACY {
        option("accuracy", accuracy.to_string());
    }
    if *window_accuracy != WINDOW_ACCURACY {
        option("window-accuracy", window_accuracy.to_string());
    }
    if *memory != DEFAULT_MEMORY {
        option("memory", format!("{}MB", *memory as f64 / 1e6));
    }
    if let Some(folder) = out {
        option("out", folder.display().to_string());
    }
    words.join(" ")
}

/// A choice as it is typed.
fn word(choice: &impl ValueEnum) -> String {
    let value = choice.to_possible_value();
    value.map_or_else(String::new, |value| value.get_name().to_owned())
}

/// The studies of the panel file, with the charts of what is recorded for this very file.
fn studies(arguments: &NoteArguments, document: &PanelFile) -> Result<Vec<StudyCharts>, Failure> {
    let results = match &arguments.studies {
        Some(folder) => folder.clone(),
        None => untried_place(&arguments.given.file, "", None, &arguments.given.set)?.0,
    };
    let mut found = Vec::new();
    for name in document.studies() {
        let study = document.study(&name).map_err(faulty)?;
        let mut charts = StudyCharts {
            name,
            ..StudyCharts::default()
        };
        let folder = results.join(&charts.name);
        if folder.join(DATABASE).is_file() {
            recorded(&folder, document, &mut charts)
                .map_err(|error| bad_input(error.to_string()))?;
        }
        if charts.points[1] == 0 {
            charts.points[1] = study.plan().len();
        }
        found.push(charts);
    }
    Ok(found)
}

/// Fills in the newest record of a study that stands for this panel file.
fn recorded(
    folder: &Path,
    document: &PanelFile,
    charts: &mut StudyCharts,
) -> Result<(), StoreError> {
    let reader = Reader::open(folder)?;
    let is_of_file = |record: &StudyRecord| {
        let study = &record.study;
        let job = Job { document, study };
        study.name == charts.name && record.scenario == job.scenario()
    };
    let Some(record) = reader.studies()?.into_iter().rfind(is_of_file) else {
        return Ok(());
    };
    let mut sheet = Sheet::new(&record);
    reader.visit_rows::<StoreError>(&record, |row| {
        sheet.add(&row);
        Ok(())
    })?;
    let tally = reader.tally(record.id)?;
    charts.points = [tally.done + tally.failed, record.points];
    charts.figures = sheet.figures();
    Ok(())
}

/// The answer in short, before the files.
fn told(facts: &Facts<'_>) -> String {
    let text = match facts.decided() {
        Some(window) if window.exists() => "A threshold exists.\n".to_owned(),
        Some(_) => "No window: no threshold separates true and false events.\n".to_owned(),
        None => String::new(),
    };
    text + checks_text(&facts.checks()).trim_start()
}

/// Writes one format and tells the files; pictures beside a text are counted as one entry.
fn write(
    note: &Document,
    format: Format,
    paper: PageSize,
    folder: &Path,
) -> Result<Vec<PathBuf>, Failure> {
    match format {
        Format::Html => {
            let page = html(note).map_err(|error| internal(&error))?;
            Ok(vec![save(folder, "note.html", page.as_bytes())?])
        }
        Format::Markdown => {
            let charts = folder.join(PICTURES);
            for figure in note.figures() {
                save(
                    &charts,
                    &format!("{}.svg", figure.name),
                    figure.svg.as_bytes(),
                )?;
            }
            Ok(vec![
                save(folder, "note.md", markdown(note).as_bytes())?,
                charts,
            ])
        }
        Format::Pdf => write_pdf(note, paper, folder),
    }
}

#[cfg(feature = "pdf")]
fn write_pdf(note: &Document, paper: PageSize, folder: &Path) -> Result<Vec<PathBuf>, Failure> {
    let paper = match paper {
        PageSize::A4 => crate::report::Paper::A4,
        PageSize::Letter => crate::report::Paper::Letter,
    };
    let pages = crate::report::pdf(note, paper).map_err(|error| internal(&error))?;
    Ok(vec![save(folder, "note.pdf", &pages)?])
}

#[cfg(not(feature = "pdf"))]
fn write_pdf(_: &Document, _: PageSize, _: &Path) -> Result<Vec<PathBuf>, Failure> {
    // Refused before anything was computed.
    Ok(Vec::new())
}

fn save(folder: &Path, name: &str, content: &[u8]) -> Result<PathBuf, Failure> {
    let path = folder.join(name);
    let written = std::fs::create_dir_all(folder).and_then(|()| write_whole(&path, content));
    written.map_err(|error| bad_input(format!("cannot write {}: {error}", path.display())))?;
    Ok(path)
}

fn internal(error: &dyn std::error::Error) -> Failure {
    Failure {
        message: error.to_string(),
        exit: Exit::Internal,
    }
}
