//! The inverse question as a real process, on a panel cut in two dimensions: a tenth of a second a place.

use crate::processes::{after, signalled};
use assert_cmd::Command;
use padfield::checks::Findings;
use padfield::input::Document;
use padfield::questions::find::{Answered, Question, find};
use padfield_engine::field::Settings;
use serde_json::Value;
use std::path::PathBuf;
use std::time::Duration;

const PANEL: &str = r#"
title = "Two bars behind acrylic"
model = "section"
[[layer]]
name = "overlay"
material = "acrylic"
thickness = "3 mm"
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
outline = "60 mm x 40 mm"
[pads.pair]
layer = "front"
shape = "rectangle"
size = "10 mm x 12 mm"
columns = 2
gap = "6 mm"
names = ["left", "right"]
[ground.plane]
layer = "back"
[finger.adult]
contact = "8 mm"
dome = "14 mm"
[finger.child]
contact = "6 mm"
dome = "10 mm"
"#;

/// A folder with the panel file.
struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        std::fs::write(folder.path().join("bars.toml"), PANEL).expect("the panel file");
        Self(folder)
    }

    fn file(&self) -> PathBuf {
        self.0.path().join("bars.toml")
    }

    fn run(&self, command: &str, arguments: &[&str]) -> std::process::Output {
        let mut process = Command::cargo_bin("padfield").expect("the program is built");
        process.arg(command).arg(self.file()).args(arguments);
        process.output().expect("the program runs")
    }

    fn text(&self, arguments: &[&str], code: i32) -> String {
        let output = self.run("find", arguments);
        let errors = String::from_utf8_lossy(&output.stderr).into_owned();
        assert_eq!(output.status.code(), Some(code), "{arguments:?}: {errors}");
        if code == 2 {
            assert!(output.stdout.is_empty());
            errors
        } else {
            String::from_utf8(output.stdout).expect("text")
        }
    }

    fn record(&self, arguments: &[&str], code: i32) -> Value {
        let all: Vec<&str> = arguments.iter().chain(&["--json"]).copied().collect();
        serde_json::from_str(&self.text(&all, code)).expect("one object")
    }

    /// Shift of the right pad over that of the left one when the left one is touched, with its error, %.
    fn ratio_at(&self, gap: f64) -> [f64; 2] {
        let set = format!("pads.pair.gap={gap} mm");
        let arguments = ["--set", &set, "--accuracy", "1%", "--pad", "left", "--json"];
        let output = self.run("solve", &arguments);
        let record: Value = serde_json::from_slice(&output.stdout).expect("one object");
        let neighbour = &record["pads"][0]["touch"]["neighbours"][0];
        ["ratio", "ratio_estimated_error"]
            .map(|key| 100.0 * neighbour[key].as_f64().expect("a number"))
    }
}

/// The text without its line breaks: where they fall depends on the numbers.
fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("{value} is no number"))
}

fn list(value: &Value) -> &[Value] {
    value.as_array().expect("a list")
}

const GAP: &str = "pads.pair.gap=1..12mm";

#[test]
fn the_gap_that_is_found_meets_the_limit_when_it_is_solved_again() {
    let place = Place::new();
    let limit = place.ratio_at(4.0)[0];
    let until = format!("neighbour ratio <= {limit} %");
    let record = place.record(&["--vary", GAP, "--until", &until], 0);
    assert_eq!(record["met"], true);
    let [crossing] = list(&record["crossings"]) else {
        panic!("{record}")
    };
    let [low, high] = [0, 1].map(|end| number(&crossing["interval"][end]));
    let at = number(&crossing["at"]);
    assert!(low < at && at < high, "{crossing}");
    assert!(
        low <= 4.0 && 4.0 <= high,
        "the limit is the value at 4 mm: {crossing}"
    );
    assert_eq!(crossing["rising"], false);
    // Where the crossing is said to be, value and limit agree within the error bar; at the ends of the
    // interval they differ by about one error bar: a fifth of it is the tolerance of the refinement.
    let [value, error] = place.ratio_at(at);
    assert!(
        (value - limit).abs() <= 0.2 * error,
        "{value} ± {error}, {limit}"
    );
    for (end, sign) in [(low, 1.0), (high, -1.0)] {
        let [value, error] = place.ratio_at(end);
        let beyond = sign * (value - limit) / error;
        assert!(
            (beyond - 1.0).abs() < 0.2,
            "at {end} mm: {beyond} error bars from the limit"
        );
    }
    let [met] = list(&record["met_from_to"]) else {
        panic!("{record}")
    };
    assert_eq!(met["from"]["kind"], "crossing");
    assert_eq!(met["to"]["at"], 12.0);
}

