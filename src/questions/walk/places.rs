//! Where the finger stands.

use crate::panel::outline::pad_box;
use crate::panel::{Finger, LayerContent, Panel};
use crate::touch::TouchPlace;
use padfield_engine::units::Length;

/// Beyond the outermost pads \[m\].
const MARGIN_M: f64 = 0.008;
/// Half the places of a line; the whole line is symmetric about its middle.
const HALF_LINE: usize = 20;
/// Distance of places in a raster, as a share of the contact and what it stands on together, where counts are asked to
/// [`RASTER_ACCURACY`], and at least \[m\], before its number of places is limited: counts change over a good part of both,
/// and what lies between places is then interpolated to half of that accuracy (every third place of
/// `padfield walk scenarios/tern.toml --finger thumb --no-map --json`, the others interpolated). Interpolation errs by the third power of the distance.
const RASTER_SHARE: f64 = 0.27;
const RASTER_ACCURACY: f64 = 0.05;
const RASTER_M: f64 = 0.003;
/// Most places of a raster.
const MOST_RASTER: f64 = 450.0;

/// Extent of all pads and the margin along an axis, on the board \[m\].
fn extent(panel: &Panel, axis: usize) -> [f64; 2] {
    let touched = panel.layer_bounds_m(0).map(|corner| corner[axis]);
    let ends = panel.pads.iter().map(pad_box);
    let (low, high) = ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), ends| {
        (low.min(ends[0][axis]), high.max(ends[1][axis]))
    });
    [
        (low - MARGIN_M).max(touched[0]),
        (high + MARGIN_M).min(touched[1]),
    ]
}

fn symmetric([low, high]: [f64; 2], half: usize) -> Vec<Length> {
    let middle = (low + high) / 2.0;
    let step = (high - low) / (2.0 * half as f64);
    (-(half as i64)..=half as i64)
        .map(|index| Length::from_metres(middle + index as f64 * step))
        .collect()
}

/// Places of a line along an axis.
pub(super) fn along(panel: &Panel, axis: usize) -> Vec<Length> {
    symmetric(extent(panel, axis), HALF_LINE)
}

/// Thickness of what lies over the first copper \[m\].
fn overlay_m(panel: &Panel) -> f64 {
    let is_copper = |content: &LayerContent| matches!(content, LayerContent::Copper);
    let over = panel.layers.iter();
    let over = over.take_while(|layer| !is_copper(&layer.content));
    over.map(|layer| layer.thickness.nominal.metres()).sum()
}

/// Columns and rows of a raster for a finger whose counts are asked to an accuracy.
pub(super) fn raster(panel: &Panel, finger: &Finger, accuracy: f64) -> [Vec<Length>; 2] {
    let extents = [extent(panel, 0), extent(panel, 1)];
    let [width, height] = extents.map(|[low, high]| high - low);
    let spread = finger.contact.metres() + overlay_m(panel);
    let share = RASTER_SHARE * (accuracy / RASTER_ACCURACY).cbrt();
    let step = RASTER_M.max(share * spread);
    let step = step.max((width * height / MOST_RASTER).sqrt());
    extents.map(|ends| {
        let half = ((ends[1] - ends[0]) / (2.0 * step)).ceil().max(1.0);
        symmetric(ends, half as usize)
    })
}

/// A finger at a point, told from the nearest pad.
pub(super) fn touch(panel: &Panel, finger: &Finger, at: [Length; 2]) -> TouchPlace {
    let offset = |pad: usize| {
        let centre = panel.pads[pad].centre;
        [0, 1].map(|axis| (at[axis] - centre[axis]).metres())
    };
    let distance = |pad: usize| {
        let [x, y] = offset(pad);
        x.hypot(y)
    };
    let pad = (0..panel.pads.len())
        .min_by(|&a, &b| distance(a).total_cmp(&distance(b)))
        .unwrap_or(0);
    let mut finger = finger.clone();
    finger.offset = offset(pad).map(Length::from_metres);
    TouchPlace { finger, pad }
}
