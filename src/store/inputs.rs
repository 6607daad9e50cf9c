//! What a point is computed from, as one canonical record, and the hash that names it.
//!
//! The record depends on what the panel means, not on how it is written: not on units, comments,
//! titles, names of materials, the order of keys, or whether a value is given or a default. Lengths are
//! rounded to a femtometre and permittivities to 1e-12, so that the last bit of a unit's factor
//! ("12.7 mm" or "0.5 in") makes no difference.

use super::metal_inputs::{add_surroundings, area_record, guard_record};
use crate::measuring_circuit::{Circuit, Counting, NoiseSource, Principle, Start};
use crate::panel::{
    CopperModel, Film, FilmBound, FilmShape, Finger, IdleState, Layer, LayerContent, Model,
    Outline, Pad, Panel, ReturnPath, SlotPlace, SlotSide,
};
use padfield_engine::units::{Length, Toleranced};
use serde_json::{Value, json};

/// Version of everything that decides the numbers of a point. The part behind the plus sign goes up
/// with every change to the engine that changes numbers between releases.
pub const ENGINE: &str = concat!(env!("CARGO_PKG_VERSION"), "+5");

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
    let finger = match finger {
        Some(name) => panel.fingers.iter().find(|f| f.name == name),
        None => panel.fingers.first(),
    };
    let mut pads: Vec<&Pad> = panel.pads.iter().collect();
    pads.sort_by(|a, b| a.name.cmp(&b.name));
    let mut grounds: Vec<_> = panel.grounds.iter().collect();
    grounds.sort_by(|a, b| a.name.cmp(&b.name));
    let mut guards: Vec<_> = panel.guards.iter().collect();
    guards.sort_by(|a, b| a.name.cmp(&b.name));
    let mut record = json!({
        "model": match panel.model.value {
            Model::Volume => "volume",
            Model::Axisymmetric => "axisymmetric",
            Model::Section => "section",
        },
        "idle": match panel.idle.value {
            IdleState::Grounded => "grounded",
            IdleState::Floating => "floating",
            IdleState::Driven => "driven",
        },
        "copper": match panel.copper.value {
            CopperModel::Sheet => "sheet",
            CopperModel::Thick => "thick",
        },
        "wall_distance_mm": mm(panel.wall_distance.value),
        "board_mm": panel.board.value.map(mm),
        "layers": panel.layers.iter().map(layer_record).collect::<Vec<_>>(),
        "pads": pads.into_iter().map(pad_record).collect::<Vec<_>>(),
        "grounds": grounds.into_iter().map(area_record).collect::<Vec<_>>(),
        "guards": guards.into_iter().map(guard_record).collect::<Vec<_>>(),
        "finger": finger.map(finger_record),
        "stray": {
            "pin_pf": toleranced(&panel.stray.pin.value, |c| decimal(c.farads(), 1e24, 12)),
            "trace_pf_per_cm": toleranced(
                &panel.stray.trace.value,
                |c| decimal(c.farads_per_metre(), 1e22, 12),
            ),
        },
        "circuit": circuit_record(&panel.electronics.circuit),
    });
    // Only where there are any: panels without keep the keys of their stored points.
    let slots = slot_records(panel);
    if !slots.is_empty() {
        record["slots"] = json!(slots);
    }
    // Only where there are any: the record of a dry panel is what it was before there were films.
    if !panel.films.is_empty() {
        let mut films: Vec<_> = panel.films.iter().collect();
        films.sort_by(|a, b| a.name.cmp(&b.name));
        record["films"] = films.into_iter().map(film_record).collect();
    }
    add_surroundings(panel, &mut record);
    record
}

fn layer_record(layer: &Layer) -> Value {
    let mut record = json!({
        "name": layer.name,
        "thickness_mm": toleranced(&layer.thickness, mm),
        "permittivity": match &layer.content {
            LayerContent::Dielectric { permittivity, .. } => {
                toleranced(permittivity, |p| decimal(p.relative(), 1e12, 12))
            }
            LayerContent::Copper => json!("copper"),
        },
    });
    // Only where there is one: other panels keep the keys of their stored points.
    if let Some(outline) = layer.outline {
        record["outline_mm"] = json!([outline.size.map(mm), outline.centre.map(mm)]);
    }
    record
}

