//! Sweeps in small: order and threads make no difference, nothing is solved twice, failures stay rows.

use super::*;
use crate::input::Document;
use crate::store::{FailureKind, Outcome, Row, Store};
use crate::study::Study;
use padfield_engine::field::Stop;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

const PANEL: &str = r#"
model = "axisymmetric"
[[layer]]
name = "overlay"
material = "acrylic"
thickness = "2 mm"
[[layer]]
name = "front"
copper = "35 um"
[pads.key]
layer = "front"
shape = "disc"
diameter = "12 mm"
[finger.adult]
contact = "10 mm"
dome = "16 mm"
[study.contact]
vary = [
  { path = "finger.adult.contact", values = ["8 mm", "0.8 cm", "20 mm", "10 mm"] },
  { path = "overlay.thickness", from = "1 mm", to = "2 mm", step = "0.5 mm" },
]
accuracy = "20 %"
[study.again]
vary = [{ path = "finger.adult.contact", values = ["8 mm", "9 mm"] }]
accuracy = "20 %"
"#;

const LIMITS: Limits = Limits {
    threads: 2,
    memory_cap_bytes: 1 << 30,
    stop: Stop::NEVER,
};

fn document() -> Document {
    Document::from_text("key.toml", PANEL).unwrap()
}

fn study(name: &str) -> Study {
    document()
        .study(name)
        .unwrap_or_else(|error| panic!("{error}"))
}

/// A folder inside a temporary one: the studies beside it are nobody else's.
fn empty_folder() -> (tempfile::TempDir, PathBuf) {
    let temporary = tempfile::tempdir().unwrap();
    let folder = temporary.path().join("study");
    (temporary, folder)
}

fn sweep(folder: &Path, study: &Study, limits: &Limits) -> (Summary, Vec<Row>) {
    sweep_until(folder, study, limits, &|| false)
}

fn sweep_until(
    folder: &Path,
    study: &Study,
    limits: &Limits,
    stop: &(dyn Fn() -> bool + Sync),
) -> (Summary, Vec<Row>) {
    let document = document();
    let job = Job {
        document: &document,
        study,
    };
    let mut store = Store::open(folder, || false).unwrap();
    let mut last = None;
    let summary = run(&job, &mut store, limits, stop, &mut |at| last = Some(*at)).unwrap();
    let rows = store.reader().rows(&summary.study).unwrap();
    assert_eq!(last.unwrap().recorded, rows.len() as u64);
    (summary, rows)
}

#[test]
fn failures_are_rows_and_twins_are_solved_once() {
    let (_temporary, folder) = empty_folder();
    let (summary, rows) = sweep(&folder, &study("contact"), &LIMITS);
    assert!(summary.is_complete() && !summary.stopped);
    assert_eq!(rows.len(), 12);
    // Three thicknesses with a contact wider than the dome, three with 8 mm twice.
    assert_eq!((summary.solved, summary.reused), (9, 3));
    assert_eq!((summary.tally.done, summary.tally.failed), (9, 3));
    assert!(summary.tally.reasons[0].2 == 3 || summary.tally.reasons.len() == 3);
    for row in &rows {
        let too_wide = row.coordinates[0].number() == Some(20.0);
        match &row.outcome {
            Outcome::Failed { kind, reason } => {
                assert!(too_wide && *kind == FailureKind::Geometry, "{row:?}");
                assert!(reason.contains("larger than the dome"), "{reason}");
            }
            Outcome::Done { values, .. } => {
                assert!(!too_wide && values.pads[0].touch_shift.is_some());
            }
        }
    }
    assert!(!summary.study.assumptions.is_empty() || summary.solved > 0);
}

#[test]
fn threads_and_interruptions_leave_the_same_bits() {
    let (_temporary, whole) = empty_folder();
    let (_, expected) = sweep(&whole, &study("contact"), &LIMITS);
    let (_other, pieces) = empty_folder();
    let one = Limits {
        threads: 1,
        memory_cap_bytes: 1 << 29,
        stop: Stop::NEVER,
    };
    let mut runs = 0;
    let rows = loop {
        let asked = AtomicU64::new(0);
        let stop = || asked.fetch_add(1, Ordering::Relaxed) >= 2;
        let (summary, rows) = sweep_until(&pieces, &study("contact"), &one, &stop);
        runs += 1;
        if summary.is_complete() {
            break rows;
        }
        assert!(summary.stopped && runs < 20);
    };
    assert!(runs > 3, "{runs} runs");
    assert_eq!(rows, expected);
}

#[test]
fn a_point_of_another_study_is_not_solved_again() {
    let panel = tempfile::tempdir().unwrap();
    sweep(&panel.path().join("contact"), &study("contact"), &LIMITS);
    // 8 mm under 2 mm is known from there, 9 mm is new.
    let (summary, rows) = sweep(&panel.path().join("again"), &study("again"), &LIMITS);
    assert_eq!((summary.solved, summary.reused), (1, 1));
    assert_eq!(rows.len(), 2);
    let (summary, again) = sweep(&panel.path().join("again"), &study("again"), &LIMITS);
    assert_eq!((summary.solved, summary.reused), (0, 2));
    assert_eq!(rows, again);
}

#[test]
fn too_little_memory_is_a_failure_until_there_is_more() {
    let (_temporary, folder) = empty_folder();
    let little = Limits {
        threads: 2,
        memory_cap_bytes: 20_000,
        stop: Stop::NEVER,
    };
    let (summary, _) = sweep(&folder, &study("again"), &little);
    assert_eq!((summary.tally.done, summary.tally.failed), (0, 2));
    assert_eq!(summary.tally.reasons[0].0, "memory");
    let (summary, _) = sweep(&folder, &study("again"), &LIMITS);
    assert_eq!((summary.solved, summary.tally.done), (2, 2));
}

#[test]
fn another_accuracy_is_another_scenario() {
    let (_temporary, folder) = empty_folder();
    let (first, _) = sweep(&folder, &study("again"), &LIMITS);
    let finer = Study {
        accuracy: 0.15,
        ..study("again")
    };
    let (second, rows) = sweep(&folder, &finer, &LIMITS);
    assert_ne!(first.study.scenario, second.study.scenario);
    assert_eq!((second.solved, rows.len()), (2, 2));
}

#[test]
fn a_few_points_tell_what_the_plan_takes() {
    let document = document();
    let study = study("contact");
    let job = Job {
        document: &document,
        study: &study,
    };
    let measurement = measure(&job, &LIMITS, &|| false);
    assert_eq!((measurement.points, measurement.measured), (12, 4));
    assert!(measurement.plan_seconds > measurement.wall_seconds);
    let [least, most] = measurement.cells.expect("some have numbers");
    assert!(least > 100 && most < 1_000_000, "{least} to {most}");
    assert!(measurement.memory_bytes(2) > measurement.memory_bytes(1));
    let stopped = measure(&job, &LIMITS, &|| true);
    assert_eq!(stopped.measured, 0);
}
