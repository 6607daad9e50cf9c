//! A panel file as commands take it: path, overrides, what became of them.

use super::writer::is_terminal;
use super::{Exit, Failure};
use crate::input::{Document, Override, ScenarioError};
use crate::panel::Panel;
use std::fs::File;
use std::io::Read;
use std::path::Path;

/// A panel file that was read and checked.
pub(super) struct Input {
    /// The file with what was set on the command line.
    pub document: Document,
    /// The panel it describes.
    pub panel: Panel,
}

/// Larger than anything a person writes; what has no end is refused there \[bytes\].
const LARGEST: u64 = 16_000_000;

/// Reads the bytes of a file that somebody wrote: panel file, record, rules, measured values.
pub(super) fn bytes(path: &Path) -> Result<Vec<u8>, Failure> {
    let failed = |reason: String| bad_input(format!("{}: {reason}", path.display()));
    let mut bytes = Vec::new();
    File::open(path)
        .and_then(|file| file.take(LARGEST + 1).read_to_end(&mut bytes))
        .map_err(|error| failed(error.to_string()))?;
    if bytes.len() as u64 > LARGEST {
        return Err(failed(format!(
            "there is more in it than the {} MB that such a file may have; is it the right one?",
            LARGEST / 1_000_000
        )));
    }
    Ok(bytes)
}

/// Reads a panel file as a document.
pub(super) fn document(path: &Path) -> Result<Document, Failure> {
    Document::from_bytes(&path.display().to_string(), &bytes(path)?).map_err(faulty)
}

/// Reads a panel file and applies overrides written as `PATH=VALUE`.
pub(super) fn read(path: &Path, set: &[String]) -> Result<Input, Failure> {
    let document = document(path)?;
    let overrides = overrides(set)?;
    let panel = document.panel(&overrides).map_err(faulty)?;
    Ok(Input {
        document: document.overridden(&overrides).map_err(faulty)?,
        panel,
    })
}

/// Overrides written as `PATH=VALUE`.
pub(super) fn overrides(set: &[String]) -> Result<Vec<Override>, Failure> {
    let read = set.iter().map(|text| Override::parse(text));
    read.collect::<Result<_, _>>().map_err(faulty)
}

/// A failure that the person at the keyboard can mend.
pub(super) fn bad_input(message: String) -> Failure {
    Failure {
        message,
        exit: Exit::BadInput,
    }
}

/// A faulty panel file, shown with its place.
pub(super) fn faulty(error: ScenarioError) -> Failure {
    bad_input(error.render(is_terminal()))
}
