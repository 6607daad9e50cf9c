//! `padfield verify`: the external checks on this machine.

use crate::figures::Picture;
use crate::report::terminal::{six_digits, table};
use crate::rounding::significant;
use padfield_chart::{Axis, Cloud, LimitLine, Sample, Scatter};
use std::io::Write;
use std::path::PathBuf;

use super::chart_files::{Drawn, check_folder, drawn_text};
use super::ending::{checks_text, exit_of};
use super::{Exit, Failure, json_line, parse_accuracy};
use crate::checks::{Check, Findings};
use crate::record::{all, record};
use padfield_engine::field::Settings;
use padfield_engine::verify::{Bracket, Margin, Outcome, Problem, catalogue, run};

/// Compare the field engine with published and exact capacitances
#[derive(Clone, Debug, clap::Args)]
#[command(after_help = "Example: padfield verify A1 D7")]
pub struct VerifyArguments {
    /// Families or checks to run, such as A1, D7.0.5 or T (default: all)
    #[arg(value_name = "CHECK")]
    pub checks: Vec<String>,
    /// Wanted estimated error of every diagonal
    #[arg(long, default_value = "0.25%", value_parser = parse_accuracy)]
    pub accuracy: f64,
    /// Folder in which the error bars are drawn against the true errors (default: no chart)
    #[arg(long, value_name = "DIR", conflicts_with = "json")]
    pub out: Option<PathBuf>,
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
    if let Some(folder) = &arguments.out {
        check_folder(folder)?;
    }
    let settings = Settings {
        accuracy: arguments.accuracy,
        ..Settings::default()
    };
    let outcomes = run(&problems, &settings, progress);
    let checks: Vec<Check> = outcomes.iter().flat_map(Findings::checks).collect();
    let mut text = if arguments.json {
        json_line(&VerifyRecord::of(&outcomes))?
    } else {
        to_table(&outcomes) + &checks_text(&checks)
    };
    if let Some(folder) = &arguments.out {
        let mut drawn = Drawn::default();
        drawn.add(folder, "bars", &Picture::Scatter(picture(&outcomes)))?;
        text += &drawn_text(&drawn, folder);
    }
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

record! {
    /// The external checks on this machine.
    pub(super) struct VerifyRecord(outcomes: &[Outcome]) {
        /// Checks that passed.
        passed: usize = outcomes.iter().filter(|outcome| outcome.passed()).count(),
        /// Checks that did not.
        failed: usize = outcomes.iter().filter(|outcome| !outcome.passed()).count(),
        /// Check by check.
        checks: Vec<OutcomeRecord> = all(outcomes, OutcomeRecord::of),
    }

    /// A check.
    pub(super) struct OutcomeRecord(outcome: &Outcome) {
        /// Its name.
        check: String = outcome.check.reference.id.clone(),
        /// What is computed.
        quantity: String = outcome.check.reference.quantity.clone(),
        /// Where the reference is from.
        source: String = outcome.check.reference.source.clone(),
        /// The reference.
        reference: f64 = outcome.check.reference.value,
        /// How far off the reference may be.
        reference_uncertainty: f64 = outcome.check.reference.uncertainty,
        /// The computed value; null when it could not be computed.
        computed: Option<f64> = outcome.computed.as_ref().ok().map(|computed| computed.value),
        /// Its lower bound; null where it has none.
        lower: Option<f64> = margin(outcome).map(|margin| margin.lower),
        /// Its upper bound.
        upper: Option<f64> = margin(outcome).map(|margin| margin.upper),
        /// Its estimated numerical error.
        estimated_error: Option<f64> = margin(outcome).and_then(|margin| margin.estimated_error),
        /// Whether the reference must lie between the bounds.
        bracket_demanded: bool = outcome.check.bracket == Bracket::Demanded,
        /// Computed over reference minus one, %.
        error_percent: Option<f64> = outcome.relative_error().map(|error| 100.0 * error),
        /// The largest error that passes, %.
        limit_percent: f64 = 100.0 * outcome.check.tolerance.relative,
        /// Why it is that.
        limit_reason: &'static str = outcome.check.tolerance.reason,
        /// Whether it passed.
        passed: bool = outcome.passed(),
        /// Why it could not be computed; null when it was.
        fault: Option<String> = outcome.computed.as_ref().err().map(ToString::to_string),
    }
}

fn margin(outcome: &Outcome) -> Option<Margin> {
    outcome.computed.as_ref().ok()?.margin
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
    let ratios = bar_ratios(outcomes);
    let held = ratios.iter().filter(|[_, ratio]| *ratio >= 1.0).count();
    let mut above: Vec<f64> = ratios.iter().map(|[_, ratio]| *ratio).collect();
    above.sort_by(f64::total_cmp);
    if let Some(median) = above.get(above.len() / 2) {
        text += &format!(
            "Error bars hold {held} of {} references and are {} times the true error in the median.\n",
            ratios.len(),
            significant(*median, 2)
        );
    }
    text += &format!(
        "{passed} of {} checks passed. Values over the vacuum permittivity and, for bodies, the unit \
         of\nlength (A5.pF: pF/m; T6 to T8: also over 4 pi). Brackets in ( ) hold for the \
         open wall,\nnot for endless space; touching electrodes have none. Sources in full: --json.\n",
        outcomes.len()
    );
    text
}

/// True error, %, and the error bar over it, of everything that has a bar; the uncertainty of a reference counts with
/// the bar.
fn bar_ratios(outcomes: &[Outcome]) -> Vec<[f64; 2]> {
    let of = |outcome: &Outcome| {
        let bar = margin(outcome)?.estimated_error?;
        let reference = &outcome.check.reference;
        let error = (outcome.relative_error()? * reference.value).abs();
        let least = f64::EPSILON * reference.value.abs();
        Some([
            100.0 * error.max(least) / reference.value.abs(),
            (bar + reference.uncertainty) / error.max(least),
        ])
    };
    outcomes.iter().filter_map(of).collect()
}

/// How far the error bars reach beyond the true errors.
fn picture(outcomes: &[Outcome]) -> Scatter {
    let samples = bar_ratios(outcomes).into_iter().map(|[x, y]| Sample {
        x,
        y,
        ..Sample::default()
    });
    Scatter {
        title: "Error bars against true errors of published and exact values".to_owned(),
        x: Axis::logarithmic("true error", "%"),
        y: Axis::logarithmic("error bar over true error", ""),
        clouds: vec![Cloud {
            name: "published or exact value".to_owned(),
            samples: samples.collect(),
        }],
        x_limits: Vec::new(),
        y_limits: vec![LimitLine::at_least(1.0, "the bar holds the reference")],
        assumption:
            "The uncertainty of a reference counts with the bar; no value was used to fit the bars."
                .to_owned(),
    }
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
    use padfield_engine::verify::Computed;

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
        let object = serde_json::to_value(VerifyRecord::of(&outcomes)).unwrap();
        assert_eq!(object["failed"], 1);
        assert_eq!(object["checks"][7]["fault"], "no");
        assert_eq!(object["checks"][0]["limit_percent"], 0.1);
    }
}
