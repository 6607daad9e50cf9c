//! Where nobody takes what the program prints, or nothing is there to be read: full disks, closed pipes, files
//! without an end. Real processes.

#![cfg(target_os = "linux")]

use crate::processes::{after, signalled};
use std::fs::{self, OpenOptions};
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};
use std::time::Duration;

/// A round pad about its axis: a hundredth of a second for a point.
const PANEL: &str = concat!(
    include_str!("panels/round_pad.toml"),
    r#"[study.size]
vary = [{ path = "overlay.thickness", from = "1 mm", to = "4 mm", points = 4 }]
report = ["base capacitance", "touch shift"]
accuracy = "15 %"
"#
);

/// A folder with the panel file.
struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        fs::write(folder.path().join("disc.toml"), PANEL).expect("the panel file");
        Self(folder)
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_padfield"));
        command
            .args(arguments)
            .current_dir(self.0.path())
            .stdin(Stdio::null());
        command
    }

    fn output(&self, arguments: &[&str]) -> Output {
        self.command(arguments).output().expect("the program runs")
    }
}

/// Writing to it says that the disk is full.
fn full() -> Stdio {
    let device = OpenOptions::new().write(true).open("/dev/full");
    device.expect("the device").into()
}

/// A pipe whose reader is gone.
fn closed() -> Stdio {
    let (reader, writer) = std::io::pipe().expect("a pipe");
    drop(reader);
    writer.into()
}

fn code(command: &mut Command) -> Option<i32> {
    command.status().expect("the program runs").code()
}

/// All that may print on its own, outside the one writer.
#[test]
fn everything_printed_goes_through_one_writer() {
    let printing = [
        "println!", "print!", "dbg!", "stdout()", "stderr()", ".print()", "::exit(",
    ];
    let mut found = Vec::new();
    let mut folders = vec![PathBuf::from("src")];
    while let Some(folder) = folders.pop() {
        for entry in fs::read_dir(&folder).expect("a folder").flatten() {
            let path = entry.path();
            if path.is_dir() {
                folders.push(path);
                continue;
            }
            let is_tests = path.file_name().is_some_and(|n| n == "tests.rs");
            if is_tests
                || path.ends_with("cli/writer.rs")
                || path.extension().is_none_or(|e| e != "rs")
            {
                continue;
            }
            let text = fs::read_to_string(&path).expect("a source file");
            for (number, line) in text.lines().enumerate() {
                let line = line.trim_start();
                let ends = path.ends_with("cli/interrupt.rs") && line.contains("::exit(");
                if !line.starts_with("//")
                    && !ends
                    && printing.iter().any(|word| line.contains(word))
                {
                    found.push(format!("{}:{}: {line}", path.display(), number + 1));
                }
            }
        }
    }
    assert!(found.is_empty(), "{}", found.join("\n"));
}

#[test]
fn a_message_that_nobody_takes_changes_no_exit_code() {
    let place = Place::new();
    for stderr in [full, closed] {
        assert_eq!(
            code(place.command(&["solve", "nope.toml"]).stderr(stderr())),
            Some(2)
        );
        assert_eq!(code(place.command(&["solve"]).stderr(stderr())), Some(2));
        assert_eq!(
            code(
                place
                    .command(&["solve", "disc.toml", "--set", "x"])
                    .stderr(stderr())
            ),
            Some(2)
        );
    }
}

/// Another first digit in a value of a store; the last one that is there, because pages before may be unused.
fn flip_a_digit(store: &Path) {
    let mut bytes = fs::read(store).expect("the store");
    let needle = b"touch_shift\":{\"value\":";
    let found = bytes.windows(needle.len()).rposition(|w| w == needle);
    let at = found.expect("a value") + needle.len();
    bytes[at] = if bytes[at] == b'7' { b'3' } else { b'7' };
    fs::write(store, bytes).expect("the store");
}

