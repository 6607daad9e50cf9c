//! Folders of studies below the one a command is given.

use std::path::{Path, PathBuf};

/// Folders searched below the one given: results/PANEL/set-HASH/STUDY.
const DEPTH: usize = 3;

/// Folders at or below `folder` that `holds` says yes to, in alphabetical order; nothing is searched below
/// such a folder.
pub(super) fn study_folders(folder: &Path, holds: &dyn Fn(&Path) -> bool) -> Vec<PathBuf> {
    let mut found = Vec::new();
    search(folder, DEPTH, holds, &mut found);
    found
}

fn search(folder: &Path, depth: usize, holds: &dyn Fn(&Path) -> bool, found: &mut Vec<PathBuf>) {
    if holds(folder) {
        found.push(folder.to_owned());
        return;
    }
    if depth == 0 {
        return;
    }
    // A folder that cannot be read holds nothing that could be used.
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut below: Vec<PathBuf> = entries.map(|e| e.path()).filter(|p| p.is_dir()).collect();
    below.sort();
    for folder in below {
        search(&folder, depth - 1, holds, found);
    }
}
