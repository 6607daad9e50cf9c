//! What a point is computed from, as one canonical record, and the hash that names it.
//!
//! The record depends on what the panel means, not on how it is written: not on units, comments,
//! titles, names of materials, the order of keys, or whether a value is given or a default. Lengths are
//! rounded to a femtometre and permittivities to 1e-12, so that the last bit of a unit's factor
//! ("12.7 mm" or "0.5 in") makes no difference.
//!
//! Everything is taken apart without `..`: a new field of the panel does not compile here until it is in the
//! record, or left out for a reason that stands beside it.

use super::metal_inputs::{area_record, bezel_record, guard_record, object_record, trace_record};
use crate::measuring_circuit::{
    Circuit, Counting, NoiseParts, NoiseSource, Principle, Start, Thresholds,
};
use crate::panel::{
    CopperModel, Electronics, Film, FilmBound, FilmShape, Finger, Glove, IdleState, Layer,
    LayerContent, LayerOutline, Model, Outline, Pad, Panel, ReturnPath, Slot, SlotPlace, SlotSide,
    Stray,
};
use padfield_engine::units::{Length, Toleranced};
use serde_json::{Value, json};

/// Version of everything that decides the numbers of a point. The part behind the plus sign goes up
/// with every change to the engine that changes numbers between releases.
pub const ENGINE: &str = concat!(env!("CARGO_PKG_VERSION"), "+8");

/// Hash of the inputs and numerics of a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct PointKey(pub [u8; 32]);

impl PointKey {
    /// Of an inputs record (see [`inputs_of`]) solved to a relative accuracy by this engine.
    pub fn new(inputs: &Value, accuracy: f64) -> Self {
        let numerics = json!({ "accuracy": accuracy, "engine": ENGINE });
        let mut hasher = blake3::Hasher::new();
        hasher.update(inputs.to_string().as_bytes());
        hasher.update(b"\n");
        hasher.update(numerics.to_string().as_bytes());
        Self(*hasher.finalize().as_bytes())
    }
}

/// The record of a panel touched by one of its fingers (none: the first).
pub fn inputs_of(panel: &Panel, finger: Option<&str>) -> Value {
    let Panel {
        board,
        layers,
        pads,
        grounds,
        guards,
        traces,
        bezels,
        objects,
        slots,
        films,
        fingers,
        idle,
        stray,
        electronics,
        model,
        copper,
        wall_distance,
        // Words for people.
        title: _,
        revision: _,
        // How pads came to their places, which are in the record.
        groups: _,
        sliders: _,
        // What windows, drift and discharge make of the numbers.
        usage: _,
        environment: _,
    } = panel;
    let Electronics {
        circuit,
        // Neither makes counts.
        scan: _,
        battery: _,
        // At the temperature the circuit is given for.
        drift: _,
        given: _,
    } = electronics;
    let Stray { pin, trace } = stray;
    let finger = match finger {
        Some(name) => fingers.iter().find(|f| f.name == name),
        None => fingers.first(),
    };
    let mut record = json!({
        "model": match model.value {
            Model::Volume => "volume",
            Model::Axisymmetric => "axisymmetric",
            Model::Section => "section",
        },
        "idle": match idle.value {
            IdleState::Grounded => "grounded",
            IdleState::Floating => "floating",
            IdleState::Driven => "driven",
        },
        "copper": match copper.value {
            CopperModel::Sheet => "sheet",
            CopperModel::Thick => "thick",
        },
        "wall_distance_mm": mm(wall_distance.value),
        "board_mm": board.value.map(mm),
        "layers": layers.iter().map(layer_record).collect::<Vec<_>>(),
        "pads": by_name(pads, |pad| &pad.name, pad_record),
        "grounds": by_name(grounds, |area| &area.name, area_record),
        "guards": by_name(guards, |guard| &guard.name, guard_record),
        "finger": finger.map(finger_record),
        "stray": {
            "pin_pf": toleranced(&pin.value, |c| decimal(c.farads(), 1e24, 12)),
            "trace_pf_per_cm": toleranced(
                &trace.value,
                |c| decimal(c.farads_per_metre(), 1e22, 12),
            ),
        },
        "circuit": circuit_record(circuit),
    });
    // Only where there are any: panels without keep the keys of their stored points.
    let more = [
        ("slots", slot_records(slots)),
        ("films", by_name(films, |film| &film.name, film_record)),
        ("traces", by_name(traces, |trace| &trace.name, trace_record)),
        ("bezels", by_name(bezels, |bezel| &bezel.name, bezel_record)),
        (
            "objects",
            by_name(objects, |object| &object.name, object_record),
        ),
    ];
    for (key, records) in more {
        if !records.is_empty() {
            record[key] = json!(records);
        }
    }
    record
}

