//! The note as PDF, read back by a library that did not write it. Only with `--features pdf`.

use assert_cmd::Command;
use lopdf::Document;
use std::path::Path;

fn pdf_of(panel: &str, folder: &Path, more: &[&str]) -> Vec<u8> {
    std::fs::write(folder.join("panel.toml"), panel).expect("a writable folder");
    let mut process = Command::cargo_bin("padfield").expect("the program is built");
    process
        .current_dir(folder)
        .args(["note", "panel.toml", "--out", "note", "--format", "pdf"])
        .args(["--accuracy", "8%", "--window-accuracy", "15%"])
        .args(["--leave-out", "guidelines", "--leave-out", "remedies"])
        .args(["--leave-out", "walk"])
        .args(more);
    let code = process.output().expect("the program runs").status.code();
    // 3: wide error bars close the window of these pads.
    assert!(matches!(code, Some(0 | 3)), "{code:?}");
    std::fs::read(folder.join("note/note.pdf")).expect("the file")
}

fn words(document: &Document) -> String {
    let pages: Vec<u32> = document.get_pages().keys().copied().collect();
    let text = document.extract_text(&pages).expect("text");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn the_file_holds_text_bookmarks_and_the_same_bytes_every_time() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let panel =
        std::fs::read_to_string(root.join("scenarios/two_pads.toml")).expect("the scenario");
    let panel = panel.replace(
        "names = [\"left\", \"right\"]",
        "names = [\"#strong[left]\", \"$x$ *right*\"]",
    );
    let folder = tempfile::tempdir().expect("a temporary folder");
    let bytes = pdf_of(&panel, folder.path(), &[]);
    let again = tempfile::tempdir().expect("a temporary folder");
    assert_eq!(bytes, pdf_of(&panel, again.path(), &[]));
    let document = Document::load_mem(&bytes).expect("a PDF");
    assert!(document.get_pages().len() > 4);
    let text = words(&document);
    for expected in [
        "Design note",
        "Threshold window",
        "#strong[left]",
        "$x$ *right*",
        "guaranteed for the model",
    ] {
        assert!(text.contains(expected), "{expected} is not in {text}");
    }
    let outline = document.get_outlines(None, None, &mut Default::default());
    let outline = outline.expect("bookmarks").expect("bookmarks");
    assert!(outline.len() > 10, "{} bookmarks", outline.len());
    // Tables and pictures lead to their commands and back.
    let links = document.objects.values().filter(|object| {
        let kind = object.as_dict().and_then(|one| one.get(b"Subtype"));
        kind.is_ok_and(|kind| kind.as_name().is_ok_and(|name| name == b"Link"))
    });
    assert!(links.count() > 40);
    every_font_is_inside(&document);
    // A4 in points, from 210 mm x 297 mm.
    let letter = pdf_of(&panel, again.path(), &["--paper", "letter"]);
    for (bytes, [width, height]) in [(&bytes, [595.276, 841.89]), (&letter, [612.0, 792.0])] {
        let document = Document::load_mem(bytes).expect("a PDF");
        let page = document.get_pages()[&1];
        let size = document
            .get_dictionary(page)
            .expect("a page")
            .get(b"MediaBox")
            .expect("a size");
        let size = size.as_array().expect("four numbers");
        let ends = [2, 3].map(|place| f64::from(size[place].as_float().expect("a number")));
        assert!(
            (ends[0] - width).abs() < 0.1 && (ends[1] - height).abs() < 0.1,
            "{ends:?}"
        );
    }
}

fn every_font_is_inside(document: &Document) {
    let dictionaries = || {
        document
            .objects
            .values()
            .filter_map(|object| object.as_dict().ok())
    };
    let is = |one: &lopdf::Dictionary, key: &[u8], value: &[u8]| {
        one.get(key)
            .is_ok_and(|name| name.as_name().is_ok_and(|name| name == value))
    };
    let mut described = 0;
    for font in dictionaries().filter(|one| is(one, b"Type", b"FontDescriptor")) {
        let holds = |key: &[u8]| font.get(key).is_ok();
        assert!(
            holds(b"FontFile") || holds(b"FontFile2") || holds(b"FontFile3"),
            "{font:?}"
        );
        described += 1;
    }
    // Text, code and the font of the charts; every font that draws letters has a description.
    assert!(described >= 3, "{described} fonts");
    let plain =
        dictionaries().filter(|one| is(one, b"Type", b"Font") && is(one, b"Subtype", b"Type1"));
    assert_eq!(
        plain
            .filter(|font| font.get(b"FontDescriptor").is_err())
            .count(),
        0
    );
}

/// Whether a word is this value, rounded to the digits that are shown.
fn is(word: &str, value: f64) -> bool {
    let decimals = word.split_once('.').map_or(0, |(_, after)| after.len());
    let half_a_digit = 0.5 * 10f64.powi(-(decimals as i32));
    word.parse::<f64>()
        .is_ok_and(|shown| (shown - value).abs() <= 1.000_001 * half_a_digit)
}

/// The text has a row that starts with this name and holds these values so many words after it. The name may
/// stand in other rows too.
fn has_row(text: &str, name: &str, expected: &[(usize, &serde_json::Value, f64)]) {
    let found = text.match_indices(name).any(|(at, _)| {
        let words: Vec<&str> = text[at + name.len()..].split_whitespace().take(8).collect();
        expected.iter().all(|(place, value, factor)| {
            let value = value.as_f64().expect("a number") * factor;
            words.get(*place).is_some_and(|word| is(word, value))
        })
    });
    assert!(found, "no row of {name} with {expected:?} in {text}");
}

#[test]
fn the_tables_hold_the_numbers_of_solve() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let path = root.join("scenarios/two_pads.toml");
    let panel = std::fs::read_to_string(&path).expect("the scenario");
    let folder = tempfile::tempdir().expect("a temporary folder");
    let quick = ["window", "tolerances", "environment"].map(|part| ["--leave-out", part]);
    let bytes = pdf_of(&panel, folder.path(), &quick.concat());
    let text = words(&Document::load_mem(&bytes).expect("a PDF"));
    let mut process = Command::cargo_bin("padfield").expect("the program is built");
    let solved = process
        .args(["solve", "--accuracy", "8%", "--json"])
        .arg(path);
    let solved = solved.output().expect("the program runs").stdout;
    let solved: serde_json::Value = serde_json::from_slice(&solved).expect("JSON");
    for pad in solved["pads"].as_array().expect("pads") {
        let name = pad["pad"].as_str().expect("a name");
        // From the end of a head to the remark or command below its table.
        let between = |head: &str, below: &str| {
            let (_, after) = text
                .split_once(head)
                .unwrap_or_else(|| panic!("no {head} in {text}"));
            after.split(below).next().unwrap_or_default().to_owned()
        };
        let bases = between("pin at the pin", "Printed by");
        let base = &pad["base"]["value_pf"];
        has_row(&bases, name, &[(0, base, 1.0)]);
        let touches = between("estimate / computed verdict", "Touch shift: change");
        let touch = &pad["touch"];
        let expected = [
            (0, &touch["shift"]["value_pf"], 1.0),
            (3, &touch["relative"]["value"], 100.0),
        ];
        has_row(&touches, name, &expected);
        let brackets = between("base at the pin, stray tolerance range, pF", "Printed by");
        let expected = [
            (0, base, 1.0),
            (3, &pad["base"]["bounds_pf"][0], 1.0),
            (5, &pad["base"]["bounds_pf"][1], 1.0),
        ];
        has_row(&brackets, name, &expected);
    }
}
