//! One list of checks: exit codes come from it alone, and a note holds those of every answer.

use std::fs;
use std::path::{Path, PathBuf};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Sources of the commands.
fn commands() -> Vec<PathBuf> {
    let folder = root().join("src/cli");
    let entries = fs::read_dir(folder).expect("the commands");
    let paths = entries.map(|entry| entry.expect("an entry").path());
    paths
        .filter(|path| path.extension().is_some_and(|e| e == "rs"))
        .collect()
}

/// An exit code of its own is how a failure gets lost on its way to the note.
#[test]
fn no_command_decides_on_its_exit_code_by_itself() {
    let mut seen = 0;
    for path in commands() {
        let name = path
            .file_name()
            .expect("a name")
            .to_string_lossy()
            .into_owned();
        let text = fs::read_to_string(&path).expect("a source");
        seen += text.matches("exit_of(&").count();
        if ["ending.rs", "mod.rs"].contains(&name.as_str()) {
            continue;
        }
        assert!(!text.contains("CheckFailed"), "{name}");
        // What cannot be solved is a failure with a message, not an answer with checks.
        let own = text.matches("Exit::NotReached").count();
        let failures = text.matches("=> Exit::NotReached,").count()
            + text
                .matches(
                    "            Exit::NotReached\n        } else {\n            Exit::BadInput",
                )
                .count();
        assert_eq!(own, failures, "{name}");
    }
    assert!(seen > 12, "only {seen} commands ask the list");
}
