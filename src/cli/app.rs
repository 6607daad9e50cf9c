//! The commands: what they are called, their arguments, their way to an exit code.

use std::ffi::OsString;
use std::io::Write;
use std::panic::{AssertUnwindSafe, catch_unwind};

use clap::{CommandFactory, Parser, Subcommand};

use super::chart::{ChartArguments, chart};
use super::circuit::{CircuitArguments, circuit};
use super::cluster::{ClusterArguments, cluster};
use super::compare::{CompareArguments, compare};
use super::discharge::{DischargeArguments, discharge};
use super::drift::{DriftArguments, drift};
use super::field::{FieldArguments, field};
use super::find::{FindArguments, find};
use super::lists::{MaterialsArguments, materials};
use super::merge::{MergeArguments, merge};
use super::note::{NoteArguments, note};
use super::progress::Progress;
use super::return_path::{ReturnPathArguments, return_path};
use super::rules::{RulesArguments, rules};
use super::schemas::{SchemaArguments, schema};
use super::shell::{ShellArguments, shell};
use super::solve::{SolveArguments, solve};
use super::sweep::{SweepArguments, sweep};
use super::tolerance::{ToleranceArguments, tolerance};
use super::verify::{VerifyArguments, verify};
use super::walk::{WalkArguments, walk};
use super::window::{WindowArguments, window};
use super::writer::{Answers, say, tell_usage};
use super::{Exit, Failure, cache, interrupt};

/// Capacitive touch panels from one panel file, with error bars
#[derive(Debug, Parser)]
#[command(
    name = "padfield",
    version,
    max_term_width = 100,
    after_help = ending_of_help()
)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Solve(SolveArguments),
    Field(FieldArguments),
    Sweep(SweepArguments),
    Merge(MergeArguments),
    Cluster(ClusterArguments),
    Chart(ChartArguments),
    Find(FindArguments),
    Window(WindowArguments),
    Walk(WalkArguments),
    Rules(RulesArguments),
    Tolerance(ToleranceArguments),
    Note(NoteArguments),
    Compare(CompareArguments),
    Circuit(CircuitArguments),
    Discharge(DischargeArguments),
    Drift(DriftArguments),
    ReturnPath(ReturnPathArguments),
    Verify(VerifyArguments),
    Materials(MaterialsArguments),
    Schema(SchemaArguments),
    Shell(ShellArguments),
}

fn ending_of_help() -> String {
    let codes = Exit::ALL.map(|exit| format!("{} {}", exit as u8, exit.meaning()));
    format!(
        "Example: padfield solve scenarios/fern.toml\n\nExit codes: {}",
        codes.join("; ")
    )
}

/// Runs the program: arguments (the program's name first) in, output on stdout, messages on stderr,
/// exit code out. Never panics.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> Exit {
    super::keep_freed_memory();
    let parsed = match Arguments::try_parse_from(arguments) {
        Ok(parsed) => parsed,
        // Help and version arrive here too.
        Err(error) => return tell_usage(&error),
    };
    interrupt::install();
    // A sweep shows a bar of its own.
    let progress = match parsed.command {
        Command::Sweep(_) => None,
        _ => Some(Progress::start()),
    };
    let mut output = Answers::new(progress.as_ref().map(Progress::line));
    // The panic hook has printed what happened; the exit code says that it is our fault.
    let ended = catch_unwind(AssertUnwindSafe(|| {
        execute(parsed.command, &mut output, &|text| {
            if let Some(progress) = &progress {
                progress.report(text);
            }
        })
    }));
    drop(progress);
    if let Some(words) = cache::last_words() {
        say(&words);
    }
    let exit = match ended {
        Ok(Ok(exit)) => exit,
        Ok(Err(failure)) => {
            say(&failure.message);
            failure.exit
        }
        Err(_) => return Exit::Internal,
    };
    output.end(exit)
}

fn execute(
    command: Command,
    output: &mut dyn Write,
    progress: &(dyn Fn(&str) + Sync),
) -> Result<Exit, Failure> {
    match command {
        Command::Solve(arguments) => solve(&arguments, output, progress),
        Command::Field(arguments) => field(&arguments, output, progress),
        Command::Sweep(arguments) => sweep(&arguments, output),
        Command::Cluster(arguments) => cluster(&arguments, output),
        Command::Merge(arguments) => merge(&arguments, output),
        Command::Chart(arguments) => chart(&arguments, output),
        Command::Find(arguments) => find(&arguments, output, progress),
        Command::Window(arguments) => window(&arguments, output, progress),
        Command::Circuit(arguments) => circuit(&arguments, output, progress),
        Command::Discharge(arguments) => discharge(&arguments, output),
        Command::Drift(arguments) => drift(&arguments, output, progress),
        Command::ReturnPath(arguments) => return_path(&arguments, output, progress),
        Command::Walk(arguments) => walk(&arguments, output, progress),
        Command::Rules(arguments) => rules(&arguments, output, progress),
        Command::Tolerance(arguments) => tolerance(&arguments, output, progress),
        Command::Note(arguments) => note(&arguments, output, progress),
        Command::Compare(arguments) => compare(&arguments, output, progress),
        Command::Verify(arguments) => verify(&arguments, output, progress),
        Command::Materials(arguments) => materials(&arguments, output),
        Command::Schema(arguments) => schema(&arguments, output),
        Command::Shell(arguments) => shell(&arguments, Arguments::command(), output),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_arguments_are_consistent() {
        Arguments::command().debug_assert();
    }

    #[test]
    fn the_guide_has_the_same_exit_codes() {
        let guide = include_str!("../../guide/src/commands.md");
        for exit in Exit::ALL {
            let row = format!("| {} | {}", exit as u8, exit.meaning());
            assert!(guide.contains(&row), "{row}");
        }
    }

    #[test]
    fn every_source_of_a_check_is_a_command() {
        let arguments = Arguments::command();
        for source in crate::checks::Source::ALL {
            let name = source.command();
            assert!(arguments.find_subcommand(name).is_some(), "{name}");
        }
    }

    #[test]
    fn every_command_shows_an_example() {
        for command in Arguments::command().get_subcommands() {
            let help = command.get_after_help().map(ToString::to_string);
            let example = format!("Example: padfield {}", command.get_name());
            assert!(
                help.is_some_and(|help| help.contains(&example)),
                "{example}"
            );
        }
    }
}
