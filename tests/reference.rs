//! Every record of `tests/reference/shared.json` (layered panels) and `tests/reference/features.json`
//! (drops, frames, holes, shields, slots, traces, hatch) at default settings against its converged matrix.
//!
//! Run with `--nocapture` for the table of worst figures.

use std::collections::BTreeMap;
use std::sync::OnceLock;

use ndarray::Array2;
use padfield_engine::case::{Case, Kind, RoundBody, Solid};
use padfield_engine::case_record;
use padfield_engine::field::{FieldAnswer, Settings, solve};
use padfield_engine::units::VACUUM_PERMITTIVITY;
use rayon::prelude::*;
use serde_json::Value;

/// The records were made with CODATA 2018; every capacitance scales with it.
const RECORD_VACUUM_PERMITTIVITY: f64 = 8.854_187_812_8e-12;

/// Allowed relative errors of one family, as required of the engine at default accuracy.
struct Limits {
    diagonal: f64,
    shift: f64,
    off_diagonal: f64,
}

/// Round shapes first: their outline costs more than the grid.
fn limits(case: &Case) -> Limits {
    let round = case
        .conductors
        .iter()
        .flat_map(|conductor| &conductor.solids)
        .any(|solid| !matches!(solid, Solid::Block(_)));
    match (round, case.kind) {
        (true, _) => Limits {
            diagonal: 0.005,
            shift: 0.01,
            off_diagonal: 0.02,
        },
        (false, Kind::Volume) => Limits {
            diagonal: 0.003,
            shift: 0.004,
            off_diagonal: 0.02,
        },
        (false, _) => Limits {
            diagonal: 0.001,
            shift: 0.002,
            off_diagonal: 0.01,
        },
    }
}

/// Reference value and its uncertainty, [F] or [F/m].
#[derive(Clone, Copy)]
struct Reference {
    value: f64,
    uncertainty: f64,
}

impl Reference {
    fn from_pico(value: &Value, uncertainty: &Value) -> Self {
        let scale = 1e-12 * VACUUM_PERMITTIVITY / RECORD_VACUUM_PERMITTIVITY;
        Self {
            value: scale * value.as_f64().expect("reference value"),
            uncertainty: scale * uncertainty.as_f64().expect("reference uncertainty"),
        }
    }
}

/// The files with the number of their records.
const FILES: [(&str, usize); 2] = [
    (include_str!("reference/shared.json"), 20),
    (include_str!("reference/features.json"), FEATURES),
];
const FEATURES: usize = 37;

/// One solved record.
struct Solved {
    case: Case,
    /// Record of the same without finger.
    untouched: Option<String>,
    answer: FieldAnswer,
    matrix: Vec<Vec<Reference>>,
    /// Reference shifts by row and column of the untouched matrix.
    shifts: Vec<(usize, usize, Reference)>,
}

/// Every record is solved once for all tests, touched ones together with their untouched state.
fn solved() -> &'static [Solved] {
    static SOLVED: OnceLock<Vec<Solved>> = OnceLock::new();
    SOLVED.get_or_init(|| {
        let files = FILES.map(|(text, count)| {
            let file: Value = serde_json::from_str(text).unwrap();
            assert_eq!(file["cases"].as_array().unwrap().len(), count);
            file
        });
        let all: Vec<(Value, Option<Value>)> = files
            .iter()
            .flat_map(|file| {
                let pairs = file["touch_shifts"].as_array().unwrap();
                let by_id: BTreeMap<&str, &Value> = pairs
                    .iter()
                    .map(|pair| (pair["touched"].as_str().unwrap(), pair))
                    .collect();
                let records = file["cases"].as_array().unwrap().iter();
                records.map(move |record| {
                    let pair = by_id.get(record["id"].as_str().unwrap()).copied();
                    (record.clone(), pair.cloned())
                })
            })
            .collect();
        all.par_iter()
            .map(|(record, pair)| solve_record(record, pair.as_ref()))
            .collect()
    })
}

/// The record form has no dome: its rectangles hold contact disc and barrel, the note the whole body.
fn add_domes(case: &mut Case, record: &Value) {
    let bodies = record["note"]["round_bodies"].as_array();
    for body in bodies.into_iter().flatten() {
        let metres = |key: &str| 1e-3 * body[key].as_f64().unwrap();
        let name = body["conductor"].as_str().unwrap();
        let conductor = case.conductors.iter_mut().find(|c| c.name == name);
        conductor.unwrap().solids.push(Solid::Round(RoundBody {
            centre_m: [0.0; 2],
            contact_radius_m: metres("contact_radius"),
            dome_radius_m: metres("dome_radius"),
            bottom_m: metres("bottom"),
            top_m: metres("top"),
        }));
    }
}

