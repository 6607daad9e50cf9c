//! The direction of imports: every module uses only modules below it, and only the application names other crates.

use std::fs;
use std::path::{Path, PathBuf};

/// A crate of the house.
struct Floor {
    /// Its name in paths.
    name: &'static str,
    /// Its folder.
    folder: &'static str,
    /// Its modules, bottom to top.
    order: &'static [&'static str],
}

/// The crates: only the last, the application, may name others, so that each can be built, read and published
/// alone.
const FLOORS: [Floor; 3] = [
    Floor {
        name: "padfield_engine",
        folder: "crates/engine",
        order: &[
            "units",
            "hidden",
            "stop",
            "elliptic",
            "polygon",
            "case",
            "grid",
            "multigrid",
            "field",
            "hatch",
            "capacitance",
            "case_record",
            "verify",
        ],
    },
    Floor {
        name: "padfield_chart",
        folder: "crates/chart",
        order: &[
            "error",
            "number",
            "steps",
            "font",
            "colour",
            "raster",
            "data",
            "canvas",
            "clip",
            "hatch",
            "axis",
            "ticks",
            "plot",
            "page",
            "placement",
            "limits",
            "marker",
            "contour",
            "map_image",
            "map_limits",
            "outlines",
            "zones",
            "range_rows",
            "range_marks",
            "staircase",
            "curves",
            "bars",
            "histogram",
            "line",
            "scatter",
            "heat_map",
            "ranges",
            "stacked",
        ],
    },
    Floor {
        name: "padfield",
        folder: "",
        order: &[
            "rounding",
            "record",
            "report",
            "accuracy",
            "cells",
            "checks",
            "spread",
            "estimate",
            "measuring_circuit",
            "panel",
            "cautions",
            "study",
            "input",
            "touch",
            "sensitivity",
            "event",
            "response",
            "questions::traces",
            "questions::against",
            "questions::circuit",
            "questions::walk",
            "questions::discharge",
            "questions::drift",
            "questions::return_path",
            "questions::window",
            "questions::slider",
            "questions::tolerance",
            "questions::compare",
            "questions::find",
            "solved",
            "store",
            "figures",
            "sweep",
            "cluster",
            "questions::rules",
            "drawing",
            "note",
            "cli",
        ],
    },
];

/// One path from the crate root: line number and the module it leads into.
#[derive(Debug, PartialEq)]
struct Import {
    line: usize,
    module: String,
}

/// The text with comments blanked; line numbers stay.
fn without_comments(text: &str) -> String {
    text.lines()
        .map(|line| line.split_once("//").map_or(line, |(code, _)| code))
        .collect::<Vec<_>>()
        .join("\n")
}

fn leading_word(text: &str) -> &str {
    let text = text.trim_start();
    let end = text
        .find(|c: char| !(c.is_alphanumeric() || c == '_'))
        .unwrap_or(text.len());
    &text[..end]
}

/// The module that a path leads into; a room of the questions is a module of its own.
fn leading_module(path: &str) -> String {
    let path = path.trim_start();
    match path.strip_prefix("questions::") {
        Some(room) => format!("questions::{}", leading_word(room)),
        None => leading_word(path).to_owned(),
    }
}

/// Modules that what follows `crate::` leads into: one, or one per entry of a braced group.
fn heads(after: &str) -> Vec<String> {
    let Some(group) = after.trim_start().strip_prefix('{') else {
        return vec![leading_module(after)];
    };
    let mut depth = 0;
    let mut entries = vec![String::new()];
    for c in group.chars() {
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                entries.push(String::new());
                continue;
            }
            _ => {}
        }
        entries.last_mut().expect("never empty").push(c);
    }
    entries
        .iter()
        .map(|entry| leading_module(entry))
        .filter(|module| !module.is_empty())
        .collect()
}

/// Every path from the crate root in a source file `depth` modules below the root: through
/// `crate::`, in imports and in code, and through a top-level `use super::` that climbs to the root.
fn imports(text: &str, depth: usize) -> Vec<Import> {
    let code = without_comments(text);
    let climb = format!("use {}", "super::".repeat(depth));
    let mut found = Vec::new();
    let mut add = |at: usize, after: &str| {
        let line = code[..at].matches('\n').count() + 1;
        found.extend(
            heads(after)
                .into_iter()
                .map(|module| Import { line, module }),
        );
    };
    for (at, root) in code.match_indices("crate::") {
        let before = code[..at].chars().next_back();
        if !before.is_some_and(|c| c.is_alphanumeric() || c == '_') {
            add(at, &code[at + root.len()..]);
        }
    }
    for (at, root) in code.match_indices(climb.as_str()) {
        let after = &code[at + root.len()..];
        let unindented = at == 0 || code[..at].ends_with('\n') || code[..at].ends_with("\npub ");
        if unindented && !after.starts_with("super::") {
            add(at, after);
        }
    }
    found
}

