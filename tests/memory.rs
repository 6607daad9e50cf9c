//! The memory the engine says a grid needs is what solving it takes: counted at the allocator.
//!
//! A cap is only worth something when a grid that is let through fits into it.

use padfield::case::Case;
use padfield::case_record;
use padfield::field::{self, FieldError, Settings};
use std::alloc::{GlobalAlloc, Layout, System};
use std::sync::atomic::{AtomicUsize, Ordering};

struct Counting;

static NOW: AtomicUsize = AtomicUsize::new(0);
static PEAK: AtomicUsize = AtomicUsize::new(0);

fn grown(bytes: usize) {
    let now = NOW.fetch_add(bytes, Ordering::Relaxed) + bytes;
    PEAK.fetch_max(now, Ordering::Relaxed);
}

// SAFETY: everything is handed to the system's allocator as it comes.
unsafe impl GlobalAlloc for Counting {
    unsafe fn alloc(&self, layout: Layout) -> *mut u8 {
        grown(layout.size());
        unsafe { System.alloc(layout) }
    }

    unsafe fn alloc_zeroed(&self, layout: Layout) -> *mut u8 {
        grown(layout.size());
        unsafe { System.alloc_zeroed(layout) }
    }

    unsafe fn dealloc(&self, place: *mut u8, layout: Layout) {
        NOW.fetch_sub(layout.size(), Ordering::Relaxed);
        unsafe { System.dealloc(place, layout) }
    }
}

#[global_allocator]
static ALLOCATOR: Counting = Counting;

fn record(id: &str) -> Case {
    let file: serde_json::Value =
        serde_json::from_str(include_str!("reference/shared.json")).expect("a JSON file");
    let records = file["cases"].as_array().expect("a list of cases");
    let record = records.iter().find(|record| record["id"] == id);
    case_record::parse(&record.expect("the record").to_string()).expect("a valid record")
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
        let before = NOW.load(Ordering::Relaxed);
        PEAK.store(before, Ordering::Relaxed);
        field::solve(&case, Some("finger"), &settings, &|_| {}).expect("an answer");
        let peak = PEAK.load(Ordering::Relaxed) - before;
        (needed_bytes as usize, peak)
    })
}

#[test]
fn what_is_needed_covers_what_is_taken_and_is_not_far_above() {
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
