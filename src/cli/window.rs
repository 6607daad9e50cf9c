//! `padfield window FILE`: the threshold over all users, or that there is none.

use super::chart_files::{Drawn, drawn_text};
use super::common::{Destination, Given, Solving};
use super::ending::{checks_text, exit_of, with_ending};
use super::input::{Input, bad_input};
use super::so_far::{interrupted, with_so_far};
use super::{Exit, Failure, interrupt, no_room, print, print_json};
use crate::checks::Findings;
use crate::figures::Picture;
use crate::input::Document;
use crate::panel::Panel;
use crate::questions::slider::{self, SliderDecision, SliderRecord, decide_all};
use crate::questions::window::{
    LeverSearch, SoFar, Window, WindowRecord, levers, picture, report, window_of,
};
use crate::record::{all, record};
use crate::report::terminal;
use crate::sensitivity::PanelFamily;
use crate::touch::TouchError;
use padfield_engine::field::FieldError;
use std::io::Write;
use std::path::PathBuf;

/// Decide on the touch threshold over all users, supplies and false events
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Example: padfield window scenarios/fern.toml --set window.wanted_ratio=3\n\n\
    Exit codes: 0 a threshold exists, 3 no window or a slider that fails, 2 bad input, 4 accuracy not reached, 130 interrupted"
)]
pub struct WindowArguments {
    /// The panel
    #[command(flatten)]
    pub given: Given,
    /// List every event, not only those that bind
    #[arg(long)]
    pub events: bool,
    /// Do not ask what would widen the window
    #[arg(long)]
    pub no_remedies: bool,
    /// The solver
    #[command(flatten)]
    pub solving: Solving,
    /// The answer
    #[command(flatten)]
    pub to: Destination,
}

/// Runs the command: solves every touch, prints to `output`, draws the chart.
///
/// # Errors
/// A file that cannot be read, a faulty panel, a touch that cannot be solved. That there is no window
/// is no failure: the answer is printed and the exit code says so.
pub fn window(
    arguments: &WindowArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let Input { document, panel } = arguments.given.read()?;
    let charts = arguments.to.charts(&arguments.given, "window")?;
    let limits = arguments.solving.limits(progress);
    let failed = |error: TouchError| failure((&document, &panel), &error);
    let family =
        PanelFamily::of_document(&document).map_err(|error| bad_input(error.to_string()))?;
    let so_far = || SoFar::of(&family, &limits).map(|so_far| so_far.words());
    let found = window_of(&family, &limits).map_err(|error| with_so_far(failed(error), so_far))?;
    // The pads are decided: that is shown, whatever becomes of the rest.
    let rest = || -> Result<_, TouchError> {
        let sliders = decide_all(&panel, &limits)?;
        let remedies = match arguments.no_remedies {
            true => None,
            false => Some(levers(&family, &found, &limits)?),
        };
        Ok((sliders, remedies))
    };
    // Its picture is drawn on a thread that has nothing to do meanwhile.
    let drawing = || charts.map(|charts| draw(charts, &panel, &found));
    let (rest, drawn) = rayon::join(rest, drawing);
    let (sliders, remedies) = match rest {
        Err(error) if error.is_interrupted() => {
            interrupt::something_is_known();
            if drawn.is_some() {
                let answer = report(&panel, &found, None, arguments.events);
                print(output, &terminal::answer(&panel.title, &answer))?;
            }
            let left =
                "the pads are decided; sliders and what would widen the window are not looked at";
            return Err(interrupted(left));
        }
        rest => rest.map_err(failed)?,
    };
    let mut checks = found.checks();
    checks.extend(sliders.iter().flat_map(Findings::checks));
    if let Some(drawn) = drawn {
        let mut answer = report(&panel, &found, remedies.as_ref(), arguments.events);
        answer.append(slider::report(&sliders));
        print(output, &terminal::answer(&panel.title, &answer))?;
        print(output, &checks_text(&checks))?;
        print(output, &drawn?)?;
    } else {
        let record = WindowAnswer::of(&found, remedies.as_ref(), &sliders);
        print_json(output, &with_ending(record, &panel, &checks))?;
    }
    Ok(exit_of(&checks))
}

record! {
    /// The window of pads and sliders.
    pub(super) struct WindowAnswer(
        found: &Window,
        levers: Option<&LeverSearch>,
        sliders: &[SliderDecision],
    ) {
        /// The window of the pads.
        #[serde(flatten)]
        window: WindowRecord = WindowRecord::of(found, levers),
        /// Sliders and wheels.
        sliders: Vec<SliderRecord> = all(sliders, SliderRecord::of),
    }
}

/// Draws the window of the binding pad.
fn draw(
    (folder, mut drawn): (PathBuf, Drawn),
    panel: &Panel,
    found: &Window,
) -> Result<String, Failure> {
    let chart = picture(&panel.title, found, found.binding());
    drawn.add(&folder, "window", &Picture::Ranges(chart))?;
    Ok(drawn_text(&drawn, &folder))
}

/// How a touch that cannot be solved is told.
pub(super) fn failure(asked: (&Document, &Panel), error: &TouchError) -> Failure {
    Failure {
        message: no_room::message(asked, error, error.field()),
        exit: match error {
            error if error.is_interrupted() => Exit::Interrupted,
            TouchError::Field(FieldError::NotConverged { .. }) => Exit::NotReached,
            TouchError::Algebra(_) => Exit::Internal,
            _ => Exit::BadInput,
        },
    }
}
