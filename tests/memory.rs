//! The memory the engine says a grid needs is what solving it takes: counted at the allocator.
//!
//! A cap is only worth something when a grid that is let through fits into it.

use assert_cmd::Command;
use padfield_engine::case::{Case, Conductor, Extent, Solid};
use padfield_engine::case_record;
use padfield_engine::field::{self, FieldError, Settings};
use padfield_engine::grid::{axes, least_nodes};
use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::Mutex;
use std::sync::atomic::{AtomicUsize, Ordering};

struct Counting;

/// One count at a time: tests of one program run beside each other.
static ALONE: Mutex<()> = Mutex::new(());

static NOW: AtomicUsize = AtomicUsize::new(0);
static PEAK: AtomicUsize = AtomicUsize::new(0);
/// What a grid is said to need: the engine asks for it once as a whole and gives it back untouched,
/// to see whether there is room. That is not what solving takes.
static TRIAL: AtomicUsize = AtomicUsize::new(usize::MAX);

fn grown(bytes: usize) {
    let now = NOW.fetch_add(bytes, Ordering::Relaxed) + bytes;
    PEAK.fetch_max(now, Ordering::Relaxed);
}

// SAFETY: everything is handed to the system's allocator as it comes.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        if layout.size() != TRIAL.load(Ordering::Relaxed) {
            grown(layout.size());
        }
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        grown(layout.size());
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        if layout.size() != TRIAL.load(Ordering::Relaxed) {
            NOW.fetch_sub(layout.size(), Ordering::Relaxed);
        }
        unsafe { System.dealloc(place, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

fn record(id: &str) -> Case {
    case_record::parse(&record_text(id)).expect("a valid record")
}

fn record_text(id: &str) -> String {
    let file: serde_json::Value =
        serde_json::from_str(include_str!("reference/shared.json")).expect("a JSON file");
    let records = file["cases"].as_array().expect("a list of cases");
    let record = records.iter().find(|record| record["id"] == id);
    record.expect("the record").to_string()
}

/// Memory said to be needed and the peak of solving, on so many threads [bytes].
fn needed_and_peak(id: &str, fineness: f64, threads: usize) -> (usize, usize) {
    let case = record(id);
    let settings = Settings {
        accuracy: 1.0, // met by the first grid
        start_fineness: Some(fineness),
        ..Settings::default()
    };
    let capped = Settings {
        memory_cap_bytes: 1,
        ..settings.clone()
    };
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
    pool.expect("threads can be had").install(|| {
        let refused = field::solve(&case, Some("finger"), &capped, &|_| {});
        let Err(FieldError::TooLarge { needed_bytes, .. }) = refused else {
            panic!("a cap of one byte refuses every grid: {refused:?}");
        };
        TRIAL.store(needed_bytes as usize, Ordering::Relaxed);
        let before = NOW.load(Ordering::Relaxed);
        PEAK.store(before, Ordering::Relaxed);
        field::solve(&case, Some("finger"), &settings, &|_| {}).expect("an answer");
        let peak = PEAK.load(Ordering::Relaxed) - before;
        (needed_bytes as usize, peak)
    })
}

#[test]
fn what_is_needed_covers_what_is_taken_and_is_not_far_above() {
    let _alone = ALONE
        .lock()
        .unwrap_or_else(|poisoned| poisoned.into_inner());
    let mut missed = Vec::new();
    for (id, fineness) in [
        ("PEER3D", 1.0),
        ("PEER3D", 2.5),
        ("PEER2D", 3.0),
        ("PEER2D", 10.0),
    ] {
        for threads in [1, 2, 4] {
            let (needed, peak) = needed_and_peak(id, fineness, threads);
            let share = peak as f64 / needed as f64;
            let line = format!("{id}, fineness {fineness}, {threads} threads: {share:.2} of need");
            println!("{line}");
            if !(0.4..=1.0).contains(&share) {
                missed.push(line);
            }
        }
    }
    assert!(missed.is_empty(), "{}", missed.join("\n"));
}

#[test]
fn an_axis_has_at_least_the_nodes_that_were_counted_before() {
    for id in ["PEER3D", "PEER2D"] {
        let case = record(id);
        for fineness in [0.7, 1.0, 3.0] {
            let least = least_nodes(&case, fineness);
            let dimensions = case.kind.dimensions();
            for (axis, least) in axes(&case, fineness).iter().zip(least).take(dimensions) {
                let nodes = axis.nodes_m.len() as f64;
                assert!(least > 1.0 && least <= nodes, "{id}: {least} of {nodes}");
            }
        }
    }
    // A round outline asks for cells of its own beside the lines.
    let text = r#"{"kind": "volume", "box": [-20, 20, -20, 20, -5, 20], "conductors": [
        {"name": "finger", "cylinders": [[0, 0, 5, 3, 20]]}]}"#;
    let case = case_record::parse(text).expect("a valid record");
    let (least, axes) = (least_nodes(&case, 1.0), axes(&case, 1.0));
    assert!(
        least[0] > 10.0 && least[0] <= axes[0].nodes_m.len() as f64,
        "{least:?}"
    );
}

