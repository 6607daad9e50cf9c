//! The values that can be varied, section by section in the order of the file.

use super::super::measure::Measure;
use super::Motion::{Circuit, Events, Lines, Permittivity, Solved};
use super::Role::{Disturbance, Doubt, Remedy, Spread};
use super::{Motion, Role, Varied};

const fn value(
    path: (&'static str, &'static str),
    measure: Measure,
    motion: Motion,
    range: [f64; 2],
    roles: &'static [Role],
) -> Varied {
    let (section, key) = path;
    Varied {
        section,
        key,
        measure,
        motion,
        range,
        roles,
    }
}

/// A length in millimetres that grid lines carry.
const fn edge(
    section: &'static str,
    key: &'static str,
    range: [f64; 2],
    roles: &'static [Role],
) -> Varied {
    value((section, key), Measure::Length, Lines, range, roles)
}

/// A point or an offset in millimetres.
const fn place(section: &'static str, key: &'static str) -> Varied {
    edge(section, key, [-500.0, 500.0], NONE)
}

/// Something only `window` and `tolerance` weigh.
const fn event(
    section: &'static str,
    key: &'static str,
    measure: Measure,
    range: [f64; 2],
    roles: &'static [Role],
) -> Varied {
    value((section, key), measure, Events, range, roles)
}

/// A value of the measuring circuit.
const fn circuit(
    key: &'static str,
    measure: Measure,
    range: [f64; 2],
    roles: &'static [Role],
) -> Varied {
    value(("circuit", key), measure, Circuit, range, roles)
}

const NONE: &[Role] = &[];
const SPREAD: &[Role] = &[Spread];
const TURNED: &[Role] = &[Remedy, Spread];
const DOUBTED: &[Role] = &[Remedy, Spread, Doubt];
const DISTURBING: &[Role] = &[Disturbance];

