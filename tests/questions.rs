//! Every command of `guide/src/questions.md`, to the letter.

use crate::guide::fences::words;
use std::path::Path;
use std::process::{Command, Stdio};

/// Number of the question, command line, expected exit code.
fn lines() -> Vec<(String, String, i32)> {
    let text = include_str!("../guide/src/questions.md");
    let rows = text.lines().filter(|line| line.contains("`padfield "));
    let rows = rows.filter(|line| line.starts_with("| "));
    rows.map(|line| {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let [number, _, command, _, exit] = cells[..] else {
            panic!("not five cells: {line}");
        };
        let command = command.trim_matches('`').to_owned();
        (
            number.to_owned(),
            command,
            exit.parse().expect("an exit code"),
        )
    })
    .collect()
}

#[test]
fn every_question_has_a_command_that_answers_it() {
    let lines = lines();
    assert_eq!(lines.len(), 34);
    let folder = tempfile::tempdir().expect("a folder");
    let scenarios = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios");
    std::fs::create_dir(folder.path().join("scenarios")).expect("a folder");
    for entry in std::fs::read_dir(scenarios).expect("the scenarios") {
        let from = entry.expect("an entry").path();
        let name = from.file_name().expect("a name").to_owned();
        std::fs::copy(&from, folder.path().join("scenarios").join(name)).expect("copied");
    }
    let mut failures = Vec::new();
    for (number, command, exit) in &lines {
        let words = words(command);
        assert_eq!(words[0], "padfield");
        let output = Command::new(env!("CARGO_BIN_EXE_padfield"))
            .args(&words[1..])
            .current_dir(folder.path())
            // As a reader has it, who asks one after the other.
            .env("PADFIELD_CACHE", folder.path().join("fields"))
            .stdin(Stdio::null())
            .output()
            .expect("the command runs");
        let text = String::from_utf8_lossy(&output.stdout);
        let errors = String::from_utf8_lossy(&output.stderr);
        if output.status.code() != Some(*exit) || text.trim().is_empty() {
            failures.push(format!(
                "{number}: {command}\n{:?}\n{errors}",
                output.status.code()
            ));
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n\n"));
}
