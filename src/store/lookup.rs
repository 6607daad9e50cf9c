//! Which points are known already: in this store, or in those of the other studies of the panel.

use super::digest::of_point;
use super::read::Reader;
use super::{DATABASE, PointKey, StoreError};
use rusqlite::{OptionalExtension, params};
use std::path::{Path, PathBuf};

/// What is known of a point.
#[derive(Clone, Debug, PartialEq)]
pub enum Known {
    /// Nothing that could be used.
    Nothing,
    /// It is in this store.
    Here,
    /// It is in the store of another study of the same panel: its row there.
    Elsewhere(Copied),
}

/// A row of the table of points, as it is in another store.
#[derive(Clone, Debug, PartialEq)]
pub struct Copied(pub(super) Vec<rusqlite::types::Value>);

/// Columns of the table of points.
const POINT_COLUMNS: usize = 14;

/// Asks this store and those of the other studies of the panel for points; one per thread.
#[derive(Debug)]
pub struct Lookup {
    own: Reader,
    siblings: Vec<Reader>,
    memory_cap_bytes: u64,
}

/// A point is final unless a larger memory cap could make more of it.
pub(super) const FINAL: &str = "(state = 'done' AND accuracy_reached = 1 OR state = 'failed' AND failure <> 'memory' \
     OR memory_cap_bytes >= ?2)";

impl Lookup {
    /// Opens the store of `folder` and, where readable, those of its sibling folders.
    ///
    /// # Errors
    /// The own store cannot be read; siblings that cannot are passed over.
    pub(super) fn open(folder: &Path, memory_cap_bytes: u64) -> Result<Self, StoreError> {
        Ok(Self {
            own: Reader::live(folder)?,
            siblings: sibling_folders(folder)
                .iter()
                .filter_map(|sibling| Reader::live(sibling).ok())
                .collect(),
            memory_cap_bytes,
        })
    }

    /// Whether a point is known well enough not to be solved again.
    ///
    /// # Errors
    /// A damaged store.
    pub fn known(&self, key: &PointKey) -> Result<Known, StoreError> {
        let cap = self.memory_cap_bytes.min(i64::MAX as u64) as i64;
        let ask = |reader: &Reader, columns: &str, count: usize| {
            let query = format!(
                "SELECT {columns} FROM points WHERE hash = ?1 AND {FINAL} AND digest IS {}",
                of_point("points")
            );
            let mut statement = reader.connection.prepare_cached(&query)?;
            let row = statement.query_row(params![key.0, cap], |row| {
                (0..count).map(|column| row.get(column)).collect()
            });
            row.optional()
        };
        if ask(&self.own, "1", 0).map_err(self.own.fault())?.is_some() {
            return Ok(Known::Here);
        }
        // A sibling that cannot be read is as good as none: the point is solved here then.
        let elsewhere = self
            .siblings
            .iter()
            .find_map(|sibling| ask(sibling, "*", POINT_COLUMNS).ok().flatten());
        Ok(elsewhere.map_or(Known::Nothing, |row| Known::Elsewhere(Copied(row))))
    }
}

/// Folders beside `folder` that hold a store, in order of their names.
fn sibling_folders(folder: &Path) -> Vec<PathBuf> {
    let Some(parent) = folder.parent() else {
        return Vec::new();
    };
    let entries = std::fs::read_dir(parent).into_iter().flatten().flatten();
    let mut folders: Vec<PathBuf> = entries
        .map(|entry| entry.path())
        .filter(|path| path.file_name() != folder.file_name() && path.join(DATABASE).is_file())
        .collect();
    folders.sort();
    folders
}
