//! Drift against closed forms, solves at both ends and hand formulas; the window's event; the command as a
//! process. Coefficients are inputs: their truth is not tested, what follows from them is.

use assert_cmd::Command;
use padfield::event::through;
use padfield::input::{Document, Override};
use padfield::panel::{LayerContent, Panel};
use padfield::questions::drift::{Drift, Question, check, drift};
use padfield::questions::window::{Cause, window};
use padfield::touch::{TouchPlace, WorkLimits, solve_touches};
use padfield_engine::case::{Case, Conductor, Dielectric, Extent, Kind, Solid, Wall};
use padfield_engine::field::{Settings, solve};
use padfield_engine::units::{Capacitance, Resistance, Toleranced};
use serde_json::Value;

const TWO_PADS: &str = include_str!("../scenarios/two_pads.toml");
const ROUND_PAD: &str = include_str!("panels/round_pad.toml");

fn panel(text: &str, set: &[&str]) -> Panel {
    let document = Document::from_text("panel.toml", text).expect("TOML");
    let overrides: Vec<Override> = set
        .iter()
        .map(|text| Override::parse(text).expect("an override"))
        .collect();
    document
        .panel(&overrides)
        .unwrap_or_else(|error| panic!("{error}"))
}

fn limits() -> WorkLimits<'static> {
    WorkLimits::of(Settings {
        accuracy: 0.04,
        ..Settings::default()
    })
}

fn drifted(panel: &Panel) -> Drift {
    drift(panel, &Question::default(), &limits()).expect("the panel is solved")
}

fn planar(size: [f64; 2], walls: [[Wall; 2]; 3], layers: &[(f64, f64)], sheet: Extent) -> Case {
    let mut from = 0.0;
    let dielectrics = layers.iter().enumerate().map(|(index, &(height, eps))| {
        let extent = Extent {
            low_m: [0.0, from, 0.0],
            high_m: [size[0], from + height, 0.0],
        };
        from += height;
        Dielectric {
            name: format!("layer {index}"),
            relative_permittivity: eps,
            extent,
            comes_with: None,
        }
    });
    Case {
        id: "plates".into(),
        title: String::new(),
        kind: Kind::Planar,
        domain: Extent {
            low_m: [0.0; 3],
            high_m: [size[0], size[1], 0.0],
        },
        walls,
        background_relative_permittivity: 1.0,
        dielectrics: dielectrics.collect(),
        screens: Vec::new(),
        conductors: vec![Conductor {
            name: "plate".into(),
            solids: vec![Solid::Block(sheet)],
        }],
    }
}

#[test]
fn between_plates_a_single_material_drifts_as_its_coefficient() {
    // Plates with insulated sides, one dielectric: C ~ eps, so d ln C/d ln eps = 1 exactly. Two in series:
    // the share of each is (t/eps) over the sum (textbook).
    let sides = [
        [Wall::Insulated; 2],
        [Wall::Grounded, Wall::Insulated],
        [Wall::Open; 2],
    ];
    let plate = |height: f64| Extent {
        low_m: [0.0, height, 0.0],
        high_m: [0.01, height, 0.0],
    };
    let shares = |layers: &[(f64, f64)]| -> Vec<f64> {
        let height: f64 = layers.iter().map(|layer| layer.0).sum();
        let case = planar([0.01, height], sides, layers, plate(height));
        let answer = solve(&case, None, &Settings::default(), &|_| {}).expect("an answer");
        let whole = answer.with.value[[0, 0]];
        let parts = answer.by_permittivity.iter();
        parts.map(|part| part[[0, 0]] / whole).collect()
    };
    let one = shares(&[(0.002, 4.4)]);
    // Conductances are held in single precision.
    assert!((one[0] - 1.0).abs() < 1e-6, "{one:?}");
    let two = shares(&[(0.001, 2.8), (0.002, 7.3)]);
    let sum = 1.0 / 2.8 + 2.0 / 7.3;
    for (found, exact) in two.iter().zip([1.0 / 2.8 / sum, 2.0 / 7.3 / sum]) {
        assert!((found - exact).abs() < 1e-6, "{found} {exact}");
    }
}

