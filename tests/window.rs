//! The threshold window on real panels, solved coarsely: what should widen it widens it.

use padfield::input::{Document, Override};
use padfield::panel::Panel;
use padfield::questions::window::{Cause, Group, SoFar, Window, window, window_of};
use padfield::rounding::significant;
use padfield::sensitivity::PanelFamily;
use padfield::touch::{Remembered, TouchError, WorkLimits};
use padfield_engine::field::Settings;
use serde_json::Value;
use std::process::{Command, Output};
use std::sync::LazyLock;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Half-inch pads, with one user, an exact supply, a measured noise.
const PANEL: &str = concat!(
    include_str!("../scenarios/two_pads.toml"),
    r#"
[supply.device]
to_earth = "60 pF"
[circuit]
noise = "1.5 counts"
[window]
users = ["adult"]
body = "120 pF"
"#
);

fn panel(set: &[&str]) -> Panel {
    let document = Document::from_text("panel.toml", PANEL).expect("TOML");
    let overrides: Vec<Override> = set
        .iter()
        .map(|text| Override::parse(text).expect("an override"))
        .collect();
    document
        .panel(&overrides)
        .unwrap_or_else(|error| panic!("{error}"))
}

fn decided(panel: &Panel) -> Window {
    let limits = WorkLimits::of(Settings {
        accuracy: 0.03,
        ..Settings::default()
    });
    window(panel, &limits).expect("the panel is solved")
}

fn ratio(set: &[&str]) -> f64 {
    decided(&panel(set)).binding().ratio
}

/// Window ratio of the panel as written.
static START: LazyLock<f64> = LazyLock::new(|| ratio(&[]));

#[test]
fn the_window_narrows_with_noise_thickness_and_a_weaker_return() {
    let start = *START;
    assert!(start > 1.0, "{start}");
    let noisy = ratio(&["circuit.noise=4 counts"]);
    let thick = ratio(&["overlay.thickness=4 mm"]);
    let floating = ratio(&["supply.device.to_earth=5 pF"]);
    for (name, changed) in [("noise", noisy), ("thickness", thick), ("return", floating)] {
        assert!(changed < 0.97 * start, "{name}: {changed} of {start}");
    }
}

#[test]
fn every_event_is_there_once_and_the_pair_binds() {
    let panel = panel(&["window.palm_distance=25 mm", "window.drift_residue=0.02 pF"]);
    let window = decided(&panel);
    let count = |test: fn(&Cause) -> bool| {
        let events = window.table.events.iter();
        events.filter(|event| test(&event.cause)).count()
    };
    // Two pads, one user, one supply.
    assert_eq!(count(|cause| matches!(cause, Cause::Touch(_))), 2);
    assert_eq!(count(|cause| matches!(cause, Cause::NeighbourTouch(_))), 2);
    assert_eq!(count(|cause| matches!(cause, Cause::Palm(_))), 2);
    assert_eq!(count(|cause| matches!(cause, Cause::Noise)), 2);
    assert_eq!(count(|cause| matches!(cause, Cause::Drift)), 2);
    for pad in &window.pads {
        let own = || {
            window
                .table
                .events
                .iter()
                .filter(|e| Some(e.pad) == pad.pad)
        };
        let weakest = &window.table.events[pad.weakest_true.expect("a touch")];
        let strongest = &window.table.events[pad.strongest_false.expect("a false event")];
        assert!(own().all(|e| e.group == Group::False || e.bound >= weakest.bound));
        assert!(own().all(|e| e.group == Group::True || e.bound <= strongest.bound));
        // The aim error of 3 mm makes the touch weaker than the centred one it is compared with.
        let reference = &window.table.references[pad.pad.expect("a pad")];
        assert!(weakest.mean < reference.counts);
        if let Some(choice) = pad.choice {
            assert!(strongest.bound < choice.threshold && choice.threshold < weakest.bound);
        }
    }
    // The panel is its own mirror image, and both traces are alike.
    let ratios: Vec<f64> = window.pads.iter().map(|pad| pad.ratio).collect();
    assert!((ratios[0] / ratios[1] - 1.0).abs() < 1e-9, "{ratios:?}");
}

