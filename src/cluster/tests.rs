//! The script as bash reads it, and what a task is given.

use super::*;
use crate::input::Document;
use crate::study::Study;
use crate::sweep::Measurement;
use std::process::{Command, Output};

const PANEL: &str = concat!(
    include_str!("../../tests/panels/round_pad.toml"),
    "[study.size]\nvary = [{ path = \"overlay.thickness\", from = \"1 mm\", to = \"3 mm\", points = 1000 }]\n"
);

fn study() -> Study {
    let document = Document::from_text("disc.toml", PANEL).unwrap();
    document.study("size").unwrap()
}

fn measurement() -> Measurement {
    Measurement {
        measured: 4,
        failed: 0,
        reason: None,
        wall_seconds: 8.0,
        cells: Some([10_000, 1_000_000]),
        points: 1000,
        plan_seconds: 2000.0,
    }
}

#[test]
fn a_task_is_given_its_share_with_a_margin() {
    let (study, measurement) = (study(), measurement());
    // 84 runs of twelve points for ten tasks: nine runs at most, 108 points; 2000 s on two threads are
    // 4000 s of one, 108 s per task with four processors, twice that and ten minutes.
    let task = Task::new(&study.plan(), 10, 4, Some((&measurement, 2)), None, None);
    assert_eq!((task.shards, task.points), (10, 108));
    assert_eq!(task.minutes, 14);
    // 1 M cells of 400 bytes, four at once, twice that.
    assert_eq!(task.memory_bytes, 3_200_000_000);
    let task = Task::new(&study.plan(), 10, 4, None, Some(90), Some(1_000_000_000));
    assert_eq!((task.minutes, task.memory_bytes), (90, 1_000_000_000));
    // Never more shards than runs.
    assert_eq!(
        Task::new(&study.plan(), 5000, 1, None, None, None).shards,
        84
    );
}

fn script(folder: &std::path::Path) -> Script {
    Script {
        study: "it's \"size\"\nrm".to_owned(),
        folder: folder.display().to_string(),
        program: folder.join("solver").display().to_string(),
        sweep: [
            "sweep",
            "a panel.toml",
            "--set",
            "overlay.thickness=$HOME 'x'",
        ]
        .map(str::to_owned)
        .to_vec(),
        results: "results/a b".to_owned(),
        scratch: "${TMPDIR:-/tmp}".to_owned(),
        copy_every: 5.0,
        charts: false,
        options: vec!["--partition=long".to_owned()],
        points: 1000,
        task: Task {
            shards: 5,
            points: 204,
            processors: 2,
            minutes: 30,
            memory_bytes: 500_000_000,
        },
        reason: "a test".to_owned(),
    }
}

/// A folder with the script and stand-ins for the scheduler's programs and for padfield that write down
/// their arguments.
fn run(arguments: &[&str], array: &str, solver: &str) -> (tempfile::TempDir, Output) {
    let folder = tempfile::tempdir().unwrap();
    let program = |name: &str, body: &str| {
        use std::os::unix::fs::PermissionsExt;
        let path = folder.path().join(name);
        let log = folder.path().join("log");
        let text = format!(
            "#!/bin/bash\nprintf '<%s>' {name} \"$@\" >> {0}\necho >> {0}\n{body}\n",
            log.display()
        );
        std::fs::write(&path, text).unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o755)).unwrap();
    };
    program("sbatch", "wc -l < log");
    program("scontrol", "echo 'MaxArraySize            = 3'");
    program("solver", solver);
    let path = folder.path().join("job.sh");
    std::fs::write(&path, script(folder.path()).text()).unwrap();
    let old = std::env::var("PATH").unwrap_or_default();
    let output = Command::new("bash")
        .arg(&path)
        .args(arguments)
        .env("PATH", format!("{}:{old}", folder.path().display()))
        .env("SLURM_ARRAY_TASK_ID", array)
        .env("SLURM_JOB_ID", "77")
        .env("TMPDIR", "/a/tmp")
        .output()
        .unwrap();
    (folder, output)
}

fn log(folder: &tempfile::TempDir) -> Vec<String> {
    let text = std::fs::read_to_string(folder.path().join("log")).unwrap();
    text.lines().map(str::to_owned).collect()
}

#[test]
fn five_shards_where_arrays_hold_two_are_three_arrays_and_a_merge() {
    let (folder, output) = run(&[], "", "");
    assert!(output.status.success(), "{output:?}");
    let log = log(&folder);
    assert_eq!(log[0], "<scontrol><show><config>");
    let script = folder.path().join("job.sh").canonicalize().unwrap();
    let ends = [
        ("<--array=1-2>", "<shard><0>"),
        ("<--array=1-2>", "<shard><2>"),
        ("<--array=1-1>", "<shard><4>"),
        // Jobs 2, 3 and 4: the stand-in counts its calls.
        ("<--dependency=afterany:2:3:4>", "<merge>"),
    ];
    for (line, (part, end)) in log[1..].iter().zip(ends) {
        assert!(line.contains(part), "{line}");
        assert!(
            line.ends_with(&format!("<{}>{end}", script.display())),
            "{line}"
        );
    }
    assert_eq!(log.len(), 5);
}

#[test]
fn a_task_solves_its_shard_with_every_word_as_it_was_typed() {
    let (folder, output) = run(&["shard", "2"], "3", "exit 4");
    assert_eq!(output.status.code(), Some(4));
    assert_eq!(
        log(&folder),
        [
            "<solver><sweep><a panel.toml><--set><overlay.thickness=$HOME 'x'><--shard><5/5><--threads><2>\
             <--memory><500MB><--scratch></a/tmp><--copy-every><5>"
        ]
    );
}

#[test]
fn a_task_that_was_stopped_is_put_back_into_the_queue() {
    let (folder, output) = run(&["shard", "0"], "1", "exit 130");
    assert_eq!(output.status.code(), Some(130));
    assert_eq!(log(&folder)[1], "<scontrol><requeue><77>");
    // A signal is passed on, and the code that counts is that of the program, not of the signal.
    let stopped = "trap 'sleep 0.3; exit 130' TERM; kill -TERM $PPID; sleep 5 & wait";
    let (folder, output) = run(&["shard", "0"], "1", stopped);
    assert_eq!(output.status.code(), Some(130), "{output:?}");
    assert_eq!(log(&folder)[1], "<scontrol><requeue><77>");
    // One that ends a program before it can heed it counts as heeded.
    let (folder, output) = run(&["shard", "0"], "1", "kill -TERM $PPID; sleep 5 & wait");
    assert_eq!(output.status.code(), Some(130), "{output:?}");
    assert_eq!(log(&folder)[1], "<scontrol><requeue><77>");
}

#[test]
fn the_merge_and_the_directives_say_what_was_asked() {
    let (folder, output) = run(&["merge"], "", "exit 3");
    assert_eq!(output.status.code(), Some(3));
    assert_eq!(log(&folder), ["<solver><merge><results/a b><--no-charts>"]);
    let text = script(folder.path()).text();
    for line in [
        "# Study \"it's \"size\" rm\": 1000 points in 5 shards, then a merge that waits for them.",
        "#SBATCH --time=30",
        "#SBATCH --mem=477M",
        "#SBATCH --signal=B:TERM@300",
        "#SBATCH --requeue",
        "#SBATCH --open-mode=append",
        "#SBATCH --partition=long",
    ] {
        assert!(text.lines().any(|l| l == line), "{line}\n{text}");
    }
    let (_folder, output) = run(&["nonsense"], "", "");
    assert_eq!(output.status.code(), Some(2));
}
