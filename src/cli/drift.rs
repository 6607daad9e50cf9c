//! `padfield drift FILE`: how far the baseline drifts, and how fast firmware must follow.

use super::chart_files::drawn_text;
use super::common::{Destination, Given, Solving, Touching};
use super::ending::{checks_text, exit_of, with_ending};
use super::input::Input;
use super::so_far::with_so_far;
use super::window::failure;
use super::{Exit, Failure, print, print_json};
use crate::checks::Findings;
use crate::figures::Picture;
use crate::questions::drift::{DriftRecord, Question, check, drift as solve, picture, report};
use crate::report::terminal;
use crate::response::single_pads_so_far;
use crate::touch::TouchError;
use std::io::Write;

/// Drift of the baseline with temperature, moisture and age, and the tracking it needs
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Example: padfield drift scenarios/fern.toml --accuracy 4%\n\n\
    Exit codes: 0 success, 2 bad input, 3 a held finger loses more than a fifth of its shift to the \
    tracking that a given [climate] needs, 4 accuracy not reached, 130 interrupted"
)]
pub struct DriftArguments {
    /// The panel
    #[command(flatten)]
    pub given: Given,
    /// The finger
    #[command(flatten)]
    pub touching: Touching,
    /// Threshold in counts that the drift is compared with (default: half the touch)
    #[arg(long, value_name = "COUNTS", value_parser = parse_counts)]
    pub threshold: Option<f64>,
    /// Solve both ends of the climate and hold the linear drift against them
    #[arg(long)]
    pub check: bool,
    /// The solver
    #[command(flatten)]
    pub solving: Solving,
    /// The answer
    #[command(flatten)]
    pub to: Destination,
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
    let Input { document, panel } = arguments.given.read()?;
    let finger = arguments.touching.of(&arguments.given.file, &panel)?;
    let charts = arguments.to.charts(&arguments.given, "drift")?;
    let limits = arguments.solving.limits(progress);
    let question = Question {
        finger,
        threshold: arguments.threshold,
    };
    let so_far = || single_pads_so_far(&panel, finger, &limits);
    let failed = |error: TouchError| with_so_far(failure((&document, &panel), &error), so_far);
    let found = solve(&panel, &question, &limits).map_err(failed)?;
    let checked = match arguments.check {
        true => check(&panel, &question, &found, &limits).map_err(failed)?,
        false => Vec::new(),
    };
    let checks = found.checks();
    if let Some((folder, mut drawn)) = charts {
        print(
            output,
            &terminal::answer(&panel.title, &report(&panel, &found, &checked)),
        )?;
        print(output, &checks_text(&checks))?;
        if let Some(chart) = picture(&panel.title, &found) {
            drawn.add(&folder, "drift", &Picture::Line(chart))?;
        }
        print(output, &drawn_text(&drawn, &folder))?;
    } else {
        let record = DriftRecord::of(&found, &checked);
        print_json(output, &with_ending(record, &panel, &checks))?;
    }
    Ok(exit_of(&checks))
}