/// Every value that can be varied.
pub const VARIED: &[Varied] = &[
    edge("", "wall_distance", [20.0, 1000.0], NONE),
    edge("layer", "thickness", [0.0, 50.0], DOUBTED),
    edge("layer", "outline", [5.0, 1000.0], NONE),
    place("layer", "centre"),
    value(
        ("layer", "permittivity"),
        Measure::Number,
        Permittivity,
        [1.0, 100.0],
        DOUBTED,
    ),
    value(
        ("layer", "voids"),
        Measure::Share,
        Permittivity,
        [0.0, 100.0],
        NONE,
    ),
    edge("layer", "copper", [0.001, 0.4], NONE),
    value(
        ("material", "permittivity"),
        Measure::Number,
        Permittivity,
        [1.0, 100.0],
        NONE,
    ),
    edge("board", "outline", [5.0, 1000.0], NONE),
    edge("pads", "size", [1.0, 100.0], TURNED),
    edge("pads", "corner_radius", [0.0, 50.0], SPREAD),
    edge("pads", "diameter", [1.0, 200.0], TURNED),
    edge("pads", "inner_diameter", [0.5, 200.0], TURNED),
    edge("pads", "hole", [0.0, 50.0], DOUBTED),
    edge("pads", "corners", [-200.0, 200.0], NONE),
    edge("pads", "pitch", [1.0, 100.0], TURNED),
    edge("pads", "height", [1.0, 100.0], TURNED),
    edge("pads", "overlap", [0.0, 50.0], TURNED),
    value(
        ("pads", "rotation"),
        Measure::Angle,
        Solved,
        [-180.0, 180.0],
        NONE,
    ),
    edge("pads", "gap", [0.1, 100.0], TURNED),
    place("pads", "centre"),
    value(
        ("pads", "trace_length"),
        Measure::Length,
        Circuit,
        [0.0, 1000.0],
        &[Remedy],
    ),
    // A leak has a depth, no lines of its own.
    value(
        ("ground", "line"),
        Measure::Length,
        Solved,
        [0.05, 5.0],
        DOUBTED,
    ),
    value(
        ("ground", "pitch"),
        Measure::Length,
        Solved,
        [0.2, 20.0],
        DOUBTED,
    ),
    edge("ground", "outline", [1.0, 1000.0], SPREAD),
    place("ground", "centre"),
    edge("ground", "clearance", [0.1, 20.0], TURNED),
    value(
        ("shield", "gain"),
        Measure::Number,
        Solved,
        [0.0, 1.2],
        DOUBTED,
    ),
    value(
        ("shield", "line"),
        Measure::Length,
        Solved,
        [0.05, 5.0],
        DOUBTED,
    ),
    value(
        ("shield", "pitch"),
        Measure::Length,
        Solved,
        [0.2, 20.0],
        DOUBTED,
    ),
    edge("shield", "outline", [1.0, 1000.0], SPREAD),
    place("shield", "centre"),
    edge("shield", "clearance", [0.1, 20.0], TURNED),
    edge("guard", "width", [0.0, 20.0], TURNED),
    edge("guard", "clearance", [0.1, 20.0], TURNED),
    value(
        ("guard", "gain"),
        Measure::Number,
        Solved,
        [0.0, 1.2],
        &[Spread, Doubt],
    ),
    edge("trace", "width", [0.05, 5.0], DOUBTED),
    edge("trace", "path", [-500.0, 500.0], NONE),
    edge("trace", "keepout", [0.05, 20.0], TURNED),
    edge("trace", "via", [0.1, 5.0], NONE),
    edge("bezel", "opening", [5.0, 1000.0], SPREAD),
    place("bezel", "centre"),
    edge("bezel", "width", [0.5, 100.0], SPREAD),
    edge("bezel", "height", [0.1, 50.0], SPREAD),
    edge("object", "size", [1.0, 1000.0], SPREAD),
    place("object", "centre"),
    edge("object", "thickness", [0.1, 100.0], SPREAD),
    edge("object", "behind", [0.0, 200.0], TURNED),
    edge("object", "before", [0.0, 200.0], SPREAD),
    edge("slot", "width", [0.0, 50.0], DOUBTED),
    place("slot", "centre"),
    edge("slot", "size", [0.0, 200.0], DOUBTED),
    edge("slot", "depth", [0.0, 50.0], DOUBTED),
    edge("film", "size", [1.0, 500.0], SPREAD),
    edge("film", "diameter", [0.5, 500.0], SPREAD),
    place("film", "centre"),
    edge("film", "thickness", [0.01, 10.0], SPREAD),
    // The profile between contact and dome has no grid lines.
    value(
        ("finger", "contact"),
        Measure::Length,
        Solved,
        [2.0, 30.0],
        SPREAD,
    ),
    value(
        ("finger", "dome"),
        Measure::Length,
        Solved,
        [3.0, 40.0],
        SPREAD,
    ),
    edge("finger", "length", [1.0, 200.0], NONE),
    edge("finger", "offset", [-50.0, 50.0], SPREAD),
    value(
        ("finger", "return"),
        Measure::Capacitance,
        Circuit,
        [1.0, 1000.0],
        NONE,
    ),
    edge("finger", "distance", [0.0, 300.0], NONE),
    value(
        ("finger", "glove"),
        Measure::Length,
        Solved,
        [0.0, 10.0],
        NONE,
    ),
    value(
        ("finger", "glove_permittivity"),
        Measure::Number,
        Permittivity,
        [1.0, 100.0],
        NONE,
    ),
    event("finger", "aim_error", Measure::Length, [0.0, 30.0], NONE),
    value(
        ("stray", "pin"),
        Measure::Capacitance,
        Circuit,
        [0.0, 100.0],
        DOUBTED,
    ),
    value(
        ("stray", "trace"),
        Measure::LineCapacitance,
        Circuit,
        [0.0, 5.0],
        DOUBTED,
    ),
    event(
        "supply",
        "to_earth",
        Measure::Capacitance,
        [0.1, 10_000.0],
        SPREAD,
    ),
    event(
        "supply",
        "held",
        Measure::Capacitance,
        [0.1, 10_000.0],
        SPREAD,
    ),
    event(
        "supply",
        "common_mode",
        Measure::Voltage,
        [0.0, 100.0],
        DISTURBING,
    ),
    event(
        "window",
        "body",
        Measure::Capacitance,
        [10.0, 1000.0],
        SPREAD,
    ),
    event("window", "aim_error", Measure::Length, [0.0, 30.0], NONE),
    event(
        "window",
        "palm_distance",
        Measure::Length,
        [0.0, 300.0],
        NONE,
    ),
    event(
        "window",
        "drift_residue",
        Measure::Capacitance,
        [0.0, 10.0],
        NONE,
    ),
    circuit("resistor", Measure::Resistance, [0.1, 100_000.0], DOUBTED),
    circuit("current", Measure::Current, [0.01, 10_000.0], DOUBTED),
    circuit(
        "integration_capacitor",
        Measure::Capacitance,
        [10.0, 1e7],
        DOUBTED,
    ),
    circuit("reference", Measure::Share, [1.0, 99.0], NONE),
    circuit("transfer_time", Measure::Time, [1e-4, 1.0], NONE),
    circuit("supply", Measure::Voltage, [0.5, 30.0], NONE),
    circuit("comparator_delay", Measure::Time, [0.0, 1.0], NONE),
    circuit("gate", Measure::Time, [0.01, 1000.0], &[Remedy]),
    circuit("reference_clock", Measure::Frequency, [0.01, 1000.0], NONE),
    circuit("noise", Measure::Counts, [0.0, 10_000.0], DISTURBING),
    circuit("comparator_noise", Measure::Voltage, [0.0, 1.0], DISTURBING),
    circuit(
        "low_frequency_noise",
        Measure::Share,
        [0.0, 10.0],
        DISTURBING,
    ),
    circuit("common_mode", Measure::Voltage, [0.0, 100.0], DISTURBING),
    circuit("series_resistor", Measure::Resistance, [0.0, 1000.0], NONE),
];
