//! Names of points, rows in and out, a full disk, files that are no store.

use super::*;
use crate::input::{Document, Override, panel_from_bytes};
use crate::panel::Panel;
use crate::study::{PadValues, PointValues, Reported, Study};
use serde_json::json;
use std::path::Path;

const PANEL: &str = r#"
title = "Key"
model = "axisymmetric"
[[layer]]
name = "overlay"
material = "acrylic"
thickness = "2.54 mm"
[[layer]]
name = "front"
copper = "35 um"
[pads.key]
layer = "front"
shape = "disc"
diameter = "0.5 in"
[finger.adult]
contact = "10 mm"
dome = "16 mm"
[study.thickness]
vary = [
  { path = "overlay.thickness", values = ["1 mm", "2 mm", "3 mm"] },
  { path = "overlay.material", values = ["acrylic", "soda-lime glass"] },
]
report = ["base capacitance", "touch shift", "touch shift of key"]
"#;

fn key_of(text: &str) -> PointKey {
    let panel = panel_from_bytes("key.toml", text.as_bytes(), &[]);
    key(&panel.unwrap_or_else(|error| panic!("{error}")), 0.01)
}

fn key(panel: &Panel, accuracy: f64) -> PointKey {
    PointKey::new(&inputs_of(panel, None), accuracy)
}

pub(super) fn study() -> Study {
    let document = Document::from_text("key.toml", PANEL).unwrap();
    document.study("thickness").unwrap()
}

#[test]
fn the_name_of_a_point_does_not_depend_on_how_its_panel_is_written() {
    let key = key_of(PANEL);
    for (from, to) in [
        ("title = \"Key\"", "# a comment\ntitle = \"Another title\""),
        ("title = \"Key\"", "title = \"Key\"\nrevision = \"B\""),
        ("\"2.54 mm\"", "\"0.1 in\""),
        ("\"0.5 in\"", "\"1.27cm\""),
        ("\"0.5 in\"", "\"12.70 mm\""),
        (
            "layer = \"front\"\nshape = \"disc\"",
            "shape = \"disc\"\nlayer = \"front\"",
        ),
        (
            "material = \"acrylic\"\nthickness",
            "permittivity = \"2.8 +0.7 -0.2\"\nthickness",
        ),
        (
            "dome = \"16 mm\"",
            "dome = \"16 mm\"\nreturn = \"earthed\"\nlength = \"15 mm\"",
        ),
        (
            "[finger.adult]",
            "[circuit]\nresistor = \"0.1 Mohm\"\ngate = \"0.01 s\"\n[scan]\ncycle = \"1 s\"\n[finger.adult]",
        ),
    ] {
        assert!(PANEL.contains(from), "{from}");
        assert_eq!(key_of(&PANEL.replace(from, to)), key, "{to}");
    }
}

#[test]
fn everything_that_changes_the_numbers_changes_the_name() {
    let mut keys = vec![key_of(PANEL)];
    for (from, to) in [
        ("\"2.54 mm\"", "\"2.541 mm\""),
        ("\"2.54 mm\"", "\"2.54 mm ± 0.1 mm\""),
        ("\"0.5 in\"", "\"0.51 in\""),
        ("material = \"acrylic\"", "material = \"polycarbonate\""),
        ("contact = \"10 mm\"", "contact = \"9 mm\""),
        ("dome = \"16 mm\"", "dome = \"16 mm\"\nreturn = \"100 pF\""),
        ("title = \"Key\"", "wall_distance = \"150 mm\""),
        ("[finger.adult]", "[stray]\npin = \"6 pF\"\n[finger.adult]"),
        (
            "[finger.adult]",
            "[circuit]\nresistor = \"100 kohm ± 1 %\"\n[finger.adult]",
        ),
        (
            "[finger.adult]",
            "[circuit]\nnoise = \"1 counts\"\n[finger.adult]",
        ),
    ] {
        keys.push(key_of(&PANEL.replace(from, to)));
    }
    let panel = panel_from_bytes("key.toml", PANEL.as_bytes(), &[]).unwrap();
    keys.push(key(&panel, 0.005));
    let count = keys.len();
    keys.sort();
    keys.dedup();
    assert_eq!(keys.len(), count);
}

