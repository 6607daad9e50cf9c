//! The estimate for machines; voltages in kV, lengths in mm.

use super::{Discharge, DischargePath, Level, PathKind, Verdict, level_text};
use crate::panel::{Edge, Origin};
use crate::record::{all, record};
use padfield_engine::units::Voltage;

record! {
    /// What the overlay stands, and how far copper stays from its openings: an estimate.
    pub struct DischargeRecord(discharge: &Discharge) {
        /// The level that the panel shall stand; null when none is asked for.
        asked: Option<String> = discharge.demand.level.as_ref().map(level_text),
        /// Estimated puncture voltage over the voltage of the test that is kept.
        margin: f64 = discharge.demand.margin.value,
        /// Whether that margin is the default and not that of the panel file.
        margin_is_default: bool = discharge.demand.margin.origin == Origin::Default,
        /// Edges of the overlay that are sealed.
        sealed: Vec<&'static str> = {
            let edges = Edge::ALL.into_iter().zip(discharge.demand.sealed);
            edges.filter(|(_, is_sealed)| *is_sealed).map(|(edge, _)| edge.word()).collect()
        },
        /// Whether every path holds the level asked for; null when none is.
        holds: Option<bool> = discharge.demand.level.map(|_| discharge.holds()),
        /// The ways a discharge may take.
        paths: Vec<PathRecord> =
            discharge.paths.iter().map(|path| PathRecord::of(path, discharge)).collect(),
        /// The layer that holds most, whose thickness the levels tell; null without one.
        thickness_of: Option<String> = discharge.main_layer.clone(),
        /// What every level of the test needs.
        levels: Vec<LevelRecord> = all(&discharge.levels, LevelRecord::of),
        /// What is assumed.
        assumptions: Vec<String> = discharge.assumptions.clone(),
    }

    /// A way that a discharge may take.
    pub struct PathRecord(path: &DischargePath, discharge: &Discharge) {
        /// What it is, in words.
        name: String = path.name.clone(),
        /// `puncture` or `surface`.
        kind: &'static str = match path.kind {
            PathKind::Puncture => "puncture",
            PathKind::Surface => "surface",
        },
        /// Thickness of the solid, or length along the surface, mm.
        length_mm: f64 = path.length.mm(),
        /// Careful and hopeful end of the voltage that it is estimated to hold, kV.
        holds_kv: [f64; 2] = path.holds.map(kilovolts),
        /// Whether the level asked for is held against it; otherwise it is told for information.
        judged: bool = path.is_judged,
        /// `holds`, `open` or `fails`; null when nothing is asked or it is not judged.
        verdict: Option<&'static str> = discharge.verdict(path).map(Verdict::word),
        /// What else to know; empty if nothing.
        note: String = path.note.clone(),
    }

    /// A level of the test.
    pub struct LevelRecord(level: &Level) {
        /// 1 to 4.
        level: u32 = level.number,
        /// How the discharge is brought.
        kind: &'static str = level.kind.word(),
        /// Test voltage, kV.
        voltage_kv: f64 = kilovolts(level.voltage),
        /// Energy in the capacitor of the network, mJ.
        stored_energy_mj: f64 = 1e3 * level.energy_joules,
        /// Least thickness of the layer `thickness_of` that holds it alone, mm; null when no strength is known.
        least_thickness_mm: Option<f64> = level.thickness.map(|both| both[0].mm()),
        /// The same with the margin, mm.
        least_thickness_with_margin_mm: Option<f64> = level.thickness.map(|both| both[1].mm()),
        /// Distance from an open seam to copper at 3 kV/mm, mm.
        distance_at_3_kv_per_mm_mm: f64 = level.distance[0].mm(),
        /// Distance from an open seam to copper at 1 kV/mm, mm.
        distance_at_1_kv_per_mm_mm: f64 = level.distance[1].mm(),
    }
}

fn kilovolts(voltage: Voltage) -> f64 {
    voltage.volts() / 1e3
}
