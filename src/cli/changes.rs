//! What `--set` has changed: the folder of its own that results go to, and what stands on them.

use super::against::in_words;
use super::input;
use super::{Exit, Failure};
use crate::figures::Remark;
use crate::store::open_file;
use std::ffi::OsStr;
use std::fmt::Write as _;
use std::io::Read;
use std::path::{Path, PathBuf};

/// Beside the store of a study: which of its states were set on the command line.
const REMARKS: &str = "set.txt";
/// More than the notes of any study \[bytes\].
const LARGEST: u64 = 16_000_000;
/// Front of the name of a folder.
const FRONT: &str = "set-";
/// Characters of the hash in the name of a folder.
const SHORT: usize = 8;
/// Characters of the hash on a chart.
const SHOWN: usize = 16;
/// A longer list of changes does not fit into a title.
const LONGEST_TITLE: usize = 60;

/// A panel that is not the one of its file.
#[derive(Debug)]
pub(super) struct Changes {
    words: Vec<String>,
    /// Hash of everything the panel file says with what was set; blind to comments and blanks.
    hash: String,
}

impl Changes {
    /// None when nothing is set.
    pub fn of(file: &Path, set: &[String]) -> Result<Option<Self>, Failure> {
        if set.is_empty() {
            return Ok(None);
        }
        let written = input::document(file)?;
        let overrides = input::overrides(set)?;
        let contents = input::read(file, set)?.document.contents();
        let words = overrides.iter().map(|given| {
            // One line of the notes beside a store.
            in_words(&written, given).replace(char::is_control, " ")
        });
        Ok(Some(Self {
            words: words.collect(),
            hash: blake3::hash(contents.as_bytes()).to_hex().to_string(),
        }))
    }

    /// `set-1a2b3c4d`.
    pub fn folder_name(&self) -> String {
        format!("{FRONT}{}", &self.hash[..SHORT])
    }

    /// What stands in the title and under every chart.
    pub fn remark(&self) -> Remark {
        let all = self.words.join("; ");
        let title = match all.chars().count() {
            ..=LONGEST_TITLE => format!("set: {all}"),
            _ => format!("{} values set", self.words.len()),
        };
        Remark {
            title,
            caption: format!(
                "Not the panel as written, set on the command line: {all}. Inputs {}.",
                &self.hash[..SHOWN]
            ),
        }
    }

    /// Notes beside the store of a study what stands on its charts.
    pub fn remember(&self, folder: &Path, scenario: &str) -> Result<(), Failure> {
        let path = folder.join(REMARKS);
        if remembered(folder, scenario).is_some() {
            return Ok(());
        }
        let mut text = notes(folder);
        let Remark { title, caption } = self.remark();
        let _ = writeln!(text, "{scenario}\t{title}\t{caption}");
        let written = crate::store::write_whole(&path, text.as_bytes());
        written.map_err(|error| Failure {
            message: format!("cannot write {}: {error}", path.display()),
            exit: Exit::BadInput,
        })
    }
}

/// Whether a folder is named as one of changes.
pub(super) fn is_of_changes(name: &OsStr) -> bool {
    name.to_str().is_some_and(|name| name.starts_with(FRONT))
}

/// The notes of a folder; none where there is no file or no text.
fn notes(folder: &Path) -> String {
    let mut text = String::new();
    let file = open_file(&folder.join(REMARKS));
    match file.and_then(|file| file.take(LARGEST).read_to_string(&mut text)) {
        Ok(_) => text,
        Err(_) => String::new(),
    }
}

/// What was noted for the state of a panel that a study stands for.
pub(super) fn remembered(folder: &Path, scenario: &str) -> Option<Remark> {
    notes(folder).lines().find_map(|line| {
        let mut parts = line.splitn(3, '\t');
        (parts.next()? == scenario).then_some(())?;
        Some(Remark {
            title: parts.next()?.to_owned(),
            caption: parts.next()?.to_owned(),
        })
    })
}

/// Where a command writes by default: `results/PANEL/COMMAND` in the current folder, in it a folder of its
/// own for every set of values that `--set` changes.
pub(super) fn default_folder(
    panel_file: &Path,
    command: &str,
    changes: Option<&Changes>,
) -> PathBuf {
    let stem = panel_file.file_stem().unwrap_or(panel_file.as_os_str());
    let folder = Path::new("results").join(stem).join(command);
    match changes {
        Some(changes) => folder.join(changes.folder_name()),
        None => folder,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Notes that come with the results of others may be anything.
    #[cfg(unix)]
    #[test]
    fn notes_that_are_no_file_are_none() {
        let folder = tempfile::tempdir().expect("a folder");
        let path = folder.path().join(REMARKS);
        std::os::unix::fs::symlink("/dev/null", &path).expect("a link");
        assert_eq!(notes(folder.path()), "");
        assert!(open_file(&path).is_err());
        std::fs::remove_file(&path).expect("the link");
        std::fs::write(&path, "state\ttitle\tcaption\n").expect("a file");
        let remark = remembered(folder.path(), "state").expect("a remark");
        assert_eq!((&*remark.title, &*remark.caption), ("title", "caption"));
    }
}
