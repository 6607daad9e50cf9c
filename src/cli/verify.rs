//! `padfield verify`: the external checks on this machine.

use crate::report::terminal::{six_digits, table};
use crate::rounding::significant;
use std::io::Write;

use serde_json::{Value, json};

use super::ending::{checks_text, exit_of};
use super::{Exit, Failure, json_line, parse_accuracy};
use crate::checks::{Check, Findings};
use padfield_engine::field::Settings;
use padfield_engine::verify::{Bracket, Outcome, Problem, catalogue, run};

/// Compare the field engine with published and exact capacitances
#[derive(Clone, Debug, clap::Args)]
#[command(after_help = "Example: padfield verify A1 D7")]
pub struct VerifyArguments {
    /// Families or checks to run, such as A1, D7.0.5 or T (default: all)
    #[arg(value_name = "CHECK")]
    pub checks: Vec<String>,
    /// Wanted estimated error of every diagonal
    #[arg(long, default_value = "0.5%", value_parser = parse_accuracy)]
    pub accuracy: f64,
    /// Print one JSON object instead of a table
    #[arg(long)]
    pub json: bool,
}

/// Runs the checks and prints them to `output`; the exit code says when one does not hold.
///
/// # Errors
/// A name that fits no check, an output that cannot be written.
pub fn verify(
    arguments: &VerifyArguments,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    let problems = selected(catalogue(), &arguments.checks)?;
    let settings = Settings {
        accuracy: arguments.accuracy,
        ..Settings::default()
    };
    let outcomes = run(&problems, &settings, progress);
    let checks: Vec<Check> = outcomes.iter().flat_map(Findings::checks).collect();
    let text = if arguments.json {
        json_line(to_json(&outcomes))
    } else {
        to_table(&outcomes) + &checks_text(&checks)
    };
    output.write_all(text.as_bytes()).map_err(|error| Failure {
        message: format!("cannot print the checks: {error}"),
        exit: Exit::Internal,
    })?;
    Ok(exit_of(&checks))
}

/// Keeps the checks whose name is, or starts a family with, one of `names`; all for none.
fn selected(problems: Vec<Problem>, names: &[String]) -> Result<Vec<Problem>, Failure> {
    let fits = |id: &str, name: &str| {
        // "A1" means A1.1 to A1.5 but not A10 or A11.
        id.strip_prefix(name).is_some_and(|rest| {
            let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
            !(digit(name.chars().next_back()) && digit(rest.chars().next()))
        })
    };
    let mut ids = problems
        .iter()
        .flat_map(|problem| &problem.checks)
        .map(|check| check.reference.id.as_str());
    if let Some(unknown) = names
        .iter()
        .find(|name| !ids.clone().any(|id| fits(id, name)))
    {
        let nearest = ids.by_ref().max_by(|a, b| {
            let likeness = |id: &str| strsim::normalized_damerau_levenshtein(unknown, id);
            likeness(a).total_cmp(&likeness(b))
        });
        return Err(Failure {
            message: format!(
                "no check is called {unknown}, expected a family (A1, B, D7, T, ...) or a check; did you mean `{}`?",
                nearest.unwrap_or("A1")
            ),
            exit: Exit::BadInput,
        });
    }
    let mut kept = problems;
    for problem in &mut kept {
        let wanted = |id: &str| names.is_empty() || names.iter().any(|name| fits(id, name));
        problem.checks.retain(|check| wanted(&check.reference.id));
    }
    kept.retain(|problem| !problem.checks.is_empty());
    Ok(kept)
}

/// Outcomes as one object: `checks`, `passed`, `failed`.
pub fn to_json(outcomes: &[Outcome]) -> Value {
    let checks: Vec<Value> = outcomes.iter().map(check_json).collect();
    let passed = outcomes.iter().filter(|outcome| outcome.passed()).count();
    json!({
        "passed": passed,
        "failed": outcomes.len() - passed,
        "checks": checks,
    })
}

fn check_json(outcome: &Outcome) -> Value {
    let reference = &outcome.check.reference;
    let computed = outcome.computed.as_ref().ok();
    let margin = computed.and_then(|computed| computed.margin);
    json!({
        "check": reference.id,
        "quantity": reference.quantity,
        "source": reference.source,
        "reference": reference.value,
        "reference_uncertainty": reference.uncertainty,
        "computed": computed.map(|computed| computed.value),
        "lower": margin.map(|margin| margin.lower),
        "upper": margin.map(|margin| margin.upper),
        "estimated_error": margin.and_then(|margin| margin.estimated_error),
        "bracket_demanded": outcome.check.bracket == Bracket::Demanded,
        "error_percent": outcome.relative_error().map(|error| 100.0 * error),
        "limit_percent": 100.0 * outcome.check.tolerance.relative,
        "limit_reason": outcome.check.tolerance.reason,
        "passed": outcome.passed(),
        "fault": outcome.computed.as_ref().err().map(ToString::to_string),
    })
}

