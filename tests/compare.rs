//! Measured values against a panel: values made by a panel with one changed assumption must find it.
//!
//! The changed panel stands for the bench, so the truth is known exactly; a round pad about its axis is
//! solved in hundredths of a second.

use assert_cmd::Command;
use serde_json::Value;
use std::path::{Path, PathBuf};

struct Bench {
    folder: tempfile::TempDir,
}

const ACCURACY: &str = "0.5%";

fn round_pad() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/panels/round_pad.toml")
}

fn padfield(folder: &Path, arguments: &[&str]) -> (String, String, Option<i32>) {
    let mut process = Command::cargo_bin("padfield").expect("the program is built");
    let output = process
        .current_dir(folder)
        .args(arguments)
        .output()
        .expect("the program runs");
    let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    (
        text(&output.stdout),
        text(&output.stderr),
        output.status.code(),
    )
}

impl Bench {
    fn new() -> Self {
        Self {
            folder: tempfile::tempdir().expect("a temporary folder"),
        }
    }

    /// What a panel with these values set would show.
    fn shows(&self, set: &[&str]) -> Value {
        let file = round_pad().display().to_string();
        let mut arguments = vec!["solve", &file, "--json", "--accuracy", ACCURACY];
        for one in set {
            arguments.extend(["--set", one]);
        }
        let (text, errors, _) = padfield(self.folder.path(), &arguments);
        serde_json::from_str(&text).unwrap_or_else(|e| panic!("{e}: {errors}"))
    }

    /// Compares a table with the panel as written.
    fn compare(&self, table: &str, more: &[&str]) -> (Value, Option<i32>) {
        std::fs::write(self.folder.path().join("bench.csv"), table).expect("a writable folder");
        let file = round_pad().display().to_string();
        let mut arguments = vec!["compare", "bench.csv", &file, "--json"];
        if !more.contains(&"--accuracy") {
            arguments.extend(["--accuracy", ACCURACY]);
        }
        arguments.extend(more);
        let (text, errors, code) = padfield(self.folder.path(), &arguments);
        (
            serde_json::from_str(&text).unwrap_or_else(|e| panic!("{e}: {errors}")),
            code,
        )
    }

    fn table(&self, set: &[&str], columns: &[&str]) -> String {
        let pad = &self.shows(set)["pads"][0];
        let value = |column: &&str| match *column {
            "base_count" => pad["counts"]["base_count"].to_string(),
            "count_shift" => pad["counts"]["touch"]["count_shift"]["value"].to_string(),
            "base_pf" => pad["base_at_pin"]["nominal_pf"].to_string(),
            _ => pad["touch"]["shift"]["value_pf"].to_string(),
        };
        let values: Vec<String> = columns.iter().map(value).collect();
        format!("pad,{}\nkey,{}\n", columns.join(","), values.join(","))
    }
}

fn explanation<'r>(record: &'r Value, words: &str) -> &'r Value {
    let all = record["explanations"].as_array().expect("a list");
    let found = all.iter().find(|one| one["assumption"] == words);
    found.unwrap_or_else(|| panic!("no {words} in {record}"))
}

const BOTH: [&str; 2] = ["base_count", "count_shift"];

#[test]
fn the_panel_itself_agrees() {
    let bench = Bench::new();
    let table = bench.table(&[], &BOTH);
    let (record, code) = bench.compare(&table, &[]);
    assert_eq!(code, Some(0), "{record}");
    assert_eq!(record["agrees"], true);
    assert!(
        record["explanations"]
            .as_array()
            .expect("a list")
            .is_empty()
    );
}

#[test]
fn the_assumption_that_was_changed_is_found_with_its_value() {
    let bench = Bench::new();
    // Set, name of the assumption, true value, assumptions that must be ruled out. Errors of 0.5 % on the base
    // and 1 % on the touch.
    let cases = [
        (
            "stray.pin=8 pF",
            "pin capacitance",
            8.0,
            vec![
                "air gap before the pads",
                "permittivity of layer \"overlay\"",
            ],
        ),
        (
            "layer.overlay.permittivity=3.6",
            "permittivity of layer \"overlay\"",
            3.6,
            vec!["pin capacitance", "permittivity of layer \"board\""],
        ),
        (
            "layer.overlay.thickness=2.4 mm",
            "thickness of layer \"overlay\"",
            2.4,
            vec!["pin capacitance", "thickness of layer \"board\""],
        ),
        (
            "circuit.resistor=110 kohm",
            "resistor",
            110.0,
            vec!["air gap before the pads"],
        ),
    ];
    for (set, words, truth, ruled_out) in cases {
        let table = bench.table(&[set], &BOTH);
        let (record, code) = bench.compare(&table, &["--touch-error", "1%"]);
        assert_eq!(code, Some(3), "{record}");
        let found = explanation(&record, words);
        let value = found["value"].as_f64().expect("a value");
        let uncertainty = found["uncertainty"].as_f64().expect("an uncertainty");
        assert!((value - truth).abs() < 3.0 * uncertainty, "{set}: {found}");
        // Not trivially: the uncertainty is small beside the change.
        assert!(uncertainty < 0.1 * truth, "{set}: {found}");
        assert_eq!(found["explains"], true, "{set}: {found}");
        for other in ruled_out {
            assert_eq!(
                explanation(&record, other)["explains"],
                false,
                "{set}: {other}"
            );
        }
    }
}

