//! `padfield discharge FILE`: what the overlay stands, and how far copper stays from its openings.

use super::chart_files::drawn_text;
use super::common::{Destination, Given};
use super::ending::{checks_text, exit_of, with_cautions};
use super::input::bad_input;
use super::{Exit, Failure, print, print_json};
use crate::checks::Findings;
use crate::figures::Picture;
use crate::questions::discharge::{DischargeRecord, discharge as estimate, picture, report};
use crate::report::terminal;
use std::io::Write;

/// Estimate puncture of the overlay and sparks around it for the levels of IEC 61000-4-2
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Example: padfield discharge scenarios/fern.toml --set discharge.level=\"air 15 kV\"\n\n\
    An estimate, not a calculation of safety insulation; the test house decides. No field is solved.\n\n\
    Exit codes: 0 nothing is asked, or all paths hold; 2 bad input; 3 some path fails or is left open at \
    the level that [discharge] asks for"
)]
pub struct DischargeArguments {
    /// The panel
    #[command(flatten)]
    pub given: Given,
    /// The answer
    #[command(flatten)]
    pub to: Destination,
}

/// Runs the command.
///
/// # Errors
/// A file that cannot be read, a faulty panel. A level that is not held is no failure: the answer is printed
/// and the exit code says so.
pub fn discharge(arguments: &DischargeArguments, output: &mut dyn Write) -> Result<Exit, Failure> {
    let panel = arguments.given.read()?.panel;
    let charts = arguments.to.charts(&arguments.given, "discharge")?;
    let found = estimate(&panel)
        .map_err(|error| bad_input(format!("{}: {error}", arguments.given.file.display())))?;
    let checks = found.checks();
    if let Some((folder, mut drawn)) = charts {
        print(
            output,
            &terminal::answer(&panel.title, &report(&panel, &found)),
        )?;
        print(output, &checks_text(&checks))?;
        let chart = Picture::Ranges(picture(&panel.title, &found));
        drawn.add(&folder, "discharge", &chart)?;
        print(output, &drawn_text(&drawn, &folder))?;
    } else {
        let record = DischargeRecord::of(&found);
        print_json(output, &with_cautions(record, &checks, &found.cautions))?;
    }
    Ok(exit_of(&checks))
}
