//! Where bytes from outside come in. Whatever they are, none of these may panic, hang or take memory without end;
//! the fuzz targets and the test of what they found both call them.

use padfield::input::Document;
use padfield::panel::Panel;
use padfield::panel::lowering::{LoweringOptions, lower};
use padfield::questions::compare;
use padfield::store::{DATABASE, Part, Reader, StudyRecord};
use padfield::{questions::discharge, questions::rules};
use padfield_engine::case_record;
use padfield_engine::grid::axes;
use std::fs;
use std::path::PathBuf;
use std::sync::LazyLock;

/// A panel file, up to its field problem and the lines of its grid.
pub fn panel_file(bytes: &[u8]) {
    let panel = Document::from_bytes("panel.toml", bytes).and_then(|document| {
        // The sentences too.
        for path in document.paths() {
            let _ = document.value_at(path).map_err(|error| error.to_string());
        }
        document.panel(&[])
    });
    match panel {
        Ok(panel) => field_problem(&panel),
        Err(error) => drop(error.to_string()),
    }
}

fn field_problem(panel: &Panel) {
    let _ = discharge::discharge(panel).map_err(|error| error.to_string());
    let (Some(pad), Some(finger)) = (panel.pads.first(), panel.fingers.first()) else {
        return;
    };
    match lower(panel, &pad.name, finger, LoweringOptions::default()) {
        Ok(lowered) => drop(axes(&lowered.case, 1.0)),
        Err(error) => drop(error.to_string()),
    }
}

/// A record of a field problem, up to the lines of its grid.
pub fn case_record(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else {
        return;
    };
    match case_record::parse(text) {
        Ok(case) => drop(axes(&case, 1.0)),
        Err(error) => drop(error.to_string()),
    }
}

/// A file of rules.
pub fn rules(bytes: &[u8]) {
    let _ = rules::rules_of("rules.toml", bytes).map_err(|error| error.to_string());
}

/// A table of measured values.
pub fn measured(bytes: &[u8]) {
    let known = ["left", "right", "up"].map(String::from);
    let _ = compare::read("bench.csv", bytes, &known).map_err(|error| error.to_string());
}

/// A folder of this process that holds the bytes under a name.
fn file_of(bytes: &[u8], name: &str) -> PathBuf {
    static FOLDER: LazyLock<tempfile::TempDir> =
        LazyLock::new(|| tempfile::tempdir().expect("a temporary folder"));
    let path = FOLDER.path().join(name);
    fs::write(&path, bytes).expect("a writable folder");
    path
}

fn read_all(reader: &Reader) -> Result<(), padfield::store::StoreError> {
    for study in reader.studies()? {
        let StudyRecord { id, .. } = &study;
        reader.tally(*id)?;
        reader.rows(&study)?;
    }
    Ok(())
}

/// The store of a study, every row of it.
pub fn store(bytes: &[u8]) {
    let path = file_of(bytes, DATABASE);
    let folder = path.parent().expect("a folder");
    let read = Reader::open(folder).and_then(|reader| read_all(&reader));
    let _ = read.map_err(|error| error.to_string());
}

/// The copy of a shard.
pub fn shard(bytes: &[u8]) {
    let path = file_of(bytes, "shard-1-of-2.sqlite");
    let _ = Part::open(&path).map_err(|error| error.to_string());
}
