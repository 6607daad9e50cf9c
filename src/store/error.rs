//! What can go wrong with a store, and what it means for the points already in it.

use rusqlite::ErrorCode;
use std::path::{Path, PathBuf};

/// A store that cannot be opened, read or written.
#[derive(Debug, thiserror::Error)]
pub enum StoreError {
    /// The folder or a file in it cannot be created or written.
    #[error("cannot write {}: {reason}", .path.display())]
    Unwritable {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        reason: String,
    },
    /// There is no store.
    #[error("there is no store {}; run padfield sweep first", .0.display())]
    Missing(PathBuf),
    /// The file is no store, or a damaged one. It has not been touched.
    #[error(
        "{} is damaged or not a store ({reason}); it was left as it is: move it away to start anew, \
         the table {} beside it keeps the rows of the last run", .path.display(), super::TABLE
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was found.
        reason: String,
    },
    /// A row is not the one that was written: a disk, a copy or a hand has altered it.
    #[error(
        "{} is damaged: {what} was altered since it was written; the same padfield sweep again solves it again",
        .path.display()
    )]
    Altered {
        /// The file.
        path: PathBuf,
        /// Which row, for people.
        what: String,
    },
    /// The file is not there any more, or another one is: what is written goes nowhere.
    #[error("{} was removed or replaced while it was written", .0.display())]
    Removed(PathBuf),
    /// The file was written while it was read as one that is at rest.
    #[error("{} was written while it was read; try again", .0.display())]
    Moving(PathBuf),
    /// A folder of ours that is not ours.
    #[error(
        "{} {reason}, so others could alter what is written there; it was left as it is: remove it, or choose \
         another folder with --scratch", .path.display()
    )]
    Foreign {
        /// The folder.
        path: PathBuf,
        /// What it is instead.
        reason: String,
    },
    /// The store was written by another version of padfield.
    #[error(
        "{} has layout {found}, this padfield reads layout {}; it was left as it is: use a padfield \
         that fits, or another folder", .path.display(), super::LAYOUT
    )]
    OtherLayout {
        /// The file.
        path: PathBuf,
        /// Its layout.
        found: i32,
    },
    /// Another program has the file open, so it cannot be replaced.
    #[error("{} is open elsewhere; it was left as it is: close it there and try again", .0.display())]
    InUse(PathBuf),
    /// A file that cannot be read.
    #[error("cannot read {}: {reason}", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system says.
        reason: String,
    },
    /// A file among shards that is none.
    #[error(
        "{} is no shard of a padfield sweep; it was left as it is: move it away, then merge again",
        .0.display()
    )]
    NoShard(PathBuf),
    /// No room to write: disk full, quota or limit of the file size.
    #[error("no room to write {} ({reason}): the disk, a quota or a file size limit is full", .path.display())]
    Full {
        /// The file.
        path: PathBuf,
        /// What the system says.
        reason: String,
    },
    /// Another process writes to the folder, and waiting for it was given up.
    #[error("another padfield writes to {}; waiting was given up", .0.display())]
    Occupied(PathBuf),
    /// Anything else the database says.
    #[error("{}: {source}", .path.display())]
    Database {
        /// The file.
        path: PathBuf,
        /// What the database says.
        source: rusqlite::Error,
    },
}

impl StoreError {
    /// From an error of the database file at `path`.
    pub(super) fn from_database(path: &Path, source: rusqlite::Error) -> Self {
        let path = path.to_owned();
        let reason = match &source {
            rusqlite::Error::SqliteFailure(_, Some(text)) => text.clone(),
            other => other.to_string(),
        };
        let code = match &source {
            rusqlite::Error::SqliteFailure(failure, _) => failure.code,
            // A text that should be JSON, a state that is none: written by someone else.
            rusqlite::Error::FromSqlConversionFailure(..)
            | rusqlite::Error::InvalidColumnType(..)
            | rusqlite::Error::Utf8Error(..)
            | rusqlite::Error::IntegralValueOutOfRange(..) => ErrorCode::DatabaseCorrupt,
            _ => return Self::Database { path, source },
        };
        match code {
            // A limit of the file size shows as an error of writing rather than as a full disk.
            ErrorCode::DiskFull | ErrorCode::SystemIoFailure => Self::Full { path, reason },
            ErrorCode::ReadOnly | ErrorCode::CannotOpen | ErrorCode::PermissionDenied => {
                Self::Unwritable { path, reason }
            }
            ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase => Self::Damaged { path, reason },
            _ => Self::Database { path, source },
        }
    }

    /// From an error of the file system at `path`.
    pub(super) fn from_files(path: &Path, source: &std::io::Error) -> Self {
        use std::io::ErrorKind;
        let path = path.to_owned();
        let reason = source.to_string();
        match source.kind() {
            ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::FileTooLarge => {
                Self::Full { path, reason }
            }
            _ => Self::Unwritable { path, reason },
        }
    }
}
