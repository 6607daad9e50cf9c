//! Slots in layers in plain words.

use super::assumptions::plain;
use crate::panel::{Panel, SlotFilling, SlotPlace, SlotSide};

/// One line per slot that cuts anything.
pub(super) fn slot_lines(panel: &Panel) -> Vec<String> {
    let cut = panel.slots.iter().filter(|slot| !slot.is_empty());
    cut.map(|slot| {
        let layer = panel
            .layers
            .get(slot.layer)
            .map_or("?", |l| l.name.as_str());
        let place = match &slot.place {
            SlotPlace::Between { group, width } => format!(
                "{} mm wide in every gap of \"{group}\"",
                plain(width.mm(), 3)
            ),
            SlotPlace::Own { centre, size } => format!(
                "{} x {} mm at {}, {} mm",
                plain(size[0].mm(), 3),
                plain(size[1].mm(), 3),
                plain(centre[0].mm(), 3),
                plain(centre[1].mm(), 3)
            ),
        };
        let side = match slot.side {
            SlotSide::Back => "the back",
            SlotSide::Front => "the front",
        };
        let filling = match slot.filling {
            SlotFilling::Air => "air",
            SlotFilling::Water => "water of permittivity 80 [from memory], as a dielectric",
        };
        let left = slot.wall_left(&panel.layers).mm().max(0.0);
        let wall = if left < 1e-9 {
            "nothing of the layer is left".to_owned()
        } else {
            format!("{} mm of the layer are left", plain(left, 3))
        };
        format!(
            "Slot \"{}\": {} mm deep from {side} of {layer}, {place}, filled with {filling}; {wall}. A \
             discharge finds the shortest way through air, and a slot collects dirt and liquid: neither is \
             computed.",
            slot.name,
            plain(slot.depth.mm(), 3)
        )
    })
    .collect()
}
