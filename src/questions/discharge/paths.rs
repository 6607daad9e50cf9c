//! Ways of a discharge from the touched face to the copper that senses.

use super::strength::{ASSUMED_STRENGTH_THICKNESS, SeriesLayer, Strength, series_hold};
use super::{AIR_V_PER_M, CREEP_V_PER_M};
use crate::panel::lowering::{LoweringError, panel_metal};
use crate::panel::outline::{distance, largest_hole};
use crate::panel::{Edge, LayerContent, Outline, Panel, Slot, SlotSide, TraceNet};
use padfield_engine::case::Solid;
use padfield_engine::units::{Length, Voltage};

/// How a discharge goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PathKind {
    /// Through solid layers.
    Puncture,
    /// Along a surface or through air.
    Surface,
}

/// One way to the copper.
#[derive(Clone, Debug, PartialEq)]
pub struct DischargePath {
    pub name: String,
    pub kind: PathKind,
    /// Thickness of the solid, or length along the surface.
    pub length: Length,
    /// Careful and hopeful end of the voltage that it holds.
    pub holds: [Voltage; 2],
    /// Whether a level that is asked for is held against it; otherwise it is told for information.
    pub is_judged: bool,
    /// What else to know; empty if nothing.
    pub note: String,
}

/// A wall thinner than this \[m\] is none.
const NO_WALL_M: f64 = 1e-6;

/// The layer that holds most, with its strength; none when no strength is known.
pub(super) type MainLayer = Option<(String, Strength)>;

/// All paths, and the layer that holds most with its strength.
pub(super) fn paths(panel: &Panel) -> Result<(Vec<DischargePath>, MainLayer), LoweringError> {
    let mut found = Vec::new();
    let mut depths: Vec<usize> = panel.pads.iter().map(|pad| pad.layer).collect();
    depths.sort_unstable();
    depths.dedup();
    for &layer in &depths {
        found.push(through(panel, layer));
    }
    let [sensing, other] = copper(panel)?;
    found.extend(edge(panel, &sensing, true));
    found.extend(edge(panel, &other, false));
    for slot in &panel.slots {
        found.extend(slot_path(panel, slot, &sensing));
    }
    found.extend(holes(panel));
    let first = depths.first().copied().unwrap_or_default();
    let main = before(panel, first)
        .filter_map(|index| {
            let strength = strength(panel, index)?;
            let thickness = panel.layers[index].thickness.least;
            let alone = strength.hold(thickness)[0].volts();
            Some((alone, panel.layers[index].name.clone(), strength))
        })
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name, strength)| (name, strength));
    Ok((found, main))
}

/// Layers between the touched face and a copper layer.
fn before(panel: &Panel, copper: usize) -> impl Iterator<Item = usize> + '_ {
    panel
        .dielectric_layers()
        .take_while(move |index| *index < copper)
}

pub(super) fn strength(panel: &Panel, layer: usize) -> Option<Strength> {
    let properties = panel.properties(layer);
    Some(Strength {
        field_v_per_m: properties.dielectric_strength_v_per_m?.value,
        tested: properties
            .strength_thickness
            .unwrap_or(ASSUMED_STRENGTH_THICKNESS),
        is_even: properties.is_air,
    })
}

/// Careful and hopeful end of what layers hold, each with its two ends of thickness.
fn stack_hold(panel: &Panel, layers: &[(usize, [Length; 2])]) -> [Voltage; 2] {
    [0, 1].map(|end| {
        let series: Vec<SeriesLayer> = layers
            .iter()
            .map(|&(index, thickness)| {
                let field = strength(panel, index).map(|strength| strength.at(thickness[end])[end]);
                SeriesLayer {
                    thickness: thickness[end],
                    relative_permittivity: permittivity(panel, index),
                    field_v_per_m: field,
                }
            })
            .collect();
        series_hold(&series)
    })
}

fn permittivity(panel: &Panel, layer: usize) -> f64 {
    match &panel.layers[layer].content {
        LayerContent::Dielectric { permittivity, .. } => permittivity.nominal.relative(),
        LayerContent::Copper => 1.0,
    }
}

fn ends(panel: &Panel, layer: usize) -> [Length; 2] {
    let thickness = panel.layers[layer].thickness;
    [thickness.least, thickness.most]
}