#[test]
fn the_answer_is_a_sentence_and_a_table_that_fit_a_terminal() {
    let place = Place::new();
    let arguments = [
        "--vary",
        "pair.gap=1mm..12mm",
        "--until",
        "neighbour shift of left < 9 fF",
    ];
    let text = place.text(&arguments, 0);
    let start = "neighbour shift of left <= 0.009 pF is met from pads.pair.gap = ";
    assert!(text.starts_with(start), "{text}");
    for needed in [
        "12 mm (end of the range)",
        "pads.pair.gap [mm]",
        "neighbour shift of left [pF]",
        "Assumptions at pads.pair.gap = ",
        "trend only",
        "Accuracy asked 1.0 %: reached.",
    ] {
        let found = one_line(&text).contains(needed);
        assert!(found, "{needed:?} is missing in\n{text}");
    }
    let widest = text
        .lines()
        .map(|line| line.trim_end().chars().count())
        .max();
    assert!(widest <= Some(100), "{widest:?} columns:\n{text}");
}

#[test]
fn without_a_crossing_both_margins_are_told() {
    let place = Place::new();
    let nowhere = [
        "--vary",
        GAP,
        "--until",
        "touch shift >= 50 pF",
        "--accuracy",
        "5%",
    ];
    let text = one_line(&place.text(&nowhere, 3));
    assert!(
        text.contains("is met nowhere for pads.pair.gap = 1 mm to 12 mm"),
        "{text}"
    );
    assert!(text.contains("is below the limit throughout"), "{text}");
    assert_eq!(text.matches("from the limit)").count(), 2, "{text}");
    let everywhere = [
        "--vary",
        GAP,
        "--until",
        "touch shift <= 50 pF",
        "--accuracy",
        "5%",
    ];
    let text = one_line(&place.text(&everywhere, 0));
    assert!(text.contains("is met everywhere for"), "{text}");
}

#[test]
fn a_finger_that_slides_over_a_pad_crosses_a_limit_twice() {
    let place = Place::new();
    // Symmetric about the pad's centre but for the neighbour.
    let across = "finger.adult.offset.x=-8mm..8mm";
    let highest = place.record(
        &[
            "--vary",
            across,
            "--until",
            "touch shift of left >= 0.01 pF",
        ],
        0,
    );
    let points = list(&highest["points"]);
    let values: Vec<f64> = points.iter().map(|point| number(&point["value"])).collect();
    let most = values.iter().copied().fold(0.0, f64::max);
    let least = values[0].max(values[values.len() - 1]);
    let until = format!("touch shift of left >= {} pF", 0.5 * (most + least));
    let record = place.record(&["--vary", across, "--until", &until], 0);
    let [first, second] = list(&record["crossings"]) else {
        panic!("{record}")
    };
    assert_eq!(
        (&first["rising"], &second["rising"]),
        (&true.into(), &false.into())
    );
    let [a, b] = [first, second].map(|crossing| number(&crossing["at"]));
    assert!(a < 0.0 && b > 0.0 && (a + b).abs() < 1.0, "{a} and {b}");
    assert_eq!(list(&record["met_from_to"]).len(), 1);
    let below = format!("touch shift of left <= {} pF", 0.5 * (most + least));
    let record = place.record(&["--vary", across, "--until", &below], 0);
    assert_eq!(list(&record["met_from_to"]).len(), 2);
    let equal = format!("touch shift of left = {} pF", 0.5 * (most + least));
    let text = place.text(&["--vary", across, "--until", &equal], 0);
    assert!(text.contains(" and at "), "{text}");
}

#[test]
fn impossible_places_bound_the_range_and_are_told() {
    let place = Place::new();
    // Pads and gap must fit on 60 mm of board.
    let record = place.record(
        &[
            "--vary",
            "pads.pair.gap=2mm..80mm",
            "--until",
            "neighbour ratio <= 1 %",
        ],
        0,
    );
    let failures = list(&record["points"])
        .iter()
        .filter(|p| p["failure"].is_string());
    assert!(failures.count() > 0, "{record}");
    let met = &record["met_from_to"][0]["to"];
    assert_eq!(met["kind"], "last that can be solved");
    assert!(
        number(&met["at"]) <= 40.0 && number(&met["at"]) > 39.5,
        "{met}"
    );
    let arguments = [
        "--vary",
        "pads.pair.gap=50mm..80mm",
        "--until",
        "neighbour ratio <= 1 %",
    ];
    let text = place.text(&arguments, 2);
    assert!(
        text.contains("nothing can be solved in this range"),
        "{text}"
    );
}

