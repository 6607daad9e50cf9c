//! The electronics trade on a round pad: a fraction of a second, solved once for all tests.

use assert_cmd::Command;
use padfield::input::panel_from_bytes;
use padfield::measuring_circuit::{Circuit, Counting, Principle, Scan};
use padfield::panel::Electronics;
use padfield::panel::lowering::LoweringOptions;
use padfield::questions::circuit::{
    Question, Trade, TradeError, answer, preferred_resistors, two_digit_gates, usual_gates,
};
use padfield::questions::return_path;
use padfield::response::{Request, Response, respond};
use padfield::touch::WorkLimits;
use padfield_engine::field::Settings;
use padfield_engine::units::{Capacitance, Resistance, Time, Toleranced};
use serde_json::Value;
use std::sync::OnceLock;

const PANEL: &str = r#"
title = "One round key"
model = "axisymmetric"
[[layer]]
name = "overlay"
material = "acrylic"
thickness = "3 mm"
[[layer]]
name = "front"
copper = "35 um"
[pads.key]
layer = "front"
shape = "disc"
diameter = "12 mm"
trace_length = "40 mm"
[finger.adult]
contact = "10 mm"
dome = "16 mm"
[circuit]
resistor = "150 kohm"
gate = "6 ms"
noise = "1.5 counts"
[scan]
cycle = "30 ms"
filter = "5 ms"
feedback = "10 ms"
[battery]
capacity = "1000 mAh"
self_discharge = "3 %"
"#;

/// Electronics and answer of the panel.
fn solved() -> &'static (Electronics, Response) {
    static SOLVED: OnceLock<(Electronics, Response)> = OnceLock::new();
    SOLVED.get_or_init(|| {
        let panel = panel_from_bytes("key.toml", PANEL.as_bytes(), &[]).expect("a valid panel");
        let request = Request {
            panel: &panel,
            finger: None,
            pad: None,
            settings: Settings {
                accuracy: 0.02,
                ..Settings::default()
            },
            options: LoweringOptions::default(),
        };
        let response = respond(&request, &|_| {}).expect("a response");
        (panel.electronics, response)
    })
}

fn trade() -> Trade {
    let (electronics, response) = solved();
    Trade::new(electronics, response).expect("a resistor oscillator and a touch")
}

/// Base at the pin and touch shift of the key, and the relative error of the shift.
fn key() -> (Capacitance, Capacitance, f64) {
    let pad = &solved().1.pads[0];
    let touch = pad.touch.as_ref().expect("touched");
    let error = touch.shift.error / touch.shift.value;
    (
        pad.base_at_pin.expect("in the model").nominal,
        touch.shift.value,
        error,
    )
}

/// The voltage of a supply comes through the finger: what return-path says of it decides here and in solve, too.
/// Signal-to-noise was once that of an earthed finger without any.
#[test]
fn a_supply_with_a_voltage_decides_the_signal_to_noise_ratio() {
    const SUPPLIES: &str = "[supply.mains]\nto_earth = \"1500 pF\"\ncommon_mode = \"0.2 V\"\n\
                            [supply.pack]\nto_earth = \"15 pF\"\n";
    let text = PANEL.to_owned() + SUPPLIES;
    let panel = panel_from_bytes("key.toml", text.as_bytes(), &[]).expect("a valid panel");
    let settings = Settings {
        accuracy: 0.02,
        ..Settings::default()
    };
    let request = Request {
        panel: &panel,
        finger: None,
        pad: None,
        settings: settings.clone(),
        options: LoweringOptions::default(),
    };
    let response = respond(&request, &|_| {}).expect("a response");
    let limits = WorkLimits {
        settings,
        solver: &padfield_engine::field::solve,
        stop: &|| false,
        progress: &|_| {},
    };
    let question = return_path::Question {
        finger: None,
        share: 0.9,
        counts: None,
    };
    let study = return_path::return_study(&panel, &question, &limits).expect("solved");
    let touch = response.counts.pads[0].touch.as_ref().expect("touched");
    assert_eq!(touch.on_supplies.len(), 2);
    for (one, other) in touch.on_supplies.iter().zip(&study.pads[0].supplies) {
        assert_eq!(one.supply, other.supply);
        // Both to the last bit but for the grid, which return-path judges on the supplies.
        assert!((one.counted.mean / other.counts[0] - 1.0).abs() < 0.01);
        assert!((one.counted.noise / other.noise_counts - 1.0).abs() < 0.01);
    }
    let worst = touch.worst_supply().expect("a supply");
    assert_eq!(worst.supply, "mains");
    assert!(worst.signal_to_noise() < 0.2 * touch.signal_to_noise);
    let trade = Trade::new(&panel.electronics, &response).expect("a trade");
    let (resistor, gate) = trade.own();
    let own = trade.at(resistor, gate, &panel.electronics.scan);
    assert_eq!(own.supply.as_deref(), Some("mains"));
    assert!((own.signal_to_noise / worst.signal_to_noise() - 1.0).abs() < 1e-9);
    // A longer gate does not help against a voltage that is in the band.
    let longer = trade.at(resistor, gate * 4.0, &panel.electronics.scan);
    assert!(longer.signal_to_noise < 1.1 * own.signal_to_noise);
}