/// What is wrong with the imports of `module`, one line each.
fn wrong_imports(
    order: &[&str],
    module: &str,
    path: &str,
    text: &str,
    depth: usize,
) -> Vec<String> {
    let place = |name: &str| order.iter().position(|m| *m == name);
    let Some(own) = place(module) else {
        return vec![format!("{path}: module {module} has no place in the order")];
    };
    imports(text, depth)
        .into_iter()
        .filter(|import| place(&import.module).is_none_or(|used| used > own))
        .map(|import| {
            format!(
                "{path}:{}: {module} uses {}, which is not below it",
                import.line, import.module
            )
        })
        .collect()
}

/// A file that is neither a module of `tests/all.rs` of its crate nor a program of its own would not be run.
#[test]
fn every_file_of_tests_is_run() {
    let mut files = 0;
    for floor in &FLOORS {
        let folder = root().join(floor.folder);
        let read = |file: &str| fs::read_to_string(folder.join(file)).expect("a file");
        let (modules, manifest) = (read("tests/all.rs"), read("Cargo.toml"));
        for entry in fs::read_dir(folder.join("tests")).expect("the tests") {
            let path = entry.expect("a readable entry").path();
            if path.extension().is_none_or(|e| e != "rs") {
                continue;
            }
            let name = path.file_stem().expect("a name").to_string_lossy();
            let is_module = modules.contains(&format!("\nmod {name};\n"));
            let is_program = manifest.contains(&format!("[[test]]\nname = \"{name}\"\n"));
            assert!(is_module != is_program, "{name}");
            files += 1;
        }
    }
    assert!(files > 50, "{files} files");
}

fn source_files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("a folder of sources") {
        let path = entry.expect("a readable entry").path();
        if path.is_dir() {
            source_files(&path, found);
        } else if path.extension().is_some_and(|e| e == "rs") {
            found.push(path);
        }
    }
}

