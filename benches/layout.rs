//! What layout features cost: a panel with everything in units of the two-pad demo, in one run.
//!
//! Run with `cargo bench --bench layout`. Aim: at most 20 times.

use std::time::{Duration, Instant};

use padfield::input::panel_from_bytes;
use padfield::panel::lowering::LoweringOptions;
use padfield::response::{Request, Response, respond};
use padfield_engine::field::Settings;

/// Runs of which the best counts.
const RUNS: usize = 5;
/// Default accuracy of `padfield solve`.
const ACCURACY: f64 = 0.01;

fn best(name: &str, text: &str) -> (Duration, Response) {
    let panel = panel_from_bytes(name, text.as_bytes(), &[]).expect("a valid panel");
    let request = Request {
        panel: &panel,
        finger: None,
        pad: None,
        settings: Settings {
            accuracy: ACCURACY,
            ..Settings::default()
        },
        options: LoweringOptions::default(),
    };
    let runs = (0..RUNS).map(|_| {
        let start = Instant::now();
        let response = respond(&request, &|_| {}).expect("the panel is solved");
        (start.elapsed(), response)
    });
    runs.min_by_key(|(time, _)| *time).expect("some runs")
}

fn main() {
    padfield::cli::keep_freed_memory();
    let panels = [
        ("two pads", include_str!("../scenarios/two_pads.toml")),
        (
            "four pads, traces, guard, hatch",
            include_str!("../tests/panels/four_pads.toml"),
        ),
    ];
    println!(
        "best of {RUNS}, accuracy {} %, {} threads",
        100.0 * ACCURACY,
        rayon::current_num_threads()
    );
    let mut first = None;
    for (name, text) in panels {
        let (time, response) = best(name, text);
        let first = *first.get_or_insert(time);
        println!(
            "{name:34} {:8.0} ms {:6.1} times  {} field problems, {} cells, error estimated {:.2} %",
            1e3 * time.as_secs_f64(),
            time.as_secs_f64() / first.as_secs_f64(),
            response.numerics.solves,
            response.numerics.cells,
            100.0 * response.numerics.accuracy_estimated
        );
    }
}
