//! Which panels have one grid for all places of a finger.

use super::places::TouchPlace;
use crate::panel::lowering::FINGER;
use crate::panel::outline::pad_box;
use crate::panel::{Model, Panel};
use padfield_engine::field::{Roaming, Settings};
use padfield_engine::grid::Region;

/// Panels with fewer electrodes than this keep a grid for every place: that has fewer cells, and mirror planes cut
/// it down further.
const FEWEST_PADS: usize = 5;
/// Share of the memory cap for untouched states that other places start from.
const KEPT_SHARE: u64 = 8;

/// Settings under which touches of one command share what is solved without a finger.
pub fn sharing(settings: &Settings) -> Settings {
    let bytes = settings.memory_cap_bytes / KEPT_SHARE;
    let fresh = || Roaming::new(FINGER, bytes);
    Settings {
        roaming: Some(settings.roaming.clone().unwrap_or_else(fresh)),
        ..settings.clone()
    }
}

/// The finger at a place as one of many on the grid of its panel: over all pads and their surroundings as far as a
/// contact reaches, and to where it stands if that is outside. None where every place has a grid of its own.
pub(super) fn roaming_at(
    settings: &Settings,
    panel: &Panel,
    place: &TouchPlace,
) -> Option<Roaming> {
    let shares = panel.model.value == Model::Volume && panel.pads.len() >= FEWEST_PADS;
    let roaming = settings.roaming.as_ref().filter(|_| shares)?;
    let reach = place.finger.contact.metres() / 2.0;
    let pad = &panel.pads[place.pad];
    let at = [0, 1].map(|axis| (pad.centre[axis] + place.finger.offset[axis]).metres());
    let boxes = panel.pads.iter().map(pad_box);
    let [low, high] = boxes.fold([at, at], |[low, high], pad| {
        let low = [0, 1].map(|axis| f64::min(low[axis], pad[0][axis]));
        let high = [0, 1].map(|axis| f64::max(high[axis], pad[1][axis]));
        [low, high]
    });
    Some(roaming.over(Region {
        low_m: low.map(|at| at - reach),
        high_m: high.map(|at| at + reach),
    }))
}