fn pad_record(pad: &Pad) -> Value {
    let mut record = json!({
        "name": pad.name,
        "group": pad.group,
        "layer": pad.layer,
        "outline": outline(&pad.outline),
        "rotation_deg": decimal(pad.rotation_degrees, 1e9, 9),
        "centre_mm": pad.centre.map(mm),
        "trace_length_mm": mm(pad.trace_length.value),
    });
    if let Some(diameter) = pad.hole {
        record["hole_mm"] = json!(mm(diameter));
    }
    record
}

/// In file order, because a later slot is cut over an earlier one.
fn slot_records(panel: &Panel) -> Vec<Value> {
    let cut = panel.slots.iter().filter(|slot| !slot.is_empty());
    cut.map(|slot| {
        json!({
            "layer": slot.layer,
            "place": match &slot.place {
                SlotPlace::Between { group, width } => json!([group, mm(*width)]),
                SlotPlace::Own { centre, size } => json!([centre.map(mm), size.map(mm)]),
            },
            "depth_mm": mm(slot.depth),
            "from_front": slot.side == SlotSide::Front,
            "permittivity": decimal(slot.filling.permittivity().relative(), 1e12, 12),
        })
    })
    .collect()
}

/// What counts depend on: twelve digits of every number in SI units. Scan and battery make none.
fn circuit_record(circuit: &Circuit) -> Value {
    json!({
        "principle": match &circuit.principle {
            Principle::ResistorOscillator { resistor, thresholds } => json!({
                "resistor_ohm": toleranced(resistor, |r| digits(r.ohms())),
                "thresholds": [digits(thresholds.low), digits(thresholds.high)],
            }),
            Principle::CurrentOscillator { current, thresholds } => json!({
                "current_a": toleranced(current, |i| digits(i.amperes())),
                "thresholds": [digits(thresholds.low), digits(thresholds.high)],
            }),
            Principle::ChargeTransfer { integration_capacitor, reference, transfer_time } => json!({
                "integration_f": toleranced(integration_capacitor, |c| digits(c.farads())),
                "reference": digits(*reference),
                "transfer_s": digits(transfer_time.seconds()),
            }),
        },
        "counting": match circuit.counting {
            Counting::Gate(gate) => json!({ "gate_s": digits(gate.seconds()) }),
            Counting::Periods { periods, reference_clock } => json!({
                "periods": periods,
                "clock_hz": digits(reference_clock.hertz()),
            }),
        },
        "synchronised": circuit.start == Start::Synchronised,
        "supply_v": digits(circuit.supply.volts()),
        "delay_s": digits(circuit.comparator_delay.seconds()),
        "noise": match circuit.noise {
            NoiseSource::Measured(total) => json!({ "counts": digits(total) }),
            NoiseSource::Parts(parts) => json!([
                digits(parts.comparator.volts()),
                digits(parts.period_jitter),
                digits(parts.low_frequency),
            ]),
        },
        "common_mode_v": digits(circuit.common_mode.volts()),
    })
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
    let mut record = json!({
        "contact_mm": mm(finger.contact),
        "dome_mm": mm(finger.dome),
        "length_mm": mm(finger.length.value),
        "on": finger.on,
        "offset_mm": finger.offset.map(mm),
        "return_pf": match finger.return_path {
            ReturnPath::Earthed => json!("earthed"),
            ReturnPath::Through(c) => json!(decimal(c.farads(), 1e24, 12)),
        },
        "glove": finger.glove.map(|glove| json!([
            mm(glove.thickness),
            decimal(glove.permittivity.relative(), 1e12, 12),
        ])),
    });
    if finger.distance.metres() > 0.0 {
        record["distance_mm"] = json!(mm(finger.distance));
    }
    record
}

fn film_record(film: &Film) -> Value {
    json!({
        "name": film.name,
        "shape": match film.shape {
            FilmShape::Rectangle { width, height } => json!({ "rectangle_mm": [mm(width), mm(height)] }),
            FilmShape::Disc { diameter } => json!({ "disc_mm": mm(diameter) }),
        },
        "centre_mm": film.centre.map(mm),
        "thickness_mm": mm(film.thickness),
        "treat_as": match film.bound {
            FilmBound::Dielectric => "dielectric",
            FilmBound::Floating => "floating",
            FilmBound::Earthed => "earthed",
        },
    })
}

fn outline(outline: &Outline) -> Value {
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
