//! The measuring circuit, its limits, and the constants the firmware gets.

use crate::measuring_circuit::{
    CHECK_SOURCE, Circuit, Counting, NoiseSource, PEAK_TO_PEAK_OVER_RMS, Principle, Start,
    Thresholds,
};
use crate::note::facts::Facts;
use crate::note::words::{SHIFT_DIGITS, TYPED_IN, counts, decimal, mark, range_of};
use crate::questions::circuit::{self, Question, Trade};
use crate::questions::window::{pad_name, worth};
use crate::report::{Block, Figure, Table};
use crate::response::scan_table;
use crate::rounding::significant;
use padfield_chart::{Chart, ChartError};
use padfield_engine::units::{Capacitance, Current, Resistance, Toleranced};

pub(super) fn blocks(facts: &Facts<'_>) -> Result<Vec<Block>, ChartError> {
    let mut blocks = vec![Block::Table(circuit_table(facts))];
    blocks.extend(checks(facts).map(Block::Table));
    blocks.extend(scan_table(&facts.response.counts).map(|table| {
        Block::Table(Table {
            command: facts.solve_command(),
            ..table
        })
    }));
    if let Some(figure) = knee(facts) {
        blocks.push(Block::Figure(figure));
        let elsewhere = circuit::judged_elsewhere(facts.order.panel, &facts.response);
        blocks.extend(elsewhere.map(Block::paragraph));
    }
    blocks.push(Block::heading("Firmware constants"));
    blocks.extend(constants(facts));
    Ok(blocks)
}

fn circuit_table(facts: &Facts<'_>) -> Table {
    let electronics = &facts.order.panel.electronics;
    let circuit = &electronics.circuit;
    let mut table = Table::new(
        "Measuring circuit",
        &["what", "value", "tolerance range", "origin"],
        1,
    )
    .with_words_in(&[3]);
    table.remark = TYPED_IN.to_owned();
    for entry in [principle(circuit), counting(circuit), comparator(circuit)].concat() {
        let origin = electronics.origin(&format!("circuit.{}", entry.key));
        table.row(vec![
            entry.what.to_owned(),
            entry.value,
            entry.range,
            mark(origin),
        ]);
    }
    table
}

/// A row of the circuit: a value, its range over the tolerance, its key under `circuit`.
#[derive(Clone)]
struct Entry {
    what: &'static str,
    value: String,
    range: String,
    key: &'static str,
}

fn exact(what: &'static str, value: impl ToString, key: &'static str) -> Entry {
    Entry {
        what,
        value: value.to_string(),
        range: "-".to_owned(),
        key,
    }
}

fn toleranced<Q: Copy>(
    what: &'static str,
    value: &Toleranced<Q>,
    in_unit: fn(Q) -> f64,
    key: &'static str,
) -> Entry {
    let show = |one| decimal(in_unit(one));
    Entry {
        range: range_of(value, show),
        ..exact(what, show(value.nominal), key)
    }
}

fn principle(circuit: &Circuit) -> Vec<Entry> {
    let named = |name: &str| exact("principle", name, "principle");
    let thresholds = |at: &Thresholds| {
        let both = format!("{} and {}", decimal(at.low), decimal(at.high));
        exact("thresholds over supply", both, "thresholds")
    };
    match &circuit.principle {
        Principle::ResistorOscillator {
            resistor,
            thresholds: at,
        } => vec![
            named("resistor oscillator"),
            toleranced("resistor, kohm", resistor, Resistance::kilohms, "resistor"),
            thresholds(at),
        ],
        Principle::CurrentOscillator {
            current,
            thresholds: at,
        } => vec![
            named("current oscillator"),
            toleranced("current, uA", current, Current::ua, "current"),
            thresholds(at),
        ],
        Principle::ChargeTransfer {
            integration_capacitor,
            reference,
            transfer_time,
        } => vec![
            named("charge transfer"),
            toleranced(
                "integration capacitor, pF",
                integration_capacitor,
                Capacitance::pf,
                "integration_capacitor",
            ),
            exact("reference over supply", decimal(*reference), "reference"),
            exact(
                "time of a transfer, us",
                decimal(transfer_time.us()),
                "transfer_time",
            ),
        ],
    }
}

fn counting(circuit: &Circuit) -> Vec<Entry> {
    match circuit.counting {
        _ if matches!(circuit.principle, Principle::ChargeTransfer { .. }) => Vec::new(),
        Counting::Gate(gate) => vec![exact("gate, ms", decimal(gate.ms()), "gate")],
        Counting::Periods {
            periods,
            reference_clock,
        } => vec![
            exact("periods of one measurement", periods, "periods"),
            exact(
                "reference clock, kHz",
                decimal(reference_clock.khz()),
                "reference_clock",
            ),
        ],
    }
}

