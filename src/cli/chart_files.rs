//! The charts of a study as files beside its store.

use super::changes::{Changes, default_folder, remembered};
use super::input::bad_input;
use super::{Exit, Failure};
use crate::figures::{Figures, Picture, Remark, Sheet};
use crate::store::{Reader, StoreError, StudyRecord, try_folder, write_whole};
use padfield_chart::Chart;
use std::path::{Path, PathBuf};

/// Pixels per chart unit of the PNG pictures: 1600 wide.
const PNG_SCALE: f64 = 2.0;

/// What was drawn of a study.
#[derive(Debug, Default)]
pub(super) struct Drawn {
    /// Files in the order of the figures, the SVG before the PNG.
    pub files: Vec<PathBuf>,
    /// Where lines meet limits.
    pub notes: Vec<String>,
    /// What is not shown, and why.
    pub left_out: Vec<String>,
    /// What stands on every picture.
    remark: Option<Remark>,
}

/// Draws the recorded rows of the study whose own folder is `home` into `folder`, which is created when
/// missing.
pub(super) fn draw(
    reader: &Reader,
    study: &StudyRecord,
    home: &Path,
    folder: &Path,
) -> Result<Drawn, ChartFailure> {
    let mut sheet = Sheet::new(study);
    reader.visit_rows::<StoreError>(study, |row| {
        sheet.add(&row);
        Ok(())
    })?;
    let Figures { figures, left_out } = sheet.figures();
    let mut drawn = Drawn {
        left_out,
        remark: remembered(home, &study.scenario),
        ..Drawn::default()
    };
    for figure in figures {
        if drawn.add(folder, &figure.name, &figure.picture)? {
            drawn.notes.extend(figure.notes);
        }
    }
    Ok(drawn)
}

impl Drawn {
    /// What stands on every picture; none for the panel as it is written.
    pub fn remark(&self) -> Option<&Remark> {
        self.remark.as_ref()
    }

    /// Writes a picture as SVG and PNG into a folder, which is created when missing; false, and a remark,
    /// when it cannot be drawn.
    pub fn add(
        &mut self,
        folder: &Path,
        name: &str,
        picture: &Picture,
    ) -> Result<bool, ChartFailure> {
        let remarked = self.remark.as_ref().map(|remark| picture.remarked(remark));
        let (svg, png) = match rendered(remarked.as_ref().unwrap_or(picture)) {
            Ok(rendered) => rendered,
            Err(reason) => {
                self.left_out.push(format!("{name}: {reason}"));
                return Ok(false);
            }
        };
        std::fs::create_dir_all(folder).map_err(|e| unwritable(folder, &e))?;
        for (ending, content) in [("svg", svg.as_bytes()), ("png", png.as_slice())] {
            let path = folder.join(format!("{name}.{ending}"));
            write_whole(&path, content).map_err(|e| unwritable(&path, &e))?;
            self.files.push(path);
        }
        Ok(true)
    }
}

/// Why charts could not be made.
#[derive(Debug, thiserror::Error)]
pub(super) enum ChartFailure {
    /// The rows cannot be read.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// A file cannot be written.
    #[error("cannot write {}: {reason}", .path.display())]
    Unwritable { path: PathBuf, reason: String },
}

impl From<ChartFailure> for Failure {
    fn from(failure: ChartFailure) -> Self {
        Self {
            message: failure.to_string(),
            exit: Exit::BadInput,
        }
    }
}

fn rendered(picture: &Picture) -> Result<(String, Vec<u8>), padfield_chart::ChartError> {
    Ok((picture.svg()?, picture.png(PNG_SCALE)?))
}

/// The folder of a command, which is `out` where it is given, and what it draws there. The folder is tried, so
/// that whoever cannot write knows before anything is solved.
pub(super) fn place(
    panel_file: &Path,
    command: &str,
    out: Option<&PathBuf>,
    set: &[String],
) -> Result<(PathBuf, Drawn), Failure> {
    let (folder, drawn) = untried_place(panel_file, command, out, set)?;
    check_folder(&folder)?;
    Ok((folder, drawn))
}

/// Makes a folder and writes into it, as every command does before it solves what it will write there.
pub(super) fn check_folder(folder: &Path) -> Result<(), Failure> {
    try_folder(folder).map_err(|error| {
        bad_input(format!(
            "cannot write {}: {error}; choose another folder with --out",
            folder.display()
        ))
    })
}

/// The folder of [`place`] as it may be there already.
pub(super) fn untried_place(
    panel_file: &Path,
    command: &str,
    out: Option<&PathBuf>,
    set: &[String],
) -> Result<(PathBuf, Drawn), Failure> {
    let changes = Changes::of(panel_file, set)?;
    let folder = out.cloned();
    let folder = folder.unwrap_or_else(|| default_folder(panel_file, command, changes.as_ref()));
    let drawn = Drawn {
        remark: changes.map(|changes| changes.remark()),
        ..Drawn::default()
    };
    Ok((folder, drawn))
}

fn unwritable(path: &Path, error: &std::io::Error) -> ChartFailure {
    ChartFailure::Unwritable {
        path: path.to_owned(),
        reason: error.to_string(),
    }
}

/// What was drawn, for people: crossings, the names of the charts, what is missing.
pub(super) fn drawn_text(drawn: &Drawn, folder: &Path) -> String {
    let mut text = String::new();
    for note in &drawn.notes {
        text += &format!("{note}\n");
    }
    for left_out in &drawn.left_out {
        text += &format!("Not drawn: {left_out}\n");
    }
    let names: Vec<String> = drawn
        .files
        .iter()
        .filter(|path| path.extension().is_some_and(|e| e == "svg"))
        .filter_map(|path| Some(path.file_stem()?.to_string_lossy().into_owned()))
        .collect();
    if !names.is_empty() {
        text += &format!(
            "Charts (.svg, .png) in {}: {}\n",
            folder.display(),
            names.join(", ")
        );
    }
    text
}
