//! `padfield compare MEASURED.csv FILE` and `padfield compare A B`.

use super::against::failure as comparison_failure;
use super::common::{Resources, Touching};
use super::ending::{cautions_text, checks_text, exit_of, with_ending};
use super::input::{self, Input, bad_input};
use super::so_far::{telling, with_so_far};
use super::solve::response_failure;
use super::window::failure as touch_failure;
use super::{Exit, Failure, interrupt, json_line, parse_accuracy, print};
use crate::checks::{Check, Findings};
use crate::panel::lowering::LoweringOptions;
use crate::questions::against::{self, Variant, compare as beside};
use crate::questions::compare::revision::decisions;
use crate::questions::compare::{
    CorrelationRecord, RevisionRecord, correlate, correlation_report, read, revision_report,
};
use crate::questions::tolerance::family;
use crate::questions::window::{SoFar, window};
use crate::report::terminal;
use crate::response::{Request, ResponseError, pads_so_far};
use crate::sensitivity::PanelFamily;
use crate::touch::WorkLimits;
use padfield_engine::field;
use std::io::Write;
use std::path::{Path, PathBuf};

/// Hold measured counts, or another revision, against a panel
#[derive(Clone, Debug, clap::Args)]
#[command(
    after_help = "Example: padfield compare bench.csv scenarios/fern.toml\n\
    Revisions: padfield compare revision-a.toml revision-b.toml\n\n\
    A table of measured values has a column pad and one or more of base_count, count_shift (towards a touch, \
    positive), base_pf (at the pin), touch_shift_pf.\n\n\
    Exit codes: 0 the values agree or all pads keep their constants, 3 they do not, 2 bad input, 4 accuracy \
    not reached, 130 interrupted"
)]
pub struct CompareArguments {
    /// Measured values (CSV), or the panel file of the first revision (TOML)
    #[arg(value_name = "MEASURED.csv|A")]
    pub first: PathBuf,
    /// Panel file (TOML)
    #[arg(value_name = "FILE|B")]
    pub second: PathBuf,
    /// The finger
    #[command(flatten)]
    pub touching: Touching,
    /// Override a value of the panel file, or of both, by its dotted path; may be given several times
    #[arg(long, value_name = "PATH=VALUE")]
    pub set: Vec<String>,
    /// Relative error of every measured base
    #[arg(long, default_value = "0.5%", value_parser = parse_accuracy)]
    pub base_error: f64,
    /// Relative error of every measured touch: dummy, placement, noise
    #[arg(long, default_value = "5%", value_parser = parse_accuracy)]
    pub touch_error: f64,
    /// Do not decide the threshold window of the second revision: then none is rejected
    #[arg(long)]
    pub no_window: bool,
    /// Wanted estimated error of every base and touch shift; the window takes twice that
    #[arg(long, default_value = "1%", value_parser = parse_accuracy)]
    pub accuracy: f64,
    /// Memory and cache
    #[command(flatten)]
    pub resources: Resources,
    /// Print one JSON object instead of text
    #[arg(long)]
    pub json: bool,
}

/// Runs the command: reads, solves, prints to `output`.
///
/// # Errors
/// A file that cannot be read or is faulty, a panel that cannot be solved.
pub fn compare(
    arguments: &CompareArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let is_table = |path: &Path| {
        path.extension()
            .is_some_and(|e| e.eq_ignore_ascii_case("csv"))
    };
    match [&arguments.first, &arguments.second].map(|path| is_table(path)) {
        [true, false] => measured(arguments, output, progress),
        [false, false] => revisions(arguments, output, progress),
        [_, true] => Err(bad_input(format!(
            "{}: the second argument is a panel file; measured values come first",
            arguments.second.display()
        ))),
    }
}

fn measured(
    arguments: &CompareArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let Input { document, panel } = input::read(&arguments.second, &arguments.set)?;
    let family = family(&document).map_err(input::faulty)?;
    let names: Vec<String> = panel.pads.iter().map(|pad| pad.name.clone()).collect();
    let file = arguments.first.display().to_string();
    let values = read(&file, &input::bytes(&arguments.first)?, &names)
        .map_err(|error| bad_input(error.to_string()))?;
    let request = Request {
        panel: &panel,
        finger: arguments.touching.of(&arguments.second, &panel)?,
        pad: None,
        settings: telling(arguments.resources.settings(arguments.accuracy)),
        options: LoweringOptions::default(),
    };
    let errors = [arguments.base_error, arguments.touch_error];
    let so_far = || pads_so_far(&request, &request.limits(&|_| {}));
    let found = correlate(&request, &family, &values, errors, progress)
        .map_err(|error| with_so_far(response_failure((&document, &panel), &error), so_far))?;
    let checks = found.checks();
    let text = if arguments.json {
        json_line(&with_ending(CorrelationRecord::of(&found), &panel, &checks))?
    } else {
        let text = terminal::answer(&panel.title, &correlation_report(&found, errors));
        text + &cautions_text(&panel) + &checks_text(&checks)
    };
    print(output, &text)?;
    Ok(exit_of(&checks))
}

fn revisions(
    arguments: &CompareArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let [first, second] =
        [&arguments.first, &arguments.second].map(|path| input::read(path, &arguments.set));
    let (first, second) = (first?, second?);
    let request = Request {
        panel: &first.panel,
        finger: arguments.touching.of(&arguments.first, &first.panel)?,
        pad: None,
        settings: telling(arguments.resources.settings(arguments.accuracy)),
        options: LoweringOptions::default(),
    };
    let variant = Variant {
        changes: vec![arguments.second.display().to_string()],
        panel: second.panel,
    };
    let variants = std::slice::from_ref(&variant);
    let sides_so_far = || against::so_far(&request, variants);
    let comparison = beside(&request, variants, progress).map_err(|error| {
        with_so_far(
            comparison_failure((&first.document, &first.panel), &error),
            sides_so_far,
        )
    })?;
    let limits = WorkLimits {
        settings: telling(
            arguments
                .resources
                .settings(against::FINER * arguments.accuracy),
        ),
        solver: &field::solve,
        stop: &interrupt::asked,
        progress: &|text| progress(&format!("window: {text}")),
    };
    let found = match arguments.no_window {
        true => None,
        false => Some(window(&variant.panel, &limits).map_err(|error| {
            with_so_far(
                touch_failure((&second.document, &variant.panel), &error),
                || {
                    let family = PanelFamily::of_panel(&variant.panel);
                    let window = SoFar::of(&family, &limits)?.of_pad(None).words();
                    Ok::<_, ResponseError>(format!("{}\nwindow: {window}", sides_so_far()?))
                },
            )
        })?),
    };
    let decided = decisions(&comparison, found.as_ref());
    let mut checks: Vec<Check> = decided.iter().flat_map(Findings::checks).collect();
    checks.extend(comparison.checks());
    // What the later board cannot do is in the decisions already; that its window was not reached is not.
    let window = found.iter().flat_map(Findings::checks);
    checks.extend(window.filter(|check| !check.fails()));
    let text = if arguments.json {
        let record = RevisionRecord::of(&comparison, &decided);
        json_line(&with_ending(record, &variant.panel, &checks))?
    } else {
        let title = format!("A: {}", comparison.as_written.title);
        let answer = revision_report(&comparison, &decided, found.is_some());
        let text = terminal::answer(&title, &answer);
        text + &cautions_text(&variant.panel) + &checks_text(&checks)
    };
    print(output, &text)?;
    Ok(exit_of(&checks))
}