/// A cover of its own size is another panel; that holds for one that is as large as the board as well: an
/// outline that is written down is part of the name, whatever it says.
#[test]
fn the_outline_of_a_layer_is_part_of_the_name() {
    let with = |lines: &str| {
        let text = PANEL.replace(
            "material = \"acrylic\"",
            &format!("material = \"acrylic\"\n{lines}"),
        );
        assert_ne!(text, PANEL);
        key_of(&text)
    };
    let panel = panel_from_bytes("key.toml", PANEL.as_bytes(), &[]).unwrap();
    let [width, height] = panel.board.value.map(|side| side.mm());
    let keys = [
        key_of(PANEL),
        with(&format!("outline = \"{width} mm x {height} mm\"")),
        with(&format!("outline = \"{} mm x {height} mm\"", width + 20.0)),
        with(&format!(
            "outline = \"{} mm x {height} mm\"\ncentre = \"1 mm, 0 mm\"",
            width + 20.0
        )),
    ];
    for (place, key) in keys.iter().enumerate() {
        assert!(!keys[..place].contains(key), "{place}");
    }
}

#[test]
fn the_inputs_of_a_point_are_readable() {
    let panel = panel_from_bytes("key.toml", PANEL.as_bytes(), &[]).unwrap();
    let inputs = inputs_of(&panel, Some("adult"));
    assert_eq!(
        inputs["layers"][0]["thickness_mm"],
        json!(["2.54", "2.54", "2.54"])
    );
    assert_eq!(inputs["layers"][1]["permittivity"], "copper");
    assert_eq!(inputs["pads"][0]["outline"]["disc_mm"], "12.7");
    assert_eq!(inputs["pads"][0]["centre_mm"], json!(["0", "0"]));
    assert_eq!(inputs["finger"]["contact_mm"], "10");
    assert_eq!(inputs["stray"]["pin_pf"], json!(["5", "3", "10"]));
}

fn values(value: f64) -> PointValues {
    let reported = |lower| Reported {
        value,
        error: value / 100.0,
        lower,
        upper: lower.map(|l| l + 1.0),
        guaranteed: lower.is_some(),
    };
    PointValues {
        pads: vec![PadValues {
            pad: "key".to_owned(),
            base_capacitance: Some(reported(Some(value - 0.5))),
            touch_shift: Some(reported(None)),
            relative_touch_shift: None,
            neighbour_shift: None,
            neighbour_ratio: None,
            count_shift: None,
            neighbour_count_shift: None,
            signal_to_noise: None,
            worst_neighbour: None,
            hand_estimates: Vec::new(),
        }],
        is_reduced: false,
    }
}

pub(super) fn finished(name: u8, outcome: Outcome) -> Finished {
    Finished {
        key: PointKey([name; 32]),
        inputs: json!({ "made up": name }),
        outcome,
        memory_cap_bytes: 1000,
        seconds: 0.5,
    }
}

pub(super) fn done(value: f64, accuracy_reached: bool) -> Outcome {
    Outcome::Done {
        values: values(value),
        accuracy_reached,
        missed: match accuracy_reached {
            true => String::new(),
            false => "touch shift of \"key\"".to_owned(),
        },
        iterations: 7,
        cells: 1234,
    }
}

fn failed(kind: FailureKind) -> Outcome {
    Outcome::Failed {
        kind,
        reason: "the pads \"a\", \"b\" overlap".to_owned(),
    }
}

/// A store with three rows: 0.1 + 0.2 has all the digits a number can have.
pub(super) fn filled(folder: &Path) -> (Store, StudyRecord) {
    let mut store = Store::open(folder, || false).unwrap();
    let study = study();
    let record = store.begin(&study, "scenario 1").unwrap();
    let outcomes = [
        done(0.1 + 0.2, true),
        failed(FailureKind::Geometry),
        done(1.0, false),
    ];
    for (index, outcome) in outcomes.into_iter().enumerate() {
        let point = study.plan().point(index as u64);
        let finished = finished(index as u8, outcome);
        store
            .record(&record, point.index, &point.coordinates, &finished)
            .unwrap();
    }
    (store, record)
}

#[test]
fn rows_come_back_as_they_were_written() {
    let folder = tempfile::tempdir().unwrap();
    let (store, record) = filled(folder.path());
    drop(store);
    let reader = Reader::open(folder.path()).unwrap();
    assert_eq!(reader.studies().unwrap(), std::slice::from_ref(&record));
    assert_eq!(record.study, study());
    let rows = reader.rows(&record).unwrap();
    assert_eq!(rows.len(), 3);
    assert_eq!(rows[0].outcome, done(0.1 + 0.2, true));
    assert_eq!(rows[1].outcome, failed(FailureKind::Geometry));
    assert_eq!(rows[2].outcome, done(1.0, false));
    for row in &rows {
        assert_eq!(row.coordinates, study().plan().point(row.index).coordinates);
    }
    let tally = reader.tally(record.id).unwrap();
    assert_eq!(
        (tally.done, tally.short_of_accuracy, tally.failed),
        (2, 1, 1)
    );
    assert_eq!(tally.reasons.len(), 1, "what missed is no failure");
    assert_eq!(tally.reasons[0].0, "geometry");
}

