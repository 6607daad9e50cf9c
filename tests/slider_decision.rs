//! When a slider reports a position: thresholds on the total of its segments, on a small slider of bars with a key
//! beside it, solved coarsely.

use assert_cmd::Command;
use padfield::checks::{Findings, Severity};
use padfield::input::{Document, Override};
use padfield::panel::{Finger, Panel, ReturnPath, Trace, TraceNet};
use padfield::questions::slider::{SliderDecision, TotalCause, decide_all};
use padfield::questions::window::window;
use padfield::touch::{TouchPlace, WorkLimits, solve_touches};
use padfield_engine::field::Settings;
use padfield_engine::units::{Capacitance, Length};
use std::sync::LazyLock;

const PANEL: &str = r#"
title = "Four bars and a key"
idle = "grounded"
[[layer]]
name = "overlay"
permittivity = "4"
thickness = "3 mm"
[[layer]]
name = "front"
copper = "35 um"
[[layer]]
name = "board"
permittivity = "4.4"
thickness = "1.6 mm"
[board]
outline = "40 mm x 50 mm"
[pads.dim]
layer = "front"
shape = "slider"
segments = 4
pitch = "8 mm"
height = "12 mm"
gap = "1 mm"
centre = "0 mm, -10 mm"
[pads.key]
layer = "front"
shape = "rectangle"
size = "12 mm x 12 mm"
centre = "0 mm, 12 mm"
[finger.adult]
contact = "10 mm"
dome = "16 mm"
[stray]
pin = "5 pF ± 0 pF"
[window]
users = ["adult"]
aim_error = "3 mm"
"#;

fn panel(changes: &[(&str, &str)]) -> Panel {
    let document = Document::from_text("bars.toml", PANEL).expect("TOML");
    let overrides: Vec<Override> = changes
        .iter()
        .map(|(path, value)| Override {
            path: (*path).to_owned(),
            value: (*value).to_owned(),
        })
        .collect();
    document
        .panel(&overrides)
        .unwrap_or_else(|error| panic!("{error}"))
}

fn limits() -> WorkLimits<'static> {
    WorkLimits::of(Settings {
        accuracy: 0.3,
        ..Settings::default()
    })
}

fn decided(panel: &Panel) -> SliderDecision {
    let mut all = decide_all(panel, &limits()).expect("the panel is solved");
    assert_eq!(all.len(), 1);
    all.remove(0)
}

/// The panel as written.
static PLAIN: LazyLock<SliderDecision> = LazyLock::new(|| decided(&panel(&[])));

#[test]
fn a_slider_has_a_threshold_on_the_total_of_its_segments() {
    let bars = panel(&[]);
    let decision = &*PLAIN;
    // 13 places of one user, of which the mirror leaves 7, two beside its line, one on the key.
    assert_eq!(decision.field_problems, 10);
    assert_eq!(
        (decision.strokes.len(), decision.strokes[0].places.len()),
        (1, 13)
    );
    let threshold = decision.threshold.expect("a threshold");
    let weakest = &decision.events[decision.weakest_true.expect("a touch")];
    let strongest = &decision.events[decision.strongest_false.expect("a false total")];
    assert!(strongest.bound < threshold && threshold < weakest.bound);
    assert!(matches!(weakest.cause, TotalCause::Stroke { .. }));
    let TotalCause::Beside { pad, .. } = &strongest.cause else {
        panic!("{}", strongest.words());
    };
    assert_eq!(pad, "key");
    assert!(decision.reports_everywhere(), "{:?}", decision.reports);
    // The total of the finger on the key by hand: every segment's shift, told from the first one.
    let finger = bars.usage.users.value[0].clone();
    let aim = finger.aim_error.value;
    let key = bars
        .pads
        .iter()
        .find(|pad| pad.name == "key")
        .expect("a key");
    let at = [key.centre[0], key.centre[1] - aim];
    let share = strongest.total.mean / by_hand(&bars, finger, at);
    assert!((share - 1.0).abs() < 0.02, "{share}");
}

/// Counts of all segments under a finger anywhere, on the first supply.
fn by_hand(bars: &Panel, mut finger: Finger, at: [Length; 2]) -> f64 {
    let first = bars.pads[0].centre;
    finger.offset = [at[0] - first[0], at[1] - first[1]];
    let place = TouchPlace { finger, pad: 0 };
    let touches = solve_touches(bars, &[place], &limits()).expect("solved");
    let supply = &bars.usage.supplies.value[0];
    let nominal = supply
        .return_range(&bars.usage.body.value)
        .nominal
        .expect("a body");
    let seen = touches.seen(0, ReturnPath::Through(nominal)).expect("seen");
    let segments = 0..4;
    segments
        .map(|pad| {
            let [base, shift] = [
                seen.bases[pad].expect("measured").estimate.value,
                seen.shifts[pad].expect("measured").value,
            ]
            .map(Capacitance::from_farads);
            let at_pin = bars.stray.of(&bars.pads[pad]).at_pin(base).nominal;
            bars.electronics.circuit.counts_towards_touch(at_pin, shift)
        })
        .sum()
}

