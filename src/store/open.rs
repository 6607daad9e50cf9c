//! How a store is opened for reading: beside a writer, or as a file at rest, which needs nothing written beside it.
//!
//! A reader beside a writer needs the index of the log (`-shm`) and so a folder that can be written. A store
//! without a log that nobody writes is read as it is (SQLite's `immutable`), from any folder of anyone.

use super::part::uri;
use super::read::Reader;
use super::whole::open_file;
use super::{APPLICATION, DATABASE, LAYOUT, LOCK, StoreError, digest, schema};
use rusqlite::{Connection, OpenFlags};
use std::fs::TryLockError;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

/// How a store is open.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Access {
    Writing,
    /// For reading, whatever others do.
    Live,
    /// For reading, while nobody writes.
    AtRest(Stamp),
}

/// Length and time of a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stamp(u64, Option<SystemTime>);

impl Stamp {
    pub fn of(path: &Path) -> Option<Self> {
        let data = std::fs::metadata(path).ok()?;
        Some(Self(data.len(), data.modified().ok()))
    }
}

/// Whether a store has a log that is read with it: of a writer, or of one that was killed.
fn log_of(database: &Path) -> Option<PathBuf> {
    let has_content = |log: &PathBuf| std::fs::metadata(log).is_ok_and(|data| data.len() > 0);
    let logs = ["-wal", "-journal"].into_iter().map(|ending| {
        let mut name = database.file_name().unwrap_or_default().to_owned();
        name.push(ending);
        database.with_file_name(name)
    });
    logs.into_iter().find(has_content)
}

/// Whether nobody writes to the store of a folder, as far as its lock tells.
fn is_unlocked(folder: &Path) -> bool {
    match open_file(&folder.join(LOCK)) {
        Ok(lock) => match lock.try_lock_shared() {
            Ok(()) => true,
            Err(TryLockError::WouldBlock) => false,
            // No locks there: whoever writes there can be seen by the log only.
            Err(TryLockError::Error(_)) => true,
        },
        Err(error) => error.kind() == std::io::ErrorKind::NotFound,
    }
}

/// The same reason, and what stands in the way of reading a log.
fn unreadable(path: PathBuf, mut reason: String) -> StoreError {
    if let Some(log) = log_of(&path) {
        reason += &format!(
            "; {} is read with it, for which the folder has to be writable: copy both to another folder and read \
             them there",
            log.file_name()
                .unwrap_or(DATABASE.as_ref())
                .to_string_lossy()
        );
    }
    StoreError::Unreadable { path, reason }
}

impl Reader {
    /// Opens the store of a study folder, also of one that cannot be written, where it leaves nothing.
    ///
    /// # Errors
    /// No store, a damaged one, one of another version.
    pub fn open(folder: &Path) -> Result<Self, StoreError> {
        match is_unlocked(folder) {
            true => Self::locked(folder),
            false => Self::live(folder),
        }
    }

    /// The same for a folder that nobody else writes to now.
    pub(super) fn locked(folder: &Path) -> Result<Self, StoreError> {
        let path = folder.join(DATABASE);
        match Stamp::of(&path) {
            Some(stamp) if log_of(&path).is_none() => Self::checked(path, Access::AtRest(stamp)),
            _ => Self::live(folder),
        }
    }

    /// The same for a folder that others may write to meanwhile: what they write is seen.
    pub(super) fn live(folder: &Path) -> Result<Self, StoreError> {
        let path = folder.join(DATABASE);
        match Self::checked(path.clone(), Access::Live) {
            // Nothing can be written beside it, and without a log nothing has to be.
            Err(StoreError::Unreadable { .. }) if log_of(&path).is_none() => match Stamp::of(&path)
            {
                Some(stamp) => Self::checked(path, Access::AtRest(stamp)),
                None => Err(StoreError::Missing(path)),
            },
            opened => opened,
        }
    }

    fn checked(path: PathBuf, access: Access) -> Result<Self, StoreError> {
        if !path.is_file() {
            return Err(StoreError::Missing(path));
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let connection = match access {
            Access::AtRest(_) => {
                Connection::open_with_flags(uri(&path), flags | OpenFlags::SQLITE_OPEN_URI)
            }
            _ => Connection::open_with_flags(&path, flags),
        };
        let connection = connection.map_err(|error| reading_fault(&path, error))?;
        let reader = Self::over(connection, &path, access);
        digest::teach(&reader.connection).map_err(reader.fault())?;
        reader.wait_for_others()?;
        reader.check_layout()?;
        reader.check_tables()?;
        Ok(reader)
    }

    pub(super) fn over(connection: Connection, path: &Path, access: Access) -> Self {
        Self {
            connection,
            path: path.to_owned(),
            access,
        }
    }

    pub(super) fn fault(&self) -> impl Fn(rusqlite::Error) -> StoreError {
        |error| match self.access {
            Access::Writing => StoreError::from_database(&self.path, error),
            _ => reading_fault(&self.path, error),
        }
    }

    /// The tables are those of a store.
    pub(super) fn check_tables(&self) -> Result<(), StoreError> {
        let damaged = |reason| StoreError::Damaged {
            path: self.path.clone(),
            reason,
        };
        schema::check(&self.connection)
            .map_err(self.fault())?
            .map_err(damaged)
    }

    /// A file that was read as one at rest is still the same one.
    pub(super) fn check_rest(&self) -> Result<(), StoreError> {
        match self.access {
            Access::AtRest(stamp) if Stamp::of(&self.path) != Some(stamp) => {
                Err(StoreError::Moving(self.path.clone()))
            }
            _ => Ok(()),
        }
    }

    pub(super) fn wait_for_others(&self) -> Result<(), StoreError> {
        let result = self.connection.busy_timeout(Duration::from_secs(60));
        result.map_err(self.fault())
    }

    pub(super) fn pragma(&self, name: &str) -> Result<i32, StoreError> {
        self.connection
            .pragma_query_value(None, name, |row| row.get(0))
            .map_err(self.fault())
    }

    pub(super) fn check_layout(&self) -> Result<(), StoreError> {
        if self.pragma("application_id")? != APPLICATION {
            return Err(StoreError::Damaged {
                path: self.path.clone(),
                reason: "it holds something else".to_owned(),
            });
        }
        match self.pragma("user_version")? {
            LAYOUT => Ok(()),
            found => Err(StoreError::OtherLayout {
                path: self.path.clone(),
                found,
            }),
        }
    }
}

/// From an error while reading: nothing was to be written, so no room and no right to write is what it is about.
fn reading_fault(path: &Path, error: rusqlite::Error) -> StoreError {
    match StoreError::from_database(path, error) {
        StoreError::Unwritable { path, reason } | StoreError::Full { path, reason } => {
            unreadable(path, reason)
        }
        other => other,
    }
}