#[test]
fn a_sheet_between_two_halves_shares_by_their_permittivities() {
    // Check A2.1: a sheet on the interface of equal halves, 4.4 below and 1 above, in a closed box: energy
    // fraction e1/(e1 + e2) exactly, by symmetry.
    let closed = [[Wall::Grounded; 2], [Wall::Grounded; 2], [Wall::Open; 2]];
    let sheet = Extent {
        low_m: [0.0015, 0.001, 0.0],
        high_m: [0.0025, 0.001, 0.0],
    };
    let case = planar([0.004, 0.002], closed, &[(0.001, 4.4), (0.001, 1.0)], sheet);
    let answer = solve(&case, None, &Settings::default(), &|_| {}).expect("an answer");
    let below = answer.by_permittivity[0][[0, 0]];
    let above = answer.by_permittivity[1][[0, 0]];
    assert!((below / (below + above) - 4.4 / 5.4).abs() < 1e-5);
    // The same as the share of the field energy, up to the two networks' different weights.
    assert!((answer.with.energy_share[[0, 0]] - 4.4 / 5.4).abs() < 1e-5);
}

/// Linear drift of base and shift against solves, relative to the drift.
fn differences(panel: &Panel) -> Vec<[f64; 2]> {
    let question = Question::default();
    let found = drift(panel, &question, &limits()).expect("solved");
    let ends = check(panel, &question, &found, &limits()).expect("solved again");
    assert_eq!(ends.len(), 2 * found.pads.len());
    ends.iter()
        .map(|end| {
            let relative = |[linear, solved]: [f64; 2]| (solved - linear) / solved;
            [relative(end.base), relative(end.shift)]
        })
        .collect()
}

/// One kelvin either way: what is beyond linear is below a thousandth of the drift.
const NARROW: [&str; 3] = [
    "climate.lowest=22 degC",
    "climate.highest=24 degC",
    "climate.reference=23 degC",
];

#[test]
fn shares_are_derivatives_in_the_plane_and_in_space() {
    // The drift is normalised to the reported base, the mean of four energies, while a solve has that
    // energy's own derivative: they differ by the error of the grid, below 1 % of the drift here. Of a shift,
    // the mean of two networks: 3 %.
    for (text, more) in [
        (ROUND_PAD, None),
        (TWO_PADS, None),
        (TWO_PADS, Some("idle=floating")),
        (TWO_PADS, Some("finger.adult.return=5 pF")),
    ] {
        let mut set = NARROW.to_vec();
        set.extend(more);
        for [base, shift] in differences(&panel(text, &set)) {
            assert!(base.abs() < 0.01, "{more:?}: base {base}");
            assert!(shift.abs() < 0.03, "{more:?}: shift {shift}");
        }
    }
}

#[test]
fn over_a_wide_range_the_drift_stays_nearly_linear() {
    // Acrylic at 2500 ppm/K over 23 and 27 K: a change of up to 7 % of the permittivity, of which the second
    // order is a few percent.
    for [base, shift] in differences(&panel(TWO_PADS, &[])) {
        assert!(base.abs() < 0.05, "base {base}");
        assert!(shift.abs() < 0.08, "shift {shift}");
    }
}

#[test]
fn what_the_circuit_does_is_what_its_formula_does() {
    // Layers that stand still: only the resistor drifts, 100 ppm/K over 50 K. The count of the circuit with
    // the larger resistor itself, without any derivative.
    let still = [
        "overlay.temperature_coefficient=0 ppm/K",
        "board.temperature_coefficient=0 ppm/K",
        "circuit.temperature_coefficient=100 ppm/K",
    ];
    let found = drifted(&panel(ROUND_PAD, &still));
    let pad = &found.pads[0];
    let circuit = padfield::measuring_circuit::Circuit::default();
    let mut warmer = circuit;
    warmer.principle = padfield::measuring_circuit::Principle::ResistorOscillator {
        resistor: Toleranced::exact(Resistance::from_ohms(100e3 * (1.0 + 100e-6 * 50.0))),
        thresholds: padfield::measuring_circuit::Thresholds::THIRDS,
    };
    let exact = circuit.count(pad.base_at_pin) - warmer.count(pad.base_at_pin);
    // Second order: half a percent.
    assert!(
        (pad.over_range.nominal / exact - 1.0).abs() < 0.01,
        "{} {exact}",
        pad.over_range.nominal
    );
    assert!(exact > 0.0, "a slower oscillator looks like a touch");
    assert_eq!(
        pad.parts.last().map(|part| part.name.as_str()),
        Some("circuit")
    );
}

