//! What `--set` changes goes to a folder of its own and says so; nominal results stay as they are.

use assert_cmd::Command;
use std::path::{Path, PathBuf};

const STUDY: &str = "\n[study.size]\nvary = [{ path = \"pads.key.diameter\", values = [\"8 mm\", \"10 mm\", \
                     \"12 mm\"] }]\naccuracy = \"5 %\"\n";

struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a folder");
        let text = include_str!("panels/round_pad.toml").to_owned() + STUDY;
        std::fs::write(folder.path().join("key.toml"), text).expect("the panel file");
        Self(folder)
    }

    fn run(&self, arguments: &[&str]) {
        let mut command = Command::cargo_bin("padfield").expect("the program is built");
        let output = command
            .current_dir(self.0.path())
            .args(arguments)
            .output()
            .expect("the program runs");
        // 3: a check is open, which is no matter here.
        let code = output.status.code();
        let shown = String::from_utf8_lossy(&output.stderr);
        assert!(
            matches!(code, Some(0 | 3)),
            "{arguments:?} {code:?}: {shown}"
        );
    }

    /// Files of that name below a folder.
    fn found(&self, below: &str, name: &str) -> Vec<PathBuf> {
        fn search(folder: &Path, name: &str, found: &mut Vec<PathBuf>) {
            for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
                let path = entry.path();
                if path.is_dir() {
                    search(&path, name, found);
                } else if path.file_name().is_some_and(|n| n == name) {
                    found.push(path);
                }
            }
        }
        let mut found = Vec::new();
        search(&self.0.path().join(below), name, &mut found);
        found.sort();
        found
    }
}

fn text(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// What a changed chart says: in its title, and with the hash of the inputs.
fn says_so(svg: &str, what: &str) -> bool {
    let title = svg
        .split_once("<title>")
        .and_then(|(_, rest)| rest.split_once("</title>"));
    let joined: String = svg
        .split('<')
        .map(|part| part.split_once('>').map_or("", |p| p.1))
        .collect();
    title.is_some_and(|(title, _)| title.contains(what))
        && joined.contains("Not the panel as written")
        && joined.contains("Inputs ")
}

#[test]
fn charts_of_a_changed_panel_stand_beside_the_nominal_ones() {
    for (command, chart) in [("discharge", "discharge.svg"), ("circuit", "knee.svg")] {
        let place = Place::new();
        let folder = format!("results/key/{command}");
        place.run(&[command, "key.toml"]);
        let nominal = place.found(&folder, chart);
        let [nominal] = &nominal[..] else {
            panic!("{command}: {nominal:?}");
        };
        let as_written = text(nominal);
        assert!(!says_so(&as_written, "set:"), "{command}");
        place.run(&[command, "key.toml", "--set", "overlay.thickness=3 mm"]);
        place.run(&[command, "key.toml", "--set", "overlay.thickness=4 mm"]);
        place.run(&[command, "key.toml", "--set", "overlay.thickness=4.0 mm"]);
        // The same value in another spelling may have its own folder, never the nominal one.
        assert_eq!(text(nominal), as_written, "{command}");
        let all = place.found(&folder, chart);
        assert!(all.len() >= 3, "{all:?}");
        let changed = all.iter().filter(|path| *path != nominal);
        let told: Vec<String> = changed.map(|path| text(path)).collect();
        for thickness in ["3 mm", "4 mm"] {
            let what = format!("[set: overlay.thickness = {thickness}]");
            assert!(
                told.iter().any(|svg| says_so(svg, &what)),
                "{command} {what}"
            );
        }
        // Where the folder is given it is taken, and the chart says so all the same.
        place.run(&[
            command,
            "key.toml",
            "--set",
            "overlay.thickness=3 mm",
            "--out",
            "here",
        ]);
        let here = place.found("here", chart);
        assert!(
            says_so(&text(&here[0]), "[set: overlay.thickness = 3 mm]"),
            "{command}"
        );
    }
}

#[test]
fn tables_of_a_changed_study_stand_beside_the_nominal_ones() {
    let place = Place::new();
    place.run(&["sweep", "key.toml"]);
    let nominal = place.0.path().join("results/key/size/points.csv");
    let as_written = text(&nominal);
    place.run(&["sweep", "key.toml", "--set", "overlay.thickness=3 mm"]);
    assert_eq!(text(&nominal), as_written);
    let tables = place.found("results", "points.csv");
    assert_eq!(tables.len(), 2, "{tables:?}");
    let changed = tables
        .iter()
        .find(|path| **path != nominal)
        .expect("a second table");
    assert_ne!(text(changed), as_written);
    let home = changed.parent().expect("a folder");
    let chart = |folder: &Path| {
        let files = std::fs::read_dir(folder).expect("a folder").flatten();
        let mut charts = files.map(|file| file.path());
        let chart = charts.find(|path| path.extension().is_some_and(|ending| ending == "svg"));
        text(&chart.expect("a chart"))
    };
    let what = "[set: overlay.thickness = 3 mm]";
    assert!(says_so(&chart(home), what));
    assert!(!says_so(
        &chart(nominal.parent().expect("a folder")),
        "[set:"
    ));
    // Drawn again from the store, elsewhere: both, and the changed one still says so.
    place.run(&["chart", "key.toml", "--out", "again"]);
    let again = place.found("again", "touch-shift.svg");
    assert_eq!(again.len(), 2, "{again:?}");
    let told = again
        .iter()
        .filter(|path| says_so(&text(path), what))
        .count();
    assert_eq!(told, 1);
}

#[test]
fn a_note_of_a_changed_panel_has_a_folder_and_a_title_of_its_own() {
    let place = Place::new();
    let short = [
        "note",
        "key.toml",
        "--format",
        "markdown",
        "--accuracy",
        "8%",
        "--window-accuracy",
        "8%",
    ];
    let left_out = [
        "window",
        "remedies",
        "guidelines",
        "tolerances",
        "environment",
        "walk",
    ];
    let short: Vec<&str> = short
        .into_iter()
        .chain(left_out.into_iter().flat_map(|part| ["--leave-out", part]))
        .collect();
    place.run(&short);
    let changed: Vec<&str> = short
        .iter()
        .copied()
        .chain(["--set", "overlay.thickness=3 mm"])
        .collect();
    place.run(&changed);
    let notes = place.found("results/key/note", "note.md");
    assert_eq!(notes.len(), 2, "{notes:?}");
    let told = notes.iter().map(|path| text(path));
    let (mine, nominal): (Vec<String>, Vec<String>) =
        told.partition(|note| note.contains("Not the panel as written, set on the command line"));
    assert_eq!((mine.len(), nominal.len()), (1, 1));
    let heading = |note: &str| note.lines().next().unwrap_or_default().to_owned();
    assert!(
        heading(&mine[0]).contains("overlay.thickness = 3 mm"),
        "{}",
        heading(&mine[0])
    );
    assert!(
        !heading(&nominal[0]).contains("set"),
        "{}",
        heading(&nominal[0])
    );
}
