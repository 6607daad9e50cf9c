//! Hatched areas: as screens that leak like one cell of the mesh, or with every line.

use super::super::metal::Connection;
use super::super::outline::{Rectangle, corners, pad_box};
use super::super::{CopperModel, GroundArea, Hatch, Panel};
use super::copper::{Metal, area_rectangle, area_solids, block, voids};
use super::levels::Levels;
use super::polygon::{intersect_polygons, subtract_rectangles};
use super::{GROUND, LoweringError};
use padfield_engine::case::{Extent, Prism, Screen, Solid};
use padfield_engine::hatch::square_hatch_depth;

/// Adds an area as screens: its rectangle without what traces and vias keep free and without the boxes
/// around the pads of its layer, clearance included.
pub(super) fn screens(
    panel: &Panel,
    levels: &Levels,
    area: &GroundArea,
    hatch: &Hatch,
    metal: &mut Metal,
) -> Result<(), LoweringError> {
    let [bottom, top] = levels.copper_level(panel, area.layer, &area.name)?;
    let thickness_m = match panel.copper.value {
        CopperModel::Sheet => 0.0,
        CopperModel::Thick => top - bottom,
    };
    let depth = square_hatch_depth(hatch.pitch.metres(), hatch.line.metres(), thickness_m)?;
    if depth.depth_m <= 0.0 {
        let solids = area_solids(panel, area, [bottom, top]);
        return metal.add(&area.name, area.connection, solids);
    }
    let conductor = match area.connection {
        Connection::Grounded => GROUND.to_owned(),
        connection => {
            metal.add_own(&area.name, connection, Vec::new())?;
            area.name.clone()
        }
    };
    let clearance_m = area.clearance.metres();
    let mut free = voids(panel, area.layer);
    free.extend(
        panel
            .pads
            .iter()
            .filter(|pad| pad.layer == area.layer)
            .map(|pad| {
                let [low, high] = pad_box(pad);
                [
                    low.map(|at| at - clearance_m),
                    high.map(|at| at + clearance_m),
                ]
            }),
    );
    let middle = 0.5 * (bottom + top);
    let pieces = subtract_rectangles(area_rectangle(area), &free);
    metal
        .screens
        .extend(pieces.into_iter().map(|[low, high]| Screen {
            conductor: conductor.clone(),
            extent: Extent {
                low_m: [low[0], low[1], middle],
                high_m: [high[0], high[1], middle],
            },
            depth_m: depth.depth_m,
        }));
    Ok(())
}

/// What the reader of a result should know about the hatched areas of a panel.
pub(super) fn simplifications(panel: &Panel, levels: &Levels) -> Vec<String> {
    let mut lines = Vec::new();
    for area in &panel.grounds {
        let crate::panel::Fill::Hatch(hatch) = area.fill else {
            continue;
        };
        let Some([_, level]) = levels.copper[area.layer].filter(|_| !hatch.is_drawn) else {
            continue;
        };
        let pads = panel.pads.iter();
        let others = pads
            .filter(|pad| pad.layer != area.layer)
            .filter_map(|pad| levels.copper[pad.layer].map(|[bottom, _]| (bottom - level).abs()));
        let beside = panel.pads.iter().any(|pad| pad.layer == area.layer);
        let beside = beside.then_some(area.clearance.metres());
        let nearest = others.chain(beside).fold(f64::INFINITY, f64::min);
        if nearest < 0.5 * hatch.pitch.metres() {
            lines.push(format!(
                "the hatch \"{}\" is nearer to pads ({:.2} mm) than half its pitch: as a sheet it is rough there",
                area.name,
                1e3 * nearest
            ));
        }
    }
    lines
}

/// The mesh lines of an area, a crossing in its middle, without what pads, traces and vias keep free.
pub(super) fn lines(
    area: Rectangle,
    hatch: &Hatch,
    boxes: &[Rectangle],
    outlines: &[Vec<[f64; 2]>],
    level: [f64; 2],
) -> Vec<Solid> {
    let strips = strips(area, hatch);
    if !hatch.is_diagonal && outlines.is_empty() {
        return strips
            .into_iter()
            .filter_map(|strip| clipped(strip, area))
            .flat_map(|strip| subtract_rectangles(strip, boxes))
            .map(|rest| block(rest, level))
            .collect();
    }
    let angle = match hatch.is_diagonal {
        true => std::f64::consts::FRAC_1_SQRT_2,
        false => 0.0,
    };
    let middle = [0, 1].map(|axis| 0.5 * (area[0][axis] + area[1][axis]));
    let turned = |corner: [f64; 2]| {
        let [x, y] = [0, 1].map(|axis| corner[axis] - middle[axis]);
        match hatch.is_diagonal {
            true => [middle[0] + angle * (x - y), middle[1] + angle * (x + y)],
            false => corner,
        }
    };
    let lines: Vec<Vec<[f64; 2]>> = strips
        .into_iter()
        .map(|strip| corners(strip).into_iter().map(turned).collect())
        .collect();
    let free: Vec<Vec<[f64; 2]>> = boxes
        .iter()
        .map(|b| corners(*b))
        .chain(outlines.iter().cloned())
        .collect();
    intersect_polygons(area, &lines, &free)
        .into_iter()
        .map(|outlines_m| {
            Solid::Prism(Prism {
                outlines_m,
                bottom_m: level[0],
                top_m: level[1],
                feature_m: hatch.line.metres(),
            })
        })
        .collect()
}

/// Lines along x and along y about the middle of the area, long enough for any angle.
fn strips(area: Rectangle, hatch: &Hatch) -> Vec<Rectangle> {
    let [line, pitch] = [hatch.line.metres(), hatch.pitch.metres()];
    let size = [0, 1].map(|axis| area[1][axis] - area[0][axis]);
    let reach = hatch.reach_m(size);
    let beside = hatch.lines_beside_the_middle(size);
    let middle = [0, 1].map(|axis| 0.5 * (area[0][axis] + area[1][axis]));
    let mut strips = Vec::new();
    for axis in 0..2 {
        // What sticks out of the area is cut off.
        let count = beside[axis] as i64;
        for number in -count..=count {
            let at = middle[axis] + number as f64 * pitch;
            let mut strip = [
                [0, 1].map(|a| middle[a] - reach[a]),
                [0, 1].map(|a| middle[a] + reach[a]),
            ];
            strip[0][axis] = at - line / 2.0;
            strip[1][axis] = at + line / 2.0;
            strips.push(strip);
        }
    }
    strips
}

fn clipped([low, high]: Rectangle, area: Rectangle) -> Option<Rectangle> {
    let low = [0, 1].map(|axis| low[axis].max(area[0][axis]));
    let high = [0, 1].map(|axis| high[axis].min(area[1][axis]));
    (0..2)
        .all(|axis| low[axis] < high[axis])
        .then_some([low, high])
}
