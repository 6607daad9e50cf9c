//! The program from outside: exit codes, messages, what lands on stdout and on stderr.

use crate::processes::{after, signalled};
use assert_cmd::Command;
use serde_json::Value;
use std::time::Duration;

/// Two half-inch pads on a small board, everything coarse: a fraction of a second.
const PANEL: &str = "scenarios/two_pads.toml";

fn padfield(arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("padfield").expect("the program is built");
    command.args(arguments);
    command
}

fn stdout(arguments: &[&str], code: i32) -> String {
    let output = padfield(arguments).assert().code(code).get_output().clone();
    String::from_utf8(output.stdout).expect("text")
}

fn stderr(arguments: &[&str], code: i32) -> String {
    let output = padfield(arguments).assert().code(code).get_output().clone();
    assert!(output.stdout.is_empty(), "nothing on stdout on failure");
    String::from_utf8(output.stderr).expect("text")
}

#[test]
fn solve_prints_tables_that_fit_a_terminal() {
    let text = stdout(&["solve", PANEL, "--accuracy", "2%"], 0);
    for needed in [
        "Base capacitance, untouched, pF",
        "bounds",
        "Touch by finger \"adult\"",
        "plates, contact area",
        "Assumptions. Model: volume",
        "Accuracy asked 2.0 %",
    ] {
        assert!(text.contains(needed), "{needed:?} is missing in\n{text}");
    }
    let widest = text
        .lines()
        .map(|line| line.trim_end().chars().count())
        .max();
    assert!(widest <= Some(100), "{widest:?} columns:\n{text}");
}

#[test]
fn solve_prints_one_object_for_machines() {
    let text = stdout(&["solve", PANEL, "--accuracy", "2%", "--json"], 0);
    let record: Value = serde_json::from_str(&text).expect("one object");
    let pads = record["pads"].as_array().expect("pads");
    assert_eq!(pads.len(), 2);
    // Own coarse estimate, unpublished, 3 mm acrylic over ground: base 5.73 pF, shift 0.72 pF, each within 10 %.
    let number = |value: &Value| value.as_f64().expect("a number");
    let base = number(&pads[0]["base"]["value_pf"]);
    assert!((base / 5.73 - 1.0).abs() < 0.1, "{base}");
    let shift = number(&pads[0]["touch"]["shift"]["value_pf"]);
    assert!((shift / 0.72 - 1.0).abs() < 0.1, "{shift}");
    assert_eq!(pads[1]["touch"]["mirrored_from"], pads[0]["pad"]);
    assert_eq!(record["accuracy"]["reached"], true);
}

#[test]
fn a_value_is_overridden_by_its_path() {
    let base = |set: &[&str]| -> f64 {
        let mut arguments = vec!["solve", PANEL, "--model", "section", "--json"];
        arguments.extend(set);
        let record: Value = serde_json::from_str(&stdout(&arguments, 0)).expect("one object");
        assert_eq!(record["model"], "section");
        record["pads"][0]["touch"]["shift"]["value_pf"]
            .as_f64()
            .expect("a number")
    };
    let thicker = base(&["--set", "overlay.thickness=5 mm"]);
    assert!(
        thicker < 0.8 * base(&[]),
        "a thicker overlay weakens the touch"
    );
}

#[test]
fn one_pad_of_many_is_touched() {
    let arguments = [
        "solve", PANEL, "--pad", "right", "--model", "section", "--json",
    ];
    let record: Value = serde_json::from_str(&stdout(&arguments, 0)).expect("one object");
    assert!(record["pads"][0]["touch"].is_null());
    assert!(record["pads"][1]["touch"].is_object());
}

#[test]
fn bad_input_exits_with_two_and_says_what_was_expected() {
    let cases: [(&[&str], &str); 9] = [
        (&["solve", "nowhere.toml"], "nowhere.toml: "),
        (
            &["solve", PANEL, "--pad", "middle"],
            "there is no pad \"middle\"; pads: left, right",
        ),
        (
            &["solve", PANEL, "--finger", "toe"],
            "there is no finger \"toe\"",
        ),
        (
            &["solve", PANEL, "--set", "overlay.thicknes=5 mm"],
            "thickness",
        ),
        (&["solve", PANEL, "--accuracy", "5 mm"], "expected a share"),
        (&["solve", PANEL, "--memory", "8"], "expected a size"),
        (&["field", "case.json", "--memory", "8"], "expected a size"),
        (&["solve", PANEL, "--model", "flat"], "volume"),
        (
            &["solve", PANEL, "--model", "axisymmetric"],
            "needs a panel with one pad",
        ),
    ];
    for (arguments, needed) in cases {
        let text = stderr(arguments, 2);
        assert!(text.contains(needed), "{needed:?} is missing in\n{text}");
    }
    stderr(&["sovle"], 2);
    stderr(&[], 2);
}

#[test]
fn a_grid_that_does_not_fit_is_refused_with_both_sizes() {
    let text = stderr(&["solve", PANEL, "--memory", "1MB"], 2);
    assert!(text.contains("the memory cap is 1 MB"), "{text}");
    let needed = text
        .split("needs at least ")
        .nth(1)
        .and_then(|rest| rest.split(' ').nth(1));
    assert_eq!(needed, Some("MB,"), "{text}");
    let text = stderr(&["solve", PANEL, "--memory", "1MiB"], 2);
    assert!(text.contains("MiB, the memory cap is 1 MiB"), "{text}");
}

