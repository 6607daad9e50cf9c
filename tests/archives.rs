//! Results that can only be read: another user's folder, an archive. As a privileged user, whom no permission
//! hinders, the program is run as another user.
#![cfg(unix)]

use std::collections::BTreeMap;
use std::os::unix::fs::{MetadataExt, PermissionsExt};
use std::os::unix::process::CommandExt;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

/// A number that no user of a system has who could write here.
const STRANGER: u32 = 65_534;

const PANEL: &str = concat!(
    include_str!("panels/round_pad.toml"),
    r#"[study.size]
vary = [{ path = "pads.key.diameter", values = ["8 mm", "10 mm", "12 mm"] }]
report = ["touch shift"]
accuracy = "8 %"
"#
);

/// A folder with an archive of results that cannot be written, and one for what is made of it.
struct Archive {
    folder: tempfile::TempDir,
    program: PathBuf,
    is_privileged: bool,
}

impl Archive {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let open = |path: &Path| mode(path, 0o755);
        open(folder.path());
        let is_privileged = folder.path().metadata().expect("a folder").uid() == 0;
        let archive = Self {
            // Where the stranger may run it.
            program: match is_privileged {
                true => folder.path().join("padfield"),
                false => env!("CARGO_BIN_EXE_padfield").into(),
            },
            folder,
            is_privileged,
        };
        if is_privileged {
            // Copied by another process: a program that another test, just starting one, still has open for
            // writing cannot be started.
            let copied = Command::new("cp")
                .arg(env!("CARGO_BIN_EXE_padfield"))
                .arg(&archive.program)
                .status();
            assert!(copied.expect("cp").success(), "the program");
            open(&archive.program);
        }
        std::fs::write(archive.path("disc.toml"), PANEL).expect("the panel file");
        let swept = Command::new(&archive.program)
            .args(["sweep", "disc.toml", "--no-charts", "--out", "archive"])
            .current_dir(archive.folder.path())
            .output()
            .expect("a sweep");
        assert_eq!(swept.status.code(), Some(0), "{}", text(&swept.stderr));
        std::fs::create_dir(archive.path("made")).expect("a folder");
        mode(&archive.path("made"), 0o777);
        archive
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn close(&self) {
        mode(&self.path("archive/size"), 0o555);
    }

    /// Runs the program as someone who cannot write the archive.
    fn run(&self, arguments: &[&str]) -> Output {
        let mut command = Command::new(&self.program);
        command
            .args(arguments)
            .current_dir(self.path("made"))
            .env("HOME", self.path("made"));
        if self.is_privileged {
            command.uid(STRANGER).gid(STRANGER);
        }
        command.output().expect("the program runs")
    }

    fn content(&self) -> BTreeMap<String, Vec<u8>> {
        let entries = std::fs::read_dir(self.path("archive/size")).expect("a folder");
        entries
            .flatten()
            .map(|entry| {
                let name = entry.file_name().to_string_lossy().into_owned();
                (name, std::fs::read(entry.path()).expect("a file"))
            })
            .collect()
    }
}

impl Drop for Archive {
    fn drop(&mut self) {
        // So that it can be removed.
        let folder = self.path("archive/size");
        let _ = std::fs::set_permissions(folder, PermissionsExt::from_mode(0o755));
    }
}

fn mode(path: &Path, mode: u32) {
    std::fs::set_permissions(path, PermissionsExt::from_mode(mode)).expect("a mode");
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn charts_and_notes_are_made_of_an_archive_that_cannot_be_written() {
    let archive = Archive::new();
    archive.close();
    let before = archive.content();
    // Nobody can write there: the test would show nothing else.
    let attempt = archive.run(&["chart", "../archive"]);
    assert_eq!(attempt.status.code(), Some(2), "{}", text(&attempt.stdout));
    let said = text(&attempt.stderr);
    assert!(said.contains("cannot write ../archive/size"), "{said}");
    assert!(said.contains("choose another folder with --out"), "{said}");
    let charts = archive.run(&["chart", "../archive", "--out", "."]);
    assert_eq!(charts.status.code(), Some(0), "{}", text(&charts.stderr));
    assert!(archive.path("made/size/touch-shift.svg").is_file());
    let note = archive.run(&[
        "note",
        "../disc.toml",
        "--studies",
        "../archive",
        "--out",
        "note",
        "--format",
        "markdown",
        "--accuracy",
        "20%",
        "--window-accuracy",
        "20%",
        "--leave-out",
        "window",
        "--leave-out",
        "remedies",
        "--leave-out",
        "guidelines",
        "--leave-out",
        "tolerances",
        "--leave-out",
        "environment",
        "--leave-out",
        "walk",
        "--leave-out",
        "touch-map",
    ]);
    let said = text(&note.stderr);
    assert!(!said.contains("points.sqlite"), "{said}");
    let written = std::fs::read_to_string(archive.path("made/note/note.md"));
    let written = written.unwrap_or_else(|error| panic!("{error}: {said}"));
    assert!(written.contains("3 of 3 points"), "{written}");
    assert!(archive.content() == before, "the archive is as it was");
}

#[test]
fn a_log_that_cannot_be_read_is_named() {
    let archive = Archive::new();
    // As a sweep that was killed leaves it.
    let path = archive.path("archive/size/points.sqlite");
    let connection = rusqlite::Connection::open(&path).expect("the store");
    connection
        .execute_batch("UPDATE studies SET engine = 'another'")
        .expect("a log");
    let log = std::fs::read(path.with_extension("sqlite-wal")).expect("the log");
    drop(connection);
    std::fs::write(path.with_extension("sqlite-wal"), log).expect("the log");
    archive.close();
    let charts = archive.run(&["chart", "../archive", "--out", "."]);
    let said = text(&charts.stderr);
    assert_eq!(charts.status.code(), Some(2), "{said}");
    assert!(
        said.contains("cannot read ../archive/size/points.sqlite"),
        "{said}"
    );
    assert!(said.contains("points.sqlite-wal is read with it"), "{said}");
    assert!(
        !said.contains("--out"),
        "another folder for charts helps nothing: {said}"
    );
}

#[test]
fn a_merge_where_nothing_can_be_written_names_no_option_it_has_not() {
    let archive = Archive::new();
    std::fs::create_dir(archive.path("archive/size/shards")).expect("a folder");
    let shard = Command::new(&archive.program)
        .args([
            "sweep",
            "disc.toml",
            "--out",
            "archive",
            "--shard",
            "1/1",
            "--scratch",
            "made",
        ])
        .current_dir(archive.folder.path())
        .output()
        .expect("a shard");
    assert_eq!(shard.status.code(), Some(0), "{}", text(&shard.stderr));
    archive.close();
    let merged = archive.run(&["merge", "../archive", "--scratch", "."]);
    let said = text(&merged.stderr);
    assert_eq!(merged.status.code(), Some(2), "{said}");
    assert!(said.contains("cannot write ../archive/size"), "{said}");
    assert!(said.contains("merge in a copy of that folder"), "{said}");
    assert!(!said.contains("--out"), "{said}");
}
