//! `padfield find FILE`: where in a range a quantity meets its limit.

use super::common::{Given, Solving, Touching};
use super::ending::{cautions_text, checks_text, exit_of, with_ending};
use super::input::{Input, faulty};
use super::so_far::{interrupted, telling};
use super::{Exit, Failure, interrupt, json_line, print};
use crate::checks::Findings;
use crate::questions::find::{
    Answered, Ending, FindError, FindRecord, Question, Told, find as search, report,
};
use crate::report::terminal;
use crate::store::heading;
use std::io::Write;

/// Find where a quantity meets its limit when one value varies
#[derive(Clone, Debug, clap::Args)]
#[command(
    mut_arg("accuracy", |arg| arg.help("Wanted estimated error of every base and touch shift; a smaller one narrows the interval").default_value("1%")),
    after_help = "Example: padfield find scenarios/two_pads.toml --vary pads.pair.gap=2mm..20mm \\\n           \
    --until \"neighbour ratio <= 0.5 %\"\n\n\
    Quantities: base capacitance, touch shift, neighbour shift (pF); relative touch shift, neighbour \
    ratio (%); count shift, neighbour count shift (counts); signal-to-noise ratio. They stand for the panel (largest base, weakest touch, worst neighbour) or, as in \
    \"touch shift of left\", for one pad.\n\n\
    Exit codes: 0 met somewhere in the range, 3 met nowhere, 2 bad input, 4 accuracy not reached, \
    130 interrupted"
)]
pub struct FindArguments {
    /// The panel
    #[command(flatten)]
    pub given: Given,
    /// What varies and over which range: pads.keys.gap=1mm..20mm
    #[arg(long, value_name = "PATH=FROM..TO")]
    pub vary: String,
    /// What shall hold, with <=, >= or =: "neighbour ratio <= 20 %"
    #[arg(long, value_name = "CONDITION")]
    pub until: String,
    /// The finger
    #[command(flatten)]
    pub touching: Touching,
    /// The solver
    #[command(flatten)]
    pub solving: Solving,
    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,
}

/// Runs the command: reads the panel file, searches the range, prints to `output`. An interrupt ends
/// it; what is known by then is printed.
///
/// # Errors
/// A file that cannot be read, a faulty panel or question, a range without anything that can be solved.
pub fn find(
    arguments: &FindArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let shown = arguments.given.file.display().to_string();
    let Input { document, panel } = arguments.given.read()?;
    let finger = arguments.touching.of(&arguments.given.file, &panel)?;
    let variable = document.range(&arguments.vary).map_err(faulty)?;
    let condition = document
        .condition(&arguments.until, &panel)
        .map_err(faulty)?;
    let question = Question {
        document: &document,
        overrides: &[],
        variable: &variable,
        condition: &condition,
        finger,
        settings: telling(arguments.solving.settings()),
    };
    let answer = search(&question, &interrupt::asked, progress, &mut |_| {
        interrupt::something_is_known()
    })
    .map_err(|error| failure(&shown, &error))?;
    let told = Told {
        question: &question,
        answer: &answer,
    };
    let answered = Answered {
        question: &question,
        answer: &answer,
    };
    let checks = answered.checks();
    let text = if arguments.json {
        json_line(&with_ending(FindRecord::of(&told), &panel, &checks))?
    } else {
        terminal::answer("", &report(&told, &heading(&condition.quantity)))
            + &cautions_text(&panel)
            + &checks_text(&checks)
    };
    print(output, &text)?;
    match answer.found.ending {
        Ending::Stopped => Err(interrupted(&format!(
            "values of {} solved so far: {}",
            variable.path,
            answer.found.solved().count()
        ))),
        _ => Ok(exit_of(&checks)),
    }
}

fn failure(file: &str, error: &FindError) -> Failure {
    let is_numerical = matches!(
        error,
        FindError::NothingSolved {
            is_numerical: true,
            ..
        }
    );
    Failure {
        message: format!("{file}: {error}"),
        exit: if is_numerical {
            Exit::NotReached
        } else {
            Exit::BadInput
        },
    }
}
