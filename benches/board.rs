//! How long the board of a working day takes: eight keys, a slider, all traces drawn, two grounds, four users.
//!
//! Run with `cargo bench --bench board`; the program is called as an engineer calls it, with an empty cache and again
//! with what that run kept, the note with another noise margin. `PADFIELD_BENCH_LONG=1` adds the questions that take
//! minutes. Seconds are those of this machine: the column of before says what the same question took before all places
//! of a finger shared a grid, on two cores, and compares with a run on two cores only.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

/// Runs of which the median counts.
const RUNS: usize = 3;

/// A question, what is changed when it is asked again, the seconds it took before (none: longer than ten minutes), the
/// seconds it is to take, whether it takes minutes.
struct Question {
    arguments: &'static [&'static str],
    again: &'static [&'static str],
    before_s: Option<f64>,
    aim_s: f64,
    is_long: bool,
}

const QUESTIONS: [Question; 5] = [
    Question {
        arguments: &["solve", "--accuracy", "4%"],
        again: &[],
        before_s: Some(54.0),
        aim_s: 3.0,
        is_long: false,
    },
    Question {
        arguments: &["window", "--accuracy", "5%", "--no-remedies"],
        again: &[],
        before_s: None,
        aim_s: 45.0,
        is_long: true,
    },
    Question {
        arguments: &["window", "--accuracy", "5%"],
        again: &[],
        before_s: None,
        aim_s: 45.0,
        is_long: true,
    },
    Question {
        arguments: &["walk", "--slider", "rate", "--accuracy", "5%"],
        again: &[],
        before_s: None,
        aim_s: 30.0,
        is_long: true,
    },
    Question {
        arguments: &["note", "--accuracy", "4%", "--window-accuracy", "5%"],
        again: &["--set", "window.noise_margin=2.5"],
        before_s: None,
        aim_s: 240.0,
        is_long: true,
    },
];

/// Seconds of one call; what it prints and whether a check failed is not looked at, that it answered is.
/// The cache and its charts are left in the folder.
fn seconds(question: &Question, more: &[&str], folder: &Path) -> f64 {
    let [command, options @ ..] = question.arguments else {
        panic!("a command");
    };
    let scenario = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/hazel.toml");
    let start = Instant::now();
    let status = Command::new(env!("CARGO_BIN_EXE_padfield"))
        .arg(command)
        .arg(scenario)
        .args(options)
        .args(more)
        .arg("--cache")
        .arg(folder.join("cache"))
        .current_dir(folder)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status()
        .expect("the program runs");
    let code = status.code().expect("an exit code");
    assert!([0, 3, 4].contains(&code), "{command}: exit code {code}");
    start.elapsed().as_secs_f64()
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

fn main() {
    let is_long = std::env::var_os("PADFIELD_BENCH_LONG").is_some();
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    println!("HAZEL on {threads} threads, seconds, median of {RUNS} (of 1 where it takes minutes)");
    println!(
        "{:<44} {:>8} {:>8} {:>8} {:>8}",
        "question", "before", "now", "again", "aim"
    );
    for question in QUESTIONS.iter().filter(|one| is_long || !one.is_long) {
        let runs = if question.is_long { 1 } else { RUNS };
        let (mut first, mut again) = (Vec::new(), Vec::new());
        for _ in 0..runs {
            let folder = tempfile::tempdir().expect("a folder");
            first.push(seconds(question, &[], folder.path()));
            again.push(seconds(question, question.again, folder.path()));
        }
        let before = match question.before_s {
            Some(seconds) => format!("{seconds:.0}"),
            None => "> 600".to_owned(),
        };
        println!(
            "{:<44} {before:>8} {:>8.1} {:>8.1} {:>8.0}",
            question.arguments.join(" "),
            median(first),
            median(again),
            question.aim_s
        );
    }
}