#[test]
fn counts_stand_on_the_base_at_the_pin() {
    let [little, much] = ["1 pF", "11 pF"].map(|pin| {
        let window = decided(&panel(&[
            &format!("stray.pin={pin}"),
            "circuit.comparator_delay=0 ns",
        ]));
        window.table.references[0].clone()
    });
    // The same field part: what lies between is the pin.
    let between = much.base_at_pin.pf() - little.base_at_pin.pf();
    assert!((between - 10.0).abs() < 1e-9);
    // N = T_gate / (k R C): counts of the shift go with 1 / (C (C + dC)), up to the shift in the second
    // factor with 1 / C^2 (arithmetic).
    let expected = (little.base_at_pin.pf() / much.base_at_pin.pf()).powi(2);
    let found = much.counts / little.counts;
    assert!(
        (found / expected - 1.0).abs() < 0.1,
        "{found} for {expected}"
    );
}

#[test]
fn layer_tolerances_widen_the_range_and_narrow_the_window() {
    let exact = ratio(&[
        "layer.board.thickness=1.6 mm",
        "layer.overlay.permittivity=2.8",
    ]);
    let loose = decided(&panel(&[
        "layer.board.thickness=1.6 mm",
        "layer.overlay.permittivity=2.8",
        "overlay.thickness=3 mm ± 10 %",
    ]));
    assert!(loose.binding().ratio < 0.95 * exact);
    // Tolerances are not in what is built as drawn.
    assert!(loose.binding().nominal_ratio > 0.95 * exact);
}

fn run(arguments: &[&str]) -> Output {
    let folder = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(folder.path().join("panel.toml"), PANEL).expect("the panel file");
    Command::new(env!("CARGO_BIN_EXE_padfield"))
        .args(arguments)
        .current_dir(folder.path())
        .output()
        .expect("the program runs")
}

fn json(output: &Output) -> Value {
    let text = String::from_utf8_lossy(&output.stdout);
    serde_json::from_str(&text).unwrap_or_else(|_| panic!("{text}"))
}

#[test]
fn the_shortest_way_to_the_wanted_ratio_is_solved_again() {
    let start = *START;
    let wanted = format!("window.wanted_ratio={}", 1.3 * start);
    let output = run(&[
        "window",
        "panel.toml",
        "--accuracy",
        "3%",
        "--set",
        &wanted,
        "--json",
    ]);
    assert_eq!(output.status.code(), Some(0));
    let record = json(&output);
    assert_eq!(record["exists"], true);
    let levers = record["levers"]["levers"].as_array().expect("levers");
    let find = |path: &str| levers.iter().find(|lever| lever["path"] == path);
    // A thicker overlay narrows the window, a wider gap widens it.
    assert!(
        find("layer.overlay.thickness").expect("there")["log_sensitivity"].as_f64() < Some(0.0)
    );
    assert!(find("pads.pair.gap").expect("there")["log_sensitivity"].as_f64() > Some(0.0));
    let enough = levers
        .iter()
        .find(|one| one["reach"] == "reaches")
        .expect("one is enough");
    let reached = enough["checked"]["window_ratio"]
        .as_f64()
        .expect("a number");
    assert!(reached >= 0.97 * 1.3 * start);
    // Nothing is printed for the wanted ratio that was not counted again.
    for lever in levers.iter().filter(|one| one["checked"].is_null()) {
        assert!(["too far", "not tried"].contains(&lever["reach"].as_str().expect("a word")));
    }
    // The value is solved here once more.
    let set = format!(
        "{}={} {}",
        enough["path"].as_str().expect("a path"),
        enough["checked"]["value"],
        enough["unit"].as_str().expect("a unit")
    );
    let again = ratio(&[&set]);
    assert!(
        (again / reached - 1.0).abs() < 0.02,
        "{again} for {reached}"
    );
}

#[test]
fn what_leaves_the_weakest_touch_counts_is_told_where_noise_takes_them_all() {
    let noisy = "circuit.noise=60 counts";
    let before = decided(&panel(&[noisy]));
    let weakest = |window: &Window| {
        let binding = window.binding();
        window.table.events[binding.weakest_true.expect("a touch")].bound
    };
    assert_eq!(before.binding().ratio, 0.0);
    let output = run(&[
        "window",
        "panel.toml",
        "--accuracy",
        "3%",
        "--set",
        noisy,
        "--json",
    ]);
    assert_eq!(output.status.code(), Some(3));
    let record = &json(&output)["levers"];
    assert!(record["levers"].as_array().expect("levers").is_empty());
    let left = record["left_counts"].as_f64().expect("counts");
    assert!(left < 0.0);
    assert_eq!(left, weakest(&before));
    let lifts = record["lifts"].as_array().expect("lifts");
    // Three standard deviations are asked for: a tenth less noise leaves 18 counts more, and nothing leaves more.
    assert_eq!(lifts[0]["path"], "circuit.noise");
    let less = |lift: &Value| {
        lift["left_with_10_percent_less_counts"]
            .as_f64()
            .expect("counts")
    };
    assert!((less(&lifts[0]) - left - 18.0).abs() < 1e-9);
    // Every event was counted again.
    assert_eq!(lifts[0]["furthest"]["value"], 24.0);
    let again = decided(&panel(&["circuit.noise=24 counts"]))
        .binding()
        .ratio;
    assert_eq!(lifts[0]["furthest"]["window_ratio"], again);
    // The touch is solved again where the field changes; here the window is.
    let overlay = lifts
        .iter()
        .find(|lift| lift["path"] == "layer.overlay.thickness");
    let overlay = overlay.expect("a lift");
    let value = overlay["value"].as_f64().expect("a number");
    assert!(overlay["furthest"].is_null());
    let thinner = format!("layer.overlay.thickness={} mm", 0.9 * value);
    let solved = weakest(&decided(&panel(&[noisy, &thinner])));
    assert!((less(overlay) - solved).abs() < 1.0, "{overlay} {solved}");
    assert!(solved > left);
}

