//! `padfield tolerance FILE`: which tolerance hurts most, what yield a threshold has.

use super::chart_files::{Drawn, drawn_text};
use super::common::{Destination, Given, Solving};
use super::ending::{checks_text, exit_of, with_ending};
use super::input::bad_input;
use super::so_far::with_so_far;
use super::window::failure as touch_failure;
use super::{Exit, Failure, print, print_json};
use crate::checks::Findings;
use crate::figures::Picture;
use crate::questions::tolerance::{
    Output, Question, Spread, ToleranceError, ToleranceRecord, bars, family, histogram, report,
    tolerance as spread_of,
};
use crate::questions::window::SoFar;
use crate::report::terminal;
use crate::touch::TouchError;
use std::io::Write;
use std::path::PathBuf;

/// Most units that are drawn.
const MOST_UNITS: usize = 1_000_000;

/// Tell which tolerance hurts most, and what yield a fixed threshold gives
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Example: padfield tolerance scenarios/fern.toml --units 0\n\n\
    Tolerances are those the panel file writes at its values (\"4 mm ± 0.2 mm\") and its sections \
    [tolerance.NAME]. Sensitivities come from one solution; units are drawn over a surrogate whose error \
    is measured and printed.\n\n\
    Exit codes: 0 success, 2 bad input, 3 no window at nominal values, or the surrogate \
    is not good enough for a yield, 4 accuracy not \
    reached, 130 interrupted"
)]
pub struct ToleranceArguments {
    /// The panel
    #[command(flatten)]
    pub given: Given,
    /// Judge this pad (default: the one whose threshold window is narrowest)
    #[arg(long, value_name = "NAME")]
    pub pad: Option<String>,
    /// One threshold for all units, in counts (default: the one of best yield; with --units 0
    /// the middle of the nominal window)
    #[arg(long, value_name = "COUNTS", value_parser = parse_counts)]
    pub threshold: Option<f64>,
    /// Units to draw at random; 0: sensitivities only, without further solves
    #[arg(long, value_name = "N", default_value = "20000", value_parser = parse_units)]
    pub units: usize,
    /// Another seed draws other units
    #[arg(long, value_name = "N", default_value = "1")]
    pub seed: u64,
    /// The solver
    #[command(flatten)]
    pub solving: Solving,
    /// The answer
    #[command(flatten)]
    pub to: Destination,
}

fn parse_counts(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(counts) if counts > 0.0 && counts.is_finite() => Ok(counts),
        _ => Err("expected a number of counts above 0, such as 25".to_owned()),
    }
}

pub(super) fn parse_units(text: &str) -> Result<usize, String> {
    match text.trim().parse::<usize>() {
        Ok(units) if units <= MOST_UNITS => Ok(units),
        _ => Err(format!("expected a whole number up to {MOST_UNITS}")),
    }
}

/// Runs the command: solves, draws units, prints to `output`, draws the charts.
///
/// # Errors
/// A file that cannot be read, a faulty panel or tolerance, a touch that cannot be solved.
pub fn tolerance(
    arguments: &ToleranceArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let document = arguments.given.read()?.document;
    let family = family(&document).map_err(|error| bad_input(error.to_string()))?;
    let charts = arguments.to.charts(&arguments.given, "tolerance")?;
    let limits = arguments.solving.limits(progress);
    let question = Question {
        pad: arguments.pad.clone(),
        threshold: arguments.threshold,
        units: arguments.units,
        seed: arguments.seed,
    };
    let failed = |error| match error {
        ToleranceError::Touch(error) => touch_failure((&document, &family.panel), &error),
        ToleranceError::Scenario(error) => bad_input(error.to_string()),
        other => bad_input(format!("{}: {other}", arguments.given.file.display())),
    };
    let so_far = || {
        let window = SoFar::of(&family, &limits)?.of_pad(arguments.pad.as_deref());
        Ok::<_, TouchError>(format!("window: {}", window.words()))
    };
    let spread = spread_of(&family, &question, &limits)
        .map_err(|error| with_so_far(failed(error), so_far))?;
    let title = &family.panel.title;
    let checks = spread.checks();
    if let Some(charts) = charts {
        print(
            output,
            &terminal::answer(title, &report(&family.panel, &spread)),
        )?;
        print(output, &checks_text(&checks))?;
        print(output, &draw(charts, title, &spread)?)?;
    } else {
        let record = ToleranceRecord::of(&spread);
        print_json(output, &with_ending(record, &family.panel, &checks))?;
    }
    Ok(exit_of(&checks))
}

fn draw(
    (folder, mut drawn): (PathBuf, Drawn),
    title: &str,
    spread: &Spread,
) -> Result<String, Failure> {
    for (name, output) in [
        ("weakest-touch", Output::TrueCounts),
        ("window-ratio", Output::Ratio),
    ] {
        if let Some(chart) = bars(title, spread, output) {
            drawn.add(&folder, name, &Picture::Bars(chart))?;
        }
    }
    if let Some(chart) = histogram(title, spread) {
        drawn.add(&folder, "units", &Picture::Histogram(chart))?;
    }
    Ok(drawn_text(&drawn, &folder))
}
