//! Files that are whole or not there: written under another name, on the disk before they get their own.

use std::collections::hash_map::RandomState;
use std::fs::{File, OpenOptions, TryLockError};
use std::hash::{BuildHasher, Hasher};
use std::io::{self, Write};
use std::path::{Path, PathBuf};

/// How the names of files on their way end; they are never read.
const ENDING: &str = "unfinished";
/// Names that are tried before giving up: each is taken only if someone means it.
const ATTEMPTS: usize = 16;

/// A file on its way to its own name; dropped before that, it is removed.
///
/// Its name cannot be told before and the file is a new one, so that nothing that lies in its place, a link
/// least of all, is written to. It is locked while it is written: what has no lock any more was left by a
/// process that is no more, and the next one removes it.
#[derive(Debug)]
pub(super) struct Unfinished {
    file: File,
    path: PathBuf,
    target: PathBuf,
}

impl Unfinished {
    /// A new empty file beside `target`; what dead processes left of the same is removed.
    pub fn new(target: &Path) -> io::Result<Self> {
        remove_dead(target)?;
        for _ in 0..ATTEMPTS {
            let path = target.with_file_name(format!("{}{}.{ENDING}", front(target), any_name()));
            let file = match new_file(&path) {
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => continue,
                file => file?,
            };
            // Whoever tidies up here may have taken it for a dead one before it was locked. A file system
            // without locks has nobody who tidies up.
            let taken = matches!(file.try_lock(), Err(TryLockError::WouldBlock));
            if !taken && path.symlink_metadata().is_ok() {
                return Ok(Self {
                    file,
                    path,
                    target: target.to_owned(),
                });
            }
        }
        Err(io::Error::other("no name for a new file was free"))
    }

    /// The file, open for writing.
    pub fn file(&mut self) -> &mut File {
        &mut self.file
    }

    /// Where it is meanwhile.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Gives the file its own name once it is on the disk, in place of an earlier one.
    pub fn finish(self) -> io::Result<()> {
        self.file.sync_all()?;
        std::fs::rename(&self.path, &self.target)
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        // Of no use to anyone, and it may hold the last free bytes. After its renaming there is none.
        let _ = std::fs::remove_file(&self.path);
    }
}

/// Writes a file as a whole: under its own name there is the old content or the new one, never a part.
///
/// # Errors
/// A folder that cannot be written, no room; the old content then stays.
pub fn write_whole(path: &Path, content: &[u8]) -> io::Result<()> {
    let mut unfinished = Unfinished::new(path)?;
    unfinished.file().write_all(content)?;
    unfinished.finish()
}

/// Bytes that a folder must take to be tried: a page, so that a full disk is noticed.
const TRIAL: [u8; 4096] = [0; 4096];

/// Whether files can be written into a folder, by writing one; the folder is created when missing and stays.
///
/// # Errors
/// What the first file would meet.
pub fn try_folder(folder: &Path) -> io::Result<()> {
    std::fs::create_dir_all(folder)?;
    let mut unfinished = Unfinished::new(&folder.join("trial"))?;
    unfinished.file().write_all(&TRIAL)?;
    unfinished.file().sync_all()
}

/// Removes what killed processes left of files on their way to `target`.
///
/// # Errors
/// A file that cannot be removed.
pub(super) fn remove_dead(target: &Path) -> io::Result<()> {
    let folder = match target.parent() {
        Some(folder) if folder.as_os_str().is_empty() => Path::new("."),
        Some(folder) => folder,
        None => return Ok(()),
    };
    let front = front(target);
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let name = entry.file_name();
        let name = name.to_string_lossy();
        let is_on_its_way = name.starts_with(&front) && name.ends_with(ENDING);
        // A link is none of ours.
        if !is_on_its_way || !entry.file_type().is_ok_and(|kind| kind.is_file()) {
            continue;
        }
        // Locked until it is gone: whoever has just made it sees that it was taken.
        let file = File::open(entry.path());
        if file.as_ref().is_ok_and(|file| file.try_lock().is_ok()) {
            match std::fs::remove_file(entry.path()) {
                Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(error),
                _ => {}
            }
        }
    }
    Ok(())
}

/// Opens what is a file for reading: a pipe that nobody writes would be waited for, and a device may have no end.
///
/// # Errors
/// Nothing there, no right to read it, something else than a file.
pub fn open_file(path: &Path) -> io::Result<File> {
    match is_other(path) {
        true => Err(io::Error::other("it is no file")),
        false => File::open(path),
    }
}

/// Whether there is something else than a file or a link to one.
pub(super) fn is_other(path: &Path) -> bool {
    std::fs::metadata(path).is_ok_and(|data| !data.is_file())
}

/// A file that was not there before; links are not followed.
pub(super) fn new_file(path: &Path) -> io::Result<File> {
    OpenOptions::new().write(true).create_new(true).open(path)
}

/// Letters that nobody can tell before: the standard library keys its hashes with random numbers of the system.
pub(super) fn any_name() -> String {
    format!("{:016x}", RandomState::new().build_hasher().finish())
}

fn front(target: &Path) -> String {
    let name = target.file_name().unwrap_or_default();
    format!("{}.", name.to_string_lossy())
}
