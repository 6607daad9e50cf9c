//! `padfield circuit FILE`: resistor and gate against signal-to-noise ratio, response and current.

use super::chart_files::drawn_text;
use super::common::{Destination, Given, Solving, Touching};
use super::ending::{cautions_text, checks_text, exit_of, with_ending};
use super::input::{Input, bad_input};
use super::so_far::{telling, with_so_far};
use super::solve::response_failure;
use super::{Exit, Failure, print, print_json};
use crate::checks::{Check, Findings};
use crate::figures::Picture;
use crate::input::quantity::{FileQuantity, One};
use crate::panel::lowering::LoweringOptions;
use crate::questions::circuit::{
    CircuitRecord, Question, TABLE_EVERY, Told, Trade, USUAL_SIGNAL_TO_NOISE, answer, caption,
    judged_elsewhere, picture, preferred_resistors, report, rows, two_digit_gates, usual_gates,
};
use crate::report::terminal;
use crate::response::{Request, Response, pads_so_far, respond};
use padfield_engine::units::{Resistance, Time};
use std::io::Write;

/// Resistors of a question: twelve a decade.
const QUESTION_EVERY: usize = 1;

/// Weigh resistor and gate: signal-to-noise ratio against response and average current
#[derive(Clone, Debug, clap::Args)]
#[command(
    mut_arg("accuracy", |arg| arg.default_value("1%")),
    after_help = "Example: padfield circuit scenarios/fern.toml --signal-to-noise 15 --response 60ms\n\n\
    With --signal-to-noise or --response the resistor and gate of least average current that keep all \
    limits are looked for among twelve resistors a decade and all gates with two digits; the cycle then \
    follows from the response.\n\n\
    The table marks the panel file's own pair and the recommended one: of least average current among those that \
    keep all limits. Without --all, --resistor or --gate it has these two and the best gate of each resistor.\n\n\
    Exit codes: 0 success, 2 bad input, 3 nothing keeps all limits, 4 accuracy not reached, \
    130 interrupted"
)]
pub struct CircuitArguments {
    /// The panel
    #[command(flatten)]
    pub given: Given,
    /// Look for at least this signal-to-noise ratio, rms
    #[arg(long, value_name = "RATIO", value_parser = parse_ratio)]
    pub signal_to_noise: Option<f64>,
    /// Look for at most this time from touch to feedback: 60ms
    #[arg(long, value_name = "TIME", value_parser = parse_time)]
    pub response: Option<Time>,
    /// Resistors, separated by commas: 82kohm,100kohm (default: six a decade, 10 kohm to 1 Mohm)
    #[arg(long, value_name = "LIST", value_delimiter = ',', value_parser = parse_resistance)]
    pub resistor: Vec<Resistance>,
    /// Gates, separated by commas: 2ms,4ms (default: 0.5 to 50 ms in steps of 1, 2, 5)
    #[arg(long, value_name = "LIST", value_delimiter = ',', value_parser = parse_time)]
    pub gate: Vec<Time>,
    /// Print every resistor with every gate, not only those worth a look
    #[arg(long)]
    pub all: bool,
    /// The finger
    #[command(flatten)]
    pub touching: Touching,
    /// Touch this pad only (default: the finger's own pad, or each in turn)
    #[arg(long, value_name = "NAME")]
    pub pad: Option<String>,
    /// The solver
    #[command(flatten)]
    pub solving: Solving,
    /// The answer
    #[command(flatten)]
    pub to: Destination,
}

fn parse_time(text: &str) -> Result<Time, String> {
    let time = One::<Time>::read(text).map_err(|m| format!("{}; {}", m.message, m.hint))?;
    match time.0.seconds() {
        seconds if (1e-9..=1000.0).contains(&seconds) => Ok(time.0),
        _ => Err("write 1 ns to 1000 s".to_owned()),
    }
}

fn parse_resistance(text: &str) -> Result<Resistance, String> {
    let read = One::<Resistance>::read(text).map_err(|m| format!("{}; {}", m.message, m.hint))?;
    match read.0.ohms() {
        ohms if (1.0..=1e9).contains(&ohms) => Ok(read.0),
        _ => Err("write 1 ohm to 1000 Mohm".to_owned()),
    }
}