/// A palm beside it and a finger on the trace of a segment are false totals; layers move them to both ends.
#[test]
fn a_palm_beside_it_and_its_own_traces_count() {
    let mut bars = panel(&[
        ("window.palm_distance", "14 mm"),
        ("window.aim_error", "0.9 mm"),
        ("layer.overlay.thickness", "3 mm ± 20 %"),
    ]);
    let length = Length::from_mm;
    let [x, y] = bars.pads[0].centre;
    // Of both outer segments, so that the mirror stays.
    for pad in [0, 3] {
        let segment = bars.pads[pad].clone();
        let [x, y] = segment.centre;
        bars.traces.push(Trace {
            name: format!("lead of {}", segment.name),
            net: TraceNet::Pad(segment.name),
            layer: segment.layer,
            path: vec![[x, y], [x, y - length(20.0)]],
            width: length(3.0),
            keepout: length(4.0),
            via: length(0.6),
        });
    }
    let decision = decided(&bars);
    let missing = decision.not_judged.join("; ");
    assert!(
        !missing.contains("palm") && !missing.contains("trace"),
        "{missing}"
    );
    let of = |is: &dyn Fn(&TotalCause) -> bool| {
        let mut events = decision.events.iter();
        events.find(|event| is(&event.cause)).expect("it is judged")
    };
    let palm = of(&|cause| matches!(cause, TotalCause::Palm { .. }));
    let lead = of(&|cause| matches!(cause, TotalCause::Trace { .. }));
    assert!(!palm.must_report && !lead.must_report);
    // The contact of 10 mm clear of the bar's lower edge by the aim error, rounded up to steps of 1 mm along the trace.
    let finger = bars.usage.users.value[0].clone();
    let by_trace = by_hand(&bars, finger, [x, y - length(12.0)]);
    let share = lead.total.mean / by_trace;
    assert!((share - 1.0).abs() < 0.02, "{share}");
    let TotalCause::Palm { offset, .. } = &palm.cause else {
        panic!("{}", palm.words());
    };
    let hand = bars.usage.palm.clone().expect("a palm");
    let middle = [0, 1].map(|axis| bars.sliders[0].centre[axis] + offset[axis]);
    let share = palm.total.mean / by_hand(&bars, hand, middle);
    assert!((share - 1.0).abs() < 0.02, "{share}");
    // Thinner glass at the end that gives most: more than it does as drawn.
    for event in [palm, lead] {
        let [low, high] = event.total.input_range;
        assert!(low < 0.97 * event.total.mean && 1.03 * event.total.mean < high);
    }
}

#[test]
fn what_should_spoil_the_total_does() {
    let plain = &*PLAIN;
    // Further away the key is felt less.
    let apart = decided(&panel(&[("pads.key.centre.y", "17 mm")]));
    assert!(
        apart.ratio > 1.2 * plain.ratio,
        "{} {}",
        apart.ratio,
        plain.ratio
    );
    // Water at 0 V across all segments.
    let wet = decided(&panel(&[
        ("film.spill.size", "30 mm x 10 mm"),
        ("film.spill.centre", "0 mm, -10 mm"),
        ("film.spill.thickness", "0.5 mm"),
        ("film.spill.treat_as", "earthed"),
    ]));
    assert_eq!(wet.threshold, None);
    let strongest = &wet.events[wet.strongest_false.expect("a film")];
    assert!(
        matches!(strongest.cause, TotalCause::Surrounding(..)),
        "{}",
        strongest.words()
    );
    let severities: Vec<Severity> = wet.checks().iter().map(|check| check.severity).collect();
    assert!(severities.contains(&Severity::Failed), "{severities:?}");
}

