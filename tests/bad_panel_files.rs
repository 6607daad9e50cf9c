//! Broken panel files beside the message they must give, and files broken at random.
//!
//! `tests/bad_scenarios/NAME.toml` must give exactly `NAME.txt`. Run with `PADFIELD_WRITE_EXPECTED=1`
//! to write the messages anew after a deliberate change, and read the difference.

use crate::messages::{self, message_of, shown};
use padfield::input::{Document, MAX_BYTES, Override, ScenarioError, panel_from_bytes};
use padfield_engine::hidden::Hidden;
use proptest::prelude::*;

fn message(file: &str, bytes: &[u8]) -> String {
    message_of(read(file, bytes))
}

/// The panel and every study.
fn read(file: &str, bytes: &[u8]) -> Result<(), ScenarioError> {
    let document = Document::from_bytes(file, bytes)?;
    document.panel(&[])?;
    document
        .studies()
        .iter()
        .try_for_each(|study| document.study(study).map(|_| ()))
}

#[test]
fn broken_files_give_their_messages() {
    messages::hold("bad_scenarios", 40, message);
}

#[test]
fn ten_megabytes_of_garbage_are_refused_by_their_size() {
    let garbage: Vec<u8> = (0..10_000_000_u32)
        .map(|i| (i.wrapping_mul(2_654_435_761) >> 24) as u8)
        .collect();
    let found = message("garbage.toml", &garbage);
    assert!(
        found.starts_with("garbage.toml:1:1: the file has 10.0 MB; a panel file has at most 1 MB"),
        "{found}"
    );
    assert!(found.len() < 2000, "{}", found.len());
}

#[test]
fn a_megabyte_on_one_line_gives_a_short_message() {
    for character in ["x", "[", "\"", "=", "{a=", "ü", "\u{7}"] {
        let text = character.repeat((MAX_BYTES - 10) / character.len());
        let found = message("long.toml", text.as_bytes());
        assert!(found.starts_with("long.toml:"), "{found}");
        assert!(found.len() < 2000, "{character:?}: {}", found.len());
    }
}

#[test]
fn bytes_that_are_not_text_are_placed() {
    let found = message("bytes.toml", b"title = \"ok\"\nidle = \"\xff\"\n");
    assert!(
        found.starts_with("bytes.toml:2:9: byte 21 is not UTF-8 text; save the file as UTF-8"),
        "{found}"
    );
}

#[test]
fn deep_nesting_does_not_exhaust_the_stack() {
    for depth in [50, 100, 100_000] {
        for (open, close) in [("[", "]"), ("{ a = ", " }")] {
            let text = format!("title = {}1{}", open.repeat(depth), close.repeat(depth));
            let found = message("deep.toml", text.as_bytes());
            assert!(found.starts_with("deep.toml:1:"), "{found}");
        }
        let text = format!("[{}a]\nb = 1\n", "a.".repeat(depth));
        assert!(message("deep.toml", text.as_bytes()).starts_with("deep.toml:1:"));
    }
}

const VALID: &str = concat!(
    include_str!("../scenarios/fern.toml"),
    "\n[guard.cross]\nbetween = \"keys\"\nwidth = \"1.0 mm\"\nstate = \"grounded\"\n",
    "[pads.dial]\ncentre = \"0 mm, 25 mm\"\nlayer = \"front\"\nshape = \"ring\"\ndiameter = \"4 mm\"\ninner_diameter = \"2 mm\"\n",
    "[material.felt]\npermittivity = 1.4\n",
    "[study.spacing]\nvary = [\n",
    "  { path = \"pads.keys.gap\", from = \"2 mm\", to = \"16 mm\", step = \"1 mm\" },\n",
    "  { path = \"layer.bond.thickness\", from = \"0.05 mm\", to = \"0.2 mm\", points = 4, scale = \"logarithmic\" },\n",
    "  { path = \"layer.overlay.material\", values = [\"acrylic\", \"soda-lime glass\"] },\n]\n",
    "report = [\"touch shift of vent\"]\naccuracy = \"1 %\"\n",
    "limits = [{ quantity = \"neighbour ratio\", at_most = \"20 %\", because = \"house rule\" }]\n",
);

/// What a slip of the keyboard, of a script or of an attacker may put into a file.
const PIECES: &[&str] = &[
    "",
    " ",
    "\n",
    "-",
    "+",
    "±",
    "0",
    "1e9",
    "1e999",
    "999999999999999999999",
    "nan",
    "inf",
    "mm",
    "pF",
    "%",
    "\"",
    "'",
    "[",
    "]",
    "[[",
    "]]",
    "{",
    "}",
    "=",
    ",",
    ".",
    "#",
    "\\",
    "\\u0000",
    "\u{0}",
    "\u{feff}",
    "\r",
    "ü",
    "日本",
    "\u{202e}",
    "true",
    "1979-05-27",
    "[layer]",
    "[[layer]]\n",
    "[pads.keys.gap]",
    "x",
    "\"-1 mm\"",
    "\"1e-90 mm\"",
    "\"1e90 mm\"",
    "\"0 mm\"",
    "rows = 100\n",
    "columns = 100\n",
    "rotation = \"33 deg\"\n",
];

