//! Which panels have one grid for all places of a finger.

use super::places::TouchPlace;
use crate::panel::lowering::FINGER;
use crate::panel::outline::pad_box;
use crate::panel::{Finger, Model, Panel};
use padfield_engine::case::Extent;
use padfield_engine::field::{Roaming, Settings};
use padfield_engine::grid::Region;

/// Panels with fewer electrodes than this keep a grid for every place: that has fewer cells, and mirror planes cut
/// it down further.
const FEWEST_PADS: usize = 5;
/// A finger beside all pads has them and itself in a region that goes on in steps of this \[m\], so that others
/// beside them share it: a grid has a few lines more for that.
const STEP_BESIDE_M: f64 = 0.008;
/// Share of a step that rounding may add.
const SLACK: f64 = 1e-6;
/// Share of the memory cap for untouched states that other places start from.
const KEPT_SHARE: u64 = 8;

/// The share is within these: the usual one, and one at which the strongest pad is among the solved by far.
const LEAST_SHARE: f64 = 0.05;
const MOST_SHARE: f64 = 0.25;

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
/// contact reaches, and beyond where it stands if that is outside. None where every place has a grid of its own.
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
    let none = [[f64::INFINITY; 2], [f64::NEG_INFINITY; 2]];
    let [low, high] = boxes.fold(none, |[low, high], pad| {
        let low = [0, 1].map(|axis| f64::min(low[axis], pad[0][axis]));
        let high = [0, 1].map(|axis| f64::max(high[axis], pad[1][axis]));
        [low, high]
    });
    let beyond = |by: f64| STEP_BESIDE_M * (by.max(0.0) / STEP_BESIDE_M - SLACK).ceil().max(0.0);
    let low = [0, 1].map(|axis| low[axis] - beyond(low[axis] - at[axis]));
    let high = [0, 1].map(|axis| high[axis] + beyond(at[axis] - high[axis]));
    Some(roaming.over(Region {
        low_m: low.map(|at| at - reach),
        high_m: high.map(|at| at + reach),
    }))
}

/// Widens a domain so that its walls are as far from the finger as they shall be wherever that is in the region: all
/// places have the same one.
pub(super) fn widen_to(domain: &mut Extent, panel: &Panel, finger: &Finger, region: &Region) {
    let beyond = (finger.dome.metres() - finger.contact.metres()).max(0.0) / 2.0;
    let away = panel.wall_distance.value.metres() + beyond;
    for axis in 0..2 {
        let [low, high] = [&mut domain.low_m[axis], &mut domain.high_m[axis]];
        *low = low.min(region.low_m[axis] - away);
        *high = high.max(region.high_m[axis] + away);
    }
}

/// From which share of the largest potential at the finger on a pad is solved where only the strongest is asked
/// about: what the others miss by, half the square of it, is a quarter of the accuracy then.
pub(super) fn share_of_strongest(accuracy: f64) -> f64 {
    (0.5 * accuracy).sqrt().clamp(LEAST_SHARE, MOST_SHARE)
}
