//! README and guide: every command in them runs and prints what stands under it, every link leads somewhere,
//! and what is generated is up to date.
//!
//! In a chapter a `toml` block that begins with `# NAME.toml` becomes that file, the files of `guide/src/panels` and
//! `scenarios` are there from the start, and commands of a `sh` block run one after the other in one folder. A
//! comment `# exit code 3` says how one ends; without it, it ends with 0. The lines of the next `text` block must be printed
//! in that order. A block `sh parsed` has commands that take hours or need other machines: only their names
//! and options are held against the help.

pub mod fences;
mod keys;
mod links;

use fences::{Fence, command_lines, fences, without_times, words};
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// Files of a folder with this ending, by name.
fn files(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let entries =
        fs::read_dir(folder).unwrap_or_else(|error| panic!("{}: {error}", folder.display()));
    let mut found: Vec<PathBuf> = entries
        .map(|entry| entry.expect("an entry").path())
        .filter(|path| {
            path.extension()
                .is_some_and(|extension| extension == ending)
        })
        .collect();
    found.sort();
    found
}

fn chapters() -> Vec<PathBuf> {
    files(&root().join("guide/src"), "md")
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn padfield(folder: &Path, arguments: &[String]) -> (Option<i32>, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_padfield"))
        .args(arguments)
        .current_dir(folder)
        .env("PADFIELD_CACHE", folder.join("fields"))
        .stdin(Stdio::null())
        .output()
        .expect("the command runs");
    (
        output.status.code(),
        String::from_utf8_lossy(&output.stdout).into_owned(),
        String::from_utf8_lossy(&output.stderr).into_owned(),
    )
}

/// A folder as a reader of the guide has it: scenarios, and the panels of the chapters.
fn folder_of_a_reader() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let scenarios = folder.path().join("scenarios");
    fs::create_dir(&scenarios).expect("a folder");
    let copies = [
        (root().join("scenarios"), scenarios),
        (root().join("guide/src/panels"), folder.path().to_owned()),
    ];
    for (from, to) in copies {
        for entry in fs::read_dir(from).expect("a folder") {
            let path = entry.expect("an entry").path();
            let name = path.file_name().expect("a name");
            fs::copy(&path, to.join(name)).expect("copied");
        }
    }
    folder
}

/// Lines of an excerpt that are not printed, in their order.
fn not_printed<'a>(excerpt: &'a str, printed: &str) -> Option<&'a str> {
    let mut lines = printed.lines().map(without_times);
    excerpt
        .lines()
        .filter(|line| !line.trim().is_empty())
        .find(|line| {
            let wanted = without_times(line);
            !lines.any(|line| line == wanted)
        })
}

/// The options of a command, from its help.
fn options(command: &str) -> Option<String> {
    let arguments = [command.to_owned(), "--help".to_owned()];
    let (code, help, _) = padfield(root(), &arguments);
    (code == Some(0)).then_some(help)
}

/// What is wrong with a command that is not run.
fn parse(line: &str) -> Option<String> {
    let words = words(line);
    let Some(help) = options(&words[1]) else {
        return Some(format!("{line}: no such command"));
    };
    let unknown = words.iter().find(|word| {
        let name = word.split('=').next().unwrap_or_default();
        name.starts_with("--") && !help.contains(name)
    });
    unknown.map(|word| format!("{line}: no option {word}"))
}

/// Runs a document's commands; gives what went wrong and the number of commands that ran.
fn run(document: &Path) -> (Vec<String>, usize) {
    let folder = folder_of_a_reader();
    let name = document.strip_prefix(root()).unwrap_or(document).display();
    let (mut failures, mut count) = (Vec::new(), 0);
    let mut printed: Option<String> = None;
    for Fence { info, text } in fences(&read(document)) {
        match info.as_str() {
            "toml" => {
                let named = text.lines().next().and_then(|line| line.strip_prefix("# "));
                if let Some(file) = named.filter(|name| name.ends_with(".toml")) {
                    fs::write(folder.path().join(file), &text).expect("written");
                }
            }
            "sh parsed" => {
                let lines = command_lines(&text);
                let ours = lines.iter().filter(|line| line.starts_with("padfield "));
                failures.extend(ours.filter_map(|line| parse(line)));
                printed = None;
            }
            "sh" => {
                let mut together = String::new();
                for line in command_lines(&text) {
                    if line.starts_with("cargo test") {
                        continue;
                    }
                    let (line, expected) = fences::expected_exit(&line);
                    let mut words = words(&line);
                    if words.first().map(String::as_str) != Some("padfield") {
                        failures.push(format!("{name}: what is `{line}`?"));
                        continue;
                    }
                    let file = (words.len() > 2 && words[words.len() - 2] == ">").then(|| {
                        let file = words.pop();
                        words.pop();
                        file.expect("a name")
                    });
                    let (code, output, errors) = padfield(folder.path(), &words[1..]);
                    count += 1;
                    if code != Some(expected) {
                        failures.push(format!("{name}: {line}\nended with {code:?}\n{errors}"));
                    }
                    match file {
                        Some(file) => fs::write(folder.path().join(file), output).expect("written"),
                        None => together.push_str(&output),
                    }
                }
                printed = Some(together);
            }
            "text" => {
                let Some(output) = printed.take() else {
                    continue;
                };
                if let Some(line) = not_printed(&text, &output) {
                    failures.push(format!(
                        "{name}: `{line}` is not printed in its place by\n{output}"
                    ));
                }
            }
            _ => {}
        }
    }
    (failures, count)
}

