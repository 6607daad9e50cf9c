//! The note as PDF, read back by a library that did not write it. Only with `--features pdf`.
#![cfg(feature = "pdf")]

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

/// Holds when the text has this value, rounded to the digits that are shown, so many words after `start`.
fn shows(text: &str, start: &str, place: usize, value: &serde_json::Value) {
    let value = value.as_f64().expect("a number");
    let (_, after) = text
        .split_once(start)
        .unwrap_or_else(|| panic!("no \"{start}\" in {text}"));
    let word = after.split_whitespace().nth(place).unwrap_or("");
    let shown: f64 = word
        .parse()
        .unwrap_or_else(|_| panic!("\"{word}\" after \"{start}\" for {value}"));
    let decimals = word.split_once('.').map_or(0, |(_, after)| after.len());
    let half_a_digit = 0.5 * 10f64.powi(-(decimals as i32));
    assert!(
        (shown - value).abs() <= 1.000_001 * half_a_digit,
        "{word} for {value}"
    );
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
        let after = |caption: &str| {
            let (_, after) = text
                .split_once(caption)
                .unwrap_or_else(|| panic!("no {caption} in {text}"));
            after.to_owned()
        };
        let base = after("noise, counts rms");
        shows(&base, name, 0, &pad["base"]["value_pf"]);
        let touch = after("its ratio, % verdict");
        shows(&touch, name, 0, &pad["touch"]["shift"]["value_pf"]);
        let bracket = after("base at the pin over stray tolerance, pF");
        shows(&bracket, name, 0, &pad["base"]["value_pf"]);
        shows(&bracket, name, 2, &pad["base"]["lower_pf"]);
        shows(&bracket, name, 4, &pad["base"]["upper_pf"]);
    }
}
