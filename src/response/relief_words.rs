//! Slots in layers in plain words.

use super::assumptions::plain;
use crate::panel::{Panel, ReliefFilling, ReliefPlace, ReliefSide};

/// One line per relief that cuts anything.
pub(super) fn relief_lines(panel: &Panel) -> Vec<String> {
    let cut = panel.reliefs.iter().filter(|relief| !relief.is_empty());
    cut.map(|relief| {
        let layer = panel
            .layers
            .get(relief.layer)
            .map_or("?", |l| l.name.as_str());
        let place = match &relief.place {
            ReliefPlace::Between { group, width } => format!(
                "{} mm wide in every gap of \"{group}\"",
                plain(width.mm(), 3)
            ),
            ReliefPlace::Slot { centre, size } => format!(
                "{} x {} mm at {}, {} mm",
                plain(size[0].mm(), 3),
                plain(size[1].mm(), 3),
                plain(centre[0].mm(), 3),
                plain(centre[1].mm(), 3)
            ),
        };
        let side = match relief.side {
            ReliefSide::Back => "the back",
            ReliefSide::Front => "the front",
        };
        let filling = match relief.filling {
            ReliefFilling::Air => "air",
            ReliefFilling::Water => "water of permittivity 80 [from memory], as a dielectric",
        };
        let left = relief.wall_left(&panel.layers).mm().max(0.0);
        let wall = if left < 1e-9 {
            "nothing of the layer is left".to_owned()
        } else {
            format!("{} mm of the layer are left", plain(left, 3))
        };
        format!(
            "Relief \"{}\": {} mm deep from {side} of {layer}, {place}, filled with {filling}; {wall}. A \
             discharge finds the shortest way through air, and a slot collects dirt and liquid: neither is \
             computed.",
            relief.name,
            plain(relief.depth.mm(), 3)
        )
    })
    .collect()
}
