//! Points per second of sweeps, what the field engine takes of it, and what first guesses save.
//!
//! Run with `cargo bench --bench sweep`. Each study runs on one thread and on two, in a fresh store;
//! `PADFIELD_BENCH_POINTS=5000` takes that many points of the volume study and ten times as many of
//! the plane one. The last table compares a neighbour's potentials as first guess with none.

use padfield::input::{Document, Override};
use padfield::panel::lowering::{FINGER, LoweringOptions, lower};
use padfield::store::Store;
use padfield::sweep::{Job, Limits, Use, run};
use padfield_engine::field::{self, FieldAnswer, Settings, Stop};
use std::sync::Arc;
use std::time::Instant;

/// Two pads, touched and untouched, at the accuracy a study has by default.
const VOLUME: &str = include_str!("../scenarios/two_pads.toml");

/// A round pad about its axis.
const PLANE: &str = include_str!("../tests/panels/round_pad.toml");

/// The panel with a study of `points` samples of three dimensions.
fn document(panel: &str, paths: [(&str, &str, &str); 3], points: u64) -> Document {
    let vary: String = paths
        .iter()
        .map(|(path, from, to)| {
            format!("  {{ path = \"{path}\", from = \"{from}\", to = \"{to}\" }},\n")
        })
        .collect();
    let text = format!(
        "{panel}\n[study.bench]\nvary = [\n{vary}]\ncombine = \"sample\"\nsamples = {points}\n\
         sequence = \"random\"\nreport = [\"base capacitance\", \"touch shift\"]\n"
    );
    Document::from_text("bench.toml", &text).expect("the panel is valid")
}

/// Largest memory this process has had [MB]; none where the system does not tell.
fn peak_memory_mb() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1e3)
}

/// Runs the study in a fresh store; gives points per second.
fn measure(name: &str, document: &Document, threads: usize) -> f64 {
    let study = document.study("bench").expect("the study is valid");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let mut store = Store::open(folder.path(), || true).expect("a new store");
    let job = Job {
        document,
        study: &study,
    };
    let limits = Limits {
        threads,
        memory_cap_bytes: 8 << 30,
        stop: Stop::NEVER,
        reduced: Use::Never,
    };
    let summary = run(&job, &mut store, &limits, &|| false, &mut |_| {}).expect("a finished sweep");
    let rate = summary.solved as f64 / summary.wall_seconds;
    let share = summary.solving_seconds / (threads as f64 * summary.wall_seconds);
    let memory = peak_memory_mb().map_or_else(|| "unknown".to_owned(), |mb| format!("{mb:.0}"));
    println!(
        "{name:<28} {:>7} {threads:>8} {rate:>10.2} {:>14.1} {:>12} {:>8}",
        summary.solved,
        100.0 * share,
        memory,
        summary.tally.failed
    );
    rate
}

/// A field problem of the panel with one value set: touched pad "left".
fn answer(document: &Document, gap: &str, settings: &Settings) -> (FieldAnswer, f64) {
    let gap = Override {
        path: "pads.pair.gap".to_owned(),
        value: gap.to_owned(),
    };
    let panel = document.panel(&[gap]).expect("a valid panel");
    let lowered = lower(
        &panel,
        "left",
        &panel.fingers[0],
        LoweringOptions::default(),
    )
    .expect("a case");
    let settings = Settings {
        drive: Some(lowered.pads.clone()),
        ..settings.clone()
    };
    let start = Instant::now();
    let answer = field::solve(&lowered.case, Some(FINGER), &settings, &|_| {}).expect("an answer");
    (answer, 1e3 * start.elapsed().as_secs_f64())
}

/// What the potentials of a neighbour save, and how little they change the answer.
fn first_guesses(document: &Document) {
    let panel = document.panel(&[]).expect("a valid panel");
    let reference = lower(
        &panel,
        "left",
        &panel.fingers[0],
        LoweringOptions::default(),
    )
    .expect("a case");
    let settings = Settings {
        accuracy: 0.01,
        family: Some(Arc::new(reference.case)),
        keep_potentials: true,
        ..Settings::default()
    };
    let neighbour = answer(document, "6.35 mm", &settings).0;
    println!(
        "\n{:<28} {:>7} {:>8} {:>10} {:>14}",
        "gap, first guess of 6.35 mm", "cold its", "warm its", "time, %", "shift differs"
    );
    for gap in ["6.4 mm", "6.85 mm", "8.35 mm"] {
        let (cold, cold_ms) = answer(document, gap, &settings);
        let guessed = Settings {
            first_guess: neighbour.potentials.clone(),
            ..settings.clone()
        };
        let (warm, warm_ms) = answer(document, gap, &guessed);
        let count = |answer: &FieldAnswer| answer.solver.iterations.iter().sum::<usize>();
        let shift = |answer: &FieldAnswer| answer.shift.as_ref().expect("a shift").shift[[0, 0]];
        println!(
            "{gap:<28} {:>7} {:>8} {:>10.0} {:>14.1e}",
            count(&cold),
            count(&warm),
            100.0 * warm_ms / cold_ms,
            (shift(&warm) / shift(&cold) - 1.0).abs()
        );
    }
}

fn main() {
    let points = std::env::var("PADFIELD_BENCH_POINTS")
        .ok()
        .and_then(|text| text.parse().ok())
        .unwrap_or(40);
    println!(
        "{:<28} {:>7} {:>8} {:>10} {:>14} {:>12} {:>8}",
        "study", "points", "threads", "points/s", "solving, %", "peak, MB", "failed"
    );
    let volume = document(
        VOLUME,
        [
            ("pads.pair.gap", "2 mm", "16 mm"),
            ("layer.overlay.thickness", "2 mm", "8 mm"),
            ("layer.board.thickness", "0.8 mm", "3.2 mm"),
        ],
        points,
    );
    let plane = document(
        PLANE,
        [
            ("layer.overlay.thickness", "1 mm", "6 mm"),
            ("pads.key.diameter", "8 mm", "20 mm"),
            ("layer.board.thickness", "0.8 mm", "3.2 mm"),
        ],
        10 * points,
    );
    for (name, document) in [
        ("two pads, volume", &volume),
        ("round pad, axisymmetric", &plane),
    ] {
        let rates = [1, 2].map(|threads| measure(name, document, threads));
        println!(
            "{:<28} two threads over one: {:.2}",
            "",
            rates[1] / rates[0]
        );
    }
    first_guesses(&volume);
}
