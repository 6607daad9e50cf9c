//! Slots in dielectric layers as boxes painted over them.

use super::super::{Panel, SlotSide};
use super::levels::Levels;
use padfield_engine::case::{Dielectric, Extent};

/// Faces closer than this \[m\] are one: a thickness that was added up must not leave a sliver.
const SAME_FACE_M: f64 = 1e-12;

/// All slots as boxes of a volume, in the order of the file.
pub(super) fn boxes(panel: &Panel, levels: &Levels) -> Vec<Dielectric> {
    let mut boxes = Vec::new();
    for slot in &panel.slots {
        let Some([bottom, top]) = heights(panel, levels, slot.layer) else {
            continue;
        };
        // A layer at the thin end of its tolerance may be thinner than the slot is deep.
        let depth = slot.depth.metres().min(top - bottom);
        let [low, high] = match slot.side {
            SlotSide::Back => [bottom, snapped(bottom + depth, top)],
            SlotSide::Front => [snapped(top - depth, bottom), top],
        };
        boxes.extend(slot.strips(&panel.groups).into_iter().map(|strip| {
            let [from, to] = strip;
            Dielectric {
                name: slot.name.clone(),
                relative_permittivity: slot.filling.permittivity().relative(),
                extent: Extent {
                    low_m: [from[0], from[1], low],
                    high_m: [to[0], to[1], high],
                },
                comes_with: None,
            }
        }));
    }
    boxes
}

/// Faces of a layer by itself: under thick copper the dielectric above reaches down beside the copper,
/// and a slot from the back starts at the face that the copper lies on.
fn heights(panel: &Panel, levels: &Levels, layer: usize) -> Option<[f64; 2]> {
    let layer = panel.layers.get(layer)?;
    let sheet = levels.dielectrics.iter().find(|s| s.name == layer.name)?;
    let bottom = sheet.top_m - layer.thickness.nominal.metres();
    Some([snapped(bottom, sheet.bottom_m), sheet.top_m])
}

fn snapped(at_m: f64, face_m: f64) -> f64 {
    if (at_m - face_m).abs() <= SAME_FACE_M {
        face_m
    } else {
        at_m
    }
}