/// Records in the order of the names, whatever that of the file.
fn by_name<T>(all: &[T], name: impl Fn(&T) -> &String, record: impl Fn(&T) -> Value) -> Vec<Value> {
    let mut all: Vec<&T> = all.iter().collect();
    all.sort_by(|a, b| name(a).cmp(name(b)));
    all.into_iter().map(record).collect()
}

fn layer_record(layer: &Layer) -> Value {
    let Layer {
        name,
        thickness,
        content,
        outline,
    } = layer;
    let mut record = json!({
        "name": name,
        "thickness_mm": toleranced(thickness, mm),
        "permittivity": match content {
            // Two materials of one permittivity are one.
            LayerContent::Dielectric { permittivity, material: _, source: _ } => {
                toleranced(permittivity, |p| decimal(p.relative(), 1e12, 12))
            }
            LayerContent::Copper => json!("copper"),
        },
    });
    // Only where there is one: other panels keep the keys of their stored points.
    if let Some(LayerOutline { size, centre }) = outline {
        record["outline_mm"] = json!([size.map(mm), centre.map(mm)]);
    }
    record
}

fn pad_record(pad: &Pad) -> Value {
    let Pad {
        name,
        group,
        layer,
        outline,
        rotation_degrees,
        centre,
        hole,
        trace_length,
        // Follows from the outlines.
        feature: _,
    } = pad;
    let mut record = json!({
        "name": name,
        "group": group,
        "layer": layer,
        "outline": outline_record(outline),
        "rotation_deg": decimal(*rotation_degrees, 1e9, 9),
        "centre_mm": centre.map(mm),
        "trace_length_mm": mm(trace_length.value),
    });
    if let Some(diameter) = hole {
        record["hole_mm"] = json!(mm(*diameter));
    }
    record
}

/// In file order, because a later slot is cut over an earlier one.
fn slot_records(slots: &[Slot]) -> Vec<Value> {
    let cut = slots.iter().filter(|slot| !slot.is_empty());
    cut.map(|slot| {
        let Slot {
            name: _,
            layer,
            place,
            depth,
            side,
            filling,
        } = slot;
        json!({
            "layer": layer,
            "place": match place {
                SlotPlace::Between { group, width } => json!([group, mm(*width)]),
                SlotPlace::Own { centre, size } => json!([centre.map(mm), size.map(mm)]),
            },
            "depth_mm": mm(*depth),
            "from_front": *side == SlotSide::Front,
            "permittivity": decimal(filling.permittivity().relative(), 1e12, 12),
        })
    })
    .collect()
}

/// What counts depend on: twelve digits of every number in SI units. Scan and battery make none.
fn circuit_record(circuit: &Circuit) -> Value {
    let Circuit {
        principle,
        counting,
        start,
        supply,
        comparator_delay,
        noise,
        common_mode,
        // It is checked, and slows nothing.
        series_resistor: _,
    } = circuit;
    json!({
        "principle": match principle {
            Principle::ResistorOscillator { resistor, thresholds } => json!({
                "resistor_ohm": toleranced(resistor, |r| digits(r.ohms())),
                "thresholds": between(thresholds),
            }),
            Principle::CurrentOscillator { current, thresholds } => json!({
                "current_a": toleranced(current, |i| digits(i.amperes())),
                "thresholds": between(thresholds),
            }),
            Principle::ChargeTransfer { integration_capacitor, reference, transfer_time } => json!({
                "integration_f": toleranced(integration_capacitor, |c| digits(c.farads())),
                "reference": digits(*reference),
                "transfer_s": digits(transfer_time.seconds()),
            }),
        },
        "counting": match counting {
            Counting::Gate(gate) => json!({ "gate_s": digits(gate.seconds()) }),
            Counting::Periods { periods, reference_clock } => json!({
                "periods": periods,
                "clock_hz": digits(reference_clock.hertz()),
            }),
        },
        "synchronised": *start == Start::Synchronised,
        "supply_v": digits(supply.volts()),
        "delay_s": digits(comparator_delay.seconds()),
        "noise": match noise {
            NoiseSource::Measured(total) => json!({ "counts": digits(*total) }),
            NoiseSource::Parts(NoiseParts { comparator, period_jitter, low_frequency }) => json!([
                digits(comparator.volts()),
                digits(*period_jitter),
                digits(*low_frequency),
            ]),
        },
        "common_mode_v": digits(common_mode.volts()),
    })
}