#[test]
fn the_table_follows_the_rules_of_csv() {
    let folder = tempfile::tempdir().unwrap();
    let (store, record) = filled(folder.path());
    let path = write_table(store.reader(), &record, folder.path()).unwrap();
    let text = std::fs::read_to_string(path).unwrap();
    let lines: Vec<&str> = text.split("\r\n").collect();
    assert_eq!(lines.len(), 5, "header, three rows, the end: {text}");
    assert_eq!(
        lines[0],
        "point,layer.overlay.thickness [mm],layer.overlay.material,base capacitance [pF],\
         base capacitance: estimated error [pF],base capacitance: lower bound [pF],\
         base capacitance: upper bound [pF],base capacitance: bounds guaranteed,\
         touch shift [pF],touch shift: estimated error [pF],touch shift of key [pF],\
         touch shift of key: estimated error [pF],state,answer,accuracy reached,cells,iterations,reason"
    );
    assert!(
        lines[1].starts_with("1,1,acrylic,0.30000000000000004,0.0030000000000000005,"),
        "{}",
        lines[1]
    );
    assert_eq!(
        lines[2],
        "2,1,soda-lime glass,,,,,,,,,,failed: geometry,,,,,\"the pads \"\"a\"\", \"\"b\"\" overlap\""
    );
    assert!(
        lines[3].ends_with(",done,direct,no,1234,7,\"touch shift of \"\"key\"\"\""),
        "{}",
        lines[3]
    );
    let others: Vec<_> = std::fs::read_dir(folder.path()).unwrap().collect();
    assert!(
        others
            .iter()
            .flatten()
            .all(|e| !e.file_name().to_string_lossy().contains("unfinished"))
    );
}

#[test]
fn a_larger_memory_cap_opens_points_that_were_short_of_it() {
    let folder = tempfile::tempdir().unwrap();
    let (mut store, record) = filled(folder.path());
    let point = study().plan().point(3);
    let out_of_memory = finished(3, failed(FailureKind::Memory));
    store
        .record(&record, 3, &point.coordinates, &out_of_memory)
        .unwrap();
    let settled = |store: &Store, cap| store.settled(&record, cap).unwrap();
    assert_eq!(
        settled(&store, 1000),
        [true, true, true, true, false, false]
    );
    assert_eq!(
        settled(&store, 1001),
        [true, true, false, false, false, false]
    );
    let lookup = store.lookup(1001).unwrap();
    assert_eq!(lookup.known(&PointKey([1; 32])).unwrap(), Known::Here);
    assert_eq!(lookup.known(&PointKey([3; 32])).unwrap(), Known::Nothing);
    // Solved again with more memory, the new outcome takes the place of the old one.
    let better = finished(3, done(2.0, true));
    store
        .record(&record, 3, &point.coordinates, &better)
        .unwrap();
    assert_eq!(lookup.known(&PointKey([3; 32])).unwrap(), Known::Here);
    assert_eq!(store.reader().rows(&record).unwrap().len(), 4);
}

#[test]
fn a_changed_file_starts_rows_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let (mut store, first) = filled(folder.path());
    let second = store.begin(&study(), "scenario 2").unwrap();
    assert_ne!(first.id, second.id);
    assert_eq!(store.begin(&study(), "scenario 1").unwrap().id, first.id);
    assert!(store.reader().rows(&second).unwrap().is_empty());
    let point = study().plan().point(5);
    let known = Listed {
        index: 5,
        coordinates: point.coordinates,
        key: PointKey([0; 32]),
        copied: None,
    };
    store.list(&second, &[known]).unwrap();
    assert_eq!(
        store.reader().rows(&second).unwrap()[0].outcome,
        done(0.1 + 0.2, true)
    );
    assert_eq!(store.reader().rows(&first).unwrap().len(), 3);
}

#[test]
fn points_of_a_sibling_study_are_found_and_copied() {
    let panel = tempfile::tempdir().unwrap();
    let (first, _) = filled(&panel.path().join("first"));
    drop(first);
    let mut store = Store::open(&panel.path().join("second"), || false).unwrap();
    let record = store.begin(&study(), "scenario 2").unwrap();
    let lookup = store.lookup(1000).unwrap();
    assert_eq!(lookup.known(&PointKey([9; 32])).unwrap(), Known::Nothing);
    let Known::Elsewhere(row) = lookup.known(&PointKey([0; 32])).unwrap() else {
        panic!("the sibling has it");
    };
    let listed = Listed {
        index: 4,
        coordinates: study().plan().point(4).coordinates,
        key: PointKey([0; 32]),
        copied: Some(row),
    };
    store.list(&record, &[listed]).unwrap();
    let rows = store.reader().rows(&record).unwrap();
    assert_eq!(rows[0].outcome, done(0.1 + 0.2, true));
    assert_eq!(lookup.known(&PointKey([0; 32])).unwrap(), Known::Here);
}

