//! `padfield chart` and the charts of `padfield sweep` from outside: files, messages, exit codes.

use std::path::Path;
use std::process::{Command, Output};

const PAIR: &str = r#"
model = "section"
[[layer]]
name = "overlay"
material = "acrylic"
thickness = "3 mm"
[[layer]]
name = "front"
copper = "35 um"
[pads.pair]
layer = "front"
shape = "rectangle"
size = "12 mm x 12 mm"
columns = 2
gap = "4 mm"
names = ["left", "right"]
[finger.adult]
contact = "10 mm"
dome = "16 mm"
[study.gap]
vary = [{ path = "pads.pair.gap", values = ["2 mm", "5 mm", "9 mm"] }]
report = ["touch shift", "neighbour ratio"]
limits = [
  { quantity = "neighbour ratio", at_most = "10 %", because = "house rule" },
  { quantity = "touch shift", at_least = "0.1 pF" },
]
accuracy = "20 %"
"#;

fn padfield(folder: &Path, arguments: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_padfield"));
    command.args(arguments).current_dir(folder);
    command.output().expect("the program runs")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn a_sweep_writes_its_charts_and_chart_draws_the_same_again() {
    let place = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(place.path().join("pair.toml"), PAIR).expect("the panel file");
    let bare = padfield(place.path(), &["sweep", "pair.toml", "--no-charts"]);
    assert_eq!(bare.status.code(), Some(0), "{}", text(&bare.stderr));
    let folder = place.path().join("results/pair/gap");
    assert!(folder.join("points.csv").is_file() && !folder.join("trade-off.svg").exists());
    let swept = padfield(place.path(), &["sweep", "pair.toml"]);
    let said = text(&swept.stdout);
    let line = "Charts (.svg, .png) in results/pair/gap: touch-shift, neighbour-ratio, trade-off";
    assert!(said.contains(line), "{said}");
    let first = std::fs::read(folder.join("neighbour-ratio.svg")).expect("a chart");
    assert!(text(&first).contains("Model: section"));
    let png = std::fs::read(folder.join("trade-off.png")).expect("a chart");
    assert!(png.starts_with(b"\x89PNG"));
    std::fs::remove_file(folder.join("neighbour-ratio.svg")).expect("removed");
    let again = padfield(place.path(), &["chart", "results/pair", "--json"]);
    assert_eq!(again.status.code(), Some(0), "{}", text(&again.stderr));
    let record: serde_json::Value = serde_json::from_slice(&again.stdout).expect("one object");
    let files = record["studies"][0]["charts"].as_array().expect("files");
    assert_eq!(files.len(), 6);
    assert_eq!(
        std::fs::read(folder.join("neighbour-ratio.svg")).expect("again"),
        first
    );
    for arguments in [
        &["chart", "--out", "drawn"][..],
        &["chart", "pair.toml", "--study", "gap", "--out", "drawn"],
        &["chart", "results/pair/gap/points.sqlite", "--out", "drawn"],
    ] {
        let drawn = padfield(place.path(), arguments);
        assert_eq!(drawn.status.code(), Some(0), "{}", text(&drawn.stderr));
        let path = place.path().join("drawn/gap/neighbour-ratio.svg");
        assert_eq!(std::fs::read(&path).expect("drawn"), first);
        std::fs::remove_file(path).expect("removed");
    }
}

#[test]
fn without_a_store_or_study_chart_says_what_is_there() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let nothing = padfield(place.path(), &["chart"]);
    assert_eq!(nothing.status.code(), Some(2));
    assert!(text(&nothing.stderr).contains("results: there is no such folder"));
    std::fs::create_dir(place.path().join("results")).expect("a folder");
    let empty = padfield(place.path(), &["chart"]);
    assert_eq!(empty.status.code(), Some(2));
    assert!(text(&empty.stderr).contains("run padfield sweep first"));
    std::fs::write(place.path().join("pair.toml"), PAIR).expect("the panel file");
    padfield(place.path(), &["sweep", "pair.toml", "--no-charts"]);
    let wrong = padfield(place.path(), &["chart", "--study", "gpa"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert_eq!(
        text(&wrong.stderr).trim(),
        "results: there is no study \"gpa\"; there is: gap"
    );
}