fn solve_record(record: &Value, pair: Option<&Value>) -> Solved {
    let shift = pair.map(|pair| &pair["shift"]);
    let mut case = case_record::parse(&record.to_string()).unwrap();
    add_domes(&mut case, record);
    let without = shift.map(|_| "finger");
    let answer = solve(&case, without, &Settings::default(), &|_| {})
        .unwrap_or_else(|error| panic!("{}: {error}", case.id));
    assert!(answer.accuracy.reached, "{}: accuracy not reached", case.id);
    let result = &record["result"];
    let order: Vec<&str> = result["order"]
        .as_array()
        .unwrap()
        .iter()
        .map(|name| name.as_str().unwrap())
        .collect();
    assert_eq!(answer.with.conductors, order, "{}", case.id);
    let matrix = (0..order.len())
        .map(|i| {
            (0..order.len())
                .map(|j| Reference::from_pico(&result["C"][i][j], &result["uncertainty"][i][j]))
                .collect()
        })
        .collect();
    let shifts = shift.map_or_else(Vec::new, |shift| {
        let rows = &answer.shift.as_ref().expect("a shift was asked").without;
        let row = |name: &str| rows.conductors.iter().position(|c| c == name).unwrap();
        let entries = shift.as_object().unwrap().iter();
        entries
            .map(|(pair, entry)| {
                let (first, second) = pair.split_once(',').unwrap();
                let reference = Reference::from_pico(&entry["delta"], &entry["uncertainty"]);
                (row(first), row(second), reference)
            })
            .collect()
    });
    Solved {
        case,
        untouched: pair.map(|pair| pair["untouched"].as_str().unwrap().to_owned()),
        answer,
        matrix,
        shifts,
    }
}

/// One compared quantity.
struct Comparison {
    name: String,
    /// |computed - reference|.
    error: f64,
    /// Largest allowed error, the reference's uncertainty included.
    allowed: f64,
    /// What the relative error is counted in.
    scale: f64,
}

impl Comparison {
    fn new(name: String, computed: f64, reference: Reference, relative: f64, scale: f64) -> Self {
        Self {
            name,
            error: (computed - reference.value).abs(),
            allowed: relative * scale + reference.uncertainty,
            scale,
        }
    }
}

/// Prints the worst of each kind of comparison and fails when one is over its limit.
fn judge(title: &str, mut comparisons: Vec<Comparison>) {
    assert!(!comparisons.is_empty());
    comparisons.sort_by(|a, b| (b.error / b.allowed).total_cmp(&(a.error / a.allowed)));
    println!("{title}: {} compared, worst first", comparisons.len());
    for worst in comparisons.iter().take(6) {
        println!(
            "  {:40} error {:.4} %  allowed {:.4} %",
            worst.name,
            100.0 * worst.error / worst.scale,
            100.0 * worst.allowed / worst.scale
        );
    }
    let over: Vec<&str> = comparisons
        .iter()
        .filter(|c| c.error.is_nan() || c.error > c.allowed)
        .map(|c| c.name.as_str())
        .collect();
    assert!(over.is_empty(), "{title} over the limit: {over:?}");
}

/// What an off-diagonal's relative error is counted in: itself, or a tenth of the geometric mean
/// of its diagonals when that is larger.
fn off_diagonal_scale(entry: f64, first: f64, second: f64) -> f64 {
    entry.abs().max(0.1 * (first * second).sqrt())
}

#[test]
fn diagonals_are_within_their_limit() {
    let mut comparisons = Vec::new();
    for record in solved() {
        let limits = limits(&record.case);
        for (i, name) in record.answer.with.conductors.iter().enumerate() {
            let reference = record.matrix[i][i];
            comparisons.push(Comparison::new(
                format!("{} {name}", record.case.id),
                record.answer.with.value[[i, i]],
                reference,
                limits.diagonal,
                reference.value,
            ));
        }
    }
    judge("diagonals", comparisons);
}

#[test]
fn off_diagonals_are_within_their_limit() {
    let mut comparisons = Vec::new();
    for record in solved() {
        let limits = limits(&record.case);
        let names = &record.answer.with.conductors;
        for i in 0..names.len() {
            for j in i + 1..names.len() {
                let reference = record.matrix[i][j];
                let diagonal = |k: usize| record.matrix[k][k].value;
                comparisons.push(Comparison::new(
                    format!("{} {}-{}", record.case.id, names[i], names[j]),
                    record.answer.with.value[[i, j]],
                    reference,
                    limits.off_diagonal,
                    off_diagonal_scale(reference.value, diagonal(i), diagonal(j)),
                ));
            }
        }
    }
    judge("off-diagonals", comparisons);
}

