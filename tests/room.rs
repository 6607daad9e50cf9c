//! Panels whose field finds no room: what makes the grid large is named with its place and a remedy.

use assert_cmd::Command;
use padfield::input::Document;
use std::path::Path;

/// Three pads over a mesh of a hundred and more lines either way, drawn line by line.
const MESH: &str = r#"
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
outline = "60 mm x 60 mm"
[pads.keys]
layer = "front"
shape = "rectangle"
size = "9 mm x 9 mm"
columns = 3
gap = "4 mm"
[ground.mesh]
layer = "back"
fill = "hatch"
line = "0.2 mm"
pitch = "0.5 mm"
treat_as = "lines"
[study.thin]
vary = [{ path = "overlay.thickness", values = ["2 mm"] }]
accuracy = "15 %"
"#;

fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("mesh.toml"), MESH).expect("the panel file");
    folder
}

fn command(folder: &Path, arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("padfield").expect("the program is built");
    command.current_dir(folder).args(arguments);
    command
}

/// What is told of it everywhere.
fn has_it_all(text: &str) {
    for part in [
        "cells needs at least",
        "the memory cap is 20 MB",
        "the hatch \"mesh\" is drawn with all its lines, which take 58564 cells in the plane",
        "write treat_as = \"sheet\"",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
}

#[test]
fn a_mesh_that_is_too_fine_for_the_memory_is_named_where_it_is_written() {
    let folder = folder();
    let line = 1 + MESH
        .lines()
        .position(|line| line.starts_with("pitch"))
        .expect("a pitch");
    let small = ["--accuracy", "15%", "--memory", "20MB"];
    let find = [
        "find",
        "mesh.toml",
        "--vary",
        "overlay.thickness=2mm..4mm",
        "--until",
        "touch shift > 1 pF",
    ];
    for arguments in [
        &["solve", "mesh.toml"][..],
        &["solve", "mesh.toml", "--against", "overlay.thickness=2mm"],
        &["window", "mesh.toml"],
        &["drift", "mesh.toml"],
        &["circuit", "mesh.toml"],
        &["tolerance", "mesh.toml", "--units", "0"],
        &find,
    ] {
        let all = [arguments, &small].concat();
        let output = command(folder.path(), &all)
            .assert()
            .code(2)
            .get_output()
            .clone();
        let text = String::from_utf8(output.stderr).expect("text");
        has_it_all(&text);
        assert!(text.contains(&format!("mesh.toml:{line}:9")), "{text}");
    }
}

#[test]
fn a_point_without_room_says_in_its_row_what_is_large() {
    let folder = folder();
    let sweep = [
        "sweep",
        "mesh.toml",
        "--memory",
        "20MB",
        "--no-charts",
        "--out",
        "out",
        "--threads",
        "1",
    ];
    command(folder.path(), &sweep).assert().code(4);
    let table = std::fs::read_to_string(folder.path().join("out/thin/points.csv"));
    has_it_all(&table.expect("a table").replace("\"\"", "\""));
}

#[test]
fn what_is_not_large_is_not_blamed() {
    let sheet = MESH.replace("\"lines\"", "\"sheet\"");
    for (text, is_large) in [(MESH, true), (&*sheet, false)] {
        let document = Document::from_text("mesh.toml", text).expect("TOML");
        let panel = document.panel(&[]).expect("a panel");
        assert_eq!(document.without_room(&panel, "no room").is_some(), is_large);
    }
    // A thousand pads are.
    let many = sheet
        .replace("columns = 3", "columns = 31\nrows = 31")
        .replace("\"9 mm x 9 mm\"", "\"0.9 mm x 0.9 mm\"")
        .replace("gap = \"4 mm\"", "gap = \"0.5 mm\"");
    let document = Document::from_text("mesh.toml", &many).expect("TOML");
    let panel = document.panel(&[]).expect("a panel");
    let error = document.without_room(&panel, "no room").expect("a place");
    assert!(
        error.to_string().contains("the 961 pads of \"keys\""),
        "{error}"
    );
}