fn parse_ratio(text: &str) -> Result<f64, String> {
    match text.trim().parse::<f64>() {
        Ok(ratio) if ratio > 0.0 && ratio.is_finite() => Ok(ratio),
        _ => Err("expected a number above 0, such as 15".to_owned()),
    }
}

fn solved(
    arguments: &CircuitArguments,
    Input { document, panel }: &Input,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Response, Failure> {
    let request = Request {
        panel,
        finger: arguments.touching.of(&arguments.given.file, panel)?,
        pad: arguments.pad.as_deref(),
        settings: telling(arguments.solving.settings()),
        options: LoweringOptions::default(),
    };
    respond(&request, progress).map_err(|error| {
        with_so_far(response_failure((document, panel), &error), || {
            pads_so_far(&request, &request.limits(&|_| {}))
        })
    })
}

/// What is given, or what is usual.
fn given_or<T: Clone>(given: &[T], usual: impl FnOnce() -> Vec<T>) -> Vec<T> {
    match given.is_empty() {
        true => usual(),
        false => given.to_vec(),
    }
}

/// Runs the command: solves the panel once, evaluates every resistor with every gate, prints and draws.
///
/// # Errors
/// A file that cannot be read, a faulty panel, a circuit without a resistor, a solver that gives no
/// answer.
pub fn circuit(
    arguments: &CircuitArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let input = arguments.given.read()?;
    let charts = arguments.to.charts(&arguments.given, "circuit")?;
    let response = solved(arguments, &input, progress)?;
    let panel = input.panel;
    let trade = Trade::new(&panel.electronics, &response)
        .map_err(|error| bad_input(format!("{}: {error}", arguments.given.file.display())))?;

    let question = Question {
        signal_to_noise: arguments.signal_to_noise.unwrap_or(USUAL_SIGNAL_TO_NOISE),
        response: arguments.response,
    };
    let is_asked = arguments.signal_to_noise.is_some() || arguments.response.is_some();
    let resistors = |every| given_or(&arguments.resistor, || preferred_resistors(every));
    let gates = given_or(&arguments.gate, usual_gates);
    let fine_gates = given_or(&arguments.gate, || two_digit_gates(&gates));
    let found = answer(&trade, &question, &resistors(QUESTION_EVERY), &fine_gates);
    let recommended = found.best.as_ref().map(|best| (best.resistor, best.gate));
    let scan = question.response.and_then(|time| trade.scan_for(time));
    let scan = scan.unwrap_or(*trade.scan());
    let resistors = resistors(TABLE_EVERY);
    let is_listed = !arguments.resistor.is_empty() || !arguments.gate.is_empty();
    let added: Vec<_> = match is_listed {
        true => Vec::new(),
        false => recommended.into_iter().chain([trade.own()]).collect(),
    };
    let rows = rows(
        &trade,
        &question,
        &scan,
        &resistors,
        &gates,
        &added,
        recommended,
    );
    let found = is_asked.then_some(found);
    let told = Told {
        response: &response,
        question: &question,
        ratio_is_given: arguments.signal_to_noise.is_some(),
        answer: found.as_ref(),
        rows: &rows,
        judged_elsewhere: judged_elsewhere(&panel, &response),
        shows_all: arguments.all || is_listed,
    };
    let mut checks: Vec<Check> = found.iter().flat_map(Findings::checks).collect();
    checks.extend(response.checks());
    if let Some((folder, mut files)) = charts {
        print(output, &terminal::answer(&response.title, &report(&told)))?;
        print(output, &cautions_text(&panel))?;
        print(output, &checks_text(&checks))?;
        let drawn = picture(
            &trade,
            &question,
            told.origin(),
            &resistors,
            &gates,
            recommended.filter(|_| is_asked),
            &caption(&response.finger),
        );
        match drawn {
            Ok(stacked) => {
                files.add(&folder, "knee", &Picture::Stacked(stacked))?;
            }
            Err(reason) => files.left_out.push(format!("knee: {reason}")),
        }
        print(output, &drawn_text(&files, &folder))?;
    } else {
        let record = CircuitRecord::of(&told);
        print_json(output, &with_ending(record, &panel, &checks))?;
    }
    Ok(exit_of(&checks))
}