#[test]
fn a_full_disk_loses_nothing_that_was_recorded() {
    let folder = tempfile::tempdir().unwrap();
    let (mut store, record) = filled(folder.path());
    store.limit_pages(1);
    let mut refused = None;
    for name in 3..200 {
        let point = study().plan().point(u64::from(name) % 6);
        let large = Finished {
            inputs: json!("x".repeat(2000)),
            ..finished(name, done(3.0, true))
        };
        if let Err(error) = store.record(&record, point.index, &point.coordinates, &large) {
            refused = Some(error);
            break;
        }
    }
    let error = refused.expect("the disk is full");
    assert!(matches!(error, StoreError::Full { .. }), "{error}");
    assert!(error.to_string().contains("no room to write"), "{error}");
    drop(store);
    let reader = Reader::open(folder.path()).unwrap();
    let rows = reader.rows(&record).unwrap();
    assert_eq!(rows[0].outcome, done(0.1 + 0.2, true));
    let verdict: String = reader
        .connection
        .query_row("PRAGMA integrity_check", [], |row| row.get(0))
        .unwrap();
    assert_eq!(verdict, "ok");
}

#[test]
fn files_that_are_no_store_are_left_alone() {
    let refused = |content: &[u8]| {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(DATABASE);
        std::fs::write(&path, content).unwrap();
        let error = Store::open(folder.path(), || false).unwrap_err();
        assert_eq!(std::fs::read(&path).unwrap(), content, "left as it is");
        error
    };
    let error = refused(&[b'x'; 5000]);
    assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
    assert!(error.to_string().contains("move it away"), "{error}");
    // A database of another program.
    let folder = tempfile::tempdir().unwrap();
    let other = rusqlite::Connection::open(folder.path().join("other")).unwrap();
    other
        .execute_batch("CREATE TABLE birds (name TEXT)")
        .unwrap();
    drop(other);
    let error = refused(&std::fs::read(folder.path().join("other")).unwrap());
    assert!(
        error.to_string().contains("holds something else"),
        "{error}"
    );
    // A store with rubbish from its second page on (half a page may hit free space only), and one of
    // another version.
    let (store, _) = filled(folder.path());
    drop(store);
    let whole = std::fs::read(folder.path().join(DATABASE)).unwrap();
    let mut damaged = whole.clone();
    damaged[4096..].fill(0x55);
    let error = refused(&damaged);
    assert!(matches!(error, StoreError::Damaged { .. }), "{error}");
    let mut newer = whole;
    newer[60..64].copy_from_slice(&(LAYOUT + 1).to_be_bytes());
    let error = refused(&newer);
    assert!(matches!(error, StoreError::OtherLayout { .. }), "{error}");
}

#[test]
fn one_writer_at_a_time() {
    let folder = tempfile::tempdir().unwrap();
    let (store, record) = filled(folder.path());
    let mut asked = 0;
    let second = Store::open(folder.path(), || {
        asked += 1;
        asked < 3
    });
    assert!(matches!(second.unwrap_err(), StoreError::Occupied(_)));
    assert_eq!(asked, 3);
    // Reading goes on meanwhile.
    let reader = Reader::open(folder.path()).unwrap();
    assert_eq!(reader.rows(&record).unwrap().len(), 3);
    drop(store);
    assert!(Store::open(folder.path(), || false).is_ok());
}

#[test]
fn a_folder_that_cannot_be_one_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("file");
    std::fs::write(&file, "in the way").unwrap();
    let error = Store::open(&file.join("results"), || false).unwrap_err();
    assert!(matches!(error, StoreError::Unwritable { .. }), "{error}");
    let error = Reader::open(folder.path()).unwrap_err();
    assert!(matches!(error, StoreError::Missing(_)), "{error}");
}

#[test]
fn a_point_without_a_panel_has_a_name_of_its_scenario() {
    let document = Document::from_text("key.toml", PANEL).unwrap();
    let set = [("finger.adult.contact".to_owned(), "20 mm".to_owned())];
    let given = Override {
        path: set[0].0.clone(),
        value: set[0].1.clone(),
    };
    assert!(document.panel(&[given]).is_err());
    let name = |scenario: &str| PointKey::new(&unresolved_inputs(scenario, &set), 0.01);
    assert_eq!(name("a"), name("a"));
    assert_ne!(name("a"), name("b"));
}
