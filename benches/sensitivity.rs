//! What derivatives cost: one touch with the rates of twelve values and more against one without.
//!
//! Run with `cargo bench --bench sensitivity`. Aim: at most 1.5 times.

use std::time::{Duration, Instant};

use padfield::input::Document;
use padfield::sensitivity::{DifferentiatedTouch, PanelFamily, lowered, parameters};
use padfield::touch::{TouchPlace, WorkLimits};
use padfield_engine::field::Settings;

/// Runs of which the best counts.
const RUNS: usize = 5;

fn best(run: impl Fn()) -> Duration {
    let each = (0..RUNS).map(|_| {
        let start = Instant::now();
        run();
        start.elapsed()
    });
    each.min().expect("some runs")
}

fn main() {
    padfield::cli::keep_freed_memory();
    println!(
        "best of {RUNS}, accuracy 1 %, {} threads",
        rayon::current_num_threads()
    );
    let fern = include_str!("../scenarios/fern.toml");
    // Three more layers over the pads: more than twelve values.
    let films = ["print", "carrier", "glue"]
        .map(|name| {
            format!("[[layer]]\nname = \"{name}\"\nthickness = \"0.1 mm\"\npermittivity = 3.0\n\n")
        })
        .concat();
    let front = "[[layer]]\nname = \"front\"";
    let fern_with_films = fern.replace(front, &format!("{films}{front}"));
    assert_ne!(fern, fern_with_films);
    for (name, text) in [
        ("two_pads", include_str!("../scenarios/two_pads.toml")),
        ("fern", fern),
        ("fern, films", &fern_with_films),
        ("clover", include_str!("../scenarios/clover.toml")),
        ("tern", include_str!("../scenarios/tern.toml")),
    ] {
        let document = Document::from_text(name, text).expect("TOML");
        let panel = document.panel(&[]).expect("a valid panel");
        let place = TouchPlace {
            finger: panel.fingers[0].clone(),
            pad: 0,
        };
        let family = PanelFamily {
            parameters: parameters(&document, &panel, Some(&place.finger)).expect("parameters"),
            document: Some(document),
            panel,
        };
        let settings = Settings {
            accuracy: 0.01,
            ..Settings::default()
        };
        let solve = |derivatives: bool| {
            let settings = Settings {
                derivatives,
                ..settings.clone()
            };
            DifferentiatedTouch::solve(&family.panel, &place, &WorkLimits::of(settings.clone()))
                .expect("an answer")
        };
        let plain = best(|| {
            solve(false);
        });
        let count = std::cell::Cell::new(0);
        let with = best(|| {
            let touch = solve(true);
            count.set(0);
            for (index, parameter) in family.parameters.iter().enumerate() {
                if !parameter.may_be_followed() || parameter.value == 0.0 {
                    continue;
                }
                let step = 0.01 * parameter.value.abs();
                let ends = [-step, step].map(|by| {
                    let moved = [(index, parameter.value + by)];
                    let panel = family.panel(&moved).ok()?;
                    Some(lowered(&panel, &place, &settings).expect("lowered"))
                });
                // A value at the end of what is possible moves to one side only.
                let [Some(less), Some(more)] = ends else {
                    continue;
                };
                let ends = [less, more];
                if let Ok(followed) = touch.follow(&ends[0], &ends[1], 2.0 * step) {
                    let small = touch.moved_pad(&followed, 1e-4 * step, &ends[1], 0);
                    assert!(small.expect("a touch").is_some());
                    count.set(count.get() + 1);
                }
            }
        });
        println!(
            "{name:11} plain {:7.0} ms, with the rates of {} values {:7.0} ms: {:.2} times, {} cells",
            1e3 * plain.as_secs_f64(),
            count.get(),
            1e3 * with.as_secs_f64(),
            with.as_secs_f64() / plain.as_secs_f64(),
            solve(false).answer().grid.cells
        );
    }
}
