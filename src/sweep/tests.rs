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
    reduced: Use::Never,
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
        reduced: Use::Never,
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
        reduced: Use::Never,
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

const PAIR: &str = r#"
[[layer]]
name = "overlay"
material = "acrylic"
thickness = "2 mm"
[[layer]]
name = "front"
copper = "35 um"
[[layer]]
name = "board"
material = "FR-4"
thickness = "1.6 mm"
[[layer]]
name = "back"
copper = "35 um"
[board]
outline = "70 mm x 30 mm"
[pads.pair]
layer = "front"
shape = "rectangle"
size = "12 mm x 12 mm"
columns = 2
gap = "6 mm"
names = ["left", "right"]
[ground.plane]
layer = "back"
[finger.adult]
contact = "8 mm"
dome = "10 mm"
[study.three]
vary = [
  { path = "overlay.thickness", from = "1 mm", to = "4 mm", step = "0.5 mm" },
  { path = "overlay.permittivity", from = "2", to = "6", step = "1" },
  { path = "pads.pair.gap", from = "2 mm", to = "10 mm", step = "2 mm" },
]
accuracy = "10 %"
[study.under]
vary = [
  { path = "overlay.thickness", from = "1 mm", to = "4 mm", step = "0.1 mm" },
  { path = "pads.pair.size", values = ["7 mm", "8 mm", "9 mm", "12 mm", "13 mm", "14 mm"] },
]
accuracy = "10 %"
"#;

const REDUCED: Limits = Limits {
    reduced: Use::Always,
    ..LIMITS
};

fn pair(name: &str) -> (Document, Study) {
    let document = Document::from_text("pair.toml", PAIR).unwrap();
    let study = document.study(name).unwrap();
    (document, study)
}

/// Sweeps a study of the pair, stopped once so many points are recorded.
fn sweep_pair(name: &str, folder: &Path, limits: &Limits, most: u64) -> (Summary, Vec<Row>) {
    let (document, study) = pair(name);
    let job = Job {
        document: &document,
        study: &study,
    };
    let mut store = Store::open(folder, || false).unwrap();
    let recorded = AtomicU64::new(0);
    let stop = || recorded.load(Ordering::Relaxed) >= most;
    let mut observe = |at: &Progress| recorded.store(at.recorded, Ordering::Relaxed);
    let summary = run(&job, &mut store, limits, &stop, &mut observe).unwrap();
    let rows = store.reader().rows(&summary.study).unwrap();
    (summary, rows)
}

/// Every point is solved as well: what models say is within the bar that they give, base bounds hold the direct base.
#[test]
fn reduced_rows_are_those_of_solved_points_within_their_bars() {
    let (_reduced, folder) = empty_folder();
    let (summary, reduced) = sweep_pair("three", &folder, &REDUCED, u64::MAX);
    let models = summary.models.expect("models");
    assert!(models.models == 1 && models.worst_check < 0.5, "{models:?}");
    assert_eq!((summary.reduced, summary.points), (175, 175));
    let (_direct, folder) = empty_folder();
    let (summary, direct) = sweep_pair("three", &folder, &LIMITS, u64::MAX);
    assert!(summary.reduced == 0 && summary.models.is_none());
    for (reduced, direct) in reduced.iter().zip(&direct) {
        assert_eq!(
            (reduced.index, &reduced.coordinates),
            (direct.index, &direct.coordinates)
        );
        let [of_models, solved] =
            [reduced, direct].map(|row| row.outcome.values().expect("numbers"));
        assert!(of_models.is_reduced && !solved.is_reduced);
        for (pad, own) in of_models.pads.iter().zip(&solved.pads) {
            let (base, direct) = (pad.base_capacitance.unwrap(), own.base_capacitance.unwrap());
            assert!(
                base.guaranteed
                    && base.lower.unwrap() < direct.value
                    && direct.value < base.upper.unwrap()
            );
            let each = [
                (base, direct),
                (pad.touch_shift.unwrap(), own.touch_shift.unwrap()),
                (pad.neighbour_ratio.unwrap(), own.neighbour_ratio.unwrap()),
            ];
            for (reduced, direct) in each {
                assert!(
                    (reduced.value - direct.value).abs() < reduced.error,
                    "{reduced:?} {direct:?}"
                );
            }
        }
    }
}

/// A pad's edge under the dome is none that a model follows: such points are solved. Ended anywhere, the table is the same.
#[test]
fn what_models_do_not_cover_is_solved_and_interruptions_leave_the_same_bits() {
    let (_whole, folder) = empty_folder();
    let (summary, expected) = sweep_pair("under", &folder, &REDUCED, u64::MAX);
    let of_models = |row: &&Row| row.outcome.values().is_some_and(|values| values.is_reduced);
    let count = expected.iter().filter(of_models).count() as u64;
    assert_eq!(count, summary.reduced);
    assert!(count > 60 && count < summary.points, "{count}");
    let (_pieces, folder) = empty_folder();
    let one = Limits {
        threads: 1,
        ..REDUCED
    };
    let (summary, some) = sweep_pair("under", &folder, &one, 40);
    assert!(summary.stopped && some.len() < expected.len());
    let (summary, rows) = sweep_pair("under", &folder, &REDUCED, u64::MAX);
    assert!(summary.is_complete());
    assert_eq!(rows, expected);
}

/// A survey tells beforehand what will be solved, and why.
#[test]
fn a_survey_names_what_models_do_not_cover() {
    let (document, study) = pair("under");
    let job = Job {
        document: &document,
        study: &study,
    };
    let survey = job.survey(&REDUCED).expect("asked");
    assert!(survey.models() > 0 && survey.uncovered > 0.1 && survey.uncovered < 0.9);
    assert!(!survey.reasons.is_empty());
    assert!(job.survey(&LIMITS).is_none());
    // A plan of 186 points is too short for a model to pay.
    let automatic = Limits {
        reduced: Use::Auto,
        ..LIMITS
    };
    assert!(!survey.pays(&job, Use::Auto) && survey.pays(&job, Use::Always));
    assert!(job.survey(&automatic).is_none());
}