fn comparator(circuit: &Circuit) -> Vec<Entry> {
    let start = match circuit.start {
        Start::Free => "free-running",
        Start::Synchronised => "together with what is counted",
    };
    let (noise, rms, key) = match circuit.noise {
        NoiseSource::Measured(rms) => ("noise, counts rms, entered", rms, "noise"),
        NoiseSource::Parts(parts) => (
            "noise of the comparator, mV rms, entered",
            parts.comparator.mv(),
            "comparator_noise",
        ),
    };
    vec![
        exact("supply, V", decimal(circuit.supply.volts()), "supply"),
        exact(
            "delay of the comparator, ns",
            decimal(circuit.comparator_delay.ns()),
            "comparator_delay",
        ),
        exact("start", start, "start"),
        exact(noise, decimal(rms), key),
    ]
}

fn checks(facts: &Facts<'_>) -> Option<Table> {
    let mut table = Table::new(
        "Limits of the circuit",
        &[
            "pad", "what", "value", "at least", "at most", "unit", "holds",
        ],
        2,
    )
    .with_words_in(&[5, 6]);
    table.command = facts.solve_command();
    table.remark = format!("Limits: {CHECK_SOURCE}.");
    for pad in &facts.response.counts.pads {
        for check in &pad.checks {
            let end = |end: Option<f64>| end.map_or("-".to_owned(), decimal);
            table.row(vec![
                pad.pad.clone(),
                check.name.to_owned(),
                significant(check.value, 3),
                end(check.at_least),
                end(check.at_most),
                check.unit.to_owned(),
                if check.holds() { "yes" } else { "no" }.to_owned(),
            ]);
        }
    }
    (!table.rows.is_empty()).then_some(table)
}

/// Signal-to-noise ratio and current over the gate, as `circuit` draws them; none without a resistor or a touch.
fn knee(facts: &Facts<'_>) -> Option<Figure> {
    let trade = Trade::new(&facts.order.panel.electronics, &facts.response).ok()?;
    let question = Question {
        signal_to_noise: circuit::USUAL_SIGNAL_TO_NOISE,
        response: None,
    };
    let drawn = circuit::picture(
        &trade,
        &question,
        CHECK_SOURCE,
        &circuit::preferred_resistors(circuit::TABLE_EVERY),
        &circuit::usual_gates(),
        None,
        &circuit::caption(&facts.response.finger),
    );
    let stacked = drawn.ok()?;
    Some(Figure {
        name: "knee".to_owned(),
        caption: "Signal-to-noise ratio and average current against the gate, a line for each resistor"
            .to_owned(),
        alternative: "Two line charts over the gate time: signal-to-noise ratio of the weakest pad and average \
                      current, a line for each resistor, with their limits."
            .to_owned(),
        svg: stacked.svg().ok()?,
        command: facts.circuit_command(),
    })
}

fn constants(facts: &Facts<'_>) -> Vec<Block> {
    let Some(window) = facts.decided() else {
        return vec![Block::paragraph(
            "None: the threshold window was not decided.",
        )];
    };
    let mut table = Table::new(
        "Constants per pad, counts towards a touch",
        &[
            "pad",
            "base count",
            "noise rms",
            "noise peak to peak",
            "threshold",
            "release",
            "hysteresis",
            "debounce, scans",
        ],
        1,
    );
    table.command = facts.window_command();
    for pad in window.pads.iter().filter(|pad| pad.weakest_true.is_some()) {
        let reference = window
            .table
            .references
            .iter()
            .find(|r| Some(r.pad) == pad.pad);
        let chosen = |value: Option<f64>| value.map_or("none".to_owned(), counts);
        let choice = pad.choice;
        table.row(vec![
            pad_name(window, pad).to_owned(),
            reference.map_or(String::new(), |r| significant(r.base_count, 4)),
            reference.map_or(String::new(), |r| significant(r.noise, SHIFT_DIGITS)),
            reference.map_or(String::new(), |r| {
                significant(PEAK_TO_PEAK_OVER_RMS * r.noise, SHIFT_DIGITS)
            }),
            chosen(choice.map(|choice| choice.threshold)),
            chosen(choice.map(|choice| choice.release)),
            chosen(choice.map(|choice| choice.threshold - choice.release)),
            choice.map_or("none".to_owned(), |choice| choice.debounce.to_string()),
        ]);
    }
    let mut blocks = vec![Block::Table(table)];
    let binding = window.binding();
    blocks.extend(binding.choice.map(|choice| {
        let words = worth(facts.order.panel, &choice).join(" ");
        Block::paragraph(format!("On pad \"{}\": {words}", pad_name(window, binding)))
    }));
    let way = match facts.response.counts.rises {
        true => "A touch makes the count rise.",
        false => "A touch makes the count fall.",
    };
    blocks.push(Block::paragraph(way));
    blocks
}
