//! What people and machines are shown is a number or a dash: no "NaN", no "inf", no "-0.0", in the text, the JSON
//! and the charts of every command that answers about a panel, on panels where something is nothing: no
//! neighbour, a pad that a cut misses, a base that driven copper takes away, a finger beside the panel, changes
//! of the surroundings. And a value ends at the decimal place of its error.

use assert_cmd::Command;
use std::fs;
use std::path::Path;

/// Keys in a row, in a cut across them; `{keys}` and `{more}` are filled in. Invented.
const PANEL: &str = r#"title = "Keys in a cut"
model = "section"
[[layer]]
name = "overlay"
permittivity = "2.8 ± 0.2"
thickness = "2 mm ± 0.1 mm"
temperature_coefficient = "300 ppm/K ± 100 ppm/K"
dielectric_strength = "18 kV/mm"
[[layer]]
name = "front"
copper = "35 um"
[[layer]]
name = "board"
permittivity = "4.4 ± 0.2"
thickness = "1.6 mm"
[[layer]]
name = "back"
copper = "35 um"
[board]
outline = "120 mm x 40 mm"
[pads.keys]
layer = "front"
shape = "rectangle"
size = "10 mm x 10 mm"
{keys}
[finger.adult]
contact = "8 mm"
dome = "16 mm"
{finger}
[climate]
lowest = "0 degC"
highest = "50 degC"
[window]
users = ["adult"]
{more}
"#;

fn panel(keys: &str, finger: &str, more: &str) -> String {
    PANEL
        .replace("{keys}", keys)
        .replace("{finger}", finger)
        .replace("{more}", more)
}

const PAIR: &str = "columns = 2\ngap = \"6 mm\"\nnames = [\"a\", \"b\"]";

/// Names and texts of panels where something is nothing.
fn panels() -> Vec<(&'static str, String)> {
    let ground = "[ground.plane]\nlayer = \"back\"\n";
    let beside = "offset = \"40 mm, 0 mm\"";
    vec![
        ("pair", panel(PAIR, "", ground)),
        ("alone", panel("names = [\"a\"]", "", "")),
        (
            "missed",
            panel(
                "rows = 2\ngap = \"6 mm\"\nnames = [\"a\", \"b\"]",
                "",
                ground,
            ),
        ),
        (
            "driven",
            panel(PAIR, "", "[shield.behind]\nlayer = \"back\"\n")
                .replace("model =", "idle = \"driven\"\nmodel ="),
        ),
        ("beside", panel(PAIR, beside, ground)),
        (
            "changing",
            panel(
                PAIR,
                "return = \"0.5 pF\"",
                "[supply.cells]\nto_earth = \"1 pF\"\ncommon_mode = \"0.1 V\"\n",
            ),
        ),
        (
            "wet",
            panel(
                PAIR,
                "",
                "[film.wet]\nsize = \"12 mm x 12 mm\"\nthickness = \"0.2 mm\"\ntreat_as = \"floating\"\n\
                 [object.drum]\nsize = \"30 mm x 30 mm\"\nbehind = \"3 mm\"\npresent = \"at times\"\n",
            )
            .replace("model = \"section\"\n", ""),
        ),
    ]
}

/// Words of a text that a person would stumble over.
fn odd_words(text: &str) -> Vec<String> {
    let is_of_number = |c: char| c.is_alphanumeric() || "+-−._".contains(c);
    let words = text.split(|c| !is_of_number(c));
    let is_odd = |word: &str| {
        let bare = word.trim_end_matches('.');
        let lower = bare.trim_start_matches(['-', '+', '−']).to_lowercase();
        let is_negative_zero = bare.starts_with(['-', '−'])
            && lower.starts_with('0')
            && lower.chars().all(|c| c == '0' || c == '.');
        is_negative_zero || ["nan", "inf", "infinity"].contains(&lower.as_str())
    };
    words
        .filter(|word| is_odd(word))
        .map(str::to_owned)
        .collect()
}

/// Values of a text whose error ends at another decimal place, as `1.3 ± 0.04`. Inputs are as people wrote them.
fn uneven_pairs(text: &str) -> Vec<String> {
    let text = text.split_whitespace().collect::<Vec<_>>();
    let decimals = |word: &str| {
        let number = word.trim_matches(|c: char| !c.is_ascii_digit());
        let is_number = number.parse::<f64>().is_ok();
        is_number.then(|| number.split_once('.').map_or(0, |(_, after)| after.len()))
    };
    let mut found = Vec::new();
    for place in 1..text.len().saturating_sub(1) {
        if text[place] != "±" {
            continue;
        }
        let (value, error) = (text[place - 1], text[place + 1]);
        let pair = decimals(value).zip(decimals(error));
        // An exact value has all its digits and no error.
        if pair.is_some_and(|(a, b)| a != b)
            && error.trim_matches(|c: char| !c.is_ascii_digit()) != "0"
        {
            found.push(format!("{value} ± {error}"));
        }
    }
    found
}

