//! Solved fields kept in a folder, from one command to the next.
//!
//! Takes a folder and the size it may have; keeps rounds of the engine ([`Rounds`]) there, each in a file of its own
//! that is named by a digest of all its bits depend on, the sources of the engine among them. In front of a file
//! stands a digest of the rest: what is cut short, altered or of another layout is not there, and solved again.
//! Files appear whole or not at all, so that any number of programs may share a folder. Nothing here fails: a
//! folder that cannot be written keeps nothing.

mod folder;

use folder::Folder;
use padfield_engine::SOURCES;
use padfield_engine::field::{FieldAnswer, Rounds};
use std::collections::HashSet;
use std::path::PathBuf;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Of the files and their names: another number leaves those of other layouts to be cleared away.
const LAYOUT: &str = "1";

/// A folder of solved rounds.
pub struct SolvedFields {
    folder: Folder,
    /// Names of what was found that this run had not solved, and of what it solved; a grid that did not fit a part of
    /// the memory is asked for again.
    seen: Mutex<[HashSet<String>; 2]>,
    written: AtomicUsize,
}

impl SolvedFields {
    /// In this folder, which is made when something is kept, of at most `limit_bytes`.
    pub fn new(folder: PathBuf, limit_bytes: u64) -> Self {
        Self {
            folder: Folder::new(folder, limit_bytes),
            seen: Mutex::default(),
            written: AtomicUsize::new(0),
        }
    }

    /// Rounds asked for in this run: those that were found, each once, and those that had to be solved.
    pub fn known_and_solved(&self) -> [usize; 2] {
        self.seen().each_ref().map(HashSet::len)
    }

    /// Rounds solved in this run that the folder took.
    pub fn written(&self) -> usize {
        self.written.load(Ordering::Relaxed)
    }

    fn seen(&self) -> MutexGuard<'_, [HashSet<String>; 2]> {
        self.seen.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Rounds for SolvedFields {
    fn known(&self, round: &str) -> Option<FieldAnswer> {
        let name = name_of(round);
        let answer = answer_of(&self.folder.read(&name)?)?;
        let [known, solved] = &mut *self.seen();
        if !solved.contains(&name) {
            known.insert(name);
        }
        Some(answer)
    }

    fn keep(&self, round: &str, answer: &FieldAnswer) {
        let name = name_of(round);
        let content = postcard::to_stdvec(answer);
        if content.is_ok_and(|content| self.folder.write(&name, &signed(&content))) {
            self.written.fetch_add(1, Ordering::Relaxed);
        }
        self.seen()[1].insert(name);
    }
}

fn name_of(round: &str) -> String {
    let mut hasher = blake3::Hasher::new();
    for part in [LAYOUT, SOURCES, std::env::consts::ARCH, round] {
        hasher.update(part.as_bytes()).update(b"\n");
    }
    hasher.finalize().to_hex().to_string()
}

/// The content behind its digest.
fn signed(content: &[u8]) -> Vec<u8> {
    let digest = blake3::hash(content);
    [digest.as_bytes().as_slice(), content].concat()
}

fn answer_of(bytes: &[u8]) -> Option<FieldAnswer> {
    let (digest, content) = bytes.split_at_checked(blake3::OUT_LEN)?;
    let is_whole = blake3::hash(content).as_bytes().as_slice() == digest;
    is_whole.then(|| postcard::from_bytes(content).ok())?
}