#[test]
fn a_missed_accuracy_exits_with_four() {
    let place = Place::new();
    let arguments = [
        "--vary",
        "pads.pair.gap=4mm..6mm",
        "--until",
        "touch shift >= 50 pF",
        "--accuracy",
        "0.0001%",
        "--memory",
        "50MB",
    ];
    let record = place.record(&arguments, 4);
    assert_eq!(record["accuracy"]["reached"], false);
    let missed = &record["accuracy"]["missed"][0];
    assert!(missed["name"].to_string().contains(" of \\\""), "{missed}");
    let number = |key: &str| missed[key].as_f64().unwrap_or(f64::NAN);
    assert!(number("value_pf") > 0.0 && number("estimated_error_pf") > 0.0);
    assert!((number("asked") - 1e-6).abs() < 1e-15, "{missed}");
    assert!(number("error") > number("asked"));
    let checks = record["checks"].to_string();
    assert!(
        checks.contains("not reached by ") && checks.contains(" places"),
        "{checks}"
    );
}

/// What is varied, the condition, parts of the message.
const BAD_QUESTIONS: &str = "\
pads.pair.gap | neighbour ratio <= 20 % | no equals sign | pads.keys.gap=1mm..20mm
pads.pair.gap=4mm | neighbour ratio <= 20 % | no two dots
pads.pair.gap=..4mm | neighbour ratio <= 20 % | lacks an end
pads.pair.gap=4mm..4mm | neighbour ratio <= 20 % | no length
pads.pair.gap=9mm..4mm | neighbour ratio <= 20 % | starts above its end | write 4 mm..9 mm
pads.pair.gap=1..4 | neighbour ratio <= 20 % | 1 has no unit | did you mean \"1 mm\"?
pads.pair.gap=1mm..4pF | neighbour ratio <= 20 % | is a capacitance, not a length
pads.pair.gapp=1mm..4mm | neighbour ratio <= 20 % | did you mean \"pads.pair.gap\"? | --vary
pads.pair.columns=1..4 | neighbour ratio <= 20 % | whole numbers only
pads.pair.gap=1mm..4mm | neighbour ratio 20 % | nothing is compared here | --until
pads.pair.gap=1mm..4mm | neighbor ratio <= 20 % | did you mean \"neighbour ratio\"?
pads.pair.gap=1mm..4mm | neighbour ratio <= 20 | 20 has no unit | did you mean \"20 %\"?
pads.pair.gap=1mm..4mm | neighbour ratio <= 20 pF | is not a share
pads.pair.gap=1mm..4mm | touch shift >= 20 % | pF
pads.pair.gap=1mm..4mm | touch shift of lefd >= 1 pF | did you mean \"left\"?
pads.pair.gap=1mm..4mm | <= 20 % | is not a reported quantity";

#[test]
fn bad_questions_say_what_was_expected() {
    let place = Place::new();
    let ratio = "neighbour ratio <= 20 %";
    for line in BAD_QUESTIONS.lines() {
        let mut parts = line.split(" | ");
        let [vary, until] = [(); 2].map(|()| parts.next().expect("a part"));
        let text = place.text(&["--vary", vary, "--until", until], 2);
        for needed in parts {
            assert!(
                text.contains(needed),
                "{line}: {needed:?} is missing in\n{text}"
            );
        }
    }
    let finger = ["--vary", GAP, "--until", ratio, "--finger", "toe"];
    assert!(place.text(&finger, 2).contains("fingers: adult, child"));
    let one = [
        "--vary",
        "overlay.thickness=1mm..4mm",
        "--until",
        ratio,
        "--set",
        "pair.columns=1",
    ];
    let one = place.text(&[&one[..], &["--set", "pair.names=[\"left\"]"]].concat(), 2);
    assert!(one.contains("no second pad"), "{one}");
}

#[cfg(unix)]
#[test]
fn an_interrupt_prints_what_is_known_and_exits_with_130() {
    let place = Place::new();
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_padfield"));
    command
        .arg("find")
        .arg(place.file())
        .args(["--vary", GAP, "--until", "neighbour ratio <= 1 %", "--json"])
        // Seconds a place, so that the interrupt meets a working program.
        .args(["--accuracy", "0.05%"]);
    let output = signalled(&mut command, "INT", after(Duration::from_millis(700)));
    assert_eq!(output.status.code(), Some(130));
    let record: Value = serde_json::from_slice(&output.stdout).expect("one object");
    assert_eq!(record["complete"], false);
}