#[test]
fn a_sweep_goes_on_when_its_messages_find_no_room() {
    for stderr in [full, closed] {
        let place = Place::new();
        let mut sweep = place.command(&["sweep", "disc.toml", "--no-charts"]);
        assert_eq!(code(sweep.stdout(Stdio::null()).stderr(stderr())), Some(0));
        let table = fs::read_to_string(place.path("results/disc/size/points.csv"));
        assert!(table.expect("the table").contains("done"));
        for shard in ["1/2", "2/2"] {
            let mut part = place.command(&[
                "sweep",
                "disc.toml",
                "--out",
                "parts",
                "--shard",
                shard,
                "--scratch",
                "local",
            ]);
            assert_eq!(code(part.stdout(Stdio::null()).stderr(stderr())), Some(0));
        }
        let merge = || {
            let arguments = ["merge", "parts/size", "--no-charts", "--scratch", "local"];
            let mut merge = place.command(&arguments);
            code(merge.stdout(Stdio::null()).stderr(stderr()))
        };
        assert_eq!(merge(), Some(0));
        // A flipped digit in the store makes a merge speak.
        flip_a_digit(&place.path("parts/size/points.sqlite"));
        let spoken = place.output(&["merge", "parts/size", "--no-charts", "--scratch", "local"]);
        assert!(String::from_utf8_lossy(&spoken.stderr).contains("was altered"));
        flip_a_digit(&place.path("parts/size/points.sqlite"));
        assert_eq!(merge(), Some(0));
        assert!(place.path("parts/size/points.csv").is_file());
    }
}

#[test]
fn an_answer_that_nobody_takes_ends_with_its_code_and_whole_files() {
    let place = Place::new();
    let discharge = ["discharge", "disc.toml", "--out", "charts"];
    let whole = place.output(&discharge);
    let expected = whole.status.code().expect("a code");
    assert_ne!(expected, 1);
    let svg = fs::read(place.path("charts/discharge.svg")).expect("the chart");
    for (stdout, wanted, told) in [(full as fn() -> Stdio, 1, true), (closed, expected, false)] {
        fs::remove_dir_all(place.path("charts")).expect("charts");
        let output = place
            .command(&discharge)
            .stdout(stdout())
            .stderr(Stdio::piped())
            .output()
            .expect("a run");
        assert_eq!(output.status.code(), Some(wanted));
        let errors = String::from_utf8(output.stderr).expect("text");
        assert_eq!(errors.contains("cannot print the result"), told, "{errors}");
        assert!(!errors.contains("panicked"), "{errors}");
        assert_eq!(
            fs::read(place.path("charts/discharge.svg")).expect("the chart"),
            svg
        );
    }
    for quiet in [&["--help"][..], &["--version"], &["schema"]] {
        assert_eq!(
            code(place.command(quiet).stdout(full()).stderr(Stdio::null())),
            Some(1),
            "{quiet:?}"
        );
        assert_eq!(
            code(place.command(quiet).stdout(closed()).stderr(Stdio::null())),
            Some(0),
            "{quiet:?}"
        );
    }
}

/// A log that may grow no more is as good as a full disk, and no reason to be killed by a signal.
#[test]
fn a_log_at_its_largest_size_ends_nothing() {
    let place = Place::new();
    let run = |line: &str| {
        let mut shell = Command::new("bash");
        shell
            .args(["-c", line])
            .arg(env!("CARGO_BIN_EXE_padfield"))
            .current_dir(place.0.path());
        code(shell.stderr(Stdio::null()))
    };
    assert_eq!(run("ulimit -f 0; \"$0\" solve nope.toml 2> log"), Some(2));
    assert_eq!(run("ulimit -f 0; \"$0\" schema > answer"), Some(1));
}

/// Whether the program has handlers for both signals.
fn has_handlers(child: &Child) -> bool {
    let both = 1_u64 << (2 - 1) | 1 << (15 - 1);
    let text = fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap_or_default();
    let caught = text.lines().find_map(|line| line.strip_prefix("SigCgt:"));
    let caught = caught.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok());
    caught.is_some_and(|mask| mask & both == both)
}

/// What was printed on stdout and on stderr until a signal ended it.
fn ends_with_130(place: &Place, arguments: &[&str], patience: Duration) -> Vec<[String; 2]> {
    let told = ["INT", "TERM"].map(|signal| {
        let mut patient = after(patience);
        let output = signalled(&mut place.command(arguments), signal, |child| {
            has_handlers(child) && patient(child)
        });
        let told =
            [output.stdout, output.stderr].map(|text| String::from_utf8(text).expect("text"));
        assert_eq!(
            output.status.code(),
            Some(130),
            "{arguments:?} {signal} {:?} {told:?}",
            output.status.signal()
        );
        told
    });
    told.into()
}

#[test]
fn both_signals_end_commands_in_the_middle_of_a_solve() {
    let place = Place::new();
    let fern = Path::new(env!("CARGO_MANIFEST_DIR")).join("scenarios/fern.toml");
    let fern = fern.to_str().expect("a path");
    // An accuracy that takes minutes, so that the signal meets a working program.
    for command in ["solve", "drift", "return-path", "window", "walk"] {
        let arguments = [command, fern, "--accuracy", "0.0001%"];
        ends_with_130(&place, &arguments, Duration::from_millis(500));
    }
}

