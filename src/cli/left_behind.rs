//! Scratch folders of shards whose tasks were killed on this machine: found by the next task of the same study.
//!
//! A folder says on which machine it was made, because a lock tells of a living process there only.

use crate::store::{open_file, write_whole};
use crate::study::Shard;
use std::fs::DirEntry;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// In a scratch folder: the machine, since it was started.
const HOST: &str = "host";
/// A folder without its lock may be one that is just being opened; not for so long.
const NEWBORN: Duration = Duration::from_secs(60);

/// Notes the machine in a folder.
pub(super) fn note_host(folder: &Path) {
    if let Some(host) = host() {
        // Without it the folder stays for its own task.
        let _ = write_whole(&folder.join(HOST), host.as_bytes());
    }
}

/// A name that no other machine has, nor this one after it was started again; none where the system has none.
fn host() -> Option<String> {
    text_of(Path::new("/proc/sys/kernel/random/boot_id")).filter(|name| !name.is_empty())
}

fn text_of(path: &Path) -> Option<String> {
    let mut text = String::new();
    open_file(path)
        .ok()?
        .take(100)
        .read_to_string(&mut text)
        .ok()?;
    Some(text.trim().to_owned())
}

/// Folders beside `own` whose names begin with `front` and go on with a shard, of this machine and not of this
/// minute.
pub(super) fn beside(own: &Path, front: &str) -> Vec<(PathBuf, Shard)> {
    let Some((parent, host)) = own.parent().zip(host()) else {
        return Vec::new();
    };
    let shard_of = |entry: DirEntry| {
        let name = entry.file_name();
        let (number, count) = name.to_str()?.strip_prefix(front)?.split_once("-of-")?;
        let shard = Shard::new(number.parse().ok()?, count.parse().ok()?)?;
        let path = entry.path();
        let data = path.symlink_metadata().ok().filter(|data| data.is_dir())?;
        let is_old = data.modified().ok()?.elapsed().ok()? > NEWBORN;
        let is_here = || text_of(&path.join(HOST)).is_some_and(|found| found == host);
        (path != own && is_old && is_here()).then_some((path, shard))
    };
    let entries = std::fs::read_dir(parent).into_iter().flatten().flatten();
    entries.filter_map(shard_of).collect()
}
