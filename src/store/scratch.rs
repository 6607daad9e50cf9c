//! Folders among those of others, such as in the folder for temporary files: ours alone.

use super::StoreError;
use super::whole::{any_name, new_file};
use std::fs::{DirBuilder, File, Metadata, TryLockError};
use std::path::{Path, PathBuf};
use std::time::Duration;

/// In a folder that is removed in the end: locked while someone works in it.
const LOCK: &str = "in-use";
/// Folders that are tried before giving up.
const ATTEMPTS: usize = 16;
/// A folder without its lock may be one that is just being made; not for so long.
const NEWBORN: Duration = Duration::from_secs(3600);

/// A new folder that is removed when it is dropped, and by the next one that is made beside it when its process
/// was killed.
#[derive(Debug)]
pub struct Scratch {
    folder: PathBuf,
    _lock: File,
}

impl Scratch {
    /// A folder in `parent` under a name that starts with `front` and that nobody can tell before. Those of the same
    /// front that dead processes left are removed.
    ///
    /// # Errors
    /// No such folder can be made.
    pub fn new(parent: &Path, front: &str) -> Result<Self, StoreError> {
        std::fs::create_dir_all(parent).map_err(|e| StoreError::from_files(parent, &e))?;
        for _ in 0..ATTEMPTS {
            let folder = parent.join(format!("{front}{}", any_name()));
            let fault = |error: std::io::Error| StoreError::from_files(&folder, &error);
            private().create(&folder).map_err(fault)?;
            let path = folder.join(LOCK);
            let lock = new_file(&path).map_err(fault)?;
            // Whoever tidies up here may have taken it for a dead one before it was locked. A file system
            // without locks has nobody who tidies up.
            let taken = matches!(lock.try_lock(), Err(TryLockError::WouldBlock));
            if !taken && path.symlink_metadata().is_ok() {
                remove_dead(parent, front, &folder);
                return Ok(Self {
                    folder,
                    _lock: lock,
                });
            }
        }
        Err(StoreError::Unwritable {
            path: parent.to_owned(),
            reason: "every new folder was removed at once".to_owned(),
        })
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        &self.folder
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        // What is left is swept away by the next one.
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

/// What cannot be removed is left to whoever can.
fn remove_dead(parent: &Path, front: &str, own: &Path) {
    let Ok(own_data) = own.symlink_metadata() else {
        return;
    };
    for entry in std::fs::read_dir(parent).into_iter().flatten().flatten() {
        let path = entry.path();
        let is_ours = |data: &Metadata| data.is_dir() && has_owner_of(data, &own_data);
        let named = entry.file_name().to_string_lossy().starts_with(front);
        if !named || path == own || !path.symlink_metadata().is_ok_and(|data| is_ours(&data)) {
            continue;
        }
        // Locked until all is gone: whoever has just made it sees that it was taken.
        let lock = File::open(path.join(LOCK));
        let is_dead = match &lock {
            Ok(lock) => lock.try_lock().is_ok(),
            Err(_) => {
                let made = path.symlink_metadata().and_then(|data| data.modified());
                made.is_ok_and(|made| made.elapsed().is_ok_and(|age| age > NEWBORN))
            }
        };
        if is_dead {
            let _ = std::fs::remove_dir_all(&path);
        }
    }
}

/// Makes a folder that keeps its name from run to run, or checks that the one there is ours alone: no link, of this
/// user, written by nobody else.
///
/// # Errors
/// A folder that cannot be made, or one that someone else has put there.
pub fn own_folder(folder: &Path) -> Result<(), StoreError> {
    let fault = |error: std::io::Error| StoreError::from_files(folder, &error);
    let foreign = |reason: &str| {
        Err(StoreError::Foreign {
            path: folder.to_owned(),
            reason: reason.to_owned(),
        })
    };
    if let Some(parent) = folder.parent() {
        std::fs::create_dir_all(parent).map_err(|e| StoreError::from_files(parent, &e))?;
    }
    match private().create(folder) {
        Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists => {}
        made => return made.map_err(fault),
    }
    let there = folder.symlink_metadata().map_err(fault)?;
    if there.is_symlink() {
        return foreign("is a link");
    }
    if !there.is_dir() {
        return foreign("is no folder");
    }
    if is_open_to_others(&there) {
        return foreign("can be written by others");
    }
    // Whose files are made here is what the system says of one.
    let probe = folder.join(format!("{}.owner", any_name()));
    let made = new_file(&probe).and_then(|file| file.metadata());
    let _ = std::fs::remove_file(&probe);
    if !has_owner_of(&there, &made.map_err(fault)?) {
        return foreign("belongs to another user");
    }
    Ok(())
}

#[cfg(unix)]
fn private() -> DirBuilder {
    use std::os::unix::fs::DirBuilderExt;
    let mut builder = DirBuilder::new();
    builder.mode(0o700);
    builder
}

#[cfg(unix)]
fn has_owner_of(one: &Metadata, other: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt;
    one.uid() == other.uid()
}

#[cfg(unix)]
fn is_open_to_others(folder: &Metadata) -> bool {
    use std::os::unix::fs::MetadataExt;
    folder.mode() & 0o022 != 0
}

// Elsewhere the folder for temporary files is one per user.
#[cfg(not(unix))]
fn private() -> DirBuilder {
    DirBuilder::new()
}

#[cfg(not(unix))]
fn has_owner_of(_: &Metadata, _: &Metadata) -> bool {
    true
}

#[cfg(not(unix))]
fn is_open_to_others(_: &Metadata) -> bool {
    false
}
