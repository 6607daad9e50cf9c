//! One writer per folder: a lock that the system releases when its process ends, however it ends.

use super::whole::is_other;
use super::{LOCK, StoreError};
use std::fs::{File, OpenOptions, TryLockError};
use std::path::Path;
use std::time::Duration;

/// Time between two attempts.
const PAUSE: Duration = Duration::from_millis(100);

/// The lock; released when dropped.
#[derive(Debug)]
pub(super) struct Lock {
    _file: File,
}

impl Lock {
    /// Takes the lock of a folder, waiting while another process has it. `keep_waiting` is asked
    /// between attempts.
    pub fn take(folder: &Path, keep_waiting: &mut dyn FnMut() -> bool) -> Result<Self, StoreError> {
        let path = folder.join(LOCK);
        if is_other(&path) {
            return Err(StoreError::Unwritable {
                path,
                reason: "it is no file".to_owned(),
            });
        }
        let file = OpenOptions::new()
            .create(true)
            .truncate(false)
            .write(true)
            .open(&path)
            .map_err(|error| StoreError::from_files(&path, &error))?;
        loop {
            match file.try_lock() {
                Ok(()) => return Ok(Self { _file: file }),
                Err(TryLockError::WouldBlock) => {
                    if !keep_waiting() {
                        return Err(StoreError::Occupied(folder.to_owned()));
                    }
                    std::thread::sleep(PAUSE);
                }
                Err(TryLockError::Error(error)) => {
                    return Err(StoreError::from_files(&path, &error));
                }
            }
        }
    }
}
