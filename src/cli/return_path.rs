//! `padfield return-path FILE`: what weak ties to earth leave of a touch.

use super::chart_files::drawn_text;
use super::common::{Destination, Given, Solving, Touching};
use super::drift::parse_counts;
use super::ending::{checks_text, exit_of, with_ending};
use super::input::Input;
use super::so_far::with_so_far;
use super::window::failure;
use super::{Exit, Failure, parse_accuracy, print, print_json};
use crate::checks::Findings;
use crate::figures::Picture;
use crate::questions::return_path::{Question, ReturnRecord, picture, report, return_study};
use crate::report::terminal;
use crate::response::single_pads_so_far;
use std::io::Write;

/// Touch shift against the return path, for every supply, with the noise that comes through it
#[derive(Clone, Debug, clap::Args)]
#[command(
    name = "return-path",
    after_help = "Example: padfield return-path scenarios/clover.toml --counts 40 --accuracy 4%\n\n\
    Exit codes: 0 success, 2 bad input, 3 some pad falls below --counts at the weakest return of a supply, \
    4 accuracy not reached, 130 interrupted"
)]
pub struct ReturnPathArguments {
    /// The panel
    #[command(flatten)]
    pub given: Given,
    /// The finger
    #[command(flatten)]
    pub touching: Touching,
    /// Share of the earthed touch to keep
    #[arg(long, default_value = "90%", value_parser = parse_accuracy)]
    pub share: f64,
    /// Counts to keep on every supply
    #[arg(long, value_name = "COUNTS", value_parser = parse_counts)]
    pub counts: Option<f64>,
    /// The solver
    #[command(flatten)]
    pub solving: Solving,
    /// The answer
    #[command(flatten)]
    pub to: Destination,
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
    let Input { document, panel } = arguments.given.read()?;
    let finger = arguments.touching.of(&arguments.given.file, &panel)?;
    let charts = arguments.to.charts(&arguments.given, "return-path")?;
    let limits = arguments.solving.limits(progress);
    let question = Question {
        finger,
        share: arguments.share,
        counts: arguments.counts,
    };
    let so_far = || single_pads_so_far(&panel, finger, &limits);
    let found = return_study(&panel, &question, &limits)
        .map_err(|error| with_so_far(failure((&document, &panel), &error), so_far))?;
    let checks = found.checks();
    if let Some((folder, mut drawn)) = charts {
        print(
            output,
            &terminal::answer(&panel.title, &report(&panel, &found)),
        )?;
        print(output, &checks_text(&checks))?;
        let chart = Picture::Line(picture(&panel.title, &found));
        drawn.add(&folder, "return-path", &chart)?;
        print(output, &drawn_text(&drawn, &folder))?;
    } else {
        let record = ReturnRecord::of(&found);
        print_json(output, &with_ending(record, &panel, &checks))?;
    }
    Ok(exit_of(&checks))
}