#[test]
fn the_file_s_own_pair_gives_what_solve_gives() {
    let (electronics, response) = solved();
    let own = trade().at(
        Resistance::from_kilohms(150.0),
        Time::from_ms(6.0),
        &electronics.scan,
    );
    let counts = response.counts.pad("key").expect("in counts");
    let touch = counts.touch.as_ref().expect("touched");
    let close = |found: f64, expected: f64, relative: f64| {
        assert!(
            (found / expected - 1.0).abs() < relative,
            "{found}, {expected}"
        );
    };
    close(own.base_count, counts.base_count, 1e-12);
    close(own.count_shift, touch.shift.value, 1e-12);
    close(own.signal_to_noise, touch.signal_to_noise, 1e-12);
    let scan = response.counts.scan.expect("a scan was given");
    close(own.budget.response.ms(), scan.response.ms(), 1e-12);
    close(
        own.battery_life.expect("a battery").years(),
        response.counts.battery_life.expect("a battery").years(),
        1e-12,
    );
}

#[test]
fn a_longer_gate_gives_more_ratio_and_takes_more_current() {
    let trade = trade();
    let scan = trade.scan();
    let gates = two_digit_gates(&usual_gates());
    for resistor in preferred_resistors(2) {
        let points: Vec<_> = gates.iter().map(|&g| trade.at(resistor, g, scan)).collect();
        for pair in points.windows(2) {
            assert!(pair[1].signal_to_noise > pair[0].signal_to_noise);
            assert!(pair[1].budget.response.seconds() >= pair[0].budget.response.seconds());
            let currents = [&pair[0], &pair[1]].map(|p| p.budget.average_current.ua());
            // A scan that fills the cycle takes all it can.
            let is_full = pair[0].budget.cycle_is_stretched;
            assert!(is_full || currents[1] > currents[0], "{currents:?}");
        }
    }
}

/// The circuit of the panel with its measured noise as jitter, written out once more.
fn by_hand(ohms: f64, gate: f64, cycle: f64) -> (bool, f64, f64) {
    let (base, shift, error) = key();
    let file = solved().0.circuit.with_noise_in_parts(base + shift);
    let circuit = Circuit {
        principle: match file.principle {
            Principle::ResistorOscillator { thresholds, .. } => Principle::ResistorOscillator {
                resistor: Toleranced::exact(Resistance::from_ohms(ohms)),
                thresholds,
            },
            other => other,
        },
        counting: Counting::Gate(Time::from_seconds(gate)),
        ..file
    };
    let (untouched, touched) = (circuit.count(base), circuit.count(base + shift));
    let ratio = (untouched - touched) / circuit.noise(base + shift).total();
    let frequency = untouched / gate;
    let scan = gate + solved().0.scan.settle.seconds();
    let into_pad = circuit.charging_current(base).amperes() * gate;
    let Scan {
        on_current,
        sleep_current,
        ..
    } = solved().0.scan;
    let current =
        (on_current.amperes() * scan + into_pad + sleep_current.amperes() * (cycle - scan)) / cycle;
    let keeps = (50e3..=2e6).contains(&frequency)
        && (1000.0..=20_000.0).contains(&untouched)
        && ohms <= 500e3
        && scan <= cycle;
    (keeps, ratio * (1.0 - error), current)
}