#[test]
fn touch_shifts_are_within_their_limit() {
    let mut diagonals = Vec::new();
    let mut off_diagonals = Vec::new();
    for record in solved() {
        let limits = limits(&record.case);
        let Some(shift) = &record.answer.shift else {
            continue;
        };
        let diagonal = |k: usize| {
            let entry = record.shifts.iter().find(|(i, j, _)| *i == k && *j == k);
            entry.expect("a reference for every diagonal shift").2.value
        };
        let names = &shift.without.conductors;
        for &(i, j, reference) in &record.shifts {
            let name = format!("{} {}-{}", record.case.id, names[i], names[j]);
            let computed = shift.shift[[i, j]];
            if i == j {
                let scale = reference.value;
                diagonals.push(Comparison::new(
                    name,
                    computed,
                    reference,
                    limits.shift,
                    scale,
                ));
            } else {
                let scale = off_diagonal_scale(reference.value, diagonal(i), diagonal(j));
                let limit = limits.off_diagonal;
                off_diagonals.push(Comparison::new(name, computed, reference, limit, scale));
            }
        }
    }
    judge("touch shifts", diagonals);
    judge("shifts of couplings", off_diagonals);
}

#[test]
fn untouched_state_equals_its_own_record() {
    // The same state twice: once without the finger on the touched grid, once as its own record.
    let mut comparisons = Vec::new();
    for record in solved() {
        let Some(shift) = &record.answer.shift else {
            continue;
        };
        let twin = solved()
            .iter()
            .find(|other| Some(&other.case.id) == record.untouched.as_ref());
        let twin = twin.expect("every touched record has an untouched twin");
        assert_eq!(shift.without.conductors, twin.answer.with.conductors);
        let limits = limits(&record.case);
        for (i, name) in shift.without.conductors.iter().enumerate() {
            let reference = twin.matrix[i][i];
            comparisons.push(Comparison::new(
                format!("{} without finger, {name}", record.case.id),
                shift.without.value[[i, i]],
                reference,
                limits.diagonal,
                reference.value,
            ));
        }
    }
    judge("untouched states", comparisons);
}

#[test]
fn every_diagonal_interval_holds_the_reference() {
    let mut widest = 0.0_f64;
    for record in solved() {
        let bounded = &record.answer.with;
        for (i, name) in bounded.conductors.iter().enumerate() {
            let reference = record.matrix[i][i];
            let (lower, upper) = (bounded.lower[[i, i]], bounded.upper[[i, i]]);
            assert!(
                lower <= reference.value + reference.uncertainty
                    && reference.value - reference.uncertainty <= upper,
                "{} {name}: {} is outside {lower} to {upper}",
                record.case.id,
                reference.value
            );
            let value = bounded.value[[i, i]];
            assert!(
                lower <= value && value <= upper,
                "{} {name}",
                record.case.id
            );
            widest = widest.max(0.5 * (upper - lower) / reference.value);
        }
    }
    println!("intervals: widest half-width {:.2} %", 100.0 * widest);
    // An interval that holds everything would pass the test above and tell nothing.
    assert!(widest < 0.1);
}

#[test]
fn estimated_errors_cover_the_true_ones() {
    let mut entries = Vec::new();
    let mut collect = |name: String, computed: f64, reference: Reference, estimate: f64| {
        // What the reference itself leaves open is not the engine's error.
        let error = ((computed - reference.value).abs() - reference.uncertainty).max(0.0);
        entries.push((name, error / estimate));
    };
    for record in solved() {
        let bounded = &record.answer.with;
        let upper_triangle = |matrix: &Array2<f64>| {
            let size = matrix.nrows();
            (0..size).flat_map(move |i| (i..size).map(move |j| (i, j)))
        };
        for (i, j) in upper_triangle(&bounded.value) {
            collect(
                format!("{} C[{i},{j}]", record.case.id),
                bounded.value[[i, j]],
                record.matrix[i][j],
                bounded.estimated_error[[i, j]],
            );
        }
        if let Some(shift) = &record.answer.shift {
            for &(i, j, reference) in &record.shifts {
                collect(
                    format!("{} shift[{i},{j}]", record.case.id),
                    shift.shift[[i, j]],
                    reference,
                    shift.estimated_error[[i, j]],
                );
            }
        }
    }
    entries.sort_by(|a, b| b.1.total_cmp(&a.1));
    println!(
        "true over estimated error, {} entries, worst first",
        entries.len()
    );
    for (name, ratio) in entries.iter().take(8) {
        println!("  {name:40} {ratio:.3}");
    }
    let covered = entries.iter().filter(|(_, ratio)| *ratio <= 1.0).count();
    let share = covered as f64 / entries.len() as f64;
    assert!(share >= 0.95, "only {:.1} % covered", 100.0 * share);
}