#[test]
fn an_air_gap_is_found_from_touch_and_base_in_picofarads() {
    let bench = Bench::new();
    let gap = [
        "layer.gap.behind=overlay",
        "layer.gap.permittivity=1",
        "layer.gap.thickness=0.3 mm",
    ];
    let table = bench.table(&gap, &["base_pf", "touch_shift_pf"]);
    let (record, code) = bench.compare(&table, &["--touch-error", "1%", "--base-error", "0.2%"]);
    assert_eq!(code, Some(3), "{record}");
    let found = explanation(&record, "air gap before the pads");
    let [value, uncertainty] =
        ["value", "uncertainty"].map(|key| found[key].as_f64().expect("a number"));
    assert!(
        (value - 0.3).abs() < 3.0 * uncertainty && uncertainty < 0.1,
        "{found}"
    );
    assert_eq!(found["explains"], true, "{found}");
    // A pin does not change a touch in pF at all.
    assert_eq!(explanation(&record, "pin capacitance")["explains"], false);
}

#[test]
fn a_single_base_cannot_tell_its_causes_apart() {
    let bench = Bench::new();
    let table = bench.table(&["stray.pin=8 pF"], &["base_count"]);
    let (record, code) = bench.compare(&table, &[]);
    assert_eq!(code, Some(3));
    let enough = record["explanations"].as_array().expect("a list").iter();
    let enough: Vec<&str> = enough
        .filter(|one| one["explains"] == true)
        .map(|one| one["assumption"].as_str().expect("words"))
        .collect();
    assert!(
        enough.contains(&"pin capacitance") && enough.contains(&"resistor"),
        "{enough:?}"
    );
    let file = round_pad().display().to_string();
    let (text, ..) = padfield(
        bench.folder.path(),
        &["compare", "bench.csv", &file, "--accuracy", ACCURACY],
    );
    let line = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        line.contains("cannot tell apart which single assumption is wrong"),
        "{text}"
    );
    assert!(line.contains("Measured touches would tell more"), "{text}");
}

#[test]
fn a_missed_accuracy_is_named() {
    let bench = Bench::new();
    let more = ["--accuracy", "0.0001%", "--memory", "20MB"];
    let (record, code) = bench.compare(&bench.table(&[], &["base_pf"]), &more);
    assert_eq!(
        (code, &record["accuracy_reached"]),
        (Some(4), &Value::Bool(false))
    );
    let missed = record["accuracy_missed"].to_string();
    assert!(missed.contains("base capacitance of"), "{missed}");
    let checks = record["checks"].to_string();
    assert!(checks.contains("not reached by "), "{checks}");
}

#[test]
fn faulty_tables_say_where() {
    let bench = Bench::new();
    let cases = [
        (
            "pad,base_cuont\nkey,3\n",
            "bench.csv:1 (column base_cuont): unknown column; expected",
        ),
        ("pad\nkey\n", "bench.csv:1: expected a column \"pad\""),
        (
            "pad,base_count\nno such,3\n",
            "bench.csv:2 (column pad): there is no pad \"no such\"; pads: key",
        ),
        (
            "pad,base_count\nkey,3\nkey,4\n",
            "bench.csv:3 (column base_count): pad \"key\" has this value already",
        ),
        (
            "pad,base_count\nkey,-3\n",
            "bench.csv:2 (column base_count): \"-3\" is not a number above zero",
        ),
        (
            "pad,base_count\nkey,=1+1\n",
            "\"=1+1\" is not a number above zero",
        ),
        (
            "pad,base_count\nkey,3,4\n",
            "bench.csv:2: not a table of comma-separated values",
        ),
        (
            "# nothing\npad,base_count\nkey,\n",
            "there is no measured value in it",
        ),
    ];
    for (table, expected) in cases {
        std::fs::write(bench.folder.path().join("bench.csv"), table).expect("a writable folder");
        let file = round_pad().display().to_string();
        let (_, errors, code) = padfield(bench.folder.path(), &["compare", "bench.csv", &file]);
        assert_eq!(code, Some(2), "{table}: {errors}");
        assert!(errors.contains(expected), "{table}: {errors}");
    }
    let file = round_pad().display().to_string();
    let (_, errors, code) = padfield(bench.folder.path(), &["compare", &file, "bench.csv"]);
    assert_eq!(code, Some(2));
    assert!(errors.contains("measured values come first"), "{errors}");
}

#[test]
fn revisions_keep_retune_or_reject_pad_by_pad() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let panel = std::fs::read_to_string(round_pad()).expect("the panel");
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).expect("a writable folder");
    };
    write("a.toml", &panel);
    write(
        "thicker.toml",
        &panel.replace("thickness = \"2 mm\"", "thickness = \"3 mm\""),
    );
    write(
        "a_little.toml",
        &panel.replace("thickness = \"1.6 mm\"", "thickness = \"1.62 mm\""),
    );
    let decided = |other: &str| {
        let arguments = [
            "compare",
            "a.toml",
            other,
            "--no-window",
            "--json",
            "--accuracy",
            "0.5%",
        ];
        let (text, errors, code) = padfield(folder.path(), &arguments);
        let record: Value = serde_json::from_str(&text).unwrap_or_else(|e| panic!("{e}: {errors}"));
        (
            record["decisions"][0]["decision"]
                .as_str()
                .expect("a word")
                .to_owned(),
            code,
        )
    };
    assert_eq!(decided("a_little.toml"), ("keep".to_owned(), Some(0)));
    // Half as much overlay again takes a third of the touch.
    assert_eq!(decided("thicker.toml"), ("retune".to_owned(), Some(3)));
}