#[test]
fn no_window_is_told_with_its_own_exit_code() {
    let output = run(&[
        "window",
        "panel.toml",
        "--accuracy",
        "5%",
        "--no-remedies",
        "--set",
        "pads.pair.gap=1 mm",
        "--set",
        "window.aim_error=8 mm",
    ]);
    assert_eq!(output.status.code(), Some(3));
    let text = String::from_utf8_lossy(&output.stdout);
    assert!(text.starts_with("Two half-inch pads") && text.contains("No window: on pad"));
    assert!(text.contains("Charts (.svg, .png) in"), "{text}");
    assert!(
        text.lines().all(|line| line.chars().count() <= 100),
        "{text}"
    );
}

#[test]
fn a_walk_sees_both_pads_alike_midway_and_the_map_is_symmetric() {
    let output = run(&[
        "walk",
        "panel.toml",
        "--accuracy",
        "5%",
        "--threshold",
        "40",
        "--json",
    ]);
    assert_eq!(output.status.code(), Some(0));
    let record = json(&output);
    let counts = |curve: &Value, pad: usize| -> Vec<f64> {
        let all = curve["pads"][pad]["count_shift"]
            .as_array()
            .expect("a list");
        all.iter()
            .map(|value| value.as_f64().expect("a number"))
            .collect()
    };
    let curve = &record["walk"]["fingers"][0];
    let (left, right) = (counts(curve, 0), counts(curve, 1));
    let places = left.len();
    // Midway between mirrored pads the shifts are equal (symmetry); elsewhere they swap.
    assert!((left[places / 2] / right[places / 2] - 1.0).abs() < 1e-6);
    assert!((0..places).all(|k| left[k] == right[places - 1 - k] || k == places / 2));
    // The peak of each pad lies within a step of its centre, 9.525 mm from the middle.
    let x = record["walk"]["places_mm"].as_array().expect("a list");
    let peak = (0..places)
        .max_by(|&a, &b| left[a].total_cmp(&left[b]))
        .expect("places");
    let step = x[1].as_f64().expect("mm") - x[0].as_f64().expect("mm");
    assert!((x[peak].as_f64().expect("mm") + 9.525).abs() <= step);
    let solved = record["walk"]["field_problems"].as_u64().expect("a count") as usize;
    assert_eq!(solved, places.div_ceil(2));
    let map = &record["map"];
    let [columns, rows] = ["x_mm", "y_mm"].map(|key| map[key].as_array().expect("a list").len());
    let left = counts(map, 0);
    assert!((0..rows).all(|row| {
        (0..columns).all(|column| {
            let place = row * columns + column;
            let above = (rows - 1 - row) * columns + column;
            (left[place] - left[above]).abs() <= 1e-9 * left[place].abs()
        })
    }));
}

/// In a cut every place along y is the same: a map over the face would say that a finger beside a pad is on it.
#[test]
fn a_walk_in_a_cut_says_so_and_draws_no_map() {
    let section = ["walk", "panel.toml", "--set", "model=section"];
    let rest = ["--accuracy", "20%", "--threshold", "40"];
    let ask = |more: &[&str]| run(&[&section[..], &rest, more].concat());
    let told = ask(&["--out", "charts"]);
    assert_eq!(told.status.code(), Some(0));
    let text = String::from_utf8_lossy(&told.stdout);
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("Trend only: a cut along x"), "{text}");
    assert!(!words.contains("touch-map"), "{text}");
    let record = json(&ask(&["--json"]));
    assert!(record["map"].is_null() && !record["walk"].is_null());
    let assumption = record["assumptions"][0].as_str().expect("a text");
    assert!(assumption.starts_with("Trend only"), "{assumption}");
    let refused = ask(&["--vertical"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("model = \"volume\""));
}