#[test]
fn tracking_and_loss_follow_from_the_drift() {
    let set = [
        "climate.lowest=0 degC",
        "climate.highest=50 degC",
        "climate.fastest_change=3 K/min",
        "climate.held=20 s",
        "overlay.temperature_coefficient=2000 ppm/K ± 50 %",
    ];
    let found = drifted(&panel(TWO_PADS, &set));
    for pad in &found.pads {
        let overlay = &pad.parts[0];
        let share = overlay.share.expect("a layer has a share");
        // S x coefficient x 50 K of the base, times the slope of the count.
        let circuit = padfield::measuring_circuit::Circuit::default();
        let slope = circuit.counts_per_farad(pad.base_at_pin).abs();
        let by_hand = slope * pad.base * share * 2000e-6 * 50.0;
        assert!((overlay.counts.nominal / by_hand - 1.0).abs() < 1e-9);
        assert!((overlay.counts.least / by_hand - 0.5).abs() < 1e-9);
        assert!((overlay.counts.most / by_hand - 1.5).abs() < 1e-9);
        let shares: f64 = pad.parts.iter().filter_map(|part| part.share).sum();
        assert!(shares > 0.8 && shares < 1.0, "the rest is air: {shares}");
        // 3 K/min over 50 K, largest coefficients; tracked twice as fast for 20 s.
        let per_minute = 3.0 / 50.0 * pad.over_range.most;
        assert!((60.0 * pad.rate / per_minute - 1.0).abs() < 1e-9);
        let lost = 2.0 * per_minute * 20.0 / 60.0;
        assert!((pad.loss * pad.count_shift / lost - 1.0).abs() < 1e-9);
        assert!((pad.threshold - 0.5 * pad.count_shift).abs() < 1e-9);
        // The other pad is its mirror image: nothing is left.
        let reference = pad.reference.as_ref().expect("a second pad");
        assert!(
            reference.share < 1e-3 && reference.is_worth_it(),
            "{reference:?}"
        );
        // FR-4, 2 to 6 % (from memory), counts by its share.
        let damp = pad.moisture.expect("damp by default");
        let board = pad.parts[1].share.expect("a layer has a share");
        assert!((damp.most / (slope * pad.base * board * 0.06) - 1.0).abs() < 1e-9);
    }
    // A hotter overlay has more permittivity, so more of a touch and a base that rose.
    let [cold, hot] = &found.pads[0].ends;
    assert!(cold.base.nominal < 0.0 && hot.base.nominal > 0.0);
    assert!(cold.shift.nominal < 0.0 && hot.shift.nominal > 0.0);
    assert!(
        found
            .warnings
            .iter()
            .any(|line| line.contains("low confidence"))
    );
    let dry = drifted(&panel(TWO_PADS, &["climate.moisture=no"]));
    assert_eq!(dry.pads[0].moisture, None);
}

#[test]
fn a_bond_with_voids_counts_with_its_solid() {
    // Half of the area air: (1 - v) eps/((1 - v) eps + v) of the coefficient.
    let text = TWO_PADS.replace(
        "thickness = \"3 mm\"",
        "thickness = \"3 mm\"\nvoids = \"50 %\"",
    );
    let layer = &panel(&text, &[]).environment.layers[0];
    let known = layer
        .temperature_coefficient_per_k
        .as_ref()
        .expect("acrylic's");
    let share = 0.5 * 2.8 / (0.5 * 2.8 + 0.5);
    assert!((known.value.most / (4000e-6 * share) - 1.0).abs() < 1e-9);
    assert_eq!(known.source, "from memory");
}

#[test]
fn the_window_takes_what_drifts_while_a_finger_is_held() {
    let text = format!("{TWO_PADS}\n[window]\nusers = [\"adult\"]\n");
    let drift_of = |set: &[&str]| {
        let found = window(&panel(&text, set), &limits()).expect("solved");
        let events = found.table.events.into_iter();
        let events: Vec<_> = events.filter(|event| event.cause == Cause::Drift).collect();
        events
    };
    assert!(drift_of(&[]).is_empty(), "no climate, no event");
    let climate = ["climate.fastest_change=2 K/min", "climate.held=30 s"];
    let events = drift_of(&climate);
    assert_eq!(events.len(), 2);
    // One kelvin: a fiftieth of the drift from 0 to 50 degC.
    let drift = drifted(&panel(&text, &climate)).pads[0].over_range;
    // Both are solved on grids of their own.
    assert!((events[0].mean / (drift.nominal / 50.0) - 1.0).abs() < 0.02);
    // With stray capacitance and circuit as drawn the range is that of the coefficients.
    let exact = [&climate[..], &["stray.pin=5 pF", "stray.trace=0.3 pF/cm"]].concat();
    let (event, drift) = (
        &drift_of(&exact)[0],
        drifted(&panel(&text, &exact)).pads[0].over_range,
    );
    assert!((event.input_range[1] / (drift.most / 50.0) - 1.0).abs() < 0.02);
    assert!(events[0].input_range[1] > event.input_range[1]);
    // What is entered comes first.
    let entered = drift_of(&[&climate[..], &["window.drift_residue=20 fF"]].concat());
    let circuit = padfield::measuring_circuit::Circuit::default();
    let base = drifted(&panel(&text, &climate)).pads[0].base_at_pin;
    let wanted = circuit.counts_towards_touch(base, Capacitance::from_ff(20.0));
    assert!((entered[0].mean / wanted - 1.0).abs() < 0.02);
}