#[test]
fn the_answer_is_the_least_of_an_exhaustive_search() {
    let trade = trade();
    let resistors = preferred_resistors(1);
    let gates = two_digit_gates(&usual_gates());
    assert_eq!((resistors.len(), gates.len()), (25, 181));
    for (ratio, response_ms) in [(15.0, 60.0), (60.0, 120.0), (100.0, 60.0), (160.0, 150.0)] {
        let question = Question {
            signal_to_noise: ratio,
            response: Some(Time::from_ms(response_ms)),
        };
        let found = answer(&trade, &question, &resistors, &gates);
        assert_eq!(found.points, 25 * 181);
        // Three cycles (two that agree and the phase), 5 ms of filter, 10 ms of feedback.
        let cycle = (response_ms - 15.0) / 3.0 * 1e-3;
        let mut least: Option<(f64, f64, f64)> = None;
        for resistor in &resistors {
            for gate in &gates {
                let (keeps, lower_ratio, current) = by_hand(resistor.ohms(), gate.seconds(), cycle);
                let is_less = least.is_none_or(|(_, _, known)| current < known);
                if keeps && lower_ratio >= ratio && is_less {
                    least = Some((resistor.ohms(), gate.seconds(), current));
                }
            }
        }
        let (ohms, gate, current) = least.expect("there is an answer");
        let best = found.best.expect("there is an answer");
        assert_eq!(
            [best.resistor.ohms(), best.gate.seconds()],
            [ohms, gate],
            "ratio {ratio}"
        );
        let relative = best.budget.average_current.amperes() / current - 1.0;
        assert!(relative.abs() < 1e-12, "{relative}");
        assert!(best.budget.response.ms() <= response_ms * (1.0 + 1e-12));
        // What holds it there: one step shorter breaks something.
        let shorter = found.shorter_gate.expect("a shorter gate was allowed");
        assert!(!shorter.broken.is_empty());
        for other in &found.other_resistors {
            let costs_more = other.point.budget.average_current.amperes() >= current;
            assert!(!other.broken.is_empty() || costs_more);
        }
    }
}

#[test]
fn what_cannot_be_had_is_told_with_the_nearest() {
    let trade = trade();
    let resistors = preferred_resistors(1);
    let gates = two_digit_gates(&usual_gates());
    let ask = |signal_to_noise, milliseconds| {
        let question = Question {
            signal_to_noise,
            response: Some(Time::from_ms(milliseconds)),
        };
        answer(&trade, &question, &resistors, &gates)
    };
    let greedy = ask(1e6, 60.0);
    assert!(greedy.best.is_none());
    let nearest = greedy.nearest.expect("some point is nearest");
    assert_eq!(nearest.broken, ["signal-to-noise ratio"]);
    // Filter and feedback alone take 15 ms.
    let hasty = ask(15.0, 14.0);
    assert!(hasty.best.is_none() && hasty.cycle.is_none() && hasty.nearest.is_none());
}

#[test]
fn a_circuit_without_a_resistor_has_nothing_to_trade() {
    let (electronics, response) = solved();
    let mut other = electronics.clone();
    other.circuit.principle = Principle::ChargeTransfer {
        integration_capacitor: Toleranced::exact(Capacitance::from_pf(47_000.0)),
        reference: 0.5,
        transfer_time: Time::from_us(2.0),
    };
    assert_eq!(Trade::new(&other, response), Err(TradeError::NoResistor));
    let mut untouched = response.clone();
    untouched.pads[0].touch = None;
    assert_eq!(
        Trade::new(electronics, &untouched),
        Err(TradeError::NoTouch)
    );
}

/// A folder with the panel file.
struct Place(tempfile::TempDir);