#[test]
fn every_command_runs_and_prints_what_the_documents_show() {
    let mut documents = chapters();
    documents.push(root().join("README.md"));
    let next = AtomicUsize::new(0);
    let told = Mutex::new((Vec::new(), 0));
    std::thread::scope(|scope| {
        for _ in 0..2 {
            scope.spawn(|| {
                while let Some(document) = documents.get(next.fetch_add(1, Ordering::Relaxed)) {
                    let (failures, count) = run(document);
                    let mut told = told.lock().expect("no panic");
                    told.0.extend(failures);
                    told.1 += count;
                }
            });
        }
    });
    let (failures, count) = told.into_inner().expect("no panic");
    assert!(failures.is_empty(), "{}", failures.join("\n\n"));
    // None is lost by a fence that is written differently.
    assert!(count >= 40, "only {count} commands");
}

#[test]
fn documents_are_short_enough_to_be_read() {
    for (name, largest) in [("README.md", 10_000), ("DEVELOPERS.md", 12_000)] {
        let bytes = read(&root().join(name)).len();
        assert!(
            bytes <= largest,
            "{name} has {bytes} bytes, at most {largest}"
        );
    }
}

#[test]
fn the_summary_names_every_chapter_once() {
    let summary = read(&root().join("guide/src/SUMMARY.md"));
    let named: Vec<String> = links::of(&summary)
        .into_iter()
        .map(|link| link.to)
        .collect();
    let distinct: BTreeSet<String> = named.iter().cloned().collect();
    let there: BTreeSet<String> = chapters()
        .iter()
        .map(|path| {
            path.file_name()
                .expect("a name")
                .to_string_lossy()
                .into_owned()
        })
        .filter(|name| name != "SUMMARY.md")
        .collect();
    assert_eq!(distinct, there);
    assert_eq!(named.len(), distinct.len(), "a chapter is named twice");
}

#[test]
fn every_link_of_the_documents_leads_somewhere() {
    let mut documents = chapters();
    documents.extend(files(root(), "md"));
    documents.extend(files(&root().join("docs"), "md"));
    documents.extend(files(&root().join("docs/decisions"), "md"));
    let dead: Vec<String> = documents
        .iter()
        .flat_map(|path| links::dead(path))
        .collect();
    assert!(dead.is_empty(), "{}", dead.join("\n"));
}

#[test]
fn every_decision_is_in_the_index_once() {
    let folder = root().join("docs/decisions");
    let index = read(&folder.join("README.md"));
    for (number, path) in files(&folder, "md").iter().enumerate() {
        let name = path.file_name().expect("a name").to_string_lossy();
        if name == "README.md" {
            continue;
        }
        let label = format!("{:03}", number + 1);
        let row = format!("| [{label}]({name}) | ");
        assert_eq!(index.matches(&row).count(), 1, "{row}");
        let text = read(path);
        let title = text.lines().next().unwrap_or_default();
        let title = title
            .strip_prefix(&format!("# {label}. "))
            .unwrap_or_else(|| panic!("{name}: {title}"));
        assert!(index.contains(&format!("{row}{title} | ")), "{title}");
    }
}

#[test]
fn every_command_has_a_row_with_options_it_has() {
    let text = read(&root().join("guide/src/commands.md"));
    let (_, help, _) = padfield(root(), &["--help".to_owned()]);
    let listed = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    let listed = listed.take_while(|line| !line.is_empty());
    let names = listed.filter_map(|line| {
        line.strip_prefix("  ")
            .filter(|rest| !rest.starts_with(' '))
    });
    let mut count = 0;
    for name in names
        .filter_map(|rest| rest.split_whitespace().next())
        .filter(|name| *name != "help")
    {
        count += 1;
        let begin = format!("| `{name}");
        let row = text.lines().find(|line| line.starts_with(&begin));
        let row = row.unwrap_or_else(|| panic!("no row for {name}"));
        let help = options(name).unwrap_or_else(|| panic!("no help of {name}"));
        for option in row.split('`').filter(|word| word.starts_with("--")) {
            let option = option.split([' ', '=']).next().unwrap_or_default();
            assert!(help.contains(option), "{name} has no {option}");
        }
    }
    assert!(count >= 20, "{count}");
}

/// `PADFIELD_WRITE_GUIDE=1 cargo test --test all guide::every_key` writes the chapter anew.
#[test]
fn every_key_of_the_panel_file_stands_in_the_guide() {
    let (code, schema, errors) = padfield(root(), &["schema".to_owned()]);
    assert_eq!(code, Some(0), "{errors}");
    let schema = serde_json::from_str(&schema).expect("JSON");
    let chapter = keys::chapter(&schema);
    let path = root().join("guide/src/keys.md");
    if std::env::var_os("PADFIELD_WRITE_GUIDE").is_some() {
        fs::write(&path, &chapter).expect("written");
    }
    assert!(
        read(&path) == chapter,
        "guide/src/keys.md is older than the schema: PADFIELD_WRITE_GUIDE=1 cargo test --test all guide::every_key"
    );
}