/// A comb whose lines alone make a grid of gigabytes: said before an axis is graded, which would take
/// minutes, and in a share of the memory.
#[test]
fn a_grid_that_cannot_fit_is_refused_by_the_count_of_its_lines() {
    let _alone = ALONE
        .lock()
        .unwrap_or_else(|poisoned| poisoned.into_inner());
    let extent = |low: [f64; 3], high: [f64; 3]| Extent {
        low_m: low.map(|mm| 1e-3 * mm),
        high_m: high.map(|mm| 1e-3 * mm),
    };
    let solids = (0..2000).map(|tooth| {
        let at = -40.0 + 0.04 * f64::from(tooth);
        // Shifted, so that no mirror plane halves the case.
        Solid::Block(extent([at, -30.0 + 0.01 * at, 0.0], [at + 0.02, 31.0, 0.0]))
    });
    let mut case = record("PEER3D");
    case.domain = extent([-100.0; 3], [100.0; 3]);
    case.dielectrics.clear();
    case.conductors = vec![Conductor {
        name: "comb".to_owned(),
        solids: solids.collect(),
    }];
    let settings = Settings {
        memory_cap_bytes: 1 << 30,
        ..Settings::default()
    };
    let before = NOW.load(Ordering::Relaxed);
    PEAK.store(before, Ordering::Relaxed);
    let refused = field::solve(&case, None, &settings, &|_| {});
    let peak = PEAK.load(Ordering::Relaxed) - before;
    assert!(
        matches!(refused, Err(FieldError::TooLarge { .. })),
        "{refused:?}"
    );
    assert!(peak < 32 << 20, "{peak} bytes");
}

fn field_command(arguments: &[&str]) -> Command {
    let mut command = Command::cargo_bin("padfield").expect("the program is built");
    command.env("RAYON_NUM_THREADS", "2").arg("field");
    command.args(arguments);
    command
}

/// A record in a folder of its own, and its path.
fn file_of(id: &str) -> (tempfile::TempDir, String) {
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("record.json");
    std::fs::write(&path, record_text(id)).expect("a file");
    let path = path.display().to_string();
    (folder, path)
}

#[test]
fn more_memory_than_the_machine_has_is_told_and_not_believed() {
    let (_folder, path) = file_of("PEER3D");
    let asked = [
        "--memory",
        "900000TB",
        "--fineness",
        "40",
        "--accuracy",
        "10%",
    ];
    let output = field_command(&[&[path.as_str()][..], &asked].concat())
        .assert()
        .code(2)
        .get_output()
        .clone();
    let text = String::from_utf8(output.stderr).expect("text");
    let told = "warning: --memory 900000 TB is more than this machine has";
    assert!(text.contains(told), "{text}");
    assert!(text.contains("the memory cap is "), "{text}");
    assert!(!text.contains("the memory cap is 900000 TB"), "{text}");
}

/// What the system refuses ends in a message and not in an abort.
#[cfg(target_os = "linux")]
#[test]
fn memory_that_the_system_refuses_is_a_message() {
    let (_folder, path) = file_of("PEER3D");
    let program = assert_cmd::cargo::cargo_bin("padfield");
    let line = "ulimit -v 1000000; exec \"$0\" field \"$1\" --fineness 7 --accuracy 10%";
    let output = Command::new("sh")
        .env("RAYON_NUM_THREADS", "2")
        .args(["-c", line])
        .args([program.as_os_str(), path.as_ref()])
        .assert()
        .code(2)
        .get_output()
        .clone();
    let text = String::from_utf8(output.stderr).expect("text");
    assert!(
        text.contains("the system does not give that much"),
        "{text}"
    );
}
