//! `padfield field CASE`: one raw case record to its capacitance matrix.

mod record;

pub(super) use record::FieldRecord;

use crate::report::terminal::{six_digits, table};
use crate::rounding::{rounded_up_to, rounded_with_error, significant};
use std::io::Write;
use std::path::{Path, PathBuf};

use ndarray::Array2;

use super::common::Resources;
use super::ending::exit_of;
use super::input::{self, bad_input};
use super::{Exit, Failure, json_line, parse_accuracy};
use crate::accuracy::{missed_words, reached_words};
use crate::checks::{self, Source};
use padfield_engine::case::{Case, Kind, Solid};
use padfield_engine::case_record;
use padfield_engine::field::{FieldAnswer, FieldError, Judge, Settings, Shift, solve};
use padfield_engine::units::Capacitance;

/// Solve a raw case record (JSON or TOML) for its capacitance matrix with error bars
#[derive(Clone, Debug, clap::Args)]
#[command(after_help = "Example: padfield field two-pads.json --without finger --json")]
pub struct FieldArguments {
    /// Case record, JSON or TOML, lengths in mm
    #[arg(value_name = "CASE")]
    pub record: PathBuf,
    /// Solve again without this conductor on the same grid and print the shift
    #[arg(long, value_name = "NAME")]
    pub without: Option<String>,
    /// Wanted estimated error of every diagonal and diagonal shift
    #[arg(long, default_value = "0.25%", value_parser = parse_accuracy)]
    pub accuracy: f64,
    /// Print one JSON object instead of a table
    #[arg(long)]
    pub json: bool,
    /// Grid fineness to start with (default: by kind of case)
    #[arg(long, value_name = "M", value_parser = parse_fineness)]
    pub fineness: Option<f64>,
    /// Do not use mirror planes
    #[arg(long)]
    pub no_symmetry: bool,
    /// Memory and cache
    #[command(flatten)]
    pub resources: Resources,
}

fn parse_fineness(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if (0.1..=100.0).contains(&value) => Ok(value),
        _ => Err("expected a number from 0.1 to 100".to_owned()),
    }
}

/// Runs the command: reads the record, solves it, prints to `output`.
///
/// # Errors
/// A file that cannot be read, a faulty record, a solver that gives no answer. A missed accuracy is
/// no failure: the answer is printed and the exit code says so.
pub fn field(
    arguments: &FieldArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let case = read_record(&arguments.record)?;
    let without = arguments.without.as_deref();
    if let Some(name) = without {
        check_conductor(&case, name)?;
    }
    let settings = Settings {
        start_fineness: arguments.fineness,
        use_symmetry: !arguments.no_symmetry,
        judge: Some(Judge::of_entries(case.kind == Kind::Planar)),
        ..arguments.resources.settings(arguments.accuracy)
    };
    let answer = solve(&case, without, &settings, progress)
        .map_err(|error| solver_failure(&arguments.record, &error))?;
    let text = if arguments.json {
        json_line(&FieldRecord::of(&case, &answer))?
    } else {
        to_table(&case, &answer)
    };
    output.write_all(text.as_bytes()).map_err(|error| Failure {
        message: format!("cannot print the result: {error}"),
        exit: Exit::Internal,
    })?;
    let accuracy = &answer.accuracy;
    let words = missed_words(&accuracy.missed);
    let missed = checks::accuracy(
        accuracy.reached,
        &words,
        Some(accuracy.asked),
        Source::Field,
    );
    Ok(exit_of(missed.as_slice()))
}

fn read_record(path: &Path) -> Result<Case, Failure> {
    let shown = path.display();
    let bytes = input::bytes(path)?;
    let text = String::from_utf8(bytes)
        .map_err(|_| bad_input(format!("{shown}: not a text file (UTF-8 expected)")))?;
    case_record::parse(&text).map_err(|error| bad_input(format!("{shown}:{error}")))
}

fn check_conductor(case: &Case, name: &str) -> Result<(), Failure> {
    let names: Vec<&str> = case.conductors.iter().map(|c| c.name.as_str()).collect();
    if names.contains(&name) {
        return Ok(());
    }
    let nearest = names.iter().max_by(|a, b| {
        let likeness = |word: &str| strsim::normalized_damerau_levenshtein(name, word);
        likeness(a).total_cmp(&likeness(b))
    });
    Err(Failure {
        message: format!(
            "--without {name}: the case has no such conductor, expected one of {}; did you mean `{}`?",
            names.join(", "),
            nearest.unwrap_or(&"")
        ),
        exit: Exit::BadInput,
    })
}

