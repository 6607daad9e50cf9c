//! Fields that an earlier command solved: the same bits with and without them, nothing solved twice, and nothing
//! taken for one that is not whole.

use crate::processes::signalled;
use assert_cmd::Command;
use padfield::solved::SolvedFields;
use padfield_engine::case::Case;
use padfield_engine::case_record;
use padfield_engine::field::{FieldAnswer, FieldError, Keeper, Settings, solve};
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

const LIMIT: u64 = 1 << 30;

/// A strip over a ground, beside another one that comes and goes.
fn strips() -> Case {
    case_record::parse(
        r#"
        kind = "planar"
        box = [0, 8, 0, 4]
        wall = { x = "insulated", y = ["grounded", "insulated"] }
        [[dielectrics]]
        name = "board"
        eps_r = 4.4
        rect = [0, 8, 0, 1]
        [[conductors]]
        name = "strip"
        rects = [[2, 3, 1, 1]]
        [[conductors]]
        name = "finger"
        rects = [[4, 7, 2, 3]]
        "#,
    )
    .expect("a record")
}

/// An answer, and how many of its grids were known and solved.
fn solved(folder: &Path, settings: Settings) -> (Result<FieldAnswer, FieldError>, [usize; 2]) {
    let fields = Arc::new(SolvedFields::new(folder.to_owned(), LIMIT));
    let settings = Settings {
        keeper: Some(Keeper::new(fields.clone())),
        ..settings
    };
    let mut answer = solve(&strips(), Some("finger"), &settings, &|_| {});
    if let Ok(answer) = &mut answer {
        answer.solver.seconds = 0.0;
    }
    (answer, fields.known_and_solved())
}

fn alone(settings: &Settings) -> Result<FieldAnswer, FieldError> {
    let mut answer = solve(&strips(), Some("finger"), settings, &|_| {})?;
    answer.solver.seconds = 0.0;
    Ok(answer)
}

fn to(accuracy: f64) -> Settings {
    Settings {
        accuracy,
        ..Settings::default()
    }
}

fn files(folder: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    for shelf in fs::read_dir(folder).expect("the folder") {
        let shelf = shelf.expect("an entry").path();
        // A program that starts tries whether it can write there.
        let files = fs::read_dir(shelf).into_iter().flatten();
        found.extend(files.map(|file| file.expect("an entry").path()));
    }
    found
}

#[test]
fn what_was_solved_before_has_the_bits_of_what_is_solved_now() {
    let folder = tempfile::tempdir().expect("a folder");
    let (first, [known, grids]) = solved(folder.path(), to(0.001));
    assert!(known == 0 && grids >= 2, "{known} {grids}");
    let (again, counts) = solved(folder.path(), to(0.001));
    assert_eq!(counts, [grids, 0]);
    assert!(first == again);
    assert!(first == alone(&to(0.001)));
    // Another accuracy walks over the same grids, as far as they go.
    let coarser = Settings {
        start_fineness: Some(first.expect("an answer").grid.fineness),
        ..to(0.01)
    };
    let (answer, counts) = solved(folder.path(), coarser.clone());
    assert_eq!(counts, [1, 0]);
    assert!(answer == alone(&coarser));
    // Derivatives are another answer.
    let derived = Settings {
        derivatives: true,
        ..to(0.001)
    };
    let (answer, [known, _]) = solved(folder.path(), derived.clone());
    assert_eq!(known, 0);
    assert!(answer == alone(&derived));
    let (again, [_, grids]) = solved(folder.path(), derived);
    assert!(answer == again && grids == 0);
}

type Damage = fn(&mut Vec<u8>);

#[test]
fn what_is_damaged_cut_short_or_foreign_is_solved_again() {
    let folder = tempfile::tempdir().expect("a folder");
    let (first, [_, grids]) = solved(folder.path(), to(0.001));
    let damages: [Damage; 4] = [
        |bytes| bytes.truncate(bytes.len() / 2),
        |bytes| *bytes.last_mut().expect("bytes") ^= 1,
        |bytes| bytes.clear(),
        |bytes| bytes[0] ^= 128,
    ];
    for damage in damages {
        for file in files(folder.path()) {
            let mut bytes = fs::read(&file).expect("a file");
            damage(&mut bytes);
            fs::write(&file, bytes).expect("damaged");
        }
        let (answer, counts) = solved(folder.path(), to(0.001));
        assert_eq!(counts, [0, grids]);
        assert!(answer == first);
    }
    assert_eq!(solved(folder.path(), to(0.001)).1, [grids, 0]);
}

#[test]
fn a_cap_of_memory_holds_for_what_was_solved_before_too() {
    let folder = tempfile::tempdir().expect("a folder");
    for memory_cap_bytes in [8 << 30, 1_300_000, 800_000, 300_000, 1000] {
        let capped = Settings {
            memory_cap_bytes,
            ..to(1e-5)
        };
        let found = solved(folder.path(), capped.clone()).0;
        assert!(found == alone(&capped), "{memory_cap_bytes}");
    }
}