/// Straight through everything above a copper layer.
fn through(panel: &Panel, copper: usize) -> DischargePath {
    let layers: Vec<(usize, [Length; 2])> = before(panel, copper)
        .map(|index| (index, ends(panel, index)))
        .collect();
    let names: Vec<&str> = layers
        .iter()
        .map(|(index, _)| panel.layers[*index].name.as_str())
        .collect();
    let unknown: Vec<&str> = layers
        .iter()
        .filter(|(index, _)| strength(panel, *index).is_none())
        .map(|(index, _)| panel.layers[*index].name.as_str())
        .collect();
    let thickness = layers.iter().fold(Length::default(), |sum, (index, _)| {
        sum + panel.layers[*index].thickness.nominal
    });
    let mut note = gaps(panel, &layers);
    if !unknown.is_empty() {
        note.push(format!("no strength is known of {}", unknown.join(", ")));
    }
    DischargePath {
        name: format!("through {}", names.join(", ")),
        kind: PathKind::Puncture,
        length: thickness,
        holds: stack_hold(panel, &layers),
        is_judged: true,
        note: note.join("; "),
    }
}

/// Where a gap of air takes its share of the voltage and breaks down long before the rest.
fn gaps(panel: &Panel, layers: &[(usize, [Length; 2])]) -> Vec<String> {
    let sum: f64 = layers
        .iter()
        .map(|(index, _)| {
            panel.layers[*index].thickness.nominal.metres() / permittivity(panel, *index)
        })
        .sum();
    let air = layers
        .iter()
        .filter(|(index, _)| panel.properties(*index).is_air);
    air.map(|(index, _)| {
        let volts = AIR_V_PER_M * permittivity(panel, *index) * sum;
        format!(
            "the air of \"{}\" breaks down from {:.1} kV on, which is heard and wears the layers beside it",
            panel.layers[*index].name,
            volts / 1e3
        )
    })
    .collect()
}

/// Outlines in the plane.
type Pieces = Vec<Vec<Vec<[f64; 2]>>>;

/// Copper that senses (pads with their traces), and all other copper of the board.
fn copper(panel: &Panel) -> Result<[Pieces; 2], LoweringError> {
    let mut board = panel.clone();
    board.bezels.clear();
    board.objects.clear();
    let metal = panel_metal(&board)?;
    let mut found = [Vec::new(), Vec::new()];
    for conductor in &metal.conductors {
        let is_pad = panel.pads.iter().any(|pad| pad.name == conductor.name);
        found[usize::from(!is_pad)].extend(conductor.solids.iter().map(in_plane));
    }
    let screens = metal.screens.iter();
    found[1]
        .extend(screens.map(|screen| vec![rectangle(screen.extent.low_m, screen.extent.high_m)]));
    Ok(found)
}

fn in_plane(solid: &Solid) -> Vec<Vec<[f64; 2]>> {
    match solid {
        Solid::Block(extent) => vec![rectangle(extent.low_m, extent.high_m)],
        Solid::Prism(prism) => prism.outlines_m.clone(),
        Solid::Round(body) => {
            let radius = body.dome_radius_m;
            let [x, y] = body.centre_m;
            // Corners outside of the disc: never farther from an edge than the disc itself.
            vec![rectangle(
                [x - radius, y - radius, 0.0],
                [x + radius, y + radius, 0.0],
            )]
        }
    }
}

fn rectangle(low: [f64; 3], high: [f64; 3]) -> Vec<[f64; 2]> {
    vec![
        [low[0], low[1]],
        [high[0], low[1]],
        [high[0], high[1]],
        [low[0], high[1]],
    ]
}

fn along(name: String, metres: f64, is_judged: bool, note: &str) -> DischargePath {
    DischargePath {
        name,
        kind: PathKind::Surface,
        length: Length::from_metres(metres),
        holds: [CREEP_V_PER_M, AIR_V_PER_M].map(|field| Voltage::from_volts(field * metres)),
        is_judged,
        note: note.to_owned(),
    }
}

/// Around the edge of the overlay and along the seam, open edges and sealed ones each by the shortest way.
///
/// Whatever holds a voltage before the copper has to be gone around: the layer that reaches farthest counts. A
/// layer without a figure of strength, or of air, holds nothing and counts only where all are such.
fn edge(panel: &Panel, pieces: &Pieces, is_sensing: bool) -> Vec<DischargePath> {
    let copper = first_copper(panel, is_sensing);
    let all: Vec<usize> = before(panel, copper).collect();
    let holds = |layer: &usize| strength(panel, *layer).is_some_and(|strength| !strength.is_even);
    let mut around: Vec<usize> = all.iter().copied().filter(holds).collect();
    if around.is_empty() {
        around = all;
    }
    let reach = |edge: Edge| {
        let (axis, side) = edge.side();
        let ends = around.iter().map(|&layer| {
            let [low, high] = panel.layer_bounds_m(layer).map(|corner| corner[axis]);
            side * if side < 0.0 { low } else { high }
        });
        ends.fold(f64::NEG_INFINITY, f64::max)
    };
    let nearest = |edge: Edge| {
        let (axis, side) = edge.side();
        let corners = pieces.iter().flatten().flatten();
        let distances = corners.map(|corner| (reach(edge) - side * corner[axis]).max(0.0));
        distances.min_by(f64::total_cmp)
    };
    let sealed = panel.environment.discharge.sealed;
    let edges = |wanted: bool| {
        let all = Edge::ALL.into_iter().zip(sealed);
        all.filter(move |(_, is_sealed)| *is_sealed == wanted)
            .map(|(edge, _)| edge)
    };
    let to = match is_sensing {
        true => "pads and their traces",
        false => "other copper",
    };
    let open_note = match is_sensing {
        true => "a sealed edge has no such path",
        false => "ground takes a discharge better than a pin: for information",
    };
    let open = edges(false).filter_map(nearest).min_by(f64::total_cmp);
    let open =
        open.map(|metres| along(format!("open edge to {to}"), metres, is_sensing, open_note));
    let shut = edges(true).filter_map(nearest).min_by(f64::total_cmp);
    let names: Vec<&str> = edges(true).map(Edge::word).collect();
    let shut = shut.map(|metres| {
        let name = format!(
            "sealed edge ({}) to {to}, if its seal leaked",
            names.join(", ")
        );
        along(name, metres, false, SEALED)
    });
    open.into_iter().chain(shut).collect()
}

