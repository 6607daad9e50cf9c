//! The store of one shard as a file that travels: a whole copy with a label and a digest.
//!
//! A copy is written under another name and renamed when it is on the disk, so a file under its own name
//! is whole unless it was torn on its way to another machine; the digest over its rows tells.

use super::digest::{self, add_value};
use super::mend::first_fault;
use super::open::Access;
use super::read::Reader;
use super::whole::{Unfinished, open_file, remove_dead};
use super::{APPLICATION, StoreError, schema};
use crate::study::Shard;
use rusqlite::{Connection, OpenFlags, params};
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Folder of the copies, in the folder of the study.
pub const SHARDS: &str = "shards";
/// How the names of copies end.
const ENDING: &str = "sqlite";

/// The table that makes a store a shard.
pub(super) const LABEL: &str = "
CREATE TABLE shard (
    number INTEGER NOT NULL,            -- which part of the plan, from 1
    count INTEGER NOT NULL,             -- of how many
    scenario TEXT NOT NULL,             -- hash of file, study and numerics it was run for
    engine TEXT NOT NULL,
    command TEXT NOT NULL,              -- how to run it again, without its number
    digest BLOB NOT NULL                -- blake3 over the rows of the other tables
);";

/// What a shard says about itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Label {
    /// Which part of the plan.
    pub shard: Shard,
    /// Hash of panel file, study and numerics.
    pub scenario: String,
    /// Engine it was solved with.
    pub engine: String,
    /// Command that runs it again, without its number.
    pub command: String,
}

impl Label {
    /// The file name of its copy: `shard-03-of-16.sqlite`.
    pub fn file_name(&self) -> String {
        let (number, count) = (self.shard.number(), self.shard.count());
        let width = count.to_string().len();
        format!("shard-{number:0width$}-of-{count}.{ENDING}")
    }
}

/// A copy of a shard's store, opened for reading and checked.
#[derive(Debug)]
pub struct Part {
    pub path: PathBuf,
    pub label: Label,
}