#[test]
fn a_missed_accuracy_is_printed_and_exits_with_four() {
    // The cap lets the first grids through and stops the refinement.
    let arguments = [
        "solve",
        PANEL,
        "--accuracy",
        "0.001%",
        "--memory",
        "40MB",
        "--json",
    ];
    let record: Value = serde_json::from_str(&stdout(&arguments, 4)).expect("one object");
    assert_eq!(record["accuracy"]["reached"], false);
    let missed = &record["checks"][0];
    assert_eq!(missed["about"], "accuracy");
    assert!(missed["value"].to_string().contains("not reached"));
}

#[test]
fn ranges_of_base_and_neighbour_counts_stand_beside_them() {
    let arguments = ["solve", PANEL, "--accuracy", "8%"];
    let text = stdout(&arguments, 0);
    assert!(
        text.lines()
            .all(|line| line.trim_end().chars().count() <= 100),
        "{text}"
    );
    let record: Value =
        serde_json::from_str(&stdout(&[&arguments[..], &["--json"]].concat(), 0)).expect("JSON");
    let counts = &record["pads"][0]["counts"];
    let end = |range: &Value, index: usize| range[index].as_f64().expect("a count");
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let base = &counts["base_count_tolerance_range"];
    let told = format!("{:.0} to {:.0}", end(base, 0), end(base, 1));
    assert!(words.contains(&told), "{told}: {text}");
    let neighbour = &counts["touch"]["neighbours"][0]["count_shift"]["tolerance_range"];
    let told = format!("{:.1} to {:.1}", end(neighbour, 0), end(neighbour, 1));
    assert!(words.contains(&told), "{told}: {text}");
    assert!(words.contains("its shift tolerance range"), "{text}");
}

#[test]
fn what_misses_the_accuracy_is_named() {
    let turned = "pads.keys.rotation=20 deg";
    let panel = "tests/reference/panels/E.toml";
    let arguments = ["solve", panel, "--accuracy", "3%", "--set", turned];
    let text = stdout(&arguments, 4);
    let words: Vec<&str> = text.split_whitespace().collect();
    let words = words.join(" ");
    assert!(
        words.contains(": not reached by base capacitance of \"right\" (±"),
        "{text}"
    );
    assert!(
        words.contains("undecided: accuracy: not reached by base capacitance of \"right\""),
        "{text}"
    );
    assert!(!words.contains(": reached"), "{text}");
}

#[test]
fn the_lists_are_printed() {
    let text = stdout(&["materials"], 0);
    assert!(text.contains("acrylic") && text.contains("FR-4"), "{text}");
    let widest = text
        .lines()
        .map(|line| line.trim_end().chars().count())
        .max();
    assert!(widest <= Some(100), "{widest:?} columns");
    let list: Value = serde_json::from_str(&stdout(&["materials", "--json"], 0)).expect("JSON");
    assert!(list[0]["permittivity"]["nominal"].is_number());
    let schema: Value = serde_json::from_str(&stdout(&["schema"], 0)).expect("JSON");
    assert!(schema["properties"]["layer"].is_object());
}

#[test]
fn man_pages_and_completions_of_every_command_are_written() {
    let place = tempfile::tempdir().expect("a folder");
    let folder = place.path().join("shell");
    let told = stdout(&["shell", folder.to_str().expect("a name")], 0);
    assert!(told.contains("completions for 5 shells"), "{told}");
    let read = |file: &str| std::fs::read_to_string(folder.join(file)).expect(file);
    for command in ["window", "return-path", "note"] {
        let page = read(&format!("man1/padfield-{command}.1"));
        assert!(page.contains(".SH") && page.contains("Example"), "{page}");
        for file in [
            "padfield.bash",
            "_padfield",
            "padfield.fish",
            "padfield.elv",
            "_padfield.ps1",
        ] {
            assert!(
                read(&format!("completions/{file}")).contains(command),
                "{file}"
            );
        }
        let overview = read("man1/padfield.1").replace("\\-", "-");
        assert!(overview.contains(command), "{overview}");
    }
}

#[test]
fn help_shows_an_example_for_every_command() {
    for command in [
        "solve",
        "find",
        "circuit",
        "field",
        "materials",
        "schema",
        "verify",
        "shell",
    ] {
        let text = stdout(&[command, "--help"], 0);
        assert!(
            text.contains(&format!("Example: padfield {command}")),
            "{text}"
        );
    }
    assert!(stdout(&["--version"], 0).starts_with("padfield "));
}

#[test]
fn a_reader_that_stops_early_is_no_fault() {
    let mut child = std::process::Command::new(assert_cmd::cargo::cargo_bin("padfield"))
        .args(["schema"])
        .stdout(std::process::Stdio::piped())
        .spawn()
        .expect("starts");
    drop(child.stdout.take());
    assert!(child.wait().expect("ends").success());
}

#[cfg(unix)]
#[test]
fn an_interrupt_exits_with_130() {
    // An accuracy that takes minutes, so that the interrupt meets a working program.
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_padfield"));
    command.args(["solve", PANEL, "--accuracy", "0.0001%"]);
    let output = signalled(&mut command, "INT", after(Duration::from_millis(700)));
    assert_eq!(output.status.code(), Some(130));
}
