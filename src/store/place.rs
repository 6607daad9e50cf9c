//! A folder whose store is worked on elsewhere and put back as a whole.
//!
//! A write-ahead log needs a local disk; the folder of a study that several machines share is often on none.
//! So its store is copied to a local disk, written there, and put back by a rename.

use super::lock::Lock;
use super::open::Access;
use super::part::{copy_whole, remove_if_there};
use super::read::Reader;
use super::{DATABASE, Store, StoreError};
use rusqlite::{Connection, ErrorCode};
use std::path::{Path, PathBuf};

/// A folder locked against other writers as long as this lives.
#[derive(Debug)]
pub struct Place {
    folder: PathBuf,
    _lock: Lock,
}

impl Place {
    /// Locks a folder, creating it; waits while another process writes there, asking `keep_waiting` now
    /// and then.
    ///
    /// # Errors
    /// The folder cannot be written, waiting was given up.
    pub fn lock(folder: &Path, mut keep_waiting: impl FnMut() -> bool) -> Result<Self, StoreError> {
        std::fs::create_dir_all(folder).map_err(|e| StoreError::from_files(folder, &e))?;
        Ok(Self {
            folder: folder.to_owned(),
            _lock: Lock::take(folder, &mut keep_waiting)?,
        })
    }

    /// A copy of the store of this folder on a local disk, a new one when there is none.
    ///
    /// # Errors
    /// A store here that is damaged or of another layout; no room there.
    pub fn take_out(&self, local: &Path) -> Result<Store, StoreError> {
        std::fs::create_dir_all(local).map_err(|e| StoreError::from_files(local, &e))?;
        let target = local.join(DATABASE);
        remove_if_there(&target)?;
        if self.folder.join(DATABASE).is_file() {
            let reader = Reader::locked(&self.folder)?;
            reader
                .connection
                .execute("VACUUM INTO ?1", [target.to_string_lossy().as_ref()])
                .map_err(|error| StoreError::from_database(&target, error))?;
        }
        let store = Store::open(local, || false)?;
        // What happens to this copy loses nothing: the disk is waited for once, when it is put back.
        store
            .reader()
            .connection
            .pragma_update(None, "synchronous", "OFF")
            .map_err(store.reader().fault())?;
        Ok(store)
    }

    /// Puts a store in place of the one of this folder and removes it where it was. What is put back has no
    /// write-ahead log and can be read on any file system.
    ///
    /// # Errors
    /// No room here, or someone is reading the store here; it then stays as it was.
    pub fn put_back(&self, store: Store) -> Result<(), StoreError> {
        leave_log(store.reader())?;
        let target = self.folder.join(DATABASE);
        // A log that stays behind would be played into the new file.
        if target.is_file() {
            let connection = Connection::open(&target)
                .map_err(|error| StoreError::from_database(&target, error))?;
            leave_log(&Reader::over(connection, &target, Access::Writing))?;
        }
        copy_whole(store.path(), &target)?;
        store.discard()
    }
}

impl Store {
    /// Removes the store with its folder, once what it holds is safe elsewhere.
    ///
    /// # Errors
    /// A folder that cannot be removed.
    pub fn discard(self) -> Result<(), StoreError> {
        let folder = self.folder().to_owned();
        std::fs::remove_dir_all(&folder).map_err(|error| StoreError::from_files(&folder, &error))
    }
}

/// Writes the log of a store into its file and goes on without one.
fn leave_log(reader: &Reader) -> Result<(), StoreError> {
    let mode = reader
        .connection
        .pragma_update_and_check(None, "journal_mode", "DELETE", |row| {
            row.get::<_, String>(0)
        })
        .or_else(|error| match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Ok(String::new()),
            _ => Err(reader.fault()(error)),
        })?;
    if mode.eq_ignore_ascii_case("delete") {
        Ok(())
    } else {
        Err(StoreError::InUse(reader.path.clone()))
    }
}
