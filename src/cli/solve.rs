//! `padfield solve FILE`: one panel file to base capacitances, touch shifts and neighbours.

use std::io::Write;

use super::against::{self, variants};
use super::common::{Given, Solving, Touching};
use super::ending::{checks_text, exit_of, with_cautions, with_ending};
use super::input::{self, Input};
use super::no_room;
use super::so_far::with_so_far;
use super::{Exit, Failure, json_line, print};
use crate::checks::{Check, Findings};
use crate::input::Document;
use crate::panel::Panel;
use crate::panel::lowering::LoweringOptions;
use crate::questions::against::{
    Comparison, ComparisonRecord, Variant, compare, report as comparison_report,
    so_far as comparison_so_far,
};
use crate::questions::traces::{self, TraceError, TraceTable, TracesRecord, trace_table};
use crate::record::record;
use crate::report::terminal;
use crate::response::{
    Request, Response, ResponseError, ResponseRecord, heading, pads_so_far, report,
    respond_over_tolerances,
};
use padfield_engine::field::FieldError;

/// Compute base capacitance, touch shift and neighbour shifts of a panel
#[derive(Clone, Debug, clap::Args)]
#[command(
    mut_arg("accuracy", |arg| arg.help("Wanted estimated error of every base and touch shift; both sides of a comparison are solved to half of it").default_value("1%")),
    after_help = "Example: padfield solve scenarios/fern.toml --set overlay.thickness=\"5 mm\"\n\n\
    Compare: padfield solve scenarios/fern.toml --against ground.plane=none --against idle=floating\n\n\
    A path into a section that the file does not have creates it, as in --against \
    \"guard.cross.between=keys; guard.cross.width=2 mm; guard.cross.state=grounded\"; the value none takes a \
    section away. A new layer starts with layer.NAME.behind=LAYER."
)]
pub struct SolveArguments {
    /// The panel
    #[command(flatten)]
    pub given: Given,
    /// The finger
    #[command(flatten)]
    pub touching: Touching,
    /// Touch this pad only (default: the finger's own pad, or each in turn)
    #[arg(long, value_name = "NAME")]
    pub pad: Option<String>,
    /// Compare with a variant of the panel: overrides with semicolons between, on top of --set, or
    /// another panel file; may be given several times
    #[arg(long, value_name = "PATH=VALUE; ...")]
    pub against: Vec<String>,
    /// The solver
    #[command(flatten)]
    pub solving: Solving,
    /// How the panel becomes a field problem (default: the file's choice)
    #[arg(long, value_name = "MODEL", value_parser = ["volume", "axisymmetric", "section"])]
    pub model: Option<String>,
    /// Axisymmetric model: take a pad that is not round as the disc of its area
    #[arg(long)]
    pub equal_area_disc: bool,
    /// Print one JSON object instead of tables
    #[arg(long)]
    pub json: bool,
}

/// Runs the command: reads the panel, solves it, prints to `output`.
///
/// # Errors
/// A file that cannot be read, a faulty panel, a solver that gives no answer. A missed accuracy is no
/// failure: the answer is printed and the exit code says so.
pub fn solve(
    arguments: &SolveArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let set = overrides(arguments);
    let Input { document, panel } = input::read(&arguments.given.file, &set)?;
    let variants = variants(&arguments.against, &document, &set)?;
    let limits = arguments.solving.limits(progress);
    let request = Request {
        panel: &panel,
        finger: arguments.touching.of(&arguments.given.file, &panel)?,
        pad: arguments.pad.as_deref(),
        settings: limits.settings.clone(),
        options: LoweringOptions {
            equal_area_disc: arguments.equal_area_disc,
        },
    };
    if !variants.is_empty() {
        return solve_against(arguments, &document, &request, &variants, output, progress);
    }
    let response = respond_over_tolerances(&request, &limits).map_err(|error| {
        with_so_far(response_failure((&document, &panel), &error), || {
            pads_so_far(&request, &limits)
        })
    })?;
    let finger = panel
        .fingers
        .iter()
        .find(|finger| finger.name == response.finger);
    let traces = match finger {
        Some(finger) => trace_table(&panel, finger, &response, &limits).map_err(|error| {
            with_so_far(trace_failure((&document, &panel), &error), || {
                pads_so_far(&request, &limits)
            })
        })?,
        None => None,
    };
    let mut checks = response.checks();
    checks.extend(traces.iter().flat_map(Findings::checks));
    print(
        output,
        &shown(arguments, &response, traces.as_ref(), &checks)?,
    )?;
    Ok(exit_of(&checks))
}

fn shown(
    arguments: &SolveArguments,
    response: &Response,
    traces: Option<&TraceTable>,
    checks: &[Check],
) -> Result<String, Failure> {
    if arguments.json {
        let record = SolveAnswer::of(response, traces);
        return json_line(&with_cautions(record, checks, &response.cautions));
    }
    let mut answer = report(response);
    if let Some(traces) = traces {
        answer.append(traces::report(traces));
    }
    let text = terminal::answer(&heading(response), &answer);
    Ok(text + &checks_text(checks))
}

record! {
    /// What a finger does to a panel and to its traces.
    pub(super) struct SolveAnswer(response: &Response, traces: Option<&TraceTable>) {
        /// What it does to the panel.
        #[serde(flatten)]
        response: ResponseRecord = ResponseRecord::of(response, None),
        /// What it does to traces, on a panel that has some.
        #[serde(skip_serializing_if = "Option::is_none")]
        traces: Option<TracesRecord> = traces.map(TracesRecord::of),
    }
}

fn trace_failure(asked: (&Document, &Panel), error: &TraceError) -> Failure {
    let field = match error {
        TraceError::Field(error) => Some(error),
        _ => None,
    };
    Failure {
        message: no_room::message(asked, error, field),
        exit: match error {
            TraceError::Field(FieldError::NotConverged { .. }) => Exit::NotReached,
            TraceError::Field(FieldError::Interrupted) => Exit::Interrupted,
            _ => Exit::BadInput,
        },
    }
}

/// Everything that is set before the variants.
fn overrides(arguments: &SolveArguments) -> Vec<String> {
    let model = arguments.model.as_ref();
    let model = model.map(|model| format!("model={model}"));
    arguments.given.set.iter().cloned().chain(model).collect()
}

fn solve_against(
    arguments: &SolveArguments,
    document: &Document,
    request: &Request,
    variants: &[Variant],
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let comparison: Comparison = compare(request, variants, progress).map_err(|error| {
        with_so_far(against::failure((document, request.panel), &error), || {
            comparison_so_far(request, variants)
        })
    })?;
    let checks = comparison.checks();
    let text = if arguments.json {
        let record = ComparisonRecord::of(&comparison);
        json_line(&with_ending(record, request.panel, &checks))?
    } else {
        let as_written = &comparison.as_written;
        let mut answer = report(as_written);
        answer.append(comparison_report(&comparison));
        terminal::answer(&heading(as_written), &answer) + &checks_text(&checks)
    };
    print(output, &text)?;
    Ok(exit_of(&checks))
}

pub(super) fn response_failure(asked: (&Document, &Panel), error: &ResponseError) -> Failure {
    Failure {
        message: no_room::message(asked, error, error.field()),
        exit: match error {
            ResponseError::Field(FieldError::NotConverged { .. }) => Exit::NotReached,
            error if error.is_interrupted() => Exit::Interrupted,
            ResponseError::Algebra(_) => Exit::Internal,
            _ => Exit::BadInput,
        },
    }
}