fn run(arguments: &[&str], code: i32) -> String {
    let folder = tempfile::tempdir().expect("a folder");
    let output = Command::cargo_bin("padfield")
        .expect("the program is built")
        .args(arguments)
        .args(["--accuracy", "4%", "--out"])
        .arg(folder.path())
        .assert()
        .code(code)
        .get_output()
        .clone();
    if code == 0 && !arguments.contains(&"--json") {
        let svg = std::fs::read_to_string(folder.path().join("drift.svg")).expect("a chart");
        assert!(
            svg.contains("threshold") && svg.contains("all together"),
            "{svg}"
        );
    }
    String::from_utf8([output.stdout, output.stderr].concat()).expect("text")
}

/// What the touch is worth at the reference and at both ends is what the evaluator of events makes of it: there of
/// panels whose layers have the permittivity of that temperature, solved again.
#[test]
fn touches_at_the_ends_are_those_of_events() {
    let climate = &["climate.lowest=-30 degC", "climate.highest=70 degC"];
    let two = panel(TWO_PADS, climate);
    let found = drifted(&two);
    let finger = two.fingers[0].clone();
    let counts = |panel: &Panel| {
        let place = TouchPlace {
            finger: finger.clone(),
            pad: 0,
        };
        let touches = solve_touches(panel, &[place], &limits()).expect("solved");
        let touch = touches.pads(0).expect("algebra")[0].expect("touched");
        through(panel, 0, None, finger.return_path, &touch).mean
    };
    let own = &found.pads[0];
    let nominal = counts(&two);
    assert!((own.count_shift / nominal - 1.0).abs() < 1e-6);
    for end in &own.ends {
        let kelvin = end.celsius - found.climate.reference_celsius.value;
        let mut there = two.clone();
        for layer in two.dielectric_layers() {
            let known = two.properties(layer).temperature_coefficient_per_k;
            let per_k = known.map_or(0.0, |known| known.value.nominal);
            if let LayerContent::Dielectric { permittivity, .. } = &mut there.layers[layer].content
            {
                *permittivity = Toleranced::exact(permittivity.nominal * (1.0 + per_k * kelvin));
            }
        }
        let change = counts(&there) - nominal;
        let told = end.count_shift.nominal - own.count_shift;
        // To first order, and both on a coarse grid.
        assert!(
            (told - change).abs() < 0.1 * change.abs() + 0.02,
            "{told} {change}"
        );
        assert!(end.count_shift.least <= end.count_shift.nominal);
    }
}

#[test]
fn the_command_tells_drift_tracking_and_confidence() {
    let text = run(&["drift", "scenarios/two_pads.toml", "--check"], 0);
    let plain = text.split_whitespace().collect::<Vec<_>>().join(" ");
    for needed in [
        "its baseline drifts by",
        "Drift rate: at",
        "from memory, low confidence",
        "Not included: thermal expansion",
        "as a reference channel",
        "Linear drift against solves",
        "[default]",
    ] {
        assert!(plain.contains(needed), "{needed:?} is missing in\n{text}");
    }
    assert!(
        text.lines()
            .all(|line| line.trim_end().chars().count() <= 100),
        "{text}"
    );
    // A finger that is held for an hour loses its shift; only a climate that was given is a limit.
    let held = ["--set", "climate.held=3600 s", "--json"];
    let text = run(
        &[&["drift", "scenarios/two_pads.toml"], &held[..]].concat(),
        3,
    );
    let record: Value = serde_json::from_str(&text).expect("one object");
    assert_eq!(record["pads"][0]["held_finger_keeps_enough"], false);
    assert_eq!(record["climate"]["given"], true);
    let text = run(
        &["drift", "scenarios/two_pads.toml", "--finger", "nobody"],
        2,
    );
    assert!(text.contains("there is no finger \"nobody\""), "{text}");
}
