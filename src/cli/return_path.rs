//! `padfield return-path FILE`: what weak ties to earth leave of a touch.

use super::chart_files::{drawn_text, place_unless};
use super::drift::parse_counts;
use super::ending::{add_ending, checks_text, exit_of};
use super::input::{self, bad_input};
use super::return_path_text::to_text;
use super::window::failure;
use super::{Exit, Failure, interrupt, memory, parse_accuracy, parse_memory, print, print_json};
use crate::checks::Findings;
use crate::figures::Picture;
use crate::return_path::{Question, picture, return_study, to_json};
use crate::touch::{WorkLimits, solve_field};
use padfield_engine::field::Settings;
use std::io::Write;
use std::path::PathBuf;

/// Touch shift against the return path, for every supply, with the noise that comes through it
#[derive(Clone, Debug, clap::Args)]
#[command(
    name = "return-path",
    after_help = "Example: padfield return-path scenarios/clover.toml --counts 40 --accuracy 4%\n\n\
    Exit codes: 0 success, 2 bad input, 3 some pad falls below --counts at the weakest return of a supply, \
    4 accuracy not reached, 130 interrupted"
)]
pub struct ReturnPathArguments {
    /// Panel file (TOML)
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Finger of the file that touches (default: the first)
    #[arg(long, value_name = "NAME")]
    pub finger: Option<String>,
    /// Share of the earthed touch to keep
    #[arg(long, default_value = "90%", value_parser = parse_accuracy)]
    pub share: f64,
    /// Counts to keep on every supply
    #[arg(long, value_name = "COUNTS", value_parser = parse_counts)]
    pub counts: Option<f64>,
    /// Override a value of the file by its dotted path; may be given several times
    #[arg(long, value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Wanted estimated error of every base and touch shift
    #[arg(long, default_value = "2%", value_parser = parse_accuracy)]
    pub accuracy: f64,
    /// Largest memory the solver may ask for
    #[arg(long, default_value = "8GB", value_parser = parse_memory)]
    pub memory: u64,
    /// Folder of the chart (default: results/PANEL/return-path in the current folder)
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Print one JSON object instead of text, and draw no chart
    #[arg(long)]
    pub json: bool,
}

/// Runs the command.
///
/// # Errors
/// A file that cannot be read, a faulty panel, a finger that is not in the file, a touch that cannot be
/// solved.
pub fn return_path(
    arguments: &ReturnPathArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let panel = input::read(&arguments.file, &arguments.set)?.panel;
    if let Some(name) = &arguments.finger
        && panel.fingers.iter().all(|finger| finger.name != *name)
    {
        let known: Vec<&str> = panel.fingers.iter().map(|f| f.name.as_str()).collect();
        return Err(bad_input(format!(
            "{}: there is no finger \"{name}\"; fingers: {}",
            arguments.file.display(),
            known.join(", ")
        )));
    }
    let charts = place_unless(
        arguments.json,
        &arguments.file,
        "return-path",
        arguments.out.as_ref(),
        &arguments.set,
    )?;
    let limits = WorkLimits {
        settings: Settings {
            accuracy: arguments.accuracy,
            memory_cap_bytes: memory::of_machine(arguments.memory),
            ..Settings::default()
        },
        solver: &solve_field,
        stop: &interrupt::asked,
        progress,
    };
    let question = Question {
        finger: arguments.finger.as_deref(),
        share: arguments.share,
        counts: arguments.counts,
    };
    let found = return_study(&panel, &question, &limits)
        .map_err(|error| failure(&arguments.file, &error))?;
    let checks = found.checks();
    if let Some((folder, mut drawn)) = charts {
        print(output, &to_text(&panel, &found))?;
        print(output, &checks_text(&checks))?;
        let chart = Picture::Line(picture(&panel.title, &found));
        drawn.add(&folder, "return-path", &chart)?;
        print(output, &drawn_text(&drawn, &folder))?;
    } else {
        let mut record = to_json(&found);
        add_ending(&mut record, &panel, &checks);
        print_json(output, record)?;
    }
    Ok(exit_of(&checks))
}