#[test]
fn a_pad_that_nobody_aims_at_does_not_bind() {
    let text = format!(
        "{PANEL}\n[finger.left-hand]\ncontact = \"10 mm\"\ndome = \"16 mm\"\non = \"left\"\n"
    )
    .replace("users = [\"adult\"]", "users = [\"left-hand\"]");
    let document = Document::from_text("panel.toml", &text).expect("TOML");
    let window = decided(&document.panel(&[]).expect("valid"));
    assert!(window.pads[1].weakest_true.is_none());
    assert_eq!(window.pads[1].judged_ratios(), None);
    assert_eq!(window.binding().pad, Some(0));
    assert!(window.exists());
}

#[test]
fn a_pad_about_its_axis_is_touched_in_its_middle() {
    let text = include_str!("panels/round_pad.toml");
    let document = Document::from_text("round_pad.toml", text).expect("TOML");
    let window = decided(&document.panel(&[]).expect("valid"));
    assert!(window.exists());
    let touches = window
        .table
        .events
        .iter()
        .filter(|e| e.group == Group::True);
    assert!(touches.clone().count() > 1);
    assert!(
        touches
            .into_iter()
            .all(|event| event.words().contains("centred"))
    );
    let missing = &window.table.not_described;
    assert!(missing.iter().any(|text| text.contains("off the middle")));
}

#[test]
fn unknown_names_are_told_with_the_known_ones() {
    for (arguments, expected) in [
        (
            ["--finger", "giant"],
            "there is no finger \"giant\"; known: adult",
        ),
        (
            ["--supply", "mains"],
            "there is no supply \"mains\"; known: device",
        ),
        (
            ["--through", "middle"],
            "there is no pad \"middle\"; known: left, right",
        ),
    ] {
        let output = run(&["walk", "panel.toml", arguments[0], arguments[1]]);
        assert_eq!(output.status.code(), Some(2));
        let message = String::from_utf8_lossy(&output.stderr);
        assert!(message.contains(expected), "{message}");
    }
}

#[test]
fn an_interrupted_window_tells_what_its_touches_so_far_say() {
    let document = Document::from_text("panel.toml", PANEL).expect("TOML");
    let family = PanelFamily::of_document(&document).expect("a panel");
    let settings = Settings {
        accuracy: 0.03,
        keeper: Some(Remembered::before(None)),
        ..Settings::default()
    };
    let solved = AtomicUsize::new(0);
    // Asked before every field problem: after the third somebody has had enough.
    let stopped = WorkLimits {
        stop: &|| solved.fetch_add(1, Ordering::Relaxed) >= 3,
        ..WorkLimits::of(settings.clone())
    };
    let nothing = SoFar::of(&family, &stopped).expect("a panel");
    assert_eq!(nothing.touches[0], 0);
    assert!(nothing.words().ends_with(" touches are solved"));
    assert_eq!(window_of(&family, &stopped), Err(TouchError::Interrupted));
    let so_far = SoFar::of(&family, &stopped).expect("a panel");
    let [known, all] = so_far.touches;
    assert!(0 < known && known < all, "{known} of {all}");
    let words = so_far.words();
    assert!(
        words.contains(&format!("so far {known} of {all} touches")),
        "{words}"
    );
    // The whole window goes on from there; afterwards everything is known, and says what the window says.
    let whole = window_of(&family, &WorkLimits::of(settings)).expect("solved");
    let now = SoFar::of(&family, &stopped).expect("a panel");
    assert_eq!(now.touches, [all, all]);
    for (pad, (name, [weakest, strongest])) in whole.pads.iter().zip(&now.pads) {
        assert_eq!(*name, whole.table.pads[pad.pad.expect("one pad")]);
        let bound = |index: Option<usize>| whole.table.events[index.expect("an event")].bound;
        let known = [weakest, strongest].map(|event| event.as_ref().expect("an event").bound);
        // Layers at nominal values and no event without a touch: only what the whole adds is worse.
        assert!(known[0] >= bound(pad.weakest_true), "{name}: {known:?}");
        assert!(known[1] <= bound(pad.strongest_false), "{name}: {known:?}");
        let line = format!("{name}: weakest true {} counts", significant(known[0], 3));
        assert!(now.words().contains(&line), "{line}");
    }
}