/// Names along the module path of a file: `crates/engine/src/field/solve.rs` is field, solve.
fn module_path(file: &Path, root: &Path) -> Vec<String> {
    let inside = file.strip_prefix(root).expect("a file below the root");
    inside
        .with_extension("")
        .iter()
        .map(|part| part.to_string_lossy().into_owned())
        .filter(|part| part != "mod")
        .collect()
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Sources of a folder below the root, with their text.
fn sources(folder: &Path) -> Vec<(PathBuf, String)> {
    let mut files = Vec::new();
    source_files(folder, &mut files);
    let text = |file: &PathBuf| fs::read_to_string(file).expect("a source file");
    let texts: Vec<String> = files.iter().map(text).collect();
    files.into_iter().zip(texts).collect()
}

#[test]
fn every_module_uses_only_modules_below_it() {
    for floor in &FLOORS {
        let root = root().join(floor.folder).join("src");
        let mut wrong = Vec::new();
        let mut seen = 0;
        for (file, text) in sources(&root) {
            let path = module_path(&file, &root);
            // The crate root and the questions list the modules, and the program starts the topmost one.
            if path == ["lib"] || path == ["main"] || path == ["questions"] {
                continue;
            }
            let module = match path[0].as_str() {
                "questions" => path[..2].join("::"),
                own => own.to_owned(),
            };
            seen += imports(&text, path.len()).len();
            wrong.extend(wrong_imports(
                floor.order,
                &module,
                &file.display().to_string(),
                &text,
                path.len(),
            ));
        }
        assert!(seen > 50, "only {seen} imports were found");
        assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    }
}

/// Lines that name a crate, in code or in what documents it.
fn names_of_crate(text: &str, name: &str) -> Vec<usize> {
    let is_named = |line: &str| {
        line.match_indices(name).any(|(at, _)| {
            let before = line[..at].chars().next_back();
            let is_start = !before.is_some_and(|c| c.is_alphanumeric() || c == '_');
            is_start && line[at + name.len()..].starts_with("::")
        })
    };
    let lines = text.lines().enumerate();
    lines
        .filter(|(_, line)| is_named(line))
        .map(|(at, _)| at + 1)
        .collect()
}

#[test]
fn only_the_application_names_other_crates() {
    let [rooms @ .., _] = &FLOORS;
    for floor in rooms {
        let folder = root().join(floor.folder);
        let manifest = fs::read_to_string(folder.join("Cargo.toml")).expect("a manifest");
        for other in FLOORS.iter().filter(|other| other.name != floor.name) {
            for (file, text) in sources(&folder) {
                let lines = names_of_crate(&text, other.name);
                assert!(lines.is_empty(), "{}: {lines:?}", file.display());
            }
            // As a dependency, which would let it in under any name.
            let package = other.name.replace('_', "-");
            let mut words = manifest.split(|c: char| !(c.is_alphanumeric() || "-_".contains(c)));
            assert!(
                !words.any(|word| word == package),
                "{} asks for {package}",
                floor.name
            );
        }
    }
}

/// The question that the guide asks outside of the program needs nothing but what the crate shows to all.
#[test]
fn a_question_of_ones_own_stays_outside_of_the_rooms() {
    let read = |file: &str| fs::read_to_string(root().join(file)).expect("a file");
    let (shown, question) = (read("src/lib.rs"), read("tests/new_question.rs"));
    let (shown, _) = shown.split_once("mod house {").expect("the rooms");
    let mut paths = 0;
    for (at, root) in question.match_indices("padfield::") {
        for name in heads(&question[at + root.len()..]) {
            let is_module = shown.contains(&format!("\npub mod {name};"));
            let is_name = shown.lines().filter(|line| line.starts_with("pub use "));
            let mut words =
                is_name.flat_map(|line| line.split(|c: char| !c.is_alphanumeric() && c != '_'));
            assert!(is_module || words.any(|word| word == name), "{name}");
            paths += 1;
        }
    }
    assert!(paths > 5, "{paths} paths");
}

#[test]
fn a_name_of_another_crate_is_found_and_one_that_begins_alike_is_not() {
    let text = "use padfield::panel;\nuse padfield_engine::case;\n//! [`padfield::panel`]\n\
                fn f(x: my_padfield::T) {}\n// padfield, the program\n";
    assert_eq!(names_of_crate(text, "padfield"), [1, 3]);
}

#[test]
fn every_module_has_a_place_in_the_order_of_its_crate() {
    for floor in &FLOORS {
        let path = root().join(floor.folder).join("src/lib.rs");
        let text = fs::read_to_string(path).expect("the crate root");
        let mut listed: Vec<&str> = text
            .lines()
            .map(str::trim_start)
            .filter_map(|line| line.strip_prefix("pub mod ").or(line.strip_prefix("mod ")))
            .filter_map(|line| line.strip_suffix(';'))
            .collect();
        // A room of the questions has a place of its own.
        let rooms = fs::read_to_string(root().join(floor.folder).join("src/questions/mod.rs"));
        let rooms = rooms.unwrap_or_default();
        let rooms = rooms
            .lines()
            .filter_map(|line| line.strip_prefix("pub mod "));
        let rooms: Vec<String> = rooms
            .map(|room| format!("questions::{}", room.trim_end_matches(';')))
            .collect();
        if !rooms.is_empty() {
            listed.retain(|module| *module != "questions");
            listed.extend(rooms.iter().map(String::as_str));
        }
        let mut order = floor.order.to_vec();
        listed.sort_unstable();
        order.sort_unstable();
        assert_eq!(listed, order, "{}", floor.name);
    }
}

#[test]
fn an_upward_import_is_found_however_it_is_written() {
    let made_up = [
        "use crate::field::solve;\n",
        "pub use crate::field::solve;\n",
        "use crate::{\n    case::Case,\n    field::{Settings, solve},\n};\n",
        "fn f() -> crate::field::Settings { crate::field::Settings::default() }\n",
        "mod tests {\n    use crate::field::solve;\n}\n",
        "use super::super::field::solve;\n",
        "use crate::nowhere::solve;\n",
    ];
    for text in made_up {
        let wrong = wrong_imports(FLOORS[0].order, "grid", "grid/made_up.rs", text, 2);
        assert!(!wrong.is_empty(), "not found: {text}");
    }
    let wrong = wrong_imports(FLOORS[0].order, "grid", "made_up.rs", made_up[2], 2);
    assert_eq!(
        wrong,
        ["made_up.rs:1: grid uses field, which is not below it"]
    );
}

#[test]
fn downward_imports_and_comments_are_let_through() {
    let text = "//! See [`crate::verify`].\nuse crate::{case::Case, units};\nuse super::axis::Axis;\n\
                use crate::grid::Axis; // crate::field does the rest\n";
    let none: [String; 0] = [];
    assert_eq!(
        wrong_imports(FLOORS[0].order, "grid", "made_up.rs", text, 2),
        none
    );
    assert_eq!(
        imports(text, 2)
            .iter()
            .map(|i| i.module.as_str())
            .collect::<Vec<_>>(),
        ["case", "units", "grid"]
    );
    assert_eq!(
        wrong_imports(FLOORS[0].order, "brand_new", "made_up.rs", text, 2),
        ["made_up.rs: module brand_new has no place in the order"]
    );
}