/// The union of a fine mesh that is drawn is one call that heeds no signal and takes ten seconds and more.
#[cfg(unix)]
#[test]
fn a_step_that_heeds_no_signal_is_not_waited_for_where_nothing_is_known() {
    let place = Place::new();
    let fine = "fill = \"hatch\"\nline = \"0.05 mm\"\npitch = \"0.15 mm\"\nangle = \"45 deg\"\ntreat_as = \"lines\"\n";
    let panel = PANEL
        .replace("model = \"section\"\n", "")
        .replace("[ground.plane]\n", &format!("[ground.plane]\n{fine}"));
    std::fs::write(place.file(), panel).expect("the panel file");
    let mut command = std::process::Command::new(env!("CARGO_BIN_EXE_padfield"));
    command
        .arg("find")
        .arg(place.file())
        .args(["--vary", GAP, "--until", "neighbour ratio <= 20 %"])
        .args(["--json", "--memory", "16GB"]);
    let output = signalled(&mut command, "TERM", after(Duration::from_millis(700)));
    assert_eq!(output.status.code(), Some(130));
    // Waited for, the step would have ended in an answer without a place.
    assert!(output.stdout.is_empty());
}

#[test]
fn help_shows_an_example_that_works() {
    let mut process = Command::cargo_bin("padfield").expect("the program is built");
    let output = process.args(["find", "--help"]).output().expect("runs");
    let help = String::from_utf8(output.stdout).expect("text");
    assert!(
        help.contains("Example: padfield find scenarios/two_pads.toml"),
        "{help}"
    );
    assert!(help.contains("3 met nowhere"), "{help}");
    let mut process = Command::cargo_bin("padfield").expect("the program is built");
    let example = [
        "find",
        "scenarios/two_pads.toml",
        "--vary",
        "pads.pair.gap=2mm..20mm",
        "--until",
        "neighbour ratio <= 0.5 %",
    ];
    // The same in the section model, which is fast.
    process.args(example).args(["--set", "model=section"]);
    assert_eq!(process.output().expect("runs").status.code(), Some(0));
}

#[test]
fn limits_in_counts_are_searched_for() {
    let place = Place::new();
    let gate = "circuit.gate=1ms..20ms";
    let until = "count shift >= 100 counts";
    let record = place.record(&["--vary", gate, "--until", until], 0);
    assert_eq!(record["unit"], "counts");
    let at = number(&record["crossings"][0]["at"]);
    // A count shift is in proportion to the gate.
    let until = "count shift >= 50 counts";
    let record = place.record(&["--vary", gate, "--until", until], 0);
    let half = number(&record["crossings"][0]["at"]);
    assert!((at / half - 2.0).abs() < 0.02, "{at} ms, {half} ms");

    let text = place.text(
        &["--vary", gate, "--until", "signal-to-noise ratio >= 20"],
        0,
    );
    assert!(one_line(&text).contains("signal-to-noise ratio"), "{text}");
    let text = place.text(&["--vary", gate, "--until", "count shift >= 100"], 2);
    assert!(text.contains("did you mean \"100 counts\"?"), "{text}");
}

/// Nobody knows whether the rest of the range would have met the condition.
#[test]
fn a_search_that_is_stopped_does_not_say_that_nothing_was_found() {
    let document = Document::from_text("bars.toml", PANEL).expect("TOML");
    let panel = document.panel(&[]).expect("a panel");
    let variable = document.range(GAP).expect("a range");
    let condition = document.condition("neighbour ratio <= 1e-9 %", &panel);
    let condition = condition.expect("a condition");
    let question = Question {
        document: &document,
        overrides: &[],
        variable: &variable,
        condition: &condition,
        finger: None,
        settings: Settings {
            accuracy: 0.1,
            ..Settings::default()
        },
    };
    let found = |solves: usize| {
        let left = std::cell::Cell::new(solves);
        let stop = || match left.get() {
            0 => true,
            some => {
                left.set(some - 1);
                false
            }
        };
        let answer = &find(&question, &stop, &|_| {}, &mut |_| {}).expect("an answer");
        let question = &question;
        Answered { question, answer }.checks()
    };
    for solves in [0, 2] {
        let checks = found(solves);
        assert!(!checks.is_empty());
        assert!(checks.iter().all(|check| !check.fails()), "{checks:?}");
    }
    assert!(found(1000).iter().any(|check| check.fails()));
}