/// Files that were used last stay.
#[test]
fn a_folder_keeps_to_its_size() {
    let folder = tempfile::tempdir().expect("a folder");
    let (_, [_, grids]) = solved(folder.path(), to(0.001));
    let sizes = files(folder.path());
    let sizes = sizes
        .iter()
        .map(|file| file.metadata().expect("a file").len());
    let most = sizes.clone().max().expect("files");
    assert_eq!(sizes.count(), grids);
    let small = Arc::new(SolvedFields::new(folder.path().to_owned(), most));
    let settings = Settings {
        keeper: Some(Keeper::new(small)),
        ..to(0.02)
    };
    solve(&strips(), None, &settings, &|_| {}).expect("an answer");
    let left: u64 = files(folder.path())
        .iter()
        .map(|file| file.metadata().expect("a file").len())
        .sum();
    assert!(0 < left && left <= most, "{left} of {most}");
}

const PANEL: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/fern.toml");

fn run(cache: &[&str], words: &[&str]) -> (Value, String) {
    let mut process = Command::cargo_bin("padfield").expect("the program is built");
    let output = process
        .args([words[0], PANEL, "--set", "model=section", "--json"])
        .args(&words[1..])
        .args(cache)
        .output()
        .expect("the program runs");
    let errors = String::from_utf8_lossy(&output.stderr).into_owned();
    let mut answer: Value = serde_json::from_slice(&output.stdout).expect(&errors);
    without_seconds(&mut answer);
    (answer, errors)
}

fn without_seconds(value: &mut Value) {
    match value {
        Value::Object(entries) => {
            entries.remove("seconds");
            entries.values_mut().for_each(without_seconds);
        }
        Value::Array(values) => values.iter_mut().for_each(without_seconds),
        _ => {}
    }
}

/// Threads, users' words, circuit and limits are none of what a field depends on.
#[test]
fn commands_take_what_earlier_ones_solved() {
    let folder = tempfile::tempdir().expect("a folder");
    let folder = folder.path().to_str().expect("a path");
    let kept = ["--cache", folder];
    let all = "none had to be solved";
    for words in [
        ["solve", "--accuracy", "5%"].as_slice(),
        &["window", "--accuracy", "5%", "--no-remedies"],
        &["drift", "--accuracy", "5%"],
    ] {
        let (first, _) = run(&kept, words);
        let (again, errors) = run(&kept, words);
        assert!(errors.contains(all), "{words:?}: {errors}");
        assert!(first == again, "{words:?}");
        let (anew, errors) = run(&["--no-cache", "--cache", folder], words);
        assert!(!errors.contains("fields:"), "{errors}");
        assert!(first == anew, "{words:?}");
        let changed = [words, &["--set", "circuit.gate=10 ms"]].concat();
        let (other, errors) = run(&kept, &changed);
        assert!(errors.contains(all), "{changed:?}: {errors}");
        assert!(words[0] == "solve" || other != first, "{words:?}");
    }
    // The same question, answered already, by other words.
    let (_, errors) = run(&kept, &["return-path", "--accuracy", "5%"]);
    assert!(errors.contains(all), "{errors}");
}

/// What could not be written is not said to be kept.
#[test]
fn a_folder_that_takes_nothing_keeps_nothing() {
    let place = tempfile::NamedTempFile::new().expect("a file");
    let fields = Arc::new(SolvedFields::new(place.path().to_owned(), LIMIT));
    let settings = Settings {
        keeper: Some(Keeper::new(fields.clone())),
        ..to(0.001)
    };
    solve(&strips(), None, &settings, &|_| {}).expect("an answer");
    assert!(fields.known_and_solved()[1] > 0 && fields.written() == 0);
}

#[test]
fn a_folder_that_cannot_be_written_is_told_before_anything_is_solved() {
    let place = tempfile::NamedTempFile::new().expect("a file");
    let mut process = Command::cargo_bin("padfield").expect("the program is built");
    let output = process.args(["solve", PANEL, "--cache"]).arg(place.path());
    let output = output.output().expect("the program runs");
    assert_eq!(output.status.code(), Some(2));
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(errors.contains("cannot be written"), "{errors}");
}

#[cfg(unix)]
#[test]
fn what_an_interrupted_run_solved_is_there_for_the_next_one() {
    let place = tempfile::tempdir().expect("a folder");
    let folder = place.path().join("fields");
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_padfield"));
    command
        // Many touches, each of which takes a moment.
        .args(["window", PANEL, "--set", "model=section", "--no-remedies"])
        .args(["--accuracy", "0.05%", "--cache"])
        .arg(&folder);
    let output = signalled(&mut command, "TERM", |_| {
        folder.exists() && files(&folder).len() >= 2
    });
    assert_eq!(output.status.code(), Some(130));
    let errors = String::from_utf8_lossy(&output.stderr);
    let words = "solved in this run are kept; the same command goes on from there";
    assert!(errors.contains(words), "{errors}");
    let left = files(&folder).len();
    assert!(left >= 2, "{left}");
}
