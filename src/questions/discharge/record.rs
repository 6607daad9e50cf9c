//! The estimate as one JSON object.

use super::{Discharge, PathKind, level_text};
use crate::panel::{Edge, Origin};
use serde_json::{Value, json};

/// Everything about a discharge; voltages in kV, lengths in mm.
pub fn to_json(discharge: &Discharge) -> Value {
    let kilovolts = |volts: f64| volts / 1e3;
    json!({
        "asked": discharge.demand.level.as_ref().map(level_text),
        "margin": discharge.demand.margin.value,
        "margin_is_default": discharge.demand.margin.origin == Origin::Default,
        "sealed": Edge::ALL.into_iter().zip(discharge.demand.sealed)
            .filter(|(_, is_sealed)| *is_sealed)
            .map(|(edge, _)| edge.word())
            .collect::<Vec<_>>(),
        "holds": discharge.demand.level.map(|_| discharge.holds()),
        "paths": discharge.paths.iter().map(|path| json!({
            "name": path.name,
            "kind": match path.kind {
                PathKind::Puncture => "puncture",
                PathKind::Surface => "surface",
            },
            "length_mm": path.length.mm(),
            "holds_kv": path.holds.map(|voltage| kilovolts(voltage.volts())),
            "judged": path.is_judged,
            "verdict": discharge.verdict(path).map(super::Verdict::word),
            "note": path.note,
        })).collect::<Vec<_>>(),
        "thickness_of": discharge.main_layer,
        "levels": discharge.levels.iter().map(|level| json!({
            "level": level.number,
            "kind": level.kind.word(),
            "voltage_kv": kilovolts(level.voltage.volts()),
            "stored_energy_mj": 1e3 * level.energy_joules,
            "least_thickness_mm": level.thickness.map(|both| both[0].mm()),
            "least_thickness_with_margin_mm": level.thickness.map(|both| both[1].mm()),
            "distance_at_3_kv_per_mm_mm": level.distance[0].mm(),
            "distance_at_1_kv_per_mm_mm": level.distance[1].mm(),
        })).collect::<Vec<_>>(),
        "assumptions": discharge.assumptions,
        "cautions": discharge.cautions,
    })
}