/// Said of every sealed edge.
pub(super) const SEALED: &str =
    "sealed: no path is counted while the seal is whole and sticks; the laboratory decides";

/// The foremost layer with copper that senses, or with any.
fn first_copper(panel: &Panel, is_sensing: bool) -> usize {
    let pads = panel.pads.iter().map(|pad| pad.layer);
    let own = panel
        .traces
        .iter()
        .filter(|trace| matches!(trace.net, TraceNet::Pad(_)));
    let own = own.map(|trace| trace.layer);
    let is_copper = |index: &usize| panel.layers[*index].content == LayerContent::Copper;
    let any = (0..panel.layers.len()).find(is_copper);
    match is_sensing {
        true => pads.chain(own).min(),
        false => any,
    }
    .unwrap_or_default()
}

/// Through what a slot leaves of its layer, or along the surface from a slot that goes through.
fn slot_path(panel: &Panel, slot: &Slot, sensing: &Pieces) -> Option<DischargePath> {
    let strips = slot.strips(&panel.groups);
    let outlines: Vec<Vec<[f64; 2]>> = strips
        .iter()
        .map(|[low, high]| rectangle([low[0], low[1], 0.0], [high[0], high[1], 0.0]))
        .collect();
    let nearest = sensing
        .iter()
        .map(|piece| distance(&outlines, piece))
        .min_by(f64::total_cmp)?;
    if outlines.is_empty() {
        return None;
    }
    let depth = slot.depth.metres();
    let wall = ends(panel, slot.layer).map(|thickness| (thickness.metres() - depth).max(0.0));
    if wall[0] <= NO_WALL_M {
        return Some(along(
            format!(
                "slot \"{}\", which goes through, to the nearest pad",
                slot.name
            ),
            nearest,
            true,
            "",
        ));
    }
    let nearest_pad = panel.pads.iter().map(|pad| pad.layer).min()?;
    // A slot from the back lets the spark run to the copper once the wall is through.
    let last = match slot.side {
        SlotSide::Back => slot.layer + 1,
        SlotSide::Front => nearest_pad,
    };
    let layers: Vec<(usize, [Length; 2])> = before(panel, nearest_pad)
        .filter(|index| *index < last)
        .filter(|index| *index >= slot.layer || slot.side == SlotSide::Back)
        .map(|index| match index == slot.layer {
            true => (index, wall.map(Length::from_metres)),
            false => (index, ends(panel, index)),
        })
        .collect();
    Some(DischargePath {
        name: format!("wall that slot \"{}\" leaves", slot.name),
        kind: PathKind::Puncture,
        length: slot.wall_left(&panel.layers),
        holds: stack_hold(panel, &layers),
        is_judged: true,
        note: format!(
            "the {:.1} mm from the slot to the nearest pad are not counted",
            1e3 * nearest
        ),
    })
}

/// Down a hole in the overlay over the hole of a pad, should there be one.
fn holes(panel: &Panel) -> Option<DischargePath> {
    let mut with_hole = panel.pads.iter().filter(|pad| {
        let in_outline = match &pad.outline {
            Outline::Ring { .. } => largest_hole(&pad.outline).metres() > 0.0,
            _ => false,
        };
        in_outline || pad.hole.is_some_and(|hole| hole.metres() > 0.0)
    });
    let first = with_hole.next()?;
    let cover: f64 = before(panel, first.layer)
        .map(|index| panel.layers[index].thickness.least.metres())
        .sum();
    Some(along(
        format!(
            "hole of \"{}\", if the overlay were pierced over it",
            first.name
        ),
        cover,
        false,
        "the way down to the copper at its rim; the file has holes in copper only",
    ))
}