/// Why a file could not be taken for a shard.
#[derive(Debug, thiserror::Error)]
pub enum PartError {
    /// It was one once: cut off or altered on its way.
    #[error("{} is torn ({reason})", .path.display())]
    Torn {
        /// The file.
        path: PathBuf,
        /// What was found.
        reason: String,
    },
    /// Not a shard, or one that cannot be read.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// The copies in the folder of a study, by name. No folder: none.
///
/// # Errors
/// A folder that cannot be read.
pub fn part_files(study_folder: &Path) -> Result<Vec<PathBuf>, StoreError> {
    let folder = study_folder.join(SHARDS);
    let fault = |error: std::io::Error| StoreError::from_files(&folder, &error);
    let entries = match std::fs::read_dir(&folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(fault(error)),
    };
    let mut files = Vec::new();
    for entry in entries {
        let path = entry.map_err(fault)?.path();
        if path.extension().is_some_and(|e| e == ENDING) && path.is_file() {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

impl Part {
    /// Opens a copy and checks every row of it against its digest.
    ///
    /// # Errors
    /// A torn copy, a file that is no shard, one of another layout.
    pub fn open(path: &Path) -> Result<Self, PartError> {
        if !begins_like_a_store(path)? {
            return Err(PartError::Store(StoreError::NoShard(path.to_owned())));
        }
        // From here on whatever does not fit was one of ours once.
        let torn = |reason: String| PartError::Torn {
            path: path.to_owned(),
            reason,
        };
        let reader = read_only(path).map_err(|error| torn(error.to_string()))?;
        match reader.check_layout() {
            Err(error @ StoreError::OtherLayout { .. }) => return Err(error.into()),
            Err(error) => return Err(torn(error.to_string())),
            Ok(()) => {}
        }
        let connection = &reader.connection;
        let labels: i64 = connection
            .query_row(
                "SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'shard'",
                [],
                |row| row.get(0),
            )
            .map_err(|error| torn(error.to_string()))?;
        if labels == 0 {
            return Err(PartError::Store(StoreError::NoShard(path.to_owned())));
        }
        schema::check(connection)
            .map_err(|error| torn(error.to_string()))?
            .map_err(torn)?;
        let (label, written) = read_label(connection).map_err(|error| torn(error.to_string()))?;
        let verdict: String = connection
            .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
            .map_err(|error| torn(error.to_string()))?;
        if verdict != "ok" {
            return Err(torn(verdict.replace('\n', " ")));
        }
        let found = digest(connection).map_err(|error| torn(error.to_string()))?;
        if found != written {
            return Err(torn(
                "its rows are not those it was written with".to_owned(),
            ));
        }
        // It may have been written from a store that was altered before.
        match first_fault(connection) {
            Ok(None) => {}
            Ok(Some(found)) => return Err(torn(found)),
            Err(error) => return Err(torn(error.to_string())),
        }
        Ok(Self {
            path: path.to_owned(),
            label,
        })
    }

    /// The file as a database that is attached: read-only, and never locked, because a copy under its own
    /// name is only ever replaced as a whole.
    pub(super) fn uri(&self) -> String {
        uri(&self.path)
    }
}

/// Copies the store of `folder` with a label into `target`, under another name first. The store may be
/// written meanwhile; the copy has what was recorded when it was begun.
///
/// # Errors
/// No room, here or there; an earlier copy then stays.
pub fn publish(folder: &Path, label: &Label, target: &Path) -> Result<(), StoreError> {
    // Removed when it is dropped.
    let snapshot = Unfinished::new(&folder.join("points.copy"))
        .map_err(|error| StoreError::from_files(folder, &error))?;
    labelled(folder, label, snapshot.path())?;
    copy_whole(snapshot.path(), target)
}

fn labelled(folder: &Path, label: &Label, snapshot: &Path) -> Result<(), StoreError> {
    let reader = Reader::open(folder)?;
    // Into the empty file that is there.
    let name = snapshot.to_string_lossy();
    reader
        .connection
        .execute("VACUUM INTO ?1", [name.as_ref()])
        .map_err(|error| StoreError::from_database(snapshot, error))?;
    drop(reader);
    let connection =
        Connection::open(snapshot).map_err(|error| StoreError::from_database(snapshot, error))?;
    let write = || -> rusqlite::Result<()> {
        connection.pragma_update(None, "synchronous", "OFF")?;
        // No file beside it that would stay behind.
        connection.pragma_update_and_check(None, "journal_mode", "MEMORY", |_| Ok(()))?;
        let digest = digest(&connection)?;
        connection.execute_batch(LABEL)?;
        connection
            .execute(
                "INSERT INTO shard VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
                params![
                    label.shard.number(),
                    label.shard.count(),
                    label.scenario,
                    label.engine,
                    label.command,
                    digest
                ],
            )
            .map(|_| ())
    };
    write().map_err(|error| StoreError::from_database(snapshot, error))?;
    connection
        .close()
        .map_err(|(_, error)| StoreError::from_database(snapshot, error))
}

/// Copies a file under another name, to the disk, then renames it: the file under its own name is
/// always a whole one.
pub(super) fn copy_whole(from: &Path, to: &Path) -> Result<(), StoreError> {
    if let Some(folder) = to.parent() {
        std::fs::create_dir_all(folder).map_err(|e| StoreError::from_files(folder, &e))?;
    }
    let copied = Unfinished::new(to).and_then(|mut unfinished| {
        std::io::copy(&mut File::open(from)?, unfinished.file())?;
        unfinished.finish()
    });
    copied.map_err(|error| StoreError::from_files(to, &error))
}

/// Removes what killed processes left of copies of `target`.
///
/// # Errors
/// A folder that cannot be written.
pub fn remove_unfinished(target: &Path) -> Result<(), StoreError> {
    remove_dead(target).map_err(|error| StoreError::from_files(target, &error))
}

pub(super) fn remove_if_there(path: &Path) -> Result<(), StoreError> {
    match std::fs::remove_file(path) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => {
            Err(StoreError::from_files(path, &error))
        }
        _ => Ok(()),
    }
}

/// Whether a file starts as our databases do; an empty one may be a copy that was cut off.
fn begins_like_a_store(path: &Path) -> Result<bool, StoreError> {
    const START: &[u8] = b"SQLite format 3\0";
    const APPLICATION_AT: usize = 68;
    let mut head = Vec::new();
    open_file(path)
        .and_then(|file| file.take(100).read_to_end(&mut head))
        .map_err(|error| StoreError::Unreadable {
            path: path.to_owned(),
            reason: error.to_string(),
        })?;
    let start = START.len().min(head.len());
    if head[..start] != START[..start] {
        return Ok(false);
    }
    let application = head.get(APPLICATION_AT..APPLICATION_AT + 4);
    Ok(application.is_none_or(|bytes| bytes == APPLICATION.to_be_bytes()))
}

fn read_only(path: &Path) -> Result<Reader, StoreError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
        | OpenFlags::SQLITE_OPEN_URI
        | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(uri(path), flags)
        .map_err(|error| StoreError::from_database(path, error))?;
    digest::teach(&connection).map_err(|error| StoreError::from_database(path, error))?;
    Ok(Reader::over(connection, path, Access::Live))
}

pub(super) fn uri(path: &Path) -> String {
    let mut uri = "file:".to_owned();
    for byte in path.as_os_str().as_encoded_bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' => {
                uri.push(char::from(*byte));
            }
            other => uri += &format!("%{other:02X}"),
        }
    }
    uri + "?mode=ro&immutable=1"
}

fn read_label(connection: &Connection) -> rusqlite::Result<(Label, Vec<u8>)> {
    connection.query_row(
        "SELECT number, count, scenario, engine, command, digest FROM shard",
        [],
        |row| {
            let (number, count): (u32, u32) = (row.get(0)?, row.get(1)?);
            let shard = Shard::new(number, count)
                .ok_or(rusqlite::Error::IntegralValueOutOfRange(0, number.into()))?;
            let label = Label {
                shard,
                scenario: row.get(2)?,
                engine: row.get(3)?,
                command: row.get(4)?,
            };
            Ok((label, row.get(5)?))
        },
    )
}

/// Over all rows of all tables in an order of their own, each value with its kind and length.
fn digest(connection: &Connection) -> rusqlite::Result<Vec<u8>> {
    let mut hasher = blake3::Hasher::new();
    for query in [
        "SELECT * FROM studies ORDER BY id",
        "SELECT * FROM members ORDER BY study, plan_index",
        "SELECT * FROM points ORDER BY rowid",
        // From their indexes alone: what rows cannot tell.
        "SELECT hash FROM points INDEXED BY sqlite_autoindex_points_1 ORDER BY hash",
        "SELECT scenario FROM studies INDEXED BY sqlite_autoindex_studies_1 ORDER BY scenario",
    ] {
        let mut statement = connection.prepare(query)?;
        let columns = statement.column_count();
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            for column in 0..columns {
                add_value(&mut hasher, row.get_ref(column)?);
            }
        }
        hasher.update(b"\n");
    }
    Ok(hasher.finalize().as_bytes().to_vec())
}