/// Outcomes for people, at most 100 columns wide.
pub fn to_table(outcomes: &[Outcome]) -> String {
    let header = [
        "check",
        "source",
        "reference",
        "computed",
        "bracket",
        "error %",
        "limit",
        "",
    ];
    let rows = outcomes.iter().map(check_row).collect();
    let passed = outcomes.iter().filter(|outcome| outcome.passed()).count();
    let mut text = format!("{}\n\n", table(&header, 2, rows).trim_fmt());
    for outcome in outcomes {
        if let Err(error) = &outcome.computed {
            text += &format!("{}: {error}\n", outcome.check.reference.id);
        }
    }
    text += &format!(
        "{passed} of {} checks passed. Values over the vacuum permittivity and, for bodies, the unit \
         of\nlength (A5.pF: pF/m; T6 to T8: also over 4 pi). Brackets in ( ) hold for the \
         open wall,\nnot for endless space; touching electrodes have none. Sources in full: --json.\n",
        outcomes.len()
    );
    text
}

fn check_row(outcome: &Outcome) -> Vec<String> {
    let reference = &outcome.check.reference;
    let blank = || "-".to_owned();
    let computed = outcome.computed.as_ref().ok();
    let bracket = computed
        .and_then(|computed| computed.margin)
        .map_or_else(blank, |margin| {
            let ends = format!(
                "{} {}",
                significant(margin.lower, 5),
                significant(margin.upper, 5)
            );
            if outcome.check.bracket == Bracket::Demanded {
                ends
            } else {
                format!("({ends})")
            }
        });
    vec![
        reference.id.clone(),
        reference.cite.clone(),
        six_digits(reference.value),
        computed.map_or_else(blank, |computed| six_digits(computed.value)),
        bracket,
        outcome
            .relative_error()
            .map_or_else(blank, |error| format!("{:+.3}", 100.0 * error)),
        format!("{}", 100.0 * outcome.check.tolerance.relative),
        if outcome.passed() { "ok" } else { "FAIL" }.to_owned(),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use padfield_engine::field::FieldError;
    use padfield_engine::verify::{Computed, Margin};

    fn names(problems: &[Problem]) -> Vec<String> {
        let checks = problems.iter().flat_map(|problem| &problem.checks);
        checks.map(|check| check.reference.id.clone()).collect()
    }

    #[test]
    fn a_family_is_told_from_longer_numbers() {
        let family = selected(catalogue(), &["A1".to_owned()]).unwrap();
        assert_eq!(names(&family), ["A1.1", "A1.2", "A1.3", "A1.4", "A1.5"]);
        let mixed = selected(catalogue(), &["A9.c12".to_owned(), "D6".to_owned()]).unwrap();
        assert_eq!(names(&mixed), ["A9.c12", "D6"]);
        let all = selected(catalogue(), &[]).unwrap();
        assert_eq!(all, catalogue());
        let failure = selected(catalogue(), &["B9".to_owned()]).unwrap_err();
        assert_eq!(failure.exit, Exit::BadInput);
    }

    #[test]
    fn the_widest_table_fits_a_hundred_columns() {
        let outcomes: Vec<Outcome> = catalogue()
            .into_iter()
            .flat_map(|problem| problem.checks)
            .enumerate()
            .map(|(index, check)| {
                let value = check.reference.value;
                let margin = Margin {
                    lower: value - 0.01234 * value.abs(),
                    upper: value + 0.01234 * value.abs(),
                    estimated_error: Some(0.001),
                };
                let computed = if index == 7 {
                    Err(FieldError::Invalid("no".to_owned()))
                } else {
                    Ok(Computed {
                        value,
                        margin: Some(margin),
                    })
                };
                Outcome { check, computed }
            })
            .collect();
        let text = to_table(&outcomes);
        for line in text.lines() {
            assert!(line.chars().count() <= 100, "too wide: {line}");
        }
        // One row per check: nothing wraps. Header and rule before, blank line after.
        let rows = text.lines().position(str::is_empty).unwrap();
        assert_eq!(rows, outcomes.len() + 2, "{text}");
        let object = to_json(&outcomes);
        assert_eq!(object["failed"], 1);
        assert_eq!(object["checks"][7]["fault"], "no");
        assert_eq!(object["checks"][0]["limit_percent"], 0.1);
    }
}