impl Place {
    fn new() -> Self {
        let folder = tempfile::tempdir().expect("a temporary folder");
        std::fs::write(folder.path().join("key.toml"), PANEL).expect("the panel file");
        Self(folder)
    }

    fn run(&self, arguments: &[&str], code: i32) -> String {
        let output = Command::cargo_bin("padfield")
            .expect("the program is built")
            .current_dir(self.0.path())
            .args(["circuit", "key.toml", "--accuracy", "2%"])
            .args(arguments)
            .assert()
            .code(code)
            .get_output()
            .clone();
        String::from_utf8(if code == 2 {
            output.stderr
        } else {
            output.stdout
        })
        .expect("text")
    }

    fn record(&self, arguments: &[&str], code: i32) -> Value {
        let all = [arguments, &["--json"]].concat();
        serde_json::from_str(&self.run(&all, code)).expect("one object")
    }
}

/// The list of preferred resistors reaches 220 kohm by other last bits than the file.
#[test]
fn the_pair_of_the_panel_file_has_one_row() {
    let place = Place::new();
    let own = ["circuit.resistor=220 kohm", "circuit.gate=5 ms"];
    let text = place.run(&["--set", own[0], "--set", own[1]], 0);
    let rows = text.lines().filter(|line| line.starts_with("panel file"));
    assert_eq!(rows.count(), 1, "{text}");
}

#[test]
fn the_command_answers_and_draws() {
    let place = Place::new();
    let text = place.run(&["--signal-to-noise", "15", "--response", "60ms"], 0);
    for needed in [
        "Asked: S/N at least 15.0 rms (as asked)",
        "Answer: ",
        "Why: ",
        "uA",
    ] {
        assert!(text.contains(needed), "{needed:?} is missing in\n{text}");
    }
    let widest = text
        .lines()
        .filter(|line| !line.starts_with("Chart"))
        .map(|line| line.trim_end().chars().count())
        .max();
    assert!(widest <= Some(100), "{widest:?} columns:\n{text}");
    let folder = place.0.path().join("results/key/circuit");
    let svg = std::fs::read_to_string(folder.join("knee.svg")).expect("the chart");
    for needed in [
        "signal-to-noise ratio",
        "average current (uA)",
        "limit ≥ 15, as asked",
    ] {
        assert!(svg.contains(needed), "{needed:?} is missing in the chart");
    }
    assert!(folder.join("knee.png").is_file());
}

#[test]
fn the_command_takes_lists_and_tells_machines() {
    let place = Place::new();
    let record = place.record(&["--resistor", "100kohm,220 kohm", "--gate", "2ms,4ms"], 0);
    let rows = record["rows"].as_array().expect("rows");
    assert_eq!(rows.len(), 4);
    assert!(record["answer"].is_null(), "nothing was asked");
    let number = |row: usize, key: &str| rows[row][key].as_f64().expect("a number");
    // Without a delay counts would be in proportion to the gate and inverse to the resistor.
    assert!((number(1, "base_count") / number(0, "base_count") - 2.0).abs() < 1e-9);
    assert!(number(0, "base_count") > 2.0 * number(2, "base_count"));

    let record = place.record(&["--signal-to-noise", "1e6", "--response", "60 ms"], 3);
    assert_eq!(record["answer"]["met"], false);
    let text = place.run(&["--response", "10 ms"], 3);
    assert!(
        text.contains("filter and feedback alone take longer"),
        "{text}"
    );

    for (arguments, needed) in [
        (["--response", "60"], "did you mean \"60 ms\"?"),
        (["--resistor", "0 ohm"], "write 1 ohm to 1000 Mohm"),
        (["--signal-to-noise", "-1"], "expected a number above 0"),
        (["--finger", "toe"], "there is no finger \"toe\""),
        (["--set", "circuit.gat=1 ms"], "did you mean"),
    ] {
        let argument = format!("{}={}", arguments[0], arguments[1]);
        let text = place.run(&[&argument], 2);
        assert!(text.contains(needed), "{needed:?} is missing in\n{text}");
    }
}