/// Runs a command in a folder; what it printed. Bad input and faults of the program are no answers.
fn run(folder: &Path, arguments: &[&str]) -> String {
    let output = Command::cargo_bin("padfield")
        .expect("the program is built")
        .current_dir(folder)
        .env("PADFIELD_CACHE", folder.join("fields"))
        .args(arguments)
        .output()
        .expect("it runs");
    let errors = String::from_utf8_lossy(&output.stderr).into_owned();
    let code = output.status.code();
    assert!(
        matches!(code, Some(0 | 3 | 4)),
        "{arguments:?}: {code:?}\n{errors}"
    );
    String::from_utf8(output.stdout).expect("text")
}

/// Text files under a folder.
fn written(folder: &Path, found: &mut Vec<(String, String)>) {
    for entry in fs::read_dir(folder).expect("a folder") {
        let path = entry.expect("an entry").path();
        if path.is_dir() {
            written(&path, found);
        } else if let Ok(text) = fs::read_to_string(&path) {
            found.push((path.display().to_string(), text));
        }
    }
}

/// Every command with the arguments that make it short; JSON where it has any.
const COMMANDS: [&[&str]; 12] = [
    &["solve"],
    &["solve", "--against", "overlay.thickness=3 mm"],
    &["window", "--events"],
    &["tolerance", "--units", "40"],
    &["drift", "--check"],
    &["return-path", "--counts", "5"],
    &["circuit"],
    &["circuit", "--all", "--signal-to-noise", "15"],
    &["walk", "--no-map"],
    &["discharge"],
    &["rules"],
    &[
        "find",
        "--vary",
        "overlay.thickness=1mm..4mm",
        "--until",
        "touch shift >= 0.1 pF",
    ],
];

/// What is left out on a panel to keep the test short.
fn is_left_out(panel: &str, command: &[&str]) -> bool {
    match (command[0], panel) {
        // Thirty panels a rule, whose words are the same on all of them.
        ("rules", panel) => panel != "pair",
        ("walk" | "tolerance", panel) => !["alone", "missed"].contains(&panel),
        // Water needs the model in space, which takes longer.
        (command, "wet") => command != "solve",
        _ => false,
    }
}

#[test]
fn no_command_shows_what_is_no_number() {
    let mut looked_at = 0;
    let mut faults = Vec::new();
    for (name, text) in panels() {
        let folder = tempfile::tempdir().expect("a folder");
        let file = format!("{name}.toml");
        fs::write(folder.path().join(&file), text).expect("the panel");
        let mut texts: Vec<(String, String)> = Vec::new();
        for command in COMMANDS {
            if is_left_out(name, command) {
                continue;
            }
            for json in [false, true] {
                let mut arguments = vec![command[0], &file];
                arguments.extend(&command[1..]);
                if command[0] != "discharge" {
                    arguments.extend(["--accuracy", "30%"]);
                }
                if json && !["alone", "missed"].contains(&name) {
                    continue;
                }
                if json {
                    arguments.push("--json");
                }
                texts.push((format!("{arguments:?}"), run(folder.path(), &arguments)));
            }
        }
        let note = [
            "note",
            file.as_str(),
            "--accuracy",
            "30%",
            "--window-accuracy",
            "30%",
            "--leave-out",
            "guidelines",
            "--leave-out",
            "remedies",
            "--leave-out",
            "touch-map",
        ];
        if ["missed", "beside"].contains(&name) {
            texts.push(("note".to_owned(), run(folder.path(), &note)));
        }
        written(folder.path(), &mut texts);
        for (what, text) in &texts {
            // Pictures inside a page are letters and digits at random.
            let text = match text.split_once("data:") {
                Some((before, _)) if what.ends_with(".html") => before,
                _ => text,
            };
            let mut odd = odd_words(text);
            if !what.ends_with(".toml") && !what.contains("--json") {
                odd.extend(uneven_pairs(text));
            }
            if !odd.is_empty() {
                faults.push(format!("{name}, {what}: {odd:?}"));
            }
            looked_at += 1;
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(looked_at > 80, "{looked_at} texts");
}

#[test]
fn the_search_finds_what_it_looks_for() {
    assert_eq!(
        odd_words("0 (NaN %), dead zones -0.0 and -0."),
        ["NaN", "-0.0", "-0."]
    );
    assert_eq!(
        odd_words("{\"a\":-0.0,\"b\":-0.01,\"c\":inf}"),
        ["-0.0", "inf"]
    );
    assert!(odd_words("-0.5, 2026-01-05, 1e-06, information, nano").is_empty());
    assert_eq!(uneven_pairs("tare 1.3 ± 0.04 pF"), ["1.3 ± 0.04"]);
    assert!(uneven_pairs("1.30 ± 0.04, 12.3450 ± 0 (1230 ± 40)").is_empty());
}
