//! `padfield drift FILE`: how far the baseline drifts, and how fast firmware must follow.

use super::chart_files::{drawn_text, place_unless};
use super::drift_text::to_text;
use super::ending::{add_ending, checks_text, exit_of};
use super::input::{self, bad_input};
use super::window::failure;
use super::{Exit, Failure, interrupt, memory, parse_accuracy, parse_memory, print, print_json};
use crate::checks::Findings;
use crate::drift::{Question, check, drift as solve, picture, to_json};
use crate::figures::Picture;
use crate::touch::{TouchError, WorkLimits, solve_field};
use padfield_engine::field::Settings;
use std::io::Write;
use std::path::PathBuf;

/// Drift of the baseline with temperature, moisture and age, and the tracking it needs
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Example: padfield drift scenarios/fern.toml --accuracy 4%\n\n\
    Exit codes: 0 success, 2 bad input, 3 a held finger loses more than a fifth of its shift to the \
    tracking that a given [climate] needs, 4 accuracy not reached, 130 interrupted"
)]
pub struct DriftArguments {
    /// Panel file (TOML)
    #[arg(value_name = "FILE")]
    pub file: PathBuf,
    /// Finger of the file that touches (default: the first)
    #[arg(long, value_name = "NAME")]
    pub finger: Option<String>,
    /// Threshold in counts that the drift is compared with (default: half the touch)
    #[arg(long, value_name = "COUNTS", value_parser = parse_counts)]
    pub threshold: Option<f64>,
    /// Solve both ends of the climate and hold the linear drift against them
    #[arg(long)]
    pub check: bool,
    /// Override a value of the file by its dotted path; may be given several times
    #[arg(long, value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Wanted estimated error of every base and touch shift
    #[arg(long, default_value = "2%", value_parser = parse_accuracy)]
    pub accuracy: f64,
    /// Largest memory the solver may ask for
    #[arg(long, default_value = "8GB", value_parser = parse_memory)]
    pub memory: u64,
    /// Folder of the chart (default: results/PANEL/drift in the current folder)
    #[arg(long, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Print one JSON object instead of text, and draw no chart
    #[arg(long)]
    pub json: bool,
}

/// Counts above zero, as typed.
pub(super) fn parse_counts(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(counts) if counts > 0.0 && counts.is_finite() => Ok(counts),
        _ => Err("expected a number of counts above 0, such as 60".to_owned()),
    }
}

/// Runs the command.
///
/// # Errors
/// A file that cannot be read, a faulty panel, a finger that is not in the file, a touch that cannot be
/// solved.
pub fn drift(
    arguments: &DriftArguments,
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
        "drift",
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
        threshold: arguments.threshold,
    };
    let failed = |error: TouchError| failure(&arguments.file, &error);
    let found = solve(&panel, &question, &limits).map_err(failed)?;
    let checked = match arguments.check {
        true => check(&panel, &question, &found, &limits).map_err(failed)?,
        false => Vec::new(),
    };
    let checks = found.checks();
    if let Some((folder, mut drawn)) = charts {
        print(output, &to_text(&panel, &found, &checked))?;
        print(output, &checks_text(&checks))?;
        if let Some(chart) = picture(&panel.title, &found) {
            drawn.add(&folder, "drift", &Picture::Line(chart))?;
        }
        print(output, &drawn_text(&drawn, &folder))?;
    } else {
        let mut record = to_json(&found, &checked);
        add_ending(&mut record, &panel, &checks);
        print_json(output, record)?;
    }
    Ok(exit_of(&checks))
}