#[test]
fn a_file_without_an_end_is_refused_while_reading() {
    let place = Place::new();
    let zeros = "/dev/zero";
    std::os::unix::fs::symlink(zeros, place.path("values.csv")).expect("a link");
    for arguments in [
        &["solve", zeros][..],
        &["sweep", zeros],
        &["field", zeros],
        &["rules", "disc.toml", "--rules", zeros],
        &["compare", "values.csv", "disc.toml"],
    ] {
        let output = place.output(arguments);
        let errors = String::from_utf8_lossy(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{arguments:?} {errors}");
        assert!(errors.contains("16 MB"), "{arguments:?} {errors}");
    }
}

#[test]
fn both_signals_end_the_wait_for_a_pipe_that_nobody_writes() {
    let place = Place::new();
    let made = Command::new("mkfifo").arg(place.path("pipe.toml")).status();
    assert!(made.expect("mkfifo").success());
    for command in ["solve", "sweep", "find"] {
        let arguments = match command {
            "find" => &[
                command,
                "pipe.toml",
                "--vary",
                "overlay.thickness=1mm..4mm",
                "--until",
                "touch shift > 1 pF",
            ][..],
            _ => &[command, "pipe.toml"],
        };
        ends_with_130(&place, arguments, Duration::from_millis(100));
    }
}

/// Those that end in good order leave the solve in hand as well, and keep what they have.
#[test]
fn both_signals_end_what_ends_in_good_order() {
    let place = Place::new();
    let study =
        "[study.long]\nvary = [{ path = \"overlay.thickness\", values = [\"2 mm\", \"3 mm\"] }]\n";
    let fern = concat!(include_str!("../scenarios/fern.toml"), "\n").to_owned() + study;
    fs::write(place.path("long.toml"), fern).expect("the panel file");
    let slow = |words: &[&'static str]| {
        let all = [words, &["--accuracy", "0.0001%"]].concat();
        ends_with_130(&place, &all, Duration::from_millis(1500))
    };
    for [_, messages] in slow(&["sweep", "long.toml", "--study", "long", "--no-charts"]) {
        assert!(
            messages.contains("go on with: padfield sweep long.toml"),
            "{messages}"
        );
        let table = fs::read_to_string(place.path("results/long/long/points.csv"));
        let rows = table
            .expect("a table")
            .lines()
            .filter(|line| !line.starts_with('#'))
            .count();
        assert!(rows <= 1, "a point that was left is no row");
    }
    let find = [
        "find",
        "long.toml",
        "--vary",
        "overlay.thickness=2mm..4mm",
        "--until",
        "touch shift >= 1 pF",
    ];
    for [answers, messages] in slow(&find) {
        assert!(
            !answers.is_empty()
                && messages
                    .contains("interrupted: values of layer.overlay.thickness solved so far: 0"),
            "{answers}{messages}"
        );
    }
    for [answers, messages] in slow(&["rules", "long.toml", "--no-charts"]) {
        assert!(
            answers.contains("Interrupted: this is what was judged by then.")
                && messages.contains("interrupted: "),
            "{answers}{messages}"
        );
    }
}

#[test]
fn a_folder_that_cannot_be_written_is_refused_before_anything_is_solved() {
    let place = Place::new();
    let scenario = |name: &str| {
        let path = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("scenarios")
            .join(name);
        path.display().to_string()
    };
    let (fern, tern) = (scenario("fern.toml"), scenario("tern.toml"));
    let study =
        "[study.long]\nvary = [{ path = \"overlay.thickness\", values = [\"2 mm\", \"3 mm\"] }]\n";
    let long = concat!(include_str!("../scenarios/fern.toml"), "\n").to_owned() + study;
    fs::write(place.path("long.toml"), long).expect("the panel file");
    // An accuracy that takes minutes: whoever solves first is not back in time.
    let slow = ["--accuracy", "0.0001%"];
    for arguments in [
        &["discharge", &fern][..],
        &["drift", &fern, slow[0], slow[1]],
        &["return-path", &fern, slow[0], slow[1]],
        &["window", &fern, slow[0], slow[1]],
        &["walk", &fern, slow[0], slow[1]],
        &["walk", &tern, "--slider", "slider", slow[0], slow[1]],
        &["tolerance", &fern, slow[0], slow[1]],
        &["circuit", &fern, slow[0], slow[1]],
        &["rules", &fern, slow[0], slow[1]],
        &["note", &fern, slow[0], slow[1]],
        &["sweep", "long.toml", "--study", "long", slow[0], slow[1]],
        &[
            "sweep",
            "long.toml",
            "--study",
            "long",
            "--shard",
            "1/2",
            slow[0],
            slow[1],
        ],
        &[
            "cluster",
            "long.toml",
            "--study",
            "long",
            "--tasks",
            "2",
            "--cpus",
            "1",
            slow[0],
            slow[1],
        ],
    ] {
        let mut command = place.command(arguments);
        // A folder below a file cannot be made by anyone, a privileged user included.
        command.args(["--out", "disc.toml/folder"]);
        // It ends by itself, long before it has solved anything.
        let output = signalled(&mut command, "KILL", |_| false);
        let messages = String::from_utf8(output.stderr).expect("text");
        assert_eq!(output.status.code(), Some(2), "{arguments:?} {messages}");
        assert!(
            messages.contains("cannot write disc.toml/folder"),
            "{arguments:?} {messages}"
        );
        assert!(
            messages.contains("choose another folder with --out"),
            "{arguments:?} {messages}"
        );
    }
}

#[test]
fn the_answer_is_printed_although_its_files_cannot_be_written() {
    let place = Place::new();
    let left_out = [
        "window",
        "remedies",
        "guidelines",
        "tolerances",
        "environment",
        "walk",
        "touch-map",
    ];
    let mut note = vec!["note", "disc.toml", "--accuracy", "15%", "--out", "note"];
    note.extend(left_out.iter().flat_map(|part| ["--leave-out", part]));
    assert_eq!(place.output(&["sweep", "disc.toml"]).status.code(), Some(0));
    for shard in ["1/2", "2/2"] {
        let part = [
            "sweep",
            "disc.toml",
            "--out",
            "parts",
            "--shard",
            shard,
            "--scratch",
            "local",
        ];
        assert_eq!(place.output(&part).status.code(), Some(0));
    }
    let coarse = ["--accuracy", "15%", "--out", "out"];
    let with = |words: &[&'static str]| [words, &coarse].concat();
    for (arguments, file) in [
        (
            vec!["discharge", "disc.toml", "--out", "out"],
            "out/discharge.svg",
        ),
        (with(&["drift", "disc.toml"]), "out/drift.svg"),
        (with(&["return-path", "disc.toml"]), "out/return-path.svg"),
        (
            with(&["window", "disc.toml", "--no-remedies"]),
            "out/window.svg",
        ),
        (with(&["circuit", "disc.toml"]), "out/knee.svg"),
        (
            with(&["rules", "disc.toml", "--only", "half-inch-pad"]),
            "out/half-inch-pad.svg",
        ),
        (
            with(&["rules", "disc.toml", "--only", "half-inch-pad", "--json"]),
            "out/half-inch-pad.svg",
        ),
        (note, "note/note.html"),
        (
            vec!["chart", "results", "--out", "out"],
            "out/size/touch-shift.svg",
        ),
        (vec!["sweep", "disc.toml"], "results/disc/size/points.csv"),
        (
            vec!["sweep", "disc.toml", "--json"],
            "results/disc/size/points.csv",
        ),
        (vec!["merge", "parts/size"], "parts/size/points.csv"),
        (vec!["merge", "parts/size"], "parts/size/touch-shift.svg"),
    ] {
        let lines = |output: &Output| String::from_utf8_lossy(&output.stdout).lines().count();
        let whole = place.output(&arguments);
        assert_ne!(
            whole.status.code(),
            Some(2),
            "{arguments:?} {}",
            String::from_utf8_lossy(&whole.stderr)
        );
        let file = place.path(file);
        assert!(file.is_file(), "{arguments:?} {}", file.display());
        // No file takes the place of a folder.
        fs::remove_file(&file).expect("the file");
        fs::create_dir(&file).expect("a folder");
        let blocked = place.output(&arguments);
        fs::remove_dir(&file).expect("the folder");
        let errors = String::from_utf8_lossy(&blocked.stderr);
        assert_eq!(blocked.status.code(), Some(2), "{arguments:?} {errors}");
        let name = file.file_name().expect("a name").to_str().expect("text");
        assert!(errors.contains(name), "{arguments:?} {errors}");
        // All but the names of the files.
        assert!(
            lines(&whole) > 0 && lines(&blocked) + 4 > lines(&whole),
            "{arguments:?} {errors}"
        );
        assert!(!blocked.stdout.is_empty(), "{arguments:?}");
    }
}
