//! Tells the sources of the engine apart from any others: what is kept of its answers is worth nothing to another.

use std::collections::hash_map::DefaultHasher;
use std::fs;
use std::hash::{Hash, Hasher};
use std::path::{Path, PathBuf};

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).expect("the sources") {
        let path = entry.expect("an entry").path();
        match path.is_dir() {
            true => files(&path, found),
            false => found.push(path),
        }
    }
}

fn main() {
    println!("cargo::rerun-if-changed=src");
    let mut found = Vec::new();
    files(Path::new("src"), &mut found);
    found.sort();
    let mut hasher = DefaultHasher::new();
    for file in found {
        fs::read(&file).expect("a source").hash(&mut hasher);
        file.hash(&mut hasher);
    }
    println!("cargo::rustc-env=ENGINE_SOURCES={:016x}", hasher.finish());
}
