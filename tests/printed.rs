//! Where nobody takes what the program prints, or nothing is there to be read: full disks, closed pipes, files
//! without an end. Real processes.

#![cfg(target_os = "linux")]

use std::fs::{self, OpenOptions};
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Output, Stdio};
use std::time::{Duration, Instant};

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
    for quiet in [
        &["--help"][..],
        &["--version"],
        &["schema"],
        &["completions", "bash"],
    ] {
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

/// The end of a process, which must come without help.
fn end(mut child: Child) -> ExitStatus {
    let start = Instant::now();
    loop {
        if let Some(status) = child.try_wait().expect("a process") {
            return status;
        }
        if start.elapsed() > Duration::from_secs(60) {
            child.kill().expect("a process");
            panic!("it does not end");
        }
        std::thread::sleep(Duration::from_millis(20));
    }
}

/// Waits until the program has handlers for both signals.
fn wait_for_handlers(child: &Child) {
    let status = format!("/proc/{}/status", child.id());
    let both = 1_u64 << (2 - 1) | 1 << (15 - 1);
    for _ in 0..3000 {
        let text = fs::read_to_string(&status).unwrap_or_default();
        let caught = text.lines().find_map(|line| line.strip_prefix("SigCgt:"));
        let caught = caught.and_then(|mask| u64::from_str_radix(mask.trim(), 16).ok());
        if caught.is_some_and(|mask| mask & both == both) {
            return;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    panic!("no handlers");
}

fn send(child: &Child, signal: &str) {
    let sent = Command::new("kill")
        .args([signal, &child.id().to_string()])
        .status();
    assert!(sent.expect("kill").success());
}

fn ends_with_130(place: &Place, arguments: &[&str], patience: Duration) {
    for signal in ["-INT", "-TERM"] {
        let mut command = place.command(arguments);
        let child = command
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .expect("starts");
        wait_for_handlers(&child);
        std::thread::sleep(patience);
        send(&child, signal);
        let status = end(child);
        assert_eq!(
            status.code(),
            Some(130),
            "{arguments:?} {signal} {:?}",
            status.signal()
        );
    }
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
                "overlay.thickness=1 mm to 4 mm",
                "--until",
                "touch shift > 1 pF",
            ][..],
            _ => &[command, "pipe.toml"],
        };
        ends_with_130(&place, arguments, Duration::from_millis(100));
    }
}
