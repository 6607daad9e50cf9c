//! One list of checks: exit codes come from it alone, and a note holds those of every answer.

use crate::answers::described;
use assert_cmd::Command;
use pulldown_cmark::Event;
use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Sources of the commands.
fn commands() -> Vec<PathBuf> {
    let folder = root().join("src/cli");
    let entries = fs::read_dir(folder).expect("the commands");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    paths
        .filter(|path| path.extension().is_some_and(|e| e == "rs"))
        .collect()
}

/// An exit code of its own is how a failure gets lost on its way to the note.
#[test]
fn no_command_decides_on_its_exit_code_by_itself() {
    let mut seen = 0;
    for path in commands() {
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let text = fs::read_to_string(&path).expect("a source");
        seen += text.matches("exit_of(&").count();
        if ["ending.rs", "mod.rs"].contains(&name.as_str()) {
            continue;
        }
        assert!(!text.contains("CheckFailed"), "{name}");
        // What cannot be solved is a failure with a message, not an answer with checks.
        let own = text.matches("Exit::NotReached").count();
        let failures = text.matches("=> Exit::NotReached,").count()
            + text
                .matches(
                    "            Exit::NotReached\n        } else {\n            Exit::BadInput",
                )
                .count();
        assert_eq!(own, failures, "{name}");
    }
    assert!(seen > 12, "only {seen} commands ask the list");
}

/// Two keys that fail on much of what a panel can be asked: a discharge level that half a millimetre does not
/// hold, a board that changes while a finger is held, noise that leaves no window. Invented.
const FAILING: &str = r#"title = "Two keys that fail"
revision = "B"
application = ["mains"]
wall_distance = "15 mm"

[[layer]]
name = "overlay"
material = "acrylic"
thickness = "0.5 mm ± 0.1 mm"

[[layer]]
name = "front"
copper = "35 um"

[[layer]]
name = "board"
material = "FR-4"
thickness = "1.6 mm"
temperature_coefficient = "20000 ppm/K"

[board]
outline = "40 mm x 30 mm"

[pads.pair]
layer = "front"
shape = "rectangle"
size = "8 mm x 8 mm"
columns = 2
gap = "2 mm"
names = ["left", "right"]

[finger.adult]
contact = "8 mm"
dome = "14 mm"

[window]
users = ["adult"]

[circuit]
noise = "30 counts"

[climate]
lowest = "-20 degC"
highest = "70 degC"
fastest_change = "20 K/min"
held = "300 s"

[discharge]
level = "air 15 kV"

[study.gap]
vary = [{ path = "pads.pair.gap", values = ["2 mm"] }]
report = ["touch shift"]
accuracy = "25 %"
"#;

const COARSE: [&str; 2] = ["--accuracy", "25%"];

struct Run {
    text: String,
    code: Option<i32>,
}

/// Runs the program in a folder that holds the panel as `panel.toml`.
fn padfield(folder: &Path, arguments: &[&str]) -> Run {
    let output = Command::cargo_bin("padfield")
        .expect("the program is built")
        .current_dir(folder)
        .env("PADFIELD_CACHE", folder.join("fields"))
        .args(arguments)
        .output()
        .expect("the program runs");
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(
        matches!(output.status.code(), Some(0 | 3 | 4)),
        "{arguments:?}: {errors}"
    );
    Run {
        text: String::from_utf8(output.stdout).expect("text"),
        code: output.status.code(),
    }
}

fn folder_with(panel: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a temporary folder");
    fs::write(folder.path().join("panel.toml"), panel).expect("a writable folder");
    folder
}

fn record(run: &Run) -> Value {
    serde_json::from_str(&run.text).expect("one object")
}