fn between(thresholds: &Thresholds) -> [String; 2] {
    let Thresholds { low, high } = thresholds;
    [digits(*low), digits(*high)]
}

fn digits(value: f64) -> String {
    format!("{value:.11e}")
}

/// The record of a point whose panel cannot be built: its scenario and what was set.
pub fn unresolved_inputs(scenario: &str, set: &[(String, String)]) -> Value {
    let set: serde_json::Map<String, Value> = set
        .iter()
        .map(|(path, value)| (path.clone(), json!(value)))
        .collect();
    json!({ "unresolved": { "scenario": scenario, "set": set } })
}

fn finger_record(finger: &Finger) -> Value {
    let Finger {
        contact,
        dome,
        length,
        on,
        offset,
        distance,
        return_path,
        glove,
        // Events of the window are no part of a point.
        aim_error: _,
        name: _,
        source: _,
    } = finger;
    let mut record = json!({
        "contact_mm": mm(*contact),
        "dome_mm": mm(*dome),
        "length_mm": mm(length.value),
        "on": on,
        "offset_mm": offset.map(mm),
        "return_pf": match return_path {
            ReturnPath::Earthed => json!("earthed"),
            ReturnPath::Through(c) => json!(decimal(c.farads(), 1e24, 12)),
        },
        "glove": glove.map(|Glove { thickness, permittivity }| json!([
            mm(thickness),
            decimal(permittivity.relative(), 1e12, 12),
        ])),
    });
    if distance.metres() > 0.0 {
        record["distance_mm"] = json!(mm(*distance));
    }
    record
}

fn film_record(film: &Film) -> Value {
    let Film {
        name,
        shape,
        centre,
        thickness,
        bound,
        // It tells which bound is nearer.
        conductivity: _,
    } = film;
    json!({
        "name": name,
        "shape": match *shape {
            FilmShape::Rectangle { width, height } => json!({ "rectangle_mm": [mm(width), mm(height)] }),
            FilmShape::Disc { diameter } => json!({ "disc_mm": mm(diameter) }),
        },
        "centre_mm": centre.map(mm),
        "thickness_mm": mm(*thickness),
        "treat_as": match bound {
            FilmBound::Dielectric => "dielectric",
            FilmBound::Floating => "floating",
            FilmBound::Earthed => "earthed",
        },
    })
}

fn outline_record(outline: &Outline) -> Value {
    match outline {
        Outline::Rectangle { width, height } => {
            json!({ "rectangle_mm": [mm(*width), mm(*height)] })
        }
        Outline::RoundedRectangle {
            width,
            height,
            corner_radius,
        } => {
            json!({ "rounded_rectangle_mm": [mm(*width), mm(*height), mm(*corner_radius)] })
        }
        Outline::Disc { diameter } => json!({ "disc_mm": mm(*diameter) }),
        Outline::Ring {
            outer_diameter,
            inner_diameter,
        } => json!({ "ring_mm": [mm(*outer_diameter), mm(*inner_diameter)] }),
        Outline::Polygon { corners } => json!({
            "polygon_mm": corners.iter().map(|corner| corner.map(mm)).collect::<Vec<_>>()
        }),
    }
}

fn toleranced<Q: Copy>(value: &Toleranced<Q>, show: impl Fn(Q) -> String) -> Value {
    json!([show(value.nominal), show(value.least), show(value.most)])
}

/// Millimetres to the femtometre.
pub(super) fn mm(length: Length) -> String {
    decimal(length.metres(), 1e15, 12)
}

/// `value` in steps of `1 / per_unit`, as a decimal with at most so many digits behind the point.
pub(super) fn decimal(value: f64, per_unit: f64, decimals: usize) -> String {
    let steps = (value * per_unit).round() as i128;
    let one = 10_i128.pow(decimals as u32);
    let (whole, part) = (steps.abs() / one, steps.abs() % one);
    let sign = if steps < 0 { "-" } else { "" };
    let text = format!("{sign}{whole}.{part:0decimals$}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}
