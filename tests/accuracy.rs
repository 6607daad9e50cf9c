//! An accuracy is judged on what is printed: floating and driven conductors eliminated, under the finger's return
//! path, round outlines included.

use assert_cmd::Command;
use padfield::input::{Document, Override};
use padfield::panel::Panel;
use padfield::panel::lowering::LoweringOptions;
use padfield::response::{Estimated, Request, Response, respond};
use padfield_engine::field::Settings;
use std::path::Path;

const TWO_PADS: &str = "scenarios/two_pads.toml";
/// A floating chassis, a floating film of water, floating idle pads, a finger through 5 pF.
const EVERYTHING_FLOATS: &str = "tests/reference/panels/E.toml";

fn panel(file: &str, set: &[(&str, &str)]) -> Panel {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
    let text = std::fs::read_to_string(path).expect("the panel is there");
    let document = Document::from_text(file, &text).expect("TOML");
    let overrides: Vec<Override> = set
        .iter()
        .map(|(path, value)| Override {
            path: (*path).to_owned(),
            value: (*value).to_owned(),
        })
        .collect();
    let panel = document.panel(&overrides);
    panel.unwrap_or_else(|error| panic!("{error}"))
}

fn solved(panel: &Panel, settings: Settings) -> Response {
    let request = Request {
        panel,
        finger: None,
        pad: Some(&panel.pads[0].name),
        settings,
        options: LoweringOptions::default(),
    };
    respond(&request, &|_| {}).unwrap_or_else(|error| panic!("{error}"))
}

fn to(accuracy: f64) -> Settings {
    Settings {
        accuracy,
        ..Settings::default()
    }
}

/// Largest relative bar of a base or of the touch shift, as they are printed.
fn worst_bar(response: &Response) -> f64 {
    let bases = response.pads.iter().filter_map(|pad| pad.base);
    let shifts = response.pads.iter().filter_map(|pad| pad.touch.as_ref());
    bases
        .map(|base| base.computed)
        .chain(shifts.map(|touch| touch.shift))
        .map(|one| one.error.farads() / one.value.farads().abs())
        .fold(0.0, f64::max)
}

#[test]
fn reached_stands_above_bars_that_are_as_small_as_asked() {
    // The last one is refined for a shift that misses at the fineness the entries need.
    for (file, set, accuracy) in [
        (TWO_PADS, &[][..], 0.04),
        (TWO_PADS, &[("idle", "driven")], 0.03),
        (
            TWO_PADS,
            &[("idle", "floating"), ("finger.adult.return", "5 pF")],
            0.03,
        ),
        (TWO_PADS, &[("finger.adult.return", "4 pF")], 0.02),
        (EVERYTHING_FLOATS, &[], 0.02),
    ] {
        let response = solved(&panel(file, set), to(accuracy));
        let numerics = &response.numerics;
        println!(
            "{file} {set:?}: asked {accuracy}, bar {:.4}",
            worst_bar(&response)
        );
        assert!(numerics.accuracy_reached, "{:?}", numerics.missed);
        assert!(worst_bar(&response) <= accuracy);
        assert!(numerics.accuracy_estimated >= worst_bar(&response) - 1e-12);
    }
}

#[test]
fn what_cannot_be_reached_is_named_and_not_chased() {
    let turned = panel(EVERYTHING_FLOATS, &[("pads.keys.rotation", "20 deg")]);
    let response = solved(&turned, to(0.03));
    let numerics = &response.numerics;
    assert!(!numerics.accuracy_reached);
    let missed = &numerics.missed;
    let base = missed
        .iter()
        .find(|one| one.name == "base capacitance of \"right\"");
    let base = base.unwrap_or_else(|| panic!("{missed:?}"));
    assert_eq!(base.error, worst_bar(&response));
    // Slanted edges beside a floating film make most of it: no grid that pays takes it away.
    assert!(base.outlines > 0.03 && base.outlines < base.error);
    assert!(numerics.fineness < 2.0, "{}", numerics.fineness);
}

#[test]
fn a_small_memory_ends_the_refinement_not_the_answer() {
    // The first grid fits, a finer one does not.
    let small = Settings {
        memory_cap_bytes: 60_000_000,
        ..to(0.001)
    };
    let response = solved(&panel(TWO_PADS, &[]), small);
    assert!(!response.numerics.accuracy_reached);
    assert!(worst_bar(&response) > 0.001);
    assert!(!response.numerics.missed.is_empty());
}

/// Where places are solved side by side, the share of one may not hold the grid of the first, which had all of the
/// memory: then it has all of it too. It was no answer at all before, where the first missed its accuracy.
#[test]
fn a_place_that_does_not_fit_its_share_of_the_memory_is_solved_alone() {
    let output = Command::cargo_bin("padfield")
        .expect("the program is built")
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .args(["walk", TWO_PADS, "--set", "model=section", "--no-map"])
        .args(["--threshold", "50", "--finger", "adult"])
        .args(["--accuracy", "0.01%", "--memory", "60MB", "--json"])
        .env("RAYON_NUM_THREADS", "2")
        .output()
        .expect("the program runs");
    let told = String::from_utf8_lossy(&output.stderr);
    assert_eq!(output.status.code(), Some(4), "{told}");
    let record: serde_json::Value = serde_json::from_slice(&output.stdout).expect("one object");
    let places = record["walk"]["places_mm"].as_array().expect("places");
    assert!(places.len() > 5, "{record}");
}

#[test]
fn coarse_grids_have_bars_that_hold_the_fine_answer() {
    let slider: &[(&str, &str)] = &[("pads.dim.segments", "2")];
    let mut outside = Vec::new();
    for (file, set) in [
        (TWO_PADS, &[][..]),
        ("scenarios/fern.toml", &[]),
        ("scenarios/clover.toml", &[]),
        ("scenarios/slider.toml", slider),
    ] {
        let panel = panel(file, set);
        let fine = solved(
            &panel,
            Settings {
                accuracy: 0.02,
                ..Settings::default()
            },
        );
        for fineness in [0.35, 0.5, 0.7] {
            // Whatever comes of one grid.
            let coarse = solved(
                &panel,
                Settings {
                    accuracy: 1e3,
                    start_fineness: Some(fineness),
                    ..Settings::default()
                },
            );
            for (coarse, fine) in values(&coarse).into_iter().zip(values(&fine)) {
                let apart = (coarse.1.value.pf() - fine.1.value.pf()).abs();
                if apart > coarse.1.error.pf() + fine.1.error.pf() {
                    outside.push(format!("{file}, fineness {fineness}: {coarse:?} {fine:?}"));
                }
            }
        }
    }
    assert!(outside.is_empty(), "{}", outside.join("\n"));
}

/// Bases and touch shifts, told by the pad.
fn values(response: &Response) -> Vec<(&str, Estimated)> {
    let pads = response.pads.iter();
    pads.flat_map(|pad| {
        let shift = pad.touch.as_ref().map(|touch| touch.shift);
        let all = [pad.base.as_ref().map(|base| base.computed), shift];
        all.into_iter().flatten().map(|value| (&*pad.name, value))
    })
    .collect()
}
