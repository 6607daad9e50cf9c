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
