//! Named files in a folder of limited size, those that were not used for longest leaving first.

use std::fs::{self, File, OpenOptions};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, SystemTime};

/// The size is looked at again after this share of the limit has been written.
const LOOK_EVERY: u64 = 16;
/// What is left when files have to go, of the limit.
const LEFT: f64 = 0.9;
/// A file that is still unfinished after so long belongs to nobody.
const FORGOTTEN: Duration = Duration::from_secs(3600);
const UNFINISHED: &str = "unfinished";

pub(super) struct Folder {
    path: PathBuf,
    limit_bytes: u64,
    /// Written since the size was looked at; all of the limit before the first time.
    written: AtomicU64,
    unfinished: AtomicU64,
}

impl Folder {
    pub fn new(path: PathBuf, limit_bytes: u64) -> Self {
        Self {
            path,
            limit_bytes,
            written: AtomicU64::new(limit_bytes),
            unfinished: AtomicU64::new(0),
        }
    }

    /// A file, whole as it was written; what is read is used from now on.
    pub fn read(&self, name: &str) -> Option<Vec<u8>> {
        let path = self.place(name);
        let bytes = fs::read(&path).ok()?;
        // On a folder that cannot be written it is still read.
        let _ = File::open(&path).and_then(|file| file.set_modified(SystemTime::now()));
        Some(bytes)
    }

    /// Writes a file where that can be done, and whether it could; it appears at once.
    pub fn write(&self, name: &str, content: &[u8]) -> bool {
        if content.len() as u64 > self.limit_bytes || self.try_write(name, content).is_err() {
            return false;
        }
        let size = content.len() as u64;
        let written = self.written.fetch_add(size, Ordering::Relaxed) + size;
        if written > self.limit_bytes / LOOK_EVERY {
            self.written.store(0, Ordering::Relaxed);
            self.make_room();
        }
        true
    }

    fn place(&self, name: &str) -> PathBuf {
        let (shelf, rest) = name.split_at(2);
        self.path.join(shelf).join(rest)
    }

    fn try_write(&self, name: &str, content: &[u8]) -> io::Result<()> {
        let place = self.place(name);
        let shelf = place.parent().unwrap_or(&self.path);
        fs::create_dir_all(shelf)?;
        let number = self.unfinished.fetch_add(1, Ordering::Relaxed);
        let own = format!("{name}.{}.{number}.{UNFINISHED}", std::process::id());
        let unfinished = shelf.join(own);
        // What another program has left under this name is not followed and not written into.
        let _ = fs::remove_file(&unfinished);
        let mut file = OpenOptions::new();
        let written = file
            .write(true)
            .create_new(true)
            .open(&unfinished)
            .and_then(|mut file| file.write_all(content))
            .and_then(|()| fs::rename(&unfinished, &place));
        if written.is_err() {
            let _ = fs::remove_file(&unfinished);
        }
        written
    }

    /// Takes away what was not used for longest until the folder is within its limit.
    fn make_room(&self) {
        let mut files = self.files();
        let mut size: u64 = files.iter().map(|file| file.size).sum();
        if size <= self.limit_bytes {
            return;
        }
        files.sort_by_key(|file| file.used);
        let left = (LEFT * self.limit_bytes as f64) as u64;
        for file in files {
            if size <= left {
                return;
            }
            if fs::remove_file(&file.path).is_ok() {
                size -= file.size;
            }
        }
    }

    /// Its own files, those of other programs too; forgotten ones go. Anything else in the folder is none of it.
    fn files(&self) -> Vec<Kept> {
        let shelves = entries(&self.path).filter(|path| name(path).len() == 2);
        let files = shelves.flat_map(|shelf| entries(&shelf).collect::<Vec<_>>());
        let now = SystemTime::now();
        files
            .filter_map(|path| {
                let about = fs::symlink_metadata(&path).ok().filter(|it| it.is_file())?;
                let kept = Kept {
                    size: about.len(),
                    used: about.modified().ok()?,
                    path,
                };
                if !name(&kept.path).ends_with(UNFINISHED) {
                    return Some(kept);
                }
                if now
                    .duration_since(kept.used)
                    .is_ok_and(|age| age > FORGOTTEN)
                {
                    let _ = fs::remove_file(&kept.path);
                }
                None
            })
            .collect()
    }
}

struct Kept {
    path: PathBuf,
    size: u64,
    used: SystemTime,
}

fn entries(folder: &Path) -> impl Iterator<Item = PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten();
    entries.flatten().map(|entry| entry.path())
}

fn name(path: &Path) -> String {
    let name = path.file_name().unwrap_or_default();
    name.to_string_lossy().into_owned()
}