fn solver_failure(path: &Path, error: &FieldError) -> Failure {
    Failure {
        message: format!("{}: {error}", path.display()),
        exit: match error {
            FieldError::Invalid(_) | FieldError::TooLarge { .. } | FieldError::NoMemory { .. } => {
                Exit::BadInput
            }
            FieldError::NotConverged { .. } | FieldError::Unfinished { .. } => Exit::NotReached,
            FieldError::Interrupted => Exit::Interrupted,
        },
    }
}

/// Unit of the printed matrix.
pub fn unit_word(kind: Kind) -> &'static str {
    if kind == Kind::Planar { "pF/m" } else { "pF" }
}

/// Whether the bounds hold mathematically: not for round or slanted outlines.
fn guaranteed(case: &Case) -> bool {
    let mut solids = case.conductors.iter().flat_map(|c| &c.solids);
    solids.all(|solid| matches!(solid, Solid::Block(_)))
}

/// [F] to pF, [F/m] to pF/m.
fn pico(value: f64) -> f64 {
    Capacitance::from_farads(value).pf()
}

/// The answer for people: one row per pair of conductors, at most 100 columns wide.
pub fn to_table(case: &Case, answer: &FieldAnswer) -> String {
    let unit = unit_word(case.kind);
    let bounds = if guaranteed(case) {
        "bounds"
    } else {
        "estimated bounds (round shapes: by measurement)"
    };
    let mut text = format!("{}: {}\n\n", case.id, case.title);
    text +=
        &format!("Capacitance matrix, {unit} (Maxwell signs); the last columns are the {bounds}\n");
    let header = ["conductor", "to", "value ± estimate", "lower", "upper"];
    let mut lines = Vec::new();
    pairs(&answer.with.conductors, |i, j, names| {
        let at = |matrix: &Array2<f64>| pico(matrix[[i, j]]);
        lines.push(row(
            names,
            &[
                rounded_with_error(at(&answer.with.value), at(&answer.with.estimated_error)),
                six_digits(at(&answer.with.lower)),
                six_digits(at(&answer.with.upper)),
            ],
        ));
    });
    text += &format!("{}\n", table(&header, 2, lines).trim_fmt());
    if let Some(shift) = &answer.shift {
        text += &shift_table(shift, unit);
    }
    text + &summary(answer)
}

fn shift_table(shift: &Shift, unit: &str) -> String {
    let header = [
        "conductor",
        "to",
        "without ± estimate",
        "shift ± estimate",
        "remark",
    ];
    let mut lines = Vec::new();
    pairs(&shift.without.conductors, |i, j, names| {
        let at = |matrix: &Array2<f64>| pico(matrix[[i, j]]);
        let (change, error) = (at(&shift.shift), at(&shift.estimated_error));
        let remark = if error >= change.abs() {
            "below resolution"
        } else {
            ""
        };
        lines.push(row(
            names,
            &[
                rounded_with_error(at(&shift.without.value), at(&shift.without.estimated_error)),
                rounded_with_error(change, error),
                remark.to_owned(),
            ],
        ));
    });
    format!(
        "\nWithout {}, {unit}; shift = with minus without\n{}\n",
        shift.conductor,
        table(&header, 2, lines).trim_fmt()
    )
}

/// Visits every pair on or above the diagonal with both names.
fn pairs(conductors: &[String], mut visit: impl FnMut(usize, usize, [&str; 2])) {
    for (i, first) in conductors.iter().enumerate() {
        for (j, second) in conductors.iter().enumerate().skip(i) {
            visit(i, j, [first, if i == j { "itself" } else { second }]);
        }
    }
}

fn row(names: [&str; 2], cells: &[String]) -> Vec<String> {
    let names = names.iter().map(|name| (*name).to_owned());
    names.chain(cells.iter().cloned()).collect()
}

fn summary(answer: &FieldAnswer) -> String {
    let shape: Vec<String> = answer.grid.shape.iter().map(usize::to_string).collect();
    let mirrors = if answer.grid.mirrors.is_empty() {
        String::new()
    } else {
        format!(", mirror planes across {}", answer.grid.mirrors.join(", "))
    };
    format!(
        "\nGrid: {} cells ({}), fineness {}{mirrors}.\n\
         Solver: {} systems, at most {} iterations, residual {:.1e}, {:.2} s.\n\
         Accuracy: asked {} %, estimated {} %: {}.\n",
        answer.grid.cells,
        shape.join(" x "),
        significant(answer.grid.fineness, 3),
        answer.solver.iterations.len(),
        answer.solver.iterations.iter().max().unwrap_or(&0),
        answer.solver.residual,
        answer.solver.seconds,
        significant(100.0 * answer.accuracy.asked, 2),
        rounded_up_to(100.0 * answer.accuracy.estimated, 2),
        reached_words(answer.accuracy.reached, &answer.accuracy.missed)
    )
}

#[cfg(test)]
mod tests;