/// The words of a note, without markup.
fn words_of_note(folder: &Path) -> String {
    let text = fs::read_to_string(folder.join("note/note.md")).expect("a note");
    let options = pulldown_cmark::Options::ENABLE_TABLES;
    let mut words = String::new();
    for event in pulldown_cmark::Parser::new_ext(&text, options) {
        match event {
            Event::Text(text) | Event::Code(text) => words += &text,
            _ => words += " ",
        }
    }
    words.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn what_makes_a_command_fail_is_among_the_risks_of_the_note() {
    let folder = folder_with(FAILING);
    let folder = folder.path();
    let mut note = vec![
        "note",
        "panel.toml",
        "--out",
        "note",
        "--format",
        "markdown",
    ];
    note.extend(COARSE);
    note.extend(["--window-accuracy", "25%", "--date", "2026-01-02"]);
    for left in ["guidelines", "remedies", "touch-map"] {
        note.extend(["--leave-out", left]);
    }
    let written = padfield(folder, &note);
    assert_eq!(written.code, Some(3), "{}", written.text);
    let words = words_of_note(folder);
    let place = |heading: &str| words.find(heading).expect("a section");
    let risks = &words[place(". Open risks")..place(". Verification plan")];
    let mut failed = Vec::new();
    let commands: [&[&str]; 8] = [
        &["solve"],
        &["window", "--no-remedies"],
        &["tolerance", "--units", "0"],
        &["walk", "--no-map", "--threshold", "50"],
        &["drift"],
        &["return-path"],
        &["circuit"],
        &["discharge"],
    ];
    for command in commands {
        let mut arguments = vec![command[0], "panel.toml", "--json"];
        arguments.extend(&command[1..]);
        if command[0] != "discharge" {
            arguments.extend(COARSE);
        }
        let run = padfield(folder, &arguments);
        let record = record(&run);
        described(command[0], &record);
        let checks = record["checks"].as_array().expect("checks");
        let fails =
            |check: &&Value| ["failed", "open"].contains(&check["severity"].as_str().unwrap_or(""));
        let about = |check: &&Value| check["about"] == "accuracy" || check["about"] == "no answer";
        let expected = match (
            checks.iter().any(|c| about(&c)),
            checks.iter().any(|c| fails(&c)),
        ) {
            (true, _) => 4,
            (false, true) => 3,
            (false, false) => 0,
        };
        assert_eq!(run.code, Some(expected), "{command:?}: {checks:?}");
        for check in checks {
            for part in ["place", "value", "limit"] {
                let part = check[part].as_str().expect("text");
                assert!(risks.contains(part), "{command:?}: {part}\n{risks}");
            }
        }
        if checks.iter().any(|check| fails(&check)) {
            failed.push(command[0]);
        }
    }
    for command in ["window", "drift", "discharge"] {
        assert!(failed.contains(&command), "{failed:?}");
    }
    assert!(risks.contains("left out, guidelines"), "{risks}");
    // The first page comes before all else and can be signed.
    let first = &words[..words.find("2. Requirements").expect("the second section")];
    for part in [
        "1. Decision",
        "No window",
        "Revision: B.",
        "Date: 2026-01-02.",
        "Hash of the inputs: ",
        "Failed: held finger",
        "open: discharge",
        "Signature: ____",
    ] {
        assert!(first.contains(part), "{part}\n{first}");
    }
}

/// Every command that gives values to design with.
#[test]
fn cautions_come_with_every_command_that_gives_design_values() {
    let folder = folder_with(FAILING);
    let folder = folder.path();
    fs::write(folder.join("later.toml"), FAILING).expect("a writable folder");
    let condition = "touch shift >= 0.1 pF";
    let commands: [&[&str]; 9] = [
        &["solve", "panel.toml"],
        &["solve", "panel.toml", "--against", "overlay.thickness=1 mm"],
        &["walk", "panel.toml", "--no-map", "--threshold", "50"],
        &["circuit", "panel.toml"],
        &["compare", "panel.toml", "later.toml", "--no-window"],
        &[
            "find",
            "panel.toml",
            "--vary",
            "overlay.thickness=0.5mm..1mm",
            "--until",
            condition,
        ],
        &["sweep", "panel.toml"],
        &["drift", "panel.toml"],
        &["return-path", "panel.toml"],
    ];
    for command in commands {
        let mut arguments = command.to_vec();
        arguments.extend(COARSE);
        let text = padfield(folder, &arguments).text;
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        arguments.push("--json");
        let record = record(&padfield(folder, &arguments));
        described(command[0], &record);
        for words in [text, record["cautions"].to_string()] {
            assert!(
                words.contains("is safety insulation"),
                "{command:?}: {words}"
            );
        }
    }
}