proptest! {
    #![proptest_config(ProptestConfig { cases: 3000, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn mutated_files_never_panic(
        changes in prop::collection::vec((any::<prop::sample::Index>(), 0_usize..12, any::<prop::sample::Index>()), 1..6)
    ) {
        let mut text: Vec<char> = VALID.chars().collect();
        for (place, length, piece) in changes {
            let from = place.index(text.len() + 1);
            let to = (from + length).min(text.len());
            text.splice(from..to, PIECES[piece.index(PIECES.len())].chars());
        }
        let text: String = text.into_iter().collect();
        if let Err(error) = panel_from_bytes("mutated.toml", text.as_bytes(), &[]) {
            prop_assert!(shown(&error).len() < 4000);
        }
        if let Ok(document) = Document::from_text("mutated.toml", &text) {
            for path in document.paths() {
                prop_assert!(document.value_at(path).is_ok());
            }
            for study in document.studies() {
                match document.study(&study) {
                    Ok(study) => prop_assert!(!study.plan().point(0).coordinates.is_empty()),
                    Err(error) => prop_assert!(shown(&error).len() < 4000),
                }
            }
        }
    }

    #[test]
    fn mutated_values_never_panic(value in "[-+0-9.e ±x,/]{0,6}(mm|um|pF|%|deg|)[ ±+0-9.%-]{0,6}(mm|pF/cm|)", at in any::<prop::sample::Index>()) {
        let document = Document::from_text("fern.toml", VALID).unwrap();
        let paths: Vec<&str> = document.paths().collect();
        let path = paths[at.index(paths.len())].to_owned();
        let given = padfield::input::Override { path, value };
        if let Err(error) = document.panel(&[given]) {
            prop_assert!(shown(&error).starts_with("--set "), "{}", error);
        }
    }

    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        prop_assert!(panel_from_bytes("bytes.toml", &bytes, &[]).is_err());
    }
}

#[test]
fn the_file_that_is_mutated_is_valid() {
    let result = read("valid.toml", VALID.as_bytes());
    assert!(result.is_ok(), "{}", result.unwrap_err().render(false));
}

#[test]
fn text_from_the_file_cannot_drive_the_terminal_or_flood_it() {
    for value in ["\\u001b[31mred", &"x".repeat(100_000)] {
        let found = message(
            "text.toml",
            format!("idle = \"{value}\"\nlayer = []\n[pads]\n").as_bytes(),
        );
        assert!(
            found.contains("is not known here") || found.contains("..."),
            "{found}"
        );
        assert!(!found.contains('\u{1b}') && found.len() < 2000, "{found}");
    }
}

/// What a person cannot see is refused in what comes from the command line as well, with its code point.
#[test]
fn hidden_characters_are_refused_in_values_that_are_set() {
    let document = Document::from_text("valid.toml", VALID).expect("TOML");
    for (text, code_point) in [
        ("title=a\u{202e}b", "U+202E"),
        ("title=\"a\u{2066}b\"", "U+2066"),
        ("title=\"a\\u202eb\"", "U+202E"),
        ("idle=ground\u{200b}ed", "U+200B"),
        ("layer.over\u{200d}lay.thickness=2 mm", "U+200D"),
        ("guard.a\u{feff}b.width=1 mm", "U+FEFF"),
        ("pads.keys.names=[\"a\", \"b\u{ad}\"]", "U+00AD"),
    ] {
        let given = Override::parse(text).expect("PATH=VALUE");
        let set = std::slice::from_ref(&given);
        for error in [
            document.panel(set).map(|_| ()),
            document.overridden(set).map(|_| ()),
        ] {
            let told = shown(&error.expect_err(text));
            assert!(told.contains(code_point), "{text}: {told}");
            assert!(!told.contains(Hidden::is), "{told}");
        }
        for option in ["--set", "--against"] {
            let file = concat!(env!("CARGO_MANIFEST_DIR"), "/scenarios/two_pads.toml");
            let mut command = assert_cmd::Command::cargo_bin("padfield").expect("the program");
            let output = command.args(["solve", file, option, text]);
            let output = output.assert().code(2).get_output().clone();
            let told = String::from_utf8(output.stderr).expect("text");
            assert!(told.contains(code_point) && told.contains(option), "{told}");
            assert!(!told.contains(Hidden::is), "{told}");
        }
    }
}