/// Five channels of 4.1 ms do not fit into a cycle of 12 ms, the one key would.
#[test]
fn window_circuit_and_note_scan_the_segments_too() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let scanned = format!(
        "{PANEL}[circuit]\nprinciple = \"resistor oscillator\"\nresistor = \"100 kohm\"\ngate = \"4 ms\"\n\
         [scan]\nsettle = \"0.1 ms\"\ncycle = \"12 ms\"\ndebounce = 2\n"
    );
    std::fs::write(folder.path().join("bars.toml"), &scanned).expect("written");
    let document = Document::from_text("bars.toml", &scanned).expect("TOML");
    let scanned = document
        .panel(&[])
        .unwrap_or_else(|error| panic!("{error}"));
    // The segments alone are solved once more for it: no touch of the slider.
    let found = window(&scanned, &limits()).expect("solved");
    let choice = found.binding().choice.expect("a threshold");
    let run = |arguments: &[&str]| {
        let output = Command::cargo_bin("padfield")
            .expect("the program")
            .args(arguments)
            .current_dir(folder.path())
            .output()
            .expect("it runs");
        String::from_utf8(output.stdout).expect("text")
    };
    let json = |arguments: &[&str]| -> serde_json::Value {
        serde_json::from_str(&run(arguments)).expect("JSON")
    };
    let coarse = ["bars.toml", "--json", "--accuracy", "30%"];
    let own = ["--resistor", "100kohm", "--gate", "4ms"];
    let circuit = json(&[&["circuit"], &coarse[..], &own[..]].concat());
    let row = &circuit["rows"][0];
    for (name, own, ms) in [
        ("cycle_ms", choice.cycle, 20.5),
        ("response_ms", choice.response, 61.5),
    ] {
        let told = row[name].as_f64().expect("a time");
        assert!((told / ms - 1.0).abs() < 1e-9, "{name}: {told}");
        assert!((own.ms() / ms - 1.0).abs() < 1e-9, "{name}: {}", own.ms());
    }
    let elsewhere = circuit["judged_elsewhere"].as_str().expect("a sentence");
    assert!(elsewhere.contains("\"dim\""), "{elsewhere}");
    run(&[
        "note",
        "bars.toml",
        "--out",
        "note",
        "--format",
        "markdown",
        "--accuracy",
        "30%",
        "--window-accuracy",
        "30%",
        "--leave-out",
        "guidelines",
        "--leave-out",
        "remedies",
        "--leave-out",
        "walk",
        "--leave-out",
        "touch-map",
    ]);
    let note = std::fs::read_to_string(folder.path().join("note/note.md")).expect("a note");
    let told = "a scan of all channels every 20.5 ms, response at most 61.5 ms";
    assert!(
        note.split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .contains(told)
    );
    for row in [["cycle, ms", "20.5"], ["response, ms", "61.5"]] {
        let is_row = |line: &str| row.iter().all(|cell| line.contains(cell));
        assert!(note.lines().any(is_row), "{row:?}");
    }
}

#[test]
fn window_tells_sliders_and_fails_for_their_limits() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let file = folder.path().join("bars.toml");
    let strict = PANEL.replace(
        "gap = \"1 mm\"",
        "gap = \"1 mm\"\nlargest_deviation = \"0.01 mm\"",
    );
    std::fs::write(&file, strict).expect("written");
    let run = Command::cargo_bin("padfield")
        .expect("the program")
        .args(["window", "--no-remedies", "--json", "--accuracy", "30%"])
        .arg(&file)
        .current_dir(folder.path())
        .output()
        .expect("it runs");
    assert_eq!(
        run.status.code(),
        Some(3),
        "{}",
        String::from_utf8_lossy(&run.stderr)
    );
    let record: serde_json::Value = serde_json::from_slice(&run.stdout).expect("JSON");
    let slider = &record["sliders"][0];
    assert_eq!(slider["slider"], "dim");
    assert!(slider["threshold_counts"].as_f64().expect("a threshold") > 0.0);
    assert_eq!(slider["strokes"][0]["limits"]["deviation_mm"], 0.01);
    assert!(
        !slider["strokes"][0]["dead_zones_mm"]
            .to_string()
            .contains('-')
    );
    let checks = record["checks"].as_array().expect("a list");
    let deviation = checks.iter().find(|check| {
        check["place"]
            .as_str()
            .is_some_and(|place| place.starts_with("deviation"))
    });
    assert_eq!(
        deviation.expect("a check")["severity"],
        "failed",
        "{checks:?}"
    );
}

/// A unit whose segments make fewer counts has less of the noise that comes through the finger: the bound of a
/// total, as that of a key, once joined the fewest counts of one unit with the noise of another.
#[test]
fn the_noise_in_the_bound_of_a_total_is_that_of_the_same_unit() {
    let noisy = panel(&[
        ("stray.pin", "5 pF ± 30 %"),
        ("supply.mains.to_earth", "100 pF"),
        ("supply.mains.common_mode", "0.1 V"),
    ]);
    let decision = decided(&noisy);
    let weakest = &decision.events[decision.weakest_true.expect("a touch")];
    let (total, margin) = (&weakest.total, noisy.usage.noise_margin.value);
    // Where the noise outweighs the touch, more sensitive units are the worse ones.
    assert!(margin * total.noise < 0.9 * total.mean, "{total:?}");
    assert!(total.worst[0].noise < total.noise, "{total:?}");
    let joined = total.input_range[0] - total.numerical_error - margin * total.noise;
    assert!(weakest.bound > joined, "{total:?} {}", weakest.bound);
}
